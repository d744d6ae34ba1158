package trace

import (
	"errors"
	"fmt"
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// Observation is what was seen of the athlete in one frame.
type Observation struct {
	// TimeS is the frame's presentation time in seconds.
	TimeS float64
	// Points holds both sides: Points[body.Left][body.Knee] is the athlete's left knee.
	Points [2][body.NumLandmarks]body.Point
	// Depth is the network's depth guess of each side's shoulder and hip
	// together (mean), smaller is nearer to the camera; NaN when unknown.
	Depth [2]float64
	// Damaged says that the frame could not be read; it has no points.
	Damaged bool
	// Frozen says that the frame shows an earlier picture again: it says nothing of its
	// own time and is left out.
	Frozen bool
	// Passed says that nobody was looked for in the frame, as the athlete moved too little
	// for it to be needed. It is left out, unless a coach put a point right in it.
	Passed bool
	// PassedBefore is how many such frames were left out just before this one; Clean sets it.
	PassedBefore int
	// Exchanged says that left and right leg were exchanged in this frame and put back; Clean sets it.
	Exchanged bool
	// Cut says that the clip was cut between this frame and the one before.
	Cut bool
	// FootPitch is the pitch of the near foot where something else than its points told
	// it.
	FootPitch FootPitch
	// Corrections are the points that a coach put right in this frame.
	Corrections []Correction
}

// FootPitch is the turn of a foot against its flat place in standing and its standard
// deviation, in degrees: 0 flat, negative while the heel is up. SDDeg is 0 where nothing
// told it.
type FootPitch struct{ Deg, SDDeg float64 }

// Known says whether the pitch was told.
func (p FootPitch) Known() bool { return p.SDDeg > 0 }

// mostPitchDeg bounds the pitches and their standard deviations that a foot can have.
const mostPitchDeg = 120

// ErrTooFewFrames: too few frames show the athlete, or their times do not run forward;
// callers branch on it with errors.Is.
var ErrTooFewFrames = errors.New("too few frames show the athlete")

// usable returns a deep copy of the observations that can be worked on: times
// run forward, and a frame whose time does not, or that is frozen, is left out.
func usable(obs []Observation) ([]Observation, error) {
	out := make([]Observation, 0, len(obs))
	whole, passed, cut := 0, 0, false
	for i := range obs {
		o := obs[i]
		if o.Passed && !o.Frozen {
			if len(o.Corrections) == 0 {
				passed, cut = passed+1, cut || o.Cut
				continue
			}
			o.Points, o.Depth = between(obs, i)
		}
		if o.Frozen || math.IsNaN(o.TimeS) || math.IsInf(o.TimeS, 0) || (len(out) > 0 && o.TimeS <= out[len(out)-1].TimeS) {
			continue
		}
		for s := range 2 {
			for k := range body.NumLandmarks {
				if p := &o.Points[s][k]; math.IsInf(p.X, 0) || math.IsInf(p.Y, 0) || p.Missing() {
					*p = body.MissingPoint()
				}
			}
		}
		if p := &o.FootPitch; !(math.Abs(p.Deg) <= mostPitchDeg && p.SDDeg > 0 && p.SDDeg <= mostPitchDeg) {
			*p = FootPitch{}
		}
		if o.Cut = o.Cut || cut; o.Cut {
			passed = 0 // nothing leads across a cut
		}
		o.PassedBefore, passed, cut = passed, 0, false
		out = append(out, o)
		if SeenLeg(&o, body.Left) || SeenLeg(&o, body.Right) {
			whole++
		}
	}
	if whole < minFrames {
		return nil, fmt.Errorf("%d frames with hip, knee and ankle in view, %d needed: %w", whole, minFrames, ErrTooFewFrames)
	}
	// A time far off would stretch the uniform time base beyond all memory.
	if n := (out[len(out)-1].TimeS - out[0].TimeS) * frameRateHz(out); !(n <= mostSamplesPerFrame*float64(len(out))) {
		return nil, fmt.Errorf("%d frames in %.0f s: %w", len(out), out[len(out)-1].TimeS-out[0].TimeS, ErrTooFewFrames)
	}
	return out, nil
}

// frameRateHz returns the rate of the frames that the observations were made of, those that were passed
// over among them.
func frameRateHz(obs []Observation) float64 {
	times := make([]float64, 0, len(obs))
	for i := range obs {
		o := &obs[i]
		for k := o.PassedBefore; k > 0 && i > 0; k-- {
			part := float64(k) / float64(o.PassedBefore+1)
			times = append(times, o.TimeS-part*(o.TimeS-obs[i-1].TimeS))
		}
		times = append(times, o.TimeS)
	}
	return signal.RateHz(times)
}

// between returns where the points of a frame that was passed over lie, by a straight line from the
// frame before that was not to the one after it; missing where either lacks them.
func between(obs []Observation, i int) (points [2][body.NumLandmarks]body.Point, depth [2]float64) {
	a, b := i-1, i+1
	for a >= 0 && obs[a].Passed {
		a--
	}
	for b < len(obs) && obs[b].Passed {
		b++
	}
	depth = [2]float64{math.NaN(), math.NaN()}
	for s := range 2 {
		for k := range body.NumLandmarks {
			points[s][k] = body.MissingPoint()
		}
	}
	if a < 0 || b >= len(obs) || obs[a].Frozen || obs[b].Frozen {
		return points, depth
	}
	part := (obs[i].TimeS - obs[a].TimeS) / (obs[b].TimeS - obs[a].TimeS)
	toward := func(x, y float64) float64 { return x + part*(y-x) }
	for s := range 2 {
		for k := range body.NumLandmarks {
			p, q := &obs[a].Points[s][k], &obs[b].Points[s][k]
			points[s][k] = body.Point{X: toward(p.X, q.X), Y: toward(p.Y, q.Y), SDPx: toward(p.SDPx, q.SDPx),
				Confidence: toward(p.Confidence, q.Confidence)}
		}
		depth[s] = toward(obs[a].Depth[s], obs[b].Depth[s])
	}
	return points, depth
}

// minFrames is the smallest number of frames with hip, knee and ankle in view.
const minFrames = 10

// mostSamplesPerFrame: a clip that lasts longer than this many times its frames
// has times that cannot be true.
const mostSamplesPerFrame = 100

func SeenLeg(o *Observation, s body.Side) bool {
	p := &o.Points[s]
	return !p[body.Hip].Missing() && !p[body.Knee].Missing() && !p[body.Ankle].Missing()
}

// Correction puts one point of the body where a coach saw it in the picture of one
// observation: pixels, x right, y down.
type Correction struct {
	// Near says that the point is on the side near the camera; else Side does.
	Near     bool
	Side     body.Side
	Landmark body.Landmark
	X, Y     float64
}
