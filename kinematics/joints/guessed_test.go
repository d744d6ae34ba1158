package joints

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

// What is guessed for a while is nowhere, and what hangs on it neither; a blurred frame or two hide nothing, and
// neither does a network that never tells.
func TestLeaveOutGuessed(t *testing.T) {
	for _, tt := range []struct {
		name         string
		guessed      func(k body.Landmark, i int) bool
		gone, stays  []body.Landmark // at the twentieth sample
		knee, trunk  bool            // angles known there
		knownAtFirst bool
	}{
		{"all seen", func(body.Landmark, int) bool { return false }, nil,
			[]body.Landmark{body.Hip, body.Shoulder}, true, true, true},
		{"blurred", func(_ body.Landmark, i int) bool { return i == 20 }, nil,
			[]body.Landmark{body.Hip, body.Shoulder}, true, true, true},
		{"a plate before the shoulder", func(k body.Landmark, i int) bool { return k == body.Shoulder && i > 12 && i < 30 },
			[]body.Landmark{body.Shoulder, body.Elbow, body.Wrist}, []body.Landmark{body.Hip, body.Knee}, true, false, true},
		{"lost", func(_ body.Landmark, i int) bool { return i > 12 && i < 30 },
			[]body.Landmark{body.Shoulder, body.Hip, body.Knee, body.Ankle, body.Heel, body.Toe}, nil, false, false, true},
		{"a network that never tells", func(body.Landmark, int) bool { return true }, nil,
			[]body.Landmark{body.Hip, body.Shoulder}, true, true, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			const n = 60
			m := Motion{NearSide: body.Right, Missing: make([]bool, n)}
			obs := make([]trace.Observation, n)
			for i := range n {
				obs[i].TimeS = float64(i) / 30
				m.TimeS = append(m.TimeS, obs[i].TimeS)
				for k := range body.NumLandmarks {
					obs[i].Points[body.Right][k] = body.Point{X: 1, Y: 1, SDPx: 1}
					if tt.guessed(k, i) {
						obs[i].Points[body.Right][k].SDPx = math.NaN()
					}
				}
			}
			ones := func() []float64 { return constantWhere(make([]float64, n), 1) }
			for k := range body.NumLandmarks {
				m.Points[body.Right][k] = body.Path{X: ones(), Y: ones(), SDPx: ones()}
			}
			for a := range body.NumAngles {
				m.AnglesDeg[a], m.SDDeg[a], m.VelocityDegS[a] = ones(), ones(), ones()
			}
			m.LeaveOutGuessed(obs)
			for _, k := range tt.gone {
				if !math.IsNaN(m.Points[body.Right][k].X[20]) {
					t.Errorf("the %v is shown", k)
				}
			}
			for _, k := range tt.stays {
				if math.IsNaN(m.Points[body.Right][k].X[20]) {
					t.Errorf("the %v is not shown", k)
				}
			}
			if known := !math.IsNaN(m.AnglesDeg[body.KneeFlexion][20]); known != tt.knee || m.Missing[20] == tt.knee {
				t.Errorf("knee known: %v, leg missing: %v", known, m.Missing[20])
			}
			if known := !math.IsNaN(m.AnglesDeg[body.TrunkLean][20]); known != tt.trunk {
				t.Errorf("trunk known: %v", known)
			}
			if known := !math.IsNaN(m.AnglesDeg[body.KneeFlexion][2]); known != tt.knownAtFirst {
				t.Errorf("knee known at first: %v", known)
			}
		})
	}
}
