package joints

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"holdfast/internal/handmade"
	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// footScene makes a foot whose hindfoot turns about its ball by pitch(i) degrees
// (heel up positive) under a shank leaning lean(i) degrees, with points that sink
// a little as the shank leans, and noise.
func footScene(n int, pitch, lean func(i int) float64) footInput {
	const leg, ballX, floor = 280.0, 400.0, 900.0
	rng := rand.New(rand.NewPCG(9, 9))
	network := handmade.Network()
	in := footInput{network: &network, facing: body.FacingRight, legPx: leg, shankDeg: make([]float64, n),
		standing: make([]bool, n), airborne: make([]bool, n)}
	heel, ankle, toe := body.Path{}, body.Path{}, body.Path{}
	add := func(p *body.Path, dx, up, sink, deg float64) {
		s, c := math.Sincos(deg / body.DegPerRad)
		// Turned forward about the ball: what lies behind it rises.
		x, y := dx*c+up*s, up*c-dx*s
		p.X = append(p.X, ballX+x+0.7*rng.NormFloat64())
		p.Y = append(p.Y, floor-y+sink+0.7*rng.NormFloat64())
	}
	for i := range n {
		in.shankDeg[i] = lean(i)
		in.standing[i] = i < 40
		sink := 0.2 * lean(i)
		add(&heel, -62, 3, sink, pitch(i))
		add(&ankle, -42, 24, sink, pitch(i))
		add(&toe, 0, 2, 0, 0)
	}
	in.heel, in.ankle, in.toe = heel, ankle, toe
	return in
}

func squatLean(i int) float64 {
	return 30 * (signal.MinJerk(float64(i-60)/60) - signal.MinJerk(float64(i-200)/60))
}

func TestFootPitchFlat(t *testing.T) {
	f := footPitch(footScene(300, func(int) float64 { return 0 }, squatLean))
	for i, p := range f.pitchDeg {
		if p != 0 || f.heelRise[i] != 0 {
			t.Fatalf("sample %d: a flat foot reads %.1f degrees", i, p)
		}
		if !(f.sdDeg[i] > 0) {
			t.Fatalf("sample %d: no standard deviation", i)
		}
	}
}

func TestFootPitchHeelUp(t *testing.T) {
	up := func(i int) float64 {
		return 10 * (signal.MinJerk(float64(i-120)/20) - signal.MinJerk(float64(i-160)/20))
	}
	f := footPitch(footScene(300, up, squatLean))
	for i, p := range f.pitchDeg {
		if math.Abs(p+up(i)) > 2.5 {
			t.Errorf("sample %d: pitch %.1f, want %.1f", i, p, -up(i))
		}
	}
	if r := f.heelRise[150]; math.Abs(r-math.Sin(10/body.DegPerRad)) > 0.04 {
		t.Errorf("heel rise %.3f of the foot, want %.3f", r, math.Sin(10/body.DegPerRad))
	}
}

func TestFootPitchMissingPoints(t *testing.T) {
	in := footScene(300, func(i int) float64 { return 0 }, squatLean)
	for i := 100; i < 120; i++ {
		in.heel.X[i], in.heel.Y[i] = math.NaN(), math.NaN()
	}
	for i := 200; i < 210; i++ {
		in.ankle.X[i], in.ankle.Y[i] = math.NaN(), math.NaN()
	}
	f := footPitch(in)
	if math.IsNaN(f.pitchDeg[110]) {
		t.Error("the ankle alone must do where the heel is hidden")
	}
	if !math.IsNaN(f.pitchDeg[205]) {
		t.Error("without an ankle there is no pitch")
	}
	in.toe = body.Path{X: signal.NaNs(300), Y: signal.NaNs(300), SDPx: nil}
	for i, p := range footPitch(in).pitchDeg {
		if !math.IsNaN(p) {
			t.Fatalf("sample %d: pitch %g without a toe in the whole clip", i, p)
		}
	}
}

// Where ankle and shank are known, and heel and toe somewhere on the floor, the pitch of
// the foot is known, and so are its spread and the heel's rise, whatever else is missing
// and however quiet the points lie.
func TestFootPitchIsKnownWhereTheAnkleIs(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		const n = 60
		in := footScene(n, func(int) float64 { return 0 }, func(i int) float64 { return float64(i % 30) })
		if rapid.Bool().Draw(rt, "points without noise") {
			for i := range n {
				in.shankDeg[i] = 0
				in.heel.X[i], in.heel.Y[i], in.ankle.X[i], in.ankle.Y[i], in.toe.X[i], in.toe.Y[i] = 340, 900, 360, 880, 402, 902
			}
		}
		hide := func(name string, x []float64) {
			for _, r := range rapid.SliceOfN(rapid.IntRange(1, n-1), 0, 4).Draw(rt, name) {
				for i := r; i < min(n, r+rapid.IntRange(1, 30).Draw(rt, "for")); i++ {
					x[i] = math.NaN()
				}
			}
		}
		hide("heel", in.heel.Y)
		hide("toe", in.toe.Y)
		hide("ankle", in.ankle.Y)
		hide("shank", in.shankDeg)
		from := rapid.IntRange(1, n).Draw(rt, "flight")
		for i := from; i < min(n, from+rapid.IntRange(0, 20).Draw(rt, "lasts")); i++ {
			in.airborne[i] = true
		}
		f := footPitch(in)
		for i := range n {
			if math.IsNaN(in.ankle.Y[i] + in.shankDeg[i]) {
				continue
			}
			if math.IsNaN(f.pitchDeg[i]) || math.IsNaN(f.heelRise[i]) || !(f.sdDeg[i] > 0) {
				rt.Fatalf("sample %d: pitch %v ± %v, heel rise %v beside a known ankle", i, f.pitchDeg[i],
					f.sdDeg[i], f.heelRise[i])
			}
		}
	})
}

// Where the pitch was measured it is taken as it is, its spread with it, and the heel's
// rise follows; a foot on the floor does not sink into it.
func TestFootPitchAsMeasured(t *testing.T) {
	in := footScene(300, func(int) float64 { return 0 }, squatLean)
	plain := footPitch(in)
	in.measured = body.MeasuredPitch{Deg: signal.NaNs(300), SDDeg: signal.NaNs(300)}
	for i := 100; i < 200; i++ {
		in.measured.Deg[i], in.measured.SDDeg[i] = -8, 0.4
	}
	in.measured.Deg[150] = 1
	f := footPitch(in)
	for i := range 300 {
		pitch, sd := -8.0, 0.4
		switch {
		case i < 100 || i >= 200:
			pitch, sd = plain.pitchDeg[i], plain.sdDeg[i]
		case i == 150:
			pitch = 0
		}
		near(t, "pitch", f.pitchDeg[i], pitch, 1e-12)
		near(t, "its spread", f.sdDeg[i], sd, 1e-12)
	}
	near(t, "heel rise", f.heelRise[120], math.Sin(8/body.DegPerRad), 0.02)
	near(t, "heel rise", f.heelRise[150], 0, 1e-12)
}

// The foot is flat where the athlete stands by the reps, wherever its picture was taken first.
func TestFlatInStanding(t *testing.T) {
	nan := math.NaN()
	for _, tt := range []struct {
		name      string
		deg, want []float64
	}{
		{"stood elsewhere", []float64{0, -2.5, -3, -10}, []float64{2.75, 0.25, -0.25, -7.25}},
		{"the same place", []float64{0, 0, 0, -10}, []float64{0, 0, 0, -10}},
		{"not known in standing", []float64{0, nan, nan, -10}, []float64{0, nan, nan, -10}},
		{"heels up in standing", []float64{0, -20, -22, -10}, []float64{0, -20, -22, -10}},
	} {
		in := body.MeasuredPitch{Deg: tt.deg, SDDeg: []float64{1, 1, 1, 1}}
		got := flatInStanding(in, []bool{false, true, true, false})
		for i, v := range got.Deg {
			if !(math.Abs(v-tt.want[i]) < 1e-12) && !(math.IsNaN(v) && math.IsNaN(tt.want[i])) {
				t.Errorf("%s: %v, want %v", tt.name, got.Deg, tt.want)
				break
			}
		}
	}
}

// A foot on the floor is flat where its reading does not say for sure that the heel is up.
func TestFlatUnlessUp(t *testing.T) {
	nan := math.NaN()
	for _, tt := range []struct {
		name      string
		deg, want []float64
		airborne  int // sample in the air; -1: none
	}{
		{"noise", []float64{0, -1.2, -0.8, 0.3, -1}, []float64{0, 0, 0, 0.3, 0}, -1},
		{"heel up", []float64{0, -0.8, -3, -6, -1, 0}, []float64{0, -0.8, -3, -6, -1, 0}, -1},
		{"heel up, then noise", []float64{-3, -0.2, -1}, []float64{-3, -0.2, 0}, -1},
		{"nothing known", []float64{nan, nan}, []float64{nan, nan}, -1},
		{"about a flight", []float64{-1, 40, -1, 0}, []float64{-1, 40, -1, 0}, 1},
	} {
		in := body.MeasuredPitch{Deg: tt.deg, SDDeg: make([]float64, len(tt.deg))}
		airborne := make([]bool, len(tt.deg))
		for i := range tt.deg {
			in.SDDeg[i], airborne[i] = 0.8, i == tt.airborne
		}
		got := flatUnlessUp(in, airborne)
		for i, v := range got.Deg {
			if v != tt.want[i] && !(math.IsNaN(v) && math.IsNaN(tt.want[i])) {
				t.Errorf("%s: %v, want %v", tt.name, got.Deg, tt.want)
				break
			}
		}
	}
}
