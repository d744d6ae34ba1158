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
	i := q * float64(len(s)-1)
	lo := int(i)
	from, to := 0, len(s) // between which the one at lo lies
	for to-from > fewValues && !slices.ContainsFunc(s[from:to], math.IsNaN) {
		if p := from + split(s[from:to]); lo < p {
			to = p
		} else {
			from = p
		}
	}
	slices.Sort(s[from:to])
	at, above := s[lo], s[lo]
	if lo+1 < to {
		above = s[lo+1]
	} else if to < len(s) {
		above = slices.Min(s[to:])
	}
	return at + (i-float64(lo))*(above-at)
}

// fewValues are sorted at once.
const fewValues = 24

// split puts the smaller values of s first and returns how many there are: at least one and fewer than all. s holds at
// least three, and none that is not a number (Hoare 1961, from memory).
func split(s []float64) int {
	n := len(s)
	middle := max(min(s[0], s[n/2]), min(max(s[0], s[n/2]), s[n-1]))
	i, j := -1, n
	for {
		for i++; s[i] < middle; i++ {
		}
		for j--; s[j] > middle; j-- {
		}
		if i >= j {
			return j + 1
		}
		s[i], s[j] = s[j], s[i]
	}
}
