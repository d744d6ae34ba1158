package kinematics

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
)

// Two analyses of one clip give the same numbers to the last bit.
func TestIntervalsRepeat(t *testing.T) {
	obs := loadClip(t, "jump").seen(5)
	a, b := analyze(t, obs, Options{Smoother: body.SmootherFilter}),
		analyze(t, obs, Options{Smoother: body.SmootherFilter})
	for i := range a.reps {
		for k := range body.ShoulderFlexion { // those of the leg and the trunk
			if x, y := a.reps[i].Angles[k], b.reps[i].Angles[k]; x.ROMInterval95Deg != y.ROMInterval95Deg || x.SDDeg != y.SDDeg {
				t.Errorf("rep %d %v: %+v, then %+v", i+1, k, x, y)
			}
		}
	}
}

func TestIntervalsAreInOrder(t *testing.T) {
	for _, name := range []string{"slow", "fast", "jump_30", "left_jump"} {
		obs := loadClip(t, name).seen(6)
		a := analyze(t, obs, Options{Smoother: body.SmootherFilter})
		view := analyze(t, obs, Options{Smoother: body.SmootherFilter,
			SystematicSDDeg: [body.NumAngles]float64{body.KneeFlexion: 5}})
		for i := range a.reps {
			r := &a.reps[i]
			for k := range body.ShoulderFlexion { // those of the leg and the trunk
				m := r.Angles[k]
				if !(m.ROMInterval95Deg[0] >= 0 && m.ROMInterval95Deg[0] <= m.ROMDeg && m.ROMDeg <= m.ROMInterval95Deg[1]) {
					t.Errorf("%s rep %d %v: range %.1f, interval %.1f to %.1f", name, r.Number, k, m.ROMDeg,
						m.ROMInterval95Deg[0], m.ROMInterval95Deg[1])
				}
				if !(m.SystematicSDDeg >= 0 && m.SystematicSDDeg <= m.SDDeg) {
					t.Errorf("%s rep %d %v: SD %.2f, of it systematic %.2f", name, r.Number, k, m.SDDeg, m.SystematicSDDeg)
				}
			}
			near(t, "view joined", view.reps[i].Angles[body.KneeFlexion].SDDeg,
				math.Hypot(5, r.Angles[body.KneeFlexion].SDDeg), 1e-9)
			near(t, "hip as before", view.reps[i].Angles[body.HipFlexion].SDDeg, r.Angles[body.HipFlexion].SDDeg, 1e-9)
			sd := r.TimeSDS
			if !(sd.BottomS > 0 && sd.BottomS < 0.15) {
				t.Errorf("%s rep %d: bottom known to %.3f s", name, r.Number, sd.BottomS)
			}
			if r.HasFlight() != (sd.TakeoffS > 0) || r.HasFlight() != (sd.ContactS > 0) {
				t.Errorf("%s rep %d: flight %v, take-off known to %.3f s, contact to %.3f", name, r.Number, r.HasFlight(),
					sd.TakeoffS, sd.ContactS)
			}
		}
	}
}
