package plane

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// A quantile is what the sorted values say, whatever their order and however many are alike.
func TestQuantile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.OneOf(rapid.Float64(), rapid.Map(rapid.IntRange(0, 5), func(i int) float64 { return float64(i) }),
			rapid.SampledFrom([]float64{math.Inf(1), math.Inf(-1), math.NaN()}))
		v := rapid.SliceOfN(value, 1, 300).Draw(t, "values")
		q := rapid.Float64Range(0, 1).Draw(t, "q")
		sorted := slices.Sorted(slices.Values(v))
		i := q * float64(len(v)-1)
		lo := int(i)
		want := sorted[lo] + (i-float64(lo))*(sorted[min(lo+1, len(v)-1)]-sorted[lo])
		before := slices.Clone(v)
		if got := Quantile(v, q); got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Fatalf("%v, want %v", got, want)
		}
		same := func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
		if !slices.EqualFunc(v, before, same) {
			t.Fatal("the values were moved")
		}
	})
}
