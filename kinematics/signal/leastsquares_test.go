package signal

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// A signal that is a sum of the columns is found again, and a line as the line's own sums
// find it.
func TestLeastSquares(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(3, 40).Draw(rt, "n")
		number := rapid.Float64Range(-5, 5)
		want := [3]float64{number.Draw(rt, "c0"), number.Draw(rt, "c1"), number.Draw(rt, "c2")}
		var columns, two, exact, rough []float64
		var l Line
		for i := range n {
			u := float64(i)/float64(n-1) - 0.5
			columns, two = append(columns, 1, u, u*u), append(two, 1, u)
			exact = append(exact, want[0]+want[1]*u+want[2]*u*u)
			rough = append(rough, number.Draw(rt, "y"))
			l.Add(1, u, rough[i])
		}
		f, ok := LeastSquares(columns, exact)
		if !ok || f.RMS > 1e-9 {
			rt.Fatalf("an exact parabola leaves %v, %v", f.RMS, ok)
		}
		for j := range want {
			near(t, "coefficient", f.Coef[j], want[j], 1e-9)
		}
		f, ok = LeastSquares(two, rough)
		if !ok {
			rt.Fatal("no line found")
		}
		near(t, "slope", f.Coef[1], l.Slope(), 1e-9)
		near(t, "level", f.Coef[0], l.Level(l.Slope()), 1e-9)
	})
}

// The standard error of a mean of n values is 1/sqrt(n), that of a slope 1/sqrt(sum x^2).
func TestUnitSE(t *testing.T) {
	f, ok := LeastSquares([]float64{1, -1, 1, 0, 1, 1, 1, 0}, []float64{1, 2, 3, 2})
	if !ok {
		t.Fatal("no fit")
	}
	near(t, "mean", f.UnitSE(0), 0.5, 1e-12)
	near(t, "slope", f.UnitSE(1), math.Sqrt(0.5), 1e-12)
	near(t, "noise", f.Noise, 0, 1e-12)
}

func TestLeastSquaresOfTooLittle(t *testing.T) {
	for name, c := range map[string]struct{ columns, y []float64 }{
		"nothing":                 {nil, nil},
		"no column":               {nil, []float64{1, 2}},
		"fewer values":            {[]float64{1, 2, 3}, []float64{1}},
		"columns alike":           {[]float64{1, 2, 1, 2, 1, 2}, []float64{1, 2, 3}},
		"rows that are not whole": {[]float64{1, 2, 1}, []float64{1, 2}},
	} {
		if f, ok := LeastSquares(c.columns, c.y); ok {
			t.Errorf("%s: got %v", name, f.Coef)
		}
	}
	f, ok := LeastSquares([]float64{1, 0, 1, 1}, []float64{3, 5})
	if !ok || !math.IsNaN(f.Noise) || f.RMS > 1e-12 {
		t.Errorf("two points and a line: %+v, %v", f, ok)
	}
}
