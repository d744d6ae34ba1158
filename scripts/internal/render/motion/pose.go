package motion

import (
	"math"

	"holdfast/scripts/internal/render/space"
)

// Side is a side of the athlete's own body.
type Side int

const (
	// Left is where X is positive.
	Left Side = iota
	// Right is where X is negative.
	Right
)

var BothSides = [2]Side{Left, Right}

func (s Side) String() string { return [2]string{"left", "right"}[s] }

// Out is the sign of X on this side.
func (s Side) Out() float64 { return [2]float64{1, -1}[s] }

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
	Pelvis space.Vec
	// PelvisTiltDeg tips the pelvis forward, PelvisYawDeg turns its left side forward, PelvisListDeg lifts its left side.
	PelvisTiltDeg, PelvisYawDeg, PelvisListDeg float64
	// LumbarDeg, ThoracicDeg and NeckDeg bend each piece of the spine forward against the one below.
	LumbarDeg, ThoracicDeg, NeckDeg float64
	Legs                            [2]Leg
	Arms                            [2]Arm
}

// Limbs are the joints and marks of one side of the body.
type Limbs struct {
	Hip, Knee, Ankle, Shoulder, Elbow, Wrist space.Vec
	// Ball is what the foot turns about when the heel comes up; Heel and Toe are marks on the shoe.
	Ball, Heel, Toe space.Vec
}

// Skeleton holds the joints of a body at rest: standing, the soles on the floor.
type Skeleton struct {
	Sides [2]Limbs
	// Lumbar and Thorax are where the trunk bends, NeckLow, NeckHigh and HeadJoint where the neck does; Head is
	// the middle of the head, Crown its top.
	Lumbar, Thorax, NeckLow, NeckHigh, HeadJoint, Head, Crown space.Vec
}

func (s *Skeleton) Pelvis() space.Vec { return s.Sides[Left].Hip.Toward(s.Sides[Right].Hip, 0.5) }

// Figure is a body in a pose.
type Figure struct {
	Sides                  [2]Limbs
	Pelvis, Lumbar, Thorax space.Vec
	Head, Crown            space.Vec
	Segments               [SegmentCount]space.Rigid
}

// Segment is a piece of the body that moves as one.
type Segment int

const (
	SegPelvis Segment = iota
	SegLumbar
	SegThorax
	SegNeckLow
	SegNeckHigh
	SegHead
	SegThigh // and those below once for the left and once for the right
	_
	SegShank
	_
	SegFoot
	_
	SegToes
	_
	SegUpperArm
	_
	SegForearm
	_
	SegmentCount
)

func (g Segment) On(side Side) Segment { return g + Segment(side) }

// pelvisTurn returns how the pelvis of a pose is turned.
func (p *Pose) pelvisTurn() space.Turn {
	return space.AboutY(p.PelvisYawDeg).After(space.AboutX(p.PelvisTiltDeg)).After(space.AboutZ(p.PelvisListDeg))
}

// Place returns the body in a pose.
func (s *Skeleton) Place(p *Pose) *Figure {
	f := &Figure{}
	g := &f.Segments
	g[SegPelvis] = space.Rigid{Turn: p.pelvisTurn(), Pivot: s.Pelvis(), At: p.Pelvis}
	chain := func(of, on Segment, joint space.Vec, deg float64) {
		g[of] = space.Rigid{Turn: g[on].Turn.After(space.AboutX(deg)), Pivot: joint, At: g[on].Of(joint)}
	}
	chain(SegLumbar, SegPelvis, s.Lumbar, p.LumbarDeg)
	chain(SegThorax, SegLumbar, s.Thorax, p.ThoracicDeg)
	chain(SegNeckLow, SegThorax, s.NeckLow, p.NeckDeg/3)
	chain(SegNeckHigh, SegNeckLow, s.NeckHigh, p.NeckDeg/3)
	chain(SegHead, SegNeckHigh, s.HeadJoint, p.NeckDeg/3)
	f.Pelvis, f.Lumbar, f.Thorax = p.Pelvis, g[SegLumbar].At, g[SegThorax].At
	f.Head, f.Crown = g[SegHead].Of(s.Head), g[SegHead].Of(s.Crown)
	for _, side := range BothSides {
		s.placeLeg(f, p, side)
		s.placeArm(f, p, side)
	}
	return f
}

func hipTurn(l *Leg, side Side) space.Turn {
	out := side.Out()
	return space.AboutX(-l.HipFlexionDeg).After(space.AboutZ(out * l.HipAbductionDeg)).After(space.AboutY(out *
		l.HipRotationDeg))
}

func (s *Skeleton) placeLeg(f *Figure, p *Pose, side Side) {
	rest, leg, out, g := &s.Sides[side], &p.Legs[side], &f.Sides[side], &f.Segments
	thigh := space.Rigid{Turn: g[SegPelvis].Turn.After(hipTurn(leg, side)), Pivot: rest.Hip, At: g[SegPelvis].Of(rest.Hip)}
	shank := space.Rigid{Turn: thigh.Turn.After(space.AboutX(leg.KneeFlexionDeg)), Pivot: rest.Knee,
		At: thigh.Of(rest.Knee)}
	foot := space.Rigid{Turn: space.AboutX(leg.FootPitchDeg), Pivot: rest.Ankle, At: shank.Of(rest.Ankle)}
	toes := space.Rigid{Turn: space.AboutX(leg.FootPitchDeg * leg.ToesFollow), Pivot: rest.Ball, At: foot.Of(rest.Ball)}
	g[SegThigh.On(side)], g[SegShank.On(side)] = thigh, shank
	g[SegFoot.On(side)], g[SegToes.On(side)] = foot, toes
	out.Hip, out.Knee, out.Ankle, out.Ball = thigh.At, shank.At, foot.At, toes.At
	out.Heel, out.Toe = foot.Of(rest.Heel), toes.Of(rest.Toe)
}

func (s *Skeleton) placeArm(f *Figure, p *Pose, side Side) {
	rest, arm, out, g := &s.Sides[side], &p.Arms[side], &f.Sides[side], &f.Segments
	thorax := g[SegThorax]
	// The elbow bends toward the middle a little, as arms do that hang or reach forward.
	direction := func(elevationDeg, outward float64) space.Vec {
		sin, cos := math.Sincos(elevationDeg * space.Degree)
		return space.AboutY(p.PelvisYawDeg).Of(space.Vec{X: side.Out() * outward, Y: -cos, Z: sin})
	}
	outward := math.Tan(arm.AbductionDeg * space.Degree)
	reach := func(on space.Rigid, from, to space.Vec, direction space.Vec) space.Rigid {
		return space.Rigid{Turn: space.FromTo(on.Turn.Of(to.Sub(from)), direction).After(on.Turn), Pivot: from,
			At: on.Of(from)}
	}
	upper := reach(thorax, rest.Shoulder, rest.Elbow, direction(arm.ElevationDeg, outward))
	fore := reach(upper, rest.Elbow, rest.Wrist, direction(arm.ElevationDeg+arm.ElbowFlexionDeg, -0.8*outward))
	g[SegUpperArm.On(side)], g[SegForearm.On(side)] = upper, fore
	out.Shoulder, out.Elbow, out.Wrist = upper.At, fore.At, fore.Of(rest.Wrist)
}

// Plant bends the leg of a side so that the ball of its foot lies at ball with the foot at its pitch; hip rotation
// stays as it is. It returns how far the hip is too high for the leg to reach, and how far beside the ball a leg
// ends that is folded too much to be brought there sideways, metres: both 0 when the foot is where it should be.
func (s *Skeleton) Plant(p *Pose, side Side, ball space.Vec) (short, beside float64) {
	rest, leg := &s.Sides[side], &p.Legs[side]
	ankle := ball.Add(space.AboutX(leg.FootPitchDeg).Of(rest.Ankle.Sub(rest.Ball)))
	pelvis := p.pelvisTurn()
	hip := pelvis.Of(rest.Hip.Sub(s.Pelvis())).Add(p.Pelvis)
	thigh, shank := rest.Knee.Sub(rest.Hip), rest.Ankle.Sub(rest.Knee)

	// |thigh + turned shank|^2 = base + swing cos(knee - straight): the knee follows from how far ankle and hip are apart.
	base := thigh.Dot(thigh) + shank.Dot(shank) + 2*thigh.X*shank.X
	along := 2 * (thigh.Y*shank.Y + thigh.Z*shank.Z)
	across := 2 * (thigh.Z*shank.Y - thigh.Y*shank.Z)
	swing, straight := math.Hypot(along, across), math.Atan2(across, along)
	target := ankle.Sub(hip)
	bend := (target.Dot(target) - base) / swing
	if straightest := math.Cos(leastKneeBendDeg * space.Degree); bend > straightest {
		reach := base + swing*straightest
		flat := target.X*target.X + target.Z*target.Z
		short = -target.Y - math.Sqrt(math.Max(0, reach-flat))
		bend = straightest
	}
	leg.KneeFlexionDeg = (straight + math.Acos(math.Max(-1, bend))) / space.Degree

	// Abduction brings the hip-ankle line to the right X, flexion the rest.
	to := pelvis.Inverse().Of(target)
	line := space.AboutY(side.Out() * leg.HipRotationDeg).Of(thigh.Add(space.AboutX(leg.KneeFlexionDeg).Of(shank)))
	level := math.Hypot(line.X, line.Y)
	beside = math.Max(0, math.Abs(to.X)-level)
	open, lies := math.Acos(space.Clamp(to.X/level, -1, 1)), math.Atan2(line.Y, line.X)
	abduction := math.Remainder(open-lies, 2*math.Pi)
	if other := math.Remainder(-open-lies, 2*math.Pi); math.Abs(other) < math.Abs(abduction) {
		abduction = other // the leg that hangs down, not the one that points up
	}
	leg.HipAbductionDeg = side.Out() * abduction / space.Degree
	hung := space.AboutZ(side.Out() * leg.HipAbductionDeg).Of(line)
	flexion := math.Atan2(hung.Z, hung.Y) - math.Atan2(to.Z, to.Y)
	leg.HipFlexionDeg = math.Remainder(flexion, 2*math.Pi) / space.Degree
	return short, beside
}

// leastKneeBendDeg keeps a leg from snapping straight.
const leastKneeBendDeg = 2.0
