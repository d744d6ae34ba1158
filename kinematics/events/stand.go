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
	standToesDeg   = 12.0 // by which the near foot is turned from how it stands mostly: the athlete is on the toes
	standKneeDeg   = 5.0  // degrees over its straightest: the hips may be up while the knees still straighten
	// In a set whose reps last less than standRepS, in seconds, a pause is as much quicker, and as short as standPart of a
	// rep: so a set that is played faster keeps its standing. Reps that turn with bent knees pause as long, so that only
	// knees and hips that read no more than standStraight, in raw degrees, stand there: straight ones read up to 14.
	standRepS     = 3.2
	standPart     = 0.1
	standStraight = 15.0
)

// FindStand returns the stretches of quiet upright standing and its height: feet on
// the floor, hips still and at their highest level, knees and hips nearly straight.
func FindStand(tr *trace.Trace, flights []trace.Span) Stand {
	stand := Stand{}
	for _, r := range quiet(tr, flights, standHipSpeed, standMinS, standMaxHipAng) {
		stand.Found = true
		stand.Spans = append(stand.Spans, trace.Span{FromS: tr.TimeS[r.From], ToS: tr.TimeS[r.To-1]})
	}
	if stand.Found {
		stand.HipHeight = signal.MedianWhere(tr.HipHeight, tr.Within(stand.Spans))
		return stand
	}
	// No standing: the highest level with the feet on the floor must do.
	var h []float64
	for i := range tr.TimeS {
		if !nearFlight(flights, tr.TimeS[i]) {
			h = append(h, tr.HipHeight[i])
		}
	}
	stand.HipHeight = signal.Quantile(h, 0.95)
	return stand
}

// quiet returns the stretches, leastS seconds long at least, in which the body is upright, knee and hip read less than
// straightDeg and the hips are no faster than mostSpeed, in leg lengths a second.
func quiet(tr *trace.Trace, flights []trace.Span, mostSpeed, leastS, straightDeg float64) []signal.Range {
	n := len(tr.TimeS)
	speed := signal.Velocity(slowly(tr.HipHeight, tr.RateHz), tr.RateHz)
	hipDeg := angleWay(tr, body.HipFlexion)
	still := make([]bool, n)
	for i := range n {
		still[i] = math.Abs(speed[i]) < mostSpeed && tr.HipHeight[i] > standMinHip &&
			tr.KneeDeg[i] < min(standMaxKnee, straightDeg) && !(hipDeg[i] > straightDeg) && !nearFlight(flights, tr.TimeS[i])
	}
	var level []float64
	onToes := onToes(tr, still)
	for i := range still {
		if still[i] = still[i] && !onToes[i]; still[i] {
			level = append(level, tr.HipHeight[i])
		}
	}
	top := signal.Quantile(level, 0.9)
	return slices.DeleteFunc(signal.Runs(n, func(i int) bool { return still[i] && tr.HipHeight[i] > top-standBelowTop }),
		func(r signal.Range) bool { return float64(r.N())/tr.RateHz < leastS })
}

// onToes marks the samples in which the near foot is turned from how it is in most of those that are still.
func onToes(tr *trace.Trace, still []bool) []bool {
	pitch := make([]float64, len(still))
	for i := range pitch {
		l := body.LimbAt(&tr.Quick[tr.NearSide], i)
		pitch[i] = body.AnglesOf(&l, tr.Facing)[body.FootPitch]
	}
	flat := signal.MedianWhere(pitch, still)
	out := make([]bool, len(still))
	for i, deg := range pitch {
		out[i] = math.Abs(deg-flat) > standToesDeg
	}
	return out
}

// ZeroSpans returns the standing that the angles are counted from: the quiet standing, and in quick sets the short
// pauses between the reps, as far as [StandsByReps] says and the knees are straight.
func ZeroSpans(tr *trace.Trace, flights []trace.Span, stand Stand, reps []RepTimes) []trace.Span {
	stands := tr.Within(stand.Spans)
	if repS := lastingS(reps); repS > 0 && repS < standRepS {
		for _, r := range quiet(tr, flights, standHipSpeed*standRepS/repS, standPart*repS, standStraight) {
			for i := r.From; i < r.To; i++ {
				stands[i] = true
			}
		}
	}
	spansOf := func(in []bool) (spans []trace.Span) {
		for _, r := range signal.Runs(len(in), func(i int) bool { return in[i] }) {
			spans = append(spans, trace.Span{FromS: tr.TimeS[r.From], ToS: tr.TimeS[r.To-1]})
		}
		return spans
	}
	near := StandsByReps(spansOf(stands), reps)
	knee := slowly(tr.KneeDeg, tr.RateHz)
	straight := make([]bool, len(stands))
	for _, s := range near {
		from, to := tr.Index(s.FromS), tr.Index(s.ToS)+1
		straightest := signal.Quantile(knee[from:to], 0)
		for i := from; i < to; i++ {
			straight[i] = knee[i] < straightest+standKneeDeg
		}
	}
	return spansOf(straight)
}

// CountFromZero counts ranges from the standing that the angles are counted from: beside a rep only what of it is zero
// counts where some is, so that knees which still straighten there take nothing off the range. Jumps that no stand is
// beside have all of it: who jumps again out of the landing has a range from there to the bottom, and not one from
// wherever the rep is cut.
func CountFromZero(reps []RepTimes, zero []trace.Span) {
	for i := range reps {
		r := &reps[i]
		if r.HasFlight() && len(r.Beside) == 0 && len(zero) > 0 {
			r.Beside, r.NeverUp = zero, false
			continue
		}
		var straight []trace.Span
		for _, b := range r.Beside {
			straight = append(straight, b.Parts(zero)...)
		}
		if len(straight) > 0 {
			r.Beside = straight
		}
	}
}

// leastZeroReachS is how far in seconds from a rep its quiet standing may lie at least that the
// angles are counted from, see [StandsByReps]. Common practice, no source.
const leastZeroReachS = 0.5

// StandsByReps returns those parts of the standing that lie no further from a rep than a rep of
// the set lasts, so that the same set played faster has the same zero; all of it where none does.
// Further away the athlete may have turned, stepped or put something down.
func StandsByReps(standing []trace.Span, reps []RepTimes) []trace.Span {
	reachS := leastZeroReachS
	if s := lastingS(reps); s > 0 {
		reachS = max(reachS, s)
	}
	var out []trace.Span
	for i := range reps {
		around := trace.Span{FromS: reps[i].StartS - reachS, ToS: reps[i].EndS + reachS}
		out = append(out, around.Parts(standing)...)
	}
	if len(out) == 0 {
		return standing
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

func nearFlight(flights []trace.Span, timeS float64) bool {
	for _, f := range flights {
		if timeS > f.FromS-flightMarginS && timeS < f.ToS+flightMarginS {
			return true
		}
	}
	return false
}
