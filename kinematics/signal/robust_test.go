package signal

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The n-th smallest value is that of the sorted values, and a quantile is the same
// as by sorting.
func TestSelectNth(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		x := rapid.SliceOfN(rapid.OneOf(rapid.Float64Range(-5, 5),
			rapid.SampledFrom([]float64{0, 1, math.Inf(1), math.Inf(-1)})), 1, 200).Draw(rt, "x")
		n := rapid.IntRange(0, len(x)-1).Draw(rt, "n")
		sorted := slices.Sorted(slices.Values(x))
		selectNth(x, n)
		if x[n] != sorted[n] || n > 0 && slices.Max(x[:n]) > x[n] || slices.Min(x[n:]) < x[n] {
			rt.Fatalf("place %d holds %v of %v, want %v", n, x[n], x, sorted[n])
		}
	})
}
