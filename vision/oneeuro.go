package vision

import (
	"math"

	"holdfast/models"
)

// oneEuro smooths one coordinate by a low-pass filter whose cutoff rises with
// the speed (One-Euro filter; Casiez, Roussel and Vogel 2012), so that a point at
// rest is steady and a fast one does not lag. The zero value is ready to use.
type oneEuro struct {
	started             bool
	lastS, raw          float64
	smoothed, speedPerS float64
}

// next returns the smoothed value; length is the unit in which the speed counts,
// in the unit of the value.
func (f *oneEuro) next(rule *models.Smoothing, timeS, value, length float64) float64 {
	if !f.started || !(length > 0) {
		*f = oneEuro{started: true, lastS: timeS, raw: value, smoothed: value}
		return value
	}
	step := timeS - f.lastS
	if step <= 0 {
		return f.smoothed
	}
	alpha := func(cutoffHz float64) float64 { return 1 / (1 + 1/(2*math.Pi*cutoffHz*step)) }
	speed := (value - f.raw) / length / step
	a := alpha(rule.SpeedCutoffHz)
	f.speedPerS = a*speed + (1-a)*f.speedPerS
	a = alpha(rule.MinCutoffHz + rule.Beta*math.Abs(f.speedPerS))
	f.smoothed = a*value + (1-a)*f.smoothed
	f.lastS, f.raw = timeS, value
	return f.smoothed
}
