package kinematics

import (
	"math"
	"slices"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

// The coach's word is no spike, and no leg is exchanged because of it.
func TestCorrectionIsNoSpike(t *testing.T) {
	c := loadClip(t, "fast_30")
	plain := analyze(t, c.observations(networkLike), Options{Smoother: body.SmootherFilter})
	obs := c.observations(networkLike)
	for _, k := range trace.LegLandmarks {
		p := obs[50].Points[body.Left][k]
		obs[50].Corrections = append(obs[50].Corrections, trace.Correction{Near: true, Landmark: k, X: p.X + 60, Y: p.Y})
	}
	got := analyze(t, obs, Options{Smoother: body.SmootherFilter})
	if got.series.SwappedFrames != plain.series.SwappedFrames || got.series.Spikes != plain.series.Spikes {
		t.Errorf("%d frames exchanged, %d spikes; %d and %d without the correction",
			got.series.SwappedFrames, got.series.Spikes, plain.series.SwappedFrames, plain.series.Spikes)
	}
	for _, k := range trace.LegLandmarks {
		want := obs[50].Corrections[slices.Index(trace.LegLandmarks, k)]
		p := got.series.Points[got.series.NearSide][k]
		i := got.series.Index(obs[50].TimeS)
		if math.Hypot(p.X[i]-want.X, p.Y[i]-want.Y) > 1 {
			t.Errorf("the %s is at %.0f, %.0f, put at %.0f, %.0f", k, p.X[i], p.Y[i], want.X, want.Y)
		}
	}
	if len(obs[50].Corrections) != len(trace.LegLandmarks) {
		t.Error("the caller's observations were changed")
	}
}
