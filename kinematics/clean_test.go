package kinematics

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

func TestFacing(t *testing.T) {
	obs := loadClip(t, "slow").observations(networkLike)
	f, sure := trace.FacingOf(obs, body.FacingAuto)
	if f != body.FacingRight || sure < 0.99 {
		t.Errorf("facing %v, %.2f sure", f, sure)
	}
	if f, _ := trace.FacingOf(nil, body.FacingAuto); f == body.FacingAuto {
		t.Error("nothing to see must still give a direction")
	}
	a := analyze(t, obs, Options{Facing: body.FacingLeft})
	if a.series.Facing != body.FacingLeft {
		t.Error("the coach's word on the facing was not taken")
	}
}

func TestNearSide(t *testing.T) {
	obs := loadClip(t, "fast").observations(networkLike)
	if s := trace.FindNearSide(obs); s != body.Right {
		t.Errorf("near side %v, want right", s)
	}
	for i := range obs { // without depth, by trust
		obs[i].Depth = [2]float64{math.NaN(), math.NaN()}
	}
	if s := trace.FindNearSide(obs); s != body.Right {
		t.Errorf("near side by trust %v, want right", s)
	}
	for i := range obs { // depth has the say
		obs[i].Depth = [2]float64{-10, 10}
	}
	if s := trace.FindNearSide(obs); s != body.Left {
		t.Errorf("near side by depth %v, want left", s)
	}
}

func TestCleanClipIsLeftAlone(t *testing.T) {
	for _, name := range []string{"slow", "fast", "jump", "jump_30", "jump_vfr"} {
		obs := loadClip(t, name).observations(networkLike)
		if n := trace.RepairSwaps(obs); n != 0 {
			t.Errorf("%s: %d frames exchanged", name, n)
		}
		if n := trace.RejectSpikes(obs); n > 1 {
			t.Errorf("%s: %d points left out", name, n)
		}
	}
}
