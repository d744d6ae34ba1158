package chart

import "math"

// DegreeScale returns round ends of an axis that holds all values, 30° tall at
// least, and the distance of its marks. A value may lie beyond an end by an
// eighth of that distance: a knee that reads −1° needs no axis down to −45°.
func DegreeScale(vs []float64) (lo, hi, step float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, v := range vs {
		if !math.IsNaN(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	if lo > hi {
		return 0, 90, 45
	}
	if lo > 0 && lo < 30 {
		lo = 0
	}
	for _, step = range []float64{10, 15, 20, 30, 45, 60, 90, 180} {
		a, b := math.Floor(lo/step+0.12)*step, math.Ceil(hi/step-0.05)*step
		if b-a < 30 {
			b = a + math.Ceil(30/step)*step
		}
		if (b-a)/step <= 3.01 {
			return a, b, step
		}
	}
	return lo, hi, hi - lo
}

// CloseScale returns round ends of an axis close about its values, at least 10° apart,
// and the distance of at most five marks. A band that dips an eighth of that distance
// beyond an end needs no room of its own.
func CloseScale(lo, hi float64) (from, to, step float64) {
	for _, step = range []float64{5, 10, 15, 20, 30, 45, 60, 90, 180} {
		from, to = math.Floor(lo/step+0.125)*step, math.Ceil(hi/step-0.125)*step
		if to-from < 10 {
			to = from + 10
		}
		if (to-from)/step <= 5.01 {
			break
		}
	}
	return from, to, step
}

// TimeStep returns a round distance of time marks, at least atLeast seconds.
func TimeStep(atLeast, whole float64) float64 {
	for _, s := range []float64{0.1, 0.2, 0.5, 1, 2, 5, 10} {
		if s >= atLeast {
			return s
		}
	}
	return math.Max(whole, 1)
}

func Floats[T ~float64](in []T) []float64 {
	out := make([]float64, len(in))
	for i, v := range in {
		out[i] = float64(v)
	}
	return out
}

func MinMax(lo, hi, v float64) (float64, float64) {
	if math.IsNaN(v) {
		return lo, hi
	}
	return math.Min(lo, v), math.Max(hi, v)
}
