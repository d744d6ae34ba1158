package screening

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/events"
	"holdfast/kinematics/frontal"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/trace"
	"holdfast/models"
	"holdfast/screening/footage"
	"holdfast/screening/setting"
	"holdfast/vision"
	"holdfast/vision/device"
	"holdfast/vision/media"
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
	View       footage.ViewChoice // from where it is filmed; empty: found
	CaptureFPS float64            // 0: what the file says
	Model      string             // see vision.TrackerOptions
	EveryFrame bool               // see vision.TrackerOptions
	HeightCm   float64            // 0: not given
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
	models.GiveBack()
	sum, err := footage.SHA256(clip.Path)
	if err != nil {
		return nil, nil, err
	}
	a, err := Measure(clip, track, opt)
	if err != nil {
		return nil, nil, err
	}
	a.Clip.SHA256 = sum
	if used := device.Used(); used != device.CPU {
		a.Model.Device = used
	}
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
	slow := footage.SlowMotionFactor(clip.FrameRateHz, clip.CaptureRateHz, opt.CaptureFPS)
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
	obs := footage.Observations(track, float64(info.WidthPx), float64(info.HeightPx), slow)
	unplaced := fix.place(obs, track)
	how, rollSource, calibrated, err := howToMeasure(track, fix, opt)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	scenes, views := footage.PickView(obs, track, how)
	if err := seenEnough(path, track, scenes); err != nil {
		return nil, err
	}
	m, err := find(path, footage.Inside(obs, track), track, how, opt, fix.Part)
	if err != nil {
		return nil, err
	}
	series, reps, notices, front := m.series, m.reps, m.notices, m.front
	footage.MarkRepeats(reps, track, slow)
	if err := refuseFeetOut(path, reps, notices); err != nil {
		return nil, err
	}
	if seen, hint := wrongView(series.View); hint != "" && !front {
		return nil, refuse(path, ErrCannotMeasure, hint, seen)
	}
	series.View.RollSource = cmp.Or(rollSource, series.View.RollSource)
	a := &Analysis{
		Schema: AnalysisSchema, Program: Program, Athlete: opt.Athlete,
		Clip:     info,
		Model:    ModelInfo{Name: track.ModelName, SHA256: track.ModelSHA256, Calibration: &calibrated},
		Movement: movementOf(series, opt), Facing: series.Facing.String(), NearSide: series.NearSide.String(),
		HeightCm: cmp.Or(opt.HeightCm, math.NaN()), LoadKg: math.NaN(), Setting: opt.Setting.OrNil(),
		View:   View{series.View, front, track.CameraKnown, track.CameraMoved, track.CameraMotionPx},
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
	if front {
		a.beFromFront(series)
	} else {
		if m.unfit == nil {
			notices = append(notices, addBody(a, series, reps, opt, carried || unheld)...)
		}
		series.LeaveOutGuessed(obs)
		series.LeaveOutHidden(reps)
		a.Series.PointsPx = pointsOf(series)
	}
	if m.unfit != nil {
		a.bePlain(m.unfit)
	}
	a.Warnings = append(a.Warnings, ofMovement(series.Movement, notices)...)
	if len(unplaced) > 0 {
		a.Warnings = append(a.Warnings, notice.New("correction_not_placed", notice.Params{"frame": unplaced[0]}))
	}
	a.Warnings = append(a.Warnings, footage.RateWarnings(track, reps, info.FrameRateHz, info.SlowMotionFactor)...)
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
		Floor: fix.Floor, NoFeet: footage.NoFeet(track),
	}, rollSource, calibrated, errors.Join(err, unknown)
}

// refusalOf says why the sums made nothing of a clip.
func refusalOf(path string, err error, series *kinematics.Series, opt Options, notices []kinematics.Notice,
	track *pose.Track) error {
	switch {
	case errors.Is(err, kinematics.ErrNotFromFront):
		return refuse(path, ErrCannotMeasure, "film_from_side", notice.New("saw_not_from_front", nil))
	case errors.Is(err, frontal.ErrTurns):
		return refuse(path, ErrCannotMeasure, "film_one_view", notice.New("saw_turns", nil))
	case errors.Is(err, kinematics.ErrNoReps):
		if opt.View == footage.ViewFront {
			series.View = trace.View{} // it is the one that was asked for
		}
		return noReps(path, series, opt.Movement != "", notices, track.PeopleSeen)
	case errors.Is(err, correct.ErrRepChange):
		return fmt.Errorf("%s: %w: %s", path, ErrBadCorrection,
			strings.TrimPrefix(err.Error(), correct.ErrRepChange.Error()+": "))
	}
	return &media.ClipError{Path: path, Err: fmt.Errorf("%w: %w", ErrCannotMeasure, err),
		Hint: words.Say("notice.film_whole_body", nil), HintCode: "film_whole_body"}
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
