package kinematics

import (
	"math"
	"math/rand/v2"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// simulatedNoise returns white and wandering noise.
func simulatedNoise(n int, rateHz float64, want pointNoise, seed uint64) []float64 {
	rng := rand.New(rand.NewPCG(seed, 1))
	phi := wanderStep(rateHz, testNetwork().ErrorTimeS)
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
		{60, 6, pointNoise{2, 0.5}}, {60, 6, pointNoise{0.3, 2}}, {30, 5, pointNoise{1, 1.5}}, {120, 10, pointNoise{1, 1}}, {60, 4, pointNoise{0, 1}}, {60, 4, pointNoise{1, 0}},
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
		shape := newNoiseShape(c.rate, c.cutoff, testNetwork().ErrorTimeS)
		got, ok := shape.fit(y)
		if !ok {
			t.Fatalf("%+v: no noise found", c)
		}
		t.Logf("%g Hz, cut-off %g: white %.2f wander %.2f, want %.2f and %.2f", c.rate, c.cutoff, got.whitePx, got.wanderPx, c.want.whitePx, c.want.wanderPx)
		if math.Abs(got.whitePx-c.want.whitePx) > 0.15*c.want.whitePx+0.2 || math.Abs(got.wanderPx-c.want.wanderPx) > 0.2*c.want.wanderPx+0.35 {
			t.Errorf("%g Hz, cut-off %g: white %.2f wander %.2f, want %.2f and %.2f", c.rate, c.cutoff, got.whitePx, got.wanderPx, c.want.whitePx, c.want.wanderPx)
		}
	}
}

// What is said to stay of noise after the filter is what stays.
func TestNoiseKept(t *testing.T) {
	for _, c := range []struct{ rate, cutoff, white float64 }{
		// White noise after the dual pass, worked with scipy 1.10.1.
		{30, 6, 0.630917}, {60, 6, 0.452243}, {120, 6, 0.321547}, {240, 6, 0.227736}, {240, 12, 0.321547},
	} {
		shape := newNoiseShape(c.rate, c.cutoff, testNetwork().ErrorTimeS)
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
	shape := newNoiseShape(60, 6, testNetwork().ErrorTimeS)
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
	b := newNoiseBank(60, testNetwork().ErrorTimeS, f)
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

// Two analyses of one clip give the same numbers to the last bit.
func TestIntervalsRepeat(t *testing.T) {
	obs := loadClip(t, "jump").seen(5)
	a, b := analyze(t, obs, Options{Smoother: body.SmootherFilter}), analyze(t, obs, Options{Smoother: body.SmootherFilter})
	for i := range a.reps {
		for k := range body.NumAngles {
			if x, y := a.reps[i].Angles[k], b.reps[i].Angles[k]; x.ROMInterval95Deg != y.ROMInterval95Deg || x.SDDeg != y.SDDeg {
				t.Errorf("rep %d %v: %+v, then %+v", i+1, k, x, y)
			}
		}
	}
}

func TestIntervalsAreInOrder(t *testing.T) {
	for _, name := range []string{"slow", "fast", "jump_30", "left_jump"} {
		obs := loadClip(t, name).seen(6)
		a := analyze(t, obs, Options{Smoother: body.SmootherFilter})
		view := analyze(t, obs, Options{Smoother: body.SmootherFilter, SystematicSDDeg: [body.NumAngles]float64{body.KneeFlexion: 5}})
		for i := range a.reps {
			r := &a.reps[i]
			for k := range body.NumAngles {
				m := r.Angles[k]
				if !(m.ROMInterval95Deg[0] >= 0 && m.ROMInterval95Deg[0] <= m.ROMDeg && m.ROMDeg <= m.ROMInterval95Deg[1]) {
					t.Errorf("%s rep %d %v: range %.1f, interval %.1f to %.1f", name, r.Number, k, m.ROMDeg, m.ROMInterval95Deg[0], m.ROMInterval95Deg[1])
				}
				if !(m.SystematicSDDeg >= 0 && m.SystematicSDDeg <= m.SDDeg) {
					t.Errorf("%s rep %d %v: SD %.2f, of it systematic %.2f", name, r.Number, k, m.SDDeg, m.SystematicSDDeg)
				}
			}
			near(t, "view joined", view.reps[i].Angles[body.KneeFlexion].SDDeg, math.Hypot(5, r.Angles[body.KneeFlexion].SDDeg), 1e-9)
			near(t, "hip as before", view.reps[i].Angles[body.HipFlexion].SDDeg, r.Angles[body.HipFlexion].SDDeg, 1e-9)
			sd := r.TimeSDS
			if !(sd.BottomS > 0 && sd.BottomS < 0.15) {
				t.Errorf("%s rep %d: bottom known to %.3f s", name, r.Number, sd.BottomS)
			}
			if r.HasFlight() != (sd.TakeoffS > 0) || r.HasFlight() != (sd.ContactS > 0) {
				t.Errorf("%s rep %d: flight %v, take-off known to %.3f s, contact to %.3f", name, r.Number, r.HasFlight(), sd.TakeoffS, sd.ContactS)
			}
		}
	}
}
