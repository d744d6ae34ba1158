package joints

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
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

// A range is known where an end of it was seen: in standing beside the rep, at its start or at its end.
func TestLeaveOutRange(t *testing.T) {
	const n = 120
	for _, tt := range []struct {
		name   string
		hidden func(atS float64) bool
		lost   bool // and not guessed
		known  bool
	}{
		{"all seen", func(float64) bool { return false }, false, true},
		{"hidden at the turn", func(s float64) bool { return s > 1.7 && s < 2.3 }, false, true},
		{"hidden at its start", func(s float64) bool { return s < 1.4 }, false, true},
		{"hidden at both ends, seen in standing", func(s float64) bool { return s > 0.8 && s < 1.4 || s > 2.6 }, false, true},
		{"hidden in standing and at both ends", func(s float64) bool { return s < 1.4 || s > 2.6 }, false, false},
		{"lost in standing and at both ends", func(s float64) bool { return s < 1.4 || s > 2.6 }, true, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			obs := make([]trace.Observation, n)
			for i := range obs {
				o := &obs[i]
				o.TimeS = float64(i) / 30
				for s := range 2 {
					for k := range body.NumLandmarks {
						o.Points[s][k] = body.Point{X: float64(k), Y: float64(10 * k), SDPx: 1}
					}
				}
				switch knee := &o.Points[body.Right][body.Knee]; {
				case tt.hidden(o.TimeS) && tt.lost:
					*knee = body.MissingPoint()
				case tt.hidden(o.TimeS):
					knee.SDPx = math.NaN()
				}
			}
			reps := []events.RepTimes{{StartS: 1, BottomS: 2, BottomEndS: 2, EndS: 3,
				Beside: []trace.Span{{FromS: 0.2, ToS: 1.5}, {FromS: 2.5, ToS: 3.9}}}}
			angles := body.ByAngle[AngleMeasure]{}
			LeaveOutRange(&angles, obs, trace.New(obs, body.Right, body.FacingRight), reps, 0, false)
			if known := !math.IsNaN(angles[body.HipFlexion].ROMDeg); known != tt.known {
				t.Errorf("the hip's range is known: %v", known)
			}
			if math.IsNaN(angles[body.TrunkLean].ROMDeg) {
				t.Error("the trunk's range is not known, and the knee is none of its points")
			}
		})
	}
}

// An arm that reads much shorter at a turn than elsewhere tells no angle there; one that is as long does, and so does
// one that counts for nothing.
func TestLeaveOutTurnForeshortened(t *testing.T) {
	for _, tt := range []struct {
		name         string
		upper, lower float64 // length at the turn, as a part of what it is
		shoulder     bool    // known
		elbow        bool
	}{
		{"as long", 1, 1, true, true},
		{"flared a little", 0.75, 0.8, true, true},
		{"elbow drawn down", 0.55, 1, false, false},
		{"hand drawn down", 1, 0.5, true, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			obs := make([]trace.Observation, 90)
			for i := range obs {
				o := &obs[i]
				o.TimeS = float64(i) / 30
				upper, lower := 40.0, 35.0
				if o.TimeS >= 1.2 && o.TimeS <= 1.8 {
					upper, lower = 40*tt.upper, 35*tt.lower
				}
				for k := range body.NumLandmarks {
					o.Points[body.Right][k] = body.Point{X: 100, Y: 200, SDPx: 1}
				}
				o.Points[body.Right][body.Elbow].Y = 200 - upper
				o.Points[body.Right][body.Wrist].Y = 200 - upper - lower
			}
			for _, arms := range []bool{true, false} {
				angles := body.ByAngle[AngleMeasure]{}
				LeaveOutTurn(&angles, obs, body.Right, trace.Span{FromS: 1.3, ToS: 1.7}, arms)
				if known := !math.IsNaN(angles[body.ShoulderFlexion].AtBottomDeg); known != (tt.shoulder || !arms) {
					t.Errorf("arms count: %v, shoulder known: %v", arms, known)
				}
				if known := !math.IsNaN(angles[body.ElbowFlexion].AtBottomDeg); known != (tt.elbow || !arms) {
					t.Errorf("arms count: %v, elbow known: %v", arms, known)
				}
			}
		})
	}
}
