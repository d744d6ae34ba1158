package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Verdict says what became of a range of motion.
type Verdict string

// The verdicts, with s the smallest change that matters
// and a 95 % interval about the estimated loss:
//
//	lost     the loss is s or more, and its interval lies wholly above 0
//	gained   the gain is s or more, and its interval lies wholly below 0
//	held     the interval lies wholly inside -s to +s
//	unclear  all else
//
// Where the smallest change that can be told from chance is known and larger than s,
// lost and gained need that much; held does not become easier by it.
//
// So a loss that noise alone could have made is never called lost, and neither
// is one too small to matter. Asking for the whole interval beyond s instead
// would leave most true losses of one and a half times s unclear with the three reps that
// coaches film.
const (
	Held    Verdict = "held"
	Lost    Verdict = "lost"
	Gained  Verdict = "gained"
	Unclear Verdict = "unclear"
)

// Change compares one number of the baseline with the same of the challenge, in the unit
// of what is compared.
type Change struct {
	Baseline  float64 `json:"baseline"`
	Challenge float64 `json:"challenge"`
	// Lost is baseline minus challenge.
	Lost float64 `json:"lost"`
	// Interval95 holds the 95 % interval of Lost: what the athlete usually
	// loses, not only in the reps that were filmed. It joins the spread between
	// reps and the part of the network's error that differs between positions.
	Interval95 [2]float64 `json:"interval95"`
	// RetainedPct is challenge over baseline in per cent; not known where its interval would
	// be wider than 100.
	RetainedPct float64 `json:"retained_pct"`
	Verdict     Verdict `json:"verdict"`
}

// Compare compares two sets of readings. With three or more on both
// sides the variance of each mean is
//
//	s^2/n + noise^2 + occasion^2
//
// (the last where the sides were filmed on different occasions)
// from the spread s between its n reps, which holds the noise of each reading, and
// what all of them share. The interval is Welch's: t has the degrees of freedom of
// Welch and Satterthwaite, what is shared counting as known. Without it, it is the
// plain Welch interval. With fewer reps s is taken to be at least so large that one
// reading has the assumed standard error of a reading, its noise counted in (see
// [Options]), and the interval is the normal one: one rep against one at 3
// degrees gives 8.3 degrees either way.
func Compare(baseline, challenge Readings, opt Options) Change {
	c := Change{Baseline: math.NaN(), Challenge: math.NaN(), Lost: math.NaN(),
		RetainedPct: math.NaN(), Interval95: [2]float64{math.NaN(), math.NaN()}, Verdict: Unclear}
	nb, nc := float64(len(baseline.Values)), float64(len(challenge.Values))
	if nb > 0 {
		c.Baseline = stat.Mean(baseline.Values, nil)
	}
	if nc > 0 {
		c.Challenge = stat.Mean(challenge.Values, nil)
	}
	if nb == 0 || nc == 0 {
		return c
	}
	c.Lost = c.Baseline - c.Challenge
	if c.Baseline != 0 {
		c.RetainedPct = 100 * c.Challenge / c.Baseline
	}

	baseline, challenge = baseline.Against(challenge, opt), challenge.Against(baseline, opt)
	few := min(nb, nc) < minReadings
	ownB, sharedB := baseline.variances(few, opt)
	ownC, sharedC := challenge.variances(few, opt)
	v, quantile := ownB+ownC+sharedB+sharedC, Normal95
	if d := ownB*ownB/(nb-1) + ownC*ownC/(nc-1); !few && d > 0 {
		quantile = t95(v * v / d)
	}
	half := quantile * math.Sqrt(v)
	c.Interval95 = [2]float64{c.Lost - half, c.Lost + half}
	if !(2*half <= math.Abs(c.Baseline)) {
		c.RetainedPct = math.NaN()
	}
	c.Verdict = verdict(c.Lost, c.Interval95, opt)
	return c
}

// verdict applies the rule of [Verdict].
func verdict(lost float64, interval [2]float64, opt Options) Verdict {
	smallest := opt.SmallestChange
	clear := max(smallest, opt.Detectable)
	switch lo, hi := interval[0], interval[1]; {
	case math.IsNaN(lost) || math.IsNaN(lo) || math.IsNaN(hi):
		return Unclear
	case lo > 0 && lost >= clear:
		return Lost
	case hi < 0 && lost <= -clear:
		return Gained
	case lo > -smallest && hi < smallest:
		return Held
	default:
		return Unclear
	}
}
