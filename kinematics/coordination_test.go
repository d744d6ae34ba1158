package kinematics

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
)

// curveSeries is a series whose knee follows a given curve in each of several reps of a
// second, rep i from i to i+1 with the bottom in the middle.
func curveSeries(curves []func(u float64) float64) (*Series, []Rep) {
	s := &Series{}
	s.RateHz = 100
	for i := range 100*len(curves) + 1 {
		s.TimeS = append(s.TimeS, float64(i)/100)
	}
	for a := range s.AnglesDeg {
		s.AnglesDeg[a] = make([]float64, len(s.TimeS))
	}
	var reps []Rep
	nan := math.NaN()
	for i, f := range curves {
		from := float64(i)
		for k, t := range s.TimeS {
			if t >= from && t <= from+1 {
				s.AnglesDeg[body.KneeFlexion][k] = f(min(1, 2*(t-from)))
			}
		}
		r := Rep{RepTimes: events.RepTimes{Number: i + 1, StartS: from, BottomS: from + 0.5, BottomEndS: from + 0.5,
			EndS: from + 0.99, TakeoffS: nan, ContactS: nan, LandingBottomS: nan}}
		r.Angles[body.KneeFlexion] = joints.AngleMeasure{SDDeg: 1, SystematicSDDeg: 1, ROMDeg: f(1)}
		reps = append(reps, r)
	}
	return s, reps
}

func TestWhereTheCurveIsLost(t *testing.T) {
	full := func(add float64) func(float64) float64 { return func(u float64) float64 { return 100*u + add } }
	// The same way down to 70 per cent, then held there.
	short := func(add float64) func(float64) float64 {
		return func(u float64) float64 { return 100*min(u, 0.7) + add }
	}
	s, reps := curveSeries([]func(float64) float64{full(0), full(0.5), full(-0.5)})
	slow, ok := curvesOf(&s.Angles, reps, body.KneeFlexion, PartDescent)
	if !ok {
		t.Fatal("no curves")
	}
	for i, v := range slow.meanDeg {
		if iv := slow.bandDeg[i]; math.Abs(v-float64(i)) > 0.2 || math.Abs((iv[0]+iv[1])/2-v) > 1e-9 || !(iv[1] > iv[0]) {
			t.Fatalf("at %d %%: %.3f, %.3f", i, v, iv)
		}
	}
	s2, reps2 := curveSeries([]func(float64) float64{short(0), short(0.5), short(-0.5)})
	// 5 degrees are lost from 75 per cent on.
	from := func(pct *int) int {
		if pct == nil {
			return -1
		}
		return *pct
	}
	along := func(s, s2 *Series, reps, reps2 []Rep) (lost, gained int) {
		d, ok := compareCurves(&Group{Angles: &s.Angles, Reps: reps}, &Group{Angles: &s2.Angles, Reps: reps2},
			body.KneeFlexion, PartDescent, CompareOptions{}.ForAngle(body.KneeFlexion))
		if !ok || len(d.BaselineDeg) != curvePoints || len(d.ChallengeBand) != curvePoints {
			t.Fatalf("no curves: %+v", d)
		}
		return from(d.LostFromPct), from(d.GainedFromPct)
	}
	if lost, gained := along(s, s2, reps, reps2); lost < 74 || lost > 77 || gained != -1 {
		t.Errorf("lost from %d %%, gained from %d %%", lost, gained)
	}
	if lost, gained := along(s2, s, reps2, reps); lost != -1 || gained < 74 {
		t.Errorf("the other way: lost from %d, gained from %d", lost, gained)
	}
	if lost, gained := along(s, s, reps, reps); lost != -1 || gained != -1 {
		t.Errorf("against itself: %d, %d", lost, gained)
	}
	d, ok := compareCurves(&Group{Angles: &s.Angles, Reps: reps}, &Group{Angles: &s.Angles}, body.KneeFlexion,
		PartDescent, CompareOptions{}.ForAngle(body.KneeFlexion))
	if !ok || d.BaselineDeg == nil || d.ChallengeDeg != nil {
		t.Errorf("one side alone: %v, %+v", ok, d)
	}
	if c, ok := curvesOf(&s.Angles, reps, body.KneeFlexion, PartLanding); ok {
		t.Errorf("the landing of squats: %+v", c)
	}
}

func TestAngleAngle(t *testing.T) {
	rise := func(u float64) float64 { return 100 * u }
	s, reps := curveSeries([]func(float64) float64{rise, rise})
	s.AnglesDeg[body.HipFlexion] = append([]float64(nil), s.AnglesDeg[body.KneeFlexion]...)
	a := angleAngle(&Group{Angles: &s.Angles, Reps: reps}, body.HipFlexion, body.KneeFlexion, PartDescent)
	if a == nil {
		t.Fatal("no curve")
	}
	if a.Shares.InPhase != 100 || !(a.VariabilityDeg < 1e-6) || len(a.OfDeg) != curvePoints {
		t.Errorf("shares %+v, variability %g", a.Shares, a.VariabilityDeg)
	}
}

func TestDriftOfSet(t *testing.T) {
	if d := driftOfSet([]Rep{{}, {}, {}}); d == nil || d[body.KneeJoint].Drifts {
		t.Errorf("three equal reps: %+v", d)
	}
	if d := driftOfSet([]Rep{{}, {}}); d != nil {
		t.Errorf("two reps: %+v", d)
	}
}
