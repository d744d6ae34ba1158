package motion

import (
	"math"
	"slices"
	"sort"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/vision/plane"
)

// Motion reads an analysis at any time of the movement, which is the clip's time
// unless the file plays in slow motion.
type Motion struct {
	Analysis *screening.Analysis
	TimesS   []float64
	// Forward is +1 when the athlete faces the right of the picture, else -1.
	Forward float64
	// Slowdown is how much slower than the movement the file plays.
	Slowdown float64
	// footPx is the foot's length, 0 until it is asked for.
	footPx float64
}

func New(a *screening.Analysis) *Motion {
	m := &Motion{Analysis: a, Forward: 1, Slowdown: 1}
	if s := a.Clip.SlowMotionFactor; s > 0 && !math.IsInf(s, 0) {
		m.Slowdown = s
	}
	m.TimesS = append(m.TimesS, a.Series.TimeS...)
	if a.Facing == "left" {
		m.Forward = -1
	}
	return m
}

// Sample returns the two samples around a time and how far it lies from the
// first to the second. Outside the series, and in a hole of the time base, ok
// is false.
func (m *Motion) Sample(timeS float64) (i, j int, part float64, ok bool) {
	n := len(m.TimesS)
	if n == 0 || math.IsNaN(timeS) {
		return 0, 0, 0, false
	}
	step := 0.1
	if r := m.Analysis.Series.RateHz; r > 0 {
		step = 1 / r
	}
	j = sort.SearchFloat64s(m.TimesS, timeS)
	switch {
	case j == 0:
		return 0, 0, 0, m.TimesS[0]-timeS <= step
	case j == n:
		return n - 1, n - 1, 0, timeS-m.TimesS[n-1] <= step
	}
	i = j - 1
	return i, j, (timeS - m.TimesS[i]) / (m.TimesS[j] - m.TimesS[i]), true
}

// Value reads a series at a time; NaN where it has no value.
func (m *Motion) Value(series []float64, timeS float64) float64 {
	i, j, part, ok := m.Sample(timeS)
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

// Point reads a landmark of the near side at a time, in that moment's picture;
// NaN where it is missing.
func (m *Motion) Point(landmark string, timeS float64) plane.XY {
	return m.PointSeen(landmark, timeS, timeS)
}

// PointSeen reads where a landmark of the near side was at a time, in the picture
// of another moment: the two differ where the camera moves.
func (m *Motion) PointSeen(landmark string, timeS, pictureS float64) plane.XY {
	if m.Missing(timeS) {
		return plane.XY{X: math.NaN(), Y: math.NaN()}
	}
	p := m.Analysis.Series.PointsPx[landmark]
	return m.camera(pictureS).Inverse().Apply(plane.XY{X: m.Value(p.X, timeS), Y: m.Value(p.Y, timeS)})
}

// camera returns what leads from the picture at a time to the first one.
func (m *Motion) camera(timeS float64) plane.Similarity {
	c := m.Analysis.Series.Camera
	i, j, part, ok := m.Sample(timeS)
	if !ok || i >= len(c) || j >= len(c) || c[i] == nil || c[j] == nil {
		return plane.Similarity{}
	}
	return c[i].Toward(*c[j], part)
}

func (m *Motion) flag(flags []bool, timeS float64) bool {
	i, j, part, ok := m.Sample(timeS)
	if part > 0.5 {
		i = j
	}
	return ok && i < len(flags) && flags[i]
}

// Filled says whether the motion at a time was filled in, not tracked.
func (m *Motion) Filled(timeS float64) bool { return m.flag(m.Analysis.Series.Filled, timeS) }

// surelyFilledS is for how long, in seconds, filled motion may be shown before and after what was
// tracked: a skeleton further from it lies beside the body. Common practice, no source.
const surelyFilledS = 0.05

// Guessed says whether the motion at a time lies in the middle of a long stretch that was filled in.
func (m *Motion) Guessed(timeS float64) bool {
	return m.Filled(timeS-surelyFilledS) && m.Filled(timeS) && m.Filled(timeS+surelyFilledS)
}

// Missing says whether nothing is known of the motion at a time.
func (m *Motion) Missing(timeS float64) bool {
	_, _, _, ok := m.Sample(timeS)
	return !ok || m.flag(m.Analysis.Series.Missing, timeS)
}

// Rep returns the rep that a time lies in, or nil. Where two reps meet, it is
// the later one.
func (m *Motion) Rep(timeS float64) *kinematics.Rep {
	for i := len(m.Analysis.Reps) - 1; i >= 0; i-- {
		r := &m.Analysis.Reps[i]
		if timeS >= r.StartS && timeS <= r.EndS {
			return r
		}
	}
	return nil
}

// PhaseAt returns the name of a rep's phase at a time, or "".
func PhaseAt(r *kinematics.Rep, timeS float64) string {
	for i := len(r.Phases) - 1; i >= 0; i-- {
		p := &r.Phases[i]
		if timeS >= p.StartS && timeS <= p.EndS {
			return string(p.Name)
		}
	}
	return ""
}

// Moment is a named instant of a rep, for a still picture.
type Moment struct {
	Rep   *kinematics.Rep
	Order int    // place within the rep, from 1
	Name  string // for file names
	Label string // for the reader
	TimeS float64
}

// standingKneeDeg is the most knee flexion of which it is still said that somebody
// stands: common practice, no source.
const standingKneeDeg = 30

// Moments lists the instants worth a still picture, in order of rep and time.
func Moments(a *screening.Analysis) []Moment {
	var ms []Moment
	knee := a.Series.AnglesDeg[body.KneeFlexion]
	times := make([]float64, len(a.Series.TimeS))
	for i, t := range a.Series.TimeS {
		times[i] = t
	}
	for i := range a.Reps {
		r := &a.Reps[i]
		add := func(order int, name, label string, t float64) {
			if !math.IsNaN(t) {
				ms = append(ms, Moment{r, order, name, label, t})
			}
		}
		add(1, "start", said.Say("moment.start"), r.StartS)
		add(2, "bottom", said.Say("moment.bottom", "turn", a.Movement.Turn), r.BottomS)
		if r.FlightS > 0 {
			add(3, "takeoff", said.Say("moment.takeoff"), r.TakeoffS)
			add(4, "flight", said.Say("moment.flight"), (r.TakeoffS+r.ContactS)/2)
			add(5, "contact", said.Say("moment.contact"), r.ContactS)
			add(6, "landing", said.Say("moment.landing"), r.LandingBottomS)
		}
		// Jumps done one out of the other end where the next one begins: at its bottom.
		if i := Nearest(times, r.EndS); i >= 0 && i < len(knee) && knee[i] > standingKneeDeg {
			add(7, "end", said.Say("moment.end"), r.EndS)
		} else {
			add(7, "stand", said.Say("moment.stand"), r.EndS)
		}
	}
	return ms
}

// Nearest returns the index of the time nearest to t, or -1 without times.
func Nearest(timesS []float64, t float64) int {
	if len(timesS) == 0 {
		return -1
	}
	i, _ := slices.BinarySearch(timesS, t)
	if i == len(timesS) || i > 0 && t-timesS[i-1] < timesS[i]-t {
		i--
	}
	return i
}

// LegLengthPx returns the length of the near leg, hip to knee to ankle, at the
// start of a rep, in pixels of the clip: the measure of the athlete's size in the
// picture. NaN when it is not known there.
func (m *Motion) LegLengthPx(r *kinematics.Rep) float64 {
	for _, t := range []float64{r.StartS, r.EndS, r.BottomS} {
		h, k, a := m.Point("hip", t), m.Point("knee", t), m.Point("ankle", t)
		if l := math.Hypot(h.X-k.X, h.Y-k.Y) + math.Hypot(k.X-a.X, k.Y-a.Y); l > 0 {
			return l
		}
	}
	return math.NaN()
}

func SupportBand(a *screening.Analysis) (lo, hi float64) {
	lo, hi = a.SupportBandPct[0], a.SupportBandPct[1]
	if !(lo < hi) {
		return 25, 75 // of before the band was kept; common practice, no source
	}
	return lo, hi
}

// handLeg is how far the hand reaches beyond the wrist, with some room, in leg lengths.
const handLeg = 0.3

// Reach is how far the hands come over the ankle in a rep, in leg lengths; 0 where the movement does not count the
// arms.
func (m *Motion) Reach(r *kinematics.Rep) float64 {
	leg := m.LegLengthPx(r)
	if !(leg > 0) || !slices.ContainsFunc(m.Analysis.Shows().Joints, body.Joint.OfArm) {
		return 0
	}
	most := 0.0
	for _, t := range m.TimesS {
		if t < r.StartS || t > r.EndS {
			continue
		}
		if up := m.Point("ankle", t).Y - m.Point("wrist", t).Y; up > most {
			most = up
		}
	}
	if most == 0 {
		return 0
	}
	return most/leg + handLeg
}
