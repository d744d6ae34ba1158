package motion

import (
	"math"

	"holdfast/scripts/internal/render/space"
)

// GetUp is one way down to the floor and up again over one knee.
type GetUp struct {
	DownS, RestS, UpS, StandS float64
	// Lies takes it on from both knees to lying face down.
	Lies bool
	// Front is the foot that is planted first on the way up; Steps how often a foot is put down after it, 1 to 3.
	Front Side
	Steps int
}

const (
	// How far the pelvis is over the floor of one who lies face down, and how far the top of the trunk is bent forward.
	proneUpM, proneLeanDeg = 0.12, 97.0
	// Where the arms are then: the elbows behind the shoulders, the hands under them.
	proneArmDeg, proneElbowDeg = -112.0, 148.0
	// betweenM is how far the feet go on in a way up of several steps, stepAgainS how long each takes.
	betweenM, stepAgainS = 0.24, 0.34
	// pushedUp is the part of the way from lying to the knees after which the hands leave the floor.
	pushedUp = 0.62
)

// GetUps gives the performer ways from standing to both knees or to lying, and onto the feet again with one foot first.
// Bottom is the rest on the floor; a rep ends in standing upright, whatever steps follow.
func (p *Performer) GetUps(kind Kind, stand Stand, reps []GetUp, leadS float64) {
	a := p.act(kind, stand)
	m := p.Motion
	m.phases = nil
	m.enter(0, "stand")
	rest := p.reference()
	ankle := rest.Ball.Add(space.AboutX(tuckedPitchDeg).Of(rest.Ankle.Sub(rest.Ball)))
	shank := Sagittal(rest.Ankle, rest.Knee)
	ahead := math.Sqrt(math.Max(0, shank*shank-math.Pow(ankle.Y-kneeUpM, 2)))
	reach := math.Sqrt(math.Pow(0.985*(shank+a.thigh), 2) - math.Pow(ankle.Y-proneUpM, 2))
	t, base := leadS, 0.0
	for _, r := range reps {
		front, rear := r.Front, 1-r.Front
		kneelUp, kneelForward := kneeUpM+a.thigh, base+a.forwardM-0.95*a.thigh
		tucked := kneelForward - ahead - ankle.Z
		parts := [3]float64{0.45, 0.3, 0.25} // down onto one knee, onto both, and to lying; up the other way round
		if !r.Lies {
			parts = [3]float64{0.6, 0.4, 0}
		}
		rep := Rep{StartS: t, Steps: r.Steps}
		a.step(rear, t, t+0.7*parts[0]*r.DownS, tucked, 0, 0.06, tuckedPitchDeg)
		a.body(t+0.15*parts[0]*r.DownS, t+parts[0]*r.DownS, kneelUp, kneelForward, 14)
		t += parts[0] * r.DownS
		a.step(front, t, t+parts[1]*r.DownS, tucked, 0, 0.09, tuckedPitchDeg)
		a.lean.move(t, t+parts[1]*r.DownS, kneelLeanDeg)
		t += parts[1] * r.DownS
		if r.Lies {
			t = a.lie(t, t+parts[2]*r.DownS, tucked+ankle.Z+reach)
		}
		rep.BottomS, rep.UpStartS = t, t+r.RestS
		t += r.RestS
		if r.Lies {
			t = a.kneel(t, t+0.4*r.UpS, kneelUp, kneelForward)
			parts = [3]float64{0.36, 0.24, 0}
		}
		a.step(front, t, t+parts[1]*r.UpS, base, 0, 0.09, 0)
		a.lean.move(t, t+parts[1]*r.UpS, 12)
		t += 0.9 * parts[1] * r.UpS
		end := rep.UpStartS + r.UpS
		a.lean.move(t+0.1*parts[1]*r.UpS, space.Mix(t, end, 0.45), 40)
		a.lean.move(space.Mix(t, end, 0.45), end, a.lean0)
		a.pelvisUp.move(t+0.05, end, a.upM)
		from := base
		base = a.steps(rear, r.Steps, space.Mix(t, end, 0.5), end, base)
		rep.EndS, rep.StepsEndS = end, a.feet[front].forward.last().TimeS
		if on := a.feet[rear].forward.last().TimeS; on > rep.StepsEndS || r.Steps == 1 {
			rep.StepsEndS = on
		}
		over := from // the feet as they stand with the body upright
		if r.Steps == 2 {
			over = (from + base) / 2
		}
		a.pelvisForward.move(t+0.05, end, over+a.forwardM)
		if r.Steps > 1 {
			a.pelvisForward.move(end, rep.StepsEndS, base+a.forwardM)
		}
		t = max(end, rep.StepsEndS) + r.StandS
		m.Reps = append(m.Reps, rep)
		m.enter(rep.StartS, "down")
		m.enter(rep.BottomS, "hold")
		m.enter(rep.UpStartS, "up")
		m.enter(rep.EndS, "stand")
	}
	a.end(t)
}

// lie goes from both knees to lying face down.
func (a *actor) lie(fromS, toS, forwardM float64) float64 {
	handS := space.Mix(fromS, toS, 1-pushedUp)
	a.lean.move(fromS, handS, 74)
	a.reach(fromS, handS, 2, 8)
	a.lean.move(handS, toS, proneLeanDeg)
	a.reach(handS, toS, proneArmDeg, proneElbowDeg)
	a.pelvisUp.move(space.Mix(fromS, handS, 0.6), toS, proneUpM)
	a.pelvisForward.move(space.Mix(fromS, handS, 0.6), toS, forwardM)
	return toS
}

// kneel pushes a body that lies face down back onto both knees.
func (a *actor) kneel(fromS, toS, upM, forwardM float64) float64 {
	handS := space.Mix(fromS, toS, pushedUp)
	a.lean.move(fromS, handS, 74)
	a.reach(fromS, handS, 2, 8)
	a.lean.move(handS, toS, 16)
	a.reach(handS, toS, a.stand.ArmDeg, a.stand.ElbowDeg)
	a.pelvisUp.move(fromS, space.Mix(handS, toS, 0.4), upM)
	a.pelvisForward.move(fromS, space.Mix(handS, toS, 0.4), forwardM)
	return toS
}

// steps brings the rear foot beside the front one by so many steps, the first of them between two times, and returns
// where both stand then.
func (a *actor) steps(rear Side, n int, fromS, toS, base float64) float64 {
	front := 1 - rear
	switch n {
	case 2: // past it, and the front one beside it
		a.step(rear, fromS, toS, base+betweenM, 0, 0.06, 0)
		a.step(front, toS+0.04, toS+0.04+stepAgainS, base+betweenM, 0, 0.05, 0)
		return base + betweenM
	case 3: // beside it, and both back again
		a.step(rear, fromS, toS, base, 0, 0.06, 0)
		a.step(front, toS+0.04, toS+0.04+stepAgainS, base-betweenM, 0, 0.05, 0)
		a.step(rear, toS+0.08+stepAgainS, toS+0.08+2*stepAgainS, base-betweenM, 0, 0.05, 0)
		return base - betweenM
	}
	a.step(rear, fromS, toS, base, 0, 0.06, 0)
	return base
}
