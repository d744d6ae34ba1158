package motion

import "holdfast/scripts/internal/render/space"

const (
	// How long it takes onto the toes, and how long the athlete stands tall on them, with arms that are up by tallArmDeg.
	ontoToesS, tallS = 0.5, 0.35
	tallPitchDeg     = 26.0
	tallArmDeg       = 150.0
)

// DropSquats returns a movement of squats that are dropped into from tall on the toes.
func DropSquats(kind Kind, stand Stand, reps []Squat, leadS float64) *Motion {
	for i := range reps {
		reps[i].HeelPitchDeg = 0
		reps[i].RestS += ontoToesS + tallS
	}
	m := Squats(kind, stand, reps, leadS+ontoToesS+tallS)
	arms, shank := &m.curves[ArmElevation], Curve{}
	*arms = Curve{}
	for i, r := range m.Reps {
		aim, tall := &reps[i], r.StartS-tallS
		for _, k := range []Knot{{tall - ontoToesS, 0}, {tall, tallPitchDeg}, {r.StartS, tallPitchDeg},
			{r.StartS + 0.6*aim.DownS, 0}} {
			m.curves[FootPitch].to(k.TimeS, k.Value)
		}
		for _, k := range []struct{ timeS, armDeg, shankDeg float64 }{
			{tall - ontoToesS, stand.ArmDeg, stand.DorsiDeg}, {tall, tallArmDeg, stand.DorsiDeg + ontoToesDeg},
			{r.StartS, tallArmDeg, stand.DorsiDeg + ontoToesDeg}, {r.BottomS, aim.ArmDeg, aim.DorsiDeg},
			{r.UpStartS, aim.ArmDeg, aim.DorsiDeg}, {r.EndS, stand.ArmDeg, stand.DorsiDeg},
		} {
			arms.to(k.timeS, k.armDeg)
			shank.to(k.timeS, k.shankDeg)
		}
	}
	// The shin goes forward without a stop as the heel comes down.
	ankle := &m.curves[Dorsiflexion]
	*ankle = Curve{straight: true}
	for t := 0.0; t <= m.DurationS; t += freeStepS {
		ankle.to(t, shank.At(t)-m.curves[FootPitch].At(t))
	}
	return m
}

// betweenS is how long the athlete stands between two jumps out of a crouch.
const betweenS = 0.6

// JumpUps gives the performer jumps out of a deep crouch that is gone down to and held; each lands in a shallow squat
// and ends in standing.
func (p *Performer) JumpUps(kind Kind, stand Stand, crouch Squat, leaps []Leap, leadS float64) {
	m := &Motion{Kind: kind}
	p.Motion = m
	at := 0.0
	until := func(endS float64, of func(sinceS float64) Channels) {
		for from := at; at < endS-sampleS/2; at += sampleS {
			c := of(at - from)
			for i := range c {
				m.curves[i].straight = true
				m.curves[i].to(at, c[i])
			}
		}
	}
	squat := func(s float64, r *Squat) Channels {
		return Channels{
			KneeFlexion: space.Mix(stand.KneeDeg, r.KneeDeg, s), Dorsiflexion: space.Mix(stand.DorsiDeg, r.DorsiDeg, s),
			ArmElevation: space.Mix(stand.ArmDeg, r.ArmDeg, s), ElbowFlexion: space.Mix(stand.ElbowDeg, r.ElbowDeg, s),
		}
	}
	m.enter(0, "stand")
	until(leadS, func(float64) Channels { return squat(0, &crouch) })
	for i := range leaps {
		leap := &leaps[i]
		m.enter(at, "down")
		until(at+descendS, func(t float64) Channels { return squat(MinimumJerk(t/descendS), &crouch) })
		m.enter(at, "hold")
		bottom := squat(1, &crouch)
		until(at+crouch.HoldS, func(float64) Channels { return bottom })
		jump := p.leap(at, bottom, squat(1, &leap.Land), leap)
		rep, pushed, landing := jump.rep, jump.pushed, jump.landing
		m.enter(at, "push")
		until(rep.TakeoffS, pushed)
		m.enter(at, "flight")
		air := p.air(pushed, jump.pushS, landing, leap.FlightS)
		until(rep.TouchdownS, func(t float64) Channels { return air(t) })
		m.enter(at, "land")
		until(rep.LandBottomS, landing)
		m.enter(at, "hold")
		until(at+leap.HoldS, func(float64) Channels { return squat(1, &leap.Land) })
		m.enter(at, "up")
		until(at+riseS, func(t float64) Channels { return squat(1-MinimumJerk(t/riseS), &leap.Land) })
		m.enter(at, "stand")
		until(at+betweenS, func(float64) Channels { return squat(0, &crouch) })
	}
	until(at+leadS, func(float64) Channels { return squat(0, &crouch) })
	m.DurationS = at
}
