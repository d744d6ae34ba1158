package render

import "math"

// Side is a side of the athlete's own body.
type Side int

const (
	// Left is where X is positive.
	Left Side = iota
	// Right is where X is negative.
	Right
)

var bothSides = [2]Side{Left, Right}

func (s Side) String() string { return [2]string{"left", "right"}[s] }

// out is the sign of X on this side.
func (s Side) out() float64 { return [2]float64{1, -1}[s] }

// Leg is the pose of one leg.
type Leg struct {
	// HipFlexionDeg brings the thigh forward, HipAbductionDeg outward, HipRotationDeg turns it about its own length
	// with the knee outward; all against the pelvis, 0 as in the skeleton's rest.
	HipFlexionDeg, HipAbductionDeg, HipRotationDeg float64
	// KneeFlexionDeg is the bend of the knee against the skeleton's rest.
	KneeFlexionDeg float64
	// FootPitchDeg is how far the heel is up against a flat floor; the sole stays level sideways.
	FootPitchDeg float64
	// ToesFollow is 0 when the toes stay level while the heel comes up, 1 when they follow the foot.
	ToesFollow float64
}

// Arm is the pose of one arm, against the world and not the trunk: arms hang down however the trunk leans.
type Arm struct {
	// ElevationDeg is how far the upper arm is forward of hanging, AbductionDeg how far outward.
	ElevationDeg, AbductionDeg, ElbowFlexionDeg float64
}

// Pose is everything that is needed to place a body.
type Pose struct {
	// Pelvis is the middle between the hip joints.
	Pelvis Vec
	// PelvisTiltDeg tips the pelvis forward, PelvisYawDeg turns its left side forward, PelvisListDeg lifts its left side.
	PelvisTiltDeg, PelvisYawDeg, PelvisListDeg float64
	// LumbarDeg, ThoracicDeg and NeckDeg bend each piece of the spine forward against the one below.
	LumbarDeg, ThoracicDeg, NeckDeg float64
	Legs                            [2]Leg
	Arms                            [2]Arm
}

// Limbs are the joints and marks of one side of the body.
type Limbs struct {
	Hip, Knee, Ankle, Shoulder, Elbow, Wrist Vec
	// Ball is what the foot turns about when the heel comes up; Heel and Toe are marks on the shoe.
	Ball, Heel, Toe Vec
}

// Skeleton holds the joints of a body at rest: standing, the soles on the floor.
type Skeleton struct {
	Sides [2]Limbs
	// Lumbar and Thorax are where the trunk bends, NeckLow, NeckHigh and HeadJoint where the neck does; Head is
	// the middle of the head, Crown its top.
	Lumbar, Thorax, NeckLow, NeckHigh, HeadJoint, Head, Crown Vec
}

func (s *Skeleton) pelvis() Vec { return s.Sides[Left].Hip.toward(s.Sides[Right].Hip, 0.5) }

// Figure is a body in a pose.
type Figure struct {
	Sides                  [2]Limbs
	Pelvis, Lumbar, Thorax Vec
	Head, Crown            Vec
	segments               [segmentCount]rigid
}

// segment is a piece of the body that moves as one.
type segment int

const (
	segPelvis segment = iota
	segLumbar
	segThorax
	segNeckLow
	segNeckHigh
	segHead
	segThigh // and those below once for the left and once for the right
	_
	segShank
	_
	segFoot
	_
	segToes
	_
	segUpperArm
	_
	segForearm
	_
	segmentCount
)

func (g segment) on(side Side) segment { return g + segment(side) }

// pelvisTurn returns how the pelvis of a pose is turned.
func (p *Pose) pelvisTurn() turn {
	return aboutY(p.PelvisYawDeg).after(aboutX(p.PelvisTiltDeg)).after(aboutZ(p.PelvisListDeg))
}

// place returns the body in a pose.
func (s *Skeleton) place(p *Pose) *Figure {
	f := &Figure{}
	g := &f.segments
	g[segPelvis] = rigid{p.pelvisTurn(), s.pelvis(), p.Pelvis}
	chain := func(of, on segment, joint Vec, deg float64) {
		g[of] = rigid{g[on].turn.after(aboutX(deg)), joint, g[on].of(joint)}
	}
	chain(segLumbar, segPelvis, s.Lumbar, p.LumbarDeg)
	chain(segThorax, segLumbar, s.Thorax, p.ThoracicDeg)
	chain(segNeckLow, segThorax, s.NeckLow, p.NeckDeg/3)
	chain(segNeckHigh, segNeckLow, s.NeckHigh, p.NeckDeg/3)
	chain(segHead, segNeckHigh, s.HeadJoint, p.NeckDeg/3)
	f.Pelvis, f.Lumbar, f.Thorax = p.Pelvis, g[segLumbar].at, g[segThorax].at
	f.Head, f.Crown = g[segHead].of(s.Head), g[segHead].of(s.Crown)
	for _, side := range bothSides {
		s.placeLeg(f, p, side)
		s.placeArm(f, p, side)
	}
	return f
}

func hipTurn(l *Leg, side Side) turn {
	out := side.out()
	return aboutX(-l.HipFlexionDeg).after(aboutZ(out * l.HipAbductionDeg)).after(aboutY(out * l.HipRotationDeg))
}

func (s *Skeleton) placeLeg(f *Figure, p *Pose, side Side) {
	rest, leg, out, g := &s.Sides[side], &p.Legs[side], &f.Sides[side], &f.segments
	thigh := rigid{g[segPelvis].turn.after(hipTurn(leg, side)), rest.Hip, g[segPelvis].of(rest.Hip)}
	shank := rigid{thigh.turn.after(aboutX(leg.KneeFlexionDeg)), rest.Knee, thigh.of(rest.Knee)}
	foot := rigid{aboutX(leg.FootPitchDeg), rest.Ankle, shank.of(rest.Ankle)}
	toes := rigid{aboutX(leg.FootPitchDeg * leg.ToesFollow), rest.Ball, foot.of(rest.Ball)}
	g[segThigh.on(side)], g[segShank.on(side)] = thigh, shank
	g[segFoot.on(side)], g[segToes.on(side)] = foot, toes
	out.Hip, out.Knee, out.Ankle, out.Ball = thigh.at, shank.at, foot.at, toes.at
	out.Heel, out.Toe = foot.of(rest.Heel), toes.of(rest.Toe)
}

func (s *Skeleton) placeArm(f *Figure, p *Pose, side Side) {
	rest, arm, out, g := &s.Sides[side], &p.Arms[side], &f.Sides[side], &f.segments
	thorax := g[segThorax]
	// The elbow bends toward the middle a little, as arms do that hang or reach forward.
	direction := func(elevationDeg, outward float64) Vec {
		sin, cos := math.Sincos(elevationDeg * degree)
		return aboutY(p.PelvisYawDeg).of(Vec{side.out() * outward, -cos, sin})
	}
	outward := math.Tan(arm.AbductionDeg * degree)
	reach := func(on rigid, from, to Vec, direction Vec) rigid {
		return rigid{fromTo(on.turn.of(to.sub(from)), direction).after(on.turn), from, on.of(from)}
	}
	upper := reach(thorax, rest.Shoulder, rest.Elbow, direction(arm.ElevationDeg, outward))
	fore := reach(upper, rest.Elbow, rest.Wrist, direction(arm.ElevationDeg+arm.ElbowFlexionDeg, -0.8*outward))
	g[segUpperArm.on(side)], g[segForearm.on(side)] = upper, fore
	out.Shoulder, out.Elbow, out.Wrist = upper.at, fore.at, fore.of(rest.Wrist)
}

// plant bends the leg of a side so that the ball of its foot lies at ball with the foot at its pitch; hip rotation
// stays as it is. It returns how far the hip is too high for the leg to reach, and how far beside the ball a leg
// ends that is folded too much to be brought there sideways, metres: both 0 when the foot is where it should be.
func (s *Skeleton) plant(p *Pose, side Side, ball Vec) (short, beside float64) {
	rest, leg := &s.Sides[side], &p.Legs[side]
	ankle := ball.add(aboutX(leg.FootPitchDeg).of(rest.Ankle.sub(rest.Ball)))
	pelvis := p.pelvisTurn()
	hip := pelvis.of(rest.Hip.sub(s.pelvis())).add(p.Pelvis)
	thigh, shank := rest.Knee.sub(rest.Hip), rest.Ankle.sub(rest.Knee)

	// |thigh + turned shank|^2 = base + swing cos(knee - straight): the knee follows from how far ankle and hip are apart.
	base := thigh.dot(thigh) + shank.dot(shank) + 2*thigh.X*shank.X
	along := 2 * (thigh.Y*shank.Y + thigh.Z*shank.Z)
	across := 2 * (thigh.Z*shank.Y - thigh.Y*shank.Z)
	swing, straight := math.Hypot(along, across), math.Atan2(across, along)
	target := ankle.sub(hip)
	bend := (target.dot(target) - base) / swing
	if straightest := math.Cos(leastKneeBendDeg * degree); bend > straightest {
		reach := base + swing*straightest
		flat := target.X*target.X + target.Z*target.Z
		short = -target.Y - math.Sqrt(math.Max(0, reach-flat))
		bend = straightest
	}
	leg.KneeFlexionDeg = (straight + math.Acos(math.Max(-1, bend))) / degree

	// Abduction brings the hip-ankle line to the right X, flexion the rest.
	to := pelvis.inverse().of(target)
	line := aboutY(side.out() * leg.HipRotationDeg).of(thigh.add(aboutX(leg.KneeFlexionDeg).of(shank)))
	level := math.Hypot(line.X, line.Y)
	beside = math.Max(0, math.Abs(to.X)-level)
	open, lies := math.Acos(clamp(to.X/level, -1, 1)), math.Atan2(line.Y, line.X)
	abduction := math.Remainder(open-lies, 2*math.Pi)
	if other := math.Remainder(-open-lies, 2*math.Pi); math.Abs(other) < math.Abs(abduction) {
		abduction = other // the leg that hangs down, not the one that points up
	}
	leg.HipAbductionDeg = side.out() * abduction / degree
	hung := aboutZ(side.out() * leg.HipAbductionDeg).of(line)
	flexion := math.Atan2(hung.Z, hung.Y) - math.Atan2(to.Z, to.Y)
	leg.HipFlexionDeg = math.Remainder(flexion, 2*math.Pi) / degree
	return short, beside
}

// leastKneeBendDeg keeps a leg from snapping straight.
const leastKneeBendDeg = 2.0
