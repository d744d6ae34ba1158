package plane

import (
	"math"
	"testing"
)

// TestAngleDeg: the angle at a corner, in whichever order the ways are given.
func TestAngleDeg(t *testing.T) {
	for _, c := range []struct {
		a, corner, b XY
		want         float64
	}{
		{XY{1, 0}, XY{0, 0}, XY{0, 1}, 90}, {XY{5, 5}, XY{4, 5}, XY{3, 5}, 180}, {XY{2, 1}, XY{1, 1}, XY{2, 2}, 45},
		{XY{1, 0}, XY{0, 0}, XY{3, 0}, 0},
	} {
		for _, got := range []float64{AngleDeg(c.a, c.corner, c.b), AngleDeg(c.b, c.corner, c.a)} {
			if math.Abs(got-c.want) > 1e-9 {
				t.Errorf("%v %v %v: %v, want %v", c.a, c.corner, c.b, got, c.want)
			}
		}
	}
	if got := AngleDeg(XY{1, 1}, XY{1, 1}, XY{2, 2}); !math.IsNaN(got) {
		t.Errorf("a way of no length: %v", got)
	}
}
