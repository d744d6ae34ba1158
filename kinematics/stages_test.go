package kinematics

import (
	"math"
	"testing"

	"holdfast/internal/handmade"
	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// The stages of [MeasureBody] one by one, of a series and its reps.

func timesOf(reps []Rep) (times []events.RepTimes, sds []events.TimeSDs, measured []joints.Measures) {
	for i := range reps {
		times, sds, measured = append(times, reps[i].RepTimes), append(sds, reps[i].TimeSDS),
			append(measured, reps[i].Measures)
	}
	return times, sds, measured
}

func massCentreOf(s *Series, reps []Rep, model body.MassModel) measure.CentreOfMass {
	times, _, _ := timesOf(reps)
	return measure.CentreOfMassOf(&s.Motion, times, s.View, model)
}

func findScale(s *Series, reps []Rep, c *measure.CentreOfMass,
	opt measure.ScaleOptions) (measure.Scale, []measure.ScaleDispute) {
	times, _, _ := timesOf(reps)
	return measure.FindScale(&s.Motion, s.Stand, times, c, opt)
}

func supportPoint(s *Series, reps []Rep, model body.MassModel, sc measure.Scale) measure.Support {
	times, _, _ := timesOf(reps)
	return measure.SupportPoint(&s.Motion, s.Stand, times, s.View, model, sc, [2]float64{})
}

func feetOnFloor(s *Series, reps []Rep, sc measure.Scale) []measure.Foot {
	times, _, measured := timesOf(reps)
	return measure.FeetOnFloor(&s.Motion, s.Stand, times, measured, sc, &s.Calibration)
}

func jumpsOf(s *Series, reps []Rep, c *measure.CentreOfMass, sc measure.Scale) []*measure.Jump {
	times, sds, _ := timesOf(reps)
	return measure.Jumps(&s.Motion, s.Stand, times, sds, c, sc)
}

// scaleFrom returns a scale that one source gives.
func scaleFrom(name measure.ScaleSourceName, metresPerPx, sd float64) measure.Scale {
	e := stats.Estimate{Value: 1000 * metresPerPx, SD: 1000 * sd}
	return measure.Scale{MmPerPx: e, Known: name != measure.ScaleLeg,
		Sources: []measure.ScaleSource{{Name: name, MmPerPx: e}}, Agree: true}
}

// sdOf returns the standard deviation that a 95 % interval tells.
func sdOf(interval95 [2]float64) float64 { return (interval95[1] - interval95[0]) / 2 / stats.Normal95 }

// The reps of a trace and times that are written by hand: a whole one is measured, a damaged
// one is not, and says so.
func TestMeasureReps(t *testing.T) {
	a := newSimAthlete(3)
	clip := a.squats(simPose{25, 80, 35, 0}, 2, 1, 0.3, 1)
	frames, _, _, err := trace.Clean(clip.film(60, false))
	if err != nil {
		t.Fatal(err)
	}
	tr := trace.New(frames, body.Right, a.facing)
	still, airborne := make([]bool, len(tr.TimeS)), make([]bool, len(tr.TimeS))
	for i, s := range tr.TimeS {
		still[i] = s < 0.7
	}
	network := handmade.Network()
	m := joints.Smooth(tr, still, airborne, joints.Smoothing{
		CutoffHz: 5, Zero: still, Network: &network, Before: tr, ByHand: &correct.Samples{},
	})
	nan := math.NaN()
	times := []events.RepTimes{
		{StartS: 0.8, BottomS: 1.8, BottomEndS: 2.1, EndS: 3.1, DescentS: 1, Depth: 0.5, TakeoffS: nan,
			ContactS: nan, LandingBottomS: nan},
		{StartS: 3.8, BottomS: 4.8, BottomEndS: 5.1, EndS: 6.1, DescentS: 1, Depth: 0.5, TakeoffS: nan, ContactS: nan,
			LandingBottomS: nan, Damaged: true},
	}
	course := events.CourseOf(tr, shipped.Squat(), events.FindStand(tr, nil))
	reps := measureReps(tr, course, frames, &m, airborne, times, nil, trace.View{}, &Options{Calibration: network})
	want := clip.truth(&reps[0])[body.KneeJoint]
	if got := reps[0].Angles[body.KneeFlexion].ROMDeg; math.Abs(got-want) > 8 ||
		reps[0].Quality.Grade == joints.GradePoor {
		t.Errorf("knee %.1f, true %.1f, %s", got, want, reps[0].Quality.Grade)
	}
	if r := &reps[1]; !math.IsNaN(r.Angles[body.KneeFlexion].ROMDeg) || r.Quality.Grade != joints.GradePoor ||
		r.Quality.Advice.IsZero() {
		t.Errorf("a damaged rep: %+v, %+v", r.Angles[body.KneeFlexion], r.Quality)
	}
}
