package stats

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func TestMeanOfReadings(t *testing.T) {
	nan := math.NaN()
	for _, tc := range []struct {
		name          string
		r             Readings
		opt           Options
		value, lo, hi float64
	}{
		// Spread 2 over the root of 3, and the noise: root of 4/3 + 1.6^2.
		{"spread and noise", Readings{Values: []float64{27, 29, 31}, NoiseSD: 1.6}, ofDegrees, 29, 25.1327, 32.8673},
		{"another day", Readings{Values: []float64{27, 29, 31}, NoiseSD: 1.6, OccasionSD: occasionSDDeg},
			ofDegrees, 29, 23.9467, 34.0533},
		{"reps that agree carry the noise", Readings{Values: []float64{10, 10, 10}, NoiseSD: 2},
			ofDegrees, 10, 6.0801, 13.9199},
		{"noise unknown", Readings{Values: []float64{27, 29, 31}, NoiseSD: nan}, ofDegrees, 29, 26.7368, 31.2632},
		// Root of 1.5^2 + 2^2.
		{"one reading has the usual spread", Readings{Values: []float64{10}, NoiseSD: 2}, usually, 10, 5.1001, 14.8999},
		// Root of (6 1.5^2 + 50) / 7 / 2 + 1.
		{"two, their spread the larger", Readings{Values: []float64{0, 10}, NoiseSD: 1}, usually, 5, 0.3886, 9.6114},
		{"one, nothing known beforehand", Readings{Values: []float64{10}, NoiseSD: 2}, ofDegrees, 10, nan, nan},
		{"none", Readings{}, ofDegrees, nan, nan, nan},
	} {
		got := tc.r.Mean(tc.opt)
		iv := got.Interval95()
		for k, v := range map[string][2]float64{
			"mean": {got.Value, tc.value}, "low": {iv[0], tc.lo}, "high": {iv[1], tc.hi},
		} {
			if math.IsNaN(v[0]) != math.IsNaN(v[1]) || math.Abs(v[0]-v[1]) > 1e-4 {
				t.Errorf("%s: %s is %.4f, want %.4f", tc.name, k, v[0], v[1])
			}
		}
	}
}

// With the noise that the network has, intervals of the mean of three to six reps hold
// what the athlete usually does about 95 times in 100.
func TestMeanHoldsTheTruth(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 2))
	const tries = 4000
	for n := 3; n <= 6; n++ {
		for _, betweenSD := range []float64{0.5, 1, 2} {
			const noiseSD = 1.6
			held := 0
			for range tries {
				r := Readings{NoiseSD: noiseSD}
				shared := noiseSD * rng.NormFloat64()
				for range n {
					r.Values = append(r.Values, 100+shared+betweenSD*rng.NormFloat64())
				}
				if iv := r.Mean(ofDegrees).Interval95(); iv[0] <= 100 && 100 <= iv[1] {
					held++
				}
			}
			if part := float64(held) / tries; part < 0.925 || part > 0.965 {
				t.Errorf("%d reps that differ by %.1f degrees: %.1f %% of intervals hold the truth", n, betweenSD, 100*part)
			}
		}
	}
}

// An interval of a mean moves and grows with the readings, and a change of two sides is
// never surer than the means it is made of.
func TestMeanLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) Readings {
			return Readings{Values: rapid.SliceOfN(rapid.Float64Range(-50, 150), 3, 8).Draw(t, name),
				NoiseSD: rapid.Float64Range(0, 5).Draw(t, name+" noise")}
		}
		a, b := draw("baseline"), draw("challenge")
		by, times := rapid.Float64Range(-100, 100).Draw(t, "shift"), rapid.Float64Range(0.1, 10).Draw(t, "factor")
		moved := Readings{NoiseSD: times * a.NoiseSD}
		for _, v := range a.Values {
			moved.Values = append(moved.Values, by+times*v)
		}
		was, is := a.Mean(ofDegrees), moved.Mean(ofDegrees)
		if math.Abs(is.Value-(by+times*was.Value)) > 1e-6 || math.Abs(is.SD-times*was.SD) > 1e-6 {
			t.Errorf("%v moved by %g and %g times as large is %v", was, by, times, is)
		}
		c := Compare(a, b, ofDegrees)
		least := Normal95 * math.Hypot(was.SD, b.Mean(ofDegrees).SD)
		if half := (c.Interval95[1] - c.Interval95[0]) / 2; half < least-1e-9 {
			t.Errorf("the change is known to %g, its means to %g together", half, least)
		}
	})
}

// The quantile falls to that of the normal, whatever the degrees of freedom. At 10 and 30
// it is that of the tables, 2.228 and 2.042 (Abramowitz and Stegun 1964, table 26.10, from
// memory).
func TestStudentsQuantile(t *testing.T) {
	near(t, "10 degrees of freedom", t95(10), 2.228, 5e-4)
	near(t, "30 degrees of freedom", t95(30), 2.042, 5e-4)
	near(t, "where the expansion takes over", t95(1.000001e6), t95(1e6), 1e-9)
	last := t95(1e5)
	for e := 5.5; e < 40; e += 0.5 {
		q := t95(math.Pow(10, e))
		if !(q >= Normal95 && q <= last) {
			t.Errorf("with 1e%g degrees of freedom the quantile is %g, after %g", e, q, last)
		}
		last = q
	}
	near(t, "without an end", t95(math.Inf(1)), Normal95, 0)
}
