package trace

import (
	"testing"
)

func TestCubicWeights(t *testing.T) {
	obs := make([]Observation, 5)
	for i := range obs {
		obs[i].TimeS = float64(i) / 30
	}
	w := cubicWeights(obs, 2)
	for i, want := range []float64{-1.0 / 6, 4.0 / 6, 4.0 / 6, -1.0 / 6} {
		near(t, "weight", w[i], want, 1e-12)
	}
	// Uneven times: a cubic is met exactly.
	for i, s := range []float64{0, 0.02, 0.05, 0.06, 0.1} {
		obs[i].TimeS = s
	}
	cubic := func(s float64) float64 { return 2 - s + 30*s*s - 400*s*s*s }
	w = cubicWeights(obs, 2)
	var got float64
	for j, d := range cubicNeighbours {
		got += w[j] * cubic(obs[2+d].TimeS)
	}
	near(t, "cubic", got, cubic(0.05), 1e-12)
}
