package measure

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"holdfast/internal/handmade"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// figure is a body in metres: forward and up, the floor at 0.
type figure [body.NumLandmarks]body.Vec

// bodySim is a moving body whose every point is known exactly.
type bodySim struct {
	at     func(t float64) figure
	endS   float64
	rateHz float64
	stand  trace.Span
	flight trace.Span // zero: none
}

const simMPP = 0.003

// series films the body without any error. Both sides are in one place.
func (b *bodySim) series() (*series, []rep) {
	n := int(b.endS*b.rateHz) + 1
	s := &series{Calibration: handmade.Network(), Filled: make([]bool, n)}
	s.Missing = make([]bool, n)
	s.RateHz, s.NearSide, s.Facing, s.CutoffHz = b.rateHz, body.Right, body.FacingRight, 8
	s.HeelRise, s.HipHeight = make([]float64, n), make([]float64, n)
	for side := range 2 {
		for k := range body.NumLandmarks {
			s.Points[side][k] = body.Path{X: make([]float64, n), Y: make([]float64, n), SDPx: make([]float64, n)}
		}
	}
	for a := range body.NumAngles {
		s.AnglesDeg[a], s.SDDeg[a] = make([]float64, n), make([]float64, n)
	}
	first := b.at(0)
	leg := first[body.Hip].Sub(first[body.Knee]).Length() + first[body.Knee].Sub(first[body.Ankle]).Length()
	foot := first[body.Toe].Fwd - first[body.Heel].Fwd
	s.Stand = events.Stand{Found: true, Spans: []trace.Span{b.stand}, HipHeight: first[body.Hip].Up / leg}
	s.LegPx, s.FootLengthPx = leg/simMPP, foot/simMPP
	for i := range n {
		t := float64(i) / b.rateHz
		s.TimeS = append(s.TimeS, t)
		f := b.at(t)
		var limb body.Limb
		for k := range body.NumLandmarks {
			x, y := 400+f[k].Fwd/simMPP, 900-f[k].Up/simMPP
			limb[k] = body.Point{X: x, Y: y}
			for side := range 2 {
				s.Points[side][k].X[i], s.Points[side][k].Y[i] = x, y
			}
		}
		a := body.AnglesOf(&limb, body.FacingRight)
		for k := range body.NumAngles {
			s.AnglesDeg[k][i] = a[k]
		}
		s.HipHeight[i] = f[body.Hip].Up / leg
		s.HeelRise[i] = max(0, (f[body.Heel].Up-first[body.Heel].Up)/foot)
	}
	for a := range body.NumAngles {
		s.VelocityDegS[a] = signal.Velocity(s.AnglesDeg[a], b.rateHz)
	}
	nan := math.NaN()
	r := rep{RepTimes: events.RepTimes{Number: 1, Tempo: events.TempoFast, StartS: b.stand.ToS, BottomS: b.stand.ToS,
		BottomEndS: b.stand.ToS, EndS: b.endS, TakeoffS: nan, ContactS: nan, LandingBottomS: nan,
		TimeSDS: events.TimeSDs{BottomS: nan, TakeoffS: nan, ContactS: nan}}}
	if b.flight.DurationS() > 0 {
		r.TakeoffS, r.ContactS, r.FlightS, r.Tempo = b.flight.FromS, b.flight.ToS, b.flight.DurationS(), events.TempoJump
		r.LandingBottomS = b.endS
	}
	return s, []rep{r}
}

// standing builds a figure from the lean of its segments in degrees, heel and toe on
// the floor. The heel and toe point lie so high that the floor is found at 0.
func standing(shank, thigh, trunk, arm float64) figure {
	const shankM, thighM, trunkM, armM = 0.43, 0.43, 0.50, 0.28
	up := soleUnderPointsLegs * (shankM + thighM)
	var f figure
	f[body.Heel], f[body.Toe] = body.Vec{Fwd: -0.06, Up: up}, body.Vec{Fwd: 0.18, Up: up}
	f[body.Ankle] = body.Vec{Fwd: 0, Up: 0.09}
	lean := func(d, l float64) body.Vec { return body.Vec{Fwd: l * sinDeg(d), Up: l * cosDeg(d)} }
	f[body.Knee] = f[body.Ankle].Add(lean(shank, shankM))
	f[body.Hip] = f[body.Knee].Add(lean(-thigh, thighM))
	f[body.Shoulder] = f[body.Hip].Add(lean(trunk, trunkM))
	f[body.Ear] = f[body.Shoulder].Add(lean(trunk, 0.2))
	f[body.Elbow] = f[body.Shoulder].Add(lean(180-arm, armM))
	f[body.Wrist] = f[body.Elbow].Add(lean(180-arm-10, 0.25))
	return f
}

func (f figure) moved(by body.Vec) figure {
	for k := range f {
		f[k] = f[k].Add(by)
	}
	return f
}

// turned turns the figure about a point, forward to up.
func (f figure) turned(about body.Vec, rad float64) figure {
	sin, cos := math.Sincos(rad)
	for k := range f {
		d := f[k].Sub(about)
		f[k] = about.Add(body.Vec{Fwd: cos*d.Fwd - sin*d.Up, Up: sin*d.Fwd + cos*d.Up})
	}
	return f
}

// centre is the centre of mass, in metres.
func (f figure) centre(m body.MassModel) body.Vec {
	var at body.Vec
	for _, s := range m.Segments {
		at = at.Add(f[s.From].Add(f[s.To].Sub(f[s.From]).Scale(s.Centre)).Scale(s.Mass * s.Sides()))
	}
	return at.Scale(1 / m.TotalMass())
}

// pressure returns where the floor pushes and how hard, in parts of the weight, by
// Newton's and Euler's laws for each segment: the moments of all segments' inertia and
// weight about the origin of the floor must be those of a force that acts on the floor.
// It works on segment forces and moments from fine differences of the known motion, not
// on the centre of mass or its angular momentum.
func (b *bodySim) pressure(m body.MassModel, t float64) (fwd, load float64) {
	const h = 1e-3
	f0, f1, f2 := b.at(t-h), b.at(t), b.at(t+h)
	second := func(x0, x1, x2 float64) float64 { return (x0 - 2*x1 + x2) / (h * h) }
	var push body.Vec
	var moment float64 // about the origin, forward to up
	for _, s := range m.Segments {
		mass := s.Mass * s.Sides() / m.TotalMass()
		place := func(f *figure) body.Vec { return f[s.From].Add(f[s.To].Sub(f[s.From]).Scale(s.Centre)) }
		p0, p1, p2 := place(&f0), place(&f1), place(&f2)
		force := body.Vec{Fwd: mass * second(p0.Fwd, p1.Fwd, p2.Fwd),
			Up: mass * (second(p0.Up, p1.Up, p2.Up) + trace.GravityMS2)}
		d0, d1, d2 := f0[s.To].Sub(f0[s.From]), f1[s.To].Sub(f1[s.From]), f2[s.To].Sub(f2[s.From])
		turn := 0.0
		if l := d1.Length(); l > 0 {
			// Small turns from the sample in the middle.
			a0, a2 := math.Atan2(d1.Cross(d0), d1.Dot(d0)), math.Atan2(d1.Cross(d2), d1.Dot(d2))
			turn = mass * sq(s.Gyration*l) * second(a0, 0, a2)
		}
		push = push.Add(force)
		moment += p1.Cross(force) + turn
	}
	return moment / push.Up, push.Up / trace.GravityMS2
}

func easeAt(t, from, to float64) float64 { return signal.MinJerk(max(0, min(1, (t-from)/(to-from)))) }

// fallOver is a rigid body that tips over the tip of its foot: from rest, leaning by a
// hair, the turn follows from its moment of inertia about that point.
func fallOver(m body.MassModel, pivot body.Vec, startS, lean, endS float64) func(t float64) figure {
	f0 := standing(4, 4, 4, 10)
	// Lean the whole body, foot and all, until its centre is just past the pivot.
	lo, hi := 0.0, 1.0
	for range 60 {
		mid := (lo + hi) / 2
		if f0.turned(pivot, -mid).centre(m).Fwd < pivot.Fwd {
			lo = mid
		} else {
			hi = mid
		}
	}
	f0 = f0.turned(pivot, -hi-lean)
	var inertia float64
	for _, s := range m.Segments {
		d := f0[s.To].Sub(f0[s.From])
		r := f0[s.From].Add(d.Scale(s.Centre)).Sub(pivot)
		inertia += s.Mass * s.Sides() / m.TotalMass() * (r.Dot(r) + sq(s.Gyration*d.Length()))
	}
	c := f0.centre(m).Sub(pivot)
	accel := func(a float64) float64 { // a: turn so far, up to forward
		sin, cos := math.Sincos(-a)
		return trace.GravityMS2 * (cos*c.Fwd - sin*c.Up) / inertia
	}
	const dt = 1e-3
	turn := []float64{0}
	a, w := 0.0, 0.0
	for t := 0.0; t < endS-startS+0.1; t += dt {
		k1a, k1w := w, accel(a)
		k2a, k2w := w+dt/2*k1w, accel(a+dt/2*k1a)
		k3a, k3w := w+dt/2*k2w, accel(a+dt/2*k2a)
		k4a, k4w := w+dt*k3w, accel(a+dt*k3a)
		a += dt / 6 * (k1a + 2*k2a + 2*k3a + k4a)
		w += dt / 6 * (k1w + 2*k2w + 2*k3w + k4w)
		turn = append(turn, a)
	}
	return func(t float64) figure {
		u := (t - startS) / dt
		if u <= 0 {
			return f0
		}
		i := min(int(u), len(turn)-2)
		return f0.turned(pivot, -(turn[i] + (u-float64(i))*(turn[i+1]-turn[i])))
	}
}

// Where the floor pushes is known for each of these bodies: from segment forces, and
// for the fall from the point it turns about, where alone the floor can push.
func TestSupportPointOfKnownBodies(t *testing.T) {
	model := body.DeLevaMean()
	squat := func(u float64) figure { return standing(2+26*u, 2+78*u, 3+40*u, 10+70*u) }
	wave := func(t float64) float64 { return (1 - math.Cos(2*math.Pi*0.6*t)) / 2 }
	quietS := 1.5
	for _, c := range []struct {
		name     string
		body     bodySim
		from, to float64
		within   float64 // per cent of the foot, mean error
		moves    float64 // the static point is at least so wrong somewhere: the term matters
	}{
		{"quiet stand", bodySim{at: func(float64) figure { return standing(4, 3, 5, 10) }, endS: 3}, 0.2, 2.8, 1e-6, 0},
		{"held squat", bodySim{at: func(float64) figure { return squat(1) }, endS: 3}, 0.2, 2.8, 1e-6, 0},
		{"sinusoidal squat", bodySim{at: func(t float64) figure { return squat(wave(max(0, t-quietS))) }, endS: 6.5},
			1.2, 6.2, 1.5, 2},
		{"quick squat", bodySim{at: func(t float64) figure {
			return squat(easeAt(t, quietS, quietS+0.6) - easeAt(t, quietS+0.8, quietS+1.4))
		}, endS: 4}, 0.3, 3.7, 3, 10},
		{"push to a jump", bodySim{at: func(t float64) figure {
			return squat(0.8 * (easeAt(t, quietS, quietS+0.8) - easeAt(t, quietS+1, quietS+1.5)))
		}, endS: 4}, 0.3, 3.7, 3, 10},
		{"swinging arms", bodySim{at: func(t float64) figure {
			return standing(4, 3, 5, 60*wave(max(0, t-quietS)))
		}, endS: 6}, 0.3, 5.7, 1.5, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.body.rateHz, c.body.stand = 120, trace.Span{FromS: 0, ToS: quietS - 0.1}
			s, reps := c.body.series()
			sc := scaleFrom(ScaleMark, simMPP, 1e-9)
			sp := supportPoint(s, reps, model, sc)
			var sum, worstStatic, n float64
			for i, tm := range s.TimeS {
				if tm < c.from || tm > c.to {
					continue
				}
				fwd, load := c.body.pressure(model, tm)
				if load < 0.4 {
					continue // hardly on the floor
				}
				want := 100 * (fwd + 0.06 + 0.24*shoeBehindHeel) / (0.24 * (1 + shoeBehindHeel + shoeBeyondToe))
				if want < 0 || want > 100 {
					continue // no floor can push there: the motion is made up
				}
				if math.IsNaN(sp.Pct[i]) {
					t.Fatalf("no support point at %.2f s, where it is at %.1f %%", tm, want)
				}
				n++
				sum += math.Abs(sp.Pct[i] - want)
				worstStatic = max(worstStatic, math.Abs(sp.StaticPct[i]-want))
			}
			t.Logf("mean error %.2f %% of the foot over %.0f samples; centre of mass alone up to %.1f %% off", sum/n, n,
				worstStatic)
			if !(sum/n <= c.within) {
				t.Errorf("mean error %.2f %% of the foot, want at most %.2f", sum/n, c.within)
			}
			if worstStatic < c.moves {
				t.Errorf("the body moves too gently to test anything: %.1f %%", worstStatic)
			}
		})
	}
}

func TestSupportPointOfAFall(t *testing.T) {
	model := body.DeLevaMean()
	f := standing(0, 0, 0, 0)
	// The body turns about the floor under the toe point.
	pivot := body.Vec{Fwd: f[body.Toe].Fwd, Up: 0}
	const fallS, lean = 1.5, 0.008
	b := bodySim{at: fallOver(model, pivot, fallS, lean, 4), endS: 3.2, rateHz: 120, stand: trace.Span{FromS: 0, ToS: 1.4}}
	s, reps := b.series()
	// The heel is up all along; where the foot lies is known from a flat one.
	for i := range s.HeelRise {
		s.HeelRise[i] = 0
	}
	sc := scaleFrom(ScaleMark, simMPP, 1e-9)
	c := massCentreOf(s, reps, model)
	n := len(s.TimeS)
	foot := 0.24 / simMPP
	momentum := angularMomentum(&s.Motion, &c, soundFarSide(&s.Motion, s.View), model)
	lp, err := signal.NewLowpass(b.rateHz, 6)
	if err != nil {
		t.Fatal(err)
	}
	try := trySupport(&c, s.RateHz, momentum, sc.gravityPxS2(), lp, within(&s.Motion, s.Stand.Spans))
	pushed := 0
	for i := range n {
		if tm := s.TimeS[i]; tm < fallS+0.2 || tm > 3 {
			continue
		}
		// Heights count from the floor under the pivot.
		if try.load[i] < 0.5 {
			continue
		}
		at := (c.FwdPx[i] + c.originFwd + try.shift[i] - 400) * simMPP
		if off := math.Abs(at - pivot.Fwd); off > 0.03*foot*simMPP+0.004 {
			t.Errorf("at %.2f s the support point is %.1f cm from the point the body turns about", s.TimeS[i], 100*off)
		}
		if x := math.Abs(c.FwdPx[i]+c.originFwd-400)*simMPP - pivot.Fwd; x > 0.05 {
			pushed++
		}
	}
	if pushed < 10 {
		t.Errorf("the body hardly fell: %d samples", pushed)
	}
}

// In the air the centre of mass falls at g, moves forward evenly and keeps its energy,
// whatever the limbs do.
func TestFlightIsConserved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		num := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		model := body.DeLevaMean()
		flight := num("flight", 0.35, 0.6)
		v, forward := trace.GravityMS2*flight/2, num("forward", -0.5, 0.5)
		fold, swing, spin := num("fold", 0, 50), num("arms", 0, 90), num("spin", -0.5, 0.5)
		const takeoff = 1.0
		b := bodySim{rateHz: 240, endS: takeoff + flight + 0.5, stand: trace.Span{FromS: 0, ToS: 0.9},
			flight: trace.Span{FromS: takeoff, ToS: takeoff + flight}}
		b.at = func(tm float64) figure {
			u := tm - takeoff
			if u <= 0 {
				return standing(5, 5, 5, 10)
			}
			bend := math.Sin(math.Pi * min(1, u/flight))
			f := standing(5+fold*bend/2, 5+fold*bend, 5+fold*bend/3, 10+swing*bend)
			f = f.turned(f.centre(model), spin*min(u, flight))
			u = min(u, flight)
			return f.moved(standing(5, 5, 5, 10).centre(model).
				Add(body.Vec{Fwd: forward * u, Up: v*u - trace.GravityMS2*u*u/2}).Sub(f.centre(model)))
		}
		s, reps := b.series()
		c := massCentreOf(s, reps, model)
		f, ok := flyingOf(&s.Motion, &c, &reps[0].RepTimes)
		if !ok {
			t.Fatal("no flight found")
		}
		if g := f.fallPxS2 * simMPP; math.Abs(g-trace.GravityMS2) > 0.01+2*f.fallSEPxS2*simMPP {
			t.Errorf("falls at %.3f m/s^2", g)
		}
		if a := f.pushFwdPxS2 * simMPP; math.Abs(a) > 0.01+2*f.pushFwdSE*simMPP {
			t.Errorf("speeds up forward at %.3f m/s^2", a)
		}
		var lo, hi = math.Inf(1), math.Inf(-1)
		for i, tm := range s.TimeS {
			if tm < takeoff+0.02 || tm > takeoff+flight-0.02 {
				continue
			}
			e := simMPP*simMPP*(sq(c.VelFwdPxS[i])+sq(c.VelUpPxS[i]))/2 + trace.GravityMS2*simMPP*c.UpPx[i]
			lo, hi = min(lo, e), max(hi, e)
		}
		if hi-lo > 0.01 {
			t.Errorf("the energy changes by %.4f J/kg in the air", hi-lo)
		}
		sc, notices := findScale(s, reps, &c, ScaleOptions{})
		if math.Abs(sc.MetresPerPx()/simMPP-1) > 0.005 || len(notices) > 0 || !sc.Known {
			t.Errorf("the flight gives %.6f m/px, true %.6f", sc.MetresPerPx(), simMPP)
		}
	})
}

func TestSupportOverSpans(t *testing.T) {
	b := bodySim{at: func(float64) figure { return standing(4, 3, 5, 10) }, endS: 1, rateHz: 10,
		stand: trace.Span{FromS: 0, ToS: 1}}
	s, _ := b.series()
	nan := math.NaN()
	sp := Support{BandPct: [2]float64{25, 75}, SDPct: make([]float64, 11),
		Pct: []float64{10, 20, 30, 40, 50, 60, 70, 80, nan, nan, nan}}
	st := sp.Over(&s.Motion, trace.Span{FromS: 0, ToS: 0.75})
	if st.MeanPct.Value != 45 || math.Abs(st.BehindS-0.2) > 1e-12 || math.Abs(st.BeforeS-0.1) > 1e-12 ||
		st.KnownPart != 1 || math.Abs(st.OutsideS-0.3) > 1e-12 {
		t.Errorf("%+v", st)
	}
	if st.MinPct >= st.MaxPct {
		t.Errorf("%+v", st)
	}
	if st := sp.Over(&s.Motion, trace.Span{FromS: 0.85, ToS: 1}); st.MeanPct.Known() || st.OutsideS != 0 {
		t.Errorf("nothing known, yet %+v", st)
	}
}

// A clip that is mirrored is the same body: every number stays.
func TestSupportPointOfMirroredPictures(t *testing.T) {
	wave := func(t float64) float64 { return (1 - math.Cos(2*math.Pi*0.6*max(0, t-1))) / 2 }
	b := bodySim{rateHz: 60, endS: 4, stand: trace.Span{FromS: 0, ToS: 0.9}, at: func(t float64) figure {
		u := wave(t)
		return standing(2+26*u, 2+78*u, 3+40*u, 10+70*u)
	}}
	sc := scaleFrom(ScaleLeg, simMPP, 1e-9)
	s, reps := b.series()
	want := supportPoint(s, reps, body.DeLevaMale(), sc)
	mirrored, _ := b.series()
	mirrored.Facing = body.FacingLeft
	for side := range 2 {
		for k := range body.NumLandmarks {
			x := mirrored.Points[side][k].X
			for i := range x {
				x[i] = 720 - x[i]
			}
		}
	}
	got := supportPoint(mirrored, reps, body.DeLevaMale(), sc)
	for i := range want.Pct {
		if math.Abs(got.Pct[i]-want.Pct[i]) > 1e-6 {
			t.Fatalf("sample %d: %.3f %%, want %.3f", i, got.Pct[i], want.Pct[i])
		}
	}
}

// Nothing panics, and nothing is made up, when the athlete is hidden, the clip is empty or
// the reps have no times.
func TestBodyTakesAnything(t *testing.T) {
	nan := math.NaN()
	empty := &series{Motion: joints.Motion{Angles: joints.Angles{RateHz: 60}}}
	b := bodySim{rateHz: 60, endS: 1, stand: trace.Span{FromS: 0, ToS: 1},
		at: func(float64) figure { return standing(4, 3, 5, 10) }}
	hidden, _ := b.series()
	for side := range 2 {
		for k := range body.NumLandmarks {
			hidden.Points[side][k] = body.Path{X: signal.NaNs(61), Y: signal.NaNs(61), SDPx: signal.NaNs(61)}
		}
	}
	nearOnly, _ := b.series()
	for k := range body.NumLandmarks {
		nearOnly.Points[body.Left][k] = body.Path{X: signal.NaNs(61), Y: signal.NaNs(61), SDPx: signal.NaNs(61)}
	}
	noStand, _ := b.series()
	noStand.Stand = events.Stand{}
	timeless := rep{RepTimes: events.RepTimes{StartS: nan, BottomS: nan, BottomEndS: nan, EndS: nan, TakeoffS: nan,
		ContactS: nan, LandingBottomS: nan}}
	odd := rep{RepTimes: events.RepTimes{StartS: 5, BottomS: 3, BottomEndS: 4, EndS: 1, TakeoffS: 2, ContactS: 1,
		LandingBottomS: 9, FlightS: 0.4}}
	for name, s := range map[string]*series{"empty": empty, "hidden": hidden,
		"near side alone": nearOnly, "no stand": noStand} {
		for _, reps := range [][]rep{nil, {timeless}, {odd}, {odd, timeless, odd}} {
			c := massCentreOf(s, reps, body.DeLevaMean())
			sc, _ := findScale(s, reps, &c, ScaleOptions{HeightM: 1.8, MarkPx: 0, MarkM: 1})
			sp := supportPoint(s, reps, body.DeLevaMean(), sc)
			for i := range reps {
				SupportOf(&s.Motion, &reps[i].RepTimes, &sp)
			}
			jumpsOf(s, reps, &c, sc)
			landingsOf(s, reps, sc)
			feetOnFloor(s, reps, sc)
			TimeToFeet(&s.Motion, s.Stand)
			for i := range sp.Pct {
				if name == "hidden" && !math.IsNaN(sp.Pct[i]+c.UpPx[i]) {
					t.Fatalf("%s: a support point %.1f", name, sp.Pct[i])
				}
			}
		}
	}
	c := massCentreOf(nearOnly, nil, body.DeLevaMean())
	if c.FarSeenPart != 0 || math.IsNaN(c.UpPx[30]) {
		t.Errorf("the near side alone: %.2f seen, centre at %v", c.FarSeenPart, c.UpPx[30])
	}
}

// A network guesses the hidden shoulder and hip forward of where they are. The far
// side that the sums use lies behind the near one, however the guess strays, and by as
// much before it as a turned camera surely sees.
func TestHiddenTrunkLiesBehindTheNearSide(t *testing.T) {
	b := bodySim{at: func(float64) figure { return standing(30, 95, 40, 70) }, rateHz: 60, endS: 2,
		stand: trace.Span{FromS: 0, ToS: 1.9}}
	for _, c := range []struct {
		name    string
		strayPx float64
		facing  body.Facing
		view    trace.View
		acrossM float64
	}{
		{"as it is", 0, body.FacingRight, trace.View{}, 0},
		{"guessed forward", 20, body.FacingRight, trace.View{Known: true, YawDeg: 3, SDDeg: 4}, 0},
		{"guessed forward, mirrored", 20, body.FacingLeft, trace.View{}, 0},
		{"camera before the athlete", 20, body.FacingRight, trace.View{Known: true, YawDeg: 25.12, SDDeg: 4},
			math.Sin(20/body.DegPerRad) * shoulderWidth * 0.5},
		{"camera behind the athlete", 20, body.FacingRight, trace.View{Known: true, YawDeg: -25.12, SDDeg: 4},
			-math.Sin(20/body.DegPerRad) * shoulderWidth * 0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, reps := b.series()
			for side := range 2 {
				for k := range body.NumLandmarks {
					p := &s.Points[side][k]
					for i := range p.X {
						x := p.X[i]
						if body.Side(side) != s.NearSide && (k == body.Shoulder || k == body.Hip) {
							x += c.strayPx
						}
						if c.facing == body.FacingLeft {
							x = 720 - x
						}
						p.X[i] = x
					}
				}
			}
			s.Facing, s.View = c.facing, c.view
			far, near := soundFarSide(&s.Motion, s.View)[body.Shoulder], s.Points[s.NearSide][body.Shoulder]
			const i = 60
			at := body.Sagittal(far.X[i], far.Y[i], s.Facing).Sub(body.Sagittal(near.X[i], near.Y[i], s.Facing))
			if math.Abs(at.Fwd*simMPP-c.acrossM) > 1e-3 || math.Abs(at.Up*simMPP) > 1e-3 {
				t.Errorf("the far shoulder is %.1f mm before the near one, %.1f over it, want %.1f", 1000*at.Fwd*simMPP,
					1000*at.Up*simMPP, 1000*c.acrossM)
			}
			if m := massCentreOf(s, reps, body.DeLevaMean()); c.acrossM == 0 {
				want := standing(30, 95, 40, 70).centre(body.DeLevaMean())
				got := (m.FwdPx[i]) * simMPP // counted from the near ankle, which is at 0
				if math.Abs(got-want.Fwd) > 1e-3 {
					t.Errorf("centre of mass %.1f mm forward, want %.1f", 1000*got, 1000*want.Fwd)
				}
			}
		})
	}
}

// An interval of where the weight acts ends at the foot's ends.
func TestOnFoot(t *testing.T) {
	for _, tt := range []struct{ of, want [2]float64 }{
		{[2]float64{-8, 37}, [2]float64{0, 37}}, {[2]float64{40, 60}, [2]float64{40, 60}},
		{[2]float64{70, 112}, [2]float64{70, 100}},
	} {
		if got := OnFoot(tt.of); got != tt.want {
			t.Errorf("%v: %v, want %v", tt.of, got, tt.want)
		}
	}
	if got := OnFoot([2]float64{math.NaN(), math.NaN()}); !math.IsNaN(got[0]) || !math.IsNaN(got[1]) {
		t.Errorf("nothing known: %v", got)
	}
}

// Where the weight leaps along the foot from one sample to the next, neither is known; what is as unsure as that, or
// beside an unknown sample, stays.
func TestLeapsAreForgotten(t *testing.T) {
	nan := math.NaN()
	sp := Support{Pct: []float64{40, 41, 39, 4, nan, 30, 60}, SDPct: []float64{6, 6, 7, 8, nan, 12, 12}}
	sp.forgetLeaps()
	for i, want := range []float64{40, 41, nan, nan, nan, 30, 60} {
		gone := math.IsNaN(want)
		if sp.Pct[i] != want && !gone || math.IsNaN(sp.Pct[i]) != gone || math.IsNaN(sp.SDPct[i]) != gone {
			t.Errorf("sample %d: %.0f %% (%.0f), want %.0f", i, sp.Pct[i], sp.SDPct[i], want)
		}
	}
}
