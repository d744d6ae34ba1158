package joints

import (
	"math"
	"testing"

	"holdfast/internal/handmade"
	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/events"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// handMotion is a motion whose every angle follows one course, known without noise.
func handMotion(rateHz, endS float64, deg func(t float64) float64) *Motion {
	m := &Motion{LegPx: 400, CutoffHz: 6, By: body.SmootherBody}
	m.RateHz = rateHz
	n := int(endS*rateHz) + 1
	m.noise.bank = newNoiseBank(rateHz, 0.09, nil)
	m.noise.togetherDegS = make([]float64, n)
	for i := range n {
		m.TimeS = append(m.TimeS, float64(i)/rateHz)
	}
	m.HeelRise = make([]float64, n)
	for a := range body.NumAngles {
		m.noise.angles[a] = angleNoise{make([]float64, n), make([]float64, n)}
		m.SDDeg[a] = make([]float64, n)
		for _, t := range m.TimeS {
			m.AnglesDeg[a] = append(m.AnglesDeg[a], deg(t))
		}
		m.VelocityDegS[a] = signal.Velocity(m.AnglesDeg[a], rateHz)
	}
	return m
}

// A descent of 100 degrees, a dwell and an ascent, with the standing of 5 degrees beside.
func TestRepAngles(t *testing.T) {
	m := handMotion(100, 6, func(t float64) float64 {
		return 5 + 100*(signal.MinJerk(t-1)-signal.MinJerk(t-3))
	})
	nan := math.NaN()
	r := events.RepTimes{StartS: 1, BottomS: 2, BottomEndS: 3, EndS: 4, DescentS: 1, AscentS: 1, Depth: 0.5,
		TakeoffS: nan, ContactS: nan, LandingBottomS: nan, Beside: []trace.Span{{FromS: 0, ToS: 0.9}}}
	none := make([]bool, len(m.TimeS))
	network := handmade.Network()
	loaded := LoadedSpans(m, none, nil, &r)
	if len(loaded) != 1 || loaded[0] != (trace.Span{FromS: 1, ToS: 4}) {
		t.Fatalf("loaded over %v", loaded)
	}
	view := [body.NumAngles]float64{body.KneeFlexion: 3}
	knee := RepAngles(m, none, &r, loaded, &view, &network)[body.KneeFlexion]
	near(t, "smallest", knee.MinDeg, 5, 1e-9)
	near(t, "largest", knee.MaxDeg, 105, 0.01)
	near(t, "range", knee.ROMDeg, 100, 0.01)
	near(t, "standing", knee.AtStandDeg, 5, 1e-9)
	near(t, "bottom", knee.AtBottomDeg, 105, 1e-9)
	near(t, "peak velocity", knee.PeakVelocityDegS, 187.5, 0.2) // 15/8 of the mean speed
	e := network.Errors[body.SmootherBody][body.KneeFlexion]
	near(t, "what every rep shares", knee.SystematicSDDeg, math.Hypot(e.PostureDeg, 3), 1e-4)
	near(t, "no noise", knee.SDDeg, knee.SystematicSDDeg, 1e-9)
	if !math.IsNaN(knee.AtLandingBottomDeg) {
		t.Errorf("a landing of %.1f degrees without a flight", knee.AtLandingBottomDeg)
	}

	r.NeverUp = true
	cut := RepAngles(m, none, &r, loaded, &view, &network)[body.KneeFlexion]
	if !math.IsNaN(cut.ROMDeg) || !math.IsNaN(cut.MinDeg) || cut.MaxDeg != knee.MaxDeg ||
		cut.AtBottomDeg != knee.AtBottomDeg {
		t.Errorf("never upright: range %.1f from %.1f, largest %.1f, bottom %.1f", cut.ROMDeg, cut.MinDeg,
			cut.MaxDeg, cut.AtBottomDeg)
	}
}

// A set of jumps that counts from one short moment, in which the knee still moves, is no surer than that moment; one
// that counts from two seconds of quiet standing is.
func TestZeroOfAMoment(t *testing.T) {
	network := handmade.Network()
	own := network.Errors[body.SmootherBody][body.KneeFlexion].PostureDeg
	for _, c := range []struct {
		name            string
		fromS, stirsDeg float64
		afar            bool
		leastSD, mostSD float64
	}{
		{"a moment, afar", 5.8, 8, true, 2, 5}, {"a moment beside the rep", 5.8, 8, false, own, own},
		{"two seconds", 4, 1, true, own, own + 0.2},
	} {
		m := handMotion(30, 6, func(t float64) float64 {
			return 100*(signal.MinJerk(t-1)-signal.MinJerk(t-2)) + c.stirsDeg*max(0, math.Abs(t-5.9)/0.1-0.5)*
				math.Exp(-max(0, 5.8-t)*100)
		})
		r := events.RepTimes{StartS: 1, BottomS: 2, BottomEndS: 2, EndS: 3, TakeoffS: math.NaN(),
			Beside: []trace.Span{{FromS: c.fromS, ToS: 6}}}
		if !c.afar {
			r.EndS = 5.7
		}
		all := RepAngles(m, make([]bool, len(m.TimeS)), &r, []trace.Span{{FromS: 1, ToS: 3}}, &[body.NumAngles]float64{},
			&network)
		got := all[body.KneeFlexion].SystematicSDDeg
		if got < c.leastSD-0.02 || got > c.mostSD+0.02 {
			t.Errorf("%s: what all reps share is off by %.2f degrees, want %.2f to %.2f", c.name, got, c.leastSD, c.mostSD)
		}
	}
}

// How far somebody went is not known where the turn was not seen: the edges of what was seen are not the farthest.
func TestTurnThatIsNotSeen(t *testing.T) {
	m := handMotion(30, 4, func(t float64) float64 { return 100 * (signal.MinJerk(t-1) - signal.MinJerk(t-2)) })
	for i, at := range m.TimeS {
		if math.Abs(at-2) < 0.1 {
			m.AnglesDeg[body.KneeFlexion][i] = math.NaN()
		}
	}
	r := events.RepTimes{StartS: 1, BottomS: 2, BottomEndS: 2, EndS: 3, TakeoffS: math.NaN(), Partial: true}
	network := handmade.Network()
	all := RepAngles(m, make([]bool, len(m.TimeS)), &r, []trace.Span{{FromS: 1, ToS: 3}}, &[body.NumAngles]float64{},
		&network)
	for a, known := range map[body.Angle]bool{body.KneeFlexion: false, body.HipFlexion: true} {
		am := &all[a]
		for _, deg := range []float64{am.MaxDeg, am.ROMDeg, am.AtBottomDeg, am.SDDeg, am.ROMInterval95Deg[1]} {
			if math.IsNaN(deg) == known {
				t.Errorf("%v: %+v, known %v", a, am, known)
				break
			}
		}
	}
}

// In a push and a landing, angles count while the heel is down.
func TestLoadedSpansOfAJump(t *testing.T) {
	m := handMotion(100, 4, func(float64) float64 { return 0 })
	air := make([]bool, len(m.TimeS))
	for i, at := range m.TimeS {
		air[i] = at >= 2 && at <= 2.4
		if at >= 1.9 && at <= 2.5 {
			m.HeelRise[i] = 0.2
		}
	}
	r := events.RepTimes{StartS: 1, BottomS: 1.5, BottomEndS: 1.6, TakeoffS: 2, ContactS: 2.4, LandingBottomS: 3,
		EndS: 3.8, FlightS: 0.4}
	got := LoadedSpans(m, air, nil, &r)
	if len(got) != 2 {
		t.Fatalf("%v", got)
	}
	margin := heelMarginS(m.CutoffHz)
	near(t, "push until", got[0].ToS, 1.89-margin, 0.011)
	near(t, "landing from", got[1].FromS, 2.51+margin, 0.011)
}

// Lost frames make the moment of an event less sure.
func TestFrameAt(t *testing.T) {
	filled := []bool{false, true, true, false, false}
	for i, want := range []float64{1, 3, 3, 3, 1} {
		near(t, "frames", 60*frameAt(filled, 60, i), want, 1e-9)
	}
}

// An athlete who stands still is read as he stands: angles at his own zero, the foot flat.
func TestSmoothStandingStill(t *testing.T) {
	const n = 120
	tr := &trace.Trace{RateHz: 60, NearSide: body.Right, Facing: body.FacingRight, LegPx: 400, FloorY: 900,
		Filled: make([]bool, n), Missing: make([]bool, n)}
	at := [body.NumLandmarks][2]float64{
		body.Ear: {410, 200}, body.Shoulder: {402, 260}, body.Elbow: {400, 400}, body.Wrist: {400, 520}, body.Hip: {400, 500},
		body.Knee: {410, 700}, body.Ankle: {400, 900}, body.Heel: {375, 930}, body.Toe: {480, 930},
	}
	standing := make([]bool, n)
	for i := range n {
		tr.TimeS = append(tr.TimeS, float64(i)/60)
		standing[i] = true
	}
	for side := range 2 {
		for k := range body.NumLandmarks {
			p := &tr.Raw[side][k]
			for i := range n { // nobody stands quite still
				p.X, p.Y, p.SDPx = append(p.X, at[k][0]), append(p.Y, at[k][1]+0.3*math.Sin(float64(i))), append(p.SDPx, 1)
			}
		}
	}
	network := handmade.Network()
	for _, by := range []body.Smoother{body.SmootherFilter, body.SmootherBody} {
		m := Smooth(tr, standing, make([]bool, n), Smoothing{By: by, CutoffHz: 6, Zero: standing, Network: &network,
			Before: tr, ByHand: &correct.Samples{}})
		if m.By != by {
			t.Errorf("smoothed by the %v, want the %v", m.By, by)
		}
		for _, a := range []body.Angle{body.KneeFlexion, body.HipFlexion, body.ShankAngle, body.TrunkLean, body.FootPitch} {
			near(t, by.String()+": "+a.String(), m.AnglesDeg[a][60], 0, 0.5)
		}
		near(t, by.String()+": hips", m.HipHeight[60], 1, 0.01)
		near(t, by.String()+": foot", m.FootLengthPx, 105, 3)
	}
}
