package stats

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The eight bins of 45 degrees about axes and diagonals, proximal angle across and
// distal angle up: Chang, Van Emmerik & Hamill 2008 (from memory).
func TestCouplingPatterns(t *testing.T) {
	for _, c := range []struct {
		deg  float64
		want coupling
	}{
		{0, proximalPhase}, {22.4, proximalPhase}, {337.5, proximalPhase}, {359.9, proximalPhase}, {180, proximalPhase},
		{157.5, proximalPhase}, {202.4, proximalPhase},
		{22.5, inPhase}, {45, inPhase}, {67.4, inPhase}, {202.5, inPhase}, {225, inPhase}, {247.4, inPhase},
		{67.5, distalPhase}, {90, distalPhase}, {112.4, distalPhase}, {247.5, distalPhase},
		{270, distalPhase}, {292.4, distalPhase},
		{112.5, antiPhase}, {135, antiPhase}, {157.4, antiPhase}, {292.5, antiPhase}, {315, antiPhase}, {337.4, antiPhase},
		{-45, antiPhase}, {405, inPhase}, {math.NaN(), ""}, {math.Inf(1), ""},
	} {
		if got := couplingOf(c.deg); got != c.want {
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
