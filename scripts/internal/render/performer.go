package render

import "math"

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
	// KneeOutDeg turns the thighs outward at a knee bent by 100 degrees.
	KneeOutDeg, ArmAbductionDeg [2]float64
	// TremorDeg and SwayM are about the standard deviations of the joints' trembling and of the mass' sway.
	TremorDeg, SwayM float64
	tremor, sway     [3]wave
}

// wave is a sine of unit size.
type wave struct{ hz, phase float64 }

func sum(waves []wave, timeS float64) float64 {
	var v float64
	for _, w := range waves {
		v += math.Sin(2*math.Pi*w.hz*timeS + w.phase)
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
	Mass   Vec
	// ClearanceM is how far the feet are off the floor.
	ClearanceM float64
	Phase      string
}

// channels are the values of a movement's curves at an instant.
type channels [channelCount]float64

// At returns what the body does at a time.
func (p *Performer) At(timeS float64) Instant {
	var c channels
	for i := range c {
		c[i] = p.Motion.curves[i].At(timeS)
	}
	loose := 1 - c[quiet]
	c[kneeFlexion] += loose * p.Manner.TremorDeg * sum(p.Manner.tremor[:], timeS)
	c[dorsiflexion] += loose * p.Manner.TremorDeg * 0.5 * sum(p.Manner.tremor[:], 1.07*timeS+11)
	c[ahead] += loose * p.Manner.SwayM * sum(p.Manner.sway[:], timeS)

	now := Instant{TimeS: timeS, Phase: p.Motion.phaseAt(timeS)}
	var shift Vec
	if fly := p.Motion.flightAt(timeS); fly != nil {
		_, grounded := p.stand(&c, c[lean], Vec{})
		at := massCentre(grounded)
		up, forward := fly.at(timeS)
		shift = Vec{0, up - at.Y, forward - at.Z}
		now.ClearanceM = shift.Y
		now.Pose, now.Figure = p.stand(&c, c[lean], shift)
	} else {
		now.Pose, now.Figure, _ = p.balanced(&c)
	}
	now.Mass = massCentre(now.Figure)
	return now
}

const (
	leastLeanDeg, mostLeanDeg = -14.0, 80.0
	// heelUpDeg is the pitch from which the mass is carried over the balls of the feet.
	heelUpDeg = 25.0
	// behindBallM is how far behind the balls of the feet it is then.
	behindBallM = 0.015
)

// balanced returns the pose whose trunk leans as far as balance asks for, and that lean.
func (p *Performer) balanced(c *channels) (Pose, *Figure, float64) {
	rest := p.reference()
	flat := p.Manner.AheadM
	overBall := rest.Ball.Z - rest.Ankle.Z - behindBallM
	want := rest.Ankle.Z + (p.Manner.FootForwardM[Left]+p.Manner.FootForwardM[Right])/2 +
		mix(flat, overBall, MinimumJerk(c[footPitch]/heelUpDeg)) + c[ahead]
	low, high := leastLeanDeg, mostLeanDeg
	for range 28 {
		mid := (low + high) / 2
		if _, f := p.stand(c, mid, Vec{}); massCentre(f).Z > want {
			high = mid
		} else {
			low = mid
		}
	}
	leanDeg := (low + high) / 2
	pose, f := p.stand(c, leanDeg, Vec{})
	return pose, f, leanDeg
}

// reference returns the leg between the left and the right one.
func (p *Performer) reference() Limbs {
	l, r := &p.Skeleton.Sides[Left], &p.Skeleton.Sides[Right]
	return Limbs{
		Hip: l.Hip.toward(r.Hip, 0.5), Knee: l.Knee.toward(r.Knee, 0.5),
		Ankle: l.Ankle.toward(r.Ankle, 0.5), Ball: l.Ball.toward(r.Ball, 0.5),
	}
}

// stand returns the pose of a body whose feet are planted at their places, moved by shift, and which leans by leanDeg.
func (p *Performer) stand(c *channels, leanDeg float64, shift Vec) (Pose, *Figure) {
	m, s := &p.Manner, p.Skeleton
	rest := p.reference()
	ankle := rest.Ball.add(aboutX(c[footPitch]).of(rest.Ankle.sub(rest.Ball)))
	shankTilt := c[dorsiflexion] + c[footPitch]
	knee := ankle.add(aboutX(shankTilt).of(Vec{0, sagittal(rest.Ankle, rest.Knee), 0}))
	hip := knee.add(aboutX(shankTilt - c[kneeFlexion]).of(Vec{0, sagittal(rest.Knee, rest.Hip), 0}))
	hip.Z += (m.FootForwardM[Left] + m.FootForwardM[Right]) / 2
	depth := c[kneeFlexion] / 100

	pose := Pose{
		Pelvis:        hip.add(shift),
		PelvisTiltDeg: leanDeg * m.PelvisShare, LumbarDeg: leanDeg * m.LumbarShare, ThoracicDeg: leanDeg * m.ThoracicShare,
		NeckDeg:      -clamp(0.75*leanDeg, -10, 38), // eyes stay on the horizon as far as they can
		PelvisYawDeg: m.YawDeg * depth, PelvisListDeg: m.ListDeg * depth,
	}
	for _, side := range bothSides {
		pose.Arms[side] = Arm{c[armElevation], m.ArmAbductionDeg[side], c[elbowFlexion]}
		pose.Legs[side] = Leg{
			HipRotationDeg: m.KneeOutDeg[side] * depth, FootPitchDeg: c[footPitch] * m.PitchScale[side],
			ToesFollow: c[toesFollow],
		}
	}
	for range 3 { // a leg that is too short pulls the pelvis down, which changes the other one
		short := 0.0
		for _, side := range bothSides {
			ball := s.Sides[side].Ball.add(shift)
			ball.Z += m.FootForwardM[side]
			lacks, _ := s.plant(&pose, side, ball)
			short = math.Max(short, lacks)
		}
		if short == 0 {
			break
		}
		pose.Pelvis.Y -= short + 1e-6
	}
	return pose, s.place(&pose)
}

// sagittal is how far two points are apart as seen from the side.
func sagittal(a, b Vec) float64 { return math.Hypot(a.Y-b.Y, a.Z-b.Z) }

// massCentre returns where the centre of mass is: parts of the whole and of each segment's length.
// Source: Dempster's values in Winter, Biomechanics and Motor Control of Human Movement, table 4.1.
func massCentre(f *Figure) Vec {
	var sum Vec
	var whole float64
	put := func(a, b Vec, part, mass float64) {
		sum = sum.add(a.toward(b, part).scale(mass))
		whole += mass
	}
	shoulders := f.Sides[Left].Shoulder.toward(f.Sides[Right].Shoulder, 0.5)
	put(f.Pelvis, f.Lumbar, 0.5, 14.2)
	put(f.Lumbar, f.Thorax, 0.5, 13.9)
	put(f.Thorax, shoulders, 0.5, 21.6)
	put(f.Head, f.Head, 0, 8.1)
	for _, side := range bothSides {
		l := &f.Sides[side]
		put(l.Heel, l.Toe, 0.5, 1.45)
		put(l.Knee, l.Ankle, 0.433, 4.65)
		put(l.Hip, l.Knee, 0.433, 10)
		put(l.Shoulder, l.Elbow, 0.436, 2.8)
		put(l.Elbow, l.Wrist, 0.6, 2.2)
	}
	return sum.scale(1 / whole)
}
