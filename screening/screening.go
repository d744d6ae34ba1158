package screening

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/events"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/trace"
	"holdfast/screening/footage"
	"holdfast/screening/setting"
	"holdfast/vision"
	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
	"holdfast/words"
)

// Program is the name and version written into results.
const Program = "holdfast 0.2"

// The reasons for which clips are turned away after tracking.
var (
	// ErrNoReps: the athlete was tracked, but no repetition was found.
	ErrNoReps error = words.Error("no_reps")
	// ErrCannotMeasure: the clip cannot carry the numbers that were asked for.
	ErrCannotMeasure error = words.Error("cannot_measure")
	// ErrOneTempo: there are no two tempos to compare; it wraps ErrCannotMeasure.
	ErrOneTempo = fmt.Errorf("%w: one tempo", ErrCannotMeasure)
	// ErrDifferentNetworks: the clips to compare were measured with different networks or calibrations.
	ErrDifferentNetworks error = words.Error("different_networks")
	// ErrDifferentMovement: the clips to compare show different movements.
	ErrDifferentMovement error = words.Error("different_movement")
)

// Options are the coach's choices for an analysis. The zero value finds
// everything by itself with the default network.
type Options struct {
	Athlete    string
	Movement   string               // its key; empty: found
	Tempo      events.Tempo         // for every rep; TempoUnknown: found
	RepTempo   map[int]events.Tempo // for single reps, by number from 1
	Facing     body.Facing
	CaptureFPS float64 // 0: what the file says
	Model      string  // see vision.TrackerOptions
	EveryFrame bool    // see vision.TrackerOptions
	HeightCm   float64 // 0: not given
	// MarkPx is the length in pixels, MarkCm that in centimetres, of something in the
	// plane of the athlete; 0: not given.
	MarkPx, MarkCm float64
	// Masses is the table of segment masses: MassesMean (empty), MassesFemale or
	// MassesMale.
	Masses string
	// SupportBandPct is the middle of the foot in per cent of its length; zero: 25 to
	// 75.
	SupportBandPct [2]float64
	// LoadKg is what the athlete carries, in kilograms; nil: nothing is said of it. With a
	// load centre of mass and support point are not given.
	LoadKg *float64
	// Setting is how else the set was done; it changes no number.
	Setting setting.Setting
	// Corrections are what a coach changed by hand; nil: nothing.
	Corrections *Corrections
	// VerticalDeg is by how many degrees the phone's picture is turned clockwise
	// against the true vertical; nil: read from the background or a jump.
	VerticalDeg *float64
	// Smoother is how the points are smoothed; the zero value fits one body to
	// the clip.
	Smoother body.Smoother
	// MaxMinutes is how long a clip may last; 0: DefaultMaxMinutes.
	MaxMinutes float64
	Progress   media.Progress
}

// Analyze tracks the athlete through a clip and measures every rep. The track
// is returned beside the analysis for those who want the network's own points;
// its times are the clip's own, also where the camera filmed in slow motion.
//
// The errors are those of media.Open and vision.Tracker.Track, a
// *media.ClipError that wraps ErrNoReps or ErrCannotMeasure, and the context's.
func Analyze(ctx context.Context, clipPath string, opt Options) (*Analysis, *pose.Track, error) {
	clip, err := media.Open(ctx, clipPath)
	if err != nil {
		return nil, nil, err
	}
	return AnalyzeClip(ctx, clip, opt)
}

// AnalyzeClip is Analyze of a clip that was opened already; the clip is turned upright where
// its own mark was wrong.
func AnalyzeClip(ctx context.Context, clip *media.Clip, opt Options) (*Analysis, *pose.Track, error) {
	if err := checkLength(clip, opt.MaxMinutes); err != nil {
		return nil, nil, err
	}
	tracker, err := vision.NewTracker(vision.TrackerOptions{Model: opt.Model, EveryFrame: opt.EveryFrame})
	if err != nil {
		return nil, nil, err
	}
	track, err := tracker.Track(ctx, clip, opt.Progress)
	if err = errors.Join(err, tracker.Close()); err != nil {
		return nil, nil, err
	}
	sum, err := fileSHA256(clip.Path)
	if err != nil {
		return nil, nil, err
	}
	a, err := Measure(clip, track, opt)
	if err != nil {
		return nil, nil, err
	}
	a.Clip.SHA256 = sum
	return a, track, nil
}

const (
	// DefaultMaxMinutes is how long a clip may last, as it plays: a set takes a minute.
	DefaultMaxMinutes = 10
	// mostFramesPerMinute bounds the frames of a clip: those of 120 a second.
	mostFramesPerMinute = 120 * 60
)

// checkLength refuses a clip that is too long.
func checkLength(clip *media.Clip, maxMinutes float64) error {
	if maxMinutes <= 0 {
		maxMinutes = DefaultMaxMinutes
	}
	const hint = "cut_clip"
	if clip.DurationS > 60*maxMinutes+1 { // a minute on the phone's own clock is a minute
		return refuse(clip.Path, ErrCannotMeasure, hint,
			notice.New("saw_too_long", notice.Params{"minutes": clip.DurationS / 60, "most_minutes": maxMinutes}))
	}
	if most := MostFrames(maxMinutes); len(clip.TimesS) > most {
		return refuse(clip.Path, ErrCannotMeasure, hint,
			notice.New("saw_too_many_frames", notice.Params{"frames": len(clip.TimesS), "most_frames": most}))
	}
	return nil
}

// MostFrames returns how many frames a clip may have where it may last that long.
func MostFrames(maxMinutes float64) int { return int(maxMinutes * mostFramesPerMinute) }

// Measure turns a track that was made of a clip into an analysis, without
// looking at the pictures again.
//
// The errors are *media.ClipErrors that wrap ErrNoReps or ErrCannotMeasure, and
// errors that wrap ErrBadCorrection.
func Measure(clip *media.Clip, track *pose.Track, opt Options) (*Analysis, error) {
	absolute, err := filepath.Abs(clip.Path)
	if err != nil {
		absolute = clip.Path
	}
	slow := slowMotionFactor(clip.FrameRateHz, clip.CaptureRateHz, opt.CaptureFPS)
	said := math.NaN()
	if clip.CaptureRateHz > 0 {
		said = clip.CaptureRateHz
	}
	return measureTrack(clip.Path, ClipInfo{
		Name: filepath.Base(clip.Path), Path: absolute, Frames: len(track.Poses),
		DurationS: clip.DurationS, WidthPx: clip.WidthPx, HeightPx: clip.HeightPx,
		VariableRate: clip.VariableRate, FrameRateHz: clip.FrameRateHz,
		CaptureRateHz: clip.FrameRateHz * slow, FileCaptureRateHz: said, SlowMotionFactor: slow,
		RotationDeg: clip.RotationDeg, TurnedDeg: clip.TurnedDeg,
	}, track, opt)
}

// measureTrack does what [Measure] and [MeasureAgain] have in common. path names the
// clip in errors.
func measureTrack(path string, info ClipInfo, track *pose.Track, opt Options) (*Analysis, error) {
	fix := opt.Corrections
	if fix == nil {
		fix = &Corrections{}
	}
	fix = fix.At(slowMotionOf(info))
	if err := fix.Validate(info, len(track.Poses)); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	slow := info.SlowMotionFactor
	obs := observations(info, track, slow)
	unplaced := fix.place(obs, track)
	how, rollSource, calibrated, err := howToMeasure(track, fix, opt)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	scenes, views := footage.PickView(obs, track, how)
	if err := seenEnough(path, track, scenes); err != nil {
		return nil, err
	}
	series, reps, notices, err := kinematics.Analyze(inside(obs, track), how)
	if series != nil {
		if err := refuseWrongClock(path, series, opt); err != nil {
			return nil, err
		}
	}
	if err != nil {
		return nil, refusalOf(path, err, series, opt, notices, track)
	}
	footage.MarkRepeats(reps, track, slow)
	if err := refuseFeetOut(path, reps, notices); err != nil {
		return nil, err
	}
	if seen, hint := wrongView(series.View); hint != "" {
		return nil, refuse(path, ErrCannotMeasure, hint, seen)
	}
	if rollSource != "" {
		series.View.RollSource = rollSource
	}
	a := &Analysis{
		Schema: AnalysisSchema, Program: Program, Athlete: opt.Athlete,
		Clip:     info,
		Model:    ModelInfo{Name: track.ModelName, SHA256: track.ModelSHA256, Calibration: &calibrated},
		Movement: movementOf(series, opt), Facing: series.Facing.String(), NearSide: series.NearSide.String(),
		HeightCm: cmp.Or(opt.HeightCm, math.NaN()), LoadKg: math.NaN(), Setting: opt.Setting.OrNil(),
		View:   View{series.View, track.CameraKnown, track.CameraMoved, track.CameraMotionPx},
		Series: seriesOf(series, track, slow),
		Reps:   list(reps), Warnings: []Warning{},
	}
	if !fix.Empty() {
		a.Corrections = fix
	}
	if opt.LoadKg != nil {
		a.LoadKg = *opt.LoadKg
	}
	notices, carried := footage.Carried(track, notices)
	drift, unheld := footage.Unheld(track, obs, series)
	notices = append(notices, addBody(a, series, reps, opt, carried || unheld)...)
	series.LeaveOutGuessed(obs)
	series.LeaveOutFeet(reps)
	a.Series.PointsPx = pointsOf(series)
	a.Warnings = append(a.Warnings, notices...)
	if len(unplaced) > 0 {
		a.Warnings = append(a.Warnings, notice.New("correction_not_placed", notice.Params{"frame": unplaced[0]}))
	}
	a.Warnings = append(a.Warnings, rateWarnings(info, track, reps)...)
	if unheld {
		a.Warnings = append(a.Warnings, footage.UnheldWarning(drift))
	}
	a.Warnings = append(a.Warnings, footage.FileWarnings(track, slow)...)
	a.Warnings = append(a.Warnings, footage.PieceWarnings(track, reps, scenes, views, slow)...)
	if track.PeopleSeen > 1 {
		a.Warnings = append(a.Warnings, notice.New("several_people", notice.Params{"people": track.PeopleSeen}))
	}
	a.Warnings = append(a.Warnings, tempoWarnings(opt, reps)...)
	return a, nil
}

// inside returns the observations of the part of the clip that is measured.
func inside(obs []trace.Observation, track *pose.Track) []trace.Observation {
	from, to := 0, len(obs)
	for from < to && track.Poses[from].Outside {
		from++
	}
	for from < to && track.Poses[to-1].Outside {
		to--
	}
	return obs[from:to]
}

// tempoWarnings tell of tempos that were given for reps that are not there.
func tempoWarnings(opt Options, reps []kinematics.Rep) (out []Warning) {
	for n := range opt.RepTempo {
		if n < 1 || n > len(reps) {
			out = append(out, notice.New("no_such_rep", notice.Params{"rep": n, "reps": len(reps)}))
		}
	}
	return out
}

// howToMeasure puts together what network, coach and corrections say of a track, and returns besides where its vertical
// comes from and which calibration counts.
func howToMeasure(track *pose.Track, fix *Corrections, opt Options) (
	kinematics.Options, string, CalibrationInfo, error) {
	roll, rollSource := track.RollDeg, track.RollSource
	if vertical := firstOf(fix.VerticalDeg, opt.VerticalDeg); vertical != nil {
		roll, rollSource = *vertical, trace.RollGiven
	}
	facing := opt.Facing
	if fix.Facing != "" {
		facing = parseFacing(fix.Facing)
	}
	network, calibrated, err := calibrationOf(track)
	among, unknown := lookedFor(opt.Movement)
	return kinematics.Options{
		Movements: among, Calibration: network, Facing: facing, Tempo: opt.Tempo, RepTempo: opt.RepTempo,
		RollDeg: roll, RollKnown: rollSource != "", Smoother: opt.Smoother,
		SeveralPeople: track.PeopleSeen > 1, RepChanges: fix.Reps, Masses: massModel(opt.Masses),
		Floor: fix.Floor, NoFeet: noFeet(track),
	}, rollSource, calibrated, errors.Join(err, unknown)
}

// refusalOf says why the sums made nothing of a clip.
func refusalOf(path string, err error, series *kinematics.Series, opt Options, notices []kinematics.Notice,
	track *pose.Track) error {
	switch {
	case errors.Is(err, kinematics.ErrNoReps):
		return noReps(path, series, opt.Movement != "", notices, track.PeopleSeen)
	case errors.Is(err, correct.ErrRepChange):
		return fmt.Errorf("%s: %w: %s", path, ErrBadCorrection,
			strings.TrimPrefix(err.Error(), correct.ErrRepChange.Error()+": "))
	}
	return &media.ClipError{Path: path, Err: fmt.Errorf("%w: %w", ErrCannotMeasure, err),
		Hint: words.Say("notice.film_whole_body", nil), HintCode: "film_whole_body"}
}

// rateWarnings tell of too few frames for a movement that is not slow.
func rateWarnings(info ClipInfo, track *pose.Track, reps []kinematics.Rep) []Warning {
	quick := slices.ContainsFunc(reps, func(r kinematics.Rep) bool { return r.Tempo != events.TempoSlow })
	rateHz := info.FrameRateHz / float64(footage.StoredTimes(track))
	if info.SlowMotionFactor != 1 || rateHz >= 45 || !quick {
		return nil
	}
	return notice.List("low_frame_rate", notice.Params{"rate_hz": rateHz})
}

// leastClockFlights is how many flights must agree that the clock is wrong before
// a clip is refused; a single one is told of.
const leastClockFlights = 2

// refuseWrongClock refuses a clip in which the body falls as it cannot, unless
// the user says at what rate it was filmed.
func refuseWrongClock(path string, s *kinematics.Series, opt Options) error {
	if s.ClockFlights < leastClockFlights || opt.CaptureFPS > 0 {
		return nil
	}
	return refuse(path, ErrCannotMeasure, "give_capture_rate",
		notice.New("saw_wrong_clock", kinematics.ClockParams(s.ClockFactor)))
}

// leastSeen is the part of the frames in which the athlete must be found.
const leastSeen = 0.3

// seenEnough refuses a clip in which the athlete is hardly ever found in the scenes that
// are measured.
func seenEnough(path string, track *pose.Track, scenes map[int]bool) error {
	found, whole := 0, 0
	for _, p := range track.Poses {
		if !scenes[p.Scene] {
			continue
		}
		if p.Found {
			found++
		}
		if !p.Damaged && !p.Frozen && !p.Passed {
			whole++
		}
	}
	if float64(found) < leastSeen*float64(whole) {
		return refuse(path, ErrCannotMeasure, "film_athlete_throughout",
			notice.New("saw_too_little", notice.Params{"found": found, "frames": whole}))
	}
	return nil
}

// slowMotionFactor returns by how much the file plays slower than the movement
// was: 1 for an ordinary clip. captureHz is what the file says of the rate that it
// was filmed at, captureFPS what the user says.
func slowMotionFactor(frameHz, captureHz, captureFPS float64) float64 {
	rate := captureFPS
	if rate <= 0 {
		rate = captureHz
	}
	// A file that plays at the rate it was filmed at is no slow motion; rates
	// that differ by less than a fifth are the same rate, measured differently.
	if rate <= 0 || math.Abs(math.Log(rate/frameHz)) < math.Log(1.2) {
		return 1
	}
	return rate / frameHz
}

// networkName is the network's name of a point, without its side.
func networkName(l body.Landmark) string {
	if l == body.Toe {
		return "foot_index"
	}
	return l.String()
}

// noFeet says that the network of a track places no heel and no toe.
func noFeet(track *pose.Track) bool {
	for _, name := range track.KeypointNames {
		if strings.HasSuffix(name, "_"+networkName(body.Heel)) || strings.HasSuffix(name, "_"+networkName(body.Toe)) {
			return false
		}
	}
	return true
}

// observations turns a track into what kinematics takes, with the times of the
// movement itself: those of the file divided by the slow-motion factor. A point
// that the network puts outside the picture was guessed, not seen, and is left out.
// The points are those of the first frame's picture: where the camera moved, its
// motion is taken off, and a frame whose place is not known has no points.
func observations(info ClipInfo, track *pose.Track, slow float64) []trace.Observation {
	var index [2][body.NumLandmarks]int
	for side := range index {
		for l := range body.NumLandmarks {
			index[side][l] = track.KeypointIndex(body.Side(side).String() + "_" + networkName(l))
		}
	}
	obs := make([]trace.Observation, len(track.Poses))
	for i, pose := range track.Poses {
		o := &obs[i]
		o.TimeS, o.Damaged, o.Frozen, o.Cut = pose.TimeS/slow, pose.Damaged, pose.Frozen, pose.Cut
		o.Passed = pose.Passed
		if p := pose.FootPitch; p != nil {
			o.FootPitch = trace.FootPitch{Deg: p.Deg, SDDeg: p.SDDeg}
		}
		placed := !track.CameraMoved || pose.Camera.Known
		for side := range index {
			o.Depth[side] = math.NaN()
			for l, k := range index[side] {
				p := body.MissingPoint()
				if pose.Found && placed && k >= 0 && k < len(pose.Keypoints) {
					q := pose.Keypoints[k]
					if q.X < 0 || q.Y < 0 || q.X > float64(info.WidthPx) || q.Y > float64(info.HeightPx) {
						o.Points[side][l] = p
						continue
					}
					at := pose.Camera.Apply(plane.XY{X: q.X, Y: q.Y})
					p = body.Point{X: at.X, Y: at.Y, SDPx: q.SDPx, Confidence: q.Visibility * q.Presence}
				}
				o.Points[side][l] = p
			}
			if h, s := index[side][body.Hip], index[side][body.Shoulder]; pose.Found && h >= 0 && s >= 0 &&
				max(h, s) < len(pose.Keypoints) {
				o.Depth[side] = (pose.Keypoints[h].Z + pose.Keypoints[s].Z) / 2
			}
		}
	}
	return obs
}

func fileSHA256(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", fmt.Errorf("reading %s: %w", path, err)
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", fmt.Errorf("reading %s: %w", path, err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
