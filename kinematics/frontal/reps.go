package frontal

import (
	"errors"
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// Rep is what the front shows of one rep.
type Rep struct {
	// AtS is the moment it was read at, clip time in seconds: the bottom, of a jump that of its landing, where AtBottom
	// says so, else the last moment on the way down at which the thighs could be seen.
	AtS      float64   `json:"at_s"`
	AtBottom bool      `json:"at_bottom"`
	Readings []Reading `json:"readings"`
}

// Reading is a measure and its value.
type Reading struct {
	Measure Measure        `json:"measure"`
	Read    stats.Estimate `json:"read"`
}

// Of returns a measure of the rep; unknown where it was not read.
func (r *Rep) Of(m Measure) stats.Estimate {
	for i := range r.Readings {
		if r.Readings[i].Measure == m {
			return r.Readings[i].Read
		}
	}
	return stats.Unknown()
}

// shared returns the standard deviation of the points' error in a reading, which all reps of a clip share.
func (r *Reading) shared() float64 {
	return math.Sqrt(max(0, sq(r.Read.SD)-sq(rows[r.Measure].clipSD)))
}

// Zero is the athlete's own quiet standing; NaN where none was found.
type Zero struct {
	// UprightDeg is by how much the athlete's upright is turned clockwise in the picture, TiltDeg how far the left hip
	// stands higher against it.
	UprightDeg, TiltDeg float64
	// thighPx is how long thighs are in the picture.
	thighPx float64
}

// longestPart is the part of the thighs' lengths that is taken for their length where nobody stands still.
const longestPart = 0.9

// ZeroOf reads the standing from the samples in which the athlete stands.
func ZeroOf(points *[2][body.NumLandmarks]body.Path, standing []bool) Zero {
	var upright, tilt, thigh, all []float64
	for i := range standing {
		l := legsAt(points, i)
		all = append(all, l.thighPx())
		if standing[i] {
			upright, thigh = append(upright, l.UprightDeg()), append(thigh, l.thighPx())
		}
	}
	z := Zero{UprightDeg: signal.Median(signal.Present(upright)), thighPx: signal.Median(signal.Present(thigh))}
	if math.IsNaN(z.thighPx) {
		z.thighPx = signal.Quantile(all, longestPart)
	}
	for i := range standing {
		if l := legsAt(points, i); standing[i] {
			tilt = append(tilt, l.HipTilt(z.UprightDeg).Value)
		}
	}
	z.TiltDeg = signal.Median(signal.Present(tilt))
	return z
}

// seenPart is how short thighs may be in the picture, as a part of their length in standing, to be read: at half of it
// they point 60 degrees away from the picture's plane. Common practice, no source.
const seenPart = 0.5

// legPoints are the points of each side that the measures are read from.
var legPoints = []body.Landmark{body.Hip, body.Knee, body.Ankle}

// ErrTurns: the athlete faces the camera in a part of the reps only; callers branch on it with errors.Is.
var ErrTurns = errors.New("the athlete turns")

// Reps are of a clip whose athlete turns where at least leastAway, and more than awayPart of them, show another side
// than the front: of one alone the points may be wrong. Common practice, no source.
const leastAway, awayPart = 2, 0.2

// Turns says whether the athlete of a clip from the front does not face the camera in some of its reps.
func Turns(tr *trace.Trace, airborne []bool, reps []events.RepTimes, viewSDDeg float64) bool {
	away := 0
	for i := range reps {
		if from, known := From(tr, airborne, &reps[i], viewSDDeg); known && from == trace.ViewSide {
			away++
		}
	}
	return away >= leastAway && float64(away) > awayPart*float64(len(reps))
}

// From returns from where the athlete is seen in one rep by itself.
func From(tr *trace.Trace, airborne []bool, r *events.RepTimes, viewSDDeg float64) (from trace.ViewFrom, known bool) {
	rep := []trace.Span{{FromS: r.StartS, ToS: r.EndS}}
	v := trace.FindView(tr, make([]bool, len(tr.TimeS)), airborne, rep, viewSDDeg)
	return v.From, v.Known
}

// QualityOf grades how well the clip shows a rep, by the leg that is seen worse.
func QualityOf(tr *trace.Trace, course *events.Course, obs []trace.Observation, r events.RepTimes, m *joints.Motion,
	seen body.ConfidenceLimits, severalPeople bool) (worst joints.Quality) {
	if r.Damaged {
		return joints.Quality{Grade: joints.GradePoor, Advice: notice.New("copy_again", nil)}
	}
	for side := range m.Points {
		of := *tr
		of.NearSide = body.Side(side)
		q := joints.QualityOf(&of, course, obs, &r, &m.Points[side], []trace.Span{{FromS: r.StartS, ToS: r.EndS}}, 0, seen,
			severalPeople, legPoints)
		if side == 0 || q.Grade.WorseThan(worst.Grade) {
			worst = q
		}
	}
	return worst
}

// Read reads a rep from the smoothed points of both sides; without readings where they are not known, or frames of it
// could not be read.
func Read(tr *trace.Trace, points *[2][body.NumLandmarks]body.Path, zero Zero, r *events.RepTimes) *Rep {
	none := &Rep{AtS: math.NaN(), Readings: []Reading{}}
	if r.Damaged {
		return none
	}
	from, bottom := tr.Index(r.StartS), tr.Index(r.BottomS)
	if r.HasFlight() && !math.IsNaN(r.LandingBottomS) {
		from, bottom = tr.Index(r.ContactS), tr.Index(r.LandingBottomS)
	}
	at := bottom
	for ; at >= from; at-- {
		if l := legsAt(points, at); l.thighPx() >= seenPart*zero.thighPx {
			break
		}
	}
	if at < from {
		return none
	}
	l := legsAt(points, at)
	left, right := l.KneeIn(body.Left), l.KneeIn(body.Right)
	tilt := l.HipTilt(zero.UprightDeg)
	read := [NumMeasures]stats.Estimate{
		KneeInLeft: left, KneeInRight: right,
		KneeDifference: estimate(left.Value-right.Value, math.Hypot(left.SD, right.SD)),
		WeightShift:    l.Shift(zero.UprightDeg), HipTilt: estimate(tilt.Value-zero.TiltDeg, tilt.SD),
	}
	out := &Rep{AtS: tr.TimeS[at], AtBottom: at == bottom}
	for m, e := range read {
		e.SD = math.Hypot(e.SD, rows[m].clipSD)
		out.Readings = append(out.Readings, Reading{Measure(m), e})
	}
	return out
}
