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

// BentOver parts reps in those of a squat and those in which the trunk bends over further than the
// knee bends, as to pick a weight off the floor or in a hinge. bent holds their times. Reps that
// are kept are numbered anew.
func BentOver(tr *trace.Trace, how Movement, reps []RepTimes) (squats []RepTimes, bent []trace.Span) {
	for _, r := range reps {
		var lean, knee []float64
		for i := tr.Index(r.BottomS - aboutBottomS); i <= tr.Index(r.BottomS+aboutBottomS); i++ {
			l := body.LimbAt(&tr.Quick[tr.NearSide], i)
			a := body.AnglesOf(&l, tr.Facing)
			lean, knee = append(lean, a[body.TrunkLean]), append(knee, a[body.KneeFlexion])
		}
		deg := signal.Median(signal.Present(lean))
		if deg > how.MostLeanDeg && deg < headDownDeg && deg > signal.Median(signal.Present(knee)) {
			bent = append(bent, trace.Span{FromS: r.StartS, ToS: r.EndS})
			continue
		}
		r.Number = len(squats) + 1
		squats = append(squats, r)
	}
	return squats, bent
}

// headDownDeg: a trunk that leans further is that of a hidden shoulder.
const headDownDeg = 100

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
