package screening

import (
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/trace"
	"holdfast/screening/headline"
	"holdfast/screening/plain"
	"holdfast/screening/setting"
	"holdfast/vision/plane"
)

// The schema names written into the JSON documents; the number behind the name grows
// when fields change. The matching JSON Schemas of those that are kept as files lie in
// the folder schema beside this file.
const (
	AnalysisSchema   = "holdfast/analysis/8"
	ComparisonSchema = "holdfast/comparison/10"
)

// Results of before are still read. The first schema names no calibration; the first and the
// second hold sentences where there are codes with parameters now; none of them says at the
// number whether its zero is known; none of them names the movement.
var earlierAnalysisSchemas = []string{"holdfast/analysis/1", "holdfast/analysis/2", "holdfast/analysis/3",
	movelessAnalysisSchema, driftlessAnalysisSchema, sideAnalysisSchema, repsAnalysisSchema}

// The schemas of before that lack no more than the movement.
const (
	movelessAnalysisSchema = "holdfast/analysis/4"
	// This one lacks how positions go over the reps of a set, and how the set was done.
	driftlessAnalysisSchema = "holdfast/analysis/5"
	// These know no clips from the front.
	sideAnalysisSchema = "holdfast/analysis/6"
	// These know no clips without a movement.
	repsAnalysisSchema       = "holdfast/analysis/7"
	sideComparisonSchema     = "holdfast/comparison/8"
	movelessComparisonSchema = "holdfast/comparison/6"
	// This one lacks what landings lose of the fast reps' bottoms.
	slowAloneComparisonSchema = "holdfast/comparison/7"
	// All sides of these are of one tempo.
	oneTempoComparisonSchema = "holdfast/comparison/9"
)

// earlierComparisonsThatTell are the schemas of before in which an unclear change says how
// many reps would make it clear.
var earlierComparisonsThatTell = []string{"holdfast/comparison/3", "holdfast/comparison/4", "holdfast/comparison/5",
	movelessComparisonSchema, slowAloneComparisonSchema, sideComparisonSchema, oneTempoComparisonSchema}

// SaysRepsToTell says whether the comparison tells of an unclear change how many reps would
// make it clear.
func (c *Comparison) SaysRepsToTell() bool {
	return c.Schema == ComparisonSchema || slices.Contains(earlierComparisonsThatTell, c.Schema)
}

// ClipInfo describes the file that was analysed.
type ClipInfo struct {
	// Name is the file's base name; Path where it lay when it was analysed.
	Name         string  `json:"name"`
	Path         string  `json:"path"`
	SHA256       string  `json:"sha256"`
	Frames       int     `json:"frames"`
	DurationS    float64 `json:"duration_s"`
	WidthPx      int     `json:"width_px"`
	HeightPx     int     `json:"height_px"`
	VariableRate bool    `json:"variable_rate"`
	FrameRateHz  float64 `json:"frame_rate_hz"`
	// CaptureRateHz is the rate the camera filmed at, where the file or the
	// user says so; otherwise the frame rate.
	CaptureRateHz float64 `json:"capture_rate_hz"`
	// FileCaptureRateHz is the rate the file itself says the camera filmed at: null
	// when it says none.
	FileCaptureRateHz float64 `json:"file_capture_rate_hz"`
	// SlowMotionFactor is by how much the file plays slower than the movement
	// was. All times of an analysis are those of the movement: multiplied by
	// the factor they are the file's.
	SlowMotionFactor float64 `json:"slow_motion_factor"`
	RotationDeg      int     `json:"rotation_deg"`
	// TurnedDeg is the part of RotationDeg that the file does not ask for: people stood
	// on their heads or lay on their sides in it.
	TurnedDeg int `json:"turned_deg,omitempty"`
}

// ModelInfo names the network that found the points.
type ModelInfo struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	// Device is what the network ran on, where that was not the computer's processor.
	Device string `json:"device,omitempty"`
	// Calibration is the one that the numbers rest on; nil in analyses of before it was
	// stated.
	Calibration *CalibrationInfo `json:"calibration,omitempty"`
}

// Series is the athlete's motion on a uniform time base.
type Series struct {
	joints.Angles
	// PointsPx are the smoothed points of the near side in pixels of the upright
	// picture, by landmark name (ear, shoulder, elbow, wrist, hip, knee, ankle,
	// heel, toe); of a clip from the front those of both legs (left_hip and so
	// on). Where the camera moved, that is the clip's first picture; see Camera.
	PointsPx map[string]body.Path `json:"points_px"`
	// Camera is where the camera was, one entry a sample: the shift, turn and
	// scale that lead from the sample's own picture to the first one. It is null
	// when the camera stood still, an entry when the place is not known.
	Camera []*plane.Similarity `json:"camera"`
	// MassCentrePx is the way of the centre of mass in pixels, as PointsPx.
	MassCentrePx body.Path `json:"mass_centre_px"`
	// SupportPct is the support point in per cent of the foot's length, null in the
	// air and where it is not known; SupportSDPct its standard deviation.
	SupportPct      []float64 `json:"support_pct"`
	SupportSDPct    []float64 `json:"support_sd_pct"`
	HipHeightLeg    []float64 `json:"hip_height_leg_lengths"`
	HeelRisePctFoot []float64 `json:"heel_rise_pct_foot"`
	CutoffHz        float64   `json:"cutoff_hz"`
	Filled          []bool    `json:"filled"`
	Missing         []bool    `json:"missing"`
	// Corrected marks samples that a coach's correction touched.
	Corrected []bool       `json:"corrected"`
	Gaps      []trace.Span `json:"gaps"`
	// StandOffsetsDeg are the angles of the athlete's quiet standing, in degrees.
	StandOffsetsDeg body.StandAngles `json:"stand_offsets_deg"`
	StandFound      bool             `json:"stand_found"`
	// FootPitchSource is "picture" where the shoe's own picture told the foot's pitch in
	// most samples, else "points"; results of version 0.1 have another word for points.
	FootPitchSource string `json:"foot_pitch_source"`
	// AngleConventions names zero and signs of the angles; in results of before it is a sentence.
	AngleConventions string `json:"angle_conventions"`
}

// FootByPicture says whether the shoe's own picture told the foot's pitch in most samples.
func (s *Series) FootByPicture() bool { return s.FootPitchSource == footPitchOfPicture }

// FilledShare returns the part of the samples that were filled in, 0 to 1.
func (s *Series) FilledShare() float64 {
	n := 0
	for _, filled := range s.Filled {
		if filled {
			n++
		}
	}
	return float64(n) / float64(max(1, len(s.Filled)))
}

// Warning is something the reader of the numbers must know, found by the sums or beside them.
type Warning = kinematics.Notice

// Analysis is everything found in one clip.
type Analysis struct {
	Schema   string    `json:"schema"`
	Program  string    `json:"program"` // name and version
	Athlete  string    `json:"athlete"`
	Clip     ClipInfo  `json:"clip"`
	Model    ModelInfo `json:"model"`
	Movement Movement  `json:"movement"`
	Facing   string    `json:"facing"`    // left or right
	NearSide string    `json:"near_side"` // left or right
	HeightCm float64   `json:"height_cm"` // null when not given
	// LoadKg is what the athlete carried; null when nothing was said of it.
	LoadKg float64 `json:"load_kg"`
	// Setting is how else the set was done, as the coach said; nil: nothing was said.
	Setting *setting.Setting `json:"setting,omitempty"`
	View    View             `json:"view"`
	Series  Series           `json:"series"`
	Scale   measure.Scale    `json:"scale"`
	// MassModel names the table of segment masses; SupportBandPct is the middle of
	// the foot.
	MassModel      string     `json:"mass_model"`
	SupportBandPct [2]float64 `json:"support_band_pct"`
	// TimeToFeetS is the time from lying or kneeling to standing; null when the clip
	// does not begin so.
	TimeToFeetS float64          `json:"time_to_feet_s"`
	Reps        []kinematics.Rep `json:"reps"`
	Sets        []kinematics.Set `json:"sets"`
	Warnings    []Warning        `json:"warnings"`
	// Corrections are what a coach changed by hand; nil: nothing.
	Corrections *Corrections `json:"corrections,omitempty"`
	// Plain is what the angles did in a clip that fits no movement, which has no reps; nil of any other.
	Plain *plain.Plain `json:"plain,omitempty"`
}

// View is how the camera looked at the athlete. RollSource may also be lines, of the
// background.
type View struct {
	trace.View
	// Front says that the clip was filmed from the front: what only the front shows was measured, and nothing else.
	Front bool `json:"front,omitempty"`
	// CameraKnown says that the background told whether the camera moved.
	CameraKnown    bool    `json:"camera_known"`
	CameraMoved    bool    `json:"camera_moved"`
	CameraMotionPx float64 `json:"camera_motion_px"`
}

// Side is one of the clips that were compared with each other: a condition, the easiest
// first.
type Side struct {
	Key   string       `json:"key"`   // first, second or third
	Words string       `json:"words"` // what it is called: "fresh", "loaded with 60 kg", a date, a clip's name
	Clip  int          `json:"clip"`  // indexes Comparison.Clips
	Tempo events.Tempo `json:"tempo"` // of the reps that are compared
}

// Comparison is what was lost from an easy condition to a hard one: from tempo to tempo,
// or where Sides are named, from clip to clip. [Comparison.Conditions] lists them; their
// keys name them in all that follows.
type Comparison struct {
	Schema            string    `json:"schema"`
	Program           string    `json:"program"`
	Athlete           string    `json:"athlete"`
	SmallestChangeDeg float64   `json:"smallest_change_that_matters_deg"`
	Clips             []ClipRef `json:"clips"`
	// Sides are the conditions where clips were compared with each other, the baseline first.
	// Empty: tempos were compared.
	Sides []Side `json:"sides,omitempty"`
	// Axis is what the sides differ in; it is not stored.
	Axis kinematics.Axis `json:"-"`
	// Tempo is that of all reps where sides of one tempo were compared; landings have none.
	Tempo string `json:"tempo,omitempty"`
	// Headlines are what is said of each joint first, what is lost most before the others.
	Headlines []headline.Headline `json:"headlines"`
	// Withheld says why nothing is said of one condition against another; nil: it is.
	Withheld *Warning `json:"withheld"`
	// The clips of the pairs and of the landing index Analyses.
	kinematics.Comparison
	// MDC95Deg is the smallest change that the athlete's own repeated test can
	// tell from chance, by joint; null when the test was filmed once. Retest is
	// the clip of the second time.
	MDC95Deg *body.ByJoint[float64] `json:"mdc95_deg"`
	Retest   *ClipRef               `json:"retest"`
	Warnings []Warning              `json:"warnings"`
	// Fronts compares the same sets filmed from the front, which a coach joined with these; nil: there are none.
	Fronts *Comparison `json:"fronts,omitempty"`
	// Analyses are the analyses compared, in the order of Clips. They are
	// stored in their own files and not repeated in the comparison's JSON.
	Analyses []*Analysis `json:"-"`
}

// Told says of a comparison that was read what its document leaves to its archive: whose it is and what its sides
// differ in.
func (c *Comparison) Told(athlete string, axis kinematics.Axis) {
	c.Athlete, c.Axis = athlete, axis
	if c.Fronts != nil {
		c.Fronts.Told(athlete, axis)
	}
}

// ClipRef names a clip of a comparison and where its analysis lies.
type ClipRef struct {
	Name     string `json:"name"`
	Path     string `json:"path"`
	SHA256   string `json:"sha256"`
	Analysis string `json:"analysis"`
	// Setting is how the set of the clip was done beside tempo and load; nil: nothing was said.
	Setting *setting.Setting `json:"setting,omitempty"`
}
