package stats

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The data set Norris of NIST's Statistical Reference Datasets (linear least squares, lower level of difficulty), with
// its certified slope and the standard deviation of that.
func TestLine(t *testing.T) {
	y := []float64{0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3,
		448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9,
		668.4, 449.2, 0.2}
	x := []float64{0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
		447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2,
		669.1, 448.9, 0.5}
	const slope, sd, t34 = 1.00211681802045, 0.429796848199937e-03, 2.032245
	b, in := Line(x, y)
	if math.Abs(b-slope) > 1e-12 || math.Abs((in[1]-in[0])/2-t34*sd) > 1e-9 {
		t.Errorf("slope %.15g, interval %v", b, in)
	}
	if b, _ := Line(x[:2], y[:2]); !math.IsNaN(b) {
		t.Error("two points have a slope")
	}
	if b, _ := Line([]float64{1, 1, 1}, y[:3]); !math.IsNaN(b) {
		t.Error("one place has a slope")
	}
}

func TestWithinSet(t *testing.T) {
	opt := Options{SmallestChange: 5, RepSD: 1.5, RepWorth: 6}
	tiring := []float64{30, 31, 30, 29, 30, 29, 27, 25, 24, 23, 22, 21}
	w, ok := WithinSet(tiring, opt)
	if !ok || !w.Drifts || w.PerRep > -0.7 || w.Stays != 7 || w.Above || w.Thirds == nil || w.Thirds.Verdict != Lost ||
		w.Thirds.Lost != 7.5 {
		t.Errorf("a set that tires: %+v", w)
	}
	for i := range tiring {
		tiring[i] = 60 - tiring[i]
	}
	if w, _ = WithinSet(tiring, opt); !w.Drifts || w.Stays != 7 || !w.Above {
		t.Errorf("the same upward: %+v", w)
	}
	tiring[5] = math.NaN() // the rep keeps its place in the order
	if w, _ = WithinSet(tiring, opt); w.Stays != 7 {
		t.Errorf("a rep that was not read: %+v", w)
	}
	if w, _ = WithinSet([]float64{30, 31, 30, 29, 30, 20}, opt); w.Stays != -1 {
		t.Errorf("one rep alone stays outside: %+v", w)
	}
	if w, ok = WithinSet([]float64{30, 26, 22}, opt); !ok || w.Thirds != nil || !math.IsNaN(w.Usual[0]) || w.Stays != -1 {
		t.Errorf("three reps: %+v", w)
	}
	if _, ok = WithinSet([]float64{30, math.NaN(), 22}, opt); ok {
		t.Error("two readings tell of a drift")
	}
}

// Of sets in which nothing changes hardly any is said to drift, or to stay outside.
func TestWithinSetOfASteadyAthlete(t *testing.T) {
	opt := Options{SmallestChange: 5, RepSD: 1.5, RepWorth: 6}
	random := rand.New(rand.NewPCG(1, 2))
	const sets = 2000
	drift, stay := 0, 0
	for range sets {
		var v []float64
		for range 12 {
			v = append(v, 30+1.5*random.NormFloat64())
		}
		w, _ := WithinSet(v, opt)
		if w.Drifts {
			drift++
		}
		if w.Stays >= 0 {
			stay++
		}
	}
	if drift > sets/100 || stay > sets/100 {
		t.Errorf("of %d steady sets %d drift and %d stay outside", sets, drift, stay)
	}
}
