package events

import (
	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// handTrace returns a trace made by hand, leg lengths of 100 pixels: the height of the
// hips, and how far the feet are off the floor, over the time, both in leg lengths. The
// knees bend as the hips fall; no other point is seen.
func handTrace(rateHz, endS float64, hip, lift func(t float64) float64) *trace.Trace {
	n := int(endS*rateHz) + 1
	tr := &trace.Trace{RateHz: rateHz, NearSide: body.Right, Facing: body.FacingRight, LegPx: 100, FloorY: 900,
		Filled: make([]bool, n), Missing: make([]bool, n)}
	for side := range 2 {
		for k := range body.NumLandmarks {
			tr.Raw[side][k] = body.Path{X: signal.NaNs(n), Y: signal.NaNs(n), SDPx: signal.NaNs(n)}
		}
	}
	for i := range n {
		t := float64(i) / rateHz
		h, up := hip(t), lift(t)
		tr.TimeS, tr.HipHeight, tr.KneeDeg = append(tr.TimeS, t), append(tr.HipHeight, h), append(tr.KneeDeg, 200*max(0, 1-h))
		for side := range 2 {
			at := func(k body.Landmark, x, upLegs float64) {
				tr.Raw[side][k].X[i], tr.Raw[side][k].Y[i] = 400+100*x, 900-100*upLegs
			}
			at(body.Hip, 0, h)
			at(body.Ankle, 0, up)
			at(body.Heel, -0.07, up)
			at(body.Toe, 0.2, up)
		}
	}
	tr.Quick = tr.Raw
	return tr
}

// onTheFloor is a lift that is none.
func onTheFloor(float64) float64 { return 0 }

// squat returns the height of hips that go down by depth from downS on, each way in
// waysS seconds with a hold of holdS between.
func squat(downS, waysS, holdS, depth float64) func(t float64) float64 {
	return func(t float64) float64 {
		return 1 - depth*(signal.MinJerk((t-downS)/waysS)-signal.MinJerk((t-downS-waysS-holdS)/waysS))
	}
}

// flown returns the height over the floor of a body that leaves it at one time and is
// back at the other, falling as bodies with legs of usual length do.
func flown(takeoffS, contactS float64) func(t float64) float64 {
	return func(t float64) float64 {
		return max(0, trace.GravityMS2/trace.UsualLegM/2*(t-takeoffS)*(contactS-t))
	}
}

// over returns the sum of two courses.
func over(a, b func(t float64) float64) func(t float64) float64 {
	return func(t float64) float64 { return a(t) + b(t) }
}

func standingStill(float64) float64 { return 1 }

// findSquats returns the squats of a trace, and what is none.
func findSquats(tr *trace.Trace, flights []trace.Span) (reps []RepTimes, moved []trace.Span) {
	stand := FindStand(tr, flights)
	return FindReps(tr, shipped.Squat(), CourseOf(tr, shipped.Squat(), stand), stand, flights)
}
