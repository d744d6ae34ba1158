package trace

import (
	"math"

	"holdfast/kinematics/signal"
)

// What tells a clip whose clock runs wrong; common practice, no source.
const (
	maxSlowFlightS = 12.0 // a jump of a second played 12 times slower
	// The fall must follow a parabola this closely, as a part of its rise, and its
	// ends must have at least this part of the parabola's speed: a body that
	// hangs on a bar and pulls itself up starts and ends at rest.
	parabolaPart = 0.06
	speedPart    = 0.8
	// clockSureFactor: a clock this wrong is told of.
	clockSureFactor = 1.4
	// clockAgree is how far the flights' own factors may lie apart.
	clockAgree = 1.25
	// UsualLegM is the leg length in metres that the factor is worked out with,
	// the middle of what people have; see minLegM.
	UsualLegM = 0.85
)

// ClockFactor returns by how many times the clip plays slower than the movement
// was, from how the hips fall in its flights:
//
//	g apparent = g / factor^2
//
// with the leg length as the measure; 1 when no flight speaks against the clock,
// below 1 when the clip plays too fast. flights is the number of flights that
// say so. The legs of people differ, so that the factor is good to a sixth.
func ClockFactor(tr *Trace) (factor float64, flights int) {
	up, ok := FeetUp(tr)
	if !ok {
		return 1, 0
	}
	var factors []float64
	for _, r := range signal.Runs(len(tr.TimeS), up) {
		d := float64(r.N()) / tr.RateHz
		if r.N() < 5 || d < MinFlightS/2 || d > maxSlowFlightS || HoldsOn(tr, r) {
			continue
		}
		fall, se, rms, ok := FallOf(tr, r)
		// How far the hips rise and fall in the flight.
		rise := fall * d * d / 8
		if !ok || fall <= 0 || rms > parabolaPart*rise || !leavesAtSpeed(tr, r, fall) || 2*se > fall/2 {
			continue
		}
		lo, hi := fall-2*se, fall+2*se
		if hi < GravityMS2/MaxLegM || lo > GravityMS2/MinLegM {
			factors = append(factors, math.Sqrt(GravityMS2/(UsualLegM*fall)))
		} else {
			return 1, 0 // this one falls as it should
		}
	}
	if len(factors) == 0 {
		return 1, 0
	}
	f := signal.Median(factors)
	for _, g := range factors {
		if max(f/g, g/f) > clockAgree {
			return 1, 0
		}
	}
	if max(f, 1/f) < clockSureFactor {
		return 1, 0
	}
	return f, len(factors)
}

// leavesAtSpeed says whether the hips are about as fast in the first and in the
// last tenth of the samples as a body that falls like that.
func leavesAtSpeed(tr *Trace, r signal.Range, fall float64) bool {
	n := max(2, r.N()/10)
	way := float64(n) / tr.RateHz
	// Half a tenth in, on average.
	want := fall * (float64(r.N())/tr.RateHz/2 - way/2) * way
	up, down := tr.HipHeight[r.From+n]-tr.HipHeight[r.From], tr.HipHeight[r.To-1-n]-tr.HipHeight[r.To-1]
	return up+down > 2*speedPart*want
}

// FallOf fits a parabola to the hips' height over the samples of r. fall is their
// downward acceleration in leg lengths a second squared, se its standard error,
// rms the residual in leg lengths. ok is false when there are too few samples.
func FallOf(tr *Trace, r signal.Range) (fall, se, rms float64, ok bool) {
	var rows, y []float64
	mid := tr.TimeS[(r.From+r.To)/2]
	for i := r.From; i < r.To; i++ {
		if h := tr.HipHeight[i]; !math.IsNaN(h) {
			t := tr.TimeS[i] - mid
			rows = append(rows, 1, t, t*t)
			y = append(y, h)
		}
	}
	if len(y) < 4 {
		return 0, 0, 0, false
	}
	f, ok := signal.LeastSquares(rows, y)
	if !ok {
		return 0, 0, 0, false
	}
	// Smoothed samples are not independent: the error is taken twice as large,
	// and twice again as the fall is twice the coefficient of t^2.
	return -2 * f.Coef[2], 4 * max(0.003, f.Noise) * f.UnitSE(2), f.Noise, true
}
