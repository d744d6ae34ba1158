package motion

import (
	"sort"

	"holdfast/scripts/internal/render/space"
)

// MinimumJerk returns how much of a movement is done when the part s of its time is over, both 0 to 1: the smoothest
// way from rest to rest.
// Source: Flash and Hogan, J Neurosci 1985;5:1688.
func MinimumJerk(s float64) float64 {
	s = space.Clamp(s, 0, 1)
	return s * s * s * (10 - 15*s + 6*s*s)
}

// Knot is a value that a curve takes.
type Knot struct{ TimeS, Value float64 }

// Curve is a value over time: at rest at every knot and by minimum jerk between them; before the first and after the
// last as there. The zero Curve is 0.
type Curve struct {
	Knots []Knot
	// straight curves were sampled from a movement and go from knot to knot in straight lines.
	straight bool
}

// At returns the value at a time.
func (c *Curve) At(timeS float64) float64 {
	n := len(c.Knots)
	if n == 0 {
		return 0
	}
	i := sort.Search(n, func(i int) bool { return c.Knots[i].TimeS > timeS })
	switch i {
	case 0:
		return c.Knots[0].Value
	case n:
		return c.Knots[n-1].Value
	}
	a, b := c.Knots[i-1], c.Knots[i]
	s := (timeS - a.TimeS) / (b.TimeS - a.TimeS)
	if !c.straight {
		s = MinimumJerk(s)
	}
	return space.Mix(a.Value, b.Value, s)
}

func (c *Curve) to(timeS, value float64) { c.Knots = append(c.Knots, Knot{timeS, value}) }

// last returns the last value that it takes.
func (c *Curve) last() Knot { return c.Knots[len(c.Knots)-1] }
