package motion

import (
	"math"

	"holdfast/scripts/internal/render/space"
)

// Bounce is one hop: how long the feet are off the floor, and then on it until the next one.
type Bounce struct{ FlightS, ContactS float64 }

const (
	// How far the heels are up as the feet leave and meet the floor in a hop, and how long the dip before the first one
	// takes; the way up after the last one takes twice as long.
	hopPitchDeg = 34.0
	dipS        = 0.35
)

// Hops gives the performer a movement of hops: the body leaves the floor as it came onto it, like on a spring, with
// knees that bend to those of low.
func (p *Performer) Hops(kind Kind, stand Stand, low Squat, hops []Bounce, leadS float64) {
	m := &Motion{Kind: kind}
	p.Motion = m
	at := 0.0
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
	standing := Channels{KneeFlexion: stand.KneeDeg, Dorsiflexion: stand.DorsiDeg, ArmElevation: stand.ArmDeg,
		ElbowFlexion: stand.ElbowDeg}
	bottom := Channels{KneeFlexion: low.KneeDeg, Dorsiflexion: low.DorsiDeg, ArmElevation: low.ArmDeg,
		ElbowFlexion: low.ElbowDeg}
	between := func(s float64) Channels {
		var c Channels
		for i := range c {
			c[i] = space.Mix(standing[i], bottom[i], MinimumJerk(s))
		}
		return c
	}
	path := p.leg(bottom, takeoffKneeDeg, takeoffShankDeg, hopPitchDeg, 0)
	top, deepest := path.last(), path.heights[0]
	place := func(height float64) Channels { return path.at(height) }
	forward := p.forward(place(top))

	m.enter(0, "stand")
	until(leadS, func(float64) Channels { return between(0) })
	m.enter(at, "down")
	until(at+dipS, func(t float64) Channels { return between(t / dipS) })
	speed := space.GravityMS2 * hops[0].FlightS / 2
	pushS := 1.9 * (top - deepest) / speed
	rise := quintic(top-deepest, speed, -space.GravityMS2, pushS)
	push := at
	m.enter(at, "push")
	pushed := func(t float64) Channels { return place(deepest + rise(t)) }
	until(at+pushS, pushed)
	for i, hop := range hops {
		speed = space.GravityMS2 * hop.FlightS / 2
		rep := Rep{PushStartS: push, TakeoffS: at, TouchdownS: at + hop.FlightS, FlightS: hop.FlightS, TakeoffSpeedMS: speed}
		m.flights = append(m.flights, flight{takeoffS: rep.TakeoffS, touchdownS: rep.TouchdownS, up: top, speed: speed,
			fromForward: forward, forward: forward})
		m.enter(at, "flight")
		onFloorS := 2.1 * (top - deepest) / speed
		sink := quintic(top-deepest, speed, -space.GravityMS2, onFloorS)
		landing := func(t float64) Channels { return place(deepest + sink(onFloorS-t)) }
		rep.LandBottomS = rep.TouchdownS + onFloorS
		if i < len(hops)-1 {
			next := space.GravityMS2 * hops[i+1].FlightS / 2
			bounce := spring((speed+next)/2, hop.ContactS)
			landing = func(t float64) Channels { return place(math.Max(deepest, top+bounce(t))) }
			onFloorS, rep.LandBottomS = hop.ContactS, rep.TouchdownS+hop.ContactS/2
		}
		air, leaves := p.air(pushed, pushS, landing, hop.FlightS), at
		until(rep.TouchdownS, func(float64) Channels { return air(at - leaves) })
		m.enter(at, "land")
		until(at+onFloorS, landing)
		push, pushed, pushS = rep.LandBottomS, landing, onFloorS
		m.Reps = append(m.Reps, rep)
	}
	m.enter(at, "up")
	until(at+2*dipS, func(t float64) Channels { return between(1 - t/(2*dipS)) })
	m.enter(at, "stand")
	until(at+leadS, func(float64) Channels { return between(0) })
	m.DurationS = at
}

// spring returns the way of a mass on a spring that it meets with a speed downward, and leaves after contactS.
func spring(speed, contactS float64) func(timeS float64) float64 {
	slow, quick := math.Pi/contactS, 2*math.Pi/contactS // of the spring's rates, radians a second
	for range 60 {
		rate := (slow + quick) / 2
		if 2/rate*(math.Pi-math.Atan(speed*rate/space.GravityMS2)) > contactS {
			slow = rate
		} else {
			quick = rate
		}
	}
	sag := space.GravityMS2 / (slow * slow)
	return func(t float64) float64 {
		sin, cos := math.Sincos(slow * t)
		return -sag*(1-cos) - speed/slow*sin
	}
}
