package motion

import "holdfast/scripts/internal/render/space"

// Rise is one way to the floor and up again.
type Rise struct {
	DownS, BackS, RestS, ForthS, UpS, StandS float64
	// ByStep brings one foot after the other; else both feet leave the floor at once.
	ByStep bool
	// CrouchLeanDeg is how far the trunk leans with the hands on the floor and the feet still in place.
	CrouchLeanDeg float64
}

const (
	plankLeanDeg, plankPitchDeg = 74.0, 78.0
	wristUpM                    = 0.14
	crouchArmDeg, plankArmDeg   = 6.0, 4.0
)

// Rises gives the performer ways to the floor: the hands go down beside the feet, the feet go back until the body lies
// in a plank, and forth again, and the body stands up. Bottom is the plank, and a rep ends in standing.
func (p *Performer) Rises(kind Kind, stand Stand, reps []Rise, leadS float64) {
	a := p.act(kind, stand)
	m := p.Motion
	handsM := a.forwardM + 0.42
	a.handsForward.Knots[0].Value, a.handsUp.Knots[0].Value = handsM, wristUpM
	backM := a.plankBack(handsM)
	t := leadS
	for _, r := range reps {
		rep := Rep{StartS: t}
		a.hold.move(t+0.35*r.DownS, t+r.DownS, 1)
		a.body(t, t+r.DownS, 0.45*a.upM, a.forwardM-0.15, r.CrouchLeanDeg)
		a.reach(t, t+r.DownS, crouchArmDeg, 4)
		for i := range a.feet {
			a.feet[i].pitch.move(t+0.5*r.DownS, t+r.DownS, 24)
		}
		t += r.DownS
		a.feetGo(t, t+r.BackS, -backM, plankPitchDeg, r.ByStep)
		a.lean.move(t, t+r.BackS, plankLeanDeg)
		a.reach(t, t+r.BackS, plankArmDeg, 4)
		t += r.BackS
		rep.BottomS, rep.UpStartS = t, t+r.RestS
		t += r.RestS
		if r.ByStep {
			rep.Steps, rep.StepsEndS = 1, t+r.ForthS
		}
		a.feetGo(t, t+r.ForthS, 0, 24, r.ByStep)
		a.lean.move(t, t+r.ForthS, r.CrouchLeanDeg)
		a.reach(t, t+r.ForthS, crouchArmDeg, 4)
		t += r.ForthS
		a.hold.move(t, t+0.65*r.UpS, 0)
		a.body(t, t+r.UpS, a.upM, a.forwardM, a.lean0)
		a.reach(t, t+r.UpS, stand.ArmDeg, stand.ElbowDeg)
		for i := range a.feet {
			a.feet[i].pitch.move(t, t+0.4*r.UpS, 0)
		}
		t += r.UpS
		rep.EndS = t
		m.Reps = append(m.Reps, rep)
		t += r.StandS
	}
	m.phases = nil
	m.enter(0, "stand")
	for _, r := range m.Reps {
		m.enter(r.StartS, "down")
		m.enter(r.BottomS, "hold")
		m.enter(r.UpStartS, "up")
		m.enter(r.EndS, "stand")
	}
	a.end(t)
}

// feetGo moves the feet along the floor, one after the other or both at once.
func (a *actor) feetGo(fromS, toS, forwardM, pitchDeg float64, byStep bool) {
	half := (fromS + toS) / 2
	for _, side := range BothSides {
		from, to := fromS, toS
		if byStep && side == Left {
			to = half
		} else if byStep {
			from = half
		}
		a.step(side, from, to, forwardM, 0, 0.05, pitchDeg)
	}
}

// plankBack returns how far behind their places the feet are where the legs are straight and the hands on the floor.
func (a *actor) plankBack(handsM float64) float64 {
	s, m := a.p.Skeleton, &a.p.Manner
	near, far := 0.3, 1.6
	for range 30 {
		back := (near + far) / 2
		pose := Pose{PelvisTiltDeg: plankLeanDeg * m.PelvisShare, LumbarDeg: plankLeanDeg * m.LumbarShare,
			ThoracicDeg: plankLeanDeg * m.ThoracicShare}
		for _, side := range BothSides {
			pose.Arms[side] = Arm{plankArmDeg, m.ArmAbductionDeg[side], 4}
			pose.Legs[side].FootPitchDeg = plankPitchDeg
		}
		at := hands(s.Place(&pose))
		pose.Pelvis = pose.Pelvis.Add(space.Vec{X: 0, Y: wristUpM - at.Y, Z: handsM - at.Z})
		s.Plant(&pose, Left, s.Sides[Left].Ball.Add(space.Vec{X: 0, Y: 0, Z: m.FootForwardM[Left] - back}))
		if pose.Legs[Left].KneeFlexionDeg > plankKneeDeg {
			near = back
		} else {
			far = back
		}
	}
	return near
}

// plankKneeDeg is how far the knees bend in a plank.
const plankKneeDeg = 8.0
