package render

import "holdfast/scripts/internal/render/motion"

// stepUp gives the performer step-ups, the leg nearer to the camera on the box. In fast ones the other foot meets the
// floor with its heel up, so that the leg on the box bends less, and the trunk comes forward.
func (s *Scene) stepUp(kind motion.Kind, stand motion.Stand) {
	d := draw(s.Seed, mannerStream+104)
	boxM, leadS := d.between(0.28, 0.32), d.between(0.8, 0.9)
	down := motion.StepDown{BackM: d.between(0.36, 0.4), PitchDeg: d.between(4, 10), SinkM: d.between(0.02, 0.04),
		BehindM: d.between(0.2, 0.23), LeanDeg: d.between(22, 28)}
	if kind == motion.FastStepUp {
		down.PitchDeg += 30
		down.SinkM -= 0.07
		down.BehindM += 0.03
		down.LeanDeg += 10
	}
	reps := make([]motion.StepDown, repsOfClip)
	for i := range reps {
		r := down
		r.LeanDeg += d.about(0, 1)
		r.SinkM += d.about(0, 0.006)
		r.DownS, r.HoldS = d.between(1.1, 1.3), d.between(0.15, 0.25)
		r.UpS, r.RestS = d.between(1.0, 1.2), d.between(0.5, 0.6)
		if kind == motion.FastStepUp {
			r.DownS, r.HoldS, r.UpS = d.between(0.5, 0.56), d.between(0.06, 0.1), d.between(0.5, 0.6)
		}
		reps[i] = r
	}
	s.Performer.StepUps(kind, stand, reps, boxM, 1-s.Camera.Near, leadS)
}

// drop gives the performer a drop from a box. From a high one the landing is less deep, and less of it in the ankle.
func (s *Scene) drop(kind motion.Kind, stand motion.Stand, deep motion.Squat) {
	d := draw(s.Seed, mannerStream+105)
	s.plausible(&deep)
	drop := motion.Drop{BoxM: d.between(0.28, 0.32), Land: deep, HoldS: d.between(1.3, 1.5),
		TouchdownPitchDeg: d.between(7, 10)}
	drop.Land.KneeDeg -= d.between(10, 14)
	drop.Land.DorsiDeg -= d.between(2, 4)
	leadS := d.between(0.9, 1)
	if kind == motion.DropHigh {
		drop.BoxM += 0.16
		drop.Land.KneeDeg -= d.between(10, 14)
		drop.Land.DorsiDeg -= d.between(4, 6)
	}
	s.Performer.Drops(kind, stand, drop, 1-s.Camera.Near, leadS)
}
