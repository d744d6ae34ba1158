package signal

import "math"

// A short peak is read too low for two reasons. The filter takes a part of what
// is quick, and samples may miss the instant of the turn. How much follows from
// how sharply the angle turns: its acceleration at the peak.

const (
	// peakPart is the part of the range below the peak, and peakMaxS the time to
	// either side of it, over which a parabola is fitted to find how sharply the
	// angle turns. Within a tenth of the range a raised cosine differs from its
	// parabola by 3 % of the acceleration.
	peakPart = 0.1
	peakMaxS = 0.15
	// MaxPeakCorrectionDeg bounds what is added back to a peak: what is larger
	// rests on a guess of the peak's shape and widens the interval instead.
	// Common practice, no source.
	MaxPeakCorrectionDeg = 1.5
	// noTurnDegS2 is the acceleration below which a curve is a level: it loses
	// less than a thousandth of a degree.
	noTurnDegS2 = 1.0
	// peakDoubt is the standard deviation of a correction as a part of itself: a
	// peak is no raised cosine. Common practice, no source.
	peakDoubt = 0.5
)

// samplingLossDeg returns by how many degrees the highest of samples taken at
// rateHz lies below the peak of a parabola of the given acceleration (degrees a
// second squared, its sign is ignored), at worst and on average over all places
// that the samples may have:
//
//	worst a dt^2/8    mean a dt^2/24
//
// Both follow from the samples lying dt/2 from the peak at most.
func samplingLossDeg(accelDegS2, rateHz float64) (worst, mean float64) {
	w := math.Abs(accelDegS2) / (8 * rateHz * rateHz)
	return w, w / 3
}

// peakFrequencyHz returns the frequency in hertz of the raised cosine that has
// the given range (degrees) and turns as sharply at its peak (degrees a second
// squared, sign ignored): sqrt(2 a/range)/(2 pi). It is NaN for a range that is
// not positive.
func peakFrequencyHz(accelDegS2, romDeg float64) float64 {
	if !(romDeg > 0) {
		return math.NaN()
	}
	return math.Sqrt(2*math.Abs(accelDegS2)/romDeg) / (2 * math.Pi)
}

// filterLossDeg returns by how many degrees the zero-lag low-pass of [NewLowpass]
// lowered a peak that now, after it, has the given acceleration and stands romDeg
// over its base: that of a raised cosine of frequency f,
//
//	romDeg/2 * (1/gain(f) - 1)
//
// (see [Gain], [peakFrequencyHz]; acceleration and height are lowered alike, so
// that f may be taken from the filtered peak). Half of the range, because only
// the peak is lowered: the base is a rest in which the body dwells. It is 0 for a
// range that is not positive.
func filterLossDeg(accelDegS2, romDeg, rateHz, cutoffHz float64) float64 {
	f := peakFrequencyHz(accelDegS2, romDeg)
	if math.IsNaN(f) {
		return 0
	}
	g := Gain(rateHz, cutoffHz, min(f, 0.45*rateHz))
	return romDeg / 2 * (1/g - 1)
}

// PeakLoss is what is thought to be missing at a peak, degrees.
type PeakLoss struct {
	// AddDeg is to be added to the highest sample, sdDeg the standard deviation
	// of that sum, openDeg what the peak may be higher still: too much to be
	// added on the strength of a guess.
	AddDeg, SDDeg, OpenDeg float64
}

// MeasurePeakLoss returns what filter and frame rate took from the peak of the
// smoothed angle x at sample i, given the range it ends. frameS is the time
// between the two observations of the body about the peak: 1/rateHz, more where frames
// are lost. cutoffHz is 0 where another smoother than the filter made x: what it
// took is not known then, and nothing is added for it.
func MeasurePeakLoss(x []float64, i int, romDeg, rateHz, cutoffHz, frameS float64) PeakLoss {
	accel, vertex, ok := turnAt(x, i, romDeg, rateHz)
	if !ok {
		return PeakLoss{}
	}
	// The parabola finds the turn between two samples; what the samples did not
	// see between two observations further apart nothing finds.
	worst, _ := samplingLossDeg(accel, rateHz)
	between := max(0, min(worst, vertex-x[i]))
	filter := 0.0
	if cutoffHz > 0 {
		filter = filterLossDeg(accel, romDeg, rateHz, cutoffHz)
	}
	unseen := 0.0
	if frameS > 1.5/rateHz {
		unseen, _ = samplingLossDeg(accel, 1/frameS)
	}
	out := PeakLoss{AddDeg: between, SDDeg: peakDoubt * between}
	if filter <= MaxPeakCorrectionDeg {
		out.AddDeg += filter
		out.SDDeg = math.Hypot(out.SDDeg, peakDoubt*filter)
	} else {
		out.AddDeg += MaxPeakCorrectionDeg
		out.OpenDeg = filter - MaxPeakCorrectionDeg
		out.SDDeg = math.Hypot(out.SDDeg, peakDoubt*MaxPeakCorrectionDeg)
	}
	out.OpenDeg += unseen
	return out
}

// turnAt fits a parabola to x about sample i by least squares and returns its
// acceleration (degrees a second squared, positive for a peak) and its highest
// value. ok is false where there is no peak: too few samples, or a curve that
// does not turn there.
func turnAt(x []float64, i int, romDeg, rateHz float64) (accelDegS2, vertex float64, ok bool) {
	if i < 0 || i >= len(x) || math.IsNaN(x[i]) || !(romDeg > 0) {
		return 0, 0, false
	}
	reach := max(2, int(peakMaxS*rateHz))
	from, to := i, i
	for from > 0 && i-from < reach && x[from-1] >= x[i]-peakPart*romDeg {
		from--
	}
	for to+1 < len(x) && to-i < reach && x[to+1] >= x[i]-peakPart*romDeg {
		to++
	}
	// A turn of very few frames: the neighbours count, however low they lie.
	if from == i && i > 0 && !math.IsNaN(x[i-1]) {
		from--
	}
	if to == i && i+1 < len(x) && !math.IsNaN(x[i+1]) {
		to++
	}
	if from == i || to == i {
		return 0, 0, false // the highest place is an end: no turn to be seen
	}
	var rows []float64
	for j := from; j <= to; j++ {
		t := float64(j-i) / rateHz
		rows = append(rows, 1, t, t*t)
	}
	f, ok := LeastSquares(rows, x[from:to+1])
	if !ok {
		return 0, 0, false
	}
	c0, c1, c2 := f.Coef[0], f.Coef[1], f.Coef[2]
	if !(c2 < -noTurnDegS2/2) {
		return 0, 0, false
	}
	return -2 * c2, c0 - c1*c1/(4*c2), true
}
