package stats

import (
	"errors"
	"fmt"
	"math"

	"holdfast/kinematics/signal"
)

// errTooFewReps: too few reps for what was asked.
var errTooFewReps = errors.New("too few reps")

// Drift is a straight line through a number of the reps of a set.
type Drift struct {
	// Total is the change from the first rep to the last, Interval95 its 95 % interval,
	// by the t distribution.
	Total      float64    `json:"total_deg"`
	Interval95 [2]float64 `json:"interval95"`
	// Drifts says that the interval leaves 0 out.
	Drifts bool `json:"drifts"`
}

// DriftOf fits a straight line to a number over the reps of a set, in order: does
// it change from the first to the last, as with fatigue? NaNs are left out. It
// returns errTooFewReps with fewer than three.
func DriftOf(values []float64) (Drift, error) {
	var rows, y []float64
	for i, v := range values {
		if !math.IsNaN(v) {
			rows, y = append(rows, 1, float64(i)), append(y, v)
		}
	}
	n := len(y)
	if n < 3 {
		return Drift{}, fmt.Errorf("a drift over %d reps: %w", n, errTooFewReps)
	}
	f, ok := signal.LeastSquares(rows, y)
	if !ok {
		return Drift{}, fmt.Errorf("a drift over %d reps: %w", n, errTooFewReps)
	}
	slope, half := f.Coef[1], f.Noise*f.UnitSE(1)*t95(float64(n-2))
	over := rows[len(rows)-1] - rows[1]
	d := Drift{Total: slope * over, Interval95: [2]float64{over * (slope - half), over * (slope + half)}}
	d.Drifts = d.Interval95[0] > 0 || d.Interval95[1] < 0
	return d, nil
}
