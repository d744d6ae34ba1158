package kinematics

import (
	"holdfast/kinematics/signal"
	"math"
)

// turn is a movement down to a lowest position and up again, in seconds.
type turn struct {
	downFromS float64 // the descent begins
	downToS   float64 // the descent ends: the bottom
	upFromS   float64 // the ascent begins: the end of the dwell
	upToS     float64 // the ascent ends
}

// What decides on a turn; common practice, no source.
const (
	minDwellS      = 0.12 // seconds at the bottom that make a dwell
	riseFitPart    = 0.05 // residual of a fit that is believed, part of the way
	hingeKneeRange = 40.0 // degrees: a knee that bends less is no guide to the bottom
	restReachS     = 1.5  // seconds outside a bout in which the body comes to rest
)

// bendCourse describes what a turn is read from: bend grows toward the bottom.
type bendCourse struct {
	bend  []float64 // as measured
	quiet []float64 // the same, smoothed
}

// bendSignal returns the knee flexion for a movement between the samples, or the
// depth of the hip (in degrees of the same size) where the knee hardly bends.
// The knee says best when a descent ends: a heel that comes up, or a trunk that
// rocks on, moves the hip without any change of the position.
func (m *motion) bendSignal(r signal.Range) bendCourse {
	low := func(x []float64) []float64 {
		f, err := signal.NewLowpass(m.rateHz, min(6, maxCutoffOfRate*m.rateHz))
		if err != nil {
			return x
		}
		return f.Smooth(x)
	}
	if signal.Quantile(m.knee[r.From:r.To], 0.98)-signal.Quantile(m.knee[r.From:r.To], 0.02) >= hingeKneeRange {
		return bendCourse{m.knee, low(m.knee)}
	}
	depth := make([]float64, len(m.hip))
	for i, h := range m.hip {
		depth[i] = 200 * (m.s.Stand.HipHeight - h)
	}
	return bendCourse{depth, low(depth)}
}

// findTurn reads the turn in the samples of r. landing says that the descent
// begins under way (after a flight), push that the ascent ends in a take-off:
// their outer ends are then the ends of r. The four times are found by fits of
// minimum-jerk movements and, where the body does not move like that, by where
// it passes 5 % of the way.
func (m *motion) findTurn(r signal.Range, landing, push bool) turn {
	sig := m.bendSignal(r)
	t := m.timeS
	from, to := r.From, r.To-1
	deep := from
	for i := from; i <= to; i++ {
		if sig.quiet[i] > sig.quiet[deep] || math.IsNaN(sig.quiet[deep]) {
			deep = i
		}
	}
	out := turn{downFromS: t[from], downToS: t[deep], upFromS: t[deep], upToS: t[to]}
	top := sig.quiet[deep]
	if math.IsNaN(top) {
		return out
	}
	// The level of the dwell: what the signal mostly is when it is deep.
	level := top
	var deepest []float64
	startLevel, endLevel := sig.quiet[from], sig.quiet[to]
	if !landing {
		startLevel = m.restLevel(sig.quiet, r.From, -1)
	}
	if !push {
		endLevel = m.restLevel(sig.quiet, r.To-1, +1)
	}
	base := min(startLevel, endLevel)
	for i := from; i <= to; i++ {
		if sig.quiet[i] > base+0.9*(top-base) {
			deepest = append(deepest, sig.quiet[i])
		}
	}
	if len(deepest) > 0 {
		level = signal.Median(deepest)
	}

	down := m.oneWay(sig, from, deep, startLevel, level, landing, +1)
	up := m.oneWay(sig, deep, to, endLevel, level, push, -1)
	if !math.IsNaN(down.outer) && !landing {
		out.downFromS = down.outer
	}
	if !math.IsNaN(up.outer) && !push {
		out.upToS = up.outer
	}
	if up.inner-down.inner >= minDwellS {
		out.downToS, out.upFromS = down.inner, up.inner
		return out
	}
	// No dwell: the body turns. The lowest hip says when, by a parabola through
	// the samples about it.
	low := deep
	for i := m.index(down.inner) - int(0.15*m.rateHz); i <= m.index(up.inner)+int(0.15*m.rateHz); i++ {
		if i > from && i < to && m.hip[i] < m.hip[low] {
			low = i
		}
	}
	at := t[low]
	if low > from && low < to {
		if d, _ := signal.ParabolaPeak(-m.hip[low-1], -m.hip[low], -m.hip[low+1]); math.Abs(d) <= 1 {
			at += d / m.rateHz
		}
	}
	out.downToS, out.upFromS = at, at
	return out
}

// restLevel returns the median of x in the standing outside sample i (dir -1:
// before, +1: after), half a second of it at most; x itself where no standing
// follows.
func (m *motion) restLevel(x []float64, i, dir int) float64 {
	var v []float64
	for j := i; j >= 0 && j < len(x) && (j-i)*dir < int(restReachS*m.rateHz) && len(v) < int(0.5*m.rateHz)+1; j += dir {
		if m.standing[j] || j == i {
			v = append(v, x[j])
		}
	}
	return signal.Median(v)
}

// way holds the two ends of a one-way movement: outer at the standing or flying
// end, inner at the bottom.
type way struct{ outer, inner float64 }

// oneWay reads the movement between samples a and b, where dir is +1 when the
// deep end is b (a descent) and -1 when it is a (an ascent, read backward in
// time). moving says that its outer end is in full motion.
func (m *motion) oneWay(sig bendCourse, a, b int, outerLevel, level float64, moving bool, dir int) way {
	t := m.timeS
	cross := func(part float64) float64 {
		want := outerLevel + part*(level-outerLevel)
		// From the deep end outward, the first sample beyond the level. The hips
		// are up before the knees are straight: a movement to rest ends outside
		// the bout.
		i, last := b, a
		if dir < 0 {
			i, last = a, b
		}
		if !moving {
			last = m.restsBy(sig.quiet, last, -dir)
		}
		for ; i != last; i -= dir {
			if sig.quiet[i] < want {
				j := i + dir
				d := sig.quiet[j] - sig.quiet[i]
				if d > 0 {
					return t[i] + (t[j]-t[i])*(want-sig.quiet[i])/d
				}
				return t[i]
			}
		}
		return t[last]
	}
	w := way{cross(0.05), cross(0.95)}
	amplitude := math.Abs(level - outerLevel)
	tol := riseFitPart*amplitude + 1
	arrival, arrivalOK := m.hipArrival(sig, a, b, cross(0.5), w.inner, outerLevel, level, dir)
	if moving {
		if arrivalOK {
			w.inner = arrival
		}
		return w
	}
	t10, t90 := cross(0.1), cross(0.9)
	// A minimum-jerk movement passes 10 and 90 % at 0.245 and 0.755 of its time.
	lenS := (t90 - t10) / 0.51
	g0, g1 := t10-0.245*lenS, t90+0.245*lenS
	lead := 0.3 * math.Abs(lenS)
	s0, s1 := g0, g1
	if dir < 0 {
		s0, s1 = g1, g0
	}
	i0, i1 := m.index(s0-lead), m.index(s1+lead)+1
	if dir > 0 {
		i1 = min(i1, m.leavesLevel(sig.quiet, b, +1, outerLevel, level)+1)
		i0 = max(i0, m.leavesRest(sig.quiet, a, -1, outerLevel, level))
	} else {
		i0 = max(i0, m.leavesLevel(sig.quiet, a, -1, outerLevel, level))
		i1 = min(i1, m.leavesRest(sig.quiet, b, +1, outerLevel, level)+1)
	}
	if f, ok := signal.FitRise(t, sig.bend, i0, i1, s0, s1); ok && f.RMS < tol &&
		math.Abs(f.FromS-s0) < 0.35*math.Abs(lenS)+0.05 && math.Abs(f.ToS-s1) < 0.35*math.Abs(lenS)+0.05 {
		w = way{f.FromS, f.ToS}
		if dir < 0 {
			w = way{f.ToS, f.FromS}
		}
		if arrivalOK && math.Abs(arrival-w.inner) < 0.15 {
			// Two signs of the same moment: where the whole bend ends, and where
			// the hips come to rest.
			w.inner = (w.inner + arrival) / 2
		}
	}
	return w
}

// restsBy returns the sample, going outward from i in direction dir, at which the
// signal has stopped falling, restReachS away at most.
func (m *motion) restsBy(x []float64, i, dir int) int {
	lowest := x[i]
	j := i
	for ; j+dir >= 0 && j+dir < len(x) && (j-i)*dir < int(restReachS*m.rateHz); j += dir {
		if x[j+dir] > lowest+2 || math.IsNaN(x[j+dir]) {
			break
		}
		lowest = min(lowest, x[j+dir])
	}
	return j
}

// hipFitPart is the residual of the hips' arrival that is believed, as a part of
// the way; trunks that rock on or heels that come up at the bottom exceed it.
const hipFitPart = 0.01

// hipArrival returns when the hips come to rest at the bottom (dir +1) or begin
// to leave it (dir -1), from half of the way to well into the dwell.
func (m *motion) hipArrival(sig bendCourse, a, b int, half, inner, outerLevel, level float64, dir int) (float64, bool) {
	lenS := math.Abs(inner - half)
	reach := float64(dir) * max(0.25, 1.5*lenS)
	i0, i1 := m.index(half), m.index(inner+reach)
	lo, hi := inner, inner+reach
	x, t := make([]float64, len(m.timeS)), m.timeS
	l, r := m.raw[Left][Hip].Y, m.raw[Right][Hip].Y
	one := m.raw[m.s.NearSide][Hip].Y
	for i := range x {
		x[i] = (l[i] + r[i]) / 2 / m.legPx
		if math.IsNaN(x[i]) {
			x[i] = one[i] / m.legPx
		}
	}
	noise := m.jitter(x)
	if dir > 0 {
		i1 = min(i1, m.leavesLevel(sig.quiet, b, +1, outerLevel, level))
	} else {
		i1 = max(i1, m.leavesLevel(sig.quiet, a, -1, outerLevel, level))
		x, t = mirrored(x, t)
		n := len(t) - 1
		i0, i1 = n-i0, n-i1
		lo, hi = -lo, -hi
	}
	if i1 <= i0 {
		return math.NaN(), false
	}
	s, rms, ok := signal.FitArrival(t, x, i0, i1+1, lo-0.05, hi)
	way := math.Abs(signal.Quantile(x[i0:i1+1], 0.95) - x[i0])
	return float64(dir) * s, ok && rms < 2*hipFitPart*way+1.3*noise
}

// jitter returns the standard deviation of the frame-to-frame noise of a signal:
// what a light smoothing takes away.
func (m *motion) jitter(x []float64) float64 {
	f, err := signal.NewLowpass(m.rateHz, min(eventCutoffHz, maxCutoffOfRate*m.rateHz))
	if err != nil {
		return 0
	}
	d := f.Smooth(x)
	for i := range d {
		d[i] = x[i] - d[i]
	}
	if sd := signal.RobustSD(d); !math.IsNaN(sd) {
		return sd
	}
	return 0
}

// leavesLevel returns the sample, going from the deepest sample i in direction
// dir, at which the signal leaves the bottom for good: the fit of the other way
// must not reach into it.
func (m *motion) leavesLevel(x []float64, i, dir int, outer, level float64) int {
	want := outer + 0.93*(level-outer)
	for j := i; j >= 0 && j < len(x); j += dir {
		if x[j] < want || math.IsNaN(x[j]) {
			return j
		}
	}
	if dir < 0 {
		return 0
	}
	return len(x) - 1
}

// leavesRest returns the sample, going outward from i in direction dir, up to
// which the signal keeps near its outer level.
func (m *motion) leavesRest(x []float64, i, dir int, outer, level float64) int {
	want := outer + 0.08*(level-outer)
	rested := false
	for j := i; j >= 0 && j < len(x); j += dir {
		if math.IsNaN(x[j]) || (rested && x[j] > want) {
			return j
		}
		rested = rested || x[j] < want
	}
	if dir < 0 {
		return 0
	}
	return len(x) - 1
}

// mirrored returns the signal in reversed time.
func mirrored(x, t []float64) (rx, rt []float64) {
	n := len(x)
	rx, rt = make([]float64, n), make([]float64, n)
	for i := range x {
		rx[i], rt[i] = x[n-1-i], -t[n-1-i]
	}
	return rx, rt
}
