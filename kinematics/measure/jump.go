package measure

import (
	"errors"
	"fmt"
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// errFewFramesForRSI: the clip has too few frames a second for a reactive strength
// index.
var errFewFramesForRSI = errors.New("a reactive strength index needs 120 frames a second")

// errNotRepeatedJump: the jump does not follow at once on a landing.
var errNotRepeatedJump = errors.New("the jump does not follow at once on a landing")

// JumpKind says how a jump began.
type JumpKind string

// The kinds of jump.
const (
	JumpCountermovement JumpKind = "countermovement" // down and up without a stop
	JumpFromHold        JumpKind = "from_hold"       // from a held bottom
	JumpRebound         JumpKind = "rebound"         // at once out of the last landing
)

// holdS is the shortest dwell at the bottom that is a hold and not a turn. Common
// practice, no source.
const holdS = 0.25

// minRSIRateHz: at 30 frames a second one frame is a sixth of a quick contact.
// Common practice, no source.
const minRSIRateHz = 119.0

// withInterval returns a number and its 95 % interval.
func withInterval(e stats.Estimate) (float64, [2]float64) { return e.Value, e.Interval95() }

// Jump is how high a rep with a flight went, with 95 % intervals. Heights are not known
// where the clip has no scale.
type Jump struct {
	Kind              JumpKind   `json:"kind"`
	FlightS           float64    `json:"flight_s"`
	FlightInterval95S [2]float64 `json:"flight_interval95_s"`
	// HeightFromFlightM is g t^2/8: right when the athlete lands as tall as he took off,
	// too high when he lands folded.
	HeightFromFlightM           float64    `json:"height_from_flight_m"`
	HeightFromFlightInterval95M [2]float64 `json:"height_from_flight_interval95_m"`
	// RiseM is how far the centre of mass rises after the take-off.
	RiseM           float64    `json:"rise_m"`
	RiseInterval95M [2]float64 `json:"rise_interval95_m"`
	// TakeoffVelocityMS is the upward velocity of the centre of mass at take-off.
	TakeoffVelocityMS           float64    `json:"takeoff_velocity_m_s"`
	TakeoffVelocityInterval95MS [2]float64 `json:"takeoff_velocity_interval95_m_s"`
	// ReactiveStrengthMS is the reactive strength index, height by flight time over
	// contact time in metres a second; NaN with ReactiveStrengthErr saying why.
	ReactiveStrengthMS           float64    `json:"reactive_strength_index_m_s"`
	ReactiveStrengthInterval95MS [2]float64 `json:"reactive_strength_index_interval95_m_s"`
	// RiseFromStandM is how far the highest place of the centre of mass lies over that
	// of quiet standing, which counts the stretch of the ankles to take-off as well.
	RiseFromStandM stats.Estimate `json:"rise_from_stand_m"`
	// LandsLowerM is how much lower the centre of mass is at first contact than at
	// take-off: a folded landing lengthens the flight.
	LandsLowerM stats.Estimate `json:"lands_lower_m"`
	// ContactTimeS is the time on the floor since the last landing; unknown for the
	// first jump of a row.
	ContactTimeS stats.Estimate `json:"contact_time_s"`
	// Why says why the two heights differ; nothing when they do not.
	Why notice.Notice `json:"why_heights_differ,omitzero"`

	// What follows is known where the jump is measured and not kept in the documents.

	// TakeoffS and ContactS are the clip times that FlightS lies between; seconds.
	TakeoffS stats.Estimate `json:"-"`
	ContactS stats.Estimate `json:"-"`
	// FlightExcessM is by how much HeightFromFlightM is larger than the rise.
	FlightExcessM stats.Estimate `json:"-"`
	// ForwardVelocityMS is the forward velocity of the centre of mass in the flight.
	ForwardVelocityMS stats.Estimate `json:"-"`
	// FallMS2 is the fall of the centre of mass in the air by a scale that was not
	// taken from this jump: 9.81 when all is well; unknown without such a scale.
	// ForwardAccMS2 is its acceleration forward: none when all is well.
	FallMS2             stats.Estimate `json:"-"`
	ForwardAccMS2       stats.Estimate `json:"-"`
	ReactiveStrengthErr error          `json:"-"`
	// RSIModifiedMS is height by flight time over the time from the start of the
	// movement to take-off, for a countermovement jump. It is not comparable with
	// the reactive strength index. Source: Ebben & Petushek 2010 (from memory).
	RSIModifiedMS stats.Estimate `json:"-"`
}

// JumpHeightM returns the height in metres that a flight of the given time leads
// to when take-off and landing are at the same height: g t^2/8.
func JumpHeightM(flightS float64) float64 { return trace.GravityMS2 * flightS * flightS / 8 }

// timesAgreeSDs: take-off and contact are moved only when the parabola does not
// speak against them by more than this many standard deviations; else the
// parabola is not believed.
const timesAgreeSDs = 3

// Jumps returns one entry for each rep, nil without a flight. Take-off and contact of the
// rep, which come from the break in the toes' way, are put together with the
// parabola of the centre of mass: in the air it is up - g (t-apex)^2/2, so that
//
//	takeoff + contact = 2 apex - 2 (H2-H1) / (g flight)
//
// H1 and H2 being how high the centre of mass stands over the toes at take-off and
// at contact. The flight time is that of the toes. The rise is g (apex-takeoff)^2/2.
func Jumps(m *joints.Motion, stand events.Stand, reps []events.RepTimes, sds []events.TimeSDs,
	c *CentreOfMass, sc Scale) []*Jump {
	out := make([]*Jump, len(reps))
	var standUp []float64
	for i, ok := range within(m, stand.Spans) {
		if ok {
			standUp = append(standUp, c.UpPx[i])
		}
	}
	for i := range reps {
		r := &reps[i]
		if !r.HasFlight() || len(m.TimeS) == 0 {
			continue
		}
		j, height := jumpOf(m, standUp, r, &sds[i], c, sc)
		j.kindOf(m.RateHz, reps, sds, i, height)
		j.believe()
		out[i] = &j
	}
	return out
}

// jumpOf returns the jump of a rep and its height by flight time, in metres; standUp
// are the heights of the centre of mass in standing.
func jumpOf(m *joints.Motion, standUp []float64, r *events.RepTimes, sds *events.TimeSDs, c *CentreOfMass,
	sc Scale) (j Jump, height stats.Estimate) {
	sd := func(x float64) float64 {
		if x > 0 {
			return x
		}
		return 1 / m.RateHz
	}
	j = Jump{
		TakeoffS:       stats.Estimate{Value: r.TakeoffS, SD: sd(sds.TakeoffS)},
		ContactS:       stats.Estimate{Value: r.ContactS, SD: sd(sds.ContactS)},
		RiseFromStandM: stats.Unknown(), LandsLowerM: stats.Unknown(), FlightExcessM: stats.Unknown(),
		ForwardVelocityMS: stats.Unknown(), FallMS2: stats.Unknown(), ForwardAccMS2: stats.Unknown(),
		ContactTimeS: stats.Unknown(), RSIModifiedMS: stats.Unknown(),
	}
	j.RiseM, j.RiseInterval95M = withInterval(stats.Unknown())
	j.TakeoffVelocityMS, j.TakeoffVelocityInterval95MS = withInterval(stats.Unknown())
	flightS := r.ContactS - r.TakeoffS
	flightSD := math.Hypot(j.TakeoffS.SD, j.ContactS.SD)
	f, ok := flyingOf(m, c, r)
	var apex stats.Estimate
	if ok && sc.MmPerPx.Value > 0 {
		g := sc.gravityPxS2()
		apex = stats.Estimate{Value: f.apexS(g), SD: f.massMidSE / g}
		j.meetTheParabola(m, r, c, apex, g) // moves both, not the time between
	}
	j.FlightS, j.FlightInterval95S = withInterval(stats.Estimate{Value: flightS, SD: flightSD})
	height = stats.Estimate{Value: JumpHeightM(flightS), SD: trace.GravityMS2 * flightS / 4 * flightSD}
	j.HeightFromFlightM, j.HeightFromFlightInterval95M = withInterval(height)
	if !ok || !(sc.MmPerPx.Value > 0) {
		return j, height
	}

	up := apex.Value - j.TakeoffS.Value
	upSD := math.Hypot(apex.SD, j.TakeoffS.SD)
	rise := stats.Estimate{Value: trace.GravityMS2 * up * up / 2, SD: trace.GravityMS2 * up * upSD}
	j.RiseM, j.RiseInterval95M = withInterval(rise)
	j.TakeoffVelocityMS, j.TakeoffVelocityInterval95MS = withInterval(
		stats.Estimate{Value: trace.GravityMS2 * up, SD: trace.GravityMS2 * upSD})
	down := j.ContactS.Value - apex.Value
	lower := trace.GravityMS2 / 2 * (down*down - up*up)
	j.LandsLowerM = stats.Estimate{Value: lower,
		SD: trace.GravityMS2 * flightS / 2 * math.Hypot(2*apex.SD, math.Hypot(j.TakeoffS.SD, j.ContactS.SD))}
	excess := height.Value - rise.Value
	j.FlightExcessM = stats.Estimate{Value: excess, SD: j.LandsLowerM.SD / 2}
	j.explain()

	j.ForwardVelocityMS = sc.metres(f.goPxS, f.massMidSE)
	j.ForwardAccMS2 = sc.metres(f.pushFwdPxS2, math.Hypot(f.pushFwdSE, jumpSD*f.fallPxS2))
	if sc.Known {
		apexUp := f.upPx + f.risePxS*(apex.Value-f.midS)/2
		if len(standUp) > 0 {
			j.RiseFromStandM = sc.metres(apexUp-signal.Median(standUp), math.Hypot(f.noisePx, postureSDLegs/2*knownLegPx(m)))
		}
	}
	var others []ScaleSource
	for _, src := range sc.Sources {
		if src.Name == ScaleHeight || src.Name == ScaleMark {
			others = append(others, src)
		}
	}
	if len(others) > 0 {
		other := Scale{MmPerPx: weightedMean(others), Known: true}
		j.FallMS2 = other.metres(f.fallPxS2, math.Hypot(f.fallSEPxS2, jumpSD*f.fallPxS2))
	}
	return j, height
}

// believe makes unknown what no jump can be, see [body.Possible], and what tells nothing of
// itself.
func (j *Jump) believe() {
	unknown := func(value *float64, interval95 *[2]float64) {
		*value, *interval95 = withInterval(stats.Unknown())
	}
	flight := body.FlightS.Hold(j.FlightS) && body.RiseM.Hold(j.HeightFromFlightM)
	if !flight {
		unknown(&j.FlightS, &j.FlightInterval95S)
		j.ContactTimeS, j.RSIModifiedMS = stats.Unknown(), stats.Unknown()
	}
	if !flight || !body.Tells(j.HeightFromFlightM, j.HeightFromFlightInterval95M) {
		unknown(&j.HeightFromFlightM, &j.HeightFromFlightInterval95M)
		unknown(&j.ReactiveStrengthMS, &j.ReactiveStrengthInterval95MS)
	}
	rise := flight && !(j.TakeoffVelocityMS < 0) && body.RiseM.Hold(j.RiseM) &&
		body.RiseOverFlightHeight.Hold(j.RiseM/JumpHeightM(j.FlightS))
	if !rise || !body.Tells(j.RiseM, j.RiseInterval95M) {
		unknown(&j.RiseM, &j.RiseInterval95M)
		j.FlightExcessM, j.LandsLowerM, j.Why = stats.Unknown(), stats.Unknown(), notice.Notice{}
	}
	if !rise {
		unknown(&j.TakeoffVelocityMS, &j.TakeoffVelocityInterval95MS)
	}
	if e := j.RiseFromStandM; !flight || !body.RiseM.Hold(e.Value) || !body.Tells(e.Value, e.Interval95()) {
		j.RiseFromStandM = stats.Unknown()
	}
	if !(j.ContactTimeS.Value > 0) {
		j.ContactTimeS = stats.Unknown()
	}
	if !body.Tells(j.ReactiveStrengthMS, j.ReactiveStrengthInterval95MS) {
		unknown(&j.ReactiveStrengthMS, &j.ReactiveStrengthInterval95MS)
	}
}

// meetTheParabola moves take-off and contact together to where the parabola of the
// centre of mass wants their middle, by the weight of each.
func (j *Jump) meetTheParabola(m *joints.Motion, r *events.RepTimes, c *CentreOfMass, apex stats.Estimate, g float64) {
	flightS := r.ContactS - r.TakeoffS
	_, toe := uprightPath(m, m.NearSide, body.Toe)
	over := func(timeS float64) float64 {
		i := m.Index(timeS)
		return c.UpPx[i] - (toe[i] - c.floorUp)
	}
	h1, h2 := over(r.TakeoffS), over(r.ContactS)
	if math.IsNaN(h1 + h2) {
		return
	}
	shift := apex.Value - (h2-h1)/(g*flightS) - (r.TakeoffS+r.ContactS)/2
	shiftSD := math.Hypot(apex.SD, postureSDLegs*knownLegPx(m)/(g*flightS))
	own := math.Hypot(j.TakeoffS.SD, j.ContactS.SD) / 2
	if math.Abs(shift) > timesAgreeSDs*math.Hypot(shiftSD, own) {
		return
	}
	k := sq(own) / (sq(own) + sq(shiftSD))
	middle := own * shiftSD / math.Hypot(own, shiftSD)
	for _, t := range []*stats.Estimate{&j.TakeoffS, &j.ContactS} {
		t.Value += k * shift
		t.SD = math.Hypot(middle, own)
	}
}

// explain says why the two heights differ.
func (j *Jump) explain() {
	cm := 100 * j.FlightExcessM.Value
	if math.Abs(cm) < 1 && math.Abs(cm) < 100*stats.Normal95*j.FlightExcessM.SD {
		return
	}
	code, form := "lands_folded", "clear"
	if cm < 0 {
		code = "lands_taller"
	}
	if math.Abs(cm) < 100*stats.Normal95*j.FlightExcessM.SD {
		form = "within"
	}
	j.Why = notice.New(code, notice.Params{"form": form, "centre_cm": math.Abs(100 * j.LandsLowerM.Value),
		"height_cm": math.Abs(cm)})
}

// kindOf says how jump i of the reps began, and from that its contact time and
// indices. height is that by flight time.
func (j *Jump) kindOf(rateHz float64, reps []events.RepTimes, sds []events.TimeSDs, i int, height stats.Estimate) {
	strength := stats.Unknown()
	r := &reps[i]
	held := r.BottomEndS-r.BottomS >= holdS
	j.Kind = JumpCountermovement
	if held {
		j.Kind = JumpFromHold
	}
	j.ReactiveStrengthErr = fmt.Errorf("rep %d: %w", r.Number, errNotRepeatedJump)
	if i > 0 && reps[i-1].HasFlight() && math.IsNaN(r.DescentS) {
		last := &reps[i-1]
		j.ContactTimeS = stats.Estimate{Value: j.TakeoffS.Value - last.ContactS,
			SD: math.Hypot(j.TakeoffS.SD, sds[i-1].ContactS)}
		j.Kind = JumpFromHold
		if r.BottomEndS-last.LandingBottomS < holdS {
			j.Kind = JumpRebound
		}
	}
	if j.Kind == JumpRebound {
		if j.ReactiveStrengthErr = nil; rateHz < minRSIRateHz {
			j.ReactiveStrengthErr = fmt.Errorf("rep %d at %.0f frames a second: %w", r.Number, rateHz, errFewFramesForRSI)
		} else {
			strength = ratio(height, j.ContactTimeS)
		}
	}
	if j.Kind == JumpCountermovement && !r.Partial {
		start := stats.Estimate{Value: j.TakeoffS.Value - r.StartS, SD: math.Hypot(j.TakeoffS.SD, sds[i].BottomS)}
		j.RSIModifiedMS = ratio(height, start)
	}
	j.ReactiveStrengthMS, j.ReactiveStrengthInterval95MS = withInterval(strength)
}

// ratio returns a over b with the standard deviation of a quotient of independent
// numbers, unknown unless b is above 0.
func ratio(a, b stats.Estimate) stats.Estimate {
	if !(b.Value > 0) || !a.Known() {
		return stats.Unknown()
	}
	v := a.Value / b.Value
	return stats.Estimate{Value: v, SD: math.Abs(v) * math.Hypot(a.SD/a.Value, b.SD/b.Value)}
}
