package body

import "math"

// FitPoint numbers the points of the near side that the body is fitted to.
type FitPoint int

const (
	FitShoulder FitPoint = iota
	FitHip
	FitKnee
	FitAnkle
	FitHeel
	FitToe
	NumFitPoints
)

// FitLandmarks names the points as the rest of the package does.
var FitLandmarks = [NumFitPoints]Landmark{Shoulder, Hip, Knee, Ankle, Heel, Toe}

// The unknowns of one sample. Lengths are leg lengths in the athlete's axes,
// angles radians with the signs of the package comment.
const (
	ballFwd = iota // the ball of the foot, about which the heel comes up
	ballUp
	pitch
	shank
	thigh
	trunk
	logScale // how much larger than usual the body is in the picture
	perSample
)

// The unknowns of the whole clip: the body's lengths, then for each point how the
// network sets it beside the joint, see [FitOffset].
const (
	shankLength = iota
	thighLength
	trunkLength
	ankleFwd // ankle against the ball, in the axes of the flat foot
	ankleUp
	toeFwd
	toeUp
	numLengths
)

const (
	OffsetFwd = iota
	OffsetUp
	OffsetFwdBend
	OffsetUpBend
	perOffset

	perClip = numLengths + int(NumFitPoints)*perOffset
)

// offsetAt returns where a point's offsets begin among the clip's unknowns.
func offsetAt(p FitPoint) int { return numLengths + int(p)*perOffset }

// bodyReach is the reach, in samples, of a second difference, bodyWidth that over unknowns.
const (
	bodyReach = 2
	bodyWidth = (bodyReach+1)*perSample - 1
)

// skeleton is where the joints, the heel and the toe stand in one sample, and
// how they move with the unknowns of the sample (by) and of the clip (of).
type skeleton struct {
	at [NumFitPoints]Vec
	by [NumFitPoints][perSample]Vec
	of [NumFitPoints][numLengths]Vec
}

// toward moves a point of s by the part w toward where it is in t.
func (s *skeleton) toward(t *skeleton, p FitPoint, w float64) {
	mix := func(a, b Vec) Vec { return a.Scale(1 - w).Add(b.Scale(w)) }
	s.at[p] = mix(s.at[p], t.at[p])
	for k := range s.by[p] {
		s.by[p][k] = mix(s.by[p][k], t.by[p][k])
	}
	for k := range s.of[p] {
		s.of[p][k] = mix(s.of[p][k], t.of[p][k])
	}
}

// pose sets the skeleton to that for one sample's unknowns x and the clip's q. lever
// is how far the heel lies behind the ball. The chain runs from the ball of the
// foot up:
//
//	ankle    = ball + e^scale R(pitch) a
//	knee     = ankle + e^scale Ls ( sin shank, cos shank)
//	hip      = knee + e^scale Lt (-sin thigh, cos thigh)
//	shoulder = hip + e^scale Ll ( sin trunk, cos trunk)
//
// and the heel lies at (-lever, 0), turned with the pitch. With the foot on the
// floor the toes stay level while the heel comes up; in the air they turn too.
func (s *skeleton) pose(x, q []float64, lever float64, airborne bool) {
	*s = skeleton{}
	k := math.Exp(x[logScale])
	sp, cp := math.Sincos(x[pitch])
	turned := func(v Vec) Vec { return Vec{v.Fwd*cp - v.Up*sp, v.Fwd*sp + v.Up*cp} }
	quarter := func(v Vec) Vec { return Vec{-v.Up, v.Fwd} }
	ball := Vec{x[ballFwd], x[ballUp]}
	for p := range NumFitPoints {
		s.at[p] = ball
		s.by[p][ballFwd], s.by[p][ballUp] = Vec{1, 0}, Vec{0, 1}
	}
	// along moves points by a segment.
	along := func(d Vec, points ...FitPoint) {
		for _, p := range points {
			s.at[p] = s.at[p].Add(d.Scale(k))
			s.by[p][logScale] = s.by[p][logScale].Add(d.Scale(k))
		}
	}

	heel := turned(Vec{-lever, 0})
	along(heel, FitHeel)
	s.by[FitHeel][pitch] = quarter(heel).Scale(k)

	toe := Vec{q[toeFwd], q[toeUp]}
	s.of[FitToe][toeFwd], s.of[FitToe][toeUp] = Vec{k, 0}, Vec{0, k}
	if airborne {
		toe = turned(toe)
		s.by[FitToe][pitch] = quarter(toe).Scale(k)
		s.of[FitToe][toeFwd], s.of[FitToe][toeUp] = turned(Vec{k, 0}), turned(Vec{0, k})
	}
	along(toe, FitToe)

	chain := []FitPoint{FitAnkle, FitKnee, FitHip, FitShoulder}
	ankle := turned(Vec{q[ankleFwd], q[ankleUp]})
	along(ankle, chain...)
	for _, p := range chain {
		s.by[p][pitch] = quarter(ankle).Scale(k)
		s.of[p][ankleFwd], s.of[p][ankleUp] = turned(Vec{k, 0}), turned(Vec{0, k})
	}
	for i, g := range [...]struct {
		angle, length int
		lean          float64 // the upper end moves forward, or backward, with the angle
	}{{shank, shankLength, 1}, {thigh, thighLength, -1}, {trunk, trunkLength, 1}} {
		sin, cos := math.Sincos(x[g.angle])
		u := Vec{g.lean * sin, cos}
		along(u.Scale(q[g.length]), chain[i+1:]...)
		for _, p := range chain[i+1:] {
			s.by[p][g.angle] = Vec{g.lean * cos, -sin}.Scale(k * q[g.length])
			s.of[p][g.length] = u.Scale(k)
		}
	}
}

// FitOffset says where a pose network sets one point, seen from the joint: so
// much in every posture, and so much more for each radian of knee flexion; leg
// lengths, in the order of the offset constants. mean is what is usual, sd by how
// much athletes differ.
type FitOffset struct{ Mean, SD [perOffset]float64 }

// FitOffsets holds one for each point.
type FitOffsets [NumFitPoints]FitOffset
