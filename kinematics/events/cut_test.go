package events

import (
	"math"
	"testing"

	"holdfast/internal/shipped"
	"holdfast/kinematics/trace"
)

// A clip that is played again and again is cut where the athlete stands: no rep is lost by it. One that is cut on the
// way down, so that the body is elsewhere at once, shows no whole rep.
func TestMarkCut(t *testing.T) {
	for _, c := range []struct {
		name       string
		cutS       float64
		cut        bool
		startS     float64 // of the rep, as far as the cut moves it
		endsBefore float64
		jumpPx     float64 // of the body at the cut
	}{
		{"standing before", 1.02, false, 1.02, 4, 400},
		{"on the way down", 1.46, true, 0, 4, 400},
		{"on the way down, which goes on", 1.46, false, 0, 4, 0},
		{"at the bottom", 2.0, true, 0, 4, -400},
		{"nearly up again", 2.96, false, 0, 2.96, 400},
		{"long before", 0.2, false, 0, 4, 400},
	} {
		tr := handTrace(50, 4.5, squat(1, 0.8, 0.4, 0.4), onTheFloor)
		stand := FindStand(tr, nil)
		reps, _ := FindReps(tr, shipped.Squat(), CourseOf(tr, shipped.Squat(), stand), stand, nil)
		if len(reps) != 1 {
			t.Fatalf("%d reps", len(reps))
		}
		obs := make([]trace.Observation, len(tr.TimeS))
		for i, s := range tr.TimeS {
			obs[i].TimeS, obs[i].Cut = s, math.Abs(s-c.cutS) < 0.009
			if s > c.cutS-0.009 {
				for k := range obs[i].Points[tr.NearSide] {
					obs[i].Points[tr.NearSide][k].Y = c.jumpPx
				}
			}
		}
		MarkCut(tr, CourseOf(tr, shipped.Squat(), stand), reps, obs)
		r := &reps[0]
		if r.Cut != c.cut || r.Damaged != c.cut || r.Partial != c.cut {
			t.Errorf("%s: cut %v, damaged %v, partial %v (%v)", c.name, r.Cut, r.Damaged, r.Partial, r.PartialWhy)
		}
		if !c.cut && (r.StartS < c.startS-0.011 || r.EndS > c.endsBefore+0.011 || r.StartS > 1.2 || r.EndS < 2.8) {
			t.Errorf("%s: from %.2f to %.2f s", c.name, r.StartS, r.EndS)
		}
		if n := len(r.Phases); n == 0 || r.Phases[0].StartS != r.StartS || r.Phases[n-1].EndS != r.EndS {
			t.Errorf("%s: phases %v of a rep from %.2f to %.2f s", c.name, r.Phases, r.StartS, r.EndS)
		}
	}
}

// A held bottom is one bottom, also where a filter leaves two equally deep places in it.
func TestHeldBottomIsOne(t *testing.T) {
	for _, rateHz := range []float64{24, 30, 50, 60, 100, 120, 240} {
		tr := handTrace(rateHz, 4.5, squat(1, 0.8, 0.4, 0.4), onTheFloor)
		if reps, _ := findSquats(tr, nil); len(reps) != 1 {
			t.Errorf("at %g a second: %d reps", rateHz, len(reps))
		}
	}
}
