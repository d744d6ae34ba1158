package screening

import (
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/screening/footage"
	"holdfast/vision/pose"
)

// list returns a slice that is not nil: in the documents a list without entries is [].
func list[T any](v []T) []T {
	if v == nil {
		return []T{}
	}
	return v
}

// What an analysis says of its angles.
const (
	footPitchOfPicture = "picture"
	footPitchOfPoints  = "points"
	angleConventions   = "clinical_zero_own_standing"
	noZeroConventions  = "network_zero" // where nobody stands
)

// footPitchSource returns what told the foot's pitch in most samples.
func footPitchSource(s *kinematics.Series) string {
	known := 0
	for i := range s.TimeS {
		if s.MeasuredPitch.KnownAt(i) {
			known++
		}
	}
	if 2*known > len(s.TimeS) {
		return footPitchOfPicture
	}
	return footPitchOfPoints
}

// pointsOf returns the points of the near side in the picture.
func pointsOf(s *kinematics.Series) map[string]body.Path {
	points := map[string]body.Path{}
	for l := range body.NumLandmarks {
		points[l.String()] = s.InPicture(s.Points[s.NearSide][l])
	}
	return points
}

// seriesOf returns the series of a clip.
func seriesOf(s *kinematics.Series, track *pose.Track, slow float64) Series {
	heel := make([]float64, len(s.HeelRise))
	for i, h := range s.HeelRise {
		heel[i] = 100 * h
	}
	conventions := angleConventions
	if !s.ZeroFound {
		conventions = noZeroConventions
	}
	angles := s.Angles
	if !s.Arms {
		angles.LeaveOutArms()
	}
	return Series{
		Angles: angles, PointsPx: pointsOf(s), HipHeightLeg: s.HipHeight, HeelRisePctFoot: heel,
		CutoffHz: s.CutoffHz, Filled: s.Filled, Missing: s.Missing, Corrected: s.Corrected, Gaps: list(s.Gaps),
		FootPitchSource: footPitchSource(s), AngleConventions: conventions,
		StandFound: s.ZeroFound, Camera: footage.CameraAlong(track, s.TimeS, slow), StandOffsetsDeg: s.OffsetDeg,
	}
}
