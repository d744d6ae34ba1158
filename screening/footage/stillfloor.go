package footage

import (
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
	"holdfast/vision/pose"
)

const (
	// stillFeetS is the time over which the place of standing feet is taken, in seconds.
	stillFeetS = 0.5
	// stillFeetLegs is how far a resting foot may seem to move in that time, in leg lengths.
	// Common practice, no source.
	stillFeetLegs = 0.03
	// mostFeetDriftLegs is how far standing feet may be found from where they stood before,
	// in leg lengths, before a camera that the background does not hold is taken to have
	// moved; in rendered clips, whose camera stands, it was 0.02 at most.
	mostFeetDriftLegs = 0.05
)

// FeetDriftLegs returns how far apart the athlete's near foot is found in the picture over the
// clip while it rests on the floor, in leg lengths; 0 where it does not rest twice. Along the
// floor only a foot that stands counts, as people step from rep to rep.
func FeetDriftLegs(obs []trace.Observation, s *kinematics.Series) float64 {
	var x, y []float64
	for _, stand := range s.Stand.Spans {
		for from := stand.FromS; from+stillFeetS <= stand.ToS; from += stillFeetS {
			if atX, atY := footPlace(obs, s, from); len(atX) > 0 {
				x, y = append(x, signal.Median(atX)), append(y, signal.Median(atY))
			}
		}
	}
	for from := s.TimeS[0]; from+stillFeetS <= s.TimeS[len(s.TimeS)-1]; from += stillFeetS {
		atX, atY := footPlace(obs, s, from)
		if len(atX) > 0 && math.Hypot(reach(atX, 0.1), reach(atY, 0.1)) < stillFeetLegs*s.LegPx {
			y = append(y, signal.Median(atY))
		}
	}
	return math.Hypot(reach(x, 0), reach(y, 0)) / s.LegPx
}

// footPlace returns where the near foot is seen from a time on for stillFeetS.
func footPlace(obs []trace.Observation, s *kinematics.Series, fromS float64) (x, y []float64) {
	for i := range obs {
		if t := obs[i].TimeS; t < fromS || t >= fromS+stillFeetS {
			continue
		}
		p := &obs[i].Points[s.NearSide]
		if !p[body.Ankle].Missing() && !p[body.Heel].Missing() && !p[body.Toe].Missing() {
			x = append(x, (p[body.Ankle].X+p[body.Heel].X+p[body.Toe].X)/3)
			y = append(y, (p[body.Ankle].Y+p[body.Heel].Y+p[body.Toe].Y)/3)
		}
	}
	return x, y
}

// reach returns how far numbers reach, but for a part on either side; 0 without any.
func reach(v []float64, part float64) float64 {
	if len(v) == 0 {
		return 0
	}
	return signal.Quantile(v, 1-part) - signal.Quantile(v, part)
}

// Unheld says whether a camera that the background does not hold moved, and by how many leg lengths the feet wander.
func Unheld(track *pose.Track, obs []trace.Observation, s *kinematics.Series) (driftLegs float64, moved bool) {
	if !track.CameraKnown {
		driftLegs = FeetDriftLegs(obs, s)
	}
	return driftLegs, driftLegs > mostFeetDriftLegs
}

// leastLifted is how many times standing feet must seem to leave the floor of a clip whose camera moved for the floor
// to move itself: a phone that is carried, and not only turned, sees it move otherwise than the wall. Common practice,
// no source.
const leastLifted = 2

// Carried says whether the phone was carried while it filmed, so that the floor moves in the picture although the
// camera's motion was taken off. The notices of feet that left the floor are then of no use, and are left out.
func Carried(track *pose.Track, notices []kinematics.Notice) (others []kinematics.Notice, carried bool) {
	others = slices.DeleteFunc(slices.Clone(notices),
		func(n kinematics.Notice) bool { return n.Code == kinematics.NoticeFlightDoubted })
	if !track.CameraMoved || len(notices)-len(others) < leastLifted {
		return notices, false
	}
	return append(others, notice.New("camera_carried", nil)), true
}

// UnheldWarning says that the phone moved where the background does not tell how.
func UnheldWarning(driftLegs float64) kinematics.Notice {
	return notice.New("camera_not_held", notice.Params{"leg_pct": 100 * driftLegs})
}
