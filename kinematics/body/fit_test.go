package body

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"holdfast/kinematics/signal"
)

// bodyScene is a body of known lengths doing squats, built joint by joint: the
// foot's ball planted, the heel perhaps coming up, a flight if asked for.
type bodyScene struct {
	FitInput
	truth    [NumAngles][]float64
	joints   [NumFitPoints]Path
	standEnd int
}

const sceneLegPx = 400.0

// newBodyScene returns n samples at 60 a second. heelDeg is how far the heel comes
// Up at the bottom; flight adds a ballistic stretch after the squat.
func newBodyScene(n int, heelDeg float64, flight bool) *bodyScene {
	s := &bodyScene{FitInput: FitInput{
		Facing: FacingRight, RateHz: 60, LegPx: sceneLegPx, CutoffHz: 8,
		Standing: make([]bool, n), Airborne: make([]bool, n),
	}}
	for a := range NumAngles {
		s.truth[a] = make([]float64, n)
	}
	for p := range NumFitPoints {
		s.Points[p] = Path{signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)}
		s.joints[p] = Path{signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)}
	}
	const (
		shankPx, thighPx, trunkPx = 205, 195, 220
		heelLever                 = BallLegLengths * sceneLegPx
		floorY                    = 1000.0
	)
	for i := range n {
		u := float64(i) / float64(n-1)
		down := signal.MinJerk((u-0.2)/0.2) - signal.MinJerk((u-0.5)/0.2)
		sh, th, tr := 3+27*down, 2+78*down, 4+36*down
		p := -heelDeg * (signal.MinJerk((u-0.32)/0.08) - signal.MinJerk((u-0.42)/0.08))
		lift := 0.0
		if flight && u > 0.75 && u < 0.85 {
			t := (u - 0.75) / 0.1
			lift = 160 * t * (1 - t)
			p = -120 * t * (1 - t)
			s.Airborne[i] = true
		}
		s.Standing[i] = u < 0.18
		s.truth[KneeFlexion][i], s.truth[HipFlexion][i] = sh+th, th+tr
		s.truth[ShankAngle][i], s.truth[TrunkLean][i] = sh, tr
		s.truth[ThighAngle][i] = th - 90
		s.truth[FootPitch][i], s.truth[AnkleDorsiflexion][i] = p, sh+p

		rad := math.Pi / 180
		turn := func(x, up float64) (float64, float64) {
			return x*math.Cos(p*rad) - up*math.Sin(p*rad), x*math.Sin(p*rad) + up*math.Cos(p*rad)
		}
		put := func(k FitPoint, x, up float64) {
			s.joints[k].X[i], s.joints[k].Y[i] = 600+x, floorY-up-lift
			s.Points[k].X[i], s.Points[k].Y[i] = 600+x, floorY-up-lift
		}
		x, up := turn(-heelLever, 0)
		put(FitHeel, x, up)
		x, up = 40, 4
		if s.Airborne[i] {
			x, up = turn(x, up)
		}
		put(FitToe, x, up)
		x, up = turn(-heelLever+25, 34)
		put(FitAnkle, x, up)
		x, up = x+shankPx*math.Sin(sh*rad), up+shankPx*math.Cos(sh*rad)
		put(FitKnee, x, up)
		x, up = x-thighPx*math.Sin(th*rad), up+thighPx*math.Cos(th*rad)
		put(FitHip, x, up)
		x, up = x+trunkPx*math.Sin(tr*rad), up+trunkPx*math.Cos(tr*rad)
		put(FitShoulder, x, up)
	}
	return s
}

// jitter adds white noise to every point.
func (s *bodyScene) jitter(sdPx float64, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 11))
	for p := range NumFitPoints {
		for i := range s.Points[p].X {
			s.Points[p].X[i] = s.joints[p].X[i] + sdPx*rng.NormFloat64()
			s.Points[p].Y[i] = s.joints[p].Y[i] + sdPx*rng.NormFloat64()
		}
	}
}

// hide takes a point away in the samples from..to-1.
func (s *bodyScene) hide(from, to int, points ...FitPoint) {
	for _, p := range points {
		for i := from; i < to; i++ {
			s.Points[p].X[i], s.Points[p].Y[i] = math.NaN(), math.NaN()
		}
	}
}

func fitScene(t testing.TB, in FitInput) Fitted {
	t.Helper()
	e, err := Fit(in)
	if err != nil {
		t.Fatalf("fitting: %v", err)
	}
	return e
}

// worst returns the largest difference between two slices.
func worst(a, b []float64) float64 {
	var w float64
	for i := range a {
		if d := math.Abs(a[i] - b[i]); d > w || math.IsNaN(d) {
			w = d
		}
	}
	return w
}

func meanError(a, b []float64) float64 {
	var sum float64
	for i := range a {
		sum += math.Abs(a[i]-b[i]) / float64(len(a))
	}
	return sum
}

// A body without noise comes back as it is.
func TestBodyExact(t *testing.T) {
	tests := []struct {
		name   string
		heel   float64
		flight bool
	}{{"flat foot", 0, false}, {"heel up", 12, false}, {"flight", 0, true}}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := newBodyScene(240, tt.heel, tt.flight)
			e := fitScene(t, s.FitInput)
			for p := range NumFitPoints {
				d := max(worst(e.Points[p].X, s.joints[p].X), worst(e.Points[p].Y, s.joints[p].Y))
				if !(d < 1e-6*sceneLegPx) {
					t.Errorf("%s: off by %.3g px", FitLandmarks[p], d)
				}
			}
			for a := range NumAngles {
				if d := worst(e.AnglesDeg[a], s.truth[a]); !(d < 1e-4) {
					t.Errorf("%s: off by %.3g degrees", a, d)
				}
			}
		})
	}
}

// With noise, the body's angles are nearer to the truth than those of the
// Points filtered one by one, at no angle worse, also at the bottom.
func TestBodyBeatsFilter(t *testing.T) {
	s := newBodyScene(240, 10, true)
	s.jitter(2, 5)
	e := fitScene(t, s.FitInput)
	lp, err := signal.NewLowpass(s.RateHz, s.CutoffHz)
	if err != nil {
		t.Fatal(err)
	}
	var limbs [NumFitPoints]Path
	for p := range NumFitPoints {
		limbs[p] = Path{lp.Smooth(s.Points[p].X), lp.Smooth(s.Points[p].Y), s.Points[p].SDPx}
	}
	var plain [NumAngles][]float64
	for i := range s.Airborne {
		var l Limb
		for p := range NumFitPoints {
			l[FitLandmarks[p]] = Point{X: limbs[p].X[i], Y: limbs[p].Y[i]}
		}
		for a, v := range AnglesOf(&l, s.Facing) {
			plain[a] = append(plain[a], v)
		}
	}
	for _, a := range []Angle{KneeFlexion, HipFlexion, ShankAngle, TrunkLean} {
		body, filter := meanError(e.AnglesDeg[a], s.truth[a]), meanError(plain[a], s.truth[a])
		t.Logf("%s: body %.3f°, filter %.3f°", a, body, filter)
		if body > filter {
			t.Errorf("%s: body %.3f°, filter %.3f°", a, body, filter)
		}
	}
	if d := meanError(e.AnglesDeg[FootPitch], s.truth[FootPitch]); d > 1 {
		t.Errorf("foot pitch off by %.2f°", d)
	}
}

// Points that jump away for a while do not pull the body along.
func TestBodyOutliers(t *testing.T) {
	s := newBodyScene(240, 0, false)
	s.jitter(1, 2)
	clean := fitScene(t, s.FitInput)
	for i := 60; i < 240; i += 30 { // the knee of the other leg, for three frames
		for j := i; j < i+3; j++ {
			s.Points[FitKnee].X[j] -= 60
			s.Points[FitAnkle].Y[j] -= 50
		}
	}
	e := fitScene(t, s.FitInput)
	for _, a := range []Angle{KneeFlexion, ShankAngle, AnkleDorsiflexion, HipFlexion} {
		if d := worst(e.AnglesDeg[a], clean.AnglesDeg[a]); d > 2.5 {
			t.Errorf("%s: moved by %.2f° (60 pixels on the shank are 17°)", a, d)
		}
	}
}

// A stretch without observation is bridged smoothly, and the further from the last
// observation the less sure.
func TestBodyBridgesGaps(t *testing.T) {
	s := newBodyScene(240, 0, false)
	s.jitter(1, 3)
	s.hide(58, 70, FitShoulder, FitHip, FitKnee, FitAnkle, FitHeel, FitToe)
	e := fitScene(t, s.FitInput)
	for a := range NumAngles {
		for i := 58; i < 70; i++ {
			if d := math.Abs(e.AnglesDeg[a][i] - s.truth[a][i]); !(d < 12) {
				t.Errorf("%s in sample %d: off by %.1f°", a, i, d)
			}
		}
	}
	for _, a := range []Angle{KneeFlexion, HipFlexion, ShankAngle, TrunkLean} {
		sd := e.SDDeg[a]
		for i := 58; i < 61; i++ {
			if !(sd[i+1] > sd[i]) {
				t.Errorf("%s: spread %.3f° in sample %d, then %.3f°", a, sd[i], i, sd[i+1])
			}
		}
		if !(sd[62] > 2*sd[50]) {
			t.Errorf("%s: spread %.3f° amid the gap, %.3f° before it", a, sd[62], sd[50])
		}
	}
	s = newBodyScene(240, 0, false)
	s.hide(0, 240, FitShoulder)
	e = fitScene(t, s.FitInput)
	if !math.IsNaN(e.AnglesDeg[TrunkLean][5]) || !math.IsNaN(e.AnglesDeg[HipFlexion][5]) {
		t.Error("a trunk that is never seen has a lean")
	}
	if d := worst(e.AnglesDeg[KneeFlexion], s.truth[KneeFlexion]); !(d < 1e-3) {
		t.Errorf("knee off by %.3g° without a shoulder", d)
	}
}

// Heels that are known to be shown lower than they are come back at their height.
func TestBodyHeelLag(t *testing.T) {
	lag := bodyNetwork().HeelLag
	s, shown := newBodyScene(240, 10, false), newBodyScene(240, 10*(1-lag), false)
	s.Points[FitHeel] = shown.Points[FitHeel]
	s.Points[FitAnkle] = shown.Points[FitAnkle]
	for i := range s.Points[FitAnkle].X { // the two scenes' shanks begin at different ankles
		s.Points[FitKnee].X[i], s.Points[FitKnee].Y[i] = s.joints[FitKnee].X[i], s.joints[FitKnee].Y[i]
	}
	s.HeelLag, s.HeelLagToDeg = lag, bodyNetwork().HeelLagToDeg
	e := fitScene(t, s.FitInput)
	for _, a := range []Angle{FootPitch, ShankAngle, AnkleDorsiflexion} {
		if d := worst(e.AnglesDeg[a], s.truth[a]); !(d < 0.01) {
			t.Errorf("%s: off by %.3g°", a, d)
		}
	}
}

// A clip mirrored, enlarged and moved gives the same body, mirrored, enlarged
// and moved.
func TestBodyFollowsThePicture(t *testing.T) {
	t.Parallel()
	s := newBodyScene(90, 8, true)
	s.jitter(1.5, 9)
	network := bodyNetwork()
	s.Offsets, s.Wander, s.FlatFootSDDeg = network.FitOffsets(), network.WanderLegs, network.FlatFootSDDeg
	want := fitScene(t, s.FitInput)
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.Float64Range(0.2, 4).Draw(t, "size")
		dx, dy := rapid.Float64Range(-2000, 2000).Draw(t, "dx"), rapid.Float64Range(-2000, 2000).Draw(t, "dy")
		mirror := 1.0
		in := s.FitInput
		if rapid.Bool().Draw(t, "mirror") {
			mirror, in.Facing = -1, FacingLeft
		}
		in.LegPx *= size
		place := func(p Path) Path {
			q := Path{signal.NaNs(len(p.X)), signal.NaNs(len(p.X)), p.SDPx}
			for i := range p.X {
				q.X[i], q.Y[i] = dx+mirror*size*p.X[i], dy+size*p.Y[i]
			}
			return q
		}
		for p := range NumFitPoints {
			in.Points[p] = place(s.Points[p])
		}
		got, err := Fit(in)
		if err != nil {
			t.Fatal(err)
		}
		for p := range NumFitPoints {
			w := place(want.Points[p])
			if d := max(worst(got.Points[p].X, w.X), worst(got.Points[p].Y, w.Y)); !(d < 1e-4*in.LegPx) {
				t.Errorf("%s: off by %.3g px", FitLandmarks[p], d)
			}
		}
		for a := range ShoulderFlexion { // the fitted body has no arms
			if d := worst(got.AnglesDeg[a], want.AnglesDeg[a]); !(d < 0.01) {
				t.Errorf("%s: off by %.3g°", a, d)
			}
			if d := worst(got.SDDeg[a], want.SDDeg[a]); !(d < 0.01) {
				t.Errorf("spread of %s: off by %.3g°", a, d)
			}
		}
	})
}

// The cost grows with the samples and not faster: a bounded number of poses for
// each, and equations of a bounded width.
func TestBodyLinearCost(t *testing.T) {
	for _, n := range []int{60, 240, 960} {
		s := newBodyScene(n, 5, false)
		s.jitter(1, 4)
		e := fitScene(t, s.FitInput)
		if each := float64(e.poses) / float64(n); each > bodyRounds+noiseRounds+2 {
			t.Errorf("%d samples: %.1f poses a sample", n, each)
		}
		f, err := newBodyFit(&s.FitInput)
		if err != nil {
			t.Fatal(err)
		}
		eq := newBordered(f.n*perSample, bodyWidth, perClip)
		if each := (len(eq.band) + len(eq.border)) / n; each != perSample*(bodyWidth+1+perClip) {
			t.Errorf("%d samples: %d numbers a sample", n, each)
		}
	}
}

// The spread that the fit states is the spread that repeating it shows, within a
// fifth (mean over the samples).
func TestBodySpread(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it fits eighty motions")
	}
	const times, n = 80, 90
	s := newBodyScene(n, 0, false)
	clear(s.Standing)
	var sum, squares, stated [NumAngles][]float64
	for a := range NumAngles {
		sum[a], squares[a], stated[a] = make([]float64, n), make([]float64, n), make([]float64, n)
	}
	for k := range times {
		s.jitter(2, uint64(100+k))
		e := fitScene(t, s.FitInput)
		for a := range NumAngles {
			for i := range n {
				sum[a][i] += e.AnglesDeg[a][i]
				squares[a][i] += sq(e.AnglesDeg[a][i])
				stated[a][i] += sq(e.SDDeg[a][i])
			}
		}
	}
	for _, a := range []Angle{KneeFlexion, HipFlexion, ShankAngle, TrunkLean, ThighAngle} {
		var seen, said float64
		for i := range n {
			seen += (squares[a][i] - sq(sum[a][i])/times) / (times - 1)
			said += stated[a][i] / times
		}
		if r := math.Sqrt(said / seen); r < 0.8 || r > 1.2 {
			t.Errorf("%s: stated %.3f°, shown %.3f°", a, math.Sqrt(said/n), math.Sqrt(seen/n))
		} else {
			t.Logf("%s: stated %.3f°, shown %.3f°", a, math.Sqrt(said/n), math.Sqrt(seen/n))
		}
	}
}

func TestBodyTooShort(t *testing.T) {
	s := newBodyScene(40, 0, false)
	s.hide(5, 40, FitKnee)
	if _, err := Fit(s.FitInput); !errors.Is(err, errBodyTooShort) {
		t.Errorf("got %v", err)
	}
	if _, err := Fit(FitInput{}); !errors.Is(err, errBodyTooShort) {
		t.Errorf("empty: got %v", err)
	}
}

// Whatever the points are, the fit gives numbers or an error.
func FuzzBody(f *testing.F) {
	f.Add([]byte{1, 2, 3}, 30, 60.0, 400.0)
	f.Add([]byte{0, 255, 254, 7, 9}, 12, 24.0, 1e-3)
	f.Add([]byte{}, 3, 0.0, math.NaN())
	f.Add([]byte{200, 200, 200, 1}, 64, 1e9, 1e8)
	network := bodyNetwork()
	f.Fuzz(func(t *testing.T, raw []byte, n int, rateHz, legPx float64) {
		n = max(0, min(n, 80))
		in := FitInput{RateHz: rateHz, LegPx: legPx, Standing: make([]bool, n), Airborne: make([]bool, n),
			Offsets: network.FitOffsets(), Wander: network.WanderLegs}
		at := 0
		next := func() float64 {
			if len(raw) == 0 {
				return 1
			}
			b := raw[at%len(raw)]
			at++
			switch b {
			case 255:
				return math.NaN()
			case 254:
				return math.Inf(1)
			case 253:
				return 1e300
			}
			return float64(b) * float64(1+at%7)
		}
		for p := range NumFitPoints {
			in.Points[p] = Path{signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)}
			for i := range n {
				in.Points[p].X[i], in.Points[p].Y[i], in.Points[p].SDPx[i] = next(), next(), next()
				in.Airborne[i] = in.Airborne[i] || int(math.Abs(in.Points[p].X[i]))%11 == 3
			}
		}
		e, err := Fit(in)
		if err != nil {
			return
		}
		for i := range n {
			if v := e.AnglesDeg[KneeFlexion][i] + e.SDDeg[KneeFlexion][i]; math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("sample %d: knee %v ± %v", i, e.AnglesDeg[KneeFlexion][i], e.SDDeg[KneeFlexion][i])
			}
		}
	})
}

// A measured pitch is believed over what is assumed of a network's heels and of a foot on
// the floor, but not where it stands alone against the points; without one nothing changes.
func TestFitTakesAMeasuredPitch(t *testing.T) {
	for _, heelDeg := range []float64{0, 2, 12} {
		s := newBodyScene(300, heelDeg, true)
		s.jitter(2, 5)
		// These points show all of a heel's rise, and a part is said to be hidden.
		s.HeelLag, s.HeelLagToDeg, s.FlatFootSDDeg, s.Wander = 0.5, 12, 1, 0.003
		free := fitScene(t, s.FitInput)
		s.Pitch = MeasuredPitch{}
		if again := fitScene(t, s.FitInput); worst(again.AnglesDeg[FootPitch], free.AnglesDeg[FootPitch]) != 0 {
			t.Error("a pitch that was never measured changes the fit")
		}
		rng := rand.New(rand.NewPCG(3, 4))
		s.Pitch = MeasuredPitch{signal.NaNs(300), signal.NaNs(300)}
		for i := range 300 {
			if i%50 < 40 {
				s.Pitch.Deg[i], s.Pitch.SDDeg[i] = s.truth[FootPitch][i]+0.2*rng.NormFloat64(), 0.3
			}
		}
		for _, i := range []int{30, 110, 180} {
			s.Pitch.Deg[i] -= 20
		}
		told := fitScene(t, s.FitInput)
		for i := range 300 {
			off := math.Abs(told.AnglesDeg[FootPitch][i] - s.truth[FootPitch][i])
			if s.Pitch.KnownAt(i) && off > 0.8 {
				t.Errorf("heel up by %g: sample %d: %.2f, want %.2f", heelDeg, i,
					told.AnglesDeg[FootPitch][i], s.truth[FootPitch][i])
			}
		}
		const bottom = 120
		if !(told.SDDeg[FootPitch][bottom] < 0.5) ||
			!(told.SDDeg[AnkleDorsiflexion][bottom] < free.SDDeg[AnkleDorsiflexion][bottom]) {
			t.Errorf("heel up by %g: pitch ± %.2f, ankle ± %.2f and %.2f without it", heelDeg, told.SDDeg[FootPitch][bottom],
				told.SDDeg[AnkleDorsiflexion][bottom], free.SDDeg[AnkleDorsiflexion][bottom])
		}
	}
}
