package motion

import (
	"math"

	"holdfast/scripts/internal/render/space"
)

const (
	// kneeUpM is how high the middle of a knee is that carries the body on the floor.
	kneeUpM = 0.065
	// tuckedPitchDeg is how far the heels are up while the toes are tucked under.
	tuckedPitchDeg = 76.0
	// kneelLeanDeg is how far the trunk leans over upright thighs.
	kneelLeanDeg = 2.0
)

// KneelingPresses gives the performer presses on both knees: the thighs stay upright, the shins lie behind them with
// the toes tucked under, and the arms do what they do in presses in standing.
func (p *Performer) KneelingPresses(kind Kind, stand Stand, reps []Squat, leadS float64) {
	a := p.act(kind, stand)
	m := Presses(kind, stand, reps, leadS)
	m.free = a.free
	p.Motion = m
	for i := range a.arms {
		a.arms[i].elevation, a.arms[i].elbow = m.curves[ArmElevation], m.curves[ElbowFlexion]
	}
	rest := p.reference()
	ankle := rest.Ball.Add(space.AboutX(tuckedPitchDeg).Of(rest.Ankle.Sub(rest.Ball)))
	shank := Sagittal(rest.Ankle, rest.Knee)
	ahead := math.Sqrt(math.Max(0, shank*shank-math.Pow(ankle.Y-kneeUpM, 2)))
	a.pelvisUp.Knots[0].Value = kneeUpM + a.thigh
	a.lean.Knots[0].Value = kneelLeanDeg
	for i := range a.feet {
		a.feet[i].forward.Knots[0].Value = a.forwardM - ahead - ankle.Z
		a.feet[i].pitch.Knots[0].Value = tuckedPitchDeg
	}
}
