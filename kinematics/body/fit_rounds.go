package body

import (
	"math"
	"slices"

	"holdfast/kinematics/signal"
)

// bodyFit is the workshop behind [Fit].
type bodyFit struct {
	in       *FitInput
	hands    *Hands // nil in the fit of the whole clip
	weighing bool   // see weigh
	n        int
	dt       float64
	origin   Vec // pixels, athlete's axes
	lever    float64
	seen     [NumFitPoints][]Vec     // leg lengths, athlete's axes
	spread   [NumFitPoints][]float64 // the network's stated spread over its usual one
	everSeen [NumFitPoints]bool
	// standsFor is how many samples an observation stands for: itself, and half of those between it and the next
	// on either side. Without that a clip's lengths would follow the quick parts of it, which are looked at more often.
	standsFor []float64
	loose     []bool // the foot is in the air, or about to be
	// robustWeight is the part of its weight that each observation has kept.
	robustWeight [NumFitPoints][]float64

	x        []float64 // unknowns of the samples
	q, qMean [perClip]float64
	white    [NumFitPoints]float64 // noise from frame to frame, leg lengths
	accel    [perSample][]float64  // variance of the second difference
	eq       *bordered
	round    int
	poses    int
	// now and behind are the skeletons of the sample at hand.
	now, behind skeleton
}

func (f *bodyFit) sample(i int) []float64 { return f.x[i*perSample : (i+1)*perSample] }

// pose returns the skeleton of a sample; the next call overwrites it.
func (f *bodyFit) pose(i int) *skeleton {
	f.poses++
	f.now.pose(f.sample(i), f.q[:], f.lever, f.in.Airborne[i])
	return &f.now
}

// shareOf returns the part that a coach has in where a point was seen.
func (f *bodyFit) shareOf(i int, p FitPoint) float64 {
	if f.hands == nil || f.hands.Share[p] == nil {
		return 0
	}
	return f.hands.Share[p][i]
}

func (f *bodyFit) isHeld(i int, p FitPoint) bool {
	return f.hands != nil && f.hands.Held[p] != nil && f.hands.Held[p][i]
}

// isKept says whether nothing of a sample may move: the coach's hand did not touch it.
func (f *bodyFit) isKept(i int) bool { return f.hands != nil && !f.hands.Touched[i] }

// observed returns the skeleton as the network shows it: with the heel of a foot on
// the floor, and the ankle with it, behind in their rise; a coach does not, and where the
// pitch was measured nothing is assumed.
func (f *bodyFit) observed(i int) *skeleton {
	s := f.pose(i)
	p := f.sample(i)[pitch]
	if f.in.HeelLag == 0 || f.in.Airborne[i] || p >= 0 || f.in.Pitch.KnownAt(i) {
		return s
	}
	var x [perSample]float64
	copy(x[:], f.sample(i))
	kept := 1 - f.in.HeelLag
	if most := f.in.HeelLagToDeg / DegPerRad; p < -most {
		x[pitch] = p + f.in.HeelLag*most
		kept = 1
	} else {
		x[pitch] = p * kept
	}
	behind := &f.behind
	behind.pose(x[:], f.q[:], f.lever, false)
	for _, k := range []FitPoint{FitHeel, FitAnkle} {
		behind.by[k][pitch] = behind.by[k][pitch].Scale(kept)
		if w := f.shareOf(i, k); w > 0 {
			behind.toward(s, k, w)
		}
		s.at[k], s.by[k], s.of[k] = behind.at[k], behind.by[k], behind.of[k]
	}
	return s
}

// isBetween says whether nothing was seen in a sample, though it has points.
func (f *bodyFit) isBetween(i int) bool { return len(f.in.Between) > 0 && f.in.Between[i] }

// finite says whether a number can be reckoned with.
func finite(v float64) bool { return !math.IsNaN(v) && math.Abs(v) < 1e9 }

// newBodyFit takes the points over into leg lengths and makes a first guess.
func newBodyFit(in *FitInput) (*bodyFit, error) {
	n := len(in.Airborne)
	f := &bodyFit{in: in, n: n, dt: 1 / in.RateHz}
	if n < bodyMinSamples || len(in.Standing) != n || !(in.LegPx > 0) || !(in.RateHz > 0) ||
		!finite(in.LegPx) || !finite(in.RateHz) {
		return nil, errBodyTooShort
	}
	var ankle [2][]float64
	for i := range n {
		whole := true
		for p := range NumFitPoints {
			path := &in.Points[p]
			if len(path.X) != n || len(path.Y) != n {
				return nil, errBodyTooShort
			}
			if p == FitHip || p == FitKnee || p == FitAnkle {
				whole = whole && finite(path.X[i]) && finite(path.Y[i])
			}
		}
		if whole {
			a := Sagittal(in.Points[FitAnkle].X[i], in.Points[FitAnkle].Y[i], in.Facing)
			ankle[0], ankle[1] = append(ankle[0], a.Fwd), append(ankle[1], a.Up)
		}
	}
	if len(ankle[0]) < bodyMinSamples {
		return nil, errBodyTooShort
	}
	f.origin = Vec{signal.Median(ankle[0]), signal.Median(ankle[1])}
	for p := range NumFitPoints {
		f.seen[p], f.spread[p], f.robustWeight[p] = make([]Vec, n), make([]float64, n), make([]float64, n)
		path := &in.Points[p]
		usual := signal.Median(path.SDPx)
		for i := range n {
			f.seen[p][i] = f.observationOf(path, i)
			f.everSeen[p] = f.everSeen[p] || !f.seen[p][i].Missing()
			f.spread[p][i] = smallestSpread
			if len(path.SDPx) == n && path.SDPx[i] > 0 && usual > 0 {
				f.spread[p][i] = max(smallestSpread, min(largestSpread, path.SDPx[i]/usual))
			}
		}
	}
	f.standsFor = standsFor(n, f.isBetween)
	f.guess()
	return f, nil
}

// standsFor shares the samples that are between others out among these.
func standsFor(n int, between func(int) bool) []float64 {
	out := make([]float64, n)
	last := -1
	for i := range n {
		if between(i) {
			continue
		}
		out[i] = 1
		if gap := float64(i - last - 1); last >= 0 {
			out[i], out[last] = out[i]+gap/2, out[last]+gap/2
		}
		last = i
	}
	return out
}

// observationOf returns where a point was seen in a sample, in the athlete's axes.
func (f *bodyFit) observationOf(path *Path, i int) Vec {
	if !finite(path.X[i]) || !finite(path.Y[i]) {
		return Vec{math.NaN(), math.NaN()}
	}
	return Sagittal(path.X[i], path.Y[i], f.in.Facing).Sub(f.origin).Scale(1 / f.in.LegPx)
}

// led returns the fit of the samples from and to as the coach's hand leads them: it begins where
// the whole clip's has ended, and keeps its lengths, its noise and the robust weights of its observations.
func (f *bodyFit) led(from, to int) *bodyFit {
	in, hands := *f.in, *f.in.Hands
	in.Standing, in.Airborne = in.Standing[from:to], in.Airborne[from:to]
	if len(in.Between) > 0 {
		in.Between = in.Between[from:to]
	}
	if len(in.Pitch.Deg) > 0 {
		in.Pitch = MeasuredPitch{Deg: in.Pitch.Deg[from:to], SDDeg: in.Pitch.SDDeg[from:to]}
	}
	hands.Touched, hands.WayLegs = hands.Touched[from:to], hands.WayLegs[from:to]
	g := &bodyFit{
		in: &in, hands: &hands, n: to - from, dt: f.dt, origin: f.origin, lever: f.lever, everSeen: f.everSeen,
		standsFor: f.standsFor[from:to], loose: f.loose[from:to], x: slices.Clone(f.x[from*perSample : to*perSample]),
		q: f.q, qMean: f.qMean, white: f.white,
	}
	for k := range f.accel {
		if f.accel[k] != nil {
			g.accel[k] = f.accel[k][from:to]
		}
	}
	for p := range NumFitPoints {
		g.spread[p], g.robustWeight[p] = f.spread[p][from:to], slices.Clone(f.robustWeight[p][from:to])
		g.seen[p] = make([]Vec, g.n)
		for i := range g.n {
			g.seen[p][i] = f.observationOf(&hands.Points[p], from+i)
			g.everSeen[p] = g.everSeen[p] || !g.seen[p][i].Missing()
		}
		if hands.Share[p] != nil {
			hands.Share[p], hands.Held[p], hands.Doubt[p] =
				hands.Share[p][from:to], hands.Held[p][from:to], hands.Doubt[p][from:to]
		}
	}
	return g
}

// bridged returns x with its gaps filled by straight lines and its ends held; 0
// when there is nothing.
func bridged(x []float64) []float64 {
	y := make([]float64, len(x))
	last := -1
	for i, v := range x {
		if math.IsNaN(v) {
			continue
		}
		from := v
		if last >= 0 {
			from = x[last]
		}
		for j := last + 1; j <= i; j++ {
			y[j] = from + (v-from)*float64(j-last)/float64(i-last)
		}
		last = i
	}
	for j := last + 1; j < len(y) && last >= 0; j++ {
		y[j] = x[last]
	}
	return y
}

// withoutOutliers returns x with those samples missing that lie far from the
// median of the samples within half of them on either side. The guess must not
// run along with a swap of a few frames: the fit would find it in its place.
func withoutOutliers(x []float64, half int) []float64 {
	dev := make([]float64, len(x))
	for i := range x {
		dev[i] = x[i] - signal.Median(x[max(0, i-half):min(len(x), i+half+1)])
	}
	far := max(outlierSDs*signal.RobustSD(dev), outlierMin)
	y := make([]float64, len(x))
	for i := range x {
		y[i] = x[i]
		if math.Abs(dev[i]) > far {
			y[i] = math.NaN()
		}
	}
	return y
}

// guess sets the unknowns from the filtered points, the foot flat, and with them
// the freedom that each segment has.
func (f *bodyFit) guess() {
	n, in := f.n, f.in
	cutoffHz := in.CutoffHz
	if !(cutoffHz > 0) {
		cutoffHz = 6
	}
	filter, noFilter := signal.NewLowpass(in.RateHz, min(cutoffHz, signal.MaxCutoffOfRate*in.RateHz))
	var fine [NumFitPoints][]Vec
	for p := range NumFitPoints {
		var d [2][]float64
		for _, v := range f.seen[p] {
			d[0], d[1] = append(d[0], v.Fwd), append(d[1], v.Up)
		}
		f.white[p] = 0.005
		res := make([]float64, 0, 2*n)
		for k := range d {
			kept := withoutOutliers(d[k], int(math.Round(outlierSpanS*in.RateHz)))
			b := bridged(kept)
			if noFilter == nil {
				b = filter.Smooth(b)
			}
			for i := range b {
				res = append(res, d[k][i]-b[i])
			}
			d[k] = b
		}
		if sd := signal.RobustSD(res); sd > 0 {
			f.white[p] = sd
		}
		o := &in.Offsets[p]
		fine[p] = make([]Vec, n)
		for i := range n {
			fine[p][i] = Vec{d[0][i] - o.Mean[OffsetFwd], d[1][i] - o.Mean[OffsetUp]}
		}
		copy(f.qMean[offsetAt(p):], o.Mean[:])
	}

	grounded := make([]bool, n)
	for i := range n {
		grounded[i] = !in.Airborne[i]
	}
	between := func(a, b FitPoint) (along, fwd, up float64) {
		var l, x, y []float64
		for i := range n {
			v := fine[b][i].Sub(fine[a][i])
			l, x, y = append(l, v.Length()), append(x, v.Fwd), append(y, v.Up)
		}
		return signal.Median(l), signal.MedianWhere(x, grounded), signal.MedianWhere(y, grounded)
	}
	q := &f.qMean
	q[shankLength], _, _ = between(FitAnkle, FitKnee)
	q[thighLength], _, _ = between(FitKnee, FitHip)
	q[trunkLength], _, _ = between(FitHip, FitShoulder)
	_, foot, toeRise := between(FitHeel, FitToe)
	_, reach, ankleRise := between(FitHeel, FitAnkle)
	f.lever = BallLegLengths
	if foot > 0.05 {
		f.lever = min(foot, BallLegLengths)
	}
	q[ankleFwd], q[ankleUp] = reach-f.lever, ankleRise
	q[toeFwd], q[toeUp] = foot-f.lever, toeRise
	for k := range numLengths {
		if math.IsNaN(q[k]) {
			q[k] = 0 // the athlete is in the air in every sample
		}
	}
	f.q = f.qMean

	f.x = make([]float64, n*perSample)
	var before [3]float64
	for i := range n {
		x := f.sample(i)
		a, k, h, s := fine[FitAnkle][i], fine[FitKnee][i], fine[FitHip][i], fine[FitShoulder][i]
		x[ballFwd], x[ballUp] = a.Fwd-q[ankleFwd], a.Up-q[ankleUp]
		now := [3]float64{
			turnDeg(Vec{0, 1}, k.Sub(a)) / DegPerRad,
			-turnDeg(Vec{0, -1}, k.Sub(h)) / DegPerRad,
			turnDeg(Vec{0, 1}, s.Sub(h)) / DegPerRad,
		}
		for j := range now { // an angle goes on where it was, not a turn away
			now[j] += 2 * math.Pi * math.Round((before[j]-now[j])/(2*math.Pi))
		}
		x[shank], x[thigh], x[trunk] = now[0], now[1], now[2]
		if in.Pitch.KnownAt(i) {
			x[pitch] = in.Pitch.Deg[i] / DegPerRad
		}
		before = now
	}

	f.loose = make([]bool, n)
	margin := int(math.Round(airMarginS * in.RateHz))
	for i := range n {
		if in.Airborne[i] {
			for j := max(0, i-margin); j <= min(n-1, i+1+margin); j++ {
				f.loose[j] = true
			}
		}
	}
	for _, k := range []int{shank, thigh, trunk} {
		f.accel[k] = f.freedom(k)
	}
}

// freedom returns the variance of the second difference of an angle about each
// sample. Across a gap the guess is a straight line and says nothing: there the
// segment is as free as it is for most of the time that it moves.
func (f *bodyFit) freedom(k int) []float64 {
	n := f.n
	half := max(1, int(math.Round(accelSpanS/f.dt)))
	d2 := make([]float64, n)
	for i := 1; i+1 < n; i++ {
		d2[i] = sq(f.sample(i + 1)[k] - 2*f.sample(i)[k] + f.sample(i - 1)[k])
	}
	rest := sq(restAccelDeg / DegPerRad * f.dt * f.dt)
	out := make([]float64, n)
	for i := range n {
		var s, m float64
		for j := max(1, i-half); j <= min(n-2, i+half); j++ {
			s, m = s+d2[j], m+1
		}
		out[i] = rest + sq(accelGain)*s/max(1, m)
	}
	usual := signal.Quantile(out, 0.75)
	for i := range n {
		if f.seen[FitHip][i].Missing() || f.seen[FitKnee][i].Missing() || f.seen[FitAnkle][i].Missing() {
			out[i] = max(out[i], usual)
		}
	}
	return out
}

// run repeats Gauss-Newton steps until nothing moves any more, or until what moves
// comes back to where it was: a single sample can go to and fro for ever between
// two branches of the floor's weights.
func (f *bodyFit) run() error {
	f.eq = newBordered(f.n*perSample, bodyWidth, perClip)
	before := make([]float64, len(f.x))
	first := 0
	if f.hands != nil {
		first = noiseRounds
	}
	for f.round = first; f.round < bodyRounds; f.round++ {
		f.assemble()
		f.keepStill()
		dx, dq, err := f.eq.solve()
		if err != nil {
			return err
		}
		var most float64
		for i, d := range dx {
			most = max(most, math.Abs(d))
			f.x[i] += max(-0.5, min(0.5, d))
		}
		for i, d := range dq {
			most = max(most, math.Abs(d))
			f.q[i] += max(-0.1, min(0.1, d))
		}
		if math.IsNaN(most) || math.IsInf(most, 0) {
			return errSingular
		}
		if f.round < noiseRounds {
			f.measureNoise()
		} else if most < bodyConverged {
			break
		}
		if done := f.round + 1; done >= noiseRounds && done%settleRounds == 0 {
			if settled(f.x, before) < bodySettled {
				break
			}
			copy(before, f.x)
		}
	}
	if !(min(f.q[shankLength], f.q[thighLength]) > shortestSegment) {
		return errSingular
	}
	// The factors at the solution, for the spreads.
	f.assemble()
	f.keepStill()
	_, _, err := f.eq.solve()
	return err
}

// weigh settles how much each observation beside the coach's hand is to be trusted: as a fit finds it
// that does not see the points in hand. A mistake that the hand puts right may have
// made the body give up good observations of others.
func (f *bodyFit) weigh() error {
	x := slices.Clone(f.x)
	f.weighing = true
	err := f.run()
	f.weighing = false
	copy(f.x, x)
	return err
}

// keepStill holds the samples that the coach's hand does not touch, and with them what
// holds for the whole clip.
func (f *bodyFit) keepStill() {
	if f.hands == nil {
		return
	}
	hold := func(unknown int) { f.eq.add([]term{{unknown, 1}}, 0, 1/sq(stillSD)) }
	for i := range f.n {
		if f.isKept(i) {
			for k := range perSample {
				hold(i*perSample + k)
			}
		}
	}
	for k := range perClip {
		hold(f.n*perSample + k)
	}
}

// settled returns the largest change of an unknown.
func settled(now, before []float64) float64 {
	var most float64
	for i, v := range now {
		most = max(most, math.Abs(v-before[i]))
	}
	return most
}

// noise returns a point's standard deviation in one sample, leg lengths.
func (f *bodyFit) noise(p FitPoint) float64 {
	return max(noiseFloor, math.Hypot(f.white[p], f.in.Wander))
}

// repeats returns how often the clip shows the same error again: an error that
// goes with the posture is there in every sample of that posture, and many
// samples know no more of the network's offsets than a few. Without a wander 1.
func (f *bodyFit) repeats() float64 {
	var part []float64
	for p := range NumFitPoints {
		part = append(part, sq(f.in.Wander/f.noise(p)))
	}
	return 1 + signal.Median(part)*float64(f.n)/postures
}

// residual returns how far the body's point lies from where it was seen.
func (f *bodyFit) residual(i int, p FitPoint, s *skeleton) Vec {
	x, o := f.sample(i), f.q[offsetAt(p):]
	bend := x[shank] + x[thigh]
	beside := Vec{o[OffsetFwd] + o[OffsetFwdBend]*bend, o[OffsetUp] + o[OffsetUpBend]*bend}
	return s.at[p].Add(beside.Scale(math.Exp(x[logScale]) * (1 - f.shareOf(i, p)))).Sub(f.seen[p][i])
}

// assemble sets up the normal equations about the present unknowns.
func (f *bodyFit) assemble() {
	e := f.eq
	e.clear()
	clip := f.n * perSample
	row := make([]term, 0, perSample+numLengths+2)
	for i := range f.n {
		base := i * perSample
		x := f.sample(i)
		s := f.observed(i)
		size, bend := math.Exp(x[logScale]), x[shank]+x[thigh]
		for p := range NumFitPoints {
			byHand := f.hands != nil && f.hands.Share[p] != nil
			if f.seen[p][i].Missing() || f.isBetween(i) && !f.isHeld(i, p) || byHand && f.weighing && f.hands.Touched[i] {
				continue
			}
			r := f.residual(i, p, s)
			variance := sq(f.noise(p) * f.spread[p][i])
			if f.hands != nil && f.hands.Doubt[p] != nil {
				variance += sq(f.hands.Doubt[p][i])
			}
			if f.hands == nil || byHand || f.weighing {
				f.robustWeight[p][i] = (studentNu + 2) / (studentNu + r.Dot(r)/variance)
			}
			weight := f.robustWeight[p][i] * f.standsFor[i] / variance
			if f.isHeld(i, p) {
				weight = 1 / sq(heldSD)
			}
			beside := size * (1 - f.shareOf(i, p))
			for d, axis := range [2]Vec{{1, 0}, {0, 1}} {
				row = row[:0]
				for u, g := range s.by[p] {
					if by := g.Dot(axis); by != 0 {
						row = append(row, term{base + u, by})
					}
				}
				for u, g := range s.of[p] {
					if by := g.Dot(axis); by != 0 {
						row = append(row, term{clip + u, by})
					}
				}
				// The bend is taken as known in this round: its own gradient
				// through so small an offset does not matter.
				o := clip + offsetAt(p) + d
				row = append(row, term{o, beside}, term{o + OffsetFwdBend, beside * bend})
				e.add(row, r.Dot(axis), weight)
			}
		}
		f.addMotion(i)
		f.addFloor(i)
	}
	for k := range numLengths {
		e.add([]term{{clip + k, 1}}, f.q[k]-f.qMean[k], 1/sq(lengthSD))
	}
	repeats := f.repeats()
	for p := range NumFitPoints {
		for d, sd := range f.in.Offsets[p].SD {
			k := offsetAt(p) + d
			e.add([]term{{clip + k, 1}}, f.q[k]-f.qMean[k], repeats/sq(max(sd, noiseFloor)))
		}
	}
}

// addMotion takes in that segments turn smoothly and the size hardly changes.
func (f *bodyFit) addMotion(i int) {
	e, base, x := f.eq, i*perSample, f.sample(i)
	curve := func(k int, variance float64) {
		r := f.x[base-perSample+k] - 2*x[k] + f.x[base+perSample+k]
		e.add([]term{{base - perSample + k, 1}, {base + k, -2}, {base + perSample + k, 1}}, r, 1/variance)
	}
	if i > 0 && i+1 < f.n {
		led := 0.0
		if f.hands != nil {
			led = sq(ledAccel * f.hands.WayLegs[i] * f.dt * f.dt)
		}
		for _, k := range []int{shank, thigh, trunk} {
			curve(k, f.accel[k][i]+led)
		}
		accel := pitchAccelDeg
		if f.in.Pitch.KnownAt(i) {
			accel = pitchKnownAccelDeg
		}
		if f.loose[i] {
			accel = pitchAirAccelDeg
			curve(ballFwd, sq(airAccel*f.dt*f.dt))
			curve(ballUp, sq(airAccel*f.dt*f.dt))
		}
		curve(pitch, f.accel[shank][i]+led+sq(accel/DegPerRad*f.dt*f.dt))
	}
	for _, k := range []int{shank, thigh, trunk} {
		e.add([]term{{base + k, 1}}, x[k], 1/sq(turnSD))
	}
	e.add([]term{{base + logScale, 1}}, x[logScale], 1/sq(scaleSD))
	if i > 0 {
		walk := scaleWalk
		if f.loose[i] {
			walk = scaleAir
		}
		f.addStep(i, logScale, sq(walk)*f.dt, false)
	}
}

// addStep takes in that an unknown stays where it was in the sample before.
func (f *bodyFit) addStep(i, k int, variance float64, robust bool) {
	base := i * perSample
	r := f.x[base+k] - f.x[base-perSample+k]
	w := 1 / variance
	if robust {
		w /= 1 + r*r/(sq(stepSDs)*variance)
	}
	f.eq.add([]term{{base - perSample + k, -1}, {base + k, 1}}, r, w)
}

// addFloor takes in that a foot on the floor does not slide and lies flat, or
// has its heel up.
func (f *bodyFit) addFloor(i int) {
	if i > 0 {
		walk := plantedWalk
		if f.loose[i] {
			walk = airWalk
		}
		f.addStep(i, ballFwd, sq(walk)*f.dt, !f.loose[i])
		f.addStep(i, ballUp, sq(walk)*f.dt, !f.loose[i])
	}
	p := f.sample(i)[pitch]
	deg := p * DegPerRad
	if f.in.Pitch.KnownAt(i) {
		r, variance := p-f.in.Pitch.Deg[i]/DegPerRad, sq(PitchJitterPart*f.in.Pitch.SDDeg[i]/DegPerRad)
		f.eq.add([]term{{i*perSample + pitch, 1}}, r, (studentNu+1)/(studentNu+r*r/variance)/variance)
		return
	}
	sd, fade := flatPitchDeg, 1.0
	switch {
	case f.in.Airborne[i]:
		sd = airPitchDeg
	case deg > 0:
		sd = sunkPitchDeg
	case f.round < openPitchRounds:
		sd = openPitchDeg
	default:
		fade = 1 + sq(deg/flatReachDeg)
	}
	f.eq.add([]term{{i*perSample + pitch, 1}}, p, 1/sq(sd*fade/DegPerRad))
}

// measureNoise sets each point's noise from frame to frame by the second
// differences of what the body leaves of the observations: white noise of standard
// deviation s has second differences of s sqrt(6), and an error that goes with
// the posture has hardly any.
func (f *bodyFit) measureNoise() {
	var res [NumFitPoints][2][]float64
	for i := range f.n {
		if f.isBetween(i) {
			continue
		}
		s := f.observed(i)
		for p := range NumFitPoints {
			r := f.residual(i, p, s)
			res[p][0], res[p][1] = append(res[p][0], r.Fwd), append(res[p][1], r.Up)
		}
	}
	d2 := make([]float64, 0, 2*f.n)
	for p := range NumFitPoints {
		d2 = d2[:0]
		for _, r := range res[p] {
			for i := 1; i+1 < len(r); i++ {
				d2 = append(d2, math.Abs(r[i-1]-2*r[i]+r[i+1]))
			}
		}
		// The differences lie about 0.
		if sd := 1.4826 * signal.Median(d2); !math.IsNaN(sd) {
			f.white[p] = sd / math.Sqrt(6)
		}
	}
}
