package kinematics

import (
	"errors"
	"holdfast/kinematics/signal"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// bodyScene is a body of known lengths doing squats, built joint by joint: the
// foot's ball planted, the heel perhaps coming up, a flight if asked for.
type bodyScene struct {
	bodyInput
	truth    [NumAngles][]float64
	joints   [numBodyPoints]Path
	standEnd int
}

const sceneLegPx = 400.0

// newBodyScene returns n samples at 60 a second. heelDeg is how far the heel comes
// up at the bottom; flight adds a ballistic stretch after the squat.
func newBodyScene(n int, heelDeg float64, flight bool) *bodyScene {
	s := &bodyScene{bodyInput: bodyInput{
		facing: FacingRight, rateHz: 60, legPx: sceneLegPx, cutoffHz: 8,
		standing: make([]bool, n), airborne: make([]bool, n),
	}}
	for a := range NumAngles {
		s.truth[a] = make([]float64, n)
	}
	for p := range numBodyPoints {
		s.points[p] = Path{signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)}
		s.joints[p] = Path{signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)}
	}
	const (
		shankPx, thighPx, trunkPx = 205, 195, 220
		heelLever                 = ballLegLengths * sceneLegPx
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
			s.airborne[i] = true
		}
		s.standing[i] = u < 0.18
		s.truth[KneeFlexion][i], s.truth[HipFlexion][i] = sh+th, th+tr
		s.truth[ShankAngle][i], s.truth[TrunkLean][i] = sh, tr
		s.truth[ThighAngle][i] = th - 90
		s.truth[FootPitch][i], s.truth[AnkleDorsiflexion][i] = p, sh+p

		rad := math.Pi / 180
		turn := func(x, up float64) (float64, float64) {
			return x*math.Cos(p*rad) - up*math.Sin(p*rad), x*math.Sin(p*rad) + up*math.Cos(p*rad)
		}
		put := func(k bodyPoint, x, up float64) {
			s.joints[k].X[i], s.joints[k].Y[i] = 600+x, floorY-up-lift
			s.points[k].X[i], s.points[k].Y[i] = 600+x, floorY-up-lift
		}
		x, up := turn(-heelLever, 0)
		put(bodyHeel, x, up)
		x, up = 40, 4
		if s.airborne[i] {
			x, up = turn(x, up)
		}
		put(bodyToe, x, up)
		x, up = turn(-heelLever+25, 34)
		put(bodyAnkle, x, up)
		x, up = x+shankPx*math.Sin(sh*rad), up+shankPx*math.Cos(sh*rad)
		put(bodyKnee, x, up)
		x, up = x-thighPx*math.Sin(th*rad), up+thighPx*math.Cos(th*rad)
		put(bodyHip, x, up)
		x, up = x+trunkPx*math.Sin(tr*rad), up+trunkPx*math.Cos(tr*rad)
		put(bodyShoulder, x, up)
	}
	return s
}

// jitter adds white noise to every point.
func (s *bodyScene) jitter(sdPx float64, seed uint64) {
	rng := rand.New(rand.NewPCG(seed, 11))
	for p := range numBodyPoints {
		for i := range s.points[p].X {
			s.points[p].X[i] = s.joints[p].X[i] + sdPx*rng.NormFloat64()
			s.points[p].Y[i] = s.joints[p].Y[i] + sdPx*rng.NormFloat64()
		}
	}
}

// hide takes a point away in the samples from..to-1.
func (s *bodyScene) hide(from, to int, points ...bodyPoint) {
	for _, p := range points {
		for i := from; i < to; i++ {
			s.points[p].X[i], s.points[p].Y[i] = math.NaN(), math.NaN()
		}
	}
}

func fitScene(t testing.TB, in bodyInput) bodyEstimate {
	t.Helper()
	e, err := smoothBody(in)
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
			e := fitScene(t, s.bodyInput)
			for p := range numBodyPoints {
				d := max(worst(e.points[p].X, s.joints[p].X), worst(e.points[p].Y, s.joints[p].Y))
				if !(d < 1e-6*sceneLegPx) {
					t.Errorf("%s: off by %.3g px", bodyLandmark[p], d)
				}
			}
			for a := range NumAngles {
				if d := worst(e.anglesDeg[a], s.truth[a]); !(d < 1e-4) {
					t.Errorf("%s: off by %.3g degrees", a, d)
				}
			}
		})
	}
}

// With noise, the body's angles are nearer to the truth than those of the
// points filtered one by one, at no angle worse, also at the bottom.
func TestBodyBeatsFilter(t *testing.T) {
	s := newBodyScene(240, 10, true)
	s.jitter(2, 5)
	e := fitScene(t, s.bodyInput)
	lp, err := signal.NewLowpass(s.rateHz, s.cutoffHz)
	if err != nil {
		t.Fatal(err)
	}
	var limbs [numBodyPoints]Path
	for p := range numBodyPoints {
		limbs[p] = Path{lp.Smooth(s.points[p].X), lp.Smooth(s.points[p].Y), s.points[p].SDPx}
	}
	var plain [NumAngles][]float64
	for i := range s.airborne {
		var l Limb
		for p := range numBodyPoints {
			l[bodyLandmark[p]] = Point{X: limbs[p].X[i], Y: limbs[p].Y[i]}
		}
		for a, v := range AnglesOf(&l, s.facing) {
			plain[a] = append(plain[a], v)
		}
	}
	for _, a := range []Angle{KneeFlexion, HipFlexion, ShankAngle, TrunkLean} {
		body, filter := meanError(e.anglesDeg[a], s.truth[a]), meanError(plain[a], s.truth[a])
		t.Logf("%s: body %.3f°, filter %.3f°", a, body, filter)
		if body > filter {
			t.Errorf("%s: body %.3f°, filter %.3f°", a, body, filter)
		}
	}
	if d := meanError(e.anglesDeg[FootPitch], s.truth[FootPitch]); d > 1 {
		t.Errorf("foot pitch off by %.2f°", d)
	}
}

// Points that jump away for a while do not pull the body along.
func TestBodyOutliers(t *testing.T) {
	s := newBodyScene(240, 0, false)
	s.jitter(1, 2)
	clean := fitScene(t, s.bodyInput)
	for i := 60; i < 240; i += 30 { // the knee of the other leg, for three frames
		for j := i; j < i+3; j++ {
			s.points[bodyKnee].X[j] -= 60
			s.points[bodyAnkle].Y[j] -= 50
		}
	}
	e := fitScene(t, s.bodyInput)
	for _, a := range []Angle{KneeFlexion, ShankAngle, AnkleDorsiflexion, HipFlexion} {
		if d := worst(e.anglesDeg[a], clean.anglesDeg[a]); d > 2.5 {
			t.Errorf("%s: moved by %.2f° (60 pixels on the shank are 17°)", a, d)
		}
	}
}

// A stretch without sight is bridged smoothly, and the further from the last
// sight the less sure.
func TestBodyBridgesGaps(t *testing.T) {
	s := newBodyScene(240, 0, false)
	s.jitter(1, 3)
	s.hide(58, 70, bodyShoulder, bodyHip, bodyKnee, bodyAnkle, bodyHeel, bodyToe)
	e := fitScene(t, s.bodyInput)
	for a := range NumAngles {
		for i := 58; i < 70; i++ {
			if d := math.Abs(e.anglesDeg[a][i] - s.truth[a][i]); !(d < 12) {
				t.Errorf("%s in sample %d: off by %.1f°", a, i, d)
			}
		}
	}
	for _, a := range []Angle{KneeFlexion, HipFlexion, ShankAngle, TrunkLean} {
		sd := e.sdDeg[a]
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
	s.hide(0, 240, bodyShoulder)
	e = fitScene(t, s.bodyInput)
	if !math.IsNaN(e.anglesDeg[TrunkLean][5]) || !math.IsNaN(e.anglesDeg[HipFlexion][5]) {
		t.Error("a trunk that is never seen has a lean")
	}
	if d := worst(e.anglesDeg[KneeFlexion], s.truth[KneeFlexion]); !(d < 1e-3) {
		t.Errorf("knee off by %.3g° without a shoulder", d)
	}
}

// Heels that are known to be shown lower than they are come back at their height.
func TestBodyHeelLag(t *testing.T) {
	lag := testNetwork().HeelLag
	s, shown := newBodyScene(240, 10, false), newBodyScene(240, 10*(1-lag), false)
	s.points[bodyHeel] = shown.points[bodyHeel]
	s.points[bodyAnkle] = shown.points[bodyAnkle]
	for i := range s.points[bodyAnkle].X { // the two scenes' shanks begin at different ankles
		s.points[bodyKnee].X[i], s.points[bodyKnee].Y[i] = s.joints[bodyKnee].X[i], s.joints[bodyKnee].Y[i]
	}
	s.heelLag, s.heelLagToDeg = lag, testNetwork().HeelLagToDeg
	e := fitScene(t, s.bodyInput)
	for _, a := range []Angle{FootPitch, ShankAngle, AnkleDorsiflexion} {
		if d := worst(e.anglesDeg[a], s.truth[a]); !(d < 0.01) {
			t.Errorf("%s: off by %.3g°", a, d)
		}
	}
}

// In a whole analysis the body is at least as near to the truth as the filter,
// leaves what was lost for long unknown, and gives way to the filter where no body
// can be fitted.
func TestSmoothers(t *testing.T) {
	for _, name := range []string{"slow", "fast", "jump"} {
		clip := loadClip(t, name)
		obs := clip.observations(networkLike)
		_, _, body := clip.errors(analyze(t, obs, Options{Smoother: SmootherBody}).series, obs)
		_, _, filter := clip.errors(analyze(t, obs, Options{Smoother: SmootherFilter}).series, obs)
		t.Logf("%s: ankle off by %.2f° fitted, %.2f° filtered", name, body, filter)
		if body > filter+0.1 {
			t.Errorf("%s: ankle off by %.2f° fitted, %.2f° filtered", name, body, filter)
		}
	}
	clip := loadClip(t, "slow")
	obs := clip.observations(networkLike)
	for i := 100; i < 130; i++ {
		for k := range NumLandmarks {
			obs[i].Points[Right][k] = MissingPoint()
		}
	}
	s := analyze(t, obs, Options{}).series
	for _, a := range []Angle{KneeFlexion, AnkleDorsiflexion, TrunkLean} {
		if v := s.AnglesDeg[a][s.Index(obs[115].TimeS)]; !math.IsNaN(v) {
			t.Errorf("%s where the athlete was lost: %.1f°", a, v)
		}
	}
	tr := &Trace{TimeS: make([]float64, 3), Filled: []bool{true, true, true}}
	in := bodyInputOf(tr, make([]bool, 3), make([]bool, 3), smoothing{network: &Calibration{}, byHand: &heldSamples{}})
	if _, err := smoothBody(in); err == nil {
		t.Error("a body of three empty samples")
	}
}

// A clip mirrored, enlarged and moved gives the same body, mirrored, enlarged
// and moved.
func TestBodyFollowsThePicture(t *testing.T) {
	t.Parallel()
	s := newBodyScene(90, 8, true)
	s.jitter(1.5, 9)
	network := testNetwork()
	s.offsets, s.wander, s.flatFootSDDeg = network.bodyOffsets(), network.WanderLegs, network.FlatFootSDDeg
	want := fitScene(t, s.bodyInput)
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.Float64Range(0.2, 4).Draw(t, "size")
		dx, dy := rapid.Float64Range(-2000, 2000).Draw(t, "dx"), rapid.Float64Range(-2000, 2000).Draw(t, "dy")
		mirror := 1.0
		in := s.bodyInput
		if rapid.Bool().Draw(t, "mirror") {
			mirror, in.facing = -1, FacingLeft
		}
		in.legPx *= size
		place := func(p Path) Path {
			q := Path{signal.NaNs(len(p.X)), signal.NaNs(len(p.X)), p.SDPx}
			for i := range p.X {
				q.X[i], q.Y[i] = dx+mirror*size*p.X[i], dy+size*p.Y[i]
			}
			return q
		}
		for p := range numBodyPoints {
			in.points[p] = place(s.points[p])
		}
		got, err := smoothBody(in)
		if err != nil {
			t.Fatal(err)
		}
		for p := range numBodyPoints {
			w := place(want.points[p])
			if d := max(worst(got.points[p].X, w.X), worst(got.points[p].Y, w.Y)); !(d < 1e-4*in.legPx) {
				t.Errorf("%s: off by %.3g px", bodyLandmark[p], d)
			}
		}
		for a := range NumAngles {
			if d := worst(got.anglesDeg[a], want.anglesDeg[a]); !(d < 0.01) {
				t.Errorf("%s: off by %.3g°", a, d)
			}
			if d := worst(got.sdDeg[a], want.sdDeg[a]); !(d < 0.01) {
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
		e := fitScene(t, s.bodyInput)
		if each := float64(e.poses) / float64(n); each > bodyRounds+noiseRounds+2 {
			t.Errorf("%d samples: %.1f poses a sample", n, each)
		}
		f, err := newBodyFit(&s.bodyInput)
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
	const times, n = 80, 90
	s := newBodyScene(n, 0, false)
	clear(s.standing)
	var sum, squares, stated [NumAngles][]float64
	for a := range NumAngles {
		sum[a], squares[a], stated[a] = make([]float64, n), make([]float64, n), make([]float64, n)
	}
	for k := range times {
		s.jitter(2, uint64(100+k))
		e := fitScene(t, s.bodyInput)
		for a := range NumAngles {
			for i := range n {
				sum[a][i] += e.anglesDeg[a][i]
				squares[a][i] += sq(e.anglesDeg[a][i])
				stated[a][i] += sq(e.sdDeg[a][i])
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
	s.hide(5, 40, bodyKnee)
	if _, err := smoothBody(s.bodyInput); !errors.Is(err, errBodyTooShort) {
		t.Errorf("got %v", err)
	}
	if _, err := smoothBody(bodyInput{}); !errors.Is(err, errBodyTooShort) {
		t.Errorf("empty: got %v", err)
	}
}

// Whatever the points are, the fit gives numbers or an error.
func FuzzBody(f *testing.F) {
	f.Add([]byte{1, 2, 3}, 30, 60.0, 400.0)
	f.Add([]byte{0, 255, 254, 7, 9}, 12, 24.0, 1e-3)
	f.Add([]byte{}, 3, 0.0, math.NaN())
	f.Add([]byte{200, 200, 200, 1}, 64, 1e9, 1e8)
	network := testNetwork()
	f.Fuzz(func(t *testing.T, raw []byte, n int, rateHz, legPx float64) {
		n = max(0, min(n, 80))
		in := bodyInput{rateHz: rateHz, legPx: legPx, standing: make([]bool, n), airborne: make([]bool, n),
			offsets: network.bodyOffsets(), wander: network.WanderLegs}
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
		for p := range numBodyPoints {
			in.points[p] = Path{signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)}
			for i := range n {
				in.points[p].X[i], in.points[p].Y[i], in.points[p].SDPx[i] = next(), next(), next()
				in.airborne[i] = in.airborne[i] || int(math.Abs(in.points[p].X[i]))%11 == 3
			}
		}
		e, err := smoothBody(in)
		if err != nil {
			return
		}
		for i := range n {
			if v := e.anglesDeg[KneeFlexion][i] + e.sdDeg[KneeFlexion][i]; math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("sample %d: knee %v ± %v", i, e.anglesDeg[KneeFlexion][i], e.sdDeg[KneeFlexion][i])
			}
		}
	})
}
