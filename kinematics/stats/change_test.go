package stats

import (
	"math"
	"testing"
)

// occasionSDDeg and ofDegrees are the figures of a range of motion in degrees.
const occasionSDDeg = 4.6 / (1.96 * math.Sqrt2)

var ofDegrees = Options{SmallestChange: 5, SEM: 3, OccasionSD: occasionSDDeg}

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

func TestCompareFewReps(t *testing.T) {
	one := Compare(Readings{Values: []float64{100}, NoiseSD: math.NaN()}, Readings{Values: []float64{92}, NoiseSD: 1}, ofDegrees)
	// 1.96 sqrt(2) 3
	near(t, "half width of one against one", one.Lost-one.Interval95[0], 8.3155755768, 1e-3)
	if one.Verdict != Unclear {
		t.Errorf("8 degrees between single reps: %v, want unclear", one.Verdict)
	}
	// Two occasions differ by more than the reps of one: 3 reps of no spread with 2 degrees
	// each way give 1.96 sqrt(2) 2 degrees, and fewer reps never less than more.
	for n := 1; n <= 4; n++ {
		var b, c Readings
		b.OccasionSD, c.OccasionSD = 2, 2
		b.NoiseSD, c.NoiseSD = 2.5, 2.5
		for range n {
			b.Values, c.Values = append(b.Values, 100), append(c.Values, 92)
		}
		got := Compare(b, c, ofDegrees)
		floor := 3*3 - 2.5*2.5
		if n >= 3 {
			floor = 0
		}
		near(t, "two occasions", got.Lost-got.Interval95[0], 1.9599639845*math.Sqrt(2*(floor/float64(n)+2.5*2.5+2*2)), 1e-6)
	}
	// The same said by the occasion's name, on both sides at once; one occasion adds nothing.
	for name, want := range map[string]float64{"May": 1.9599639845 * 2.5 * math.Sqrt2, "June": 1.9599639845 * math.Sqrt(2*(2.5*2.5+occasionSDDeg*occasionSDDeg))} {
		b := Readings{Values: []float64{100, 100, 100}, NoiseSD: 2.5, Occasion: "May"}
		c := Readings{Values: []float64{92, 92, 92}, NoiseSD: 2.5, Occasion: name}
		got := Compare(b, c, ofDegrees)
		near(t, "May against "+name, got.Lost-got.Interval95[0], want, 1e-6)
	}
	near(t, "the published smallest change of two occasions", 1.96*math.Sqrt2*occasionSDDeg, 4.6, 1e-9) // Powden et al. 2015
	noisy := Compare(Readings{Values: []float64{100}, NoiseSD: 6}, Readings{Values: []float64{92}, NoiseSD: 6}, ofDegrees)
	near(t, "twice the noise", noisy.Lost-noisy.Interval95[0], 2*8.3155755768, 2e-3)
	none := Compare(Readings{}, Readings{Values: []float64{92}}, ofDegrees)
	if none.Verdict != Unclear || !math.IsNaN(none.Lost) {
		t.Errorf("nothing against something: %+v", none)
	}
	// Three reps that agree by chance still carry the network's error.
	same := Compare(Readings{Values: []float64{90, 90, 90}, NoiseSD: 1.5}, Readings{Values: []float64{90, 90, 90}, NoiseSD: 1.5}, ofDegrees)
	near(t, "noise alone", same.Interval95[1], 1.959964*1.5*math.Sqrt2, 1e-4)
	if same.Verdict != Held {
		t.Errorf("equal reps: %v, want held", same.Verdict)
	}
}

// What is kept in per cent is known while its interval is no wider than 100.
func TestRetainedIsKnownOfEnough(t *testing.T) {
	for _, c := range []struct {
		baseline float64
		known    bool
	}{{100, true}, {17, true}, {16, false}, {3, false}, {0, false}, {-2, false}} {
		// One rep against one at 3 degrees: 8.3 degrees either way.
		got := Compare(Readings{Values: []float64{c.baseline}}, Readings{Values: []float64{9}}, ofDegrees)
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
		{2, 1, 3, Held}, {0, -4.9, 4.9, Held}, {0, -6, 6, Unclear}, {-7, -10, -4, Gained}, {-4, -7, -1, Unclear},
		{math.NaN(), 1, 2, Unclear},
	} {
		if got := verdict(c.lost, [2]float64{c.lo, c.hi}, Options{SmallestChange: 5}); got != c.want {
			t.Errorf("lost %g (%g to %g): %v, want %v", c.lost, c.lo, c.hi, got, c.want)
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
		got := Compare(Readings{Values: []float64{100, 100.4, 99.6}}, Readings{Values: []float64{100 - c.lost, 100.4 - c.lost, 99.6 - c.lost}}, Options{SmallestChange: 5, Detectable: c.mdc})
		if got.Verdict != c.want {
			t.Errorf("%v degrees lost with %v detectable: %v, want %v", c.lost, c.mdc, got.Verdict, c.want)
		}
	}
}

// What is said to tell does, and one rep less does not: readings that keep their mean and spread as they grow in number.
func TestRepsToTell(t *testing.T) {
	spread := func(mean, sd float64, n int) (r Readings) {
		for i := range n {
			r.Values = append(r.Values, mean+sd*math.Sqrt(float64(n-1)/float64(n))*float64(1-2*(i%2)))
		}
		return r
	}
	opt := Options{SmallestChange: 5, SEM: 3}
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
