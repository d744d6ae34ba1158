package screening

import (
	"math"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

const (
	// stillFeetS is the time over which the place of standing feet is taken, in seconds.
	stillFeetS = 0.5
	// mostFeetDriftLegs is how far standing feet may be found from where they stood before,
	// in leg lengths, before a camera that the background does not hold is taken to have
	// moved; in rendered clips, whose camera stands, it was 0.02 at most.
	mostFeetDriftLegs = 0.05
)

// feetDriftLegs returns how far apart the standing athlete's near foot is found in the
// picture over the clip, in leg lengths; 0 where he does not stand twice.
func feetDriftLegs(obs []trace.Observation, s *kinematics.Series) float64 {
	var x, y []float64 // of each stretch of stillFeetS
	for _, stand := range s.Stand.Spans {
		for from := stand.FromS; from+stillFeetS <= stand.ToS; from += stillFeetS {
			var xs, ys []float64
			for i := range obs {
				if obs[i].TimeS < from || obs[i].TimeS >= from+stillFeetS {
					continue
				}
				p := &obs[i].Points[s.NearSide]
				xs = append(xs, (p[body.Ankle].X+p[body.Heel].X+p[body.Toe].X)/3)
				ys = append(ys, (p[body.Ankle].Y+p[body.Heel].Y+p[body.Toe].Y)/3)
			}
			if xs, ys = signal.Present(xs), signal.Present(ys); len(xs) > 0 {
				x, y = append(x, signal.Median(xs)), append(y, signal.Median(ys))
			}
		}
	}
	if len(x) < 2 {
		return 0
	}
	reach := func(v []float64) float64 { return signal.Quantile(v, 1) - signal.Quantile(v, 0) }
	return math.Hypot(reach(x), reach(y)) / s.LegPx
}

// unheldWarning says that the phone moved where the background does not tell how.
func unheldWarning(driftLegs float64) Warning {
	return notice.New("camera_not_held", notice.Params{"leg_pct": 100 * driftLegs})
}
