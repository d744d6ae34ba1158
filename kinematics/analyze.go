package kinematics

import (
	"errors"
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/events"
	"holdfast/kinematics/frontal"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// ErrNoReps: the athlete was followed, but no repetition was found; callers branch on it
// with errors.Is.
var ErrNoReps = errors.New("no repetition was found")

// errNoMovement: the options name no movement to look for.
var errNoMovement = errors.New("no movement is looked for")

// Options are the coach's choices. With no more than movements everything is found.
type Options struct {
	// Movements are those that are looked for; the one of which there are most reps is measured.
	Movements []*movement.Movement
	// Facing is the direction the athlete looks in; FacingAuto: found.
	Facing body.Facing
	// Tempo is the tempo of every rep; TempoUnknown: found.
	Tempo events.Tempo
	// RepTempo sets the tempo of single reps, by number from 1.
	RepTempo map[int]events.Tempo
	// RollDeg is by how much the picture is turned clockwise against the true
	// vertical, in degrees, when RollKnown; else a jump's flight may tell.
	RollDeg   float64
	RollKnown bool
	// Smoother says how points are smoothed: by fitting one body to the clip, or
	// each point by itself.
	Smoother body.Smoother
	// SystematicSDDeg is the standard deviation, in degrees, of an error of each
	// angle's range that the points cannot show, such as that of a camera that
	// does not look straight from the side; 0: none. It widens every interval.
	SystematicSDDeg [body.NumAngles]float64
	// SeveralPeople says that others were seen in the picture; it matters to the
	// advice on what to film instead.
	SeveralPeople bool
	// RepChanges are the coach's changes of single reps; they come before Tempo and
	// RepTempo.
	RepChanges []correct.RepChange
	// Calibration is what was settled for the network that found the points; the zero
	// value: nothing, and the intervals are wide.
	Calibration body.Calibration
	// NoFeet says that the network that found the points places no heel and no toe:
	// they are not known, but not hidden either.
	NoFeet bool
	// Masses is how the body's mass is spread, for the vertical that a jump tells; the zero
	// value: [body.DeLevaMean].
	Masses body.MassModel
	// Floor is where the coach drew the floor; nil: not drawn. It tells the vertical
	// where RollKnown is false, and bounds the level of the heel of a flat foot.
	Floor *correct.Floor
}

// Series is the athlete's motion through a clip and what is known of how it was seen.
type Series struct {
	joints.Motion
	// Filled marks samples in which hip, knee or ankle of the near side stands
	// in a filled gap.
	Filled []bool
	// Corrected marks samples in which a coach's correction moved a point.
	Corrected []bool
	// Gaps are the stretches of Missing samples.
	Gaps  []trace.Span
	Stand events.Stand
	// ZeroFound says that standing was found that the angles are counted from.
	ZeroFound bool
	// Drops are the stretches in which the body falls from something raised, in a movement that does.
	Drops []trace.Span
	// Movement is the one that was measured, and SurePct how sure it is; WentPart is how far it goes from standing at
	// most, as a part of what a rep must go.
	Movement          *movement.Movement
	SurePct, WentPart float64
	// Calibration is what was taken for true of the network that found the points.
	Calibration body.Calibration
	View        trace.View
	// ClockFactor is by how many times the clip seems to play slower than it was
	// filmed, 1 when nothing speaks against its clock; ClockFlights is the number
	// of flights that say so.
	ClockFactor  float64
	ClockFlights int
	// SwappedFrames counts frames whose left and right leg were put back, Spikes
	// single points left out because they jumped away for one frame.
	SwappedFrames, Spikes int
}

// InPicture returns an upright path as it lies in the picture.
func (s *Series) InPicture(p body.Path) body.Path { return p.Turned(-s.View.RollDeg) }

// Analyze turns the observations of a clip, in order of time, into the athlete's
// motion, its repetitions and notices for the reader. It returns an error that wraps
// trace.ErrTooFewFrames when there is too little to go by, ErrNoReps, beside the series,
// when the athlete was followed but no repetition was found, and one that wraps
// ErrRepChange when a rep cannot be changed as the coach wants.
func Analyze(obs []trace.Observation, opt Options) (*Series, []Rep, []Notice, error) {
	if len(opt.Movements) == 0 {
		return nil, nil, nil, errNoMovement
	}
	f, s, notices, err := follow(obs, &opt, opt.Movements)
	if err != nil {
		return s, nil, notices, err
	}
	tr, network := f.tr, opt.Calibration.OrAssumed()
	standing, airborne := tr.Within(s.Stand.Spans), tr.Within(slices.Concat(f.flights, s.Drops))
	if s.View.SurelyDeg() > mostFootYawDeg {
		tr.FootPitch = body.MeasuredPitch{}
	}
	var byHand correct.Samples
	byHand, s.Corrected = f.hands.OnSamples(f.frames, tr)
	s.Motion = joints.Smooth(tr, standing, airborne, joints.Smoothing{
		By: opt.Smoother, CutoffHz: joints.CutoffFor(tr, events.HardestTempo(f.times, opt.Tempo)), Network: &network,
		Zero: f.zero, Before: f.before, ByHand: &byHand, Floor: opt.Floor.Upright(s.View.RollDeg),
		Arms: s.Movement.CountsArms(), Stance: s.Movement.Feet.Stance,
	})
	s.View.AngleSDDeg = trace.ViewSDs(tr, s.View, events.BottomsS(f.times))
	reps := measureReps(tr, f.course, f.frames, &s.Motion, airborne, f.times, s.Drops, s.View, &opt)
	nameUnmeasured(reps, s.Movement, &opt)
	s.Motion.Believe()
	notices = slices.Concat(notices, joints.ZeroNotices(&s.OffsetDeg), viewNotices(s.View), repNotices(reps, tr.RateHz),
		impossibleNotices(reps), neverUpNotices(reps), betweenNotices(reps))
	if len(reps) == 0 {
		return s, nil, notices, ErrNoReps
	}
	return s, reps, notices, nil
}

// followed is an athlete followed through a clip: his trace, as a coach corrected it and before, and when his reps are.
type followed struct {
	frames           []trace.Observation
	tr, before       *trace.Trace
	hands            correct.Corrected
	flights, doubted []trace.Span
	course           *events.Course
	times            []events.RepTimes
	zero             []bool // the samples of standing that angles are counted from
}

// follow finds the athlete's reps among the movements and how the camera looks at him; the series has no motion yet.
func follow(obs []trace.Observation, opt *Options, among []*movement.Movement) (*followed, *Series, []Notice, error) {
	frames, swapped, spikes, err := trace.Clean(obs)
	if err != nil {
		return nil, nil, nil, err
	}
	network := opt.Calibration.OrAssumed()
	near := trace.FindNearSide(frames)
	facing, sure := trace.FacingOf(frames, opt.Facing)
	seen := slices.Clone(frames) // what the network said, beside what the coach made of it
	f := &followed{frames: frames, hands: correct.CarryOut(frames, near)}

	roll := correct.RollOf(opt.RollDeg, opt.RollKnown, opt.Floor)
	f.before, f.flights, f.doubted, roll = events.Upright(seen, near, facing, roll, opt.Masses.OrMean())
	f.tr = f.before
	if f.hands.Any {
		trace.TurnUpright(frames, roll.Deg)
		f.tr = f.before.Corrected(frames)
		f.flights, f.doubted = events.FindFlights(f.tr)
	}
	tr := f.tr
	found := events.Recognise(tr, among, f.flights)
	stand := found.Stand
	f.course, f.times = found.Course, found.Reps
	zeroSpans := events.ZeroSpans(tr, f.flights, stand, f.times)
	events.CountFromZero(f.times, zeroSpans)
	f.zero = tr.Within(zeroSpans)
	s := &Series{
		Calibration: network, SwappedFrames: swapped, Spikes: spikes, Stand: stand, Filled: tr.Filled, Gaps: tr.Gaps,
		ZeroFound: slices.Contains(f.zero, true), Drops: events.DropsOf(tr, found.Movement),
	}
	s.ClockFactor, s.ClockFlights = trace.ClockFactor(tr)
	s.Movement, s.SurePct = found.Movement, found.SurePct
	s.WentPart = signal.Quantile(f.course.Quick, 1) / found.Movement.Rep.Least
	notices := slices.Concat(networkNotices(*opt), facingNotices(facing, sure), swapNotices(swapped, len(frames)),
		coverageNotices(tr.Gaps, frames, near, network.Confidence.Low, opt.NoFeet),
		clockNotices(s.ClockFactor, s.ClockFlights, f.doubted), standNotices(s.ZeroFound), movedNotices(found.Moved),
		otherNotices(found.Others), found.Unsure())

	if err := correct.ChangeReps(tr, f.course, stand, f.times, opt.RepChanges); err != nil {
		return nil, s, notices, err
	}
	events.MarkDamaged(tr, f.course, f.times, frames)
	events.MarkCut(tr, f.course, f.times, frames)
	events.AddStands(tr, f.times)
	events.SetTempos(f.times, found.Movement.Tempo, opt.Tempo, opt.RepTempo)

	inAir := tr.Within(slices.Concat(f.flights, f.doubted)) // as it seems: a body turns there
	s.View = trace.FindView(f.before, tr.Within(stand.Spans), inAir, events.SpansOf(f.times), network.ViewSDDeg)
	s.View.RollDeg, s.View.RollSource = roll.Deg, roll.Source
	return f, s, notices, nil
}

// mostFootYawDeg is how far the camera may surely stand from side-on, in degrees, for it to tell
// whether heel and toes are up: from further round a flat foot under a leaning shank seems to
// turn with it, and one that lands nearer to the camera to have sunk. In a jump filmed 29
// degrees from behind a flat foot read 17 degrees.
const mostFootYawDeg = 15

// measureReps measures each rep and grades how well the clip shows it.
func measureReps(
	tr *trace.Trace, course *events.Course, obs []trace.Observation, m *joints.Motion, airborne []bool,
	times []events.RepTimes, drops []trace.Span, view trace.View, opt *Options,
) []Rep {
	network := opt.Calibration.OrAssumed()
	viewSDDeg := opt.SystematicSDDeg
	for a, sd := range view.AngleSDDeg {
		viewSDDeg[a] = math.Hypot(viewSDDeg[a], sd)
	}
	reps := make([]Rep, len(times))
	for i := range reps {
		r := &reps[i]
		r.RepTimes = times[i]
		r.Loaded = joints.LoadedSpans(m, airborne, drops, &times[i])
		r.TimeSDS = joints.TimeSDsOf(m, tr.Filled, &times[i], &network)
		r.Quality = joints.QualityOf(tr, course, obs, &times[i], &m.Points[tr.NearSide], r.Loaded,
			view.SurelyDeg(), network.Confidence, opt.SeveralPeople, joints.PointsToSee(opt.NoFeet))
		if r.Damaged {
			r.Angles = joints.NotMeasured()
			r.Quality.Grade, r.Quality.Advice = joints.GradePoor, notice.New("copy_again", nil)
			if r.Cut {
				r.Quality.Advice = notice.New("film_in_one_piece", nil)
			}
		} else {
			r.Angles = joints.RepAngles(m, tr.Filled, &times[i], r.Loaded, &viewSDDeg, &network)
			r.believe(tr, obs, m.Stance)
			joints.LeaveOutRange(&r.Angles, obs, tr, times, i, m.Arms)
			r.leaveOutGuessed(obs, tr.NearSide, m.Arms)
			r.FeetHidden = joints.HidesSteps(obs, trace.Span{FromS: r.BottomS, ToS: r.EndS})
			if !opt.NoFeet {
				r.leaveOutFoot(obs, tr)
			}
			if from, known := frontal.From(tr, airborne, &r.RepTimes, network.ViewSDDeg); known && from != trace.ViewSide &&
				view.SurelyDeg() < trace.TooObliqueDeg && m.Stance != movement.OnHands {
				r.forget(notice.New("turned_away", params{"form": from.String()}))
			}
		}
	}
	return reps
}
