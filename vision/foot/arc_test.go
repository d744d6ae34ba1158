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
