package events

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// bout is a stretch from leaving the stand to coming back to it.
type bout struct {
	signal.Range
	flights          []trace.Span
	cutStart, cutEnd bool // the clip begins or ends inside
	gap              bool // tracking was lost inside
}

// findBouts returns the stretches in which the movement leaves standing and comes
// back to it, with feet that stay in place; those whose feet wander are returned
// apart. Standing between a flight and the floor is none.
func findBouts(tr *trace.Trace, how *movement.Movement, c *Course, flights []trace.Span) (bouts, moved []bout) {
	n := len(tr.TimeS)
	gone, rep := c.Slow, &how.Rep
	hipDeg := angleWay(tr, body.HipFlexion)
	at := func(i int) bool { // standing, or tracking lost while standing
		return gone[i] < rep.Back && !nearFlight(flights, tr.TimeS[i])
	}
	down := func(i int) bool { return gone[i] > rep.Leaves || nearFlight(flights, tr.TimeS[i]) }

	for i := 0; i < n; {
		if !down(i) {
			i++
			continue
		}
		b := bout{Range: signal.Range{From: i, To: i}}
		for b.From > 0 && !at(b.From-1) && !math.IsNaN(gone[b.From-1]) {
			b.From--
		}
		for i < n && !at(i) {
			if tr.Missing[i] {
				b.gap = true
			}
			i++
		}
		b.To = i
		b.cutStart = b.From == 0 || math.IsNaN(gone[b.From-1])
		b.cutEnd = b.To == n
		for _, f := range flights {
			if f.FromS >= tr.TimeS[b.From] && f.ToS <= tr.TimeS[b.To-1] {
				b.flights = append(b.flights, f)
			}
		}
		farthest := signal.Quantile(gone[b.From:b.To], 1)
		switch {
		case math.IsNaN(farthest) || float64(b.N())/tr.RateHz < rep.LeastS:
		case farthest < leastOf(tr, how, b.Range) && len(b.flights) == 0:
		case keepsStill(tr.KneeDeg, b.Range, rep.LeastBendDeg) && keepsStill(hipDeg, b.Range, rep.LeastBendDeg):
		case len(b.flights) == 0 && wanders(tr, how, &b):
			part, rest, ok := firstOrLast(tr, how, b, gone)
			if !ok {
				moved = append(moved, b)
				continue
			}
			bouts, moved = append(bouts, part), append(moved, rest)
		default:
			reach := int(restReachS * tr.RateHz)
			again := againPart * rep.Least
			if !b.cutStart {
				b.From = nearestBeyond(gone, c.Resting, b.From, -1, reach, again)
			}
			if !b.cutEnd {
				b.To = nearestBeyond(gone, c.Resting, b.To-1, +1, reach, again) + 1
			}
			bouts = append(bouts, splitBout(b, gone, how)...)
		}
	}
	return bouts, moved
}

// leastOf returns how far the movement must go in a stretch to be a rep.
func leastOf(tr *trace.Trace, how *movement.Movement, r signal.Range) float64 {
	rep := &how.Rep
	if rep.LeastBent > 0 && how.Turn.Follow != body.NumAngles &&
		signal.Quantile(angleWay(tr, how.Turn.Follow)[r.From:r.To], 0.95) > rep.BentDeg {
		return rep.LeastBent
	}
	return rep.Least
}

// firstOrLast parts a bout whose feet wander, and that the clip begins or ends inside, in the rep next to the standing,
// if the feet stay in place in it, and the rest: who walked in has not yet stood as high as later when the first rep
// begins. It goes from the highest place before the turn to the one after it, both no further from standing than what
// is no rep.
func firstOrLast(tr *trace.Trace, how *movement.Movement, b bout, gone []float64) (part, rest bout, ok bool) {
	turns := signal.FindPeaks(gone[b.From:b.To], signal.PeakRule{MinProminence: how.Rep.Least})
	if b.cutStart == b.cutEnd || len(turns) == 0 {
		return part, rest, false
	}
	part, rest = b, b
	if again := againPart * how.Rep.Least; b.cutStart {
		part.From = topBeside(gone, b.From+turns[len(turns)-1].Index, -1, b.From, again)
		part.cutStart, rest.To = part.From == b.From, part.From
	} else {
		part.To = topBeside(gone, b.From+turns[0].Index, +1, b.To-1, again) + 1
		part.cutEnd, rest.From = part.To == b.To, part.To
	}
	part.gap = slices.Contains(tr.Missing[part.From:part.To], true)
	return part, rest, float64(part.N())/tr.RateHz >= how.Rep.LeastS && !wanders(tr, how, &part) &&
		max(gone[part.From], gone[part.To-1]) <= how.Rep.Least && !keepsStill(tr.KneeDeg, part.Range, how.Rep.LeastBendDeg)
}

// topBeside returns the sample nearest to standing going outward from a turn in direction dir, to the sample last
// at most, up to where the movement goes again by that much.
func topBeside(gone []float64, turn, dir, last int, again float64) int {
	best := turn
	for j := turn; (last-j)*dir >= 0 && !(gone[j] > gone[best]+again); j += dir {
		if gone[j] < gone[best] {
			best = j
		}
	}
	return best
}

// keepsStill says whether an angle stays the same over the samples, to within so many degrees
// and but for the outermost twentieth on either side. Nothing is known of one that is not
// seen, and so it does.
func keepsStill(deg []float64, r signal.Range, leastDeg float64) bool {
	x := deg[r.From:r.To]
	return !(signal.Quantile(x, 0.95)-signal.Quantile(x, 0.05) >= leastDeg)
}

// againPart is the part of the least way of a rep that the athlete must go again for the place before it to be the
// nearest to standing between two reps.
const againPart = 0.1

// nearestBeyond returns the sample nearest to standing going outward from i in direction dir,
// reach samples at most, up to where the movement goes again by that much: a rep without a stand beside it
// begins and ends there. It is i itself where a stand comes first.
func nearestBeyond(gone []float64, standing []bool, i, dir, reach int, again float64) int {
	best := i
	for j := i + dir; j >= 0 && j < len(gone) && (j-i)*dir <= reach; j += dir {
		switch {
		case standing[j]:
			return i
		case math.IsNaN(gone[j]) || gone[j] > gone[best]+again:
			return best
		case gone[j] < gone[best]:
			best = j
		}
	}
	return best
}

// footDrift returns how far the near foot moves along the floor over the
// samples, in leg lengths, the outermost tenths on either side left out.
func footDrift(tr *trace.Trace, r signal.Range) float64 {
	x := tr.Quick[tr.NearSide][body.Ankle].X[r.From:r.To]
	return (signal.Quantile(x, 0.9) - signal.Quantile(x, 0.1)) / tr.LegPx
}

// wanders says whether the feet do not stay in place in a bout.
func wanders(tr *trace.Trace, how *movement.Movement, b *bout) bool {
	if b.cutStart || b.cutEnd {
		return footDrift(tr, b.Range) > how.Feet.MostDriftCut
	}
	return footDrift(tr, b.Range) > how.Feet.MostDrift
}

// splitBout parts a bout without flights in which the movement comes most of the way
// back between two turns: quick reps that do not end in a stand. Who is lost has come back, but for one who is lost
// lying on the floor.
func splitBout(b bout, gone []float64, how *movement.Movement) []bout {
	if len(b.flights) > 0 {
		return []bout{b}
	}
	splitPart := how.Rep.SplitPart
	depth := slices.Clone(gone[b.From:b.To])
	for _, lost := range signal.Runs(len(depth), func(i int) bool { return math.IsNaN(depth[i]) }) {
		level := 0.0
		if lostLying(gone, how, b.From+lost.From) {
			level = how.Rep.Least
		}
		for i := lost.From; i < lost.To; i++ {
			depth[i] = level
		}
	}
	deepest := signal.Quantile(depth, 1)
	low := signal.FindPeaks(depth, signal.PeakRule{MinProminence: splitPart * deepest})
	var out []bout
	from := b.From
	for k := 1; k < len(low); k++ {
		top := low[k-1].Index
		for i := low[k-1].Index; i <= low[k].Index; i++ {
			if depth[i] < depth[top] {
				top = i
			}
		}
		// Of two equally deep places each is prominent, whatever lies between.
		if min(depth[low[k-1].Index], depth[low[k].Index])-depth[top] < splitPart*deepest {
			continue
		}
		part := b
		part.Range = signal.Range{From: from, To: b.From + top + 1}
		part.cutStart = b.cutStart && from == b.From
		part.cutEnd = false
		out = append(out, part)
		from = b.From + top
	}
	last := b
	last.Range = signal.Range{From: from, To: b.To}
	last.cutStart = b.cutStart && from == b.From
	return append(out, last)
}

// FindReps returns the reps of a clip in order, with their times and phases, and the
// stretches that are none because the feet did not stay in place. They are the
// movements that leave standing and come back to it, within the bounds of the movement.
func FindReps(tr *trace.Trace, how *movement.Movement, c *Course, stand Stand, flights []trace.Span) (reps []RepTimes,
	moved []trace.Span) {
	if !how.Feet.Leave {
		flights = nil
	}
	bouts, wandered := findBouts(tr, how, c, flights)
	for _, b := range wandered {
		moved = append(moved, trace.Span{FromS: tr.TimeS[b.From], ToS: tr.TimeS[b.To-1]})
	}
	return splitIntoReps(tr, how, c, c.restsOf(tr, how, stand), bouts), moved
}

// splitIntoReps turns bouts into reps with their times and phases. A bout
// without a flight is one rep. A bout with flights has one rep for each: from
// where the athlete was before the push (for the first, the stand) to the end of
// the hold after the landing (for the last, the stand), so that an athlete who
// jumps again from the position that he lands in has done as many reps as jumps.
func splitIntoReps(tr *trace.Trace, how *movement.Movement, c *Course, stand Stand, bouts []bout) []RepTimes {
	read := newTurning(tr, how, c)
	drops := DropsOf(tr, how)
	var reps []RepTimes
	for k, b := range bouts {
		between := trace.Span{FromS: math.Inf(-1), ToS: math.Inf(1)} // the reps before and after
		if k > 0 {
			between.FromS = tr.TimeS[bouts[k-1].To-1]
		}
		if k+1 < len(bouts) {
			between.ToS = tr.TimeS[bouts[k+1].From]
		}
		beside := standBeside(tr.TimeS[b.From], tr.TimeS[b.To-1], between, stand.Spans)
		var parts []RepTimes
		if len(b.flights) == 0 {
			parts = []RepTimes{plainRep(read, b)}
			landAfter(&parts[0], tr, read, b, drops)
		} else {
			parts = jumpReps(tr, read, b)
		}
		for i := range parts {
			r := &parts[i]
			r.Beside = beside
			r.StartS = max(r.StartS, tr.TimeS[0]) // a fit of the way down may lead out of the clip
			up := i == 0 && !b.cutStart || i == len(parts)-1 && !b.cutEnd
			r.NeverUp = r.HasFlight() && len(beside) == 0 && !up
			markPartial(tr, c, how, r, b, i == 0, i == len(parts)-1)
			r.Order()
			// What never comes back is no rep either: a picture that jumps.
			if turnUnseen(tr, r) || !r.Partial && !r.HasFlight() && r.EndS <= r.BottomEndS {
				continue
			}
			r.Number = len(reps) + 1
			r.Depth = stand.HipHeight - tr.HipHeight[tr.Index(r.BottomS)]
			r.PeakSpeed = c.SpeedOf(tr, r)
			reps = append(reps, *r)
		}
	}
	return reps
}

// standPhaseS is the longest stand that is shown after a rep.
const standPhaseS = 0.5

// AddStands gives each rep without a flight the stand that follows on its end.
func AddStands(tr *trace.Trace, reps []RepTimes) {
	for i := range reps {
		r := &reps[i]
		if r.HasFlight() || r.Partial {
			continue
		}
		to := min(r.EndS+standPhaseS, tr.TimeS[len(tr.TimeS)-1])
		if i+1 < len(reps) {
			to = min(to, reps[i+1].StartS)
		}
		if to > r.EndS {
			r.Phases = append(r.Phases, Phase{PhaseStand, r.EndS, to})
		}
	}
}

// plainRep measures the times of a rep without a flight.
func plainRep(read *turning, b bout) RepTimes {
	t := read.turnIn(b.Range, false, false)
	nan := math.NaN()
	return RepTimes{
		StartS: t.downFromS, BottomS: t.downToS, BottomEndS: t.upFromS, EndS: t.upToS,
		TakeoffS: nan, ContactS: nan, LandingBottomS: nan,
		DescentS: t.downToS - t.downFromS, AscentS: t.upToS - t.upFromS,
	}
}

// landAfter reads the turn of a rep that drops from something: it is that of the landing, which begins under way.
func landAfter(r *RepTimes, tr *trace.Trace, read *turning, b bout, drops []trace.Span) {
	for _, d := range drops {
		if from := tr.Index(d.ToS); from > b.From && from < b.To {
			t := read.turnIn(samples(len(tr.TimeS), from, b.To), true, false)
			r.BottomS, r.BottomEndS, r.EndS = t.downToS, t.upFromS, t.upToS
			r.DescentS, r.AscentS = t.downToS-r.StartS, t.upToS-t.upFromS
		}
	}
}

// jumpReps measures the times of the reps of a bout with flights.
func jumpReps(tr *trace.Trace, read *turning, b bout) []RepTimes {
	var reps []RepTimes
	n := len(tr.TimeS)
	before := read.turnIn(samples(n, b.From, tr.Index(b.flights[0].FromS)), false, true)
	for k, f := range b.flights {
		last := k == len(b.flights)-1
		to := b.To
		if !last {
			to = tr.Index(b.flights[k+1].FromS)
		}
		after := read.turnIn(samples(n, tr.Index(f.ToS), to), true, !last)
		end := after.upFromS
		if last {
			end = after.upToS
		}
		r := RepTimes{
			StartS: before.downFromS, BottomS: before.downToS, BottomEndS: before.upFromS, EndS: end,
			TakeoffS: f.FromS, ContactS: f.ToS, FlightS: f.ToS - f.FromS,
			LandingBottomS: after.downToS,
			DescentS:       before.downToS - before.downFromS, AscentS: f.FromS - before.upFromS,
		}
		if k > 0 {
			// The hold after the last landing belongs to the rep before: this one
			// begins where the push begins, already at its bottom.
			r.StartS, r.BottomS = r.BottomEndS, r.BottomEndS
			r.DescentS = math.NaN()
		}
		reps = append(reps, r)
		before = after
	}
	return reps
}

// samples returns the samples from..to-1, two at least, inside the n of the clip.
func samples(n, from, to int) signal.Range {
	from = max(0, min(from, n-2))
	return signal.Range{From: from, To: max(from+2, min(to, n))}
}

// Order puts the times of a rep in their order, should rough tracking have mixed
// them up, and names the phases between.
func (r *RepTimes) Order() {
	r.BottomS = max(r.StartS, r.BottomS)
	r.BottomEndS = max(r.BottomS, r.BottomEndS)
	if r.HasFlight() {
		r.BottomEndS = min(r.BottomEndS, max(r.BottomS, r.TakeoffS))
		r.TakeoffS = max(r.BottomEndS, r.TakeoffS)
		r.ContactS = max(r.TakeoffS, r.ContactS)
		r.LandingBottomS = max(r.ContactS, r.LandingBottomS)
		r.EndS = max(r.LandingBottomS, r.EndS)
		r.FlightS = r.ContactS - r.TakeoffS
	}
	r.EndS = max(r.BottomEndS, r.EndS)

	all := []Phase{
		{PhaseDescent, r.StartS, r.BottomS},
		{PhaseBottom, r.BottomS, r.BottomEndS},
		{PhaseAscent, r.BottomEndS, r.EndS},
	}
	if r.HasFlight() {
		all = append(all[:2],
			Phase{PhaseTakeoff, r.BottomEndS, r.TakeoffS},
			Phase{PhaseFlight, r.TakeoffS, r.ContactS},
			Phase{PhaseLanding, r.ContactS, r.LandingBottomS},
			Phase{PhaseRecovery, r.LandingBottomS, r.EndS})
	}
	r.Phases = []Phase{}
	for _, p := range all {
		if p.Span().DurationS() > 0 {
			r.Phases = append(r.Phases, p)
		}
	}
}

// markPartial says of a rep that a part of it is not to be seen; it ends where the movement
// is that near to standing again, or to where it began before it goes down once more.
func markPartial(tr *trace.Trace, c *Course, how *movement.Movement, r *RepTimes, b bout, first, last bool) {
	back := how.Rep.Back
	why := func(code string, params notice.Params) {
		if !r.Partial {
			r.Partial, r.PartialWhy = true, notice.New(code, params)
		}
	}
	if first && b.cutStart {
		why("begins_inside", nil)
		r.StartS = tr.TimeS[b.From]
		r.DescentS = math.NaN() // a part of it was not filmed
	}
	gone := func(timeS float64) float64 { return c.Quick[tr.Index(timeS)] }
	whole := !r.Partial && !r.HasFlight() && r.EndS < tr.TimeS[b.To-1] && gone(r.EndS) < gone(r.StartS)+back
	if last && b.cutEnd && !whole && c.Quick[b.To-1] > back {
		why("ends_inside", nil)
		r.EndS = tr.TimeS[b.To-1]
	}
	if b.gap {
		from, to := tr.Index(r.StartS), tr.Index(r.EndS)
		if first && last { // it may seem to begin or end where the athlete is lost
			from, to = min(from, b.From), max(to, b.To-1)
		}
		for i := from; i <= to; i++ {
			if tr.Missing[i] && !lostLying(c.Slow, how, i) {
				why("lost_at", notice.Params{"at_s": tr.TimeS[i]})
				break
			}
		}
	}
}

// turnUnseen says whether nothing is seen from before the turn of a rep on until the clip, or what is measured of it,
// ends, or nothing up to the end of the turn: who only goes down, or only comes up, has not done one.
func turnUnseen(tr *trace.Trace, r *RepTimes) bool {
	return !slices.Contains(tr.Missing[tr.Index(r.BottomS):], false) ||
		!slices.Contains(tr.Missing[:tr.Index(r.BottomEndS)+1], false)
}

// lostLying says whether an athlete who is lost at a sample lies on the floor, as before and after: a network sees
// bodies that lie badly, and of getting up nothing is missing.
func lostLying(gone []float64, how *movement.Movement, i int) bool {
	before, after := i, i
	for before > 0 && math.IsNaN(gone[before]) {
		before--
	}
	for after < len(gone)-1 && math.IsNaN(gone[after]) {
		after++
	}
	return how.Feet.Stance == movement.OnHands && gone[before] >= how.Rep.Least && gone[after] >= how.Rep.Least
}

// standBeside returns the standing beside a bout from one time to another: the
// stretches that end or begin within a second of it, with no other bout between.
func standBeside(from, to float64, between trace.Span, spans []trace.Span) []trace.Span {
	return trace.Span{FromS: max(from-1, between.FromS), ToS: min(to+1, between.ToS)}.Parts(spans)
}
