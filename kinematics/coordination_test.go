package kinematics

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

// The eight bins of 45 degrees about axes and diagonals, proximal angle across and
// distal angle up: Chang, Van Emmerik & Hamill 2008 (from memory).
func TestCouplingPatterns(t *testing.T) {
	for _, c := range []struct {
		deg  float64
		want Coupling
	}{
		{0, ProximalPhase}, {22.4, ProximalPhase}, {337.5, ProximalPhase}, {359.9, ProximalPhase}, {180, ProximalPhase}, {157.5, ProximalPhase}, {202.4, ProximalPhase},
		{22.5, InPhase}, {45, InPhase}, {67.4, InPhase}, {202.5, InPhase}, {225, InPhase}, {247.4, InPhase},
		{67.5, DistalPhase}, {90, DistalPhase}, {112.4, DistalPhase}, {247.5, DistalPhase}, {270, DistalPhase}, {292.4, DistalPhase},
		{112.5, AntiPhase}, {135, AntiPhase}, {157.4, AntiPhase}, {292.5, AntiPhase}, {315, AntiPhase}, {337.4, AntiPhase},
		{-45, AntiPhase}, {405, InPhase}, {math.NaN(), ""}, {math.Inf(1), ""},
	} {
		if got := CouplingOf(c.deg); got != c.want {
			t.Errorf("%.1f degrees are %q, want %q", c.deg, got, c.want)
		}
	}
}

func TestCouplingAngles(t *testing.T) {
	// Both up; distal alone; proximal back; against one another; neither moves.
	p := []float64{0, 1, 1, 0, 1, 1}
	d := []float64{0, 1, 2, 2, 1, 1}
	got := CouplingAngles(p, d)
	for i, want := range []float64{45, 90, 180, 315} {
		if math.Abs(got[i]-want) > 1e-9 {
			t.Errorf("step %d at %.3f degrees, want %.0f", i, got[i], want)
		}
	}
	if !math.IsNaN(got[4]) {
		t.Errorf("nothing moves, yet %.1f", got[4])
	}
	s := SharesOf(got)
	if s != (CouplingShares{25, 25, 25, 25}) {
		t.Errorf("shares %+v", s)
	}
	if CouplingAngles([]float64{1}, []float64{1}) != nil {
		t.Error("one point has no coupling")
	}
}

func TestCouplingAnglesTurnWithThePlot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-100, 100), 2, 20).Draw(t, "proximal")
		y := rapid.SliceOfN(rapid.Float64Range(-100, 100), len(x), len(x)).Draw(t, "distal")
		var sum float64
		back := make([]float64, len(x))
		for i := range x {
			back[i] = -x[i]
		}
		a, b := CouplingAngles(x, y), CouplingAngles(y, x)
		for i := range a {
			if math.IsNaN(a[i]) {
				continue
			}
			if a[i] < 0 || a[i] >= 360 {
				t.Fatalf("%g degrees", a[i])
			}
			// Exchanging the joints mirrors the angle about the diagonal.
			if m := math.Mod(90-a[i]+720, 360); math.Abs(math.Remainder(m-b[i], 360)) > 1e-6 {
				t.Fatalf("%g exchanged is %g, want %g", a[i], b[i], m)
			}
		}
		for _, v := range []float64{SharesOf(a).InPhase, SharesOf(a).AntiPhase, SharesOf(a).Proximal, SharesOf(a).Distal} {
			sum += v
		}
		if !math.IsNaN(sum) && math.Abs(sum-100) > 1e-9 {
			t.Fatalf("shares sum to %g", sum)
		}
	})
}

// Angular deviation: 0 for trials that agree, sqrt(2) radians (81.03 degrees) for trials
// that point everywhere, sqrt(2(1-cos 10)) for two trials 20 degrees apart (Batschelet
// 1981, from memory; the numbers worked out by hand).
func TestCouplingVariability(t *testing.T) {
	for _, c := range []struct {
		trials [][]float64
		want   float64
	}{
		{[][]float64{{30, 60}, {30, 60}}, 0},
		{[][]float64{{0}, {90}, {180}, {270}}, 81.02846845},
		{[][]float64{{350}, {10}}, 9.98731186},
		{[][]float64{{30}}, math.NaN()},
		{nil, math.NaN()},
	} {
		if got := CouplingVariability(c.trials); math.Abs(got-c.want) > 1e-6 || math.IsNaN(got) != math.IsNaN(c.want) {
			t.Errorf("%v: %.8f, want %.8f", c.trials, got, c.want)
		}
	}
}

// curveSeries is a series whose knee follows a given curve in each of several reps of a
// second, rep i from i to i+1 with the bottom in the middle.
func curveSeries(curves []func(u float64) float64) (*Series, []Rep) {
	b := bodySim{at: func(float64) figure { return standing(4, 3, 5, 10) }, rateHz: 100, endS: float64(len(curves)), stand: trace.Span{FromS: 0, ToS: 0.1}}
	s, _ := b.series()
	var reps []Rep
	nan := math.NaN()
	for i, f := range curves {
		from := float64(i)
		for k, t := range s.TimeS {
			if t >= from && t <= from+1 {
				s.AnglesDeg[body.KneeFlexion][k] = f(min(1, 2*(t-from)))
			}
		}
		r := Rep{RepTimes: RepTimes{Number: i + 1, StartS: from, BottomS: from + 0.5, BottomEndS: from + 0.5, EndS: from + 0.99, TakeoffS: nan, ContactS: nan, LandingBottomS: nan}}
		r.Angles[body.KneeFlexion] = AngleMeasure{SDDeg: 1, SystematicSDDeg: 1, ROMDeg: f(1)}
		reps = append(reps, r)
	}
	return s, reps
}

func TestWhereTheCurveIsLost(t *testing.T) {
	full := func(add float64) func(float64) float64 { return func(u float64) float64 { return 100*u + add } }
	// The same way down to 70 per cent, then held there.
	short := func(add float64) func(float64) float64 {
		return func(u float64) float64 { return 100*min(u, 0.7) + add }
	}
	s, reps := curveSeries([]func(float64) float64{full(0), full(0.5), full(-0.5)})
	slow, err := CurvesOf(s, reps, body.KneeFlexion, PartDescent)
	if err != nil {
		t.Fatal(err)
	}
	for i := range CurvePoints {
		if math.Abs(slow.MeanDeg[i]-float64(i)) > 0.2 || math.Abs(slow.SDDeg[i]-0.5) > 0.01 {
			t.Fatalf("at %d %%: %.3f ± %.3f", i, slow.MeanDeg[i], slow.SDDeg[i])
		}
	}
	if math.Abs(slow.VariabilityDeg-0.5) > 0.01 {
		t.Errorf("variability %.3f", slow.VariabilityDeg)
	}
	s2, reps2 := curveSeries([]func(float64) float64{short(0), short(0.5), short(-0.5)})
	fast, err := CurvesOf(s2, reps2, body.KneeFlexion, PartDescent)
	if err != nil {
		t.Fatal(err)
	}
	// 5 degrees are lost from 75 per cent on.
	d := CompareCurves(&slow, &fast, CompareOptions{})
	if d.LostFromPct < 74 || d.LostFromPct > 77 || d.GainedFromPct != -1 {
		t.Errorf("lost from %d %%, gained from %d %%", d.LostFromPct, d.GainedFromPct)
	}
	if d := CompareCurves(&fast, &slow, CompareOptions{}); d.LostFromPct != -1 || d.GainedFromPct < 74 {
		t.Errorf("the other way: lost from %d, gained from %d", d.LostFromPct, d.GainedFromPct)
	}
	if d := CompareCurves(&slow, &slow, CompareOptions{}); d.LostFromPct != -1 || d.GainedFromPct != -1 {
		t.Errorf("against itself: %d, %d", d.LostFromPct, d.GainedFromPct)
	}
	if _, err := CurvesOf(s, reps, body.KneeFlexion, PartLanding); !errors.Is(err, ErrTooFewReps) {
		t.Errorf("the landing of squats: %v", err)
	}
}

func TestAngleAngle(t *testing.T) {
	s, reps := curveSeries([]func(float64) float64{func(u float64) float64 { return 100 * u }, func(u float64) float64 { return 100 * u }})
	s.AnglesDeg[body.HipFlexion] = append([]float64(nil), s.AnglesDeg[body.KneeFlexion]...)
	a, err := AngleAngleOf(s, reps, body.HipFlexion, body.KneeFlexion, PartDescent)
	if err != nil {
		t.Fatal(err)
	}
	if a.SharesPct.InPhase != 100 || !(a.VariabilityDeg < 1e-6) || len(a.CouplingDeg) != CurvePoints-1 {
		t.Errorf("shares %+v, variability %g", a.SharesPct, a.VariabilityDeg)
	}
}

// Slope and its interval worked out by hand: y = 10, 12, 13, 15 over 0..3, slope 1.6, SD
// about the line sqrt(0.1), standard error 0.1414214, t(2) 4.302653.
func TestDrift(t *testing.T) {
	d, err := DriftOver([]float64{10, 12, math.NaN(), 13, 15})
	if err != nil || d.Reps != 4 {
		t.Fatalf("%+v, %v", d, err)
	}
	d, err = DriftOver([]float64{10, 12, 13, 15})
	if err != nil {
		t.Fatal(err)
	}
	half := 4.302653 * 0.14142136
	if math.Abs(d.PerRep.Value-1.6) > 1e-12 || math.Abs(d.PerRep.SD-0.14142136) > 1e-7 ||
		math.Abs(d.Interval95[0]-(1.6-half)) > 1e-6 || math.Abs(d.Interval95[1]-(1.6+half)) > 1e-6 {
		t.Errorf("%+v", d)
	}
	if !d.Drifts || math.Abs(d.TotalInSet-4.8) > 1e-12 || d.First != 10 || d.Last != 15 {
		t.Errorf("%+v", d)
	}
	if d, err := DriftOver([]float64{10, 12, 9, 11, 10}); err != nil || d.Drifts {
		t.Errorf("no drift, yet %+v, %v", d, err)
	}
	if _, err := DriftOver([]float64{1, 2}); !errors.Is(err, ErrTooFewReps) {
		t.Errorf("two reps: %v", err)
	}
	if d, err := DriftOfSet([]Rep{{}, {}, {}}, body.KneeFlexion); err != nil || d.Drifts {
		t.Errorf("three equal reps: %+v, %v", d, err)
	}
}
