package motion

import "holdfast/scripts/internal/render/space"

// StepDown is one way from a box to the floor and up again, with one foot on the box all the time.
type StepDown struct {
	DownS, HoldS, UpS, RestS float64
	// BackM is how far behind its place the other foot meets the floor, PitchDeg how far its heel is up there.
	BackM, PitchDeg float64
	// SinkM is how much lower than in standing on the floor the pelvis is then, BehindM how far behind its place, and
	// LeanDeg how far the trunk leans.
	SinkM, BehindM, LeanDeg float64
}

// StepUps gives the performer step-ups onto a box of boxM, from standing on it: the foot of stepping goes down to the
// floor behind it and comes back, the other one stays where it is.
func (p *Performer) StepUps(kind Kind, stand Stand, reps []StepDown, boxM float64, stepping Side, leadS float64) {
	a := p.act(kind, stand)
	m := p.Motion
	a.ontoBox(boxM)
	m.phases = nil
	m.enter(0, "stand")
	t := leadS
	for _, r := range reps {
		rep := Rep{StartS: t, BottomS: t + r.DownS, UpStartS: t + r.DownS + r.HoldS}
		rep.EndS = rep.UpStartS + r.UpS
		foot := &a.feet[stepping]
		way := func(fromS, toS, forwardM, upM, pitchDeg float64) {
			foot.forward.move(fromS, toS, forwardM)
			foot.up.move(fromS, toS, upM)
			foot.pitch.move(fromS, toS, pitchDeg)
		}
		// Off the box backward first, then down, and up before forward.
		const clearPart = 0.45
		clearS := t + clearPart*r.DownS
		way(t, clearS, -r.BackM, boxM+0.03, 0.6*r.PitchDeg)
		way(clearS, rep.BottomS, -r.BackM, 0, r.PitchDeg)
		way(rep.UpStartS, rep.EndS-clearPart*r.UpS, -r.BackM, boxM+0.05, 0.6*r.PitchDeg)
		way(rep.EndS-clearPart*r.UpS, rep.EndS, 0, boxM, 0)
		a.body(t, rep.BottomS, a.upM-r.SinkM, a.forwardM-r.BehindM, r.LeanDeg)
		a.body(rep.UpStartS, rep.EndS, a.upM+boxM, a.forwardM, a.lean0)
		m.enter(t, "down")
		m.enter(rep.BottomS, "hold")
		m.enter(rep.UpStartS, "up")
		m.enter(rep.EndS, "stand")
		m.Reps = append(m.Reps, rep)
		t = rep.EndS + r.RestS
	}
	a.end(t)
}

// ontoBox puts the performer and both feet onto a box.
func (a *actor) ontoBox(boxM float64) {
	a.p.Motion.BoxM = boxM
	a.pelvisUp.Knots[0].Value += boxM
	for i := range a.feet {
		a.feet[i].up.Knots[0].Value = boxM
	}
	a.p.box(boxM, 0)
}

// box puts a box under feet that stand behindM behind their place, from behind the heels to before the toes.
func (p *Performer) box(boxM, behindM float64) {
	s := &p.Skeleton.Sides[Left]
	back, front := s.Heel.Z-0.06, s.Toe.Z+0.06
	p.Motion.Things = []Thing{{SizeM: space.Vec{X: 0.6, Y: boxM, Z: front - back}, Grey: 0.3,
		At: fixed(0, boxM/2, (front+back)/2-behindM)}}
}
