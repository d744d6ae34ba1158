package kinematics

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/frontal"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/trace"
)

// Rep is one repetition. The angles of a damaged one are NaN.
type Rep struct {
	events.RepTimes
	joints.Measures
	// Impossible are the joints in which the rep showed what no body can, so that they are
	// not known; with two or more of them the rep is not measured, and Partial.
	// HardestToSee is the point of theirs that was seen worst.
	Impossible   []body.Joint  `json:"-"`
	HardestToSee body.Landmark `json:"-"`
	// Occasion is when it was filmed, by any name; the caller sets it where clips of
	// several occasions are compared.
	Occasion string `json:"-"`
	// Hidden are the points of the near side, from the shoulder down, that something hides
	// in the rep: the angles they belong to are NaN.
	Hidden []body.Landmark `json:"-"`
	// FootHidden: the near foot is hidden, so that its ankle is not known; FeetHidden: either is, nor are the steps.
	FootHidden, FeetHidden bool `json:"-"`
	// Jump is nil without a flight and in a damaged rep, Landing without one that has a
	// landing.
	Jump    *measure.Jump    `json:"jump"`
	Landing *measure.Landing `json:"landing"`
	// Foot is nil where the body hangs from its hands.
	Foot *measure.Foot `json:"foot"`
	// Stack is how the body is stacked over the foot at the turn, and the way of the hand; nil where the movement does
	// not count the arm.
	Stack *measure.Stack `json:"stack,omitempty"`
	// Rise is how the athlete got from the floor onto the feet; nil where the hands do not carry the body at the turn.
	Rise *measure.Rise `json:"rise,omitempty"`
	// Drop is how the athlete dropped from a box and landed; nil where the movement is none, or no drop was found.
	Drop *measure.Drop `json:"drop,omitempty"`
	// Support is where the weight acted along the foot: the whole rep first, then each
	// phase but the flight, in order. Nil until it is measured, see [measure.SupportOf].
	Support []measure.SupportSpan `json:"support"`
	// Front is what the front shows; nil in a clip from the side.
	Front *frontal.Rep `json:"front,omitempty"`
	// Quality is how well the clip shows the rep.
	Quality joints.Quality `json:"quality"`
}

// unmeasurable is how many joints must show what no body can for a rep not to be measured.
const unmeasurable = 2

// believe makes unknown what no body can show in the rep, and the whole rep where there is
// much of it.
func (r *Rep) believe(tr *trace.Trace, obs []trace.Observation, stance movement.Stance) {
	if stance == movement.OnHands { // a leg may point anywhere
		nothing := joints.NotMeasured()
		r.Angles[body.ThighAngle], r.Angles[body.ShankAngle] = nothing[body.ThighAngle], nothing[body.ShankAngle]
	}
	lasts := trace.Span{FromS: r.StartS, ToS: r.EndS}
	r.Impossible = joints.Believe(&r.Angles, &tr.Raw[tr.NearSide], tr.Index(r.StartS), tr.Index(r.EndS))
	if stance.OffFeet() { // nothing is told of the ankle
		r.Impossible = slices.DeleteFunc(r.Impossible, func(j body.Joint) bool { return j == body.AnkleJoint })
	}
	if len(r.Impossible) == 0 {
		return
	}
	r.HardestToSee = joints.HardestToSee(obs, tr.NearSide, lasts, r.Impossible)
	r.Quality.Grade = joints.GradePoor
	r.Quality.Advice = notice.New("film_unhidden", params{"point": r.HardestToSee.String()})
	if len(r.Impossible) < unmeasurable {
		return
	}
	r.Angles = joints.NotMeasured()
	if !r.Partial && stance != movement.OnHands { // of which the times and steps are told all the same
		r.Partial, r.PartialWhy = true, notice.New("rep_not_possible", params{"joints": body.NamesOf(r.Impossible)})
	}
}

// leaveOutGuessed makes unknown what rests on points that something hides in the rep, and
// the whole rep where hardly anything else is left.
func (r *Rep) leaveOutGuessed(obs []trace.Observation, near body.Side, arms bool) {
	joints.LeaveOutTurn(&r.Angles, obs, near, trace.Span{FromS: r.BottomS, ToS: r.BottomEndS}, arms)
	guessed := joints.GuessedIn(obs, near, trace.Span{FromS: r.StartS, ToS: r.EndS})
	if r.Hidden = guessed.HiddenPoints(arms); len(r.Hidden) == 0 {
		return
	}
	guessed.LeaveOut(&r.Angles)
	r.Quality.Grade = joints.GradePoor
	r.Quality.Advice = notice.New("film_other_side", params{"point": r.Hidden[0].String()})
	if guessed.HidesRep() {
		r.forget(notice.New("hip_hidden", params{"frames_pct": 100 * guessed[body.Hip]}))
	}
}

// forget makes all of a rep unknown.
func (r *Rep) forget(why Notice) {
	r.Angles, r.Impossible, r.Damaged = joints.NotMeasured(), nil, true
	if !r.LeftOut {
		r.Partial, r.PartialWhy = true, why
	}
}

// nameUnmeasured names the reps of which no joint that counts was measured by the time of their way to the turn alone:
// a speed of hidden points is none, and a guessed one called reps of a set fast whose others were slow.
func nameUnmeasured(reps []Rep, of *movement.Movement, opt *Options) {
	times := make([]events.RepTimes, len(reps))
	unmeasured := false
	for i := range reps {
		if r := &reps[i]; !slices.ContainsFunc(of.Joints, func(j body.Joint) bool {
			a := &r.Angles[j.Angle()]
			return !math.IsNaN(a.ROMDeg) || !math.IsNaN(a.AtBottomDeg)
		}) {
			r.PeakSpeed, unmeasured = math.NaN(), true
		}
		times[i] = reps[i].RepTimes
	}
	if !unmeasured {
		return
	}
	events.SetTempos(times, of.Tempo, opt.Tempo, opt.RepTempo)
	for i := range reps {
		reps[i].RepTimes = times[i]
	}
}

// leaveOutFoot makes the ankle unknown where the foot is hidden.
func (r *Rep) leaveOutFoot(obs []trace.Observation, tr *trace.Trace) {
	if r.FootHidden = joints.FootHidden(obs, tr.NearSide, tr.LegPx, r.Loaded); r.FootHidden {
		r.forgetAnkle()
	}
}

func (r *Rep) forgetAnkle() {
	nothing := joints.NotMeasured()
	r.Angles[body.AnkleDorsiflexion], r.Angles[body.FootPitch] = nothing[body.AnkleDorsiflexion], nothing[body.FootPitch]
}

// LeaveOutHidden makes the samples of points and angles unknown, in place, in the reps of which something hides them,
// and between these and the reps beside them: what a rep does not tell no curve and no picture of it tells either.
func (s *Series) LeaveOutHidden(reps []Rep) {
	for i := range reps {
		from, to := around(&s.Motion, reps, i)
		s.Hide(reps[i].Hidden, from, to)
		if reps[i].FootHidden {
			s.Forget([]body.Angle{body.AnkleDorsiflexion, body.FootPitch}, from, to)
		}
		s.ForgetTurn(&reps[i].Angles, s.Index(reps[i].BottomS), s.Index(reps[i].BottomEndS))
	}
}

// around returns the samples from the rep before rep i to the one after it: what hides a point in the rep, as a plate
// does, was not seen to leave before.
func around(m *joints.Motion, reps []Rep, i int) (from, to int) {
	to = len(m.TimeS) - 1
	if i > 0 {
		from = m.Index(reps[i-1].EndS)
	}
	if i+1 < len(reps) {
		to = m.Index(reps[i+1].StartS)
	}
	return from, to
}
