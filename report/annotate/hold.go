package annotate

import (
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/trace"
	"holdfast/report/motion"
	"holdfast/report/said"
	"holdfast/screening"
)

const (
	holdForS = 1.0
	// holdEveryS is the time between two pictures of a hold, which is written as
	// several: players jump about badly in a second without one.
	holdEveryS = 0.1
	// filmEveryS is the time from one picture of the video to the next; a screen shows more, but the eye reads
	// no more of a moving skeleton. Common practice, no source.
	filmEveryS = 1 / 30.0
	// flightSpeed is the speed at which a flight and its landing are shown.
	flightSpeed = 0.25
	// aroundFlightS is how long before take-off and after the landing's bottom the
	// slow part begins and ends.
	aroundFlightS = 0.12
)

// reel says when each frame of a clip is shown in the annotated video. Without holds
// that is its own time. With them, the picture stands still at the bottoms, and flight
// and landing pass slowly; all times are those of the file.
type reel struct {
	holds map[int]*hold // by number of the frame
	slow  []trace.Span
	// stretch is how much longer than in the file the slow parts take; 1 in a clip that
	// is as slow already.
	stretch  float64
	lingersS float64 // by the holds that have passed
	// everyFrame shows each frame; else those are left out that come sooner than filmEveryS after
	// the last one that was shown, at lastS, once one was.
	everyFrame, begun bool
	lastS             float64
}

// hold is a moment at which the picture stands still.
type hold struct {
	rep     *kinematics.Rep
	label   string
	landing bool
}

// newReel plans the video of a clip whose frames come at timesS; holds asks for more
// than every frame at its own time.
func newReel(m *motion.Motion, timesS []float64, holds bool) *reel {
	r := &reel{holds: map[int]*hold{}, stretch: 1}
	if !holds {
		return r
	}
	r.stretch = math.Max(1, 1/(flightSpeed*m.Slowdown))
	for _, mo := range motion.Moments(m.Analysis) {
		if mo.Name != "bottom" && mo.Name != "landing" {
			continue
		}
		i := motion.Nearest(timesS, mo.TimeS*m.Slowdown)
		if i < 0 || math.Abs(timesS[i]-mo.TimeS*m.Slowdown) > 0.25*m.Slowdown {
			continue
		}
		if r.holds[i] == nil {
			r.holds[i] = &hold{mo.Rep, mo.Label, mo.Name == "landing"}
		}
	}
	if r.stretch == 1 {
		return r
	}
	for i := range m.Analysis.Reps {
		rep := &m.Analysis.Reps[i]
		from, to := rep.TakeoffS-aroundFlightS, rep.LandingBottomS
		if math.IsNaN(to) {
			to = rep.ContactS
		}
		to += aroundFlightS
		if !(rep.FlightS > 0) || !(from < to) {
			continue
		}
		span := trace.Span{FromS: from * m.Slowdown, ToS: to * m.Slowdown}
		if n := len(r.slow); n > 0 && span.FromS < r.slow[n-1].ToS {
			span.FromS = r.slow[n-1].ToS // two jumps that meet
		}
		if span.FromS < span.ToS {
			r.slow = append(r.slow, span)
		}
	}
	slices.SortFunc(r.slow, func(a, b trace.Span) int {
		switch {
		case a.FromS < b.FromS:
			return -1
		case a.FromS > b.FromS:
			return 1
		}
		return 0
	})
	return r
}

// shownS returns when a frame of the file is shown. Holds that were passed count, so
// that it must be asked in the order of frames.
func (r *reel) shownS(fileS float64) float64 {
	out := fileS + r.lingersS
	for _, s := range r.slow {
		if past := math.Min(fileS, s.ToS) - s.FromS; past > 0 {
			out += (r.stretch - 1) * past
		}
	}
	return out
}

// shows says whether a frame of the file is in the video. It must be asked in the order of frames.
func (r *reel) shows(frame int, fileS float64) bool {
	// The times of a clip are rounded: half a millisecond early is in time.
	return r.everyFrame || !r.begun || r.holds[frame] != nil || r.shownS(fileS)-r.lastS > filmEveryS-0.0005
}

// frames returns the numbers of the frames, among those at timesS, that are in the video.
func (r *reel) frames(timesS []float64) (out []int) {
	ahead := *r
	for i, s := range timesS {
		if ahead.shows(i, s) {
			out = append(out, i)
			ahead.showed(i, s)
		}
	}
	return out
}

// showed takes note that a frame was shown, and returns when, after it was held.
func (r *reel) showed(frame int, fileS float64) (atS float64) {
	if r.holds[frame] != nil {
		r.lingersS += holdForS
	}
	r.lastS, r.begun = r.shownS(fileS), true
	return r.lastS
}

// slowly says whether a time of the file is shown slower than the file plays.
func (r *reel) slowly(fileS float64) bool {
	for _, s := range r.slow {
		if fileS >= s.FromS && fileS < s.ToS {
			return true
		}
	}
	return false
}

// reading returns what a joint measured at the moment, with its 95 % interval.
func (h *hold) reading(j said.Joint) (deg float64, iv [2]float64) {
	m := &h.rep.Angles[j.Angle()]
	v := m.AtBottomDeg
	if h.landing {
		v = m.AtLandingBottomDeg
	}
	return v, screening.Interval95(v, m.SDDeg)
}
