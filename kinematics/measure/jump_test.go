package measure

import (
	"errors"
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// h = g t^2/8 and v = g t/2 with g = 9.81; the flight-time method as in published jump
// tests, the values worked out by hand.
func TestHeightFromFlightTime(t *testing.T) {
	for _, c := range []struct{ s, m, v float64 }{
		{.20, .049050, .9810}, {.30, .1103625, 1.4715}, {.40, .196200, 1.9620}, {.45, .24831562, 2.20725},
		{.50, .3065625, 2.4525}, {.60, .441450, 2.9430}, {.70, .6008625, 3.4335}, {.4946193668, .30, 2.4261079943},
	} {
		if h := JumpHeightM(c.s); math.Abs(h-c.m) > 1e-8 {
			t.Errorf("%.3f s: %.8f m, want %.8f", c.s, h, c.m)
		}
		if v := takeoffVelocityMS(c.s); math.Abs(v-c.v) > 1e-8 {
			t.Errorf("%.3f s: %.6f m/s, want %.6f", c.s, v, c.v)
		}
	}
}

// What a whole number of frames leaves open, at a flight of half a second: worked out by
// hand from the same formula.
func TestFrameErrorOfAFlight(t *testing.T) {
	for _, c := range []struct{ rate, plus, minus, sd float64 }{
		{24, 53.223, -48.965, 20.859}, {30, 42.238, -39.512, 16.687}, {60, 20.778, -20.097, 8.344},
		{120, 10.304, -10.134, 4.172}, {240, 5.131, -5.088, 2.086},
	} {
		h := JumpHeightM(.5)
		short, long := flightFrameBoundsS(int(c.rate/2), c.rate)
		if got := 1000 * (JumpHeightM(long) - h); math.Abs(got-c.plus) > 1e-3 {
			t.Errorf("%.0f/s: one frame more is %.3f mm, want %.3f", c.rate, got, c.plus)
		}
		if got := 1000 * (JumpHeightM(short) - h); math.Abs(got-c.minus) > 1e-3 {
			t.Errorf("%.0f/s: one frame less is %.3f mm, want %.3f", c.rate, got, c.minus)
		}
		if got := 1000 * trace.GravityMS2 * .5 / 4 * flightFrameSDS(c.rate); math.Abs(got-c.sd) > 1e-3 {
			t.Errorf("%.0f/s: SD %.3f mm, want %.3f", c.rate, got, c.sd)
		}
	}
	if h := JumpHeightM(60.0 / 120); math.Abs(h-0.3065625) > 1e-12 {
		t.Errorf("60 frames of 120: %.9f m", h)
	}
	if lo, hi := flightFrameBoundsS(30, 60); math.Abs(JumpHeightM(lo)-0.286465625) > 1e-9 ||
		math.Abs(JumpHeightM(hi)-0.327340625) > 1e-9 {
		t.Errorf("30 frames of 60: %.9f to %.9f m", JumpHeightM(lo), JumpHeightM(hi))
	}
}

// Flight 0.5 s, contact 0.2 s: reactive strength index 1.5328125 m/s; time to take-off
// 0.8 s: modified index 0.383203125. Index = height over contact time as in Healy et al.
// 2017, modified as in Ebben & Petushek 2010 (from memory).
func TestReactiveStrength(t *testing.T) {
	h := stats.Estimate{Value: JumpHeightM(.5), SD: 0.01}
	if r := ratio(h, stats.Estimate{Value: .2, SD: .01}); math.Abs(r.Value-1.5328125) > 1e-12 || !(r.SD > 0) {
		t.Errorf("index %+v", r)
	}
	if r := ratio(h, stats.Estimate{Value: .8, SD: .01}); math.Abs(r.Value-0.383203125) > 1e-12 {
		t.Errorf("modified index %+v", r)
	}
	if r := ratio(h, stats.Estimate{Value: 0, SD: 1}); r.Known() {
		t.Errorf("no contact, yet index %+v", r)
	}
}

// jumpSim jumps with a flight that ends lower than it began: v0 up, so many centimetres
// lower at contact. bend folds the body in the air without moving its centre.
func jumpSim(rateHz, riseM, lowerM float64) (b bodySim, takeoffS, contactS float64) {
	model := body.DeLevaMean()
	v := math.Sqrt(2 * trace.GravityMS2 * riseM)
	flightS := v/trace.GravityMS2 + math.Sqrt(2*(riseM+lowerM)/trace.GravityMS2)
	const takeoff, pushS = 1.5, 0.4
	tall := standing(2, 2, 2, 10)
	tall[body.Heel].Up += 0.05
	// The knees bend for the landing until the toes are on the floor.
	fold := func(u float64) figure { return standing(2+20*u, 2+50*u, 2+20*u, 10) }
	low := 0.0
	for fold(low).centre(model).Up > tall.centre(model).Up-lowerM {
		low += 1e-4
	}
	b = bodySim{rateHz: rateHz, endS: takeoff + flightS + 1.5, stand: trace.Span{FromS: 0, ToS: 0.9},
		flight: trace.Span{FromS: takeoff, ToS: takeoff + flightS}}
	c0 := tall.centre(model)
	b.at = func(t float64) figure {
		u := t - takeoff
		switch {
		case u <= -pushS:
			return tall
		case u <= 0:
			// The body comes up at v, from a bend that ends as it takes off.
			return tall.moved(body.Vec{Fwd: 0, Up: 0})
		case u < flightS:
			f := fold(low * u / flightS)
			return f.moved(c0.Add(body.Vec{Fwd: 0, Up: v*u - trace.GravityMS2*u*u/2}).Sub(f.centre(model)))
		}
		return fold(low)
	}
	return b, takeoff, takeoff + flightS
}

// A centre of mass 5 cm lower at contact: a true rise of 0.30 m reads 0.324518517 by
// flight time (worked out by hand).
func TestFoldedLandingLengthensTheFlight(t *testing.T) {
	b, takeoff, contact := jumpSim(240, 0.30, 0.05)
	if h := JumpHeightM(contact - takeoff); math.Abs(h-0.324518517) > 1e-6 {
		t.Fatalf("the flight reads %.9f m", h)
	}
	s, reps := b.series()
	s.CutoffHz = 20
	reps[0].TimeSDS = events.TimeSDs{BottomS: 0.01, TakeoffS: 0.004, ContactS: 0.004}
	c := massCentreOf(s, reps, body.DeLevaMean())
	sc, _ := findScale(s, reps, &c, ScaleOptions{MarkPx: 1000, MarkM: 1000 * simMPP})
	j := jumpsOf(s, reps, &c, sc)
	if len(j) != 1 {
		t.Fatalf("%d jumps", len(j))
	}
	for _, c := range []struct {
		name   string
		got    stats.Estimate
		want   float64
		within float64
	}{
		{"take-off", j[0].TakeoffS, takeoff, 0.002},
		{"contact", j[0].ContactS, contact, 0.002},
		{"height by flight", stats.Estimate{Value: j[0].HeightFromFlightM, SD: sdOf(j[0].HeightFromFlightInterval95M)},
			0.3245, 0.002},
		{"rise", stats.Estimate{Value: j[0].RiseM, SD: sdOf(j[0].RiseInterval95M)}, 0.30, 0.01},
		{"lands lower", j[0].LandsLowerM, 0.05, 0.02},
		{"velocity", stats.Estimate{Value: j[0].TakeoffVelocityMS, SD: sdOf(j[0].TakeoffVelocityInterval95MS)},
			math.Sqrt(2 * trace.GravityMS2 * 0.3), 0.03},
		{"forward", j[0].ForwardVelocityMS, 0, 0.02},
		{"fall", j[0].FallMS2, trace.GravityMS2, 0.1},
		{"forward acceleration", j[0].ForwardAccMS2, 0, 0.1},
		{"rise over standing", j[0].RiseFromStandM, 0.30, 0.01},
	} {
		if !(math.Abs(c.got.Value-c.want) <= c.within) || !(c.got.SD > 0) {
			t.Errorf("%s: %.4f ± %.4f, want %.4f", c.name, c.got.Value, c.got.SD, c.want)
		}
		if iv := c.got.Interval95(); !(iv[0] <= c.want && c.want <= iv[1]) {
			t.Errorf("%s: %.4f is outside %.4f to %.4f", c.name, c.want, iv[0], iv[1])
		}
	}
	if j[0].Why.Code != "lands_folded" {
		t.Errorf("why: %v", j[0].Why)
	}
	if !errors.Is(j[0].ReactiveStrengthErr, errNotRepeatedJump) {
		t.Errorf("index of a single jump: %v", j[0].ReactiveStrengthErr)
	}
	if math.Abs(j[0].FlightExcessM.Value-(j[0].HeightFromFlightM-j[0].RiseM)) > 1e-12 {
		t.Errorf("the excess is not the difference: %+v", j[0].FlightExcessM)
	}
}

func TestKindsOfJump(t *testing.T) {
	nan := math.NaN()
	of := func(n int, bottom, bottomEnd, takeoff, contact, landing, end, descent float64) rep {
		return rep{RepTimes: events.RepTimes{Number: n, Tempo: events.TempoJump, StartS: bottom - 0.5, BottomS: bottom,
			BottomEndS: bottomEnd, TakeoffS: takeoff, ContactS: contact, FlightS: contact - takeoff,
			LandingBottomS: landing, EndS: end, DescentS: descent,
			TimeSDS: events.TimeSDs{BottomS: 0.01, TakeoffS: 0.01, ContactS: 0.01}}}
	}
	reps := []rep{
		of(1, 1.5, 1.55, 1.8, 2.2, 2.3, 2.35, 0.5),  // down and up
		of(2, 2.35, 2.35, 2.5, 2.9, 3.0, 3.6, nan),  // at once from the landing
		of(3, 3.6, 3.6, 3.8, 4.2, 4.4, 5, nan),      // after holding the landing
		of(4, 6.0, 6.8, 7.0, 7.4, 7.6, 8, 0.5),      // from a held bottom
		of(5, 10, 10.1, 10.3, 10.7, 10.9, 11.5, .5), // down and up
	}
	want := []JumpKind{JumpCountermovement, JumpRebound, JumpFromHold, JumpFromHold, JumpCountermovement}
	b := bodySim{at: func(float64) figure { return standing(4, 3, 5, 10) }, endS: 12, stand: trace.Span{FromS: 0, ToS: 1}}
	for _, rate := range []float64{60, 120} {
		b.rateHz = rate
		s, _ := b.series()
		c := massCentreOf(s, reps, body.DeLevaMean())
		js := jumpsOf(s, reps, &c, Scale{MmPerPx: stats.Unknown()})
		for i, j := range js {
			if j.Kind != want[i] {
				t.Errorf("rep %d is %s, want %s", i+1, j.Kind, want[i])
			}
			if !math.IsNaN(j.RiseM) {
				t.Errorf("rep %d: no scale, yet a rise %+v", i+1, j.RiseM)
			}
		}
		switch j := js[1]; {
		case rate < 120 && !errors.Is(j.ReactiveStrengthErr, errFewFramesForRSI):
			t.Errorf("at %.0f frames a second the index is %+v, %v", rate, j.ReactiveStrengthMS, j.ReactiveStrengthErr)
		case rate >= 120 && (j.ReactiveStrengthErr != nil ||
			math.Abs(j.ReactiveStrengthMS-j.HeightFromFlightM/j.ContactTimeS.Value) > 1e-12):
			t.Errorf("index %+v, %v", j.ReactiveStrengthMS, j.ReactiveStrengthErr)
		}
		if !js[0].RSIModifiedMS.Known() || js[3].RSIModifiedMS.Known() {
			t.Errorf("modified index of a countermovement %+v, of a held start %+v", js[0].RSIModifiedMS, js[3].RSIModifiedMS)
		}
	}
}

func TestScaleFromHeightAndDisagreement(t *testing.T) {
	b := bodySim{at: func(float64) figure { return standing(2, 2, 2, 10) }, endS: 2, rateHz: 60,
		stand: trace.Span{FromS: 0.1, ToS: 1.9}}
	s, reps := b.series()
	c := massCentreOf(s, reps, body.DeLevaMean())
	ear := standing(2, 2, 2, 10)[body.Ear].Up
	height := (ear - shoeM) / (1 - earToCrownPart)
	sc, notices := findScale(s, reps, &c, ScaleOptions{HeightM: height})
	if math.Abs(sc.MetresPerPx()/simMPP-1) > 1e-6 || !sc.Known || !sc.Agree || len(notices) > 0 {
		t.Errorf("%+v, %v", sc, notices)
	}
	if m := sc.metres(100, 1); math.Abs(m.Value-0.3) > 1e-6 || math.Abs(m.SD-math.Hypot(0.3*heightSD, simMPP)) > 1e-6 {
		t.Errorf("100 pixels are %.4f ± %.4f m", m.Value, m.SD)
	}
	// A mark that agrees narrows the scale; one that does not is told of.
	both, disputes := findScale(s, reps, &c, ScaleOptions{HeightM: height, MarkPx: 400, MarkM: 400 * simMPP})
	if !(both.MmPerPx.SD < sc.MmPerPx.SD) || !both.Agree || len(disputes) > 0 {
		t.Errorf("%+v, %v", both, disputes)
	}
	wrong, disputes := findScale(s, reps, &c, ScaleOptions{HeightM: height, MarkPx: 400, MarkM: 500 * simMPP})
	if wrong.Agree || len(disputes) != 1 || disputes[0].A != ScaleHeight || disputes[0].B != ScaleMark ||
		math.Abs(disputes[0].ApartPct-22) > 3 || !(wrong.MmPerPx.SD > sc.MmPerPx.SD) {
		t.Errorf("%+v, %v", wrong, disputes)
	}
	absurd, disputes := findScale(s, reps, &c, ScaleOptions{HeightM: height, MarkPx: 400, MarkM: 4000 * simMPP})
	if len(disputes) != 1 || disputes[0].A != ScaleMark || disputes[0].B != ScaleLeg || absurd.Agree {
		t.Errorf("a mark that gives a leg of eight metres: %+v, agree %v", disputes, absurd.Agree)
	}
	if absurd.MmPerPx != sc.MmPerPx {
		t.Errorf("without the mark: %+v, want %+v", absurd.MmPerPx, sc.MmPerPx)
	}
	none, _ := findScale(s, reps, &c, ScaleOptions{})
	if none.Known || !(none.MetresPerPx() > 0) {
		t.Errorf("with nothing to go by: %+v", none)
	}
	if m := none.metres(100, 1); m.Known() {
		t.Errorf("metres without a scale: %v", m)
	}
}

// scaleFrom returns a scale that one source gives.
func scaleFrom(name ScaleSourceName, metresPerPx, sd float64) Scale {
	e := stats.Estimate{Value: 1000 * metresPerPx, SD: 1000 * sd}
	return Scale{MmPerPx: e, Known: name != ScaleLeg, Sources: []ScaleSource{{name, e}}, Agree: true}
}

// sdOf returns the standard deviation that a 95 % interval tells.
func sdOf(interval95 [2]float64) float64 { return (interval95[1] - interval95[0]) / 2 / stats.Normal95 }

// takeoffVelocityMS returns the velocity in metres a second at which a flight of the
// given time begins: g t/2.
func takeoffVelocityMS(flightS float64) float64 { return trace.GravityMS2 * flightS / 2 }

// flightFrameSDS returns the standard deviation in seconds of a flight time that
// is counted in whole frames: both ends fall anywhere within a frame, the error is
// triangular, 1/(fs sqrt(6)).
func flightFrameSDS(rateHz float64) float64 { return 1 / (rateHz * math.Sqrt(6)) }

// flightFrameBoundsS returns the shortest and the longest flight in seconds that
// can show in the given number of airborne frames: (n-1)/fs and (n+1)/fs.
func flightFrameBoundsS(frames int, rateHz float64) (shortest, longest float64) {
	return float64(frames-1) / rateHz, float64(frames+1) / rateHz
}

// What no jump can be is not known, and neither is a height that could be anything; a good
// jump stays as it is.
func TestJumpBelieved(t *testing.T) {
	wide := func(value, half float64) (float64, [2]float64) { return value, [2]float64{value - half, value + half} }
	good := func() Jump {
		j := Jump{RiseFromStandM: stats.Estimate{Value: 0.45, SD: 0.02}, ContactTimeS: stats.Estimate{Value: 0.3, SD: 0.01},
			Why: notice.New("lands_folded", nil)}
		j.FlightS, j.FlightInterval95S = wide(0.5, 0.02)
		j.HeightFromFlightM, j.HeightFromFlightInterval95M = wide(JumpHeightM(0.5), 0.03)
		j.RiseM, j.RiseInterval95M = wide(0.28, 0.05)
		j.TakeoffVelocityMS, j.TakeoffVelocityInterval95MS = wide(2.3, 0.1)
		j.ReactiveStrengthMS, j.ReactiveStrengthInterval95MS = wide(1, 0.1)
		return j
	}
	for _, c := range []struct {
		name                         string
		spoil                        func(j *Jump)
		flight, height, rise, toFeet bool // known
	}{
		{"as it was", func(*Jump) {}, true, true, true, true},
		{"581 cm", func(j *Jump) { j.RiseM, j.RiseInterval95M = wide(5.81, 0.4) }, true, true, false, true},
		{"a rise that the flight does not allow", func(j *Jump) { j.RiseM, j.RiseInterval95M = wide(0.9, 0.1) },
			true, true, false, true},
		{"a rise of anything", func(j *Jump) { j.RiseM, j.RiseInterval95M = wide(0.3, 6.94) }, true, true, false, true},
		{"a height of anything", func(j *Jump) { j.HeightFromFlightM, j.HeightFromFlightInterval95M = wide(0.1, 0.06) },
			true, false, true, true},
		{"a second and a half in the air", func(j *Jump) {
			j.FlightS, j.FlightInterval95S = wide(1.5, 0.02)
			j.HeightFromFlightM, j.HeightFromFlightInterval95M = wide(JumpHeightM(1.5), 0.1)
		}, false, false, false, false},
	} {
		j := good()
		c.spoil(&j)
		j.believe()
		for name, v := range map[string]struct {
			value float64
			known bool
		}{
			"flight": {j.FlightS, c.flight}, "height": {j.HeightFromFlightM, c.height}, "rise": {j.RiseM, c.rise},
			"over the stand": {j.RiseFromStandM.Value, c.toFeet}, "strength": {j.ReactiveStrengthMS, c.height},
		} {
			if math.IsNaN(v.value) == v.known {
				t.Errorf("%s: the %s is %.2f, known should be %v", c.name, name, v.value, v.known)
			}
		}
		if j.Why.IsZero() == c.rise {
			t.Errorf("%s: says %v of the rise", c.name, j.Why)
		}
	}
}
