package kinematics

import (
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
)

// The stages of [MeasureBody] one by one, of a series and its reps.

func timesOf(reps []Rep) (times []events.RepTimes, sds []events.TimeSDs, measured []Measures) {
	for i := range reps {
		times, sds, measured = append(times, reps[i].RepTimes), append(sds, reps[i].TimeSDS), append(measured, reps[i].Measures)
	}
	return times, sds, measured
}

func massCentreOf(s *Series, reps []Rep, model body.MassModel) MassCentre {
	times, _, _ := timesOf(reps)
	return MassCentreOf(&s.Motion, times, s.View, model)
}

func findScale(s *Series, reps []Rep, c *MassCentre, opt ScaleOptions) (Scale, []ScaleDispute) {
	times, _, _ := timesOf(reps)
	return FindScale(&s.Motion, s.Stand, times, c, opt)
}

func supportPoint(s *Series, reps []Rep, model body.MassModel, sc Scale) Support {
	times, _, _ := timesOf(reps)
	return SupportPoint(&s.Motion, s.Stand, times, s.View, model, sc, [2]float64{})
}

func feetOnFloor(s *Series, reps []Rep, sc Scale) []Foot {
	times, _, measured := timesOf(reps)
	return FeetOnFloor(&s.Motion, s.Stand, times, measured, sc, &s.Calibration)
}

func jumpsOf(s *Series, reps []Rep, c *MassCentre, sc Scale) []*Jump {
	times, sds, _ := timesOf(reps)
	return Jumps(&s.Motion, s.Stand, times, sds, c, sc)
}

func landingsOf(s *Series, reps []Rep, sc Scale) []*Landing {
	times, _, measured := timesOf(reps)
	return Landings(&s.Motion, s.Stand, times, measured, sc, &s.Calibration)
}
