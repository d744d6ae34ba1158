package kinematics

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"holdfast/kinematics/body"
)

func TestMeanOfReadings(t *testing.T) {
	nan := math.NaN()
	for _, tc := range []struct {
		name          string
		r             Readings
		opt           CompareOptions
		value, lo, hi float64
	}{
		// Spread 2 over the root of 3, and the noise: root of 4/3 + 1.6^2.
		{"spread and noise", Readings{Deg: []float64{27, 29, 31}, NoiseSDDeg: 1.6}, CompareOptions{}, 29, 25.1327, 32.8673},
		{"another day", Readings{Deg: []float64{27, 29, 31}, NoiseSDDeg: 1.6, OccasionSDDeg: DefaultOccasionSDDeg}, CompareOptions{}, 29, 23.9467, 34.0533},
		{"reps that agree carry the noise", Readings{Deg: []float64{10, 10, 10}, NoiseSDDeg: 2}, CompareOptions{}, 10, 6.0801, 13.9199},
		{"noise unknown", Readings{Deg: []float64{27, 29, 31}, NoiseSDDeg: nan}, CompareOptions{}, 29, 26.7368, 31.2632},
		{"one reading has its assumed error", Readings{Deg: []float64{10}, NoiseSDDeg: 2}, CompareOptions{}, 10, 4.1201, 15.8799},
		{"one noisy reading", Readings{Deg: []float64{10}, NoiseSDDeg: 4}, CompareOptions{}, 10, 2.1601, 17.8399},
		{"two, their spread the larger", Readings{Deg: []float64{0, 10}, NoiseSDDeg: 1}, CompareOptions{SEMDeg: 2}, 5, -4.9939, 14.9939},
		{"none", Readings{}, CompareOptions{}, nan, nan, nan},
	} {
		got := tc.r.Mean(tc.opt)
		iv := got.Interval95()
		for k, v := range map[string][2]float64{"mean": {got.Value, tc.value}, "low": {iv[0], tc.lo}, "high": {iv[1], tc.hi}} {
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
				r := Readings{NoiseSDDeg: noiseSD}
				shared := noiseSD * rng.NormFloat64()
				for range n {
					r.Deg = append(r.Deg, 100+shared+betweenSD*rng.NormFloat64())
				}
				if iv := r.Mean(CompareOptions{}).Interval95(); iv[0] <= 100 && 100 <= iv[1] {
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
			return Readings{Deg: rapid.SliceOfN(rapid.Float64Range(-50, 150), 3, 8).Draw(t, name), NoiseSDDeg: rapid.Float64Range(0, 5).Draw(t, name+" noise")}
		}
		a, b := draw("baseline"), draw("challenge")
		by, times := rapid.Float64Range(-100, 100).Draw(t, "shift"), rapid.Float64Range(0.1, 10).Draw(t, "factor")
		moved := Readings{NoiseSDDeg: times * a.NoiseSDDeg}
		for _, v := range a.Deg {
			moved.Deg = append(moved.Deg, by+times*v)
		}
		was, is := a.Mean(CompareOptions{}), moved.Mean(CompareOptions{})
		if math.Abs(is.Value-(by+times*was.Value)) > 1e-6 || math.Abs(is.SD-times*was.SD) > 1e-6 {
			t.Errorf("%v moved by %g and %g times as large is %v", was, by, times, is)
		}
		c := CompareReadings(a, b, CompareOptions{})
		least := noise95 * math.Hypot(was.SD, b.Mean(CompareOptions{}).SD)
		if half := (c.Interval95[1] - c.Interval95[0]) / 2; half < least-1e-9 {
			t.Errorf("the change is known to %g, its means to %g together", half, least)
		}
	})
}

func TestMeanROM(t *testing.T) {
	rep := func(romDeg float64, in [2]float64) Rep {
		var r Rep
		r.Angles[body.KneeFlexion] = AngleMeasure{ROMDeg: romDeg, SDDeg: 2, SystematicSDDeg: 1.5, ROMInterval95Deg: in}
		return r
	}
	// The athlete's own part is 2.5 degrees: each rep's interval is 1.96 root(2^2 + 2.5^2).
	half := noise95 * math.Hypot(2, 2.5)
	around := func(v float64) Rep { return rep(v, [2]float64{v - half, v + half}) }
	reps := []Rep{around(99), around(100), around(101)}
	got := MeanROM(reps, body.KneeFlexion, CompareOptions{})
	if want := math.Sqrt(1.0/3 + 1.5*1.5 + 2.5*2.5); math.Abs(got.Value-100) > 1e-9 || math.Abs(got.SD-want) > 1e-9 {
		t.Errorf("mean %v, want 100 with %g", got, want)
	}
	p, err := Compare(Group{Reps: reps}, Group{Reps: reps}, CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	knee := &p.Joints[body.KneeJoint]
	if knee.BaselineROMDeg != got || knee.ChallengeROMDeg != got {
		t.Errorf("a pair says %v and %v, want %v", knee.BaselineROMDeg, knee.ChallengeROMDeg, got)
	}
	// The athlete's part cancels in the change.
	v := 2 * (1.0/3 + 1.5*1.5)
	near(t, "change", (knee.ROM.Interval95[1]-knee.ROM.Interval95[0])/2, t95(v*v/(2.0/9/2))*math.Sqrt(v), 1e-9)
	// A lower end that was cut off at 0 says nothing of the error.
	cut := []Rep{rep(3, [2]float64{0, 3 + half})}
	near(t, "small range", MeanROM(cut, body.KneeFlexion, CompareOptions{}).SD, math.Sqrt(3*3+2.5*2.5), 1e-9)
	// Results of before intervals were kept give none.
	for _, old := range [][2]float64{{0, 0}, {math.NaN(), math.NaN()}} {
		if got := MeanROM([]Rep{rep(90, old), rep(92, old)}, body.KneeFlexion, CompareOptions{}); got.Value != 91 || !math.IsNaN(got.SD) {
			t.Errorf("without intervals: %v", got)
		}
	}
	partial := around(50)
	partial.Partial = true
	if got := MeanROM(append(reps, partial), body.KneeFlexion, CompareOptions{}); got.Value != 100 {
		t.Errorf("a rep that is not whole was counted: %v", got)
	}
}

func TestTypicalRep(t *testing.T) {
	nan := math.NaN()
	rep := func(knee, hip, ankle float64) (r Rep) {
		r.Angles[body.KneeFlexion].ROMDeg, r.Angles[body.HipFlexion].ROMDeg, r.Angles[body.AnkleDorsiflexion].ROMDeg = knee, hip, ankle
		return r
	}
	for _, tc := range []struct {
		name string
		reps []Rep
		want int
	}{
		{"none", nil, -1},
		{"the middle one", []Rep{rep(90, 80, 20), rep(100, 90, 25), rep(110, 100, 30)}, 1},
		{"all joints count", []Rep{rep(100, 60, 20), rep(101, 90, 30), rep(99, 118, 40)}, 1},
		{"the first of two alike", []Rep{rep(90, 80, 20), rep(92, 80, 20)}, 0},
		{"a joint that no rep has", []Rep{rep(90, nan, 20), rep(100, nan, 25), rep(111, nan, 30)}, 1},
		{"a rep that lacks a joint", []Rep{rep(90, 80, 20), rep(100, nan, 25), rep(111, 100, 31)}, 0},
		{"nothing known", []Rep{rep(nan, nan, nan)}, 0},
	} {
		if got := TypicalRep(tc.reps); got != tc.want {
			t.Errorf("%s: %d, want %d", tc.name, got, tc.want)
		}
	}
}

// Whatever is compared at a joint is compared with the same options.
func TestOptionsAreOne(t *testing.T) {
	opt := CompareOptions{SmallestChangeDeg: 4, OccasionSDDeg: 2}
	opt.MDC95Deg[body.KneeJoint] = 7
	knee := opt.ForAngle(body.KneeFlexion)
	if knee.DetectableDeg != 7 || math.Abs(knee.SEMDeg-7/(1.96*math.Sqrt2)) > 1e-12 || knee.OccasionSDDeg != 2 || knee.SmallestChangeDeg != 4 {
		t.Errorf("knee: %+v", knee)
	}
	if got := opt.ForPosition(PositionKnee); got != knee {
		t.Errorf("the knee's position: %+v, want %+v", got, knee)
	}
	want := CompareOptions{SmallestChangeDeg: 4, OccasionSDDeg: 2}
	for _, got := range []CompareOptions{opt.ForAngle(body.HipFlexion), opt.ForAngle(body.TrunkLean), opt.ForPosition(PositionTrunk)} {
		if got != want {
			t.Errorf("another angle: %+v, want %+v", got, want)
		}
	}
}

// What differs from day to day counts wherever the sides were filmed on two days.
func TestDaysCountEverywhere(t *testing.T) {
	width := func(c Change) float64 { return c.Interval95[1] - c.Interval95[0] }
	repsOn := func(day string) []Rep {
		var out []Rep
		for i := range 3 {
			out = append(out, Rep{RepTimes: RepTimes{Number: i + 1}, Occasion: day, Support: []SupportSpan{{Phase: PhaseDescent, MeanPct: Estimate{50 + float64(i), 5}}}})
		}
		return out
	}
	curvesOn := func(day string) *Curves {
		c := &Curves{systematicDeg: 1, occasion: day}
		for i := range 3 {
			flat := make([]float64, CurvePoints)
			for k := range flat {
				flat[k] = 90 + float64(i)
			}
			c.Deg = append(c.Deg, flat)
		}
		return c
	}
	ladder := func(day string) Rung {
		slow, fast := ladderStep(TempoSlow, PositionKnee, 100, 101, 102), ladderStep(TempoFast, PositionKnee, 100, 101, 102)
		slow.Readings[PositionKnee].Occasion, fast.Readings[PositionKnee].Occasion = "May", day
		return Ladder([]Step{slow, fast}, LadderOptions{})[PositionKnee]
	}
	for name, of := range map[string]func(day string) float64{
		"support": func(day string) float64 {
			c, _ := CompareSupport(repsOn("May"), repsOn(day), PhaseDescent)
			return width(c)
		},
		"curves": func(day string) float64 {
			return width(CompareCurves(curvesOn("May"), curvesOn(day), CompareOptions{}).At[50])
		},
		"ladder": func(day string) float64 { return width(*ladder(day).Cells[1].Change) },
		"mean of a rung": func(day string) float64 {
			iv := ladder(day).Cells[0].Mean.Interval95()
			return iv[1] - iv[0]
		},
	} {
		if one, two := of("May"), of("June"); !(two > one+1) {
			t.Errorf("%s: %.2f wide within a day, %.2f between two", name, one, two)
		}
	}
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
		if !(q >= noise95 && q <= last) {
			t.Errorf("with 1e%g degrees of freedom the quantile is %g, after %g", e, q, last)
		}
		last = q
	}
	near(t, "without an end", t95(math.Inf(1)), noise95, 0)
}
