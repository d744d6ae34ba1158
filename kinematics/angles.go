package kinematics

import "math"

const degPerRad = 180 / math.Pi

// vec is a vector in the athlete's sagittal axes: forward and up, in pixels.
type vec struct{ fwd, up float64 }

func (a vec) sub(b vec) vec       { return vec{a.fwd - b.fwd, a.up - b.up} }
func (a vec) add(b vec) vec       { return vec{a.fwd + b.fwd, a.up + b.up} }
func (a vec) scale(k float64) vec { return vec{k * a.fwd, k * a.up} }
func (a vec) dot(b vec) float64   { return a.fwd*b.fwd + a.up*b.up }
func (a vec) cross(b vec) float64 { return a.fwd*b.up - a.up*b.fwd }
func (a vec) length() float64     { return math.Hypot(a.fwd, a.up) }
func (a vec) missing() bool       { return math.IsNaN(a.fwd) || math.IsNaN(a.up) }

// sagittal turns a point of the picture into the athlete's axes.
func sagittal(x, y float64, f Facing) vec { return vec{f.Sign() * x, -y} }

// turnDeg returns the angle in degrees by which a must be turned, forward over
// the top being positive, to point along b; -180 to 180. The cross and the dot
// product together keep the sign and stay exact near 0 and 180.
func turnDeg(a, b vec) float64 { return -math.Atan2(a.cross(b), a.dot(b)) * degPerRad }

// Limb holds one side's points for one instant: what an angle is made of.
type Limb [NumLandmarks]Point

// AnglesOf returns every angle of one side of the body in degrees, taken from
// the points as they are; the foot pitch is that of the heel-toe line. Signs
// and zeros are those of the package comment. An angle with a missing point is
// NaN.
func AnglesOf(l *Limb, f Facing) [NumAngles]float64 {
	p := func(k Landmark) vec { return sagittal(l[k].X, l[k].Y, f) }
	up := vec{0, 1}
	trunk := p(Shoulder).sub(p(Hip))
	thigh := p(Knee).sub(p(Hip))
	shank := p(Knee).sub(p(Ankle))
	foot := p(Toe).sub(p(Heel))

	var a [NumAngles]float64
	a[KneeFlexion] = turnDeg(thigh, shank.scale(-1))
	a[HipFlexion] = -turnDeg(trunk.scale(-1), thigh)
	a[AnkleDorsiflexion] = 90 + turnDeg(foot, shank)
	a[ShankAngle] = turnDeg(up, shank)
	a[TrunkLean] = turnDeg(up, trunk)
	a[ThighAngle] = -turnDeg(vec{0, -1}, thigh) - 90
	a[FootPitch] = -turnDeg(vec{1, 0}, foot)
	return a
}

// AngleSDs returns the standard deviations in degrees of the angles of
// [AnglesOf] that follow from the points' own SDPx, taken as equal in x and y
// and independent between points. First-order (Jacobian) propagation: moving a
// segment's end by e pixels across it turns it by e/L radians.
func AngleSDs(l *Limb, f Facing) [NumAngles]float64 {
	p := func(k Landmark) vec { return sagittal(l[k].X, l[k].Y, f) }
	// across returns the gradient of a segment's direction by its far end.
	across := func(from, to Landmark) vec {
		d := p(to).sub(p(from))
		n := d.dot(d)
		return vec{-d.up / n, d.fwd / n}
	}
	segment := func(from, to Landmark) float64 {
		return across(from, to).length() * math.Hypot(l[from].SDPx, l[to].SDPx) * degPerRad
	}
	// joint: the angle between middle->a and middle->b.
	joint := func(a, middle, b Landmark) float64 {
		ga, gb := across(middle, a), across(middle, b)
		return degPerRad * math.Sqrt(
			sq(ga.length()*l[a].SDPx)+sq(gb.length()*l[b].SDPx)+sq(ga.sub(gb).length()*l[middle].SDPx))
	}
	var s [NumAngles]float64
	s[KneeFlexion] = joint(Hip, Knee, Ankle)
	s[HipFlexion] = joint(Shoulder, Hip, Knee)
	s[ShankAngle] = segment(Ankle, Knee)
	s[TrunkLean] = segment(Hip, Shoulder)
	s[ThighAngle] = segment(Hip, Knee)
	s[FootPitch] = segment(Heel, Toe)
	s[AnkleDorsiflexion] = math.Hypot(s[ShankAngle], s[FootPitch])
	return s
}

func sq(x float64) float64 { return x * x }

// SegmentSDDeg returns the standard deviation in degrees of a segment's
// direction when both ends have the standard deviation sdPx across it and lie
// lengthPx apart: sqrt(2) sd/L.
func SegmentSDDeg(sdPx, lengthPx float64) float64 { return math.Sqrt2 * sdPx / lengthPx * degPerRad }

// JointSDDeg returns the standard deviation in degrees of the angle between two
// segments of lengths l1 and l2 (pixels) that share a point, when each of the
// three points has the standard deviation sdPx. includedDeg is the angle
// between the segments, 180 when straight:
//
//	sd sqrt(2/l1^2 + 2/l2^2 - 2 cos(included)/(l1 l2))
func JointSDDeg(sdPx, l1, l2, includedDeg float64) float64 {
	c := math.Cos(includedDeg / degPerRad)
	return sdPx * math.Sqrt(2/(l1*l1)+2/(l2*l2)-2*c/(l1*l2)) * degPerRad
}

// UnsignedBiasDeg returns by how many degrees the mean of an unsigned included
// angle falls short of 180 at full extension, for a signed angle of standard
// deviation sdDeg: sd sqrt(2/pi). It is why angles keep their sign here.
func UnsignedBiasDeg(sdDeg float64) float64 { return sdDeg * math.Sqrt(2/math.Pi) }

// YawedDeg returns what the camera reads of a segment at angleDeg from the
// vertical when the plane of movement is turned by yawDeg away from side-on,
// seen from far away:
//
//	atan2(sin(angle) cos(yaw), cos(angle))
func YawedDeg(angleDeg, yawDeg float64) float64 {
	a := angleDeg / degPerRad
	return math.Atan2(math.Sin(a)*math.Cos(yawDeg/degPerRad), math.Cos(a)) * degPerRad
}

// YawWorstErrorDeg returns the largest error in degrees that a turn of yawDeg
// away from side-on can put on any segment's angle: atan((1-c)/(2 sqrt(c))) with
// c the cosine of the yaw, reached near 45 degrees.
func YawWorstErrorDeg(yawDeg float64) float64 {
	c := math.Cos(yawDeg / degPerRad)
	return math.Atan((1-c)/(2*math.Sqrt(c))) * degPerRad
}
