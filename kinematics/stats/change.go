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
//	held     the 90 % interval lies wholly inside -s to +s
//	unclear  all else
//
// Where the smallest change that can be told from chance is known and larger than s,
// lost and gained need that much; held does not become easier by it.
//
// So a loss that noise alone could have made is never called lost, and neither
// is one too small to matter. Asking for the whole interval beyond s instead
// would leave most true losses of one and a half times s unclear with the three reps that
// coaches film.
//
// That nothing was lost is two statements, each sure by 95 %: not s lost, and not s gained. Two one-sided tests at 5 %
// are the 90 % interval inside the bounds. Source: Schuirmann 1987 (two one-sided tests; the custom of bioequivalence).
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

// Compare compares two sets of readings. The variance of each mean is
//
//	s^2/n + noise^2 + occasion^2
//
// (the last where the sides were filmed on different occasions)
// from the spread s between its n reps, which holds the noise of each reading, and
// what all of them share. To s the spread that is usual counts as well, see [Options]. The
// interval is Welch's: t has the degrees of freedom of Welch and Satterthwaite, what is
// shared counting as known. With nothing shared or known beforehand it is the plain Welch
// interval, and of one reading there is none.
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

	half, narrow := halfWidths(sidesOf(baseline, challenge, opt), opt.RepWorth)
	c.Interval95 = [2]float64{c.Lost - half, c.Lost + half}
	if !(2*half <= math.Abs(c.Baseline)) {
		c.RetainedPct = math.NaN()
	}
	c.Verdict = verdictOf(c.Lost, half, narrow, opt)
	return c
}

// NotComparable returns the change without what became of the one and the other: they are counted
// from different zeros.
func (c Change) NotComparable() Change {
	nan := math.NaN()
	c.Lost, c.Interval95, c.RetainedPct, c.Verdict = nan, [2]float64{nan, nan}, nan, Unclear
	return c
}

// side is one of two sides: the variance of one of its readings, the degrees of freedom of that, how many readings
// there are, and the variance of what they share.
type side struct{ variance, freedom, n, shared float64 }

func sidesOf(baseline, challenge Readings, opt Options) (sides [2]side) {
	for i, r := range []Readings{baseline.Against(challenge, opt), challenge.Against(baseline, opt)} {
		sides[i] = side{n: float64(len(r.Values)), shared: r.shared()}
		sides[i].variance, sides[i].freedom = r.spread(opt)
	}
	return sides
}

// halfWidths returns half the 95 % and half the 90 % interval of the difference of two means; NaN where a spread is not
// known. What is known of the spread beforehand is known once and not once for each side: then the degrees of freedom
// are the fewer ones of the two, which is near the exact quantile (Behrens and Fisher; Box & Tiao 1973, 2.5, from
// memory).
func halfWidths(sides [2]side, worth float64) (half95, half90 float64) {
	var own, shared, unsure float64
	for _, s := range sides {
		v := s.variance / s.n
		own, shared, unsure = own+v, shared+s.shared, unsure+v*v/s.freedom
	}
	whole := own + shared
	switch {
	case math.IsNaN(unsure):
		return math.NaN(), math.NaN()
	case unsure == 0:
		return Normal95 * math.Sqrt(whole), normal90 * math.Sqrt(whole)
	}
	freedom := own * own / unsure
	if worth > 0 {
		freedom = min(sides[0].freedom, sides[1].freedom)
	}
	freedom *= sq(whole / own)
	return t95(freedom) * math.Sqrt(whole), t90(freedom) * math.Sqrt(whole)
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
	sides := sidesOf(baseline, challenge, opt)
	for n := min(sides[0].n, sides[1].n) + 1; n <= mostRepsToTell; n++ {
		more := sides
		for i := range more {
			if m := &more[i]; m.n < n {
				m.freedom, m.n = m.freedom+n-m.n, n
			}
		}
		half, narrow := halfWidths(more, opt.RepWorth)
		if verdictOf(now.Lost, half, narrow, opt) != Unclear {
			return int(n)
		}
	}
	return 0
}

// VerdictOf applies the rule of [Verdict] to a loss and its 95 % interval, where its spread is known.
func VerdictOf(lost float64, interval [2]float64, opt Options) Verdict {
	half := (interval[1] - interval[0]) / 2
	return verdictOf(lost, half, half*normal90/Normal95, opt)
}

// verdictOf applies it to a loss and half its intervals of 95 and 90 %.
func verdictOf(lost, half95, half90 float64, opt Options) Verdict {
	smallest := opt.SmallestChange
	clear := max(smallest, opt.Detectable)
	switch {
	case math.IsNaN(lost) || math.IsNaN(half95):
		return Unclear
	case lost > half95 && lost >= clear:
		return Lost
	case -lost > half95 && -lost >= clear:
		return Gained
	case math.Abs(lost)+half90 < smallest:
		return Held
	default:
		return Unclear
	}
}
