package screening

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/events"
	"holdfast/kinematics/trace"
	"holdfast/screening/footage"
	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
	"holdfast/words"
)

// ErrBadCorrection: what a coach changed by hand makes no sense for the clip.
var ErrBadCorrection error = words.Error("bad_correction")

// Corrections are what a coach changed by hand in a clip. They are kept apart from
// what was tracked: measuring again with the zero value gives the first result.
type Corrections struct {
	Points []PointCorrection   `json:"points,omitempty"`
	Reps   []correct.RepChange `json:"reps,omitempty"`
	// VerticalDeg is by how much the picture is turned clockwise against the true
	// vertical; nil: as found.
	VerticalDeg *float64 `json:"vertical_deg,omitempty"`
	// Floor is a line along the floor under the athlete's feet, in the clip's first
	// picture; nil: as found. It gives the vertical where nothing else does, and
	// bounds the level that heel rise and a flat foot are judged against: the heel
	// of a flat foot lies on the line or up to 5 cm over it.
	Floor *correct.Floor `json:"floor,omitempty"`
	// Facing is left, right, or empty: as found.
	Facing string `json:"facing,omitempty"`
	// Part is what counts of a clip that is measured without a movement; nil: a movement is looked for, and where there
	// is none the whole clip counts.
	Part *Part `json:"part,omitempty"`
	// SlowMotionFactor is that of the analysis whose times the reps are changed in; 0:
	// that of the analysis that is made. When the rate a clip was filmed at turns out to
	// be another, all its times change, and these with them.
	SlowMotionFactor float64 `json:"slow_motion_factor,omitempty"`
}

// At returns the corrections in the times of an analysis with the given slow-motion
// factor.
func (c *Corrections) At(slowMotionFactor float64) *Corrections {
	if c == nil || !(c.SlowMotionFactor > 0) || !(slowMotionFactor > 0) || c.SlowMotionFactor == slowMotionFactor {
		return c
	}
	out := *c
	out.SlowMotionFactor = slowMotionFactor
	k := c.SlowMotionFactor / slowMotionFactor
	scaled := func(t *float64) *float64 {
		if t == nil {
			return nil
		}
		v := *t * k
		return &v
	}
	if c.Part != nil {
		out.Part = &Part{c.Part.FromS * k, c.Part.ToS * k}
	}
	out.Reps = slices.Clone(c.Reps)
	for i := range out.Reps {
		r := &out.Reps[i]
		r.AtS *= k
		r.StartS, r.BottomS, r.EndS = scaled(r.StartS), scaled(r.BottomS), scaled(r.EndS)
	}
	return &out
}

// PointCorrection puts one point of the body where the coach saw it: pixels of the
// upright frame itself. Of two for the same point the later one counts.
type PointCorrection struct {
	Frame int     `json:"frame"` // number of the frame, from 0
	Point string  `json:"point"` // ear, shoulder, elbow, wrist, hip, knee, ankle, heel, toe
	Side  string  `json:"side"`  // near, left or right
	XPx   float64 `json:"x_px"`
	YPx   float64 `json:"y_px"`
}

// Empty says whether nothing was corrected.
func (c *Corrections) Empty() bool {
	return c == nil || len(c.Points) == 0 && len(c.Reps) == 0 && c.VerticalDeg == nil && c.Floor == nil &&
		c.Facing == "" && c.Part == nil
}

// The bounds of what is taken; common practice, no source.
const (
	maxPointCorrections = 20000
	maxRepCorrections   = 2000
	maxVerticalDeg      = 45.0
	maxFloorDeg         = 20.0 // a phone is turned less, and a floor slopes less
	minFloorPart        = 0.05 // of the picture's width
	edgePart            = 0.01 // of the picture, by which a hand may miss its edge
)

// Validate returns an error that wraps ErrBadCorrection, with a plain sentence,
// when something is not a number, has an unknown name, lies outside of the clip or
// is out of order. info is that of the clip, frames the number of its frames.
// Whether a rep lasts at its time only measuring can tell; that has the
// same error.
func (c *Corrections) Validate(info ClipInfo, frames int) error {
	if c.Empty() {
		return nil
	}
	if len(c.Points) > maxPointCorrections || len(c.Reps) > maxRepCorrections {
		return badCorrection("correction_many", words.Params{"points": maxPointCorrections, "reps": maxRepCorrections})
	}
	for i := range c.Points {
		if err := c.Points[i].validate(info, frames); err != nil {
			return err
		}
	}
	for i := range c.Reps {
		if err := validRep(&c.Reps[i], info.DurationS/slowMotionOf(info)); err != nil {
			return err
		}
	}
	if v := c.VerticalDeg; v != nil && !(math.Abs(*v) <= maxVerticalDeg) {
		return badCorrection("correction_vertical", words.Params{"most_deg": maxVerticalDeg})
	}
	if c.Floor != nil {
		if err := validFloor(c.Floor, info); err != nil {
			return err
		}
	}
	if c.Facing != "" && parseFacing(c.Facing) == body.FacingAuto {
		return badCorrection("correction_facing", words.Params{"facing": short(c.Facing)})
	}
	if p, endS := c.Part, info.DurationS/slowMotionOf(info); p != nil &&
		!(p.FromS >= 0 && p.ToS <= endS+leastPartS && p.ToS-p.FromS >= leastPartS) {
		return badCorrection("correction_part_outside", words.Params{"from_s": 0, "end_s": endS, "least_s": leastPartS})
	}
	return nil
}

func badCorrection(code string, params words.Params) error {
	return words.Because(ErrBadCorrection, code, params)
}

// inPicture says whether a place lies in the picture of a clip, or hardly outside.
func inPicture(info ClipInfo, xPx, yPx float64) bool {
	w, h := float64(info.WidthPx), float64(info.HeightPx)
	return xPx >= -edgePart*w && xPx <= (1+edgePart)*w && yPx >= -edgePart*h && yPx <= (1+edgePart)*h
}

func (p *PointCorrection) validate(info ClipInfo, frames int) error {
	_, _, _, ok := p.names()
	switch {
	case !ok:
		return badCorrection("correction_point", words.Params{"point": short(p.Point), "side": short(p.Side)})
	case p.Frame < 0 || p.Frame >= frames:
		return badCorrection("correction_frame", words.Params{"frame": p.Frame, "frames": frames})
	case !inPicture(info, p.XPx, p.YPx):
		return badCorrection("correction_outside", words.Params{"point": p.Point, "frame": p.Frame})
	}
	return nil
}

// validRep looks at a changed rep of a clip that ends at endS, in the time of the movement.
func validRep(r *correct.RepChange, endS float64) error {
	inClip := func(t *float64) bool { return t == nil || *t >= 0 && *t <= endS }
	before := func(a, b *float64) bool { return a == nil || b == nil || *a < *b }
	switch {
	case r.Tempo != events.TempoUnknown && r.Tempo.Rank() == 0:
		return badCorrection("correction_tempo", words.Params{"tempo": short(string(r.Tempo))})
	case !inClip(&r.AtS) || !inClip(r.StartS) || !inClip(r.BottomS) || !inClip(r.EndS):
		return badCorrection("correction_time", words.Params{"at_s": r.AtS, "end_s": endS})
	case !before(r.StartS, r.BottomS) || !before(r.BottomS, r.EndS) || !before(r.StartS, r.EndS):
		return badCorrection("correction_order", words.Params{"at_s": r.AtS})
	}
	return nil
}

func validFloor(f *correct.Floor, info ClipInfo) error {
	switch {
	case !inPicture(info, f.X1, f.Y1) || !inPicture(info, f.X2, f.Y2):
		return badCorrection("correction_floor_outside", nil)
	case !(math.Hypot(f.X2-f.X1, f.Y2-f.Y1) >= minFloorPart*float64(info.WidthPx)):
		return badCorrection("correction_floor_short", nil)
	case !(math.Abs(f.RollDeg()) <= maxFloorDeg):
		return badCorrection("correction_floor_slope", words.Params{"most_deg": maxFloorDeg})
	}
	return nil
}

// short keeps a name that makes no sense from filling the screen.
func short(s string) string {
	r := []rune(s)
	if len(r) > 20 {
		return string(r[:20]) + "..."
	}
	return s
}

// names returns what a correction's names stand for.
func (p *PointCorrection) names() (k body.Landmark, side body.Side, near, ok bool) {
	for k = range body.NumLandmarks {
		if k.String() == p.Point {
			switch p.Side {
			case "near":
				return k, 0, true, true
			case body.Left.String():
				return k, body.Left, false, true
			case body.Right.String():
				return k, body.Right, false, true
			}
		}
	}
	return 0, 0, false, false
}

func parseFacing(s string) body.Facing {
	for _, f := range []body.Facing{body.FacingLeft, body.FacingRight} {
		if f.String() == s {
			return f
		}
	}
	return body.FacingAuto
}

// slowMotionOf returns the slow-motion factor of a clip, 1 where it is not known.
func slowMotionOf(info ClipInfo) float64 {
	if f := info.SlowMotionFactor; f > 0 && !math.IsInf(f, 1) {
		return f
	}
	return 1
}

// place gives the observations their corrected points, in the first frame's
// picture, and returns the frames whose place in it is not known.
func (c *Corrections) place(obs []trace.Observation, track *pose.Track) (unplaced []int) {
	for i := range c.Points {
		p := &c.Points[i]
		k, side, near, ok := p.names()
		if !ok {
			continue
		}
		at := plane.XY{X: p.XPx, Y: p.YPx}
		if track.CameraMoved {
			camera := cameraAt(track, p.Frame)
			if !camera.Known {
				unplaced = append(unplaced, p.Frame)
				continue
			}
			at = camera.Apply(at)
		}
		o := &obs[p.Frame]
		o.Corrections = append(o.Corrections, trace.Correction{Near: near, Side: side, Landmark: k, X: at.X, Y: at.Y})
	}
	return unplaced
}

// cameraReachS is how far away, in seconds, the two known places of a camera may lie
// that say where it was between them.
const cameraReachS = 0.3

// cameraAt returns the place of the camera at a frame; where it is not known, what
// lies between those before and after it.
func cameraAt(track *pose.Track, frame int) plane.Similarity {
	now := &track.Poses[frame]
	if now.Camera.Known {
		return now.Camera
	}
	known := func(dir int) *pose.Pose {
		for i := frame + dir; i >= 0 && i < len(track.Poses); i += dir {
			p := &track.Poses[i]
			if math.Abs(p.TimeS-now.TimeS) > cameraReachS {
				break
			}
			if p.Camera.Known {
				return p
			}
		}
		return nil
	}
	a, b := known(-1), known(1)
	if a == nil || b == nil {
		return plane.Similarity{}
	}
	return a.Camera.Toward(b.Camera, (now.TimeS-a.TimeS)/(b.TimeS-a.TimeS))
}

func firstOf(p ...*float64) *float64 {
	if i := slices.IndexFunc(p, func(q *float64) bool { return q != nil }); i >= 0 {
		return p[i]
	}
	return nil
}

// MeasureAgain measures a clip that was analysed before, from its stored track and
// the Clip of its Analysis alone: no file is opened and no network is run. With the
// same options and no corrections the result is that of the first time. A rate
// given with opt.CaptureFPS replaces the one of the first time.
//
// The errors are those of [Measure].
func MeasureAgain(info ClipInfo, track *pose.Track, opt Options) (*Analysis, error) {
	cannot := func(code string, params words.Params) error {
		return &media.ClipError{Path: info.Name, Doing: words.Say("error.doing_measuring_again", nil),
			Err:  words.Because(ErrCannotMeasure, code, params),
			Hint: words.Say("error.hint_analyse_itself", nil)}
	}
	switch {
	case track == nil || len(track.Poses) == 0:
		return nil, cannot("no_track", nil)
	case info.WidthPx <= 0 || info.HeightPx <= 0 || !(info.FrameRateHz > 0):
		return nil, cannot("size_unknown", nil)
	case info.Frames != 0 && info.Frames != len(track.Poses):
		return nil, cannot("other_track", words.Params{"frames": info.Frames, "tracked": len(track.Poses)})
	}
	info.Frames = len(track.Poses)
	slow := slowMotionOf(info)
	if opt.CaptureFPS > 0 || info.FileCaptureRateHz != 0 { // 0: written before the file's own was kept
		said := info.FileCaptureRateHz
		if math.IsNaN(said) {
			said = 0
		}
		slow = footage.SlowMotionFactor(info.FrameRateHz, said, opt.CaptureFPS)
		info.CaptureRateHz = info.FrameRateHz * slow
	}
	info.SlowMotionFactor = slow
	return measureTrack(info.Name, info, track, opt)
}
