package kinematics

import (
	"fmt"
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/stats"
)

// RetestMDC returns, for each joint, the smallest difference in degrees between
// two readings of a range of motion that chance alone makes in no more than 5 %
// of cases, from the same test filmed twice:
//
//	1.96 sqrt(2) SEM,    SEM^2 = mean square within the pairs of reps
//
// Rep k of the first test is paired with rep k of the second; reps that are not
// whole, and those without a partner, are left out. Every difference between
// the tests counts as error, a shift of all reps too: between them the
// athlete did not change. (The error mean square of a
// two-way table would leave the shift out.) A joint with fewer than two pairs
// gets NaN; when no joint has two, the error is stats.ErrBadTable. Source: Weir 2005.
//
// Two reps a side say little of a spread: from n pairs the SEM is known to about
// 1/sqrt(2n) of itself, 40 % for three.
func RetestMDC(first, second []Rep) (mdc body.ByJoint[float64], err error) {
	first, second = wholeReps(first), wholeReps(second)
	found := false
	for j := range body.NumJoints {
		mdc[j] = math.NaN()
		var table [][]float64
		for k := range min(len(first), len(second)) {
			a, b := first[k].Angles[j.Angle()].ROMDeg, second[k].Angles[j.Angle()].ROMDeg
			if !math.IsNaN(a) && !math.IsNaN(b) {
				table = append(table, []float64{a, b})
			}
		}
		a, err := stats.NewANOVA(table)
		if err != nil {
			continue // too few pairs
		}
		mdc[j] = stats.MDC95(math.Sqrt(a.Within))
		found = true
	}
	if !found {
		return mdc, fmt.Errorf("comparing %d reps with %d of a second test: %w", len(first), len(second), stats.ErrBadTable)
	}
	return mdc, nil
}
