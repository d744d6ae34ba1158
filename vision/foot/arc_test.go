package foot

import (
	"math"
	"testing"

	"holdfast/vision/plane"
)

// A foot that stands elsewhere after a step still tells its pitch: the ball is looked for
// where it lay flat next to the frame.
func TestFootPitchAfterAStep(t *testing.T) {
	degs := append(heelWay(20), heelWay(20)...)
	s := stage{facing: 1, cloth: newCloth(11), noise: 2, ballAt: func(i int) plane.XY {
		if i < 30 {
			return plane.XY{}
		}
		return plane.XY{X: -25, Y: 6}
	}}
	for i, p := range s.play(t, degs).Poses {
		if q := p.FootPitch; q == nil || math.Abs(q.Deg+degs[i]) > 0.9+0.03*degs[i] {
			t.Errorf("frame %d: %+v, want %.1f", i, q, -degs[i])
		}
	}
}

// A picture that is little like the stand's is believed where its turn and its way about the ball agree closely.
func TestTurnAndWayAgree(t *testing.T) {
	for _, tt := range []struct {
		turnDeg, arcDeg, correlation float64
		want                         bool
	}{
		{46.6, 44.8, 0.81, true}, {47.3, 39.6, 0.81, false}, {47.3, 39.6, 0.9, true}, {20, 11, 0.95, true},
		{20, 5, 0.95, false}, {3, 8, 0.85, true}, {10, math.NaN(), 0.99, false},
	} {
		if got := agree(tt.turnDeg, tt.arcDeg, tt.correlation); got != tt.want {
			t.Errorf("%+v: %v", tt, got)
		}
	}
}
