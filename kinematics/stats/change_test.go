package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// occasionSDDeg and ofDegrees are the figures of a range of motion in degrees.
const occasionSDDeg = 4.6 / (1.96 * math.Sqrt2)

var ofDegrees = Options{SmallestChange: 5, OccasionSD: occasionSDDeg}

// usually are such figures with a spread from rep to rep that is known beforehand.
var usually = Options{SmallestChange: 5, RepSD: 1.5, RepWorth: 6, OccasionSD: occasionSDDeg}

func TestCompareWelch(t *testing.T) {
	// Worked with scipy 1.10.1 (ttest_ind, equal_var False).
	c := Compare(
		Readings{Values: []float64{118.2, 116.9, 119.4, 117.5, 118.0}},
		Readings{Values: []float64{108.4, 104.9, 110.1, 106.6, 107.0}}, ofDegrees)
	near(t, "baseline", c.Baseline, 118.0, 1e-9)
	near(t, "challenge", c.Challenge, 107.4, 1e-9)
	near(t, "lost", c.Lost, 10.6, 1e-9)
	near(t, "low", c.Interval95[0], 8.198879611, 1e-6)
	near(t, "high", c.Interval95[1], 13.001120389, 1e-6)
	near(t, "retained", c.RetainedPct, 91.01694915, 1e-6)
	if c.Verdict != Lost {
		t.Errorf("verdict %v, want lost", c.Verdict)
	}
}

// half returns half of the interval of a change.
func half(c Change) float64 { return (c.Interval95[1] - c.Interval95[0]) / 2 }

// Few reps lean on what is known beforehand. Student's quantiles are those of tables (from memory).
func TestCompareFewReps(t *testing.T) {
	of := func(noise float64, v ...float64) Readings { return Readings{Values: v, NoiseSD: noise} }
	for _, tc := range []struct {
		name string
		b, c Readings
		opt  Options
		want float64
	}{
		// 6 degrees of freedom: t 2.44691.
		{"one against one", of(math.NaN(), 100), of(0, 92), usually, 2.44691 * math.Sqrt2 * 1.5},
		// (6 1.5^2 + 2) / 7 a reading, 7 degrees of freedom: t 2.36462.
		{"two against two", of(0, 101, 99), of(0, 93, 91), usually, 2.36462 * math.Sqrt((6*2.25+2)/7)},
		// What is shared counts as known.
		{"one noisy reading each", of(50, 100), of(50, 92), usually, Normal95 * math.Sqrt(2*(2500+2.25))},
		{"reps that agree", of(0, 90, 90, 90), of(0, 90, 90, 90), usually, 2.30600 * math.Sqrt(2*(6*2.25/8)/3)},
		{"reps that agree, nothing known beforehand", of(1.5, 90, 90, 90), of(1.5, 90, 90, 90), ofDegrees,
			Normal95 * 1.5 * math.Sqrt2},
	} {
		near(t, tc.name, half(Compare(tc.b, tc.c, tc.opt)), tc.want, 2e-3*tc.want)
	}
	if c := Compare(of(0, 100), of(0, 92), ofDegrees); c.Verdict != Unclear || !math.IsNaN(half(c)) || c.Lost != 8 {
		t.Errorf("one reading each and nothing known beforehand: %+v", c)
	}
	if c := Compare(Readings{}, of(0, 92), usually); c.Verdict != Unclear || !math.IsNaN(c.Lost) {
		t.Errorf("nothing against something: %+v", c)
	}
	// The same occasion on both sides adds nothing.
	for name, want := range map[string]float64{
		"May":  Normal95 * 2.5 * math.Sqrt2,
		"June": Normal95 * math.Sqrt(2*(2.5*2.5+occasionSDDeg*occasionSDDeg)),
	} {
		b, c := of(2.5, 100, 100, 100), of(2.5, 92, 92, 92)
		b.Occasion, c.Occasion = "May", name
		near(t, "May against "+name, half(Compare(b, c, ofDegrees)), want, 1e-6)
	}
	// Powden et al. 2015
	near(t, "the published smallest change of two occasions", 1.96*math.Sqrt2*occasionSDDeg, 4.6, 1e-9)
}

// Of athletes whose spread differs as is known beforehand, about 95 in 100 intervals hold what they usually lose,
// however few their reps.
func TestFewRepsHoldTheTruth(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 9))
	const tries = 4000
	chi2 := distuv.ChiSquared{K: usually.RepWorth, Src: rng}
	for n := 1; n <= 5; n++ {
		held := 0
		for range tries {
			var sides [2]Readings
			for i := range sides {
				sd := usually.RepSD * math.Sqrt(usually.RepWorth/chi2.Rand())
				sides[i].NoiseSD = 0.7
				shared := 0.7 * rng.NormFloat64()
				for range n {
					sides[i].Values = append(sides[i].Values, 100+shared+sd*rng.NormFloat64())
				}
			}
			if iv := Compare(sides[0], sides[1], usually).Interval95; iv[0] <= 0 && 0 <= iv[1] {
				held++
			}
		}
		if part := float64(held) / tries; part < 0.935 || part > 0.965 {
			t.Errorf("%d reps each: %.1f %% of intervals hold the truth", n, 100*part)
		}
	}
}

// What is kept in per cent is known while its interval is no wider than 100.
func TestRetainedIsKnownOfEnough(t *testing.T) {
	for _, c := range []struct {
		baseline float64
		known    bool
	}{{100, true}, {17, true}, {16, false}, {3, false}, {0, false}, {-2, false}} {
		// One rep against one: 8.3 degrees either way.
		opt := Options{RepSD: 3, RepWorth: 1e9}
		got := Compare(Readings{Values: []float64{c.baseline}}, Readings{Values: []float64{9}}, opt)
		if known := !math.IsNaN(got.RetainedPct); known != c.known {
			t.Errorf("of %g degrees %.0f %% are kept: known %v, want %v", c.baseline, got.RetainedPct, known, c.known)
		}
	}
}

func TestVerdict(t *testing.T) {
	for _, c := range []struct {
		lost, lo, hi float64
		want         Verdict
	}{
		{10, 8, 12, Lost}, {5, 0.1, 9.9, Lost}, {5, -0.1, 10, Unclear}, {4.9, 1, 8, Unclear},
		{2, 1, 3, Held}, {0, -4.9, 4.9, Held}, {0, -5.9, 5.9, Held},
		{0, -6, 6, Unclear}, {1, -3.7, 5.7, Held}, {1, -3.8, 5.8, Unclear}, {-1, -5.8, 3.8, Unclear},
		{-7, -10, -4, Gained}, {-4, -7, -1, Unclear},
		{math.NaN(), 1, 2, Unclear},
	} {
		if got := VerdictOf(c.lost, [2]float64{c.lo, c.hi}, Options{SmallestChange: 5}); got != c.want {
			t.Errorf("lost %g (%g to %g): %v, want %v", c.lost, c.lo, c.hi, got, c.want)
		}
	}
}

// Who lost or gained as much as matters is told that it held about one time in twenty at most, whatever the number of
// reps.
func TestHeldIsSure(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 11))
	const tries = 4000
	chi2 := distuv.ChiSquared{K: usually.RepWorth, Src: rng}
	for _, n := range [][2]int{{1, 1}, {2, 2}, {3, 3}, {5, 5}, {8, 2}} {
		for _, truth := range []float64{5, -5} {
			held := 0
			for range tries {
				var sides [2]Readings
				for i := range sides {
					sd := usually.RepSD * math.Sqrt(usually.RepWorth/chi2.Rand())
					sides[i].NoiseSD = 0.9
					shared := 100 - float64(i)*truth + 0.9*rng.NormFloat64()
					for range n[i] {
						sides[i].Values = append(sides[i].Values, shared+sd*rng.NormFloat64())
					}
				}
				if Compare(sides[0], sides[1], usually).Verdict == Held {
					held++
				}
			}
			if part := float64(held) / tries; part > 0.065 {
				t.Errorf("%v reps, %g lost: said to be held in %.1f %%", n, truth, 100*part)
			}
		}
	}
}

// Held goes by the 90 % interval of as few reps as there are, a fifth narrower than that of 95 %. With a spread of 3
// known to six reps and none shared, two reps against two have 7 degrees of freedom: 1.895 and 2.365 times 2.78
// (Abramowitz and Stegun 1964, table 26.10, from memory).
func TestHeldOfFewReps(t *testing.T) {
	side := func(mean float64) Readings { return Readings{Values: []float64{mean, mean}} }
	opt := Options{RepSD: 3, RepWorth: 6}
	for _, c := range []struct {
		smallest float64
		want     Verdict
	}{{5.2, Unclear}, {5.3, Held}, {6.6, Held}} {
		opt.SmallestChange = c.smallest
		got := Compare(side(100), side(100), opt)
		if got.Verdict != c.want || math.Abs(got.Interval95[1]-6.57) > 0.01 {
			t.Errorf("within %g: %v, interval %.2f, want %v and 6.57", c.smallest, got.Verdict, got.Interval95, c.want)
		}
	}
}

// An unsteady test says nothing of small changes, so it cannot call one held.
func TestDetectableChange(t *testing.T) {
	for _, c := range []struct {
		lost float64
		mdc  float64
		want Verdict
	}{{3, 0, Held}, {3, 40, Held}, {12, 40, Unclear}, {12, 9, Lost}, {-12, 40, Unclear}, {60, 157, Unclear}} {
		got := Compare(Readings{Values: []float64{100, 100.4, 99.6}},
			Readings{Values: []float64{100 - c.lost, 100.4 - c.lost, 99.6 - c.lost}},
			Options{SmallestChange: 5, Detectable: c.mdc})
		if got.Verdict != c.want {
			t.Errorf("%v degrees lost with %v detectable: %v, want %v", c.lost, c.mdc, got.Verdict, c.want)
		}
	}
}

// What is said to tell does, and one rep less does not: readings that keep their mean and spread as they grow in
// number.
func TestRepsToTell(t *testing.T) {
	spread := func(mean, sd float64, n int) (r Readings) {
		for i := range n {
			r.Values = append(r.Values, mean+sd*math.Sqrt(float64(n-1)/float64(n))*float64(1-2*(i%2)))
		}
		return r
	}
	opt := Options{SmallestChange: 5}
	for _, c := range []struct {
		lost, sd, noise float64
		n, want         int
	}{
		{8, 6, 0, 4, 6},     // in even numbers the spread of these readings is exactly sd
		{20, 2, 0, 4, 0},    // clear already
		{5.5, 2, 6, 4, 0},   // what all reps share stays
		{4.9, 0.5, 0, 4, 0}, // neither held nor lost, however many
	} {
		b, h := spread(100, c.sd, c.n), spread(100-c.lost, c.sd, c.n)
		b.NoiseSD, h.NoiseSD = c.noise, c.noise
		got := RepsToTell(b, h, opt)
		if got != c.want {
			t.Errorf("%+v: %d", c, got)
		}
		if got == 0 {
			continue
		}
		more := Compare(spread(100, c.sd, got), spread(100-c.lost, c.sd, got), opt)
		if more.Verdict == Unclear {
			t.Errorf("%+v: %d reps do not tell: %+v", c, got, more)
		}
	}
	if n := RepsToTell(Readings{}, spread(90, 2, 3), opt); n != 0 {
		t.Errorf("nothing against something: %d", n)
	}
}
