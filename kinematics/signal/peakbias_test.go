package signal

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestSamplingLoss(t *testing.T) {
	// 6000 degrees a second squared: a dt^2/8.
	for _, c := range []struct{ rate, want float64 }{{30, 0.8333}, {60, 0.2083}, {120, 0.0521}, {240, 0.0130}} {
		worst, mean := samplingLossDeg(-6000, c.rate)
		near(t, "worst", worst, c.want, 5e-5)
		near(t, "mean", mean, c.want/3, 5e-5)
	}
	// The mean over all places of the samples, by counting.
	const accel, rate = 900.0, 30.0
	var sum float64
	n := 0
	for at := -0.5; at <= 0.5; at += 0.001 {
		sum += accel / 2 * (at / rate) * (at / rate)
		n++
	}
	_, mean := samplingLossDeg(accel, rate)
	near(t, "mean by counting", sum/float64(n), mean, 1e-4)
}

// A raised cosine of period T keeps the part gain(1/T) of its range.
func TestFilterLossOfRaisedCosine(t *testing.T) {
	for _, c := range []struct{ rate, periodS, kept float64 }{
		{60, 2, 99.998253}, {60, 1, 99.971973}, {60, 0.5, 99.548523},
		{240, 2, 99.998019}, {240, 1, 99.968304}, {240, 0.5, 99.494920},
	} {
		f := 1 / c.periodS
		near(t, "kept", 100*Gain(c.rate, 6, f), c.kept, 1e-6)
		// After the filter both range and acceleration are a part kept of what
		// they were; the loss of the two extremes is twice that of the peak.
		accel := c.kept / 2 * math.Pow(2*math.Pi*f, 2)
		near(t, "frequency", peakFrequencyHz(accel, c.kept), f, 1e-9)
		near(t, "loss", 2*filterLossDeg(accel, c.kept, c.rate, 6), 100-c.kept, 1e-4)
	}
	if got := filterLossDeg(500, 0, 60, 6); got != 0 {
		t.Errorf("no range, loss %g", got)
	}
	if got := peakFrequencyHz(500, -1); !math.IsNaN(got) {
		t.Errorf("negative range, frequency %g", got)
	}
}

// The peak of a raised cosine comes back from its samples and its filtering.
func TestPeakComesBack(t *testing.T) {
	for _, c := range []struct {
		rate, hz, cutoff float64
		within           float64
	}{
		{30, 1, 6, 0.1}, {60, 2, 6, 0.2}, {120, 2, 6, 0.2}, {30, 2, 6, 0.4}, {60, 3, 6, 1.1},
		{120, 3, 12, 0.3}, {24, 2, 6, 0.6},
	} {
		f, err := NewLowpass(c.rate, c.cutoff)
		if err != nil {
			t.Fatal(err)
		}
		for shift := 0.0; shift < 1; shift += 0.17 {
			x := make([]float64, int(6*c.rate/c.hz))
			for i := range x {
				x[i] = 50 * (1 - math.Cos(2*math.Pi*c.hz*(float64(i)+shift)/c.rate))
			}
			y := f.Smooth(x)
			peak := 0
			mid := len(y) / 2
			for i := mid - int(c.rate/c.hz/2); i <= mid+int(c.rate/c.hz/2); i++ {
				if y[i] > y[peak] || peak == 0 {
					peak = i
				}
			}
			l := MeasurePeakLoss(y, peak, y[peak], c.rate, c.cutoff, 1/c.rate)
			got := y[peak] + l.AddDeg
			if math.Abs(got-100) > c.within && math.Abs(got-100) > 2*(l.SDDeg+l.OpenDeg) {
				t.Errorf("%g Hz at %g, cut-off %g: peak %.2f and %.2f added (open %.2f), want 100", c.hz, c.rate, c.cutoff,
					y[peak], l.AddDeg, l.OpenDeg)
			}
			if l.AddDeg < 0 || l.AddDeg > 2*MaxPeakCorrectionDeg {
				t.Errorf("%.2f degrees added", l.AddDeg)
			}
		}
	}
}

func TestPeakLossEdges(t *testing.T) {
	nan := math.NaN()
	flat := []float64{5, 5, 5, 5, 5, 5}
	for name, c := range map[string]struct {
		x []float64
		i int
	}{
		"flat": {flat, 3}, "end": {[]float64{1, 2, 3, 4}, 3}, "alone": {[]float64{3}, 0}, "gap": {[]float64{nan, 3, nan}, 1},
		"missing": {[]float64{1, nan, 1}, 1}, "outside": {flat, 9},
	} {
		if l := MeasurePeakLoss(c.x, c.i, 40, 60, 6, 1.0/60); l != (PeakLoss{}) {
			t.Errorf("%s: %+v, want nothing", name, l)
		}
	}
	// Lost frames about the peak leave it open.
	x := make([]float64, 61)
	for i := range x {
		x[i] = 90 - 3000*math.Pow(float64(i-30)/60, 2)/2
	}
	near, far := MeasurePeakLoss(x, 30, 90, 60, 6, 1.0/60), MeasurePeakLoss(x, 30, 90, 60, 6, 4.0/60)
	worst, _ := samplingLossDeg(3000, 15)
	if math.Abs(far.OpenDeg-near.OpenDeg-worst) > 0.2 {
		t.Errorf("three frames lost: %.2f degrees open, want %.2f", far.OpenDeg-near.OpenDeg, worst)
	}
}

func TestPeakLossIsInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "n")
		x := make([]float64, n)
		for i := range x {
			x[i] = rapid.Float64Range(-180, 180).Draw(t, "x")
		}
		l := MeasurePeakLoss(x, rapid.IntRange(0, n-1).Draw(t, "i"), rapid.Float64Range(0, 180).Draw(t, "rom"),
			rapid.Float64Range(15, 240).Draw(t, "rate"), rapid.Float64Range(2, 12).Draw(t, "cutoff"), 1.0/30)
		if !(l.AddDeg >= 0) || !(l.SDDeg >= 0) || !(l.OpenDeg >= 0) || math.IsInf(l.OpenDeg, 0) {
			t.Fatalf("%+v", l)
		}
	})
}
