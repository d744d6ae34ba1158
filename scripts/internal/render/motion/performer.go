package motion

import (
	"math"

	"holdfast/scripts/internal/render/space"
)

// Manner is how an athlete moves, whatever the movement.
type Manner struct {
	// PelvisShare, LumbarShare and ThoracicShare say how a lean of the trunk is spread; they make 1 together.
	PelvisShare, LumbarShare, ThoracicShare float64
	// AheadM is how far in front of the ankles the centre of mass is carried with flat feet.
	AheadM float64
	// FootForwardM is how far each foot stands forward of the other's line, PitchScale how much of a heel's rise
	// each foot takes.
	FootForwardM, PitchScale [2]float64
	// YawDeg and ListDeg are how far the pelvis turns and drops sideways at a knee bent by 100 degrees.
	YawDeg, ListDeg float64
	// ShiftM is how far the pelvis goes to the athlete's left then.
	ShiftM float64
	// KneeOutDeg turns the thighs outward at a knee bent by 100 degrees.
	KneeOutDeg, ArmAbductionDeg [2]float64
	// TremorDeg and SwayM are about the standard deviations of the joints' trembling and of the mass' sway.
	TremorDeg, SwayM float64
	Tremor, Sway     [3]Wave
}

// Wave is a sine of unit size.
type Wave struct{ RateHz, PhaseRad float64 }

func sum(waves []Wave, timeS float64) float64 {
	var v float64
	for _, w := range waves {
		v += math.Sin(2*math.Pi*w.RateHz*timeS + w.PhaseRad)
	}
	return v
}

// Performer is an athlete's body that performs a movement.
type Performer struct {
	Skeleton *Skeleton
	Manner   Manner
	Motion   *Motion
}

// Instant is what a body does at a time.
type Instant struct {
	TimeS  float64
	Pose   Pose
	Figure *Figure
	Mass   space.Vec
	// ClearanceM is how far the feet are off the floor.
	ClearanceM float64
	Phase      string
}

// Channels are the values of a movement's curves at an instant.
type Channels [channelCount]float64

// At returns what the body does at a time.
func (p *Performer) At(timeS float64) Instant {
	var c Channels
	for i := range c {
		c[i] = p.Motion.curves[i].At(timeS)
	}
	loose := 1 - c[quiet]
	c[KneeFlexion] += loose * p.Manner.TremorDeg * sum(p.Manner.Tremor[:], timeS)
	c[Dorsiflexion] += loose * p.Manner.TremorDeg * 0.5 * sum(p.Manner.Tremor[:], 1.07*timeS+11)
	c[ahead] += loose * p.Manner.SwayM * sum(p.Manner.Sway[:], timeS)

	now := Instant{TimeS: timeS, Phase: p.Motion.phaseAt(timeS)}
	var shift space.Vec
	fly := p.Motion.flightAt(timeS)
	switch {
	case p.Motion.free.at(timeS):
		now.Pose, now.Figure = p.Motion.free.pose(p, timeS)
		if p.Motion.BoxM > 0 {
			for _, side := range BothSides {
				ball := now.Figure.Sides[side].Ball.Y - p.Skeleton.Sides[side].Ball.Y
				now.ClearanceM = math.Max(now.ClearanceM, ball)
			}
		}
	case p.Motion.hangs > 0:
		now.Pose, now.Figure, now.ClearanceM = p.hanging(&c)
	case p.Motion.steps != nil:
		now.Pose, now.Figure = p.stand(&c, c[lean], space.Vec{})
	case fly != nil:
		_, grounded := p.stand(&c, c[lean], space.Vec{})
		at := centreOfMass(grounded)
		up, forward := fly.at(timeS)
		shift = space.Vec{X: 0, Y: up - at.Y, Z: forward - at.Z}
		now.ClearanceM = shift.Y
		now.Pose, now.Figure = p.stand(&c, c[lean], shift)
	default:
		now.Pose, now.Figure, _ = p.Balanced(&c)
	}
	now.Mass = centreOfMass(now.Figure)
	return now
}

const (
	leastLeanDeg, mostLeanDeg = -14.0, 80.0
	// heelUpDeg is the pitch from which the mass is carried over the balls of the feet.
	heelUpDeg = 25.0
	// behindBallM is how far behind the balls of the feet it is then.
	behindBallM = 0.015
)

// Balanced returns the pose whose trunk leans as far as balance asks for, and that lean.
func (p *Performer) Balanced(c *Channels) (Pose, *Figure, float64) {
	rest := p.reference()
	flat := p.Manner.AheadM
	overBall := rest.Ball.Z - rest.Ankle.Z - behindBallM
	want := rest.Ankle.Z + (p.Manner.FootForwardM[Left]+p.Manner.FootForwardM[Right])/2 +
		space.Mix(flat, overBall, MinimumJerk(c[FootPitch]/heelUpDeg)) + c[ahead]
	low, high := leastLeanDeg, mostLeanDeg
	for range 28 {
		mid := (low + high) / 2
		if _, f := p.stand(c, mid, space.Vec{}); centreOfMass(f).Z > want {
			high = mid
		} else {
			low = mid
		}
	}
	leanDeg := (low + high) / 2
	pose, f := p.stand(c, leanDeg, space.Vec{})
	return pose, f, leanDeg
}

// reference returns the leg between the left and the right one.
func (p *Performer) reference() Limbs {
	l, r := &p.Skeleton.Sides[Left], &p.Skeleton.Sides[Right]
	return Limbs{
		Hip: l.Hip.Toward(r.Hip, 0.5), Knee: l.Knee.Toward(r.Knee, 0.5),
		Ankle: l.Ankle.Toward(r.Ankle, 0.5), Ball: l.Ball.Toward(r.Ball, 0.5),
	}
}

// stand returns the pose of a body whose feet are planted at their places, moved by shift, and which leans by leanDeg.
func (p *Performer) stand(c *Channels, leanDeg float64, shift space.Vec) (Pose, *Figure) {
	m, s := &p.Manner, p.Skeleton
	rest := p.reference()
	ankle := rest.Ball.Add(space.AboutX(c[FootPitch]).Of(rest.Ankle.Sub(rest.Ball)))
	shankTilt := c[Dorsiflexion] + c[FootPitch]
	knee := ankle.Add(space.AboutX(shankTilt).Of(space.Vec{X: 0, Y: Sagittal(rest.Ankle, rest.Knee), Z: 0}))
	hip := knee.Add(space.AboutX(shankTilt - c[KneeFlexion]).Of(space.Vec{X: 0, Y: Sagittal(rest.Knee, rest.Hip), Z: 0}))
	hip.Z += (m.FootForwardM[Left] + m.FootForwardM[Right]) / 2
	depth := c[KneeFlexion] / 100
	hip.X += m.ShiftM * depth

	pose := Pose{
		Pelvis:        hip.Add(shift),
		PelvisTiltDeg: leanDeg * m.PelvisShare, LumbarDeg: leanDeg * m.LumbarShare, ThoracicDeg: leanDeg * m.ThoracicShare,
		NeckDeg:      -space.Clamp(0.75*leanDeg, -10, 38), // eyes stay on the horizon as far as they can
		PelvisYawDeg: m.YawDeg * depth, PelvisListDeg: m.ListDeg * depth,
	}
	for _, side := range BothSides {
		pose.Arms[side] = Arm{c[ArmElevation], m.ArmAbductionDeg[side], c[ElbowFlexion]}
		pose.Legs[side] = Leg{
			HipRotationDeg: m.KneeOutDeg[side] * depth, FootPitchDeg: c[FootPitch] * m.PitchScale[side],
			ToesFollow: c[toesFollow],
		}
	}
	if p.stepping() != nil {
		pose.Legs[*p.stepping()].FootPitchDeg = c[stepPitch]
	}
	for range 3 { // a leg that is too short pulls the pelvis down, which changes the other one
		short := 0.0
		for _, side := range BothSides {
			ball := s.Sides[side].Ball.Add(shift)
			ball.Z += m.FootForwardM[side]
			if of := p.stepping(); of != nil && side == *of {
				ball = ball.Add(space.Vec{X: 0, Y: c[stepUp], Z: -c[stepBack]})
			}
			lacks, _ := s.Plant(&pose, side, ball)
			short = math.Max(short, lacks)
		}
		if short == 0 {
			break
		}
		pose.Pelvis.Y -= short + 1e-6
	}
	return pose, s.Place(&pose)
}

// stepping returns the side whose foot steps; nil: both stay.
func (p *Performer) stepping() *Side {
	if p.Motion == nil {
		return nil
	}
	return p.Motion.steps
}

// Sagittal is how far two points are apart as seen from the side.
func Sagittal(a, b space.Vec) float64 { return math.Hypot(a.Y-b.Y, a.Z-b.Z) }

// centreOfMass returns where the centre of mass is: parts of the whole and of each segment's length.
// Source: Dempster's values in Winter, Biomechanics and Motor Control of Human Movement, table 4.1.
func centreOfMass(f *Figure) space.Vec {
	var sum space.Vec
	var whole float64
	put := func(a, b space.Vec, part, mass float64) {
		sum = sum.Add(a.Toward(b, part).Scale(mass))
		whole += mass
	}
	shoulders := f.Sides[Left].Shoulder.Toward(f.Sides[Right].Shoulder, 0.5)
	put(f.Pelvis, f.Lumbar, 0.5, 14.2)
	put(f.Lumbar, f.Thorax, 0.5, 13.9)
	put(f.Thorax, shoulders, 0.5, 21.6)
	put(f.Head, f.Head, 0, 8.1)
	for _, side := range BothSides {
		l := &f.Sides[side]
		put(l.Heel, l.Toe, 0.5, 1.45)
		put(l.Knee, l.Ankle, 0.433, 4.65)
		put(l.Hip, l.Knee, 0.433, 10)
		put(l.Shoulder, l.Elbow, 0.436, 2.8)
		put(l.Elbow, l.Wrist, 0.6, 2.2)
	}
	return sum.Scale(1 / whole)
}
