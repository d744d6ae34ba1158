// Package plain measures a clip that fits no movement: what the angles do over time, and how far they go within a part
// that a coach marks. Nothing is called a rep in it, and nothing is told of feet, weight or tempo. How far an angle
// goes is read as in a rep ([joints.RepAngles]), with the marked part in its place.
package plain

import (
	"math"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// Plain is what the angles did in a clip without a movement.
type Plain struct {
	// Why says what was seen instead of the known movements; empty where the coach marked a part of a clip that shows
	// one.
	Why []notice.Notice `json:"why"`
	// FromS and ToS bound what was measured, in seconds of the movement; Marked says that a coach marked them, else it is
	// the whole clip.
	FromS  float64 `json:"from_s"`
	ToS    float64 `json:"to_s"`
	Marked bool    `json:"marked"`
	// Angles are what each did between them.
	Angles body.ByAngle[Range] `json:"joints"`
}

// Range is how far an angle goes, in degrees. What is not known is NaN.
type Range struct {
	MinDeg           float64    `json:"min_deg"`
	MinInterval95Deg [2]float64 `json:"min_interval95_deg"`
	MaxDeg           float64    `json:"max_deg"`
	MaxInterval95Deg [2]float64 `json:"max_interval95_deg"`
	ROMDeg           float64    `json:"rom_deg"`
	ROMInterval95Deg [2]float64 `json:"rom_interval95_deg"`
	// SDDeg is the standard deviation of ROMDeg without what all clips of the athlete share.
	SDDeg float64 `json:"sd_deg"`
	// ZeroKnown says that smallest and largest are counted from the athlete's own standing.
	ZeroKnown bool `json:"zero_known"`
}

// Known says whether it was measured.
func (r *Range) Known() bool { return !math.IsNaN(r.ROMDeg) }

// Shown are the angles that are told of, from the ground up.
var Shown = []body.Angle{body.AnkleDorsiflexion, body.KneeFlexion, body.HipFlexion, body.TrunkLean,
	body.ShoulderFlexion, body.ElbowFlexion}

// Movement returns what is looked for in a clip without a movement: every joint counts, and nothing is a rep.
func Movement() *movement.Movement {
	m := &movement.Movement{Signal: movement.Signal{Kind: movement.Height, Points: []body.Landmark{body.Hip}, Falls: true}}
	m.Rep.Least, m.Rep.Leaves, m.Rep.Back = never, never, never
	m.Turn.Follow = body.NumAngles
	for j := range body.NumJoints {
		m.Joints = append(m.Joints, j)
	}
	return m
}

// never is further than anything goes, in leg lengths.
const never = 1e6

// Moves says whether the athlete of a clip moves at all: one who stands still has no range to tell of.
func Moves(s *kinematics.Series) bool {
	for _, a := range Shown {
		if x := s.AnglesDeg[a]; signal.Quantile(x, 1-stillPart)-signal.Quantile(x, stillPart) > stillDeg {
			return true
		}
	}
	return false
}

// Angles that go no further than stillDeg, but for the stillPart of the samples at either end, are those of one who
// stands. Common practice, no source.
const stillDeg, stillPart = 15, 0.02

// Measure returns what the angles did in a part of a series without a movement, from the observations that it was made
// of, and makes the standard deviations of the series those of all that is known of an angle's error.
func Measure(s *kinematics.Series, obs []trace.Observation, part trace.Span) *Plain {
	p := &Plain{Why: []notice.Notice{}, FromS: part.FromS, ToS: part.ToS}
	nan := math.NaN()
	as := events.RepTimes{StartS: part.FromS, EndS: part.ToS, BottomS: nan, BottomEndS: nan, LandingBottomS: nan}
	var angles body.ByAngle[joints.AngleMeasure] = joints.RepAngles(&s.Motion, s.Filled, &as, []trace.Span{part},
		&s.View.AngleSDDeg, &s.Calibration)
	joints.Believe(&angles, &s.Points[s.NearSide], s.Index(part.FromS), s.Index(part.ToS))
	hidden := joints.GuessedIn(obs, s.NearSide, part)
	hidden.LeaveOut(&angles)
	for a := range p.Angles {
		p.Angles[a] = rangeOf(&angles[a], otherDeg[body.Angle(a)])
	}
	for _, a := range Shown {
		e, view := errorOf(s, a), s.View.AngleSDDeg[a]
		known := math.Sqrt(e.ClipDeg*e.ClipDeg + e.PostureDeg*e.PostureDeg + view*view + otherDeg[a]*otherDeg[a])
		for i, sd := range s.SDDeg[a] {
			s.SDDeg[a][i] = math.Hypot(sd, known)
		}
	}
	return p
}

// otherDeg is the standard deviation in degrees that the network's error has in positions that no known movement takes
// the body to, beside what is known of it in those: so that 95 % intervals held the truth in 19 of 20 readings of the
// rendered clips, of movements and of what is none.
var otherDeg = map[body.Angle]float64{body.AnkleDorsiflexion: 2, body.HipFlexion: 3, body.TrunkLean: 2.5}

// errorOf returns what is known of the network's error of an angle.
func errorOf(s *kinematics.Series, a body.Angle) body.AngleError {
	if a.OfArm() {
		return body.ArmErrors[a]
	}
	return s.Calibration.Errors[s.By][a]
}

// rangeOf returns how far an angle goes, with an error beside those of the measure.
func rangeOf(m *joints.AngleMeasure, otherDeg float64) Range {
	nan := math.NaN()
	r := Range{MinDeg: m.MinDeg, MaxDeg: m.MaxDeg, ROMDeg: m.ROMDeg, ROMInterval95Deg: m.ROMInterval95Deg,
		SDDeg: math.Hypot(m.SDDeg, otherDeg), ZeroKnown: m.ZeroKnown}
	if math.IsNaN(m.ROMDeg) { // an end that is not known leaves the other one alone
		r.MinDeg, r.MaxDeg = nan, nan
	}
	sd := math.Hypot(r.SDDeg, m.ClipSDDeg())
	r.MinInterval95Deg = stats.Estimate{Value: r.MinDeg, SD: sd}.Interval95()
	r.MaxInterval95Deg = stats.Estimate{Value: r.MaxDeg, SD: sd}.Interval95()
	more := stats.Normal95 * (sd - math.Hypot(m.SDDeg, m.ClipSDDeg()))
	r.ROMInterval95Deg[0], r.ROMInterval95Deg[1] = max(0, r.ROMInterval95Deg[0]-more), r.ROMInterval95Deg[1]+more
	return r
}
