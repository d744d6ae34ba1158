package joints

import (
	"math"
	"math/rand/v2"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// Where the interval of a range of motion comes from:
//
//	random     noise of the points, measured in the clip itself and carried to
//	           the highest and the lowest angle by simulation, and what a rep has
//	           beside it: [body.AngleError.RepDeg]
//	posture    the network's error changes with the position of the body: the
//	           same in every rep that reaches a position, different in another.
//	           It does not cancel between tempos. [body.AngleError.PostureDeg].
//	clip       the part of the same error that every tempo of an athlete shares:
//	           it spoils the range and cancels in what is lost. [body.AngleError.ClipDeg].
//	lifted     with the heel up the foot's pitch is misread by a part of itself, and
//	           knee and hip with it: the same in every rep. [body.AngleError.LiftedDeg],
//	           and where nothing but the points shows it LiftedFootSDDeg besides.
//	view       what the caller knows of the camera (Options.SystematicSDDeg)
//	peak       half of what is added back to a short peak, see [signal.MeasurePeakLoss]
//	spread     reps differ; only a mean over reps has it ([stats.Compare])
//
// Random, posture, lifted, view and peak are AngleMeasure.SDDeg, all but random
// AngleMeasure.SystematicSDDeg. The interval of a range has the clip's part as
// well; that of a loss has not, but has the spread, which holds the random part.
//
// The spread of the network's heat map and its confidence are not used: on
// rendered clips they varied by 5 to 15 per cent from frame to frame and did not
// go with the error (correlation -0.5 to +0.4, mostly below 0).

// pointNoise is the noise of one point along one axis, in pixels: independent
// from frame to frame, and wandering (first-order autoregressive, Calibration.ErrorTimeS).
type pointNoise struct{ whitePx, wanderPx float64 }

// noiseShape holds what a filter leaves and takes of white and wandering noise
// of unit variance.
type noiseShape struct {
	keptWhite, keptWander float64 // standard deviation left
	// white and wander are the autocovariances, by lag, of what is taken.
	white, wander []float64
	rateHz        float64
}

// wanderStep returns the autocorrelation from sample to sample of a wander that stays
// alike for errorTimeS.
func wanderStep(rateHz, errorTimeS float64) float64 { return math.Exp(-1 / (errorTimeS * rateHz)) }

// newNoiseShape works in the frequency domain: both passes together have the
// real gain G, so that noise of density S leaves G^2 S in the signal and
// (1-G)^2 S in the residual.
func newNoiseShape(rateHz, cutoffHz, errorTimeS float64) noiseShape {
	const steps = 512
	lags := max(4, int(math.Round(0.07*rateHz)))
	s := noiseShape{white: make([]float64, lags+1), wander: make([]float64, lags+1), rateHz: rateHz}
	phi := wanderStep(rateHz, errorTimeS)
	var left, leftWander float64
	for k := range steps {
		f := (float64(k) + 0.5) / steps * rateHz / 2
		w := 2 * math.Pi * f / rateHz
		g := signal.Gain(rateHz, cutoffHz, f)
		density := (1 - phi*phi) / (1 - 2*phi*math.Cos(w) + phi*phi)
		left += g * g / steps
		leftWander += g * g * density / steps
		for l := range s.white {
			c := (1 - g) * (1 - g) * math.Cos(w*float64(l)) / steps
			s.white[l] += c
			s.wander[l] += c * density
		}
	}
	s.keptWhite, s.keptWander = math.Sqrt(left), math.Sqrt(leftWander)
	return s
}

// fit returns the noise whose residual would have the autocovariance of r, the
// residual of one point (both axes, one after the other, NaN between), by least
// squares over the lags with neither part below nothing. Values beyond three and
// a half robust standard deviations, where real motion is left in the residual,
// are drawn in. ok is false when there is too little to go by.
func (s *noiseShape) fit(r []float64) (n pointNoise, ok bool) {
	sd := signal.RobustSD(r)
	if math.IsNaN(sd) {
		return n, false
	}
	bound := 3.5 * sd
	cov := make([]float64, len(s.white))
	for l := range cov {
		var sum, count float64
		for i := l; i < len(r); i++ {
			a, b := r[i], r[i-l]
			if math.IsNaN(a) || math.IsNaN(b) {
				continue
			}
			sum += max(-bound, min(bound, a)) * max(-bound, min(bound, b))
			count++
		}
		if count < 20 {
			return n, false
		}
		cov[l] = sum / count
	}
	var both []float64
	for l := range cov {
		both = append(both, s.white[l], s.wander[l])
	}
	alone := func(column []float64) float64 {
		if f, ok := signal.LeastSquares(column, cov); ok {
			return max(0, f.Coef[0])
		}
		return 0
	}
	white, wander := 0.0, 0.0
	if f, ok := signal.LeastSquares(both, cov); ok {
		white, wander = f.Coef[0], f.Coef[1]
	}
	switch {
	case wander < 0:
		white, wander = alone(s.white), 0
	case white < 0:
		white, wander = 0, alone(s.wander)
	}
	return pointNoise{math.Sqrt(white), math.Sqrt(wander)}, true
}

// noiseOf measures the noise of a point from what the filter takes of its raw
// path; where too few samples show it, it is taken to wander by a usual amount.
// floorPx is the smallest wander that is believed.
func noiseOf(raw body.Path, airborne []bool, shape *noiseShape, f *signal.Lowpass, floorPx float64) pointNoise {
	usual := pointNoise{0, 2.5 * floorPx}
	if f == nil {
		return usual
	}
	var r []float64
	for _, x := range [][]float64{raw.X, raw.Y} {
		smooth := f.Smooth(x)
		for i := range x {
			if airborne[i] {
				r = append(r, math.NaN()) // a take-off is too quick for any filter
			} else {
				r = append(r, x[i]-smooth[i])
			}
		}
		for range shape.white {
			r = append(r, math.NaN())
		}
	}
	n, ok := shape.fit(r)
	if !ok {
		return usual
	}
	n.wanderPx = max(n.wanderPx, floorPx)
	return n
}

// motionNoise is what a [Motion] knows of its random noise.
type motionNoise struct {
	bank    *noiseBank
	angles  [body.NumAngles]angleNoise // after smoothing
	hipLegs float64                    // of the hip, leg lengths
	// togetherDegS is how fast the foot turns with the shank on it, one value a sample.
	togetherDegS []float64
}

// angleNoise is the random noise of one angle after smoothing, degrees, one
// value a sample.
type angleNoise struct{ whiteDeg, wanderDeg []float64 }

// together returns how fast shank and foot turn as one in each sample, so that the ankle between them stays as it is:
// the smaller of the two where their angles, whose sum is the ankle's, go opposite ways, else 0. Degrees a second.
func together(shankDeg, pitchDeg []float64, rateHz float64) []float64 {
	out := signal.Velocity(pitchDeg, rateHz)
	for i, shank := range signal.Velocity(shankDeg, rateHz) {
		if shank*out[i] < 0 {
			out[i] = min(math.Abs(shank), math.Abs(out[i]))
		} else {
			out[i] = 0 // also where one is not known
		}
	}
	return out
}

// fastest returns how fast foot and shank turn as one at most among some samples.
func (n *motionNoise) fastest(at []int) (degS float64) {
	for _, i := range at {
		degS = max(degS, n.togetherDegS[i])
	}
	return degS
}

// setFoot sets the noise of foot and ankle in a sample, where the foot is pitched by pitchDeg: one that lies flat has a
// known pitch, one whose pitch was measured, to measuredSDDeg (0: it was not), that of the picture, and another one
// with its heel up that of the heel's rise.
func (n *motionNoise) setFoot(i int, pitchDeg, measuredSDDeg float64, heel pointNoise, legPx float64) {
	foot, ankle, shank := &n.angles[body.FootPitch], &n.angles[body.AnkleDorsiflexion], &n.angles[body.ShankAngle]
	foot.whiteDeg[i], foot.wanderDeg[i] = 0, 0
	switch lever := body.BallLegLengths * legPx; {
	case measuredSDDeg > 0:
		foot.wanderDeg[i] = body.PitchJitterPart * measuredSDDeg
	case pitchDeg < 0:
		foot.whiteDeg[i], foot.wanderDeg[i] = heel.whitePx/lever*body.DegPerRad, heel.wanderPx/lever*body.DegPerRad
	}
	foot.wanderDeg[i] = math.Hypot(foot.wanderDeg[i], footTimeSDS*n.togetherDegS[i])
	ankle.whiteDeg[i] = math.Hypot(shank.whiteDeg[i], foot.whiteDeg[i])
	ankle.wanderDeg[i] = math.Hypot(shank.wanderDeg[i], foot.wanderDeg[i])
}

// The simulation of noise on a rep: its number of draws, the length of the bank
// they are taken from, and the seed, so that a clip read twice gives the same
// numbers.
const (
	noiseDraws   = 100
	noiseBankLen = 1 << 15
	noiseSeed    = 20
)

// noiseBank is a long stretch of filtered noise of unit variance: draws are
// pieces of it.
type noiseBank struct {
	white, wander []float64
	level         []float64 // independent, one a draw
	errorTimeS    float64   // over which wander stays alike
}

func newNoiseBank(rateHz, errorTimeS float64, f *signal.Lowpass) *noiseBank {
	rng := rand.New(rand.NewPCG(noiseSeed, noiseSeed))
	b := &noiseBank{make([]float64, noiseBankLen), make([]float64, noiseBankLen), make([]float64, noiseDraws), errorTimeS}
	phi := wanderStep(rateHz, errorTimeS)
	e := 0.0
	for i := range b.white {
		b.white[i] = rng.NormFloat64()
		e = phi*e + math.Sqrt(1-phi*phi)*rng.NormFloat64()
		b.wander[i] = e
	}
	for i := range b.level {
		b.level[i] = rng.NormFloat64()
	}
	for _, x := range []*[]float64{&b.white, &b.wander} {
		if f != nil {
			*x = f.Smooth(*x)
		}
		var ss float64
		for _, v := range *x {
			ss += v * v
		}
		sd := math.Sqrt(ss / float64(len(*x)))
		for i := range *x {
			(*x)[i] /= sd
		}
	}
	return b
}

// extremeNoise is what noise does to the extremes of an angle over a rep.
type extremeNoise struct {
	romSDDeg float64
	// highDeg and lowDeg are by how much the highest of many noisy readings is
	// too high and the lowest too low.
	highDeg, lowDeg float64
}

// extremes simulates the noise on the samples of a rep's loaded spans and on the
// standing level, which is the mean over standS seconds (NaN: no standing), and
// returns how the highest value and the range vary.
func (b *noiseBank) extremes(x []float64, at []int, noise *angleNoise, standDeg, standS float64) extremeNoise {
	nan := math.NaN()
	if len(at) == 0 || len(at) >= noiseBankLen/2 {
		return extremeNoise{nan, 0, 0}
	}
	hi, lo := math.Inf(-1), math.Inf(1)
	for _, i := range at {
		if x[i] > hi {
			hi = x[i]
		}
		if x[i] < lo {
			lo = x[i]
		}
	}
	levelSD := nan
	if !math.IsNaN(standDeg) {
		lo = min(lo, standDeg)
		// A mean over a time T of noise with correlation time t: 2t/T of the
		// variance stays.
		levelSD = noise.wanderDeg[at[0]] * math.Sqrt(min(1, 2*b.errorTimeS/max(standS, 1e-3)))
	}
	if !(hi >= lo) {
		return extremeNoise{nan, 0, 0}
	}
	var sumMax, sumROM, sumROM2 float64
	stride := (noiseBankLen - len(at)) / noiseDraws
	for d := range noiseDraws {
		h, l := math.Inf(-1), math.Inf(1)
		if levelSD >= 0 {
			l = standDeg + levelSD*b.level[d]
		}
		from := d * stride
		for k, i := range at {
			v := x[i] + noise.whiteDeg[i]*b.white[from+k] + noise.wanderDeg[i]*b.wander[from+k]
			if v > h {
				h = v
			}
			if v < l {
				l = v
			}
		}
		h -= hi
		r := h - (l - lo)
		sumMax, sumROM, sumROM2 = sumMax+h, sumROM+r, sumROM2+r*r
	}
	mean := sumROM / noiseDraws
	return extremeNoise{
		romSDDeg: math.Sqrt(max(0, sumROM2-noiseDraws*mean*mean) / (noiseDraws - 1)),
		highDeg:  sumMax / noiseDraws, lowDeg: mean - sumMax/noiseDraws,
	}
}

// TimeSDsOf returns the standard deviations of the times of a rep.
//
// A take-off or a contact is a break in the toe's way: half a frame, and a floor.
// A descent ends so softly that its last part is lost in the noise: a
// minimum-jerk movement of amplitude A and duration T has 10 A (w/T)^3 to go at
// the time w before its end, which is less than the noise n from
// w = T (n/10A)^(1/3) on; the fit of the whole movement finds the end to a part of
// that.
func TimeSDsOf(m *Motion, filled []bool, r *events.RepTimes, network *body.Calibration) events.TimeSDs {
	nan := math.NaN()
	out := events.TimeSDs{BottomS: nan, TakeoffS: nan, ContactS: nan}
	event := func(atS float64) float64 {
		if math.IsNaN(atS) {
			return nan
		}
		return math.Hypot(eventFrames*frameAt(filled, m.RateHz, m.Index(atS)), eventFloorS)
	}
	out.TakeoffS, out.ContactS = math.Hypot(event(r.TakeoffS), lateTakeoffSDS), event(r.ContactS)
	if math.IsNaN(r.BottomS) {
		return out
	}
	lasts := r.DescentS
	if !(lasts > 0) {
		lasts = r.AscentS // begins with its push
	}
	soft := 0.0
	if lasts > 0 && r.Depth > 0 {
		noise := max(network.WanderFloorLegs, m.noise.hipLegs)
		soft = softEnd * lasts * math.Cbrt(noise/(10*r.Depth))
	}
	out.BottomS = math.Hypot(eventFrames*frameAt(filled, m.RateHz, m.Index(r.BottomS)), soft)
	return out
}

// frameAt returns the time in seconds between the two observations of the near leg
// about sample i: one over the rate, more where frames are lost.
func frameAt(filled []bool, rateHz float64, i int) float64 {
	n := 1
	for j := i; j < len(filled) && filled[j]; j++ {
		n++
	}
	for j := i - 1; j >= 0 && filled[j]; j-- {
		n++
	}
	return float64(n) / rateHz
}

// deepPitch returns how far the heel is up, degrees, at most among those of the samples in
// which the shank leans most (four fifths of its way), and whether that was measured in all in
// which it is clearly up; both angles in degrees.
func deepPitch(shank, foot []float64, by *body.MeasuredPitch, at []int) (upDeg float64, measured bool) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, i := range at {
		lo, hi = min(lo, shank[i]), max(hi, shank[i])
	}
	measured = true
	for _, i := range at {
		if !(shank[i] > lo+0.8*(hi-lo)) || math.IsNaN(foot[i]) {
			continue
		}
		upDeg = max(upDeg, -foot[i])
		measured = measured && (foot[i] >= -heelUpDeg || by.KnownAt(i))
	}
	return upDeg, measured
}

// unseenLiftPart is the standard deviation of the pitch of a foot whose heel is up where only
// heel and toe point tell it, for each degree beyond those in which their lag is known: the points
// showed 7 to 10 degrees too little of 30 to 45 on invented athletes.
const unseenLiftPart = 0.25

// addUncertainty fills in the spread of angle a over the loaded spans of a rep, which
// stands in those beside it, and corrects the peak.
func (am *AngleMeasure) addUncertainty(m *Motion, filled []bool, a body.Angle, beside, loaded []trace.Span,
	viewSDDeg float64, network *body.Calibration) {
	am.ROMInterval95Deg = [2]float64{math.NaN(), math.NaN()}
	if math.IsNaN(am.ROMDeg) {
		am.SDDeg, am.SystematicSDDeg = math.NaN(), math.NaN()
		return
	}
	x := m.AnglesDeg[a]
	var at []int
	peak := -1
	for _, sp := range loaded {
		for i := m.Index(sp.FromS); i <= m.Index(sp.ToS); i++ {
			if math.IsNaN(x[i]) {
				continue
			}
			at = append(at, i)
			if peak < 0 || x[i] > x[peak] {
				peak = i
			}
		}
	}
	if peak < 0 {
		return
	}
	var standS float64
	for _, sp := range beside {
		standS += sp.DurationS()
	}
	noise := m.noise.bank.extremes(x, at, &m.noise.angles[a], am.AtStandDeg, standS)
	cutoff := m.CutoffHz
	e := network.Errors[m.By][a]
	if a.OfArm() { // the fitted body has no arms
		e = body.ArmErrors[a]
	} else if m.By == body.SmootherBody {
		cutoff = 0
	}
	loss := signal.MeasurePeakLoss(x, peak, am.ROMDeg, m.RateHz, cutoff, frameAt(filled, m.RateHz, peak))
	most := signal.MaxPeakCorrectionDeg
	if a == body.AnkleDorsiflexion {
		most += footTimeSDS * m.noise.fastest(at)
	}
	am.MaxDeg += loss.AddDeg - min(most, max(0, noise.highDeg))
	low := am.MinDeg + min(most, max(0, noise.lowDeg))
	if !math.IsNaN(am.AtStandDeg) { // the standing level is a mean: noise does not lower it
		low = max(am.MinDeg, min(low, am.AtStandDeg))
	}
	am.MinDeg = min(low, am.MaxDeg)
	am.ROMDeg = am.MaxDeg - am.MinDeg

	random := noise.romSDDeg
	if math.IsNaN(random) {
		random = m.SDDeg[a][peak]
	}
	random = math.Hypot(random, e.RepDeg)
	upDeg, measured := deepPitch(m.AnglesDeg[body.ShankAngle], m.AnglesDeg[body.FootPitch], &m.MeasuredPitch, at)
	lifted := e.LiftedDeg * upDeg / body.LiftedAtDeg
	if !measured && (a == body.AnkleDorsiflexion || a == body.FootPitch) {
		lifted = math.Hypot(lifted, max(network.LiftedFootSDDeg, unseenLiftPart*(upDeg-network.HeelLagToDeg)))
	}
	am.SystematicSDDeg = math.Sqrt(sq(e.PostureDeg) + sq(lifted) + sq(max(0, viewSDDeg)) +
		sq(loss.SDDeg) + sq(loss.OpenDeg))
	am.SDDeg = math.Hypot(random, am.SystematicSDDeg)
	half := stats.Normal95 * math.Hypot(am.SDDeg, e.ClipDeg)
	am.ROMInterval95Deg = [2]float64{max(0, am.ROMDeg-half), am.ROMDeg + half + loss.OpenDeg}
}
