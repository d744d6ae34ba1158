package kinematics

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
)

func TestFacing(t *testing.T) {
	obs := loadClip(t, "slow").observations(networkLike)
	f, sure := findFacing(obs)
	if f != body.FacingRight || sure < 0.99 {
		t.Errorf("facing %v, %.2f sure", f, sure)
	}
	if f, _ := findFacing(nil); f == body.FacingAuto {
		t.Error("nothing to see must still give a direction")
	}
	a := analyze(t, obs, Options{Facing: body.FacingLeft})
	if a.series.Facing != body.FacingLeft {
		t.Error("the coach's word on the facing was not taken")
	}
}

func TestNearSide(t *testing.T) {
	obs := loadClip(t, "fast").observations(networkLike)
	if s := findNearSide(obs); s != body.Right {
		t.Errorf("near side %v, want right", s)
	}
	for i := range obs { // without depth, by trust
		obs[i].Depth = [2]float64{math.NaN(), math.NaN()}
	}
	if s := findNearSide(obs); s != body.Right {
		t.Errorf("near side by trust %v, want right", s)
	}
	for i := range obs { // depth has the say
		obs[i].Depth = [2]float64{-10, 10}
	}
	if s := findNearSide(obs); s != body.Left {
		t.Errorf("near side by depth %v, want left", s)
	}
}

func TestCleanClipIsLeftAlone(t *testing.T) {
	for _, name := range []string{"slow", "fast", "jump", "jump_30", "jump_vfr"} {
		obs := loadClip(t, name).observations(networkLike)
		if n := repairSwaps(obs); n != 0 {
			t.Errorf("%s: %d frames exchanged", name, n)
		}
		if n := rejectSpikes(obs); n > 1 {
			t.Errorf("%s: %d points left out", name, n)
		}
	}
}

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
