package motion

import "holdfast/scripts/internal/render/space"

const (
	// Where the arms are at the bottom of a swing and as the bell floats, and how long they rise after the hips are
	// straight.
	swingBackDeg, swingTopDeg, floatS = -24.0, 84.0, 0.22
	// swingElbowDeg is how far the elbows bend: the arms are ropes.
	swingElbowDeg = 6.0
	// tallLeanDeg is how far the trunk leans back with the hips straight.
	tallLeanDeg = -4.0
	bellM       = 0.2
)

// Swings gives the performer hinges under speed, one after the other: the hips go back, snap straight, and the bell in
// the hands floats to the height of the chest and falls.
func (p *Performer) Swings(kind Kind, stand Stand, reps []Squat, leadS float64) {
	a := p.act(kind, stand)
	a.arms[Left].elbow.Knots[0].Value, a.arms[Right].elbow.Knots[0].Value = swingElbowDeg, swingElbowDeg
	m := p.Motion
	m.phases = nil
	m.enter(0, "stand")
	t := leadS
	for i, r := range reps {
		rep := Rep{StartS: t, BottomS: t + r.DownS, UpStartS: t + r.DownS + 0.04}
		rep.EndS = rep.UpStartS + r.UpS
		c := Channels{KneeFlexion: r.KneeDeg, Dorsiflexion: r.DorsiDeg, ElbowFlexion: swingElbowDeg}
		low, _, leanDeg := p.Balanced(&c)
		a.body(t, rep.BottomS, low.Pelvis.Y, low.Pelvis.Z, leanDeg)
		a.reach(t, rep.BottomS, swingBackDeg, swingElbowDeg)
		a.body(rep.UpStartS, rep.EndS, a.upM, a.forwardM, tallLeanDeg)
		topS := rep.EndS + floatS
		a.reach(rep.UpStartS, topS, swingTopDeg, swingElbowDeg)
		m.enter(t, "down")
		m.enter(rep.BottomS, "hold")
		m.enter(rep.UpStartS, "up")
		m.enter(rep.EndS, "stand")
		m.Reps = append(m.Reps, rep)
		t = topS + 0.12 // the bell falls before the hips give way
		if i == len(reps)-1 {
			a.reach(topS, topS+0.55, stand.ArmDeg, swingElbowDeg)
			a.lean.move(topS, topS+0.55, a.lean0)
			t = topS + 0.55
		}
	}
	a.end(t + leadS)
	bell := Thing{SizeM: space.Vec{X: bellM, Y: bellM, Z: bellM}, Disc: true, Grey: 0.08}
	bell.At = func(now *Instant) space.Vec {
		l := &now.Figure.Sides[Left]
		along := l.Wrist.Sub(l.Elbow).Unit().Scale(palmM + bellM/2 + 0.03)
		at := hands(now.Figure).Add(along)
		return space.Vec{X: 0, Y: at.Y, Z: at.Z}
	}
	m.Things = []Thing{bell}
}

const (
	// barUpM is how high the wrists are with the bar at its lowest, over the floor.
	barUpM = 0.32
	// fullPitchDeg is how far the heels are up at full extension, fullS how long it lasts.
	fullPitchDeg, fullS = 30.0, 0.12
	settlesS            = 0.4
)

// CleanPulls gives the performer pulls from a bar low on the shins, over which the trunk leans by leanDeg, to full
// extension on the toes. Of a rep the bend of the ankle and the times count.
func (p *Performer) CleanPulls(kind Kind, stand Stand, reps []Squat, leanDeg, leadS float64) {
	a := p.act(kind, stand)
	m := p.Motion
	m.phases = nil
	m.enter(0, "stand")
	t := leadS
	for _, r := range reps {
		low := p.toBar(r.DorsiDeg, leanDeg)
		rep := Rep{StartS: t, BottomS: t + r.DownS, UpStartS: t + r.DownS + r.HoldS}
		rep.EndS = rep.UpStartS + r.UpS
		a.body(t, rep.BottomS, low.Pelvis.Y, low.Pelvis.Z, leanDeg)
		a.reach(t, rep.BottomS, barArmDeg, barElbowDeg)
		tall := Channels{KneeFlexion: stand.KneeDeg, FootPitch: fullPitchDeg, Dorsiflexion: ontoToesDeg - fullPitchDeg,
			ArmElevation: barArmDeg, ElbowFlexion: barElbowDeg}
		up, _, _ := p.Balanced(&tall)
		a.body(rep.UpStartS, rep.EndS, up.Pelvis.Y, up.Pelvis.Z, tallLeanDeg)
		downS := rep.EndS + fullS
		a.body(downS, downS+settlesS, a.upM, a.forwardM, a.lean0)
		a.reach(rep.UpStartS, downS+settlesS, stand.ArmDeg, barElbowDeg)
		for i := range a.feet {
			a.feet[i].pitch.move(rep.UpStartS+0.6*r.UpS, rep.EndS, fullPitchDeg)
			a.feet[i].pitch.move(downS, downS+settlesS, 0)
		}
		m.enter(t, "down")
		m.enter(rep.BottomS, "hold")
		m.enter(rep.UpStartS, "up")
		m.enter(downS+settlesS, "stand")
		m.Reps = append(m.Reps, rep)
		t = downS + settlesS + r.RestS
	}
	a.end(t + leadS)
	p.Barbell(stickM)
}

// Where the arms are with the bar at its lowest, and how wide its ends are: a stick hides nothing.
const barArmDeg, barElbowDeg, stickM = 2.0, 3.0, 0.04

// toBar returns the pose whose hands are at the bar with the trunk leaning so far: the bar's weight, not the lean,
// keeps the body in balance.
func (p *Performer) toBar(dorsiDeg, leanDeg float64) Pose {
	c := Channels{Dorsiflexion: dorsiDeg, ArmElevation: barArmDeg, ElbowFlexion: barElbowDeg}
	var pose Pose
	for least, most := 10.0, 130.0; most-least > 0.01; {
		c[KneeFlexion] = (least + most) / 2
		var f *Figure
		if pose, f = p.stand(&c, leanDeg, space.Vec{}); hands(f).Y > barUpM {
			least = c[KneeFlexion]
		} else {
			most = c[KneeFlexion]
		}
	}
	return pose
}
