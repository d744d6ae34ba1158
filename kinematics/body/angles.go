package body

import "math"

const DegPerRad = 180 / math.Pi

// Vec is a vector in the athlete's sagittal axes: forward and up, in pixels.
type Vec struct{ Fwd, Up float64 }

func (a Vec) Sub(b Vec) Vec       { return Vec{a.Fwd - b.Fwd, a.Up - b.Up} }
func (a Vec) Add(b Vec) Vec       { return Vec{a.Fwd + b.Fwd, a.Up + b.Up} }
func (a Vec) Scale(k float64) Vec { return Vec{k * a.Fwd, k * a.Up} }
func (a Vec) Dot(b Vec) float64   { return a.Fwd*b.Fwd + a.Up*b.Up }
func (a Vec) Cross(b Vec) float64 { return a.Fwd*b.Up - a.Up*b.Fwd }
func (a Vec) Length() float64     { return math.Hypot(a.Fwd, a.Up) }
func (a Vec) Missing() bool       { return math.IsNaN(a.Fwd) || math.IsNaN(a.Up) }

// Sagittal turns a point of the picture into the athlete's axes.
func Sagittal(x, y float64, f Facing) Vec { return Vec{f.Sign() * x, -y} }

// turnDeg returns the angle in degrees by which a must be turned, forward over
// the top being positive, to point along b; -180 to 180. The cross and the dot
// product together keep the sign and stay exact near 0 and 180.
func turnDeg(a, b Vec) float64 { return -math.Atan2(a.Cross(b), a.Dot(b)) * DegPerRad }

// Limb holds one side's points for one instant: what an angle is made of.
type Limb [NumLandmarks]Point

// AnglesOf returns every angle of one side of the body in degrees, taken from
// the points as they are; the foot pitch is that of the heel-toe line. Signs
// and zeros are those of the package comment. An angle with a missing point is
// NaN.
func AnglesOf(l *Limb, f Facing) [NumAngles]float64 {
	p := func(k Landmark) Vec { return Sagittal(l[k].X, l[k].Y, f) }
	up := Vec{0, 1}
	trunk := p(Shoulder).Sub(p(Hip))
	thigh := p(Knee).Sub(p(Hip))
	shank := p(Knee).Sub(p(Ankle))
	foot := p(Toe).Sub(p(Heel))
	upperArm := p(Elbow).Sub(p(Shoulder))
	forearm := p(Wrist).Sub(p(Elbow))

	var a [NumAngles]float64
	a[KneeFlexion] = turnDeg(thigh, shank.Scale(-1))
	a[HipFlexion] = -turnDeg(trunk.Scale(-1), thigh)
	a[AnkleDorsiflexion] = 90 + turnDeg(foot, shank)
	a[ShankAngle] = turnDeg(up, shank)
	a[TrunkLean] = turnDeg(up, trunk)
	a[ThighAngle] = -turnDeg(Vec{0, -1}, thigh) - 90
	a[FootPitch] = -turnDeg(Vec{1, 0}, foot)
	a[ShoulderFlexion] = armTurn(-turnDeg(trunk.Scale(-1), upperArm))
	a[ElbowFlexion] = armTurn(-turnDeg(upperArm, forearm))
	return a
}

// leastArmDeg is where the turn of a limb of the arm is cut open: it goes on past 180 degrees, where hands are behind
// the head, and no arm gets so far back.
const leastArmDeg = -90

// armTurn returns a turn of -180 to 180 degrees as one of leastArmDeg and 360 more.
func armTurn(deg float64) float64 {
	if deg < leastArmDeg {
		return deg + 360
	}
	return deg
}

// AngleSDs returns the standard deviations in degrees of the angles of
// [AnglesOf] that follow from the points' own SDPx, taken as equal in x and y
// and independent between points. First-order (Jacobian) propagation: moving a
// segment's end by e pixels across it turns it by e/L radians.
func AngleSDs(l *Limb, f Facing) [NumAngles]float64 {
	p := func(k Landmark) Vec { return Sagittal(l[k].X, l[k].Y, f) }
	// across returns the gradient of a segment's direction by its far end.
	across := func(from, to Landmark) Vec {
		d := p(to).Sub(p(from))
		n := d.Dot(d)
		return Vec{-d.Up / n, d.Fwd / n}
	}
	segment := func(from, to Landmark) float64 {
		return across(from, to).Length() * math.Hypot(l[from].SDPx, l[to].SDPx) * DegPerRad
	}
	// joint: the angle between middle->a and middle->b.
	joint := func(a, middle, b Landmark) float64 {
		ga, gb := across(middle, a), across(middle, b)
		return DegPerRad * math.Sqrt(
			sq(ga.Length()*l[a].SDPx)+sq(gb.Length()*l[b].SDPx)+sq(ga.Sub(gb).Length()*l[middle].SDPx))
	}
	var s [NumAngles]float64
	s[KneeFlexion] = joint(Hip, Knee, Ankle)
	s[HipFlexion] = joint(Shoulder, Hip, Knee)
	s[ShankAngle] = segment(Ankle, Knee)
	s[TrunkLean] = segment(Hip, Shoulder)
	s[ThighAngle] = segment(Hip, Knee)
	s[FootPitch] = segment(Heel, Toe)
	s[ShoulderFlexion] = joint(Hip, Shoulder, Elbow)
	s[ElbowFlexion] = joint(Shoulder, Elbow, Wrist)
	s[AnkleDorsiflexion] = math.Hypot(s[ShankAngle], s[FootPitch])
	return s
}
