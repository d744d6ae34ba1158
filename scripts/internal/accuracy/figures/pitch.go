package figures

import (
	"fmt"
	"math"

	"holdfast/vision/pose"
)

// PitchErrors are how far the pitch of a foot lies from the truth in the frames of one kind, in degrees: how many are
// Beyond two standard deviations, and the mean, mean absolute and largest error of those that are known.
type PitchErrors struct {
	frames, n      int
	Mean, square   float64
	MeanAbs, Worst float64
	Beyond         int
}

// Add takes in a frame; nil is one in which the pitch is not known.
func (e *PitchErrors) Add(q *pose.FootPitch, trueDeg float64) {
	e.frames++
	if q == nil {
		return
	}
	e.n++
	d, part := q.Deg-trueDeg, 1/float64(e.n)
	e.Mean += (d - e.Mean) * part
	e.square += (d*d - e.square) * part
	e.MeanAbs += (math.Abs(d) - e.MeanAbs) * part
	e.Worst = max(e.Worst, math.Abs(d))
	if math.Abs(d) > 2*q.SDDeg {
		e.Beyond++
	}
}

// Known tells in how many frames the pitch is known.
func (e *PitchErrors) Known() string { return fmt.Sprintf("%d of %d", e.n, e.frames) }

// SD returns the standard deviation of the errors.
func (e *PitchErrors) SD() float64 { return math.Sqrt(max(0, e.square-e.Mean*e.Mean)) }
