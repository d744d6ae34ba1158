package joints

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"holdfast/internal/handmade"
	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// simulatedNoise returns white and wandering noise.
func simulatedNoise(n int, rateHz float64, want pointNoise, seed uint64) []float64 {
	rng := rand.New(rand.NewPCG(seed, 1))
	phi := wanderStep(rateHz, handmade.Network().ErrorTimeS)
	x := make([]float64, n)
	e := want.wanderPx * rng.NormFloat64()
	for i := range x {
		e = phi*e + math.Sqrt(1-phi*phi)*want.wanderPx*rng.NormFloat64()
		x[i] = e + want.whitePx*rng.NormFloat64()
	}
	return x
}

// The noise comes back from what the filter takes away, though most of the
// wander stays in what it leaves.
func TestNoiseIsFoundInTheResidual(t *testing.T) {
	for _, c := range []struct {
		rate, cutoff float64
		want         pointNoise
	}{
		{60, 6, pointNoise{2, 0.5}}, {60, 6, pointNoise{0.3, 2}}, {30, 5, pointNoise{1, 1.5}}, {120, 10, pointNoise{1, 1}},
		{60, 4, pointNoise{0, 1}}, {60, 4, pointNoise{1, 0}},
	} {
		f, err := signal.NewLowpass(c.rate, c.cutoff)
		if err != nil {
			t.Fatal(err)
		}
		x := simulatedNoise(4000, c.rate, c.want, 7)
		y := f.Smooth(x)
		for i := range y {
			y[i] = x[i] - y[i]
		}
		y[1000] += 80 // a take-off that no filter follows
		shape := newNoiseShape(c.rate, c.cutoff, handmade.Network().ErrorTimeS)
		got, ok := shape.fit(y)
		if !ok {
			t.Fatalf("%+v: no noise found", c)
		}
		t.Logf("%g Hz, cut-off %g: white %.2f wander %.2f, want %.2f and %.2f", c.rate, c.cutoff, got.whitePx, got.wanderPx,
			c.want.whitePx, c.want.wanderPx)
		if math.Abs(got.whitePx-c.want.whitePx) > 0.15*c.want.whitePx+0.2 ||
			math.Abs(got.wanderPx-c.want.wanderPx) > 0.2*c.want.wanderPx+0.35 {
			t.Errorf("%g Hz, cut-off %g: white %.2f wander %.2f, want %.2f and %.2f", c.rate, c.cutoff, got.whitePx,
				got.wanderPx, c.want.whitePx, c.want.wanderPx)
		}
	}
}

// What is said to stay of noise after the filter is what stays.
func TestNoiseKept(t *testing.T) {
	for _, c := range []struct{ rate, cutoff, white float64 }{
		// White noise after the dual pass, worked with scipy 1.10.1.
		{30, 6, 0.630917}, {60, 6, 0.452243}, {120, 6, 0.321547}, {240, 6, 0.227736}, {240, 12, 0.321547},
	} {
		shape := newNoiseShape(c.rate, c.cutoff, handmade.Network().ErrorTimeS)
		near(t, "white", shape.keptWhite, c.white, 2e-3)
		f, err := signal.NewLowpass(c.rate, c.cutoff)
		if err != nil {
			t.Fatal(err)
		}
		var ss float64
		y := f.Smooth(simulatedNoise(60000, c.rate, pointNoise{0, 1}, 3))
		for _, v := range y {
			ss += v * v / float64(len(y))
		}
		near(t, "wander", shape.keptWander, math.Sqrt(ss), 0.04)
	}
}

func TestNoiseOfTooLittle(t *testing.T) {
	shape := newNoiseShape(60, 6, handmade.Network().ErrorTimeS)
	for name, r := range map[string][]float64{"nothing": nil, "few": {1, 2, 3}, "unseen": signal.NaNs(500)} {
		if _, ok := shape.fit(r); ok {
			t.Errorf("%s: noise was found", name)
		}
	}
}

// The highest of many noisy readings is too high, and varies less than one.
func TestExtremesOfNoise(t *testing.T) {
	f, err := signal.NewLowpass(60, 6)
	if err != nil {
		t.Fatal(err)
	}
	b := newNoiseBank(60, handmade.Network().ErrorTimeS, f)
	n := 240
	x, at := make([]float64, n), make([]int, n)
	noise := angleNoise{make([]float64, n), make([]float64, n)}
	for i := range n {
		x[i], at[i] = 100*signal.MinJerk(float64(i)/100), i // a rise, then held
		noise.whiteDeg[i], noise.wanderDeg[i] = 0.2, 1
	}
	e := b.extremes(x, at, &noise, 0, 1)
	t.Logf("%+v", e)
	if e.highDeg < 0.8 || e.highDeg > 2.5 {
		t.Errorf("two seconds held: the highest reading is %.2f degrees too high, want 1 to 2.5", e.highDeg)
	}
	if e.romSDDeg < 0.4 || e.romSDDeg > 1 {
		t.Errorf("the range varies by %.2f degrees, want less than one reading and more than nothing", e.romSDDeg)
	}
	// A sharp peak is read once: neither too high, nor less noisy than a reading.
	for i := range n {
		x[i] = 100 - 3*math.Abs(float64(i-120))
	}
	sharp := b.extremes(x, at, &noise, math.NaN(), 0)
	if sharp.highDeg > 0.5 || sharp.romSDDeg < 0.9 {
		t.Errorf("sharp peak: %+v", sharp)
	}
	if again := b.extremes(x, at, &noise, math.NaN(), 0); again != sharp {
		t.Errorf("again %+v, first %+v", again, sharp)
	}
	if got := b.extremes(nil, nil, &noise, 0, 1); !math.IsNaN(got.romSDDeg) {
		t.Errorf("no samples: %+v", got)
	}
}

// What counts is how far the heel is up where the leg is bent deep, and whether it was measured there.
func TestDeepPitch(t *testing.T) {
	shank := []float64{0, 10, 20, 30, 30, 10}
	up := []float64{0, 0, 0, -4, -6, 0}
	for _, tt := range []struct {
		name     string
		foot, by []float64
		want     float64
		measured bool
	}{
		{"flat", make([]float64, 6), nil, 0, true},
		{"up", up, nil, 6, false},
		{"up and measured", up, up, 6, true},
		{"up on the way", []float64{0, -6, 0, 0, 0, -6}, nil, 0, true},
		{"toes up", []float64{0, 0, 0, 5, 5, 0}, nil, 0, true},
	} {
		by := body.MeasuredPitch{Deg: tt.by, SDDeg: []float64{1, 1, 1, 1, 1, 1}}
		if got, measured := deepPitch(shank, tt.foot, &by, []int{0, 1, 2, 3, 4, 5}); got != tt.want ||
			measured != tt.measured {
			t.Errorf("%s: %g, measured %v", tt.name, got, measured)
		}
	}
}

// A foot that turns with the shank on it leaves the ankle as it is, but not as surely known: what is read of the two at
// moments a hundredth of a second apart is a movement that is none. Where one of them turns alone there is nothing to
// go apart.
func TestFootTurningWithTheShank(t *testing.T) {
	const rate = 60.0
	n := 30
	turning, still := make([]float64, n), make([]float64, n)
	for i := range n {
		turning[i] = 300 * float64(i) / rate
	}
	minus := func(x []float64) []float64 {
		out := slices.Clone(x)
		for i := range out {
			out[i] = -out[i]
		}
		return out
	}
	for _, tt := range []struct {
		name         string
		shank, pitch []float64
		want         float64
	}{
		{"up on the toes", turning, minus(turning), 300}, {"the shank alone", turning, still, 0},
		{"the foot alone", still, minus(turning), 0}, {"a foot that falls with the shank", turning, turning, 0},
		{"unknown", signal.NaNs(n), minus(turning), 0},
	} {
		m := motionNoise{togetherDegS: together(tt.shank, tt.pitch, rate)}
		for _, a := range []body.Angle{body.FootPitch, body.AnkleDorsiflexion, body.ShankAngle} {
			m.angles[a] = angleNoise{make([]float64, n), make([]float64, n)}
		}
		i := n / 2
		m.setFoot(i, tt.pitch[i], 1, pointNoise{}, 300)
		near(t, tt.name+": speed", m.fastest([]int{i - 1, i}), tt.want, 1e-6)
		near(t, tt.name+": ankle", m.angles[body.AnkleDorsiflexion].wanderDeg[i],
			math.Hypot(body.PitchJitterPart, footTimeSDS*tt.want), 1e-6)
	}
}
