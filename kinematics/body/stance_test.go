package body

import (
	"math"
	"testing"
)

// A foot that lands nearer to the camera, and so lower in the picture, than it took off has not
// sunk, and one that lands further away is not up.
func TestStanceLevels(t *testing.T) {
	const n = 60
	tests := []struct {
		name        string
		before      float64 // height of the flat heel before and after the flight, leg lengths
		after       float64
		toesUntil   int // the foot is on its toes until then
		least       int
		wantLanding float64
	}{
		{"in place", 0.1, 0.1, 30, 3, 0.1},
		{"nearer", 0.1, 0.04, 30, 3, 0.04},
		{"further, on the toes at first", 0.1, 0.17, 40, 3, 0.17},
		{"never flat again", 0.1, 0.2, 60, 3, 0.1},
		{"flat for a moment", 0.1, 0.2, 58, 3, 0.1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			heel, flat, air := make([]float64, n), make([]bool, n), make([]bool, n)
			for i := range n {
				switch {
				case i < 20:
					heel[i], flat[i] = tt.before, true
				case i < 30:
					heel[i], air[i] = 0.5, true
				case i < tt.toesUntil:
					heel[i] = tt.after + 0.08
				default:
					heel[i], flat[i] = tt.after, true
				}
			}
			got := stanceLevels(heel, flat, air, tt.least)
			if math.Abs(got[5]-tt.before) > 1e-12 || math.Abs(got[50]-tt.wantLanding) > 1e-12 {
				t.Errorf("levels %.3f and %.3f, want %.3f and %.3f", got[5], got[50], tt.before, tt.wantLanding)
			}
		})
	}
}
