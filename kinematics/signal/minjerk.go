package signal

import "math"

// MinJerk returns the course from 0 to 1 of a movement from rest to rest that is
// as smooth as can be, for u the part of its time that has passed (0 before the
// start, 1 after the end): 10u^3 - 15u^4 + 6u^5, Flash & Hogan 1985 (from
// memory).
func MinJerk(u float64) float64 {
	switch {
	case u <= 0:
		return 0
	case u >= 1:
		return 1
	}
	return u * u * u * (10 + u*(-15+6*u))
}

// Rise is a fitted movement of a signal from one level to another.
type Rise struct {
	FromS, ToS       float64
	FromLevel, Level float64
	RMS              float64 // residual, in units of the signal
}

// FitRise fits a minimum-jerk movement to the samples i0..i1-1 of x by least
// squares: its start and end time by search, its two levels in closed form. A
// slow end is so flat that a threshold finds it late or early by many frames;
// the whole curve says where it must end. ok is false where there are too few
// samples.
func FitRise(t, x []float64, i0, i1 int, guessFromS, guessToS float64) (best Rise, ok bool) {
	n := 0
	for i := i0; i < i1; i++ {
		if !math.IsNaN(x[i]) {
			n++
		}
	}
	if n < 6 || !(guessToS > guessFromS) {
		return best, false
	}
	eval := func(a, b float64) (Rise, bool) {
		if b-a < 0.04 {
			return Rise{}, false
		}
		var l Line
		for i := i0; i < i1; i++ {
			if !math.IsNaN(x[i]) {
				l.Add(1, MinJerk((t[i]-a)/(b-a)), x[i])
			}
		}
		if l.Spread() < 1e-9 {
			return Rise{}, false
		}
		way := l.Slope()
		level := l.Level(way)
		return Rise{a, b, level, level + way, math.Sqrt(max(0, l.Squares(level, way)) / l.Weight())}, true
	}
	best.RMS = math.Inf(1)
	span := guessToS - guessFromS
	a, b, step := guessFromS, guessToS, span/4
	for step > 5e-4 {
		improved := false
		ca, cb := a, b
		for da := -2; da <= 2; da++ {
			for db := -2; db <= 2; db++ {
				r, good := eval(ca+float64(da)*step, cb+float64(db)*step)
				if good && r.RMS < best.RMS-1e-12 {
					best, a, b, improved = r, r.FromS, r.ToS, true
				}
			}
		}
		if !improved {
			step /= 2
		}
	}
	return best, !math.IsInf(best.RMS, 1)
}

// FitArrival returns when a movement that is already under way comes to rest:
// the samples i0..i1-1 follow, before the arrival at time T,
//
//	level - w^3 (c0 + c1 w),  w = T - t
//
// which is how a minimum-jerk movement ends whatever its start was, and the
// Level after it. T is searched between fromS and toS.
func FitArrival(t, x []float64, i0, i1 int, fromS, toS float64) (arriveS, rms float64, ok bool) {
	rms = math.Inf(1)
	var rows, ys []float64
	for c := fromS; c <= toS; c += 0.004 {
		rows, ys = rows[:0], ys[:0]
		for i := i0; i < i1; i++ {
			if math.IsNaN(x[i]) {
				continue
			}
			w := max(0, c-t[i])
			rows = append(rows, 1, w*w*w, w*w*w*w)
			ys = append(ys, x[i])
		}
		if len(ys) < 6 {
			return math.NaN(), math.NaN(), false
		}
		if f, fitted := LeastSquares(rows, ys); fitted && f.RMS < rms {
			rms, arriveS = f.RMS, c
		}
	}
	return arriveS, rms, !math.IsInf(rms, 1)
}
