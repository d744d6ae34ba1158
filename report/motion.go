package report

import (
	"math"
	"slices"
	"sort"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/words"
)

// joint is one of the joints a result is about, by the table of joints.
type joint body.Joint

const (
	ankle     = joint(body.AnkleJoint)
	knee      = joint(body.KneeJoint)
	hip       = joint(body.HipJoint)
	numJoints = joint(body.NumJoints)
)

func (j joint) name() string { return PositionWords(j.position()).Name }

// inside is the joint's name inside of a sentence.
func (j joint) inside() string { return words.Say("point."+j.landmark(), nil) }

// position is the joint's own position at the bottom.
func (j joint) position() kinematics.Position { return kinematics.PositionOf(body.Joint(j)) }

// landmark is the joint's name in Series.PointsPx.
func (j joint) landmark() string { return body.Joint(j).String() }

func (j joint) angle() body.Angle { return body.Joint(j).Angle() }

// motion reads an analysis at any time of the movement, which is the clip's time
// unless the file plays in slow motion.
type motion struct {
	a *screening.Analysis
	t []float64
	// forward is +1 when the athlete faces the right of the picture, else -1.
	forward float64
	// slow is how much slower than the movement the file plays.
	slow float64
	// footPx is the foot's length, 0 until it is asked for.
	footPx float64
}

func newMotion(a *screening.Analysis) *motion {
	m := &motion{a: a, forward: 1, slow: 1}
	if s := a.Clip.SlowMotionFactor; s > 0 && !math.IsInf(s, 0) {
		m.slow = s
	}
	m.t = append(m.t, a.Series.TimeS...)
	if a.Facing == "left" {
		m.forward = -1
	}
	return m
}

// sample returns the two samples around a time and how far it lies from the
// first to the second. Outside the series, and in a hole of the time base, ok
// is false.
func (m *motion) sample(timeS float64) (i, j int, part float64, ok bool) {
	n := len(m.t)
	if n == 0 || math.IsNaN(timeS) {
		return 0, 0, 0, false
	}
	step := 0.1
	if r := m.a.Series.RateHz; r > 0 {
		step = 1 / r
	}
	j = sort.SearchFloat64s(m.t, timeS)
	switch {
	case j == 0:
		return 0, 0, 0, m.t[0]-timeS <= step
	case j == n:
		return n - 1, n - 1, 0, timeS-m.t[n-1] <= step
	}
	i = j - 1
	return i, j, (timeS - m.t[i]) / (m.t[j] - m.t[i]), true
}

// value reads a series at a time; NaN where it has no value.
func (m *motion) value(series []float64, timeS float64) float64 {
	i, j, part, ok := m.sample(timeS)
	if !ok || i >= len(series) || j >= len(series) {
		return math.NaN()
	}
	a, b := series[i], series[j]
	switch {
	case part == 0:
		return a
	case part == 1:
		return b
	}
	return a + part*(b-a)
}

// point reads a landmark of the near side at a time, in that moment's picture;
// NaN where it is missing.
func (m *motion) point(landmark string, timeS float64) vision.XY {
	return m.pointSeen(landmark, timeS, timeS)
}

// pointSeen reads where a landmark of the near side was at a time, in the picture
// of another moment: the two differ where the camera moves.
func (m *motion) pointSeen(landmark string, timeS, pictureS float64) vision.XY {
	if m.missing(timeS) {
		return vision.XY{X: math.NaN(), Y: math.NaN()}
	}
	p := m.a.Series.PointsPx[landmark]
	return m.camera(pictureS).Inverse().Apply(vision.XY{X: m.value(p.X, timeS), Y: m.value(p.Y, timeS)})
}

// camera returns what leads from the picture at a time to the first one.
func (m *motion) camera(timeS float64) vision.Similarity {
	c := m.a.Series.Camera
	i, j, part, ok := m.sample(timeS)
	if !ok || i >= len(c) || j >= len(c) || c[i] == nil || c[j] == nil {
		return vision.Similarity{}
	}
	return c[i].Toward(*c[j], part)
}

func (m *motion) flag(flags []bool, timeS float64) bool {
	i, j, part, ok := m.sample(timeS)
	if part > 0.5 {
		i = j
	}
	return ok && i < len(flags) && flags[i]
}

// filled says whether the motion at a time was filled in, not tracked.
func (m *motion) filled(timeS float64) bool { return m.flag(m.a.Series.Filled, timeS) }

// surelyFilledS is for how long, in seconds, filled motion may be shown before and after what was
// tracked: a skeleton further from it lies beside the body. Common practice, no source.
const surelyFilledS = 0.05

// guessed says whether the motion at a time lies in the middle of a long stretch that was filled in.
func (m *motion) guessed(timeS float64) bool {
	return m.filled(timeS-surelyFilledS) && m.filled(timeS) && m.filled(timeS+surelyFilledS)
}

// missing says whether nothing is known of the motion at a time.
func (m *motion) missing(timeS float64) bool {
	_, _, _, ok := m.sample(timeS)
	return !ok || m.flag(m.a.Series.Missing, timeS)
}

// rep returns the rep that a time lies in, or nil. Where two reps meet, it is
// the later one.
func (m *motion) rep(timeS float64) *kinematics.Rep {
	for i := len(m.a.Reps) - 1; i >= 0; i-- {
		r := &m.a.Reps[i]
		if timeS >= r.StartS && timeS <= r.EndS {
			return r
		}
	}
	return nil
}

// phaseAt returns the name of a rep's phase at a time, or "".
func phaseAt(r *kinematics.Rep, timeS float64) string {
	for i := len(r.Phases) - 1; i >= 0; i-- {
		p := &r.Phases[i]
		if timeS >= p.StartS && timeS <= p.EndS {
			return string(p.Name)
		}
	}
	return ""
}

// moment is a named instant of a rep, for a still picture.
type moment struct {
	rep   *kinematics.Rep
	order int    // place within the rep, from 1
	name  string // for file names
	label string // for the reader
	timeS float64
}

// standingKneeDeg is the most knee flexion of which it is still said that somebody
// stands: common practice, no source.
const standingKneeDeg = 30

// moments lists the instants worth a still picture, in order of rep and time.
func moments(a *screening.Analysis) []moment {
	var ms []moment
	knee := a.Series.AnglesDeg[body.KneeFlexion]
	times := make([]float64, len(a.Series.TimeS))
	for i, t := range a.Series.TimeS {
		times[i] = t
	}
	for i := range a.Reps {
		r := &a.Reps[i]
		add := func(order int, name, label string, t float64) {
			if !math.IsNaN(t) {
				ms = append(ms, moment{r, order, name, label, t})
			}
		}
		add(1, "start", say("moment.start"), r.StartS)
		add(2, "bottom", say("moment.bottom"), r.BottomS)
		if r.FlightS > 0 {
			add(3, "takeoff", say("moment.takeoff"), r.TakeoffS)
			add(4, "flight", say("moment.flight"), (r.TakeoffS+r.ContactS)/2)
			add(5, "contact", say("moment.contact"), r.ContactS)
			add(6, "landing", say("moment.landing"), r.LandingBottomS)
		}
		// Jumps done one out of the other end where the next one begins: at its bottom.
		if i := nearest(times, r.EndS); i >= 0 && i < len(knee) && knee[i] > standingKneeDeg {
			add(7, "end", say("moment.end"), r.EndS)
		} else {
			add(7, "stand", say("moment.stand"), r.EndS)
		}
	}
	return ms
}

// nearest returns the index of the time nearest to t, or -1 without times.
func nearest(timesS []float64, t float64) int {
	if len(timesS) == 0 {
		return -1
	}
	i, _ := slices.BinarySearch(timesS, t)
	if i == len(timesS) || i > 0 && t-timesS[i-1] < timesS[i]-t {
		i--
	}
	return i
}

// legLengthPx returns the length of the near leg, hip to knee to ankle, at the
// start of a rep, in pixels of the clip: the measure of the athlete's size in the
// picture. NaN when it is not known there.
func (m *motion) legLengthPx(r *kinematics.Rep) float64 {
	for _, t := range []float64{r.StartS, r.EndS, r.BottomS} {
		h, k, a := m.point("hip", t), m.point("knee", t), m.point("ankle", t)
		if l := math.Hypot(h.X-k.X, h.Y-k.Y) + math.Hypot(k.X-a.X, k.Y-a.Y); l > 0 {
			return l
		}
	}
	return math.NaN()
}
