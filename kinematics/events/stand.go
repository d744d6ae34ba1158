package events

import (
	"math"

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
)

// FindStand returns the stretches of quiet upright standing and its height: feet on
// the floor, hips still and at their highest level, knees and hips nearly straight.
func FindStand(tr *trace.Trace, flights []trace.Span) Stand {
	n := len(tr.TimeS)
	speed := signal.Velocity(slowly(tr.HipHeight, tr.RateHz), tr.RateHz)
	hipDeg := hipFlexion(tr)
	still := make([]bool, n)
	var level []float64
	for i := range n {
		still[i] = math.Abs(speed[i]) < standHipSpeed && tr.HipHeight[i] > standMinHip &&
			tr.KneeDeg[i] < standMaxKnee && !(hipDeg[i] > standMaxHipAng) && !nearFlight(flights, tr.TimeS[i])
		if still[i] {
			level = append(level, tr.HipHeight[i])
		}
	}
	top := signal.Quantile(level, 0.9)
	stand := Stand{HipHeight: top}
	for _, r := range signal.Runs(n, func(i int) bool { return still[i] && tr.HipHeight[i] > top-standBelowTop }) {
		if float64(r.N())/tr.RateHz < standMinS {
			continue
		}
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
	lasts := make([]float64, len(reps))
	for i := range reps {
		lasts[i] = reps[i].EndS - reps[i].StartS
	}
	reachS := leastZeroReachS
	if len(lasts) > 0 {
		reachS = max(reachS, signal.Median(lasts))
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
