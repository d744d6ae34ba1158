package kinematics

import (
	"math"
	"slices"
)

// present returns the values of x that are not NaN, as a copy.
func present(x []float64) []float64 {
	out := make([]float64, 0, len(x))
	for _, v := range x {
		if !math.IsNaN(v) {
			out = append(out, v)
		}
	}
	return out
}

// quantile returns the q-quantile (0 to 1) of the present values by linear
// interpolation, NaN when there are none.
func quantile(x []float64, q float64) float64 {
	s := present(x)
	if len(s) == 0 {
		return math.NaN()
	}
	slices.Sort(s)
	p := q * float64(len(s)-1)
	i := int(p)
	if i+1 >= len(s) {
		return s[len(s)-1]
	}
	return s[i] + (p-float64(i))*(s[i+1]-s[i])
}

func median(x []float64) float64 { return quantile(x, 0.5) }

// robustSD returns the standard deviation that the median absolute deviation of
// x stands for in normal noise (factor 1.4826), NaN when there are no values.
func robustSD(x []float64) float64 {
	m := median(x)
	d := make([]float64, len(x))
	for i, v := range x {
		d[i] = math.Abs(v - m)
	}
	return 1.4826 * median(d)
}

// medianWhere returns the median of x over the samples that ok holds for.
func medianWhere(x []float64, ok []bool) float64 {
	var s []float64
	for i, v := range x {
		if ok[i] {
			s = append(s, v)
		}
	}
	return median(s)
}

func nans(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.NaN()
	}
	return x
}
