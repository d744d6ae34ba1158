package measure

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/trace"
)

// series is a motion made by hand and what the stages ask for beside it, rep one of its
// repetitions.
type series struct {
	joints.Motion
	Filled      []bool
	Stand       events.Stand
	View        trace.View
	Calibration body.Calibration
}

type rep struct {
	events.RepTimes
	joints.Measures
	Support []SupportSpan
}

func timesOf(reps []rep) (times []events.RepTimes, sds []events.TimeSDs, measured []joints.Measures) {
	for i := range reps {
		times, sds, measured = append(times, reps[i].RepTimes), append(sds, reps[i].TimeSDS),
			append(measured, reps[i].Measures)
	}
	return times, sds, measured
}

func massCentreOf(s *series, reps []rep, model body.MassModel) CentreOfMass {
	times, _, _ := timesOf(reps)
	return CentreOfMassOf(&s.Motion, times, s.View, model)
}

func findScale(s *series, reps []rep, c *CentreOfMass, opt ScaleOptions) (Scale, []ScaleDispute) {
	times, _, _ := timesOf(reps)
	return FindScale(&s.Motion, s.Stand, times, c, opt)
}

func supportPoint(s *series, reps []rep, model body.MassModel, sc Scale) Support {
	times, _, _ := timesOf(reps)
	return SupportPoint(&s.Motion, s.Stand, times, s.View, model, sc, [2]float64{})
}

func feetOnFloor(s *series, reps []rep, sc Scale) []Foot {
	times, _, measured := timesOf(reps)
	return FeetOnFloor(&s.Motion, s.Stand, times, measured, sc, &s.Calibration)
}

func jumpsOf(s *series, reps []rep, c *CentreOfMass, sc Scale) []*Jump {
	times, sds, _ := timesOf(reps)
	return Jumps(&s.Motion, s.Stand, times, sds, c, sc)
}

func landingsOf(s *series, reps []rep, sc Scale) []*Landing {
	times, _, measured := timesOf(reps)
	return Landings(&s.Motion, s.Stand, times, measured, sc, &s.Calibration)
}

// sinDeg and cosDeg take degrees.
func sinDeg(d float64) float64 { return math.Sin(d / body.DegPerRad) }
func cosDeg(d float64) float64 { return math.Cos(d / body.DegPerRad) }
