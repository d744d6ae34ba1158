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

// Turn and way count for what each is worth, and are not believed where they say different things.
func TestTurnAndWayTogether(t *testing.T) {
	for _, tt := range []struct {
		name                                     string
		turnDeg, arcDeg, pixelSDDeg, correlation float64
		want, withinDeg, sdDeg                   float64 // NaN: they do not agree
	}{
		{"up far, little alike", 46.6, 44.8, 0.6, 0.6, 45.8, 0.5, 3.5},
		{"up far, little alike, apart", 47.3, 28, 0.6, 0.81, math.NaN(), 0, 0},
		{"up far, alike, apart", 47.3, 34, 0.4, 0.95, 41, 3, 4.5},
		{"large foot: the turn is sure", 20, 23, 0.05, 0.99, 20.3, 0.3, 1},
		{"small foot: the way is surer", 5, 2, 0.4, 0.97, 2.1, 0.3, 1.1},
		{"flat, a sock turns", 3, 0.2, 0.2, 0.98, 0.4, 0.3, 0.9},
		{"apart", 20, 5, 0.1, 0.95, math.NaN(), 0, 0},
		{"like nothing", 10, 10, 0.5, 0.4, math.NaN(), 0, 0},
		{"no way known", 10, math.NaN(), 0.1, 0.99, math.NaN(), 0, 0},
	} {
		deg, sd, ok := both(tt.turnDeg, tt.arcDeg, tt.pixelSDDeg, tt.correlation)
		if ok == math.IsNaN(tt.want) {
			t.Errorf("%s: known %v", tt.name, ok)
		}
		if ok && (math.Abs(deg-tt.want) > tt.withinDeg || math.Abs(sd-tt.sdDeg) > 0.3*tt.sdDeg) {
			t.Errorf("%s: %.2f ± %.2f degrees, want %.1f within %.1f and ± %.1f", tt.name, deg, sd, tt.want, tt.withinDeg,
				tt.sdDeg)
		}
	}
}
