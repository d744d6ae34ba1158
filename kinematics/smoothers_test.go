package kinematics

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
)

// In a whole analysis the body is at least as near to the truth as the filter,
// leaves what was lost for long unknown, and gives way to the filter where no body
// can be fitted.
func TestSmoothers(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it measures every clip")
	}
	for _, name := range []string{"slow", "fast", "jump"} {
		clip := loadClip(t, name)
		obs := clip.observations(networkLike)
		_, _, fitted := clip.errors(analyze(t, obs, Options{Smoother: body.SmootherBody}).series, obs)
		_, _, filter := clip.errors(analyze(t, obs, Options{Smoother: body.SmootherFilter}).series, obs)
		t.Logf("%s: ankle off by %.2f° fitted, %.2f° filtered", name, fitted, filter)
		if fitted > filter+0.1 {
			t.Errorf("%s: ankle off by %.2f° fitted, %.2f° filtered", name, fitted, filter)
		}
	}
	clip := loadClip(t, "slow")
	obs := clip.observations(networkLike)
	for i := 100; i < 130; i++ {
		for k := range body.NumLandmarks {
			obs[i].Points[body.Right][k] = body.MissingPoint()
		}
	}
	s := analyze(t, obs, Options{}).series
	for _, a := range []body.Angle{body.KneeFlexion, body.AnkleDorsiflexion, body.TrunkLean} {
		if v := s.AnglesDeg[a][s.Index(obs[115].TimeS)]; !math.IsNaN(v) {
			t.Errorf("%s where the athlete was lost: %.1f°", a, v)
		}
	}
}
