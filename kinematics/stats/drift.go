package stats

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
)

// ErrTooFewReps: too few reps for what was asked.
var ErrTooFewReps = errors.New("too few reps")

// Drift is how a number changes from rep to rep of a set.
type Drift struct {
	Reps          int
	First, Last   float64
	PerRep        Estimate
	Interval95    [2]float64 // of PerRep, by the t distribution
	TotalInSet    float64    // PerRep over the whole set
	BetweenRepsSD float64    // about the straight line
	// Drifts says that the interval leaves 0 out.
	Drifts bool
}

// DriftOf fits a straight line to a number over the reps of a set, in order: does
// it change from the first to the last, as with fatigue? NaNs are left out. It
// returns ErrTooFewReps with fewer than three.
func DriftOf(values []float64) (Drift, error) {
	var x, y []float64
	for i, v := range values {
		if !math.IsNaN(v) {
			x, y = append(x, float64(i)), append(y, v)
		}
	}
	n := len(y)
	if n < 3 {
		return Drift{}, fmt.Errorf("a drift over %d reps: %w", n, ErrTooFewReps)
	}
	level, slope := stat.LinearRegression(x, y, nil, false)
	mean := stat.Mean(x, nil)
	var sxx, ss float64
	for i := range x {
		sxx += sq(x[i] - mean)
		ss += sq(y[i] - level - slope*x[i])
	}
	d := Drift{Reps: n, First: y[0], Last: y[n-1], BetweenRepsSD: math.Sqrt(ss / float64(n-2))}
	se := d.BetweenRepsSD / math.Sqrt(sxx)
	d.PerRep = Estimate{slope, se}
	half := se * t95(float64(n-2))
	d.Interval95 = [2]float64{slope - half, slope + half}
	d.TotalInSet = slope * (x[n-1] - x[0])
	d.Drifts = d.Interval95[0] > 0 || d.Interval95[1] < 0
	return d, nil
}
