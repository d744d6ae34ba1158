package screening

import (
	"encoding/json"
	"math"
	"strconv"

	"holdfast/vision"
)

// The schema names written into the JSON documents; the number behind the name grows
// when fields change. The matching JSON Schemas of those that are kept as files lie in
// the folder schema beside this file.
const (
	AnalysisSchema   = "holdfast/analysis/2"
	ComparisonSchema = "holdfast/comparison/2"
	HistorySchema    = "holdfast/history/1"
)

// firstAnalysisSchema is the schema of version 0.1, which is still read: it names no
// calibration.
const firstAnalysisSchema = "holdfast/analysis/1"

// Number is a float64 that is written to JSON with at most four decimals, and
// as null when it is NaN: a missing value is NaN everywhere in the program.
type Number float64

// MarshalJSON implements json.Marshaler.
func (n Number) MarshalJSON() ([]byte, error) {
	f := float64(n)
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return []byte("null"), nil
	}
	f = math.Round(f*1e4) / 1e4
	if f == 0 {
		f = 0 // no negative zero
	}
	return strconv.AppendFloat(nil, f, 'f', -1, 64), nil
}

// UnmarshalJSON implements json.Unmarshaler; null becomes NaN.
func (n *Number) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*n = Number(math.NaN())
		return nil
	}
	var f float64
	if err := json.Unmarshal(b, &f); err != nil {
		return err
	}
	*n = Number(f)
	return nil
}

// Missing says whether the number is NaN.
func (n Number) Missing() bool { return math.IsNaN(float64(n)) }

// ClipInfo describes the file that was analysed.
type ClipInfo struct {
	// Name is the file's base name; Path where it lay when it was analysed.
	Name         string `json:"name"`
	Path         string `json:"path"`
	SHA256       string `json:"sha256"`
	Frames       int    `json:"frames"`
	DurationS    Number `json:"duration_s"`
	WidthPx      int    `json:"width_px"`
	HeightPx     int    `json:"height_px"`
	VariableRate bool   `json:"variable_rate"`
	FrameRateHz  Number `json:"frame_rate_hz"`
	// CaptureRateHz is the rate the camera filmed at, where the file or the
	// user says so; otherwise the frame rate.
	CaptureRateHz Number `json:"capture_rate_hz"`
	// FileCaptureRateHz is the rate the file itself says the camera filmed at: null
	// when it says none.
	FileCaptureRateHz Number `json:"file_capture_rate_hz"`
	// SlowMotionFactor is by how much the file plays slower than the movement
	// was. All times of an analysis are those of the movement: multiplied by
	// the factor they are the file's.
	SlowMotionFactor Number `json:"slow_motion_factor"`
	RotationDeg      int    `json:"rotation_deg"`
	// TurnedDeg is the part of RotationDeg that the file does not ask for: people stood
	// on their heads or lay on their sides in it.
	TurnedDeg int `json:"turned_deg,omitempty"`
}

// ModelInfo names the network that found the points.
type ModelInfo struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	// Calibration is the one that the numbers rest on; nil in analyses of before it was
	// stated.
	Calibration *CalibrationInfo `json:"calibration,omitempty"`
}

// AngleSeries holds one value a sample for each angle, in degrees.
type AngleSeries struct {
	KneeFlexion       []Number `json:"knee_flexion"`
	HipFlexion        []Number `json:"hip_flexion"`
	AnkleDorsiflexion []Number `json:"ankle_dorsiflexion"`
	ShankAngle        []Number `json:"shank_angle"`
	TrunkLean         []Number `json:"trunk_lean"`
	ThighAngle        []Number `json:"thigh_angle"`
	FootPitch         []Number `json:"foot_pitch"`
}

// Series is the athlete's motion on a uniform time base.
type Series struct {
	RateHz Number   `json:"rate_hz"`
	TimeS  []Number `json:"time_s"`
	// AnglesDeg are corrected so that the athlete's own standing keeps its
	// corrected zero; RawAnglesDeg are the network's points taken as they are.
	AnglesDeg      AngleSeries `json:"angles_deg"`
	RawAnglesDeg   AngleSeries `json:"raw_angles_deg"`
	SDDeg          AngleSeries `json:"sd_deg"`
	VelocitiesDegS AngleSeries `json:"velocities_deg_s"`
	// PointsPx are the smoothed points of the near side in pixels of the upright
	// picture, by landmark name (ear, shoulder, elbow, wrist, hip, knee, ankle,
	// heel, toe). Where the camera moved, that is the clip's first picture; see
	// Camera.
	PointsPx map[string]XY `json:"points_px"`
	// Camera is where the camera was, one entry a sample: the shift, turn and
	// scale that lead from the sample's own picture to the first one. It is null
	// when the camera stood still, an entry when the place is not known.
	Camera []*Camera `json:"camera"`
	// MassCentrePx is the way of the centre of mass in pixels, as PointsPx.
	MassCentrePx XY `json:"mass_centre_px"`
	// SupportPct is the support point in per cent of the foot's length, null in the
	// air and where it is not known; SupportSDPct its standard deviation.
	SupportPct      []Number `json:"support_pct"`
	SupportSDPct    []Number `json:"support_sd_pct"`
	HipHeightLeg    []Number `json:"hip_height_leg_lengths"`
	HeelRisePctFoot []Number `json:"heel_rise_pct_foot"`
	CutoffHz        Number   `json:"cutoff_hz"`
	Filled          []bool   `json:"filled"`
	Missing         []bool   `json:"missing"`
	// Corrected marks samples that a coach's correction touched.
	Corrected        []bool      `json:"corrected"`
	Gaps             []Span      `json:"gaps"`
	StandOffsetsDeg  StandAngles `json:"stand_offsets_deg"`
	StandFound       bool        `json:"stand_found"`
	FootPitchSource  string      `json:"foot_pitch_source"`
	AngleConventions string      `json:"angle_conventions"`
}

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

// Camera is the place of the camera at one sample. A place (x, y) of its picture
// is in the first one
//
//	x' = scale (cos(a) x - sin(a) y) + dx
//	y' = scale (sin(a) x + cos(a) y) + dy
type Camera struct {
	Scale    Number `json:"scale"`
	AngleDeg Number `json:"angle_deg"`
	DXPx     Number `json:"dx_px"`
	DYPx     Number `json:"dy_px"`
}

// Similarity returns the same as a map between pictures; that of nil maps every
// place to itself.
func (c *Camera) Similarity() vision.Similarity {
	if c == nil {
		return vision.Similarity{}
	}
	return vision.Similarity{Scale: float64(c.Scale), AngleDeg: float64(c.AngleDeg), DXPx: float64(c.DXPx), DYPx: float64(c.DYPx), Known: true}
}

// XY holds one point's path: pixels, x right, y down, one value a sample.
type XY struct {
	X []Number `json:"x"`
	Y []Number `json:"y"`
}

// StandAngles are the raw angles of the athlete's quiet standing, in degrees.
type StandAngles struct {
	KneeFlexion       Number `json:"knee_flexion"`
	HipFlexion        Number `json:"hip_flexion"`
	AnkleDorsiflexion Number `json:"ankle_dorsiflexion"`
	ShankAngle        Number `json:"shank_angle"`
	TrunkLean         Number `json:"trunk_lean"`
}

// Span is a stretch of clip time in seconds.
type Span struct {
	FromS Number `json:"from_s"`
	ToS   Number `json:"to_s"`
}

// Phase is a named part of a rep.
type Phase struct {
	Name   string `json:"name"`
	StartS Number `json:"start_s"`
	EndS   Number `json:"end_s"`
}

// JointMeasure is what one joint did in one rep, in degrees.
type JointMeasure struct {
	MinDeg             Number `json:"min_deg"`
	MaxDeg             Number `json:"max_deg"`
	ROMDeg             Number `json:"rom_deg"`
	AtStandDeg         Number `json:"at_stand_deg"`
	AtBottomDeg        Number `json:"at_bottom_deg"`
	AtLandingBottomDeg Number `json:"at_landing_bottom_deg"`
	// SDDeg is the standard deviation of a reading of the maximum or the ROM;
	// SystematicSDDeg the part of it that more reps do not average out.
	SDDeg            Number    `json:"sd_deg"`
	SystematicSDDeg  Number    `json:"systematic_sd_deg"`
	ROMInterval95Deg [2]Number `json:"rom_interval95_deg"`
	PeakVelocityDegS Number    `json:"peak_velocity_deg_s"`
}

// JointMeasures holds the measures of a rep by joint, and of the two segment
// angles that are read with them.
type JointMeasures struct {
	Knee  JointMeasure `json:"knee"`
	Hip   JointMeasure `json:"hip"`
	Ankle JointMeasure `json:"ankle"`
	Shank JointMeasure `json:"shank"`
	Trunk JointMeasure `json:"trunk"`
}

// Rep is one repetition of an analysis. Times are clip times in seconds.
type Rep struct {
	Number int `json:"number"`
	// Tempo is slow, fast or jump; TempoSource is found or given.
	Tempo          string        `json:"tempo"`
	TempoSource    string        `json:"tempo_source"`
	Partial        bool          `json:"partial"`
	PartialReason  string        `json:"partial_reason,omitempty"`
	StartS         Number        `json:"start_s"`
	BottomS        Number        `json:"bottom_s"`
	BottomEndS     Number        `json:"bottom_end_s"`
	EndS           Number        `json:"end_s"`
	FlightS        Number        `json:"flight_s"` // 0 without a flight
	TakeoffS       Number        `json:"takeoff_s"`
	ContactS       Number        `json:"contact_s"`
	LandingBottomS Number        `json:"landing_bottom_s"`
	BottomSDS      Number        `json:"bottom_sd_s"`
	TakeoffSDS     Number        `json:"takeoff_sd_s"`
	ContactSDS     Number        `json:"contact_sd_s"`
	DescentS       Number        `json:"descent_s"`
	AscentS        Number        `json:"ascent_s"`
	DepthLeg       Number        `json:"depth_leg_lengths"`
	Phases         []Phase       `json:"phases"`
	Loaded         []Span        `json:"loaded"`
	Joints         JointMeasures `json:"joints"`
	Jump           *Jump         `json:"jump"`    // null without a flight
	Landing        *Landing      `json:"landing"` // null without one
	Foot           *Foot         `json:"foot"`
	Support        []SupportSpan `json:"support"` // by phase, the whole rep first
	Quality        Quality       `json:"quality"`
}

// Quality is how well the clip shows a rep, and what to film instead.
type Quality struct {
	// Grade is good, fair or poor; empty in analyses of before it was graded.
	Grade string `json:"grade"`
	// FramesInTurn counts the frames that show the leg within a tenth of the depth
	// of the bottom.
	FramesInTurn int `json:"frames_in_turn"`
	// FilledPct is the part of the rep's samples that were filled in or are
	// missing, HiddenPct the part of the frames that miss the point of the near
	// side that is hidden most, in per cent.
	FilledPct Number `json:"filled_pct"`
	HiddenPct Number `json:"hidden_pct"`
	// Confidence is the network's mean confidence in the near leg, 0 to 1;
	// WeakestPoint is the point with the lowest.
	Confidence   Number `json:"confidence"`
	WeakestPoint string `json:"weakest_point"`
	// FastestPxPerFrame is the longest way of a point of the near side from frame
	// to frame; BlurPx the smear it leaves when the shutter is open for half of a
	// frame's time.
	FastestPxPerFrame Number `json:"fastest_px_per_frame"`
	BlurPx            Number `json:"blur_px"`
	// Advice is the most important thing to film otherwise; empty when all is good.
	Advice string `json:"advice"`
}

// Warning is something the reader of the numbers must know.
type Warning struct {
	Code    string `json:"code"`
	Message string `json:"message"`
}

// Analysis is everything found in one clip.
type Analysis struct {
	Schema   string    `json:"schema"`
	Program  string    `json:"program"` // name and version
	Athlete  string    `json:"athlete"`
	Clip     ClipInfo  `json:"clip"`
	Model    ModelInfo `json:"model"`
	Facing   string    `json:"facing"`    // left or right
	NearSide string    `json:"near_side"` // left or right
	HeightCm Number    `json:"height_cm"` // null when not given
	View     View      `json:"view"`
	Series   Series    `json:"series"`
	Scale    Scale     `json:"scale"`
	// MassModel names the table of segment masses; SupportBandPct is the middle of
	// the foot.
	MassModel      string    `json:"mass_model"`
	SupportBandPct [2]Number `json:"support_band_pct"`
	// TimeToFeetS is the time from lying or kneeling to standing; null when the clip
	// does not begin so.
	TimeToFeetS Number    `json:"time_to_feet_s"`
	Reps        []Rep     `json:"reps"`
	Sets        []Set     `json:"sets"`
	Warnings    []Warning `json:"warnings"`
	// Corrections are what a coach changed by hand; nil: nothing.
	Corrections *Corrections `json:"corrections,omitempty"`
}

// View is how the camera looked at the athlete.
type View struct {
	// YawDeg is how far the camera stood from side-on, positive when it saw the
	// athlete's front rather than the back; YawSDDeg is its standard deviation.
	// Null when not known.
	YawDeg   Number `json:"yaw_deg"`
	YawSDDeg Number `json:"yaw_sd_deg"`
	// RollDeg is by how much the picture was turned clockwise, 0 when not known;
	// angles to the vertical are free of it. RollSource is lines (of the
	// background), flight (of a jump), given, or empty when not known.
	RollDeg    Number `json:"roll_deg"`
	RollSource string `json:"roll_source"`
	// CameraKnown says that the background told whether the camera moved.
	CameraKnown    bool   `json:"camera_known"`
	CameraMoved    bool   `json:"camera_moved"`
	CameraMotionPx Number `json:"camera_motion_px"`
}

// JointChange compares one joint in two tempos.
type JointChange struct {
	BaselineROMDeg  Number `json:"baseline_rom_deg"`
	ChallengeROMDeg Number `json:"challenge_rom_deg"`
	// BaselineInterval95Deg and ChallengeInterval95Deg are the intervals of the two means;
	// in a comparison of before they were kept both ends are 0.
	BaselineInterval95Deg  [2]Number `json:"baseline_interval95_deg"`
	ChallengeInterval95Deg [2]Number `json:"challenge_interval95_deg"`
	LostDeg                Number    `json:"lost_deg"`
	Interval95Deg          [2]Number `json:"interval95_deg"`
	RetainedPct            Number    `json:"retained_pct"`
	Verdict                string    `json:"verdict"`

	BaselineBottomDeg   Number    `json:"baseline_bottom_deg"`
	ChallengeBottomDeg  Number    `json:"challenge_bottom_deg"`
	BottomLostDeg       Number    `json:"bottom_lost_deg"`
	BottomInterval95Deg [2]Number `json:"bottom_interval95_deg"`
	BottomVerdict       string    `json:"bottom_verdict"`
	BaselineReps        int       `json:"baseline_reps"`
	ChallengeReps       int       `json:"challenge_reps"`
}

// JointChanges holds a change by joint.
type JointChanges struct {
	Knee  JointChange `json:"knee"`
	Hip   JointChange `json:"hip"`
	Ankle JointChange `json:"ankle"`
}

// Side is one of the clips that were compared with each other where they are of one
// tempo.
type Side struct {
	Key   string `json:"key"`   // first, second or third: it stands where a tempo stands otherwise
	Words string `json:"words"` // what it is called: "fresh", "loaded with 60 kg", a date, a clip's name
	Clip  int    `json:"clip"`  // indexes Comparison.Clips
}

// Pair compares two tempos, or two sides. BaselineClip and ChallengeClip index
// Comparison.Analyses; the rep numbers name the reps shown in the pictures (the
// most typical one of each).
type Pair struct {
	Baseline      string          `json:"baseline"`
	Challenge     string          `json:"challenge"`
	BaselineClip  int             `json:"baseline_clip"`
	ChallengeClip int             `json:"challenge_clip"`
	BaselineRep   int             `json:"baseline_rep"`
	ChallengeRep  int             `json:"challenge_rep"`
	Joints        JointChanges    `json:"joints"`
	Support       []SupportChange `json:"support"`
	Curves        []CurvePair     `json:"curves"`
	AngleAngle    []AngleAngle    `json:"angle_angle"`
}

// FirstLost names, by joint, the tempo at which range of motion was first
// lost; null when it was lost at none.
type FirstLost struct {
	Knee  *string `json:"knee"`
	Hip   *string `json:"hip"`
	Ankle *string `json:"ankle"`
}

// Comparison is what speed took: the pairs of tempos that were compared.
type Comparison struct {
	Schema            string    `json:"schema"`
	Program           string    `json:"program"`
	Athlete           string    `json:"athlete"`
	SmallestChangeDeg Number    `json:"smallest_change_that_matters_deg"`
	Clips             []ClipRef `json:"clips"`
	// Sides are what was compared where the clips are of one tempo, the baseline first:
	// their keys stand in place of tempos everywhere below. Empty: tempos were compared.
	Sides []Side `json:"sides,omitempty"`
	// Tempo is that of all reps where sides were compared.
	Tempo     string    `json:"tempo,omitempty"`
	Pairs     []Pair    `json:"pairs"`
	FirstLost FirstLost `json:"first_lost"`
	Ladder    Ladder    `json:"ladder"`
	// Landing is null when no rep has one.
	Landing *LandingComparison `json:"landing"`
	// MDC95Deg is the smallest change that the athlete's own repeated test can
	// tell from chance, by joint; null when the test was filmed once. Retest is
	// the clip of the second time.
	MDC95Deg *JointNumbers `json:"mdc95_deg"`
	Retest   *ClipRef      `json:"retest"`
	Warnings []Warning     `json:"warnings"`
	// Analyses are the analyses compared, in the order of Clips. They are
	// stored in their own files and not repeated in the comparison's JSON. Where sides
	// were compared they are copies whose reps and sets bear the sides' keys in place of
	// their tempo; reps of another tempo count as not whole.
	Analyses []*Analysis `json:"-"`
}

// JointNumbers holds a number by joint.
type JointNumbers struct {
	Knee  Number `json:"knee"`
	Hip   Number `json:"hip"`
	Ankle Number `json:"ankle"`
}

// ClipRef names a clip of a comparison and where its analysis lies.
type ClipRef struct {
	Name     string `json:"name"`
	Path     string `json:"path"`
	SHA256   string `json:"sha256"`
	Analysis string `json:"analysis"`
}
