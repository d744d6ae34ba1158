package events

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

const (
	// maxFlightS bounds the longest flight, a rise of more than a metre;
	// minFlightSamples the shortest, in samples that show the leg.
	maxFlightS       = 1.0
	minFlightSamples = 2
	// leastHipInFlight is how high the hips of a body in the air come at least, in leg lengths over the floor: a little
	// over standing, for the feet are off the floor and point down. Seen were 1.24 and more in jumps of rendered and of
	// real clips, 0.99 where a plate hid the body of an athlete who squatted.
	leastHipInFlight = 1.03
	// manyDoubted is how many flights in which the body does not fall make the others doubted.
	manyDoubted = 2
)

// FindFlights returns the stretches, from take-off to contact, in which heel and toe
// of both feet are seen off the floor and the hips fall as a body in the air does. doubted are those in
// which they do not: the fall in pixels a second squared, taken as gravity,
// would give the athlete an impossible leg length. Where there are more of those than others the floor moves in the
// picture, or the clock is wrong, and all are doubted.
func FindFlights(tr *trace.Trace) (found, doubted []trace.Span) {
	up, ok := trace.FeetUp(tr)
	if !ok {
		return nil, nil
	}
	for _, r := range withHighest(tr, up) {
		if d := float64(r.N()) / tr.RateHz; seen(tr, r) < minFlightSamples || d < trace.MinFlightS || d > maxFlightS {
			continue
		}
		if trace.HoldsOn(tr, r) {
			continue
		}
		fl := trace.Span{
			FromS: tr.TimeS[r.From] - toeLeavesS(tr, r.From, +1) - lateTakeoffS,
			ToS:   tr.TimeS[r.To-1] + toeLeavesS(tr, r.To-1, -1) + earlyContactS,
		}
		switch {
		case !fallsFreely(tr, r):
			doubted = append(doubted, fl)
		case !(signal.Quantile(tr.HipHeight[r.From:r.To], 1) < leastHipInFlight): // higher, or not known
			found = append(found, fl)
		}
	}
	if len(doubted) >= manyDoubted && len(doubted) > len(found) {
		doubted, found = append(doubted, found...), nil
	}
	return found, doubted
}

// withHighest returns the runs of samples with the feet up and, where none of them lasts, those in which the hips are
// as high as in the air and fall as there: feet that the picture's edge cuts off hardly seem to leave the floor.
func withHighest(tr *trace.Trace, up func(i int) bool) (runs []signal.Range) {
	high := trace.HighUp(tr)
	for _, r := range signal.Runs(len(tr.TimeS), func(i int) bool { return up(i) || high(i) }) {
		inside, lasts := []signal.Range{}, false
		for _, u := range signal.Runs(r.N(), func(i int) bool { return up(r.From + i) }) {
			inside = append(inside, signal.Range{From: r.From + u.From, To: r.From + u.To})
			lasts = lasts || float64(u.N())/tr.RateHz >= trace.MinFlightS
		}
		if _, _, _, ok := trace.FallOf(tr, r); !lasts && ok && fallsFreely(tr, r) {
			inside = []signal.Range{r}
		}
		runs = append(runs, inside...)
	}
	return runs
}

// seen returns how many of the samples show the near leg and are not filled in from those beside them.
func seen(tr *trace.Trace, r signal.Range) (n int) {
	for _, filled := range tr.Filled[r.From:r.To] {
		if !filled {
			n++
		}
	}
	return n
}

// The window of samples about the edge of a flight in which the toe's way is
// fitted, in seconds on the floor's side and on the air's.
const (
	toeFloorS = 0.12
	toeAirS   = 0.08
)

// toeLeavesS returns by how many seconds sample i, the first (dir +1) or last
// (dir -1) with the feet well off the floor, lies after the last or before the
// first contact of the toes, which leave last and come down first. The toe goes
// from rest to the body's speed at once and then falls as the body does, so its way is
// fitted by a level that breaks into a parabola,
//
//	lift = level + speed u - g u^2/2,  u = max(0, t - T)
//
// with g by the usual length of a leg. The near toe says; where it is missing, the
// far one.
func toeLeavesS(tr *trace.Trace, i, dir int) float64 {
	toe := tr.Raw[tr.NearSide][body.Toe].Y
	if math.IsNaN(toe[i]) {
		toe = tr.Raw[tr.NearSide.Opposite()][body.Toe].Y
	}
	var ts, up []float64
	for j := -int(math.Ceil(toeFloorS * tr.RateHz)); j <= int(math.Ceil(toeAirS*tr.RateHz)); j++ {
		k := i + j*dir
		if k >= 0 && k < len(toe) && !math.IsNaN(toe[k]) {
			ts, up = append(ts, float64(j)/tr.RateHz), append(up, -toe[k]/tr.LegPx)
		}
	}
	const fall = trace.GravityMS2 / trace.UsualLegM
	best, at := math.Inf(1), 0.0
	for c := -toeFloorS + 0.02; c <= toeAirS/2; c += 0.001 {
		var l signal.Line
		for j, t := range ts {
			u := max(0, t-c)
			l.Add(1, u, up[j]+fall/2*u*u)
		}
		if l.Spread() < 1e-9 {
			continue
		}
		slope := l.Slope()
		if ss := l.Squares(l.Level(slope), slope); slope > 0 && ss < best {
			best, at = ss, c
		}
	}
	return -at
}

// fallsFreely says whether the hips move as a body in the air over the samples:
// a parabola whose acceleration, taken as gravity, gives a possible leg length
// within twice its standard error.
func fallsFreely(tr *trace.Trace, r signal.Range) bool {
	fall, se, _, ok := trace.FallOf(tr, r)
	if !ok {
		return true // nothing speaks against it
	}
	// leg length in metres = g / fall
	lo, hi := fall-2*se, fall+2*se
	return hi >= trace.GravityMS2/trace.MaxLegM && lo <= trace.GravityMS2/trace.MinLegM && fall > 0
}
