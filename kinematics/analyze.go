package kinematics

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/trace"
)

// ErrNoReps: the athlete was followed, but no repetition was found; callers branch on it
// with errors.Is.
var ErrNoReps = errors.New("no repetition was found")

// Options are the coach's choices. The zero value finds everything by itself.
type Options struct {
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

// Analyze turns the observations of a clip, in order of time, into the athlete's
// motion, its repetitions and notices for the reader. It returns ErrTooFewFrames
// when there is too little to go by, ErrNoReps, beside the series, when the
// athlete was followed but no repetition was found, and an error that wraps
// ErrRepChange when a rep cannot be changed as the coach wants.
func Analyze(obs []trace.Observation, opt Options) (*Series, []Rep, []Notice, error) {
	clean, err := trace.Usable(obs)
	if err != nil {
		return nil, nil, nil, fmt.Errorf("reading %d observations: %w", len(obs), err)
	}
	network := opt.calibration()
	s := &Series{Calibration: network, SwappedFrames: trace.RepairSwaps(clean), Spikes: trace.RejectSpikes(clean)}
	trace.RejectPitchSpikes(clean)
	near := trace.FindNearSide(clean)
	facing, sure := opt.Facing, 1.0
	if facing == body.FacingAuto {
		facing, sure = trace.FindFacing(clean)
	}
	seen := slices.Clone(clean) // what the network said, beside what the coach made of it
	hands := correct.CarryOut(clean, near)

	rollDeg, rollSource := opt.roll()
	trace.TurnUpright(clean, rollDeg)
	tr := trace.New(clean, near, facing)
	flights, doubted := events.FindFlights(tr)
	if roll, sd, ok := trace.RollFromFlights(tr, flights); ok && rollSource == "" {
		rollSource = trace.RollFlight
		if math.Abs(roll) > 2*sd { // a turn that may be none is left alone
			rollDeg = roll
			trace.TurnUpright(clean, rollDeg)
			tr = trace.New(clean, near, facing)
			flights, doubted = events.FindFlights(tr)
		}
	}
	s.ClockFactor, s.ClockFlights = trace.ClockFactor(tr)
	s.Stand = events.FindStand(tr, flights)
	standing, airborne := tr.Within(s.Stand.Spans), tr.Within(flights)
	times, moved := events.FindReps(tr, s.Stand, flights)
	notices := slices.Concat(networkNotices(opt), facingNotices(facing, sure), swapNotices(s.SwappedFrames),
		coverageNotices(tr.Gaps, clean, near, network.Confidence.Low, opt.NoFeet), clockNotices(s.ClockFactor, s.ClockFlights, doubted),
		standNotices(s.Stand), movedNotices(moved))

	if err := correct.ChangeReps(tr, s.Stand.HipHeight, times, opt.RepChanges); err != nil {
		return s, nil, notices, err
	}
	events.MarkDamaged(tr, times, clean)
	events.AddStands(tr, times)
	events.SetTempos(times, opt.Tempo, opt.RepTempo)

	how := joints.Smoothing{By: opt.Smoother, Network: &network, Seen: &tr.Raw[near], Floor: opt.Floor.Upright(rollDeg)}
	how.CutoffHz = joints.CutoffFor(tr, events.HardestTempo(times, opt.Tempo))
	byHand, touched := hands.OnSamples(clean, tr)
	how.ByHand, s.Corrected = &byHand, touched
	if hands.Any {
		trace.TurnUpright(seen, rollDeg)
		how.Seen = correct.SeenBy(seen, tr)
	}
	s.Motion = joints.Smooth(tr, standing, airborne, how)
	s.Filled, s.Gaps = tr.Filled, tr.Gaps
	s.View = trace.FindView(tr, standing, airborne, network.ViewSDDeg)
	s.View.RollDeg, s.View.RollSource = rollDeg, rollSource
	s.View.AngleSDDeg = trace.ViewSDs(tr, s.View, bottoms(times))
	notices = append(notices, viewNotices(s.View)...)

	reps := make([]Rep, len(times))
	for i := range reps {
		reps[i] = measureRep(tr, clean, &s.Motion, airborne, &times[i], s.View, &opt)
	}
	notices = append(notices, repNotices(reps)...)
	if len(reps) == 0 {
		return s, nil, notices, ErrNoReps
	}
	return s, reps, notices, nil
}

// calibration returns that of the network, what is assumed where there is none.
func (o *Options) calibration() body.Calibration {
	if o.Calibration == (body.Calibration{}) {
		return body.Uncalibrated()
	}
	return o.Calibration
}

// sidePoints returns the points of the near side that angles are taken from, as far as
// the network places them.
func (o *Options) sidePoints() []body.Landmark {
	if o.NoFeet {
		return joints.SidePoints[:len(joints.SidePoints)-2]
	}
	return joints.SidePoints
}

// roll returns by how many degrees the picture is turned clockwise as the coach says it,
// and RollGiven; 0 and nothing when he does not.
func (o *Options) roll() (deg float64, source string) {
	if o.RollKnown && !math.IsNaN(o.RollDeg) {
		return o.RollDeg, trace.RollGiven
	}
	if o.Floor != nil && !math.IsNaN(o.Floor.RollDeg()) {
		return o.Floor.RollDeg(), trace.RollGiven
	}
	return 0, ""
}

func bottoms(reps []events.RepTimes) []float64 {
	atS := make([]float64, len(reps))
	for i := range reps {
		atS[i] = reps[i].BottomS
	}
	return atS
}

// measureRep measures one rep and grades how well the clip shows it.
func measureRep(tr *trace.Trace, obs []trace.Observation, m *joints.Motion, airborne []bool, times *events.RepTimes, view trace.View, opt *Options) Rep {
	network := opt.calibration()
	viewSDDeg := opt.SystematicSDDeg
	for a, sd := range view.AngleSDDeg {
		viewSDDeg[a] = math.Hypot(viewSDDeg[a], sd)
	}
	r := Rep{RepTimes: *times}
	r.Loaded, r.TimeSDS = joints.LoadedSpans(m, airborne, times), joints.TimeSDsOf(m, tr.Filled, times, &network)
	r.Quality = joints.QualityOf(tr, obs, times, &m.Points[tr.NearSide], r.Loaded, view.SurelyDeg(), network.Confidence, opt.SeveralPeople, opt.sidePoints())
	if r.Damaged {
		r.Angles = joints.NotMeasured()
		r.Quality.Grade, r.Quality.Advice = joints.GradePoor, "copy or send the clip again: it is damaged"
	} else {
		r.Angles = joints.RepAngles(m, tr.Filled, times, r.Loaded, &viewSDDeg, &network)
	}
	return r
}
