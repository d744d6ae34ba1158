package plane

import (
	"math"
	"slices"
)

// XY is a place on a canvas in pixels: x to the right, y down, the centre of
// the top-left pixel at (0.5, 0.5), as in Keypoint.
type XY struct{ X, Y float64 }

// Missing says whether the place is not known.
func (p XY) Missing() bool { return math.IsNaN(p.X) || math.IsNaN(p.Y) }

// Add returns p moved by (dx, dy).
func (p XY) Add(dx, dy float64) XY { return XY{p.X + dx, p.Y + dy} }

// Affine maps a place of one picture to another: x' = A x + B y + C,
// y' = D x + E y + F.
type Affine struct{ A, B, C, D, E, F float64 }

// Apply returns where p goes.
func (m Affine) Apply(p XY) XY {
	return XY{m.A*p.X + m.B*p.Y + m.C, m.D*p.X + m.E*p.Y + m.F}
}

// Quantile returns the value under which the part q, 0 to 1, of v lies, read straight between its two neighbours. v
// must hold something and stays as it is.
func Quantile(v []float64, q float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	i := q * float64(len(s)-1)
	lo := int(i)
	hi := min(lo+1, len(s)-1)
	return s[lo] + (i-float64(lo))*(s[hi]-s[lo])
}
