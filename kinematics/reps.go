package kinematics

import (
	"fmt"
	"holdfast/kinematics/signal"
	"math"
)

// repDraft is a rep in the making, with what the measures need beside it.
type repDraft struct {
	Rep
	// bout is the stretch from leaving the stand to coming back to it that the
	// rep is a part of; stand are the spans of standing beside it.
	bout  signal.Range
	stand []Span
	// tempoChange is the coach's word on this rep.
	tempoChange Tempo
}

// What counts as a rep; common practice, no source.
const (
	leaveStand   = 0.07 // leg lengths under the stand: a descent has begun
	backToStand  = 0.05 // leg lengths under the stand: standing again
	minDepth     = 0.20 // leg lengths that the hips must fall
	maxFootDrift = 0.20 // leg lengths that the standing foot may move in a rep
	maxCutDrift  = 0.12 // the same in one that the clip cuts: people walk in and out
	splitRise    = 0.6  // part of the depth that parts two reps without a stand
	minRepS      = 0.25 // seconds
)

// bout is a stretch from leaving the stand to coming back to it.
type bout struct {
	signal.Range
	flights          []flight
	cutStart, cutEnd bool // the clip begins or ends inside
	gap              bool // tracking was lost inside
}

// findBouts returns the stretches in which the hips leave the height of the
// stand and come back to it, with feet that stay in place; those whose feet
// wander are returned apart. Standing between a flight and the floor is none.
func (m *motion) findBouts(flights []flight) (bouts, moved []bout) {
	n := len(m.timeS)
	hip := m.lowHip()
	stand := m.s.Stand.HipHeight
	at := func(i int) bool { // standing, or tracking lost while standing
		return hip[i] > stand-backToStand && !nearFlight(flights, m.timeS[i])
	}
	down := func(i int) bool { return hip[i] < stand-leaveStand || nearFlight(flights, m.timeS[i]) }

	for i := 0; i < n; {
		if !down(i) {
			i++
			continue
		}
		b := bout{Range: signal.Range{From: i, To: i}}
		for b.From > 0 && !at(b.From-1) && !math.IsNaN(hip[b.From-1]) {
			b.From--
		}
		for i < n && !at(i) {
			if m.s.Missing[i] {
				b.gap = true
			}
			i++
		}
		b.To = i
		b.cutStart = b.From == 0 || math.IsNaN(hip[b.From-1])
		b.cutEnd = b.To == n
		for _, f := range flights {
			if f.TakeoffS >= m.timeS[b.From] && f.ContactS <= m.timeS[b.To-1] {
				b.flights = append(b.flights, f)
			}
		}
		depth := stand - signal.Quantile(hip[b.From:b.To], 0)
		drift := maxFootDrift
		if b.cutStart || b.cutEnd {
			drift = maxCutDrift
		}
		switch {
		case math.IsNaN(depth) || float64(b.N())/m.rateHz < minRepS:
		case depth < minDepth && len(b.flights) == 0:
		case len(b.flights) == 0 && m.footDrift(b.Range) > drift:
			moved = append(moved, b)
		default:
			bouts = append(bouts, m.splitBout(b, hip)...)
		}
	}
	return bouts, moved
}

// footDrift returns how far the near foot moves along the floor over the
// samples, in leg lengths, the outermost tenths on either side left out.
func (m *motion) footDrift(r signal.Range) float64 {
	x := m.quick[m.s.NearSide][Ankle].X[r.From:r.To]
	return (signal.Quantile(x, 0.9) - signal.Quantile(x, 0.1)) / m.legPx
}

// splitBout parts a bout without flights in which the hips come most of the way
// up between two lowest places: quick reps that do not end in a stand.
func (m *motion) splitBout(b bout, hip []float64) []bout {
	if len(b.flights) > 0 {
		return []bout{b}
	}
	stand := m.s.Stand.HipHeight
	depth := make([]float64, b.N())
	for i := range depth {
		depth[i] = stand - hip[b.From+i]
		if math.IsNaN(depth[i]) {
			depth[i] = 0
		}
	}
	deepest := signal.Quantile(depth, 1)
	low := signal.FindPeaks(depth, signal.PeakRule{MinProminence: splitRise * deepest})
	var out []bout
	from := b.From
	for k := 1; k < len(low); k++ {
		top := low[k-1].Index
		for i := low[k-1].Index; i <= low[k].Index; i++ {
			if depth[i] < depth[top] {
				top = i
			}
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

// splitIntoReps turns bouts into reps with their times and phases. A bout
// without a flight is one rep. A bout with flights has one rep for each: from
// where the athlete was before the push (for the first, the stand) to the end of
// the hold after the landing (for the last, the stand), so that an athlete who
// jumps again from the position that he lands in has done as many reps as jumps.
func (m *motion) splitIntoReps(bouts []bout) []repDraft {
	var reps []repDraft
	for _, b := range bouts {
		stand := m.standBeside(b.Range)
		var parts []repDraft
		if len(b.flights) == 0 {
			parts = []repDraft{m.plainRep(b)}
		} else {
			parts = m.jumpReps(b)
		}
		for i := range parts {
			r := &parts[i]
			r.bout, r.stand = b.Range, stand
			m.markPartial(r, b, i == 0, i == len(parts)-1)
			r.order()
			r.Number = len(reps) + 1
			r.Depth = m.depthAt(r.BottomS)
			r.PeakDescentSpeed = m.fallSpeed(r.StartS, r.BottomS)
			reps = append(reps, *r)
		}
	}
	return reps
}

// standPhaseS is the longest stand that is shown after a rep.
const standPhaseS = 0.5

// addStands gives each rep without a flight the stand that follows on its end.
func (m *motion) addStands(reps []repDraft) {
	for i := range reps {
		r := &reps[i].Rep
		if r.HasFlight() || r.Partial {
			continue
		}
		to := min(r.EndS+standPhaseS, m.timeS[len(m.timeS)-1])
		if i+1 < len(reps) {
			to = min(to, reps[i+1].StartS)
		}
		if to > r.EndS {
			r.Phases = append(r.Phases, Phase{PhaseStand, r.EndS, to})
		}
	}
}

// plainRep measures the times of a rep without a flight.
func (m *motion) plainRep(b bout) repDraft {
	t := m.findTurn(b.Range, false, false)
	nan := math.NaN()
	r := repDraft{Rep: Rep{
		StartS: t.downFromS, BottomS: t.downToS, BottomEndS: t.upFromS, EndS: t.upToS,
		TakeoffS: nan, ContactS: nan, LandingBottomS: nan, FlightS: nan,
		DescentS: t.downToS - t.downFromS, AscentS: t.upToS - t.upFromS,
	}}
	return r
}

// jumpReps measures the times of the reps of a bout with flights.
func (m *motion) jumpReps(b bout) []repDraft {
	var reps []repDraft
	before := m.findTurn(m.samples(b.From, m.index(b.flights[0].TakeoffS)), false, true)
	for k, f := range b.flights {
		last := k == len(b.flights)-1
		to := b.To
		if !last {
			to = m.index(b.flights[k+1].TakeoffS)
		}
		after := m.findTurn(m.samples(m.index(f.ContactS), to), true, !last)
		end := after.upFromS
		if last {
			end = after.upToS
		}
		r := repDraft{Rep: Rep{
			StartS: before.downFromS, BottomS: before.downToS, BottomEndS: before.upFromS, EndS: end,
			TakeoffS: f.TakeoffS, ContactS: f.ContactS, FlightS: f.ContactS - f.TakeoffS,
			LandingBottomS: after.downToS,
			DescentS:       before.downToS - before.downFromS, AscentS: f.TakeoffS - before.upFromS,
		}}
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

// samples returns the samples from..to-1, two at least, inside the clip.
func (m *motion) samples(from, to int) signal.Range {
	from = max(0, min(from, len(m.timeS)-2))
	return signal.Range{From: from, To: max(from+2, min(to, len(m.timeS)))}
}

// order puts the times of a rep in their order, should rough tracking have mixed
// them up, and names the phases between.
func (r *repDraft) order() {
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

// markPartial says of a rep that a part of it is not to be seen.
func (m *motion) markPartial(r *repDraft, b bout, first, last bool) {
	why := func(s string, args ...any) {
		if !r.Partial {
			r.Partial, r.PartialWhy = true, fmt.Sprintf(s, args...)
		}
	}
	if first && b.cutStart {
		why("the clip begins inside it")
		r.StartS = m.timeS[b.From]
	}
	if last && b.cutEnd && m.hip[b.To-1] < m.s.Stand.HipHeight-backToStand {
		why("the clip ends inside it")
		r.EndS = m.timeS[b.To-1]
	}
	if b.gap {
		for i := m.index(r.StartS); i <= m.index(r.EndS); i++ {
			if m.s.Missing[i] {
				why("the athlete was lost at %.2f s", m.timeS[i])
				break
			}
		}
	}
}

// standBeside returns the standing beside a bout: the stretches that end or
// begin within a second of it, else all standing of the clip.
func (m *motion) standBeside(r signal.Range) []Span {
	var out []Span
	for _, s := range m.s.Stand.Spans {
		from, to := m.timeS[r.From], m.timeS[r.To-1]
		if s.ToS > from-1 && s.FromS < to+1 {
			out = append(out, Span{max(s.FromS, from-1), min(s.ToS, to+1)})
		}
	}
	if len(out) == 0 {
		return m.s.Stand.Spans
	}
	return out
}

// depthAt returns how far the hips are under the stand, in leg lengths.
func (m *motion) depthAt(timeS float64) float64 {
	return m.s.Stand.HipHeight - m.hip[m.index(timeS)]
}

// fallSpeed returns the fastest fall of the hips between two times in leg
// lengths a second.
func (m *motion) fallSpeed(fromS, toS float64) float64 {
	v := signal.Velocity(m.hip, m.rateHz)
	best := 0.0
	for i := m.index(fromS); i <= m.index(toS); i++ {
		if -v[i] > best {
			best = -v[i]
		}
	}
	return best
}

// minSamplesInTurn: with fewer frames about the bottom the deepest position may
// fall between two. Common practice, no source.
const minSamplesInTurn = 5
