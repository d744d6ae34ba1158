package motion

import (
	"math"

	"holdfast/scripts/internal/render/space"
)

// Drop is one drop from a box: a step off it, a landing on both feet that is held, and the way up.
type Drop struct {
	BoxM float64
	// Land is the squat that the landing ends in, HoldS how long it is held.
	Land  Squat
	HoldS float64
	// TouchdownPitchDeg is how far the heels are up as the feet meet the floor.
	TouchdownPitchDeg float64
}

const (
	// How long the step off the box takes, how fast the mass goes forward and down as the last foot leaves it.
	stepOffS, leavesForwardMS, leavesDownMS = 0.7, 0.9, 0.15
	// onBoxM is how far behind the place of the landing the feet stand on the box.
	onBoxM = 0.44
	// How far the heel of the foot that leaves last is up then, and how low the mass is against standing.
	lastPitchDeg, tippedM = 30.0, 0.05
	freeStepS             = 5e-3
	// belowMassM is how far below the mass the pelvis is, and more.
	belowMassM = 0.2
)

// Drops gives the performer a drop from a box: stepping goes off first. The mass falls freely from the moment the other
// foot leaves the box, and the landing is the end of a jump.
func (p *Performer) Drops(kind Kind, stand Stand, d Drop, stepping Side, leadS float64) {
	a := p.act(kind, stand)
	m := p.Motion
	m.BoxM = d.BoxM
	p.box(d.BoxM, onBoxM)
	bottom := Channels{KneeFlexion: d.Land.KneeDeg, Dorsiflexion: d.Land.DorsiDeg, ArmElevation: d.Land.ArmDeg,
		ElbowFlexion: d.Land.ElbowDeg}
	standing := Channels{KneeFlexion: stand.KneeDeg, Dorsiflexion: stand.DorsiDeg, ArmElevation: stand.ArmDeg,
		ElbowFlexion: stand.ElbowDeg}
	land := p.leg(bottom, touchdownKneeDeg, touchdownShankDeg, d.TouchdownPitchDeg, touchdownAheadM)
	touch := land.at(land.last())
	_, met, touchLean := p.Balanced(&touch)
	_, stood, standLean := p.Balanced(&standing)
	from, to := centreOfMass(stood), centreOfMass(met)
	from = from.Add(space.Vec{X: 0, Y: d.BoxM, Z: -onBoxM})

	// Down from where the last foot leaves the box: leavesDownMS t + g t^2/2 is the way.
	dropM := from.Y - tippedM - to.Y
	flightS := (math.Sqrt(leavesDownMS*leavesDownMS+2*space.GravityMS2*dropM) - leavesDownMS) / space.GravityMS2
	leaves := space.Vec{X: 0, Y: from.Y - tippedM, Z: to.Z - leavesForwardMS*flightS}
	fly := flight{takeoffS: leadS + stepOffS, touchdownS: leadS + stepOffS + flightS, up: leaves.Y, speed: -leavesDownMS,
		fromForward: leaves.Z, forward: to.Z}
	sinkTo := quintic(tippedM, leavesDownMS, 0, stepOffS)
	goTo := quintic(leaves.Z-from.Z, leavesForwardMS, 0, stepOffS)

	a.free.untilS = fly.touchdownS
	w := a.free.sampled()
	var apart [2]space.Vec // where the feet are from the mass as the last one leaves the box
	for t := 0.0; t < fly.touchdownS+freeStepS; t += freeStepS {
		since := math.Max(0, t-leadS)
		s := MinimumJerk(since / stepOffS)
		mass := space.Vec{X: 0, Y: from.Y - sinkTo(math.Min(since, stepOffS)), Z: from.Z + goTo(math.Min(since, stepOffS))}
		flown := space.Clamp((t-fly.takeoffS)/flightS, 0, 1)
		if flown > 0 {
			up, forward := fly.at(math.Min(t, fly.touchdownS))
			mass = space.Vec{X: 0, Y: up, Z: forward}
		}
		var feet [2]space.Vec
		var pitch [2]float64
		for _, side := range BothSides {
			at := space.Vec{X: 0, Y: d.BoxM, Z: -onBoxM}
			if side == stepping { // over the edge and down beside it
				at = at.Add(space.Vec{X: 0, Y: 0.05*math.Sin(math.Pi*s) - 0.03*s, Z: 0.31 * s})
				pitch[side] = d.TouchdownPitchDeg * s
			} else {
				pitch[side] = lastPitchDeg * math.Pow(since/stepOffS, 3)
			}
			if flown == 0 {
				apart[side] = at.Sub(mass)
			} else {
				at = mass.Add(apart[side].Toward(to.Scale(-1), MinimumJerk(flown)))
				if side != stepping {
					at.Y += 0.06 * math.Sin(math.Pi*flown)
				}
				pitch[side] = space.Mix(pitchAtLeaving(side, stepping, d.TouchdownPitchDeg), d.TouchdownPitchDeg, flown)
			}
			feet[side] = at
		}
		k := MinimumJerk((t - leadS) / (stepOffS + flightS))
		w.put(p, t, mass, feet, pitch, space.Mix(standLean, touchLean, k), space.Mix(stand.ArmDeg, d.Land.ArmDeg, k),
			space.Mix(stand.ElbowDeg, d.Land.ElbowDeg, k))
	}
	p.landed(&land, &bottom, &standing, fly, d, leadS)
}

func pitchAtLeaving(side, stepping Side, steppedDeg float64) float64 {
	if side == stepping {
		return steppedDeg
	}
	return lastPitchDeg
}

// landed adds what follows on the flight of a drop: the landing, its hold, the way up, and standing.
func (p *Performer) landed(land *way, bottom, standing *Channels, fly flight, d Drop, leadS float64) {
	m := p.Motion
	at := fly.touchdownS
	record := func(c Channels) {
		for i := range c {
			m.curves[i].straight = true
			m.curves[i].to(at, c[i])
		}
		at += sampleS
	}
	until := func(endS float64, of func(sinceS float64) Channels) {
		for from := at; at < endS-sampleS/2; {
			record(of(at - from))
		}
	}
	down := leavesDownMS + space.GravityMS2*(fly.touchdownS-fly.takeoffS)
	landS := 2.1 * (land.last() - land.heights[0]) / down
	sink := quintic(land.last()-land.heights[0], down, -space.GravityMS2, landS)
	rep := Rep{StartS: leadS, PushStartS: leadS, TakeoffS: fly.takeoffS, TouchdownS: fly.touchdownS,
		FlightS: fly.touchdownS - fly.takeoffS, TakeoffSpeedMS: fly.speed, LandBottomS: fly.touchdownS + landS,
		BottomS: fly.touchdownS + landS, UpStartS: fly.touchdownS + landS + d.HoldS,
		EndS: fly.touchdownS + landS + d.HoldS + riseS}
	until(rep.LandBottomS, func(t float64) Channels { return land.at(land.heights[0] + sink(landS-t)) })
	holdUntil := at + d.HoldS
	until(holdUntil, func(float64) Channels { return *bottom })
	until(holdUntil+riseS, func(t float64) Channels {
		var c Channels
		for i := range c {
			c[i] = space.Mix(bottom[i], standing[i], MinimumJerk(t/riseS))
		}
		return c
	})
	m.phases = nil
	m.enter(0, "stand")
	m.enter(leadS, "push")
	m.enter(rep.TakeoffS, "flight")
	m.enter(rep.TouchdownS, "land")
	m.enter(rep.LandBottomS, "hold")
	m.enter(holdUntil, "up")
	m.enter(holdUntil+riseS, "stand")
	m.Reps = []Rep{rep}
	m.DurationS = holdUntil + riseS + leadS
}

// sampled makes all that a free movement does go in straight lines from sample to sample.
func (f *free) sampled() *free {
	for _, c := range []*Curve{&f.pelvisUp, &f.pelvisForward, &f.lean} {
		*c = Curve{straight: true}
	}
	for i := range f.feet {
		foot, arm := &f.feet[i], &f.arms[i]
		for _, c := range []*Curve{&foot.forward, &foot.up, &foot.pitch, &arm.elevation, &arm.elbow} {
			*c = Curve{straight: true}
		}
	}
	return f
}

// put writes down a pose whose centre of mass is at mass and whose feet are at feet, from their places in standing.
func (f *free) put(p *Performer, timeS float64, mass space.Vec, feet [2]space.Vec, pitch [2]float64,
	leanDeg, armDeg, elbowDeg float64) {
	f.lean.to(timeS, leanDeg)
	for i := range feet {
		f.feet[i].forward.to(timeS, feet[i].Z)
		f.feet[i].up.to(timeS, feet[i].Y)
		f.feet[i].pitch.to(timeS, pitch[i])
		f.arms[i].elevation.to(timeS, armDeg)
		f.arms[i].elbow.to(timeS, elbowDeg)
	}
	f.pelvisUp.to(timeS, mass.Y-belowMassM) // from legs that are bent: straight ones tell nothing of how high it is
	f.pelvisForward.to(timeS, mass.Z)
	up, forward := &f.pelvisUp.Knots[len(f.pelvisUp.Knots)-1], &f.pelvisForward.Knots[len(f.pelvisForward.Knots)-1]
	for range 12 {
		_, figure := f.pose(p, timeS)
		off := mass.Sub(centreOfMass(figure))
		up.Value += off.Y
		forward.Value += off.Z
	}
}
