package motion

import (
	"math"

	"holdfast/scripts/internal/render/space"
)

// What people do between sets, none of which is a repetition of anything.

const (
	strideM, strideS, swingS = 0.58, 0.56, 0.40
	strideCount              = 5
)

// Walk gives the performer some steps forward, from standing to standing.
func (p *Performer) Walk(stand Stand, leadS float64) {
	a := p.act(Walk, stand)
	wayM := strideM * (strideCount - 1)
	startM := -wayM / 2
	for i := range a.feet {
		a.feet[i].forward.Knots[0].Value = startM
	}
	side := Left
	for i := range strideCount {
		fromS := leadS + strideS*float64(i)
		toM := startM + strideM*float64(min(i+1, strideCount-1))
		foot := &a.feet[side]
		if i > 0 {
			foot.pitch.move(fromS-0.22, fromS+0.02, 32)
		}
		foot.pitch.move(fromS+0.05, fromS+swingS, 0)
		foot.forward.move(fromS, fromS+swingS, toM)
		foot.up.move(fromS, fromS+swingS/2, 0.07)
		foot.up.move(fromS+swingS/2, fromS+swingS, 0)
		side = 1 - side
	}
	endS := leadS + strideS*(strideCount-1) + swingS
	a.pelvisForward, a.pelvisUp = Curve{straight: true}, Curve{straight: true}
	for i := range a.arms {
		a.arms[i].elevation = Curve{straight: true}
	}
	for t := 0.0; t <= endS+leadS; t += 0.02 {
		s := space.Clamp((t-leadS)/(endS-leadS), 0, 1)
		const ramp = 0.18 // of the way at either end the speed rises and falls
		along := func(s float64) float64 {
			switch {
			case s < ramp:
				return s * s / 2 / ramp
			case s > 1-ramp:
				return 1 - ramp - (1-s)*(1-s)/2/ramp
			}
			return s - ramp/2
		}
		a.pelvisForward.to(t, a.forwardM+startM+wayM*along(s)/(1-ramp))
		a.pelvisUp.to(t, a.upM-0.015*math.Min(1, 8*math.Min(s, 1-s)))
		swing := 20 * math.Sin(math.Pi*(t-leadS)/strideS) * math.Min(1, 6*math.Min(s, 1-s))
		for _, side := range BothSides {
			a.arms[side].elevation.to(t, stand.ArmDeg+side.Out()*swing)
		}
	}
	a.end(endS + leadS)
}

// Sit gives the performer sitting down on a chair and standing up again after a rest.
func (p *Performer) Sit(stand Stand, leadS, restS float64) {
	a := p.act(Sit, stand)
	const seatM, fleshM, downS, upS = 0.44, 0.09, 1.3, 1.2
	back := a.forwardM - a.thigh
	t := leadS
	a.pelvisUp.move(t, t+downS, seatM+fleshM)
	a.pelvisForward.move(t, t+downS, back)
	a.lean.move(t, t+0.75*downS, 40)
	a.lean.move(t+0.75*downS, t+downS+0.4, 4)
	a.reach(t, t+downS, 42, 45)
	t += downS + restS
	a.lean.move(t, t+0.55, 42)
	t += 0.3
	a.pelvisUp.move(t, t+upS, a.upM)
	a.pelvisForward.move(t, t+upS, a.forwardM)
	a.lean.move(t+0.3, t+upS, a.lean0)
	a.reach(t, t+upS, stand.ArmDeg, stand.ElbowDeg)
	a.end(t + upS + leadS)
	p.Motion.Things = []Thing{
		{SizeM: space.Vec{X: 0.42, Y: 0.04, Z: 0.42}, Grey: 0.2, At: fixed(0, seatM-0.02, back-0.03)},
		{SizeM: space.Vec{X: 0.42, Y: 0.42, Z: 0.03}, Grey: 0.2, At: fixed(0, seatM+0.25, back-0.24)},
	}
	for _, x := range []float64{-0.19, 0.19} {
		for _, z := range []float64{-0.22, 0.16} {
			p.Motion.Things = append(p.Motion.Things, Thing{SizeM: space.Vec{X: 0.03, Y: seatM - 0.04, Z: 0.03}, Grey: 0.12,
				At: fixed(x, (seatM-0.04)/2, back+z)})
		}
	}
}

// TieShoe gives the performer kneeling on one knee and tying the shoe in front, that of side.
func (p *Performer) TieShoe(stand Stand, side Side, leadS, tieS float64) {
	a := p.act(TieShoe, stand)
	const downS, upS = 1.3, 1.2
	back, up := a.forwardM-0.92*a.thigh, a.thigh+0.06
	t := leadS
	a.step(1-side, t, t+0.7, -2.0*a.thigh, 0, 0.06, 62)
	a.body(t+0.2, t+downS, up, back, 72)
	a.reach(t+0.2, t+downS+0.2, 4, 14)
	t += downS + 0.2
	for end := t + tieS; t < end; t += 0.5 { // the hands work
		a.reach(t, t+0.25, 8, 26)
		a.reach(t+0.25, t+0.5, 3, 12)
	}
	a.body(t, t+upS, a.upM, a.forwardM, a.lean0)
	a.reach(t, t+upS, stand.ArmDeg, stand.ElbowDeg)
	a.step(1-side, t+0.3, t+upS-0.1, 0, 0, 0.06, 0)
	a.end(t + upS + leadS)
}

// BendToShoe gives the performer bending over on both feet and tying a shoe.
func (p *Performer) BendToShoe(stand Stand, leadS, tieS float64) {
	a := p.act(BendToShoe, stand)
	const downS, upS = 1.2, 1.1
	t := leadS
	a.body(t, t+downS, a.upM-0.26, a.forwardM-0.2, 106)
	a.reach(t, t+downS, -8, 10)
	t += downS
	for end := t + tieS; t < end; t += 0.5 {
		a.reach(t, t+0.25, -4, 24)
		a.reach(t+0.25, t+0.5, -8, 8)
	}
	a.body(t, t+upS, a.upM, a.forwardM, a.lean0)
	a.reach(t, t+upS, stand.ArmDeg, stand.ElbowDeg)
	a.end(t + upS + leadS)
}

// LoadBar gives the performer a plate that is picked up from the floor, carried a step and slid onto a bar on a stand.
func (p *Performer) LoadBar(stand Stand, leadS float64) {
	a := p.act(LoadBar, stand)
	const plateM, stepM = 0.21, 0.30
	t := leadS
	a.body(t, t+1.1, a.upM-0.32, a.forwardM-0.24, 74)
	a.reach(t+0.2, t+1.1, 10, 6)
	gripS := t + 1.25
	t = gripS + 0.1
	a.body(t, t+1.0, a.upM, a.forwardM, a.lean0)
	a.reach(t+0.2, t+1.1, 22, 78)
	t += 1.1
	a.step(Left, t, t+0.45, stepM, 0, 0.06, 0)
	a.step(Right, t+0.45, t+0.9, stepM, 0, 0.06, 0)
	a.pelvisForward.move(t, t+0.9, a.forwardM+stepM)
	t += 0.9
	a.reach(t, t+0.7, 62, 22) // slides it on
	leftS := t + 0.75
	t = leftS
	a.reach(t, t+0.5, 40, 60)
	a.step(Right, t+0.3, t+0.75, 0, 0, 0.05, 0)
	a.step(Left, t+0.75, t+1.2, 0, 0, 0.05, 0)
	a.pelvisForward.move(t+0.3, t+1.2, a.forwardM)
	a.reach(t+0.5, t+1.2, stand.ArmDeg, stand.ElbowDeg)
	t += 1.2
	a.end(t + leadS)
	held := func(timeS float64) space.Vec {
		_, f := a.pose(p, timeS)
		h := hands(f)
		return space.Vec{X: 0, Y: h.Y - 0.12, Z: h.Z + 0.09}
	}
	onFloor, onBar := held(gripS), held(leftS)
	p.Motion.Things = []Thing{
		{SizeM: space.Vec{X: 2 * plateM, Y: 2 * plateM, Z: 0.035}, Disc: true, Grey: 0.06,
			At: func(now *Instant) space.Vec {
				switch {
				case now.TimeS < gripS:
					return onFloor
				case now.TimeS < leftS:
					return held(now.TimeS)
				}
				return onBar
			}},
		{SizeM: space.Vec{X: 0.05, Y: 0.05, Z: 0.34}, Grey: 0.5, At: fixed(0, onBar.Y, onBar.Z+0.14)},
		{SizeM: space.Vec{X: 0.08, Y: onBar.Y - 0.03, Z: 0.08}, Grey: 0.15, At: fixed(0, (onBar.Y-0.03)/2, onBar.Z+0.28)},
	}
}
