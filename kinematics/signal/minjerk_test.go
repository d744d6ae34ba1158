package signal

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func TestMinJerk(t *testing.T) {
	for u, want := range map[float64]float64{-1: 0, 0: 0, 0.25: 0.103515625, 0.5: 0.5, 0.75: 0.896484375, 1: 1, 2: 1} {
		near(t, "course", MinJerk(u), want, 1e-12)
	}
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Float64Range(-0.2, 1.2).Draw(t, "u")
		v := rapid.Float64Range(-0.2, 1.2).Draw(t, "v")
		if (u <= v) != (MinJerk(u) <= MinJerk(v)) && MinJerk(u) != MinJerk(v) {
			t.Fatalf("goes back between %g and %g", u, v)
		}
		if d := MinJerk(u) + MinJerk(1-u) - 1; math.Abs(d) > 1e-9 {
			t.Fatalf("start and end differ at %g by %g", u, d)
		}
	})
}

// A slow descent of 115 degrees at 30 frames a second whose knee is read with an
// error of 1 degree: both ends come out within a frame.
func TestFitRise(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 2))
	var ts, x []float64
	for i := range 120 {
		s := float64(i) / 30
		ts = append(ts, s)
		x = append(x, 3+115*MinJerk((s-0.8)/2)+rng.NormFloat64())
	}
	x[40] = math.NaN()
	f, ok := FitRise(ts, x, 0, len(x), 0.6, 3.0)
	if !ok {
		t.Fatal("no fit")
	}
	near(t, "start", f.FromS, 0.8, 1.0/30)
	near(t, "end", f.ToS, 2.8, 1.0/30)
	near(t, "level before", f.FromLevel, 3, 0.5)
	near(t, "level after", f.Level, 118, 0.5)
	near(t, "residual", f.RMS, 1, 0.2)
	if _, ok := FitRise(ts, x, 0, 4, 0.6, 3); ok {
		t.Error("four samples are no fit")
	}
	if _, ok := FitRise(ts, x, 0, len(x), 3, 0.6); ok {
		t.Error("a movement that ends before it begins is no fit")
	}
}

func TestFitArrival(t *testing.T) {
	var ts, x []float64
	for i := range 60 {
		s := float64(i) / 60
		w := max(0, 0.42-s)
		ts = append(ts, s)
		x = append(x, 98-w*w*w*(900-700*w))
	}
	at, rms, ok := FitArrival(ts, x, 6, 60, 0.3, 0.6)
	if !ok {
		t.Fatal("no fit")
	}
	near(t, "arrival", at, 0.42, 0.005)
	near(t, "residual", rms, 0, 0.02)
	if _, _, ok := FitArrival(ts, x, 0, 5, 0.3, 0.6); ok {
		t.Error("five samples are no fit")
	}
}
