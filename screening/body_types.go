package screening

import (
	"holdfast/kinematics"
	"holdfast/kinematics/stats"
)

// Set sums up the whole reps of one tempo in a clip.
type Set struct {
	Tempo string `json:"tempo"`
	Reps  int    `json:"reps"`
	// BetweenRepsSDDeg is the spread of the range of motion between reps; null for
	// one rep.
	BetweenRepsSDDeg JointNumbers `json:"between_reps_sd_deg"`
	// Drift is how the range of motion changes from the first rep to the last, as
	// with fatigue; null with fewer than three reps.
	Drift *SetDrift `json:"drift"`
	// Positions are the readings that the ladder compares, by position.
	Positions []PositionReadings `json:"positions"`
}

// SetDrift is the change of the range of motion over a set, by joint, first to last.
type SetDrift struct {
	Knee  Drift `json:"knee"`
	Hip   Drift `json:"hip"`
	Ankle Drift `json:"ankle"`
}

// Drift is a straight line through the ranges of motion of a set.
type Drift struct {
	TotalDeg   float64    `json:"total_deg"`
	Interval95 [2]float64 `json:"interval95"` // of TotalDeg
	Drifts     bool       `json:"drifts"`     // the interval leaves 0 out
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
	Phase kinematics.PhaseName `json:"phase"`
	kinematics.Change
}

// CurvePair is one angle over one part of the movement (descent, ascent, landing)
// in two conditions, 101 values from 0 to 100 % of the part's own time.
type CurvePair struct {
	Angle        string       `json:"angle"` // as in AngleSeries: knee_flexion ...
	Part         string       `json:"part"`
	BaselineDeg  []float64    `json:"baseline_deg"`
	BaselineBand [][2]float64 `json:"baseline_band_deg"`
	// Null when one condition has not got the part (no landing without a jump): then
	// only the other is drawn.
	ChallengeDeg  []float64    `json:"challenge_deg"`
	ChallengeBand [][2]float64 `json:"challenge_band_deg"`
	// LostFromPct is where the challenge first falls short beyond its interval and
	// stays so, GainedFromPct where it first goes beyond; null: nowhere.
	LostFromPct   *int `json:"lost_from_pct"`
	GainedFromPct *int `json:"gained_from_pct"`
}

// AngleAngleCurve is one condition's mean curve of an angle-angle plot.
type AngleAngleCurve struct {
	Tempo   string               `json:"tempo"`
	OverDeg []float64            `json:"over_deg"` // across: the proximal joint
	OfDeg   []float64            `json:"of_deg"`   // up: the distal joint
	Shares  stats.CouplingShares `json:"shares"`
	// VariabilityDeg is the coupling angle's spread between reps; null for one rep.
	VariabilityDeg float64 `json:"variability_deg"`
}

// AngleAngle is a plot of one angle over another through a part of the movement.
type AngleAngle struct {
	Over      string           `json:"over"`
	Of        string           `json:"of"`
	Part      string           `json:"part"`
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
	Knee  kinematics.Change `json:"knee"`
	Hip   kinematics.Change `json:"hip"`
	Ankle kinematics.Change `json:"ankle"`
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
	Interval95 [2]float64         `json:"interval95"`
	Change     *kinematics.Change `json:"change"` // against the easiest of the axis; null for itself
}
