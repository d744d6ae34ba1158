package frontal

import (
	"math"

	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
)

// Verdict says which way a measure went.
type Verdict string

// The verdicts: More and Less are those of [stats.Verdict] that a value rose or fell by as much as matters.
const (
	More    Verdict = "more"
	Less    Verdict = "less"
	Held    Verdict = "held"
	Unclear Verdict = "unclear"
)

// Change is what became of a measure from one condition to a harder one.
type Change struct {
	Measure   Measure        `json:"measure"`
	Baseline  stats.Estimate `json:"baseline"`
	Challenge stats.Estimate `json:"challenge"`
	// Change is challenge minus baseline.
	Change     float64    `json:"change"`
	Interval95 [2]float64 `json:"interval95"`
	Verdict    Verdict    `json:"verdict"`
}

// options are those of a measure. smallestDeg is the smallest change of an angle that matters; 0: that of the table.
func (m Measure) options(smallestDeg float64) stats.Options {
	const repWorth = 6 // as of the angles of a side view
	opt := stats.Options{SmallestChange: rows[m].smallest, RepSD: rows[m].repSD, RepWorth: repWorth,
		OccasionSD: rows[m].occasionSD}
	if smallestDeg > 0 && rows[m].unit == Degrees {
		opt.SmallestChange = smallestDeg
	}
	return opt
}

// readings collects a measure of some reps. occasion is when they were filmed.
func readings(reps []*Rep, m Measure, occasion string) stats.Readings {
	out := stats.Readings{Occasion: occasion}
	var shared []float64
	for _, r := range reps {
		if r == nil {
			continue
		}
		if e := r.Of(m); e.Known() {
			out.Values = append(out.Values, e.Value)
			reading := Reading{m, e}
			shared = append(shared, reading.shared())
		}
	}
	out.NoiseSD = signal.Median(shared)
	return out
}

// Mean returns the mean of a measure over some reps.
func Mean(reps []*Rep, m Measure) stats.Estimate {
	r := readings(reps, m, "")
	r.ClipSD = rows[m].clipSD
	return r.Mean(m.options(0))
}

// Means returns the means of all measures over some reps.
func Means(reps []*Rep) (out []Reading) {
	for m := range NumMeasures {
		out = append(out, Reading{m, Mean(reps, m)})
	}
	return out
}

// unsharedPart is the part of the points' error that two clips of one athlete do not have in common, so that it stays
// in a change: where the points alone make 2.2 degrees of a knee and 3.1 of a change, changes in rendered squats of
// four athletes erred by 1.1, root mean square, and by 1.7 at most.
const unsharedPart = 0.55

// Compare says what became of each measure from the baseline's reps to those of the challenge. The occasions are when
// they were filmed, by any name.
func Compare(baseline, challenge []*Rep, occasions [2]string, smallestDeg float64) []Change {
	var out []Change
	for m := range NumMeasures {
		opt := m.options(smallestDeg)
		b, c := readings(baseline, m, occasions[0]), readings(challenge, m, occasions[1])
		b.NoiseSD, c.NoiseSD = unsharedPart*b.NoiseSD, unsharedPart*c.NoiseSD
		fell := stats.Compare(b, c, opt)
		out = append(out, Change{
			Measure: m, Baseline: Mean(baseline, m), Challenge: Mean(challenge, m), Change: -fell.Lost,
			Interval95: [2]float64{-fell.Interval95[1], -fell.Interval95[0]},
			Verdict: map[stats.Verdict]Verdict{stats.Lost: Less, stats.Gained: More, stats.Held: Held,
				stats.Unclear: Unclear}[fell.Verdict],
		})
	}
	return out
}

// Withheld returns the change without what became of the one and the other.
func (c Change) Withheld() Change {
	nan := math.NaN()
	c.Change, c.Interval95, c.Verdict = nan, [2]float64{nan, nan}, Unclear
	return c
}
