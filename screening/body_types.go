package screening

import (
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
)

// Set sums up the whole reps of one tempo in a clip.
type Set struct {
	Tempo events.Tempo `json:"tempo"`
	Reps  int          `json:"reps"`
	// BetweenRepsSDDeg is the spread of the range of motion between reps; null for
	// one rep.
	BetweenRepsSDDeg body.ByJoint[float64] `json:"between_reps_sd_deg"`
	// Drift is how the range of motion changes from the first rep to the last, as
	// with fatigue; null with fewer than three reps.
	Drift *body.ByJoint[stats.Drift] `json:"drift"`
	// Positions are the readings that the ladder compares, by position.
	Positions []PositionReadings `json:"positions"`
}

// PositionReadings are the readings of one position in the reps of a set.
type PositionReadings struct {
	Position string    `json:"position"` // support_point, heel_rise, ankle, knee, hip, trunk
	Unit     string    `json:"unit"`     // "% of foot" or "degrees"
	Values   []float64 `json:"values"`
	NoiseSD  float64   `json:"noise_sd"`
}

// SupportChange compares the mean support point of one phase.
type SupportChange struct {
	Phase events.PhaseName `json:"phase"`
	stats.Change
}

// AngleAngleCurve is one condition's mean curve of an angle-angle plot.
type AngleAngleCurve struct {
	Tempo string `json:"tempo"`
	kinematics.AngleAngle
}

// AngleAngle is a plot of one angle over another through a part of the movement.
type AngleAngle struct {
	Over      body.Angle       `json:"over"`
	Of        body.Angle       `json:"of"`
	Part      kinematics.Part  `json:"part"`
	Baseline  AngleAngleCurve  `json:"baseline"`
	Challenge *AngleAngleCurve `json:"challenge"`
}

// LandingComparison sets three bottoms side by side, in degrees.
type LandingComparison struct {
	SlowReps int `json:"slow_reps"`
	Jumps    int `json:"jumps"`
	// SlowClip, SlowRep, JumpClip and JumpRep name the reps to be shown.
	SlowClip int `json:"slow_clip"` // -1: no slow reps
	SlowRep  int `json:"slow_rep"`
	JumpClip int `json:"jump_clip"`
	JumpRep  int `json:"jump_rep"`
	// AgainstSlow is null without slow reps.
	AgainstSlow    *JointBottoms `json:"against_slow"`
	AgainstTakeoff JointBottoms  `json:"against_takeoff"`
}

// JointBottoms compares bottoms by joint.
type JointBottoms struct {
	Knee  stats.Change `json:"knee"`
	Hip   stats.Change `json:"hip"`
	Ankle stats.Change `json:"ankle"`
}

// Ladder follows each position from the easiest condition to the hardest; for jumps it is
// that of the landing.
type Ladder struct {
	Rungs   []Rung `json:"rungs"`
	Caution string `json:"caution"`
}

// Rung is one position through the conditions.
type Rung struct {
	Position string     `json:"position"`
	Unit     string     `json:"unit"`
	Cells    []LadderAt `json:"cells"`         // the easiest first
	First    string     `json:"first_outside"` // a condition's key, or empty
	PointsTo string     `json:"points_to"`     // range, control_at_speed, control_through_change_of_direction, or empty
	Sentence string     `json:"sentence"`      // empty where nothing is said
}

// LadderAt is a position in one condition.
type LadderAt struct {
	Tempo string  `json:"tempo"` // the condition's key
	Value float64 `json:"value"`
	// Interval95 is that of Value, the mean of the reps; in a comparison of before it was
	// kept both ends are 0.
	Interval95 [2]float64    `json:"interval95"`
	Change     *stats.Change `json:"change"` // against the easiest of the axis; null for itself
}
