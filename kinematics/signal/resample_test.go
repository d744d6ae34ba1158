package signal

import (
	"math"
	"testing"
)

func TestSampleRate(t *testing.T) {
	rounded := make([]float64, 100) // 60 frames a second, stamps in whole milliseconds
	for i := range rounded {
		rounded[i] = math.Round(1000*float64(i)/60) / 1000
	}
	near(t, "rounded stamps", RateHz(rounded), 60, 0.05)
	var lost []float64 // every seventh frame lost
	for i := range 100 {
		if i%7 != 3 {
			lost = append(lost, float64(i)/30)
		}
	}
	near(t, "lost frames", RateHz(lost), 30, 1e-9)
	if !math.IsNaN(RateHz([]float64{1})) {
		t.Error("one frame has no rate")
	}
}

func TestResampleUneven(t *testing.T) {
	var ts, x []float64
	wave := func(s float64) float64 { return 50 * math.Sin(2*math.Pi*1.5*s) }
	for i := range 120 {
		s := float64(i)/60 + 0.004*math.Sin(float64(i)) // uneven times
		if i%11 != 5 {
			ts, x = append(ts, s), append(x, wave(s))
		}
	}
	grid := UniformTimes(ts, 60)
	r := Resample(ts, x, grid, 60)
	filled := 0
	for i, s := range grid {
		if math.Abs(r.Value[i]-wave(s)) > 0.5 {
			t.Errorf("at %.3f s: %.2f, want %.2f", s, r.Value[i], wave(s))
		}
		if r.Filled[i] {
			filled++
		}
	}
	if filled < 5 || filled > 16 {
		t.Errorf("%d samples filled, 11 frames were lost", filled)
	}
}

func TestResampleGaps(t *testing.T) {
	var ts, x []float64
	for i := range 61 {
		if (i >= 10 && i < 14) || (i >= 30 && i < 36) || i > 58 {
			continue
		}
		ts, x = append(ts, float64(i)/30), append(x, float64(i))
	}
	ts, x = append(ts, 2.1), append(x, math.NaN())
	r := Resample(ts, x, UniformTimes(ts, 30), 30)
	for i, v := range r.Value {
		switch {
		case i >= 30 && i < 36 || i > 58:
			if !math.IsNaN(v) || r.Filled[i] {
				t.Errorf("sample %d: a long gap was filled with %g", i, v)
			}
		default:
			near(t, "sample", v, float64(i), 1e-9)
			if r.Filled[i] != (i >= 10 && i < 14) {
				t.Errorf("sample %d: filled %v", i, r.Filled[i])
			}
		}
	}
	empty := Resample([]float64{0, 1}, []float64{math.NaN(), math.NaN()}, []float64{0, 0.5, 1}, 2)
	if len(Present(empty.Value)) != 0 {
		t.Error("nothing seen, something filled")
	}
	single := Resample([]float64{0, 1, 2}, []float64{math.NaN(), 7, math.NaN()}, []float64{0, 1, 2}, 1)
	if single.Value[1] != 7 || !math.IsNaN(single.Value[0]) {
		t.Errorf("a single observation became %v", single.Value)
	}
}

func TestValueAt(t *testing.T) {
	x, at := []float64{1, 3, math.NaN(), 7}, []float64{2, 2.5, 3, 3.5}
	for timeS, want := range map[float64]float64{0: 1, 2: 1, 2.25: 2, 2.5: 3, 3.5: 7, 9: 7} {
		if got := ValueAt(x, at, 2, timeS); got != want {
			t.Errorf("at %g s: %g, want %g", timeS, got, want)
		}
	}
	for _, got := range []float64{ValueAt(x, at, 2, 2.75), ValueAt(x, at, 2, math.NaN()), ValueAt(nil, nil, 2, 1)} {
		if !math.IsNaN(got) {
			t.Errorf("%g where nothing is known", got)
		}
	}
}

// Frames that were passed over make no gap; one that was looked at in vain does.
func TestResamplePassed(t *testing.T) {
	timeS, x := []float64{0, 1, 2, 5, 8, 9}, []float64{0, 1, 2, 5, 8, 9}
	passed := []int{0, 0, 0, 2, 2, 0}
	for i := range timeS {
		timeS[i] /= 30
	}
	base := UniformTimes([]float64{0, 9.0 / 30}, 30)
	got := ResamplePassed(timeS, x, passed, base, 30)
	for i := range base {
		near(t, "value", got.Value[i], float64(i), 1e-6)
		if got.Filled[i] {
			t.Errorf("sample %d stands in a gap", i)
		}
	}
	x[3] = math.NaN()
	got = ResamplePassed(timeS, x, passed, base, 30)
	for i := range base {
		if want := i > 2 && i < 8; got.Filled[i] != want && !math.IsNaN(got.Value[i]) {
			t.Errorf("sample %d in a gap: %v, want %v", i, got.Filled[i], want)
		}
	}
	// Without passed frames the same times are a gap.
	if got := Resample([]float64{0, 1.0 / 30, 4.0 / 30}, []float64{0, 1, 4}, base[:5], 30); !got.Filled[2] {
		t.Error("two frames that are missing are no gap")
	}
}
