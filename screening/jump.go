package screening

import "holdfast/kinematics"

// Jump is how high a rep with a flight went. Heights in metres, null where the
// clip has no scale.
type Jump struct {
	FlightS           Number    `json:"flight_s"`
	FlightInterval95S [2]Number `json:"flight_interval95_s"`
	// HeightFromFlightM is g t^2/8: right when the athlete lands as tall as at
	// take-off, too high when he lands folded.
	HeightFromFlightM           Number    `json:"height_from_flight_m"`
	HeightFromFlightInterval95M [2]Number `json:"height_from_flight_interval95_m"`
	// RiseM is how far the centre of mass rises after take-off.
	RiseM              Number    `json:"rise_m"`
	RiseInterval95M    [2]Number `json:"rise_interval95_m"`
	TakeoffVelocityMS  Number    `json:"takeoff_velocity_m_s"`
	ReactiveStrengthMS Number    `json:"reactive_strength_index_m_s"` // null where it cannot be told
	// Why says in a sentence why the two heights differ; empty when they do not.
	Why string `json:"why_heights_differ"`
}

// addJumps measures the jumps of a clip and puts each with its rep. It returns
// what the reader must know of the scale.
func addJumps(a *Analysis, s *kinematics.Series, reps []kinematics.Rep, heightCm float64) []kinematics.Notice {
	masses := kinematics.MassCentreOf(s, reps, kinematics.DeLevaMean())
	scale, notices := kinematics.FindScale(s, reps, &masses, kinematics.ScaleOptions{HeightM: heightCm / 100})
	for _, j := range kinematics.Jumps(s, reps, &masses, scale) {
		for i := range a.Reps {
			if a.Reps[i].Number != j.RepNumber {
				continue
			}
			a.Reps[i].Jump = &Jump{
				FlightS: Number(j.FlightS.Value), FlightInterval95S: interval(j.FlightS),
				HeightFromFlightM: Number(j.HeightFromFlightM.Value), HeightFromFlightInterval95M: interval(j.HeightFromFlightM),
				RiseM: Number(j.RiseFromTakeoffM.Value), RiseInterval95M: interval(j.RiseFromTakeoffM),
				TakeoffVelocityMS: Number(j.TakeoffVelocityMS.Value), ReactiveStrengthMS: Number(j.RSIMS.Value), Why: j.Why,
			}
		}
	}
	return notices
}

func interval(e kinematics.Estimate) [2]Number {
	in := e.Interval95()
	return [2]Number{Number(in[0]), Number(in[1])}
}
