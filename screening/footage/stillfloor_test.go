package footage

import (
	"math"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/trace"
)

// Feet that rest now here and now there in the picture are told of without any standing, feet
// that step along the floor or are lifted are not.
func TestFeetDriftWithoutStanding(t *testing.T) {
	const legPx, rateHz, n = 200.0, 30, 300
	tests := []struct {
		name  string
		place func(timeS float64) (x, y float64)
		moves bool
	}{
		{"a still phone", func(float64) (float64, float64) { return 100, 500 }, false},
		{"a phone that sinks", func(t float64) (float64, float64) { return 100, 500 - 4*t }, true},
		{"a phone that is carried now and then",
			func(t float64) (float64, float64) { return 100, 500 + 40*math.Floor(t/4) }, true},
		{"steps from rep to rep", func(t float64) (float64, float64) { return 100 + 90*math.Floor(t/3), 500 }, false},
		{"marching on the spot", func(t float64) (float64, float64) { return 100, 500 - 60*max(0, math.Sin(6*t)) }, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			obs := make([]trace.Observation, n)
			s := &kinematics.Series{Motion: joints.Motion{Angles: joints.Angles{RateHz: rateHz},
				LegPx: legPx, NearSide: body.Left}}
			for i := range obs {
				timeS := float64(i) / rateHz
				obs[i].TimeS, s.TimeS = timeS, append(s.TimeS, timeS)
				x, y := tt.place(timeS)
				for k := range body.NumLandmarks {
					obs[i].Points[body.Left][k] = body.Point{X: x, Y: y, SDPx: 1, Confidence: 1}
				}
			}
			if drift := FeetDriftLegs(obs, s); (drift > mostFeetDriftLegs) != tt.moves {
				t.Errorf("feet drift by %.2f leg lengths", drift)
			}
		})
	}
}
