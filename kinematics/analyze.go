package kinematics

import (
	"errors"
	"fmt"
	"holdfast/kinematics/signal"
	"math"
)

// The reasons for which no result can be given; callers branch on them with
// errors.Is.
var (
	// ErrTooFewFrames: too few frames show the athlete, or their times do not
	// run forward.
	ErrTooFewFrames = errors.New("too few frames show the athlete")
	// ErrNoReps: the athlete was followed, but no repetition was found.
	ErrNoReps = errors.New("no repetition was found")
)

// minFrames is the smallest number of frames with hip, knee and ankle in view.
const minFrames = 10

// Options are the coach's choices. The zero value finds everything by itself.
type Options struct {
	// Facing is the direction the athlete looks in; FacingAuto: found.
	Facing Facing
	// Tempo is the tempo of every rep; TempoUnknown: found.
	Tempo Tempo
	// RepTempo sets the tempo of single reps, by number from 1.
	RepTempo map[int]Tempo
	// RollDeg is by how much the picture is turned clockwise against the true
	// vertical, in degrees, when RollKnown; else a jump's flight may tell.
	RollDeg   float64
	RollKnown bool
	// Smoother says how points are smoothed: by fitting one body to the clip, or
	// each point by itself.
	Smoother Smoother
	// SystematicSDDeg is the standard deviation, in degrees, of an error of each
	// angle's range that the points cannot show, such as that of a camera that
	// does not look straight from the side; 0: none. It widens every interval.
	SystematicSDDeg [NumAngles]float64
	// SeveralPeople says that others were seen in the picture; it matters to the
	// advice on what to film instead.
	SeveralPeople bool
	// RepChanges are the coach's changes of single reps; they come before Tempo and
	// RepTempo.
	RepChanges []RepChange
	// Calibration is what was settled for the network that found the points; the zero
	// value: nothing, and the intervals are wide.
	Calibration Calibration
	// Floor is where the coach drew the floor; nil: not drawn. It tells the vertical
	// where RollKnown is false, and bounds the level of the heel of a flat foot.
	Floor *Floor
}

// NoticeCode names a kind of notice; the codes do not change between versions.
type NoticeCode string

// The notices.
const (
	NoticeLongGap       NoticeCode = "long_gap"
	NoticePartialRep    NoticeCode = "partial_rep"
	NoticeLowConfidence NoticeCode = "low_confidence"
	NoticeFeetHidden    NoticeCode = "feet_out_of_picture"
	NoticeTrunkHidden   NoticeCode = "trunk_out_of_picture"
	NoticeNoStand       NoticeCode = "no_stand"
	NoticeSwapped       NoticeCode = "sides_exchanged"
	NoticeFewFrames     NoticeCode = "few_frames_in_the_turn"
	NoticeFeetMoved     NoticeCode = "feet_moved"
	NoticeFlightDoubted NoticeCode = "flight_doubted"
	NoticeFacingUnsure  NoticeCode = "facing_unsure"
	NoticeNotSideOn     NoticeCode = "not_side_on"
	NoticeWrongClock    NoticeCode = "wrong_clock"
	NoticeUncalibrated  NoticeCode = "not_calibrated"
	NoticeDamagedRep    NoticeCode = "damaged_rep"
)

// Notice is something the reader of the numbers must know.
type Notice struct {
	Code    NoticeCode
	Message string
}

// Path is the way of one body point: pixels of the picture, x right, y down, one
// value a sample, NaN where it is not known.
type Path struct {
	X, Y []float64
	// SDPx is the standard deviation of the smoothed point in pixels.
	SDPx []float64
}

// Series is the athlete's motion on a uniform time base: one value a sample in
// every slice.
type Series struct {
	RateHz   float64
	TimeS    []float64
	NearSide Side
	Facing   Facing
	// Points holds the smoothed points of both sides.
	Points [2][NumLandmarks]Path
	// RawAnglesDeg are the near side's angles from the points as the network
	// gave them: not smoothed, the athlete's standing not taken off, the foot
	// pitch from the heel-toe line.
	RawAnglesDeg [NumAngles][]float64
	// AnglesDeg are the near side's angles from smoothed points, the athlete's
	// own standing taken off (all but ThighAngle), the foot pitch from contact
	// with the floor and the heel's rise.
	AnglesDeg [NumAngles][]float64
	// SDDeg is the standard deviation of AnglesDeg that comes from keypoint noise.
	SDDeg [NumAngles][]float64
	// VelocityDegS is the rate of change of AnglesDeg, degrees a second.
	VelocityDegS [NumAngles][]float64
	// HipHeight is the height of the hips over the ankle of the standing foot in
	// leg lengths; about 1 in standing.
	HipHeight []float64
	// HeelRise is the height of the heel over its own flat-foot level as a part
	// of the foot's length (heel to toe point).
	HeelRise []float64
	// Filled marks samples in which hip, knee or ankle of the near side stands
	// in a filled gap, Missing those in which one is not known.
	Filled, Missing []bool
	// Corrected marks samples in which a coach's correction moved a point.
	Corrected []bool
	// Gaps are the stretches of Missing samples.
	Gaps     []Span
	CutoffHz float64
	Stand    Stand
	// Calibration is what was taken for true of the network that found the points.
	Calibration Calibration
	// RollDeg is by how much the picture is turned clockwise against the vertical
	// that the angles are measured from, in degrees; RollSource is RollGiven,
	// RollFlight, or empty when nothing is known and RollDeg is 0. Points are
	// those of the picture all the same.
	RollDeg    float64
	RollSource string
	View       View
	// ClockFactor is by how many times the clip seems to play slower than it was
	// filmed, 1 when nothing speaks against its clock; ClockFlights is the number
	// of flights that say so.
	ClockFactor  float64
	ClockFlights int
	// SwappedFrames counts frames whose left and right leg were put back, Spikes
	// single points left out because they jumped away for one frame.
	SwappedFrames, Spikes int
}

// Index returns the sample nearest to the time, kept inside the series.
func (s *Series) Index(timeS float64) int {
	if len(s.TimeS) == 0 || math.IsNaN(timeS) {
		return 0
	}
	i := int(math.Round((timeS - s.TimeS[0]) * s.RateHz))
	return max(0, min(len(s.TimeS)-1, i))
}

// LimbAt returns one side's smoothed points in one sample, as in the picture:
// turned by RollDeg against the vertical.
func (s *Series) LimbAt(side Side, sample int) *Limb {
	var l Limb
	for k := range NumLandmarks {
		p := &s.Points[side][k]
		l[k] = Point{X: p.X[sample], Y: p.Y[sample], SDPx: p.SDPx[sample]}
	}
	return &l
}

// Analyze turns the observations of a clip, in order of time, into the athlete's
// motion, its repetitions and notices for the reader. It returns ErrTooFewFrames
// when there is too little to go by, ErrNoReps, beside the series, when the
// athlete was followed but no repetition was found, and an error that wraps
// ErrRepChange when a rep cannot be changed as the coach wants.
func Analyze(obs []Observation, opt Options) (*Series, []Rep, []Notice, error) {
	clean, err := usable(obs)
	if err != nil {
		return nil, nil, nil, fmt.Errorf("reading %d observations: %w", len(obs), err)
	}
	var notices []Notice
	note := func(code NoticeCode, format string, args ...any) {
		notices = append(notices, Notice{code, fmt.Sprintf(format, args...)})
	}

	s := &Series{Calibration: opt.Calibration}
	if opt.Calibration == (Calibration{}) {
		s.Calibration = Uncalibrated()
		note(NoticeUncalibrated, "This network has not been calibrated: intervals are wide. Use one that is, or measure this one with scripts/calibrate.")
	}
	s.SwappedFrames = repairSwaps(clean)
	s.Spikes = rejectSpikes(clean)
	s.NearSide = findNearSide(clean)
	s.Facing = opt.Facing
	if s.Facing == FacingAuto {
		var sure float64
		if s.Facing, sure = findFacing(clean); sure < 0.8 {
			note(NoticeFacingUnsure, "Which way the athlete faces was not clear (%.0f %% of the frames say %s). Say it yourself if it is wrong.", 100*sure, s.Facing)
		}
	}
	if s.SwappedFrames > 0 {
		note(NoticeSwapped, "Left and right leg were exchanged in %d frames and put back.", s.SwappedFrames)
	}

	// What the network said is kept beside what the coach made of it.
	var network []Observation
	var byHand corrected
	if anyCorrections(clean) {
		network = append(network, clean...)
		byHand = carryOut(clean, s.NearSide)
	}
	upright := func(rollDeg float64) {
		turnUpright(clean, rollDeg)
		turnUpright(network, rollDeg)
	}

	if opt.RollKnown && !math.IsNaN(opt.RollDeg) {
		s.RollDeg, s.RollSource = opt.RollDeg, RollGiven
		upright(s.RollDeg)
	} else if opt.Floor != nil && !math.IsNaN(opt.Floor.RollDeg()) {
		s.RollDeg, s.RollSource = opt.Floor.RollDeg(), RollGiven
		upright(s.RollDeg)
	}
	defer s.turnBack()

	m := newMotion(clean, s)
	m.takeCorrections(clean, network, &byHand)
	m.smoother = opt.Smoother
	m.viewSDDeg = opt.SystematicSDDeg
	noteCoverage(m, clean, note)

	flights, doubted := m.findFlights()
	if roll, sd, ok := m.rollFromFlights(flights); ok && s.RollSource == "" {
		s.RollSource = RollFlight
		// A turn that may be none is left alone.
		if math.Abs(roll) > 2*sd {
			s.RollDeg = roll
			upright(roll)
			s.Gaps = nil
			m = newMotion(clean, s)
			m.takeCorrections(clean, network, &byHand)
			m.smoother, m.viewSDDeg = opt.Smoother, opt.SystematicSDDeg
			flights, doubted = m.findFlights()
		}
	}
	if s.ClockFactor, s.ClockFlights = m.clockFactor(); s.ClockFlights > 0 {
		doubted = nil
		how := fmt.Sprintf("%.1f times slower", s.ClockFactor)
		if s.ClockFactor < 1 {
			how = fmt.Sprintf("%.1f times faster", 1/s.ClockFactor)
		}
		note(NoticeWrongClock, "The clip seems to play about %s than it was filmed: in the air the body does not fall as it would. Times, speeds and tempos are wrong until the rate it was filmed at is given: --capture-fps.", how)
	}
	for _, f := range doubted {
		note(NoticeFlightDoubted, "At %.2f s the feet seem to leave the floor, but the body does not fall as it would: not counted as a jump. If the clip is in slow motion, give the rate it was filmed at.", f.TakeoffS)
	}
	m.findStand(flights)
	if !s.Stand.Found {
		note(NoticeNoStand, "The athlete is nowhere seen standing still and upright: angles are not set to zero in standing. Film two seconds of quiet standing first.")
	}
	bouts, moved := m.findBouts(flights)
	for _, b := range moved {
		note(NoticeFeetMoved, "The movement from %.1f to %.1f s was not counted: the feet did not stay in place.", m.timeS[b.From], m.timeS[b.To-1])
	}
	reps := m.splitIntoReps(bouts)
	if err := m.changeReps(reps, opt.RepChanges); err != nil {
		return s, nil, notices, err
	}
	m.markDamaged(reps, clean)
	m.addStands(reps)
	setTempos(reps, opt)

	m.smooth(hardestTempo(reps, opt), opt.Floor)
	s.View = m.findView()
	s.View.AngleSDDeg = m.viewSDs(s.View, reps)
	for a, sd := range s.View.AngleSDDeg {
		m.viewSDDeg[a] = math.Hypot(m.viewSDDeg[a], sd)
	}
	if s.View.SurelyDeg() >= NotSideOnDeg {
		note(NoticeNotSideOn, "The camera does not stand square to the athlete's side: about %.0f degrees off (give or take %.0f). Angles are misread by that. Turn the phone to face the athlete's side.", math.Abs(s.View.YawDeg), 2*s.View.SDDeg)
	}
	for i := range reps {
		m.measure(&reps[i])
		if reps[i].Damaged {
			reps[i].notMeasured()
		}
	}
	for i := range reps {
		r := &reps[i].Rep
		if r.Damaged && !r.LeftOut {
			note(NoticeDamagedRep, "Rep %d is not measured: %s.", r.Number, r.PartialWhy)
		} else if r.Partial && r.PartialWhy != LeftOutWhy {
			note(NoticePartialRep, "Rep %d is not whole: %s.", r.Number, r.PartialWhy)
		}
		r.Quality = m.quality(r, clean, opt.SeveralPeople)
		if r.Damaged {
			r.Quality.Grade, r.Quality.Advice = GradePoor, "copy or send the clip again: it is damaged"
		}
		if n := r.Quality.FramesInTurn; n > 0 && n < minSamplesInTurn {
			note(NoticeFewFrames, "Rep %d: only %d frames show its turn at the bottom; the deepest position may be missed. Film at 60 frames a second or more.", r.Number, n)
		}
	}
	out := make([]Rep, len(reps))
	for i := range reps {
		out[i] = reps[i].Rep
	}
	if len(out) == 0 {
		return s, nil, notices, ErrNoReps
	}
	return s, out, notices, nil
}

// usable returns a deep copy of the observations that can be worked on: times
// run forward, and a frame whose time does not is left out.
func usable(obs []Observation) ([]Observation, error) {
	out := make([]Observation, 0, len(obs))
	whole := 0
	for i := range obs {
		o := obs[i]
		if math.IsNaN(o.TimeS) || math.IsInf(o.TimeS, 0) || (len(out) > 0 && o.TimeS <= out[len(out)-1].TimeS) {
			continue
		}
		for s := range 2 {
			for k := range NumLandmarks {
				if p := &o.Points[s][k]; math.IsInf(p.X, 0) || math.IsInf(p.Y, 0) || p.Missing() {
					*p = MissingPoint()
				}
			}
		}
		out = append(out, o)
		if seenLeg(&o, Left) || seenLeg(&o, Right) {
			whole++
		}
	}
	if whole < minFrames {
		return nil, fmt.Errorf("%d frames with hip, knee and ankle in view, %d needed: %w", whole, minFrames, ErrTooFewFrames)
	}
	// A time far off would stretch the uniform time base beyond all memory.
	times := make([]float64, len(out))
	for i := range out {
		times[i] = out[i].TimeS
	}
	if n := (times[len(times)-1] - times[0]) * signal.RateHz(times); !(n <= mostSamplesPerFrame*float64(len(out))) {
		return nil, fmt.Errorf("%d frames in %.0f s: %w", len(out), times[len(times)-1]-times[0], ErrTooFewFrames)
	}
	return out, nil
}

// mostSamplesPerFrame: a clip that lasts longer than this many times its frames
// has times that cannot be true.
const mostSamplesPerFrame = 100

func seenLeg(o *Observation, s Side) bool {
	p := &o.Points[s]
	return !p[Hip].Missing() && !p[Knee].Missing() && !p[Ankle].Missing()
}

// A clip in which more than lowConfidencePart of the near leg's points are doubted gets
// a notice, and so does one that hides a foot or the shoulder in more than hiddenPart
// of its frames. Common practice, no source.
const (
	lowConfidencePart = 0.1
	hiddenPart        = 0.2
)

// noteCoverage tells of long gaps, of feet that are not to be seen, and of a
// network that was not sure.
func noteCoverage(m *motion, obs []Observation, note func(NoticeCode, string, ...any)) {
	for _, g := range m.s.Gaps {
		note(NoticeLongGap, "The athlete was lost from %.2f to %.2f s; nothing is reported there.", g.FromS, g.ToS)
	}
	unsure, points, noFoot, noTrunk, frames := 0, 0, 0, 0, 0
	for i := range obs {
		if obs[i].Damaged {
			continue
		}
		frames++
		p := &obs[i].Points[m.s.NearSide]
		if p[Heel].Missing() || p[Toe].Missing() {
			noFoot++
		}
		if p[Shoulder].Missing() {
			noTrunk++
		}
		for _, k := range legLandmarks {
			if !p[k].Missing() {
				points++
				if p[k].Confidence < m.s.Calibration.Confidence.Low {
					unsure++
				}
			}
		}
	}
	if float64(unsure) > lowConfidencePart*float64(points) {
		note(NoticeLowConfidence, "The network was unsure of the near leg in %.0f %% of its points. Film with more light, tight clothes and the whole leg in view.", 100*float64(unsure)/float64(points))
	}
	hidden := hiddenPart * float64(frames)
	if float64(noTrunk) > hidden {
		note(NoticeTrunkHidden, "The near shoulder is not to be seen in %.0f %% of the frames: the hip and the trunk cannot be measured there. Film with the whole athlete in the picture.", 100*float64(noTrunk)/float64(frames))
	}
	if float64(noFoot) > hidden {
		note(NoticeFeetHidden, "Heel or toe of the near foot is not to be seen in %.0f %% of the frames: the ankle cannot be measured there. Film with the whole foot in the picture.", 100*float64(noFoot)/float64(frames))
	}
}
