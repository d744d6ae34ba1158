package motion

import (
	"math"

	"holdfast/scripts/internal/render/space"
)

// Leap is one jump out of a held squat back into one.
type Leap struct {
	// Land is the squat that the landing ends in, HoldS how long it is held.
	Land  Squat
	HoldS float64
	// FlightS is how long the feet are off the floor.
	FlightS float64
	// TakeoffPitchDeg and TouchdownPitchDeg are how far the heels are up as the feet leave and meet the floor.
	TakeoffPitchDeg, TouchdownPitchDeg float64
}

const (
	sampleS = 1e-3
	// The squat before the first jump and the way up after the last one.
	descendS, riseS = 1.2, 1.2
	// Legs at take-off and at touchdown.
	takeoffKneeDeg, takeoffShankDeg     = 16.0, 9.0
	touchdownKneeDeg, touchdownShankDeg = 24.0, 12.0
	// How far ahead of the balls of the feet the mass is at take-off, and at touchdown.
	takeoffAheadM, touchdownAheadM = 0.06, 0.02
	// How long joints keep on turning in the air, the ankle apart.
	followS, ankleFollowS = 0.028, 0.011
)

// Jumps gives the performer a movement of jumps: down into first, then leap after leap.
//
// Between bottom and take-off the height of the centre of mass is a quintic of time that ends with the speed that
// the flight asks for and is accelerated by -g; the pose at that height follows from a path from bottom to take-off.
// Landing is the same backwards.
func (p *Performer) Jumps(stand Stand, first Squat, leaps []Leap, leadS float64) {
	m := &Motion{Kind: Jump}
	p.Motion = m
	m.enter(0, "stand")
	m.curves[quiet] = Curve{Knots: []Knot{{leadS, 0}, {leadS + descendS, 1}}}
	at := 0.0
	record := func(c Channels) {
		for i := range c {
			if channel(i) != quiet {
				m.curves[i].straight = true
				m.curves[i].to(at, c[i])
			}
		}
		at += sampleS
	}
	// until records what of returns, given the time since now, until a time.
	until := func(endS float64, of func(sinceS float64) Channels) {
		for from := at; at < endS-sampleS/2; {
			record(of(at - from))
		}
	}
	squat := func(s float64, r *Squat) Channels {
		return Channels{
			KneeFlexion: space.Mix(stand.KneeDeg, r.KneeDeg, s), Dorsiflexion: space.Mix(stand.DorsiDeg, r.DorsiDeg, s),
			ArmElevation: space.Mix(stand.ArmDeg, r.ArmDeg, s), ElbowFlexion: space.Mix(stand.ElbowDeg, r.ElbowDeg, s),
		}
	}
	until(leadS, func(float64) Channels { return squat(0, &first) })
	m.enter(at, "down")
	until(leadS+descendS, func(t float64) Channels { return squat(MinimumJerk(t/descendS), &first) })
	bottom, holdS := squat(1, &first), first.HoldS
	for i := range leaps {
		leap := &leaps[i]
		m.enter(at, "hold")
		until(at+holdS, func(float64) Channels { return bottom })
		next := squat(1, &leap.Land)
		jump := p.leap(at, bottom, next, leap)
		rep, pushed, landing := jump.rep, jump.pushed, jump.landing

		m.enter(rep.PushStartS, "push")
		start := at
		until(rep.TakeoffS, pushed)
		m.enter(rep.TakeoffS, "flight")
		air := p.air(pushed, jump.pushS, landing, leap.FlightS)
		until(rep.TouchdownS, func(float64) Channels { return air(at - start - jump.pushS) })
		m.enter(rep.TouchdownS, "land")
		until(rep.LandBottomS, func(float64) Channels { return landing(at - rep.TouchdownS) })
		bottom, holdS = next, leap.HoldS
	}
	m.enter(at, "hold")
	until(at+holdS, func(float64) Channels { return bottom })
	m.enter(at, "up")
	last := &leaps[len(leaps)-1].Land
	until(at+riseS, func(t float64) Channels { return squat(1-MinimumJerk(t/riseS), last) })
	m.enter(at, "stand")
	until(at+leadS, func(float64) Channels { return squat(0, last) })
	m.DurationS = at
}

// over is how a leap goes: the poses from the start of the push, and from first contact until the landing is held.
type over struct {
	rep             Rep
	pushS           float64
	pushed, landing func(sinceS float64) Channels
}

// leap makes the leap that is pushed off from a held squat at a time and lands in another, and notes rep and flight.
func (p *Performer) leap(atS float64, bottom, next Channels, leap *Leap) over {
	push := p.leg(bottom, takeoffKneeDeg, takeoffShankDeg, leap.TakeoffPitchDeg, takeoffAheadM)
	land := p.leg(next, touchdownKneeDeg, touchdownShankDeg, leap.TouchdownPitchDeg, touchdownAheadM)
	fly := flight{up: push.last()}
	fly.speed = (land.last()-push.last())/leap.FlightS + space.GravityMS2*leap.FlightS/2
	down := space.GravityMS2*leap.FlightS - fly.speed
	pushS := 1.9 * (push.last() - push.heights[0]) / fly.speed
	landS := 2.1 * (land.last() - land.heights[0]) / down
	rise := quintic(push.last()-push.heights[0], fly.speed, -space.GravityMS2, pushS)
	sink := quintic(land.last()-land.heights[0], down, -space.GravityMS2, landS)
	o := over{
		rep:     Rep{PushStartS: atS, TakeoffS: atS + pushS, TakeoffSpeedMS: fly.speed, FlightS: leap.FlightS},
		pushS:   pushS,
		pushed:  func(t float64) Channels { return push.at(push.heights[0] + rise(t)) },
		landing: func(t float64) Channels { return land.at(land.heights[0] + sink(landS-t)) },
	}
	o.rep.TouchdownS = o.rep.TakeoffS + leap.FlightS
	o.rep.LandBottomS = o.rep.TouchdownS + landS
	fly.takeoffS, fly.touchdownS = o.rep.TakeoffS, o.rep.TouchdownS
	fly.fromForward, fly.forward = p.forward(o.pushed(pushS)), p.forward(o.landing(0))
	p.Motion.flights, p.Motion.Reps = append(p.Motion.flights, fly), append(p.Motion.Reps, o.rep)
	return o
}

// way is a path from a held squat to the pose in which the feet leave or meet the floor, with the heights of the
// centre of mass on it.
type way struct {
	poses   []Channels
	heights []float64
}

func (w *way) last() float64 { return w.heights[len(w.heights)-1] }

// at returns the pose with the centre of mass at a height.
func (w *way) at(height float64) Channels {
	n := len(w.heights) - 1
	low, high := 0, n
	for high-low > 1 {
		if mid := (low + high) / 2; w.heights[mid] > height {
			high = mid
		} else {
			low = mid
		}
	}
	s := space.Clamp((height-w.heights[low])/(w.heights[high]-w.heights[low]), 0, 1)
	var c Channels
	for i := range c {
		c[i] = space.Mix(w.poses[low][i], w.poses[high][i], s)
	}
	return c
}

// leg returns the way from a held squat to the given angles of a leg.
func (p *Performer) leg(from Channels, kneeDeg, shankDeg, pitchDeg, aheadM float64) way {
	const steps = 240
	var w way
	for i := range steps + 1 {
		s := float64(i) / steps
		c := from
		late := math.Max(0, 2*s-1)
		c[FootPitch] = pitchDeg * late * late
		c[KneeFlexion] = space.Mix(from[KneeFlexion], kneeDeg, s)
		c[Dorsiflexion] = space.Mix(from[Dorsiflexion], shankDeg, s) - c[FootPitch]
		c[ahead] = aheadM * s * s * s
		_, f, leanDeg := p.Balanced(&c)
		c[lean] = leanDeg
		w.poses = append(w.poses, c)
		w.heights = append(w.heights, centreOfMass(f).Y)
	}
	return w
}

// forward returns how far forward the balanced centre of mass is.
func (p *Performer) forward(c Channels) float64 {
	_, f, _ := p.Balanced(&c)
	return centreOfMass(f).Z
}

// air returns the joints in the air: they go on turning as they did at take-off, come to rest, and meet the floor
// turning as the landing goes on.
func (p *Performer) air(
	pushed func(float64) Channels, pushS float64, landing func(float64) Channels, flightS float64,
) func(float64) Channels {
	left, leaving := pushed(pushS), pushed(pushS-sampleS)
	met, meeting := landing(0), landing(sampleS)
	return func(t float64) Channels {
		c := left
		s := MinimumJerk(t / flightS)
		for _, i := range []channel{KneeFlexion, Dorsiflexion, FootPitch, lean} {
			follow := followS
			if i == FootPitch || i == Dorsiflexion {
				follow = ankleFollowS
			}
			after := left[i] + (left[i]-leaving[i])/sampleS*follow*(1-math.Exp(-t/follow))
			before := met[i] - (meeting[i]-met[i])/sampleS*follow*(1-math.Exp(-(flightS-t)/follow))
			c[i] = space.Mix(after, before, s)
		}
		c[KneeFlexion] = math.Max(2, c[KneeFlexion])
		hang := math.Sin(math.Pi * t / flightS)
		c[toesFollow] = 0.6 * hang * hang
		return c
	}
}

// quintic returns a path that starts at rest at 0 and is at distance, with speed and acceleration, after durationS.
func quintic(distance, speed, acceleration, durationS float64) func(timeS float64) float64 {
	a := distance / (durationS * durationS * durationS)
	b := speed / (durationS * durationS)
	c := acceleration / durationS
	fifth := (c - 6*b + 12*a) / 2
	fourth := b - 3*a - 2*fifth
	third := a - fourth - fifth
	return func(t float64) float64 {
		return t * t * t * (third + t/durationS*(fourth+t/durationS*fifth))
	}
}
