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
	whole := 0
	for i := range obs {
		o := obs[i]
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
		out = append(out, o)
		if SeenLeg(&o, body.Left) || SeenLeg(&o, body.Right) {
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
