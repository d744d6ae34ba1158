package stats

import (
	"errors"
	"math"
	"testing"
)

// Slope and its interval worked out by hand: y = 10, 12, 13, 15 over 0..3, slope 1.6, SD
// about the line sqrt(0.1), standard error 0.1414214, t(2) 4.302653.
func TestDrift(t *testing.T) {
	d, err := DriftOf([]float64{10, 12, math.NaN(), 13, 15})
	if err != nil || !(d.Total > 0) {
		t.Fatalf("%+v, %v", d, err)
	}
	d, err = DriftOf([]float64{10, 12, 13, 15})
	if err != nil {
		t.Fatal(err)
	}
	half := 4.302653 * 0.14142136
	if math.Abs(d.Interval95[0]-3*(1.6-half)) > 1e-6 || math.Abs(d.Interval95[1]-3*(1.6+half)) > 1e-6 {
		t.Errorf("%+v", d)
	}
	if !d.Drifts || math.Abs(d.Total-4.8) > 1e-12 {
		t.Errorf("%+v", d)
	}
	if d, err := DriftOf([]float64{10, 12, 9, 11, 10}); err != nil || d.Drifts {
		t.Errorf("no drift, yet %+v, %v", d, err)
	}
	if _, err := DriftOf([]float64{1, 2}); !errors.Is(err, errTooFewReps) {
		t.Errorf("two reps: %v", err)
	}
}
