package measure

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// landingSim lands at 1 s and comes to rest restS later; the near foot ends so far
// forward, and takes one more step at stepS (0: none).
func landingSim(restS, forwardM, stepS float64) (*series, []rep) {
	const takeoff, contact = 0.6, 1.0
	b := bodySim{rateHz: 120, endS: 4, stand: trace.Span{FromS: 0, ToS: 0.4},
		flight: trace.Span{FromS: takeoff, ToS: contact}}
	b.at = func(t float64) figure {
		switch {
		case t < takeoff:
			return standing(4, 4, 4, 10)
		case t < contact:
			u := (t - takeoff) / (contact - takeoff)
			return standing(4, 4, 4, 10).moved(body.Vec{Fwd: forwardM * u, Up: 0.8 * u * (1 - u)})
		}
		d := easeAt(t, contact, contact+restS)
		f := standing(4+20*d, 4+60*d, 4+20*d, 10).moved(body.Vec{Fwd: forwardM, Up: 0})
		if stepS > 0 {
			f = f.moved(body.Vec{Fwd: 0.25 * easeAt(t, stepS, stepS+0.2), Up: 0})
		}
		return f
	}
	s, reps := b.series()
	r := &reps[0]
	r.BottomS, r.BottomEndS = 0.3, 0.5
	r.ContactS, r.LandingBottomS, r.EndS = contact, contact+restS, 3.8
	r.TimeSDS = events.TimeSDs{BottomS: 0.01, TakeoffS: 0.004, ContactS: 0.004}
	r.Angles[body.KneeFlexion].AtLandingBottomDeg = s.AnglesDeg[body.KneeFlexion][s.Index(r.LandingBottomS)]
	return s, reps
}

func TestLanding(t *testing.T) {
	sc := scaleFrom(ScaleMark, simMPP, 1e-6)
	for _, c := range []struct {
		name                    string
		restS, forwardM, stepS  float64
		steps                   int
		settleFrom, settleUntil float64
	}{
		// A movement of 0.4 s comes under the bounds shortly before its end.
		{"soft", 0.4, 0, 0, 0, 0.25, 0.4},
		{"long way down", 0.9, 0, 0, 0, 0.7, 0.9},
		{"forward", 0.4, 0.12, 0, 0, 0.25, 0.4},
		{"with a step", 0.4, 0, 2.0, 1, 0.25, 0.4}, // both feet at once
	} {
		t.Run(c.name, func(t *testing.T) {
			s, reps := landingSim(c.restS, c.forwardM, c.stepS)
			ls := landingsOf(s, reps, sc)
			if len(ls) != 1 {
				t.Fatalf("%d landings", len(ls))
			}
			l := ls[0]
			if math.Abs(l.ContactToBottomS.Value-c.restS) > 1e-9 || !(l.ContactToBottomS.SD > 0) {
				t.Errorf("contact to bottom %+v", l.ContactToBottomS)
			}
			if l.Steps != c.steps {
				t.Errorf("%d steps, want %d", l.Steps, c.steps)
			}
			if !(l.SettleS >= c.settleFrom && l.SettleS <= c.settleUntil) {
				t.Errorf("settles after %.3f s, want %.2f to %.2f", l.SettleS, c.settleFrom, c.settleUntil)
			}
			if math.Abs(l.ForwardDriftCm.Value-100*c.forwardM) > 1 {
				t.Errorf("drifts %.1f cm forward, want %.0f", l.ForwardDriftCm.Value, 100*c.forwardM)
			}
			if knee := l.AtContactDeg[body.KneeFlexion]; math.Abs(knee.Value-8) > 0.5 {
				t.Errorf("knee at contact %+v", knee)
			}
			if knee := l.AtBottomDeg[body.KneeFlexion]; math.Abs(knee.Value-88) > 0.5 {
				t.Errorf("knee at the bottom %+v", knee)
			}
			// A minimum-jerk movement of 80 degrees is fastest at 15/8 of its mean speed.
			if v, want := l.PeakVelocityDegS[body.KneeJoint], 80*1.875/c.restS; math.Abs(v-want) > 0.02*want {
				t.Errorf("peak velocity %.1f, want %.1f", v, want)
			}
			if !math.IsNaN(l.ToStandS) {
				t.Errorf("does not stand again, yet after %.2f s", l.ToStandS)
			}
		})
	}
}

func TestNeverSettles(t *testing.T) {
	s, reps := landingSim(0.4, 0, 0)
	for i := range s.VelocityDegS[body.KneeFlexion] {
		s.VelocityDegS[body.KneeFlexion][i] = 30 * math.Sin(float64(i))
	}
	if l := landingsOf(s, reps, Scale{MmPerPx: stats.Unknown()})[0]; !math.IsNaN(l.SettleS) || l.ForwardDriftCm.Known() {
		t.Errorf("a knee that never rests settles after %.2f s, drift %+v", l.SettleS, l.ForwardDriftCm)
	}
}

func TestTimeToFeet(t *testing.T) {
	// From kneeling: the knee on the floor, the shank level behind it.
	kneel := standing(4, 3, 5, 10)
	kneel[body.Knee] = body.Vec{Fwd: 0.05, Up: 0.05}
	kneel[body.Ankle] = body.Vec{Fwd: -0.38, Up: 0.06}
	kneel[body.Hip], kneel[body.Shoulder] = body.Vec{Fwd: 0.03, Up: 0.48}, body.Vec{Fwd: 0.05, Up: 0.98}
	up := standing(4, 3, 5, 10)
	b := bodySim{rateHz: 60, endS: 4, stand: trace.Span{FromS: 2.5, ToS: 4}}
	b.at = func(t float64) figure {
		u := easeAt(t, 1, 2.5)
		var f figure
		for k := range f {
			f[k] = kneel[k].Scale(1 - u).Add(up[k].Scale(u))
		}
		return f
	}
	s, _ := b.series()
	s.LegPx = 0.86 / simMPP
	got := TimeToFeet(&s.Motion, s.Stand)
	if !(math.Abs(got-1.4) <= 0.15) {
		t.Errorf("to the feet in %.2f s", got)
	}
	b.at = func(t float64) figure { return standing(4, 3, 5, 10) }
	s, _ = b.series()
	if got := TimeToFeet(&s.Motion, s.Stand); !math.IsNaN(got) {
		t.Errorf("stands all along, yet gets up in %.2f s", got)
	}
}

func TestFeetOnFloor(t *testing.T) {
	b := bodySim{rateHz: 60, endS: 4, stand: trace.Span{FromS: 0, ToS: 0.8}}
	const lift = 0.05
	b.at = func(t float64) figure {
		d := easeAt(t, 1, 2) - easeAt(t, 2.5, 3.5)
		f := standing(4+28*d, 4+92*d, 4+40*d, 10)
		// The heel comes up for a moment at the bottom.
		f[body.Heel].Up += lift * (easeAt(t, 1.8, 2) - easeAt(t, 2.4, 2.6))
		return f
	}
	s, reps := b.series()
	r := &reps[0]
	r.StartS, r.BottomS, r.BottomEndS, r.EndS = 1, 2, 2.5, 3.5
	r.Loaded = []trace.Span{{FromS: 1, ToS: 3.5}}
	for a := range body.NumAngles {
		r.Angles[a].AtBottomDeg, r.Angles[a].SDDeg = s.AnglesDeg[a][s.Index(2.2)], 1
	}
	sc := scaleFrom(ScaleMark, simMPP, 1e-6)
	f := feetOnFloor(s, reps, sc)[0]
	if math.Abs(f.Heel.MaxCm.Value-100*lift) > 0.2 || !f.Heel.Up || len(f.Heel.Spans) != 1 ||
		f.Heel.UpS < 0.4 || f.Heel.UpS > 0.9 {
		t.Errorf("heel %+v, up by %.0f mm", f.Heel, 1000*lift)
	}
	if f.Toe.Up || math.Abs(f.Toe.MaxPctFoot.Value) > 1 {
		t.Errorf("toe %+v", f.Toe)
	}
	if math.Abs(f.SlideCm.Value) > 0.2 {
		t.Errorf("slides %+v", f.SlideCm)
	}
	knee := standing(32, 96, 44, 10)[body.Knee].Fwd
	tip := 0.18 + 0.24*shoeBeyondToe
	if math.Abs(f.KneePastToeCm.Value-100*(knee-tip)) > 0.3 {
		t.Errorf("knee %.1f cm past the toe, want %.1f", f.KneePastToeCm.Value, 100*(knee-tip))
	}
	if math.Abs(f.ShankAtBottomDeg.Value-32) > 0.1 || math.Abs(f.ThighAtBottomDeg.Value-6) > 0.1 {
		t.Errorf("shank %+v, thigh %+v", f.ShankAtBottomDeg, f.ThighAtBottomDeg)
	}
	if f.HipCreaseBelowKnee != Yes {
		t.Errorf("hip crease below the knee: %s", f.HipCreaseBelowKnee)
	}
	for deg, want := range map[float64]Answer{70: No, 88: NotClear, 100: Yes} {
		b.at = func(float64) figure { return standing(30, deg, 40, 10) }
		s, reps := b.series()
		if got := feetOnFloor(s, reps, sc)[0].HipCreaseBelowKnee; got != want {
			t.Errorf("thigh at %.0f degrees from straight down: crease below the knee %s, want %s", deg, got, want)
		}
	}
}

// A heel's rise that the shoe's own picture did not tell is less sure, the more so the larger it is.
func TestGuessedHeelIsLessSure(t *testing.T) {
	b := bodySim{rateHz: 60, endS: 4, stand: trace.Span{FromS: 0, ToS: 0.8}}
	b.at = func(t float64) figure {
		d := easeAt(t, 1, 2) - easeAt(t, 2.5, 3.5)
		f := standing(4+28*d, 4+92*d, 4+40*d, 10)
		f[body.Heel].Up += 0.08 * (easeAt(t, 1.8, 2) - easeAt(t, 2.4, 2.6))
		return f
	}
	s, reps := b.series()
	r := &reps[0]
	r.StartS, r.BottomS, r.BottomEndS, r.EndS = 1, 2, 2.5, 3.5
	r.Loaded = []trace.Span{{FromS: 1, ToS: 3.5}}
	sc := scaleFrom(ScaleMark, simMPP, 1e-6)
	guessed := feetOnFloor(s, reps, sc)[0].Heel
	s.MeasuredPitch = body.MeasuredPitch{Deg: make([]float64, len(s.TimeS)), SDDeg: make([]float64, len(s.TimeS))}
	for i := range s.TimeS {
		s.MeasuredPitch.SDDeg[i] = 1
	}
	told := feetOnFloor(s, reps, sc)[0].Heel
	if told.MaxCm.Value != guessed.MaxCm.Value || math.Abs(told.MaxPctFoot.SD-100*riseSDPart) > 1e-9 {
		t.Errorf("told by the picture: %+v", told)
	}
	if want := math.Hypot(told.MaxCm.SD, guessedRisePart*told.MaxCm.Value); math.Abs(guessed.MaxCm.SD-want) > 0.01 {
		t.Errorf("guessed: %+v, want a spread of %.2f cm", guessed.MaxCm, want)
	}
	half := guessed.CmAt(guessed.MaxPctFoot.Value / 2)
	if want := math.Hypot(told.MaxCm.SD, guessedRisePart*half.Value); math.Abs(half.SD-want) > 0.01 {
		t.Errorf("half of it: %+v, want a spread of %.2f cm", half, want)
	}
	if of := HeelGuessPct(&s.Motion, math.NaN(), math.NaN()); of != 0 {
		t.Errorf("of a rise that is not known: %g", of)
	}
}

// The settle time by its own definition, on speeds that are given: hips under 0.1 m/s
// and knee under 20 degrees a second for half a second, counted from contact. Common
// practice, no source; Fransz et al. 2015 count 18 ways to take a time to stabilisation
// from a force plate, and this is none of them.
func TestSettleByDefinition(t *testing.T) {
	const rate, contact = 100.0, 1.0
	known := scaleFrom(ScaleMark, simMPP, 1e-6)
	usual := scaleFrom(ScaleLeg, simMPP, 1e-4)
	const legM = 0.86
	for _, c := range []struct {
		name  string
		scale Scale
		hipMS func(t float64) float64 // down
		knee  func(t float64) float64
		want  float64 // after contact; NaN: never
	}{
		{"hip comes to rest last", known, func(t float64) float64 { return stepDown(t, 1.40, 0.3, 0.09) },
			func(t float64) float64 { return stepDown(t, 1.30, 60, 19) }, 0.40},
		{"knee comes to rest last", known, func(t float64) float64 { return stepDown(t, 1.30, 0.3, 0.09) },
			func(t float64) float64 { return stepDown(t, 1.55, 60, 19) }, 0.55},
		{"not quite at rest", known, func(t float64) float64 { return stepDown(t, 1.30, 0.3, 0.11) },
			func(float64) float64 { return 0 }, math.NaN()},
		{"knee turns at 21", known, func(float64) float64 { return 0 }, func(float64) float64 { return 21 }, math.NaN()},
		{"one wobble begins the count again", known, func(float64) float64 { return 0 }, func(t float64) float64 {
			if t > 1.315 && t < 1.325 {
				return -25
			}
			return 0
		}, 0.33},
		// Without a scale: 0.12 leg lengths a second.
		{"no scale, under the bound", usual, func(float64) float64 { return 0.115 * legM },
			func(float64) float64 { return 0 }, 0},
		{"no scale, over the bound", usual, func(float64) float64 { return 0.125 * legM },
			func(float64) float64 { return 0 }, math.NaN()},
	} {
		t.Run(c.name, func(t *testing.T) {
			drop, last := 0.0, 0.0
			b := bodySim{rateHz: rate, endS: 3, stand: trace.Span{FromS: 0, ToS: 0.5},
				flight: trace.Span{FromS: 0.6, ToS: contact}}
			b.at = func(t float64) figure {
				drop += c.hipMS(t) * (t - last) // filmed in order of time
				last = t
				return standing(0, 0, 4, 10).moved(body.Vec{Fwd: 0, Up: -drop})
			}
			s, reps := b.series()
			s.LegPx = legM / simMPP
			for i, tm := range s.TimeS {
				s.VelocityDegS[body.KneeFlexion][i] = c.knee(tm)
			}
			r := &reps[0]
			r.ContactS, r.LandingBottomS, r.EndS = contact, 1.3, 2.9
			got := landingsOf(s, reps, c.scale)[0].SettleS
			if math.IsNaN(got) != math.IsNaN(c.want) || math.Abs(got-c.want) > 0.0151 {
				t.Errorf("settles after %.3f s, want %.2f", got, c.want)
			}
		})
	}
}

// stepDown is one value before a time and another from it on.
func stepDown(t, at, before, after float64) float64 {
	if t < at {
		return before
	}
	return after
}

// A landing dies away: the softer and the shorter its way, the less its end is known.
func TestLandingBottomIsKnownAsFarAsItsEndIsSharp(t *testing.T) {
	sc := scaleFrom(ScaleMark, simMPP, 1e-6)
	sd := func(restS, noisePx float64) float64 {
		s, reps := landingSim(restS, 0, 0)
		for i := range s.Points[body.Right][body.Hip].SDPx {
			s.Points[body.Right][body.Hip].SDPx[i] = noisePx
		}
		return landingsOf(s, reps, sc)[0].ContactToBottomS.SD
	}
	if a, b := sd(0.3, 1), sd(0.9, 1); !(b > 2*a) {
		t.Errorf("a landing of 0.3 s to %.3f s, one of 0.9 to %.3f s", a, b)
	}
	if a, b := sd(0.3, 0.5), sd(0.3, 4); !(b > 1.5*a) {
		t.Errorf("with quiet points to %.3f s, with rough ones to %.3f s", a, b)
	}
	if a := sd(0.35, 0.006*0.86/simMPP); a < 0.02 || a > 0.08 {
		t.Errorf("a usual landing to %.3f s", a)
	}
}
