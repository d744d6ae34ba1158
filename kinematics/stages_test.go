package kinematics

import (
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
)

// The stages of [MeasureBody] one by one, of a series and its reps.

func timesOf(reps []Rep) (times []events.RepTimes, sds []events.TimeSDs, measured []joints.Measures) {
	for i := range reps {
		times, sds, measured = append(times, reps[i].RepTimes), append(sds, reps[i].TimeSDS), append(measured, reps[i].Measures)
	}
	return times, sds, measured
}

func massCentreOf(s *Series, reps []Rep, model body.MassModel) measure.MassCentre {
	times, _, _ := timesOf(reps)
	return measure.MassCentreOf(&s.Motion, times, s.View, model)
}

func findScale(s *Series, reps []Rep, c *measure.MassCentre, opt measure.ScaleOptions) (measure.Scale, []measure.ScaleDispute) {
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

func jumpsOf(s *Series, reps []Rep, c *measure.MassCentre, sc measure.Scale) []*measure.Jump {
	times, sds, _ := timesOf(reps)
	return measure.Jumps(&s.Motion, s.Stand, times, sds, c, sc)
}

// scaleFrom returns a scale that one source gives.
func scaleFrom(name measure.ScaleSourceName, metresPerPx, sd float64) measure.Scale {
	e := stats.Estimate{Value: 1000 * metresPerPx, SD: 1000 * sd}
	return measure.Scale{MmPerPx: e, Known: name != measure.ScaleLeg, Sources: []measure.ScaleSource{{Name: name, MmPerPx: e}}, Agree: true}
}

// sdOf returns the standard deviation that a 95 % interval tells.
func sdOf(interval95 [2]float64) float64 { return (interval95[1] - interval95[0]) / 2 / stats.Normal95 }
