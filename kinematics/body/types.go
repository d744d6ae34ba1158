package body

import (
	"math"
	"slices"
)

// Landmark numbers a point of the body. A side-on clip shows each limb point
// twice, once for the side near the camera and once for the far side.
type Landmark int

// The points the sums use.
const (
	Ear Landmark = iota
	Shoulder
	Elbow
	Wrist
	Hip
	Knee
	Ankle
	Heel
	Toe // tip of the foot: the big toe
	NumLandmarks
)

var landmarkNames = [NumLandmarks]string{"ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe"}

// String returns the landmark's name in snake case.
func (l Landmark) String() string {
	if l < 0 || l >= NumLandmarks {
		return "unknown"
	}
	return landmarkNames[l]
}

// MarshalText returns the landmark's name.
func (l Landmark) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText sets the landmark of a name; one that nobody knows is NumLandmarks.
func (l *Landmark) UnmarshalText(name []byte) error {
	for *l = 0; *l < NumLandmarks; *l++ {
		if landmarkNames[*l] == string(name) {
			break
		}
	}
	return nil
}

// Side is a side of the athlete's body.
type Side int

// The two sides of the athlete's body.
const (
	Left Side = iota
	Right
)

// String returns "left" or "right".
func (s Side) String() string {
	if s == Right {
		return "right"
	}
	return "left"
}

// Opposite returns the other side.
func (s Side) Opposite() Side { return 1 - s }

// Facing is the direction in the picture that the athlete looks in.
type Facing int

// The facings; FacingAuto asks for it to be found.
const (
	FacingAuto Facing = iota
	FacingLeft
	FacingRight
)

// String returns "auto", "left" or "right".
func (f Facing) String() string { return [...]string{"auto", "left", "right"}[f] }

// Sign returns +1 when the athlete faces the right of the picture, else -1.
func (f Facing) Sign() float64 {
	if f == FacingLeft {
		return -1
	}
	return 1
}

// Point is a body point in the picture: pixels, x right, y down. X and Y are
// NaN when the point was not seen.
type Point struct {
	X, Y float64
	// SDPx is the point's standard deviation in pixels as the network states
	// it, NaN when unknown.
	SDPx float64
	// Confidence is 0 to 1: how far the point may be believed.
	Confidence float64
}

// Missing says whether the point was not seen.
func (p Point) Missing() bool { return math.IsNaN(p.X) || math.IsNaN(p.Y) }

// MissingPoint is a point that was not seen.
func MissingPoint() Point { return Point{X: math.NaN(), Y: math.NaN(), SDPx: math.NaN()} }

// Angle numbers an angle of the body in the sagittal plane.
type Angle int

// The angles, in degrees. Signs and zeros are in the package comment.
const (
	KneeFlexion Angle = iota
	HipFlexion
	AnkleDorsiflexion
	ShankAngle
	TrunkLean
	ThighAngle // thigh against the horizontal: 0 level, negative while the hip is above the knee
	FootPitch  // 0 flat as in standing, negative while the heel is up
	ShoulderFlexion
	ElbowFlexion
	NumAngles
)

var angleNames = [NumAngles]string{"knee_flexion", "hip_flexion", "ankle_dorsiflexion", "shank_angle", "trunk_lean",
	"thigh_angle", "foot_pitch", "shoulder_flexion", "elbow_flexion"}

// String returns the angle's name in snake case.
func (a Angle) String() string {
	if a < 0 || a >= NumAngles {
		return "unknown"
	}
	return angleNames[a]
}

// MarshalText returns the angle's name.
func (a Angle) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// UnmarshalText sets the angle of a name; one that nobody knows is NumAngles.
func (a *Angle) UnmarshalText(name []byte) error {
	for *a = 0; *a < NumAngles; *a++ {
		if angleNames[*a] == string(name) {
			break
		}
	}
	return nil
}

// Joint numbers a joint whose range of motion is compared.
type Joint int

// The joints, from the ground up.
const (
	AnkleJoint Joint = iota
	KneeJoint
	HipJoint
	ShoulderJoint
	ElbowJoint
	NumJoints
)

// LegJoints are those that every movement shows; the arm's are measured where a movement counts them.
var LegJoints = []Joint{AnkleJoint, KneeJoint, HipJoint}

// FromGround returns joints in order from the ground up; of none those of the leg, as in results of before joints were
// named.
func FromGround(joints []Joint) []Joint {
	if len(joints) == 0 {
		return LegJoints
	}
	return slices.Sorted(slices.Values(joints))
}

// OfArm says whether the joint is one of the arm.
func (j Joint) OfArm() bool { return j == ShoulderJoint || j == ElbowJoint }

// OfArm says whether the angle is one of the arm.
func (a Angle) OfArm() bool { return a == ShoulderFlexion || a == ElbowFlexion }

var jointNames = [NumJoints]string{"ankle", "knee", "hip", "shoulder", "elbow"}

// String returns the joint's name.
func (j Joint) String() string {
	if j < 0 || j >= NumJoints {
		return "unknown"
	}
	return jointNames[j]
}

// MarshalText returns the joint's name.
func (j Joint) MarshalText() ([]byte, error) { return []byte(j.String()), nil }

// UnmarshalText sets the joint of a name; one that nobody knows is NumJoints.
func (j *Joint) UnmarshalText(name []byte) error {
	for *j = 0; *j < NumJoints && j.String() != string(name); *j++ {
		continue
	}
	return nil
}

// Angle returns the angle that is the joint's range of motion.
func (j Joint) Angle() Angle {
	return [...]Angle{AnkleDorsiflexion, KneeFlexion, HipFlexion, ShoulderFlexion, ElbowFlexion}[j]
}

// NamesOf returns the names of joints.
func NamesOf(which []Joint) []string {
	names := make([]string, len(which))
	for i, j := range which {
		names[i] = j.String()
	}
	return names
}
