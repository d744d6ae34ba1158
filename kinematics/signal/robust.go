package signal

import (
	"math"
	"slices"
)

// Present returns the values of x that are not NaN, as a copy.
func Present(x []float64) []float64 {
	out := make([]float64, 0, len(x))
	for _, v := range x {
		if !math.IsNaN(v) {
			out = append(out, v)
		}
	}
	return out
}

// Quantile returns the q-quantile (0 to 1) of the present values by linear
// interpolation, NaN when there are none.
func Quantile(x []float64, q float64) float64 {
	s := Present(x)
	if len(s) == 0 {
		return math.NaN()
	}
	p := q * float64(len(s)-1)
	i := int(p)
	if i+1 >= len(s) {
		return slices.Max(s)
	}
	selectNth(s, i)
	next := slices.Min(s[i+1:])
	return s[i] + (p-float64(i))*(next-s[i])
}

// selectNth moves the value that would be s[n] if s were sorted to there, the
// smaller ones before it and the larger ones after it: a median of a long clip
// costs a fraction of sorting it (Hoare 1961, the pivot the median of three).
func selectNth(s []float64, n int) {
	lo, hi := 0, len(s)-1
	for hi-lo > 12 {
		a, b, c := s[lo], s[lo+(hi-lo)/2], s[hi]
		pivot := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for s[i] < pivot {
				i++
			}
			for s[j] > pivot {
				j--
			}
			if i <= j {
				s[i], s[j] = s[j], s[i]
				i++
				j--
			}
		}
		switch {
		case n <= j:
			hi = j
		case n >= i:
			lo = i
		default:
			return
		}
	}
	slices.Sort(s[lo : hi+1])
}

func Median(x []float64) float64 { return Quantile(x, 0.5) }

// RobustSD returns the standard deviation that the median absolute deviation of
// x stands for in normal noise (factor 1.4826), NaN when there are no values.
func RobustSD(x []float64) float64 {
	m := Median(x)
	d := make([]float64, len(x))
	for i, v := range x {
		d[i] = math.Abs(v - m)
	}
	return 1.4826 * Median(d)
}

// MedianWhere returns the median of x over the samples that ok holds for.
func MedianWhere(x []float64, ok []bool) float64 {
	var s []float64
	for i, v := range x {
		if ok[i] {
			s = append(s, v)
		}
	}
	return Median(s)
}

func NaNs(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.NaN()
	}
	return x
}
