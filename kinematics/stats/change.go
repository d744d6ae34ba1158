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

	own, shared := variancesOf(baseline, challenge, opt)
	half := halfWidth(own, shared, [2]float64{nb, nc})
	c.Interval95 = [2]float64{c.Lost - half, c.Lost + half}
	if !(2*half <= math.Abs(c.Baseline)) {
		c.RetainedPct = math.NaN()
	}
	c.Verdict = verdict(c.Lost, c.Interval95, opt)
	return c
}

// NotComparable returns the change without what became of the one and the other: they are counted
// from different zeros.
func (c Change) NotComparable() Change {
	nan := math.NaN()
	c.Lost, c.Interval95, c.RetainedPct, c.Verdict = nan, [2]float64{nan, nan}, nan, Unclear
	return c
}

// variancesOf returns the variance of one reading of each side, and what the difference of the means has however many
// readings there are.
func variancesOf(baseline, challenge Readings, opt Options) (own [2]float64, shared float64) {
	sides := [2]Readings{baseline.Against(challenge, opt), challenge.Against(baseline, opt)}
	few := min(len(baseline.Values), len(challenge.Values)) < minReadings
	for i, r := range sides {
		mean, of := r.variances(few, opt)
		own[i] = mean * float64(len(r.Values))
		shared += of
	}
	return own, shared
}

// halfWidth returns half the 95 % interval of the difference of two means of n readings each.
func halfWidth(own [2]float64, shared float64, n [2]float64) float64 {
	b, c := own[0]/n[0], own[1]/n[1]
	v, quantile := b+c+shared, Normal95
	if d := b*b/(n[0]-1) + c*c/(n[1]-1); min(n[0], n[1]) >= minReadings && d > 0 {
		quantile = t95(v * v / d)
	}
	return quantile * math.Sqrt(v)
}

// mostRepsToTell is the largest number of reps in one set that [RepsToTell] asks for. Common practice, no source.
const mostRepsToTell = 10

// RepsToTell returns how many readings each side needs for an unclear change to become lost, gained or held, if
// their mean and spread stay what they are; 0 where the change is not unclear or no number up to [mostRepsToTell]
// would tell.
func RepsToTell(baseline, challenge Readings, opt Options) int {
	now := Compare(baseline, challenge, opt)
	if now.Verdict != Unclear || math.IsNaN(now.Lost) {
		return 0
	}
	own, shared := variancesOf(baseline, challenge, opt)
	have := [2]float64{float64(len(baseline.Values)), float64(len(challenge.Values))}
	for n := int(min(have[0], have[1])) + 1; n <= mostRepsToTell; n++ {
		half := halfWidth(own, shared, [2]float64{max(have[0], float64(n)), max(have[1], float64(n))})
		if verdict(now.Lost, [2]float64{now.Lost - half, now.Lost + half}, opt) != Unclear {
			return n
		}
	}
	return 0
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
