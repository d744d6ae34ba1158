package events

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// LegsApart parts reps in those with the feet side by side and those with one foot ahead of the other at the bottom, as
// in a lunge, a split squat or a jump that changes the legs: there the two legs do different things, and the angles of
// the near one are not those of a squat. apart holds their times. Reps that are kept are numbered anew.
func LegsApart(tr *trace.Trace, how Movement, reps []RepTimes) (together []RepTimes, apart []trace.Span) {
	for _, r := range reps {
		if feetApartLegs(tr, r.BottomS) > how.MostApartLegs {
			apart = append(apart, trace.Span{FromS: r.StartS, ToS: r.EndS})
			continue
		}
		r.Number = len(together) + 1
		together = append(together, r)
	}
	return together, apart
}

// aboutBottomS is the stretch to either side of a bottom in which the feet are looked at, in seconds.
const aboutBottomS = 0.1

// feetApartLegs returns how far apart the ankles are along the floor about a time, in leg lengths; 0 where one of them
// is not seen. Which of them is the near one does not matter: in a lunge a network exchanges them.
func feetApartLegs(tr *trace.Trace, atS float64) float64 {
	one, other := tr.Raw[tr.NearSide][body.Ankle].X, tr.Raw[tr.NearSide.Opposite()][body.Ankle].X
	var gaps []float64
	for i := tr.Index(atS - aboutBottomS); i <= tr.Index(atS+aboutBottomS); i++ {
		if gap := math.Abs(one[i] - other[i]); !math.IsNaN(gap) {
			gaps = append(gaps, gap/tr.LegPx)
		}
	}
	if len(gaps) == 0 {
		return 0
	}
	return signal.Median(gaps)
}
