package events

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
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
	minDwellS     = 0.12 // seconds at the bottom that make a dwell
	riseFitPart   = 0.05 // residual of a fit that is believed, part of the way
	restReachS    = 1.5  // seconds outside a bout in which the body comes to rest
	levelS        = 0.5  // seconds of standing beside a bout that tell its level
	sinksOnDeg    = 5.0  // degrees that a body which seems to hold the bottom must still sink for it not to
	heldDeg       = 2.0  // degrees from its deepest within which such a body holds it
	risenDeg      = 2.0  // degrees by which the bend has grown again after its lowest
	straightDeg   = 0.5  // degrees from its straightest within which a body is straight
	restPart      = 0.1  // part of the way from its straightest, and
	restSpeedPart = 0.05 // part of its highest speed, within which it is too
	nextRepDeg    = 15.0 // degrees by which it has grown when another rep has begun
)

// turning is what a turn is read from, one value a sample.
type turning struct {
	timeS  []float64
	rateHz float64
	course *Course
	bend   []float64 // grows toward the turn, degrees, as measured
	quiet  []float64 // the same, smoothed
	// place is the course lightly smoothed, raw as measured.
	place, raw []float64
	standing   []bool
	// follow is an angle that tells the turn best where it bends by leastDeg; nil: none does.
	follow   []float64
	leastDeg float64
	// hidden marks the samples in which a point of that angle is guessed, and none of the course.
	hidden []bool
}

// newTurning returns what the turns of a movement are read from.
func newTurning(tr *trace.Trace, how *movement.Movement, c *Course) *turning {
	w := &turning{timeS: tr.TimeS, rateHz: tr.RateHz, course: c, place: c.Quick, raw: c.Raw,
		standing: c.Resting, leastDeg: how.Turn.LeastDeg}
	if how.Turn.Follow == body.NumAngles {
		return w
	}
	by := movement.Signal{Kind: movement.Angle, Angle: how.Turn.Follow}
	w.follow, w.hidden = read(tr, &by, &tr.Raw), guessed(tr, &by)
	for i, too := range guessed(tr, &how.Signal) {
		w.hidden[i] = w.hidden[i] && !too
	}
	return w
}

// guessed marks the samples in which the network guessed a point of a signal, and not for a moment; all of them where
// it does not tell.
func guessed(tr *trace.Trace, sig *movement.Signal) []bool {
	out := make([]bool, len(tr.TimeS))
	for i := range out {
		l, sd := body.LimbAt(&tr.Raw[tr.NearSide], i), 0.0
		if sig.Kind == movement.Angle {
			sd = body.AngleSDs(&l, tr.Facing)[sig.Angle]
		}
		for _, k := range sig.Points {
			sd += l[k].SDPx
		}
		out[i] = math.IsNaN(sd)
	}
	return out
}

// turnIn reads the turn in the samples of r.
func (w *turning) turnIn(r signal.Range, landing, push bool) turn {
	w.bend, w.quiet = w.bendIn(r)
	return w.turn(r, landing, push)
}

// bendIn returns, as measured and smoothed, the angle that the movement's turn is followed by, or the
// course (in degrees of the same size) where that hardly bends or something hides its ends.
// The knee says best when the descent of a squat ends: a heel that comes up, or a trunk that
// rocks on, moves the hip without any change of the position.
func (w *turning) bendIn(r signal.Range) (bend, quiet []float64) {
	low := func(x []float64) []float64 {
		f, err := signal.NewLowpass(w.rateHz, min(6, signal.MaxCutoffOfRate*w.rateHz))
		if err != nil {
			return x
		}
		return f.Smooth(x)
	}
	if f := w.follow; f != nil && !w.hidesEnds(r) &&
		signal.Quantile(f[r.From:r.To], 0.98)-signal.Quantile(f[r.From:r.To], 0.02) >= w.leastDeg {
		return f, low(f)
	}
	bend = scaled(w.place, w.course.degPerUnit)
	return bend, low(bend)
}

// hidesEnds says whether something hides the angle that is followed about an end of r, and not the course: a plate in
// front of the thighs of one who stands hides the knee. A slow hinge that began there, read by its hip, took half of
// its time down.
func (w *turning) hidesEnds(r signal.Range) bool {
	reach, ends := int(levelS*w.rateHz), [...]int{r.From, r.To - 1}
	return slices.ContainsFunc(ends[:], func(i int) bool {
		return slices.Contains(w.hidden[max(0, i-reach):min(len(w.hidden), i+reach+1)], true)
	})
}

// turn reads the turn in the samples of r. landing says that the descent
// begins under way (after a flight), push that the ascent ends in a take-off:
// their outer ends are then the ends of r. The four times are found by fits of
// minimum-jerk movements and, where the body does not move like that, by where
// it passes 5 % of the way.
func (w *turning) turn(r signal.Range, landing, push bool) turn {
	t := w.timeS
	from, to := r.From, r.To-1
	deep := from
	for i := from; i <= to; i++ {
		if w.quiet[i] > w.quiet[deep] || math.IsNaN(w.quiet[deep]) {
			deep = i
		}
	}
	out := turn{downFromS: t[from], downToS: t[deep], upFromS: t[deep], upToS: t[to]}
	top := w.quiet[deep]
	if math.IsNaN(top) {
		return out
	}
	// The level of the dwell: what the signal mostly is when it is deep.
	level := top
	var deepest []float64
	startLevel, endLevel := w.quiet[from], w.quiet[to]
	standsBefore, standsAfter := true, true
	if !landing {
		startLevel, standsBefore = w.restLevel(deep, from, -1)
	}
	if !push {
		endLevel, standsAfter = w.restLevel(deep, to, +1)
	}
	base := min(startLevel, endLevel)
	for i := from; i <= to; i++ {
		if w.quiet[i] > base+0.9*(top-base) {
			deepest = append(deepest, w.quiet[i])
		}
	}
	if len(deepest) > 0 {
		level = signal.Median(deepest)
	}

	down := w.oneWay(from, deep, startLevel, level, landing, +1)
	up := w.oneWay(deep, to, endLevel, level, push, -1)
	switch {
	case !standsBefore:
		out.downFromS = t[w.straightest(deep, from, -1)]
	case !math.IsNaN(down.outer) && !landing:
		out.downFromS = down.outer
	}
	switch {
	case !standsAfter:
		out.upToS = t[w.straightest(deep, to, +1)]
	case !math.IsNaN(up.outer) && !push:
		out.upToS = up.outer
	}
	if down.inner = w.sinksUntil(down.inner, deep); up.inner-down.inner >= minDwellS {
		out.downToS, out.upFromS = down.inner, up.inner
		return out
	}
	// No dwell: the body turns. The farthest place says when, by a parabola through
	// the samples about it.
	low := deep
	for i := w.index(down.inner) - int(0.15*w.rateHz); i <= w.index(up.inner)+int(0.15*w.rateHz); i++ {
		if i > from && i < to && w.place[i] > w.place[low] {
			low = i
		}
	}
	at := t[low]
	if low > from && low < to {
		if d, _ := signal.ParabolaPeak(w.place[low-1], w.place[low], w.place[low+1]); math.Abs(d) <= 1 {
			at += d / w.rateHz
		}
	}
	out.downToS, out.upFromS = at, at
	return out
}

// sinksUntil returns the time from which the body holds the bottom, not before the given one: people who seem
// to hold it may sink on. The noise of points is less than sinksOnDeg.
func (w *turning) sinksUntil(fromS float64, deep int) float64 {
	i := w.index(fromS)
	if i >= deep || !(w.quiet[i] < w.quiet[deep]-sinksOnDeg) {
		return fromS
	}
	for i < deep && w.quiet[i] < w.quiet[deep]-heldDeg {
		i++
	}
	return w.timeS[i]
}

// index returns the sample nearest to the time.
func (w *turning) index(timeS float64) int { return trace.SampleAt(w.timeS, w.rateHz, timeS) }

// restLevel returns the median of the quiet signal in the standing outside sample i
// (dir -1: before, +1: after), levelS of it at most, before the next descent; where
// no standing follows (stands is false), its value where the body is straightest.
func (w *turning) restLevel(deep, i, dir int) (level float64, stands bool) {
	x := w.quiet
	var v []float64
	lowest := math.Inf(1)
	reach, most := int(restReachS*w.rateHz), int(levelS*w.rateHz)+1
	for j := i; j >= 0 && j < len(x) && (j-i)*dir < reach && len(v) < most; j += dir {
		if x[j] > lowest+nextRepDeg {
			break
		}
		lowest = min(lowest, x[j])
		if w.standing[j] || j == i {
			v = append(v, x[j])
			stands = stands || w.standing[j]
		}
	}
	if !stands {
		return x[w.straightest(deep, i, dir)], false
	}
	return signal.Median(v), true
}

// straightest returns the first sample on the way from the deepest sample over i and on at
// which the body is as straight as it gets there before it bends again: to within
// straightDeg, or nearly and with hardly any speed. Two reps with no stand between meet
// there.
func (w *turning) straightest(deep, i, dir int) int {
	x := w.quiet
	half := (x[deep] + x[i]) / 2
	from := deep
	for from != i && x[from] > half {
		from += dir
	}
	lowest, fastest := x[from], 0.0
	last := from
	for j := from; j >= 0 && j < len(x) && (j-i)*dir < int(restReachS*w.rateHz) && x[j] <= lowest+risenDeg; j += dir {
		fastest = max(fastest, x[last]-x[j])
		lowest, last = min(lowest, x[j]), j
	}
	nearly := lowest + restPart*(x[deep]-lowest)
	for ; from != last && x[from] > lowest+straightDeg; from += dir {
		if x[from] < nearly && x[from]-x[from+dir] < restSpeedPart*fastest {
			break
		}
	}
	return from
}

// way holds the two ends of a one-way movement: outer at the standing or flying
// end, inner at the bottom.
type way struct{ outer, inner float64 }

// oneWay reads the movement between samples a and b, where dir is +1 when the
// deep end is b (a descent) and -1 when it is a (an ascent, read backward in
// time). moving says that its outer end is in full motion.
func (w *turning) oneWay(a, b int, outerLevel, level float64, moving bool, dir int) way {
	t := w.timeS
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
			last = w.restsBy(last, -dir)
		}
		for ; i != last; i -= dir {
			if w.quiet[i] < want {
				if j := i + dir; j >= 0 && j < len(t) {
					if d := w.quiet[j] - w.quiet[i]; d > 0 {
						return t[i] + (t[j]-t[i])*(want-w.quiet[i])/d
					}
				}
				return t[i]
			}
		}
		return t[last]
	}
	ends := way{cross(0.05), cross(0.95)}
	amplitude := math.Abs(level - outerLevel)
	tol := riseFitPart*amplitude + 1
	arrival, arrivalOK := w.arrival(a, b, cross(0.5), ends.inner, outerLevel, level, dir)
	if moving {
		if arrivalOK {
			ends.inner = arrival
		}
		return ends
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
	i0, i1 := w.index(s0-lead), w.index(s1+lead)+1
	if dir > 0 {
		i1 = min(i1, leavesLevel(w.quiet, b, +1, outerLevel, level)+1)
		i0 = max(i0, leavesRest(w.quiet, a, -1, outerLevel, level))
	} else {
		i0 = max(i0, leavesLevel(w.quiet, a, -1, outerLevel, level))
		i1 = min(i1, leavesRest(w.quiet, b, +1, outerLevel, level)+1)
	}
	if f, ok := signal.FitRise(t, w.bend, i0, i1, s0, s1); ok && f.RMS < tol &&
		math.Abs(f.FromS-s0) < 0.35*math.Abs(lenS)+0.05 && math.Abs(f.ToS-s1) < 0.35*math.Abs(lenS)+0.05 {
		ends = way{f.FromS, f.ToS}
		if dir < 0 {
			ends = way{f.ToS, f.FromS}
		}
		if arrivalOK && math.Abs(arrival-ends.inner) < 0.15 {
			// Two signs of the same moment: where the whole bend ends, and where
			// the hips come to rest.
			ends.inner = (ends.inner + arrival) / 2
		}
	}
	return ends
}

// restsBy returns the sample, going outward from i in direction dir, at which the
// signal has stopped falling, restReachS away at most.
func (w *turning) restsBy(i, dir int) int {
	x := w.quiet
	lowest := x[i]
	j := i
	for ; j+dir >= 0 && j+dir < len(x) && (j-i)*dir < int(restReachS*w.rateHz); j += dir {
		if x[j+dir] > lowest+risenDeg || math.IsNaN(x[j+dir]) {
			break
		}
		lowest = min(lowest, x[j+dir])
	}
	return j
}

// arrivalFitPart is the residual of an arrival that is believed, as a part of
// the way; trunks that rock on or heels that come up at the bottom of a squat exceed it.
const arrivalFitPart = 0.01

// arrival returns when the course comes to rest at the turn (dir +1) or begins
// to leave it (dir -1), from half of the way to well into the dwell.
func (w *turning) arrival(a, b int, half, inner, outerLevel, level float64, dir int) (float64, bool) {
	lenS := math.Abs(inner - half)
	reach := float64(dir) * max(0.25, 1.5*lenS)
	i0, i1 := w.index(half), w.index(inner+reach)
	lo, hi := inner, inner+reach
	x, t := w.raw, w.timeS
	noise := jitter(x, w.rateHz)
	if dir > 0 {
		i1 = min(i1, leavesLevel(w.quiet, b, +1, outerLevel, level))
	} else {
		i1 = max(i1, leavesLevel(w.quiet, a, -1, outerLevel, level))
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
	return float64(dir) * s, ok && rms < 2*arrivalFitPart*way+1.3*noise
}

// jitter returns the standard deviation of the frame-to-frame noise of a signal:
// what a light smoothing takes away.
func jitter(x []float64, rateHz float64) float64 {
	f, err := signal.NewLowpass(rateHz, min(trace.EventCutoffHz, signal.MaxCutoffOfRate*rateHz))
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
func leavesLevel(x []float64, i, dir int, outer, level float64) int {
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
func leavesRest(x []float64, i, dir int, outer, level float64) int {
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
