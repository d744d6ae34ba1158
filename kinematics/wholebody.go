package kinematics

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
)

// BodyOptions are the coach's choices for the whole body.
type BodyOptions struct {
	Masses body.MassModel
	Scale  measure.ScaleOptions
	// SupportBandPct is the middle of the foot, in per cent of its length; zero: 25 to 75.
	SupportBandPct [2]float64
	// Loaded says that the athlete carries an outside load, of which nobody knows where it is:
	// the centre of mass and the support point of body and load together are not known.
	Loaded bool
	// FloorMoves says that the camera moved as nothing tells: what rests on a floor that
	// stands still in the picture is not known.
	FloorMoves bool
}

// Body is what the whole body and the foot did in a clip; the slices hold one entry for
// each rep.
type Body struct {
	CentreOfMass measure.CentreOfMass
	Scale        measure.Scale
	Support      measure.Support
	// TimeToFeetS is the time in seconds from the first move to quiet standing of an
	// athlete who kneels or lies at the start of the clip; NaN where he does not.
	TimeToFeetS float64
	// Sets sum up the whole reps by tempo.
	Sets []Set
}

// leaveOutHidden takes the centre of mass and the support point out of the reps in which
// something hides shoulder or hip, and beside them: it hides where the trunk is, and may be a load. Where it hides
// another point, or the foot, the support point goes: what hides a hand may be in it.
func leaveOutHidden(m *joints.Motion, reps []Rep, b *Body) {
	for i := range reps {
		r := &reps[i]
		c, sp := &b.CentreOfMass, &b.Support
		gone := [][]float64{sp.Pct, sp.SDPct, sp.StaticPct}
		switch {
		case slices.Contains(r.Hidden, body.Shoulder) || slices.Contains(r.Hidden, body.Hip):
			gone = append(gone, c.Path.X, c.Path.Y, c.Path.SDPx, c.FwdPx, c.UpPx)
		case !r.FootHidden && len(r.Hidden) == 0:
			continue
		}
		from, to := around(m, reps, i)
		for k := from; k <= to; k++ {
			for _, of := range gone {
				of[k] = math.NaN()
			}
		}
	}
}

// leaveOutFloor takes out what rests on a floor that stands still in the picture: the
// support point, the rise of heel and toes, and that of the centre of mass in a jump.
func leaveOutFloor(m *joints.Motion, b *Body, feet []measure.Foot, jumps []*measure.Jump) {
	b.Support.Forget()
	leaveOutRises(m, feet)
	unknown := stats.Unknown()
	for i := range feet {
		feet[i].ForgetSlide()
	}
	for _, j := range jumps {
		if j != nil {
			j.RiseM, j.RiseInterval95M, j.Why = math.NaN(), unknown.Interval95(), notice.Notice{}
			j.RiseFromStandM, j.LandsLowerM, j.FlightExcessM = unknown, unknown, unknown
		}
	}
}

// leaveOutAnkles takes the ankle out where the floor tells the foot's pitch, and of reps where it does at their turn.
func leaveOutAnkles(m *joints.Motion, reps []Rep) {
	m.ForgetFootByFloor()
	for i := range reps {
		if r := &reps[i]; !m.MeasuredPitch.KnownAt(m.Index(r.BottomS)) {
			r.forgetAnkle()
		}
	}
}

// leaveOutRises takes out how far heel and toes come up.
func leaveOutRises(m *joints.Motion, feet []measure.Foot) {
	m.HeelRise = signal.NaNs(len(m.TimeS))
	for i := range feet {
		feet[i].ForgetRises()
	}
}

// MeasureBody returns what the whole body and the foot did in a clip that was analysed,
// fills in the reps' support points, feet, jumps and landings, and returns what the reader must know.
func MeasureBody(s *Series, reps []Rep, opt BodyOptions) (Body, []Notice) {
	m := &s.Motion
	times, sds, measured := make([]events.RepTimes, len(reps)), make([]events.TimeSDs, len(reps)),
		make([]joints.Measures, len(reps))
	for i := range reps {
		times[i], sds[i], measured[i] = reps[i].RepTimes, reps[i].TimeSDS, reps[i].Measures
	}
	b := Body{
		CentreOfMass: measure.CentreOfMassOf(m, times, s.View, opt.Masses),
		TimeToFeetS:  measure.TimeToFeet(m, s.Stand),
	}
	var disputes []measure.ScaleDispute
	b.Scale, disputes = measure.FindScale(m, s.Stand, times, &b.CentreOfMass, opt.Scale)
	b.Support = measure.SupportPoint(m, s.Stand, times, s.View, opt.Masses, b.Scale, opt.SupportBandPct)
	feet := measure.FeetOnFloor(m, s.Stand, times, measured, b.Scale, &s.Calibration)
	jumps := measure.Jumps(m, s.Stand, times, sds, &b.CentreOfMass, b.Scale)
	landings := measure.Landings(m, s.Stand, times, measured, b.Scale, &s.Calibration)
	leaveOutHidden(m, reps, &b)
	stance := s.Movement.Feet.Stance
	if stance == movement.Split || stance == movement.FromBox {
		b.Support.Forget()
	}
	if opt.Loaded {
		b.CentreOfMass.Forget()
		b.Support.Forget()
	}
	if opt.FloorMoves || stance.OffFeet() {
		leaveOutFloor(m, &b, feet, jumps)
		leaveOutAnkles(m, reps)
	}
	if s.View.SurelyDeg() > mostFootYawDeg || stance == movement.FromBox { // on which the feet are higher
		leaveOutRises(m, feet)
	}
	for i := range reps {
		r := &reps[i]
		if r.Damaged {
			jumps[i], landings[i] = nil, nil // read off points that were not seen
		} else {
			r.Drop = measure.DropOf(m, &times[i], s.Drops, b.Scale, r.FeetHidden)
		}
		r.Support, r.Jump, r.Landing = measure.SupportOf(m, &times[i], &b.Support), jumps[i], landings[i]
		if m.Arms && !r.Damaged && !stance.OffFeet() {
			r.Stack = measure.StackOf(m, &times[i], &s.View, r.Hidden)
		}
		if stance == movement.OnHands && !r.LeftOut {
			next := m.TimeS[len(m.TimeS)-1]
			if i+1 < len(times) {
				next = times[i+1].StartS
			}
			r.Rise = measure.RiseOf(m, &times[i], next, b.Scale, r.FeetHidden)
		}
		if stance == movement.FromBox && r.Drop == nil { // nobody knows when the feet were on what
			r.forgetAnkle()
		}
		if i < len(feet) && !stance.OffFeet() {
			if r.Foot = &feet[i]; r.FootHidden {
				r.Foot.ForgetRises()
			}
			if stance == movement.FromBox {
				r.Foot.ForgetSlide()
			}
		}
	}
	b.Sets = setsOf(s, reps, &b.Support)
	return b, scaleNotices(disputes)
}
