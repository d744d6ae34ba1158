package screening

import (
	"math"

	"holdfast/kinematics"
)

// Scale says how many millimetres a pixel in the plane of the athlete stands for.
type Scale struct {
	MmPerPx kinematics.Estimate `json:"mm_per_px"`
	// Known says that there is a source better than the usual length of a leg:
	// lengths are given in metres and centimetres only then.
	Known   bool          `json:"known"`
	Sources []ScaleSource `json:"sources"`
	// Agree says that the sources lie within their intervals of one another.
	Agree bool `json:"agree"`
}

// ScaleSource is one way by which the scale was found: height, mark, jump or leg.
type ScaleSource struct {
	Name    string              `json:"name"`
	MmPerPx kinematics.Estimate `json:"mm_per_px"`
}

// FootRise is how far one end of the foot came off the floor under load.
type FootRise struct {
	MaxPctFoot kinematics.Estimate `json:"max_pct_foot"`
	MaxCm      kinematics.Estimate `json:"max_cm"` // null without a scale
	AtS        float64             `json:"at_s"`
	Up         bool                `json:"up"` // by more than noise could make
	UpS        float64             `json:"up_s"`
	Spans      []kinematics.Span   `json:"spans"`
}

// CmAt returns how far the end of the foot is up in centimetres where it is up by pct per
// cent of the foot's length; not known without a scale. The error of the foot's length is
// that of the largest rise, that of the scale grows with the rise.
func (f *FootRise) CmAt(pct float64) kinematics.Estimate {
	largest := f.MaxPctFoot.Value
	if !(largest > 0) {
		return kinematics.Estimate{Value: math.NaN(), SD: math.NaN()}
	}
	cmPerPct := f.MaxCm.Value / largest
	sd, foot := f.MaxCm.SD, f.MaxPctFoot.SD*cmPerPct
	scale := max(0, sd*sd-foot*foot) * (pct / largest) * (pct / largest)
	return kinematics.Estimate{Value: pct * cmPerPct, SD: math.Sqrt(foot*foot + scale)}
}

// Foot is what the near foot and the leg over it did in a rep, the flight left out.
type Foot struct {
	Heel FootRise `json:"heel"`
	Toe  FootRise `json:"toe"`
	// Slide is the foot's largest way along the floor; KneePastToe how far the knee
	// lay before the tip of the foot at the bottom, negative behind it.
	SlidePctFoot       kinematics.Estimate `json:"slide_pct_foot"`
	SlideCm            kinematics.Estimate `json:"slide_cm"`
	KneePastToePctFoot kinematics.Estimate `json:"knee_past_toe_pct_foot"`
	KneePastToeCm      kinematics.Estimate `json:"knee_past_toe_cm"`
	ShankAtBottomDeg   kinematics.Estimate `json:"shank_at_bottom_deg"`
	// ThighAtBottomDeg is the thigh against the horizontal: 0 level, positive when
	// the hip is below the knee.
	ThighAtBottomDeg   kinematics.Estimate `json:"thigh_at_bottom_deg"`
	HipCreaseBelowKnee string              `json:"hip_crease_below_knee"` // yes, no or unclear
}

// LandingAngles are the angles at a moment of a landing.
type LandingAngles struct {
	Knee  kinematics.Estimate `json:"knee"`
	Hip   kinematics.Estimate `json:"hip"`
	Ankle kinematics.Estimate `json:"ankle"`
	Shank kinematics.Estimate `json:"shank"`
	Trunk kinematics.Estimate `json:"trunk"`
}

// Landing is what a rep with a flight shows from first contact on.
type Landing struct {
	ContactToBottomS kinematics.Estimate `json:"contact_to_bottom_s"`
	AtContactDeg     LandingAngles       `json:"at_contact_deg"`
	AtBottomDeg      LandingAngles       `json:"at_bottom_deg"`
	// PeakVelocityDegS is the fastest flexion between contact and bottom.
	PeakVelocityDegS JointNumbers `json:"peak_velocity_deg_s"`
	// SettleS is the time from contact until hip and knee are still, see
	// SettleDefinition; null when that does not come before the rep ends.
	SettleS             float64             `json:"settle_s"`
	SettleDefinition    string              `json:"settle_definition"`
	Steps               int                 `json:"steps"`
	Hops                int                 `json:"hops"`
	ForwardDriftPctFoot kinematics.Estimate `json:"forward_drift_pct_foot"`
	ForwardDriftCm      kinematics.Estimate `json:"forward_drift_cm"`
	// ToStandS is the time from contact to standing again.
	ToStandS float64 `json:"to_stand_s"`
}

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
// in two tempos, 101 values from 0 to 100 % of the part's own time.
type CurvePair struct {
	Angle        string       `json:"angle"` // as in AngleSeries: knee_flexion ...
	Part         string       `json:"part"`
	BaselineDeg  []float64    `json:"baseline_deg"`
	BaselineBand [][2]float64 `json:"baseline_band_deg"`
	// Null when one tempo has not got the part (no landing without a jump): then
	// only the other is drawn.
	ChallengeDeg  []float64    `json:"challenge_deg"`
	ChallengeBand [][2]float64 `json:"challenge_band_deg"`
	// LostFromPct is where the challenge first falls short beyond its interval and
	// stays so, GainedFromPct where it first goes beyond; null: nowhere.
	LostFromPct   *int `json:"lost_from_pct"`
	GainedFromPct *int `json:"gained_from_pct"`
}

// AngleAngleCurve is one tempo's mean curve of an angle-angle plot.
type AngleAngleCurve struct {
	Tempo   string                    `json:"tempo"`
	OverDeg []float64                 `json:"over_deg"` // across: the proximal joint
	OfDeg   []float64                 `json:"of_deg"`   // up: the distal joint
	Shares  kinematics.CouplingShares `json:"shares"`
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

// Ladder follows each position from slow to fast to the landing of a jump.
type Ladder struct {
	Rungs   []Rung `json:"rungs"`
	Caution string `json:"caution"`
}

// Rung is one position through the tempos.
type Rung struct {
	Position string     `json:"position"`
	Unit     string     `json:"unit"`
	Cells    []LadderAt `json:"cells"`         // slow, fast, jump, as far as they were filmed
	First    string     `json:"first_outside"` // a tempo, or empty
	PointsTo string     `json:"points_to"`     // range, control_at_speed, control_through_change_of_direction, or empty
	Sentence string     `json:"sentence"`      // empty where nothing is said
}

// LadderAt is a position at one tempo.
type LadderAt struct {
	Tempo string  `json:"tempo"`
	Value float64 `json:"value"`
	// Interval95 is that of Value, the mean of the reps; in a comparison of before it was
	// kept both ends are 0.
	Interval95 [2]float64         `json:"interval95"`
	Change     *kinematics.Change `json:"change"` // against slow; null for slow itself
}
