package events

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// Stand is the athlete's own quiet standing, the zero of the angles.
type Stand struct {
	Found bool
	// Spans are the stretches of quiet standing, seconds.
	Spans []trace.Span
	// HipHeight is the standing height of the hips in leg lengths.
	HipHeight float64
}

// What counts as quiet standing; common practice, no source.
const (
	standHipSpeed  = 0.08 // leg lengths a second
	standBelowTop  = 0.05 // leg lengths under the highest quiet level
	standMinHip    = 0.80 // leg lengths: lower is no upright standing
	standMaxKnee   = 40.0 // degrees of raw knee flexion
	standMinS      = 0.15 // seconds in one piece
	flightMarginS  = 0.25 // seconds beside a flight that are no standing
	standMaxHipAng = 45.0 // degrees of raw hip flexion
	// In a set whose reps last less than standRepS, in seconds, a pause is as much quicker, but lasts standPart of a rep:
	// so a set that is played faster keeps its standing. Reps that turn at the top, like a cosine of the time, are that
	// slow for less than 0.16 of their time where they turn with bent knees.
	standRepS = 2.0
	standPart = 0.2
)

// FindStand returns the stretches of quiet upright standing and its height: feet on
// the floor, hips still and at their highest level, knees and hips nearly straight.
// repS is how long a rep of the set lasts in seconds; 0: not known.
func FindStand(tr *trace.Trace, flights []trace.Span, repS float64) Stand {
	n := len(tr.TimeS)
	speed := signal.Velocity(slowly(tr.HipHeight, tr.RateHz), tr.RateHz)
	hipDeg := hipFlexion(tr)
	upright := make([]bool, n)
	for i := range n {
		upright[i] = tr.HipHeight[i] > standMinHip && tr.KneeDeg[i] < standMaxKnee && !(hipDeg[i] > standMaxHipAng) &&
			!nearFlight(flights, tr.TimeS[i])
	}
	quiet := func(most, leastS float64) []signal.Range {
		still := func(i int) bool { return upright[i] && math.Abs(speed[i]) < most }
		var level []float64
		for i := range n {
			if still(i) {
				level = append(level, tr.HipHeight[i])
			}
		}
		top := signal.Quantile(level, 0.9)
		return slices.DeleteFunc(signal.Runs(n, func(i int) bool { return still(i) && tr.HipHeight[i] > top-standBelowTop }),
			func(r signal.Range) bool { return float64(r.N())/tr.RateHz < leastS })
	}
	stand := Stand{}
	stands := make([]bool, n)
	found := quiet(standHipSpeed, standMinS)
	if repS > 0 && repS < standRepS {
		found = append(found, quiet(standHipSpeed*standRepS/repS, standPart*repS)...)
	}
	for _, r := range found {
		for i := r.From; i < r.To; i++ {
			stands[i] = true
		}
	}
	for _, r := range signal.Runs(n, func(i int) bool { return stands[i] }) {
		stand.Found = true
		stand.Spans = append(stand.Spans, trace.Span{FromS: tr.TimeS[r.From], ToS: tr.TimeS[r.To-1]})
	}
	if stand.Found {
		stand.HipHeight = signal.MedianWhere(tr.HipHeight, tr.Within(stand.Spans))
		return stand
	}
	// No standing: the highest level with the feet on the floor must do.
	var h []float64
	for i := range n {
		if !nearFlight(flights, tr.TimeS[i]) {
			h = append(h, tr.HipHeight[i])
		}
	}
	stand.HipHeight = signal.Quantile(h, 0.95)
	return stand
}

// leastZeroReachS is how far in seconds from a rep its quiet standing may lie at least that the
// angles are counted from, see [StandsByReps]. Common practice, no source.
const leastZeroReachS = 0.5

// StandsByReps returns those parts of the standing that lie no further from a rep than a rep of
// the set lasts, so that the same set played faster has the same zero; all of it where none does.
// Further away the athlete may have turned, stepped or put something down.
func StandsByReps(stand Stand, reps []RepTimes) []trace.Span {
	reachS := leastZeroReachS
	if s := lastingS(reps); s > 0 {
		reachS = max(reachS, s)
	}
	var out []trace.Span
	for _, s := range stand.Spans {
		for i := range reps {
			part := trace.Span{FromS: max(s.FromS, reps[i].StartS-reachS), ToS: min(s.ToS, reps[i].EndS+reachS)}
			if part.DurationS() >= 0 {
				out = append(out, part)
			}
		}
	}
	if len(out) == 0 {
		return stand.Spans
	}
	return out
}

// lastingS returns how long a rep of the set lasts in seconds; 0 where there is none.
func lastingS(reps []RepTimes) float64 {
	lasts := make([]float64, len(reps))
	for i := range reps {
		lasts[i] = reps[i].EndS - reps[i].StartS
	}
	if len(lasts) == 0 {
		return 0
	}
	return signal.Median(lasts)
}

// hipFlexion returns the near side's raw hip flexion in degrees.
func hipFlexion(tr *trace.Trace) []float64 {
	deg := make([]float64, len(tr.TimeS))
	for i := range deg {
		l := body.LimbAt(&tr.Quick[tr.NearSide], i)
		deg[i] = body.AnglesOf(&l, tr.Facing)[body.HipFlexion]
	}
	return deg
}

func nearFlight(flights []trace.Span, timeS float64) bool {
	for _, f := range flights {
		if timeS > f.FromS-flightMarginS && timeS < f.ToS+flightMarginS {
			return true
		}
	}
	return false
}
