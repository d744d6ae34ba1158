package said

import (
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/words"
)

// Joint is one of the joints a result is about, by the table of joints.
type Joint body.Joint

func (j Joint) Name() string { return PositionWords(j.Position()).Name }

// Inside is the joint's name inside of a sentence.
func (j Joint) Inside() string { return words.Say("point."+j.Landmark(), nil) }

// Position is the joint's own position at the bottom.
func (j Joint) Position() kinematics.Position { return kinematics.PositionOf(body.Joint(j)) }

// Landmark is the joint's name in Series.PointsPx.
func (j Joint) Landmark() string { return body.Joint(j).String() }

func (j Joint) Angle() body.Angle { return body.Joint(j).Angle() }

const (
	Ankle     = Joint(body.AnkleJoint)
	Knee      = Joint(body.KneeJoint)
	Hip       = Joint(body.HipJoint)
	Shoulder  = Joint(body.ShoulderJoint)
	Elbow     = Joint(body.ElbowJoint)
	NumJoints = Joint(body.NumJoints)
)

// JointsOf returns the joints that count in what a clip shows, from the ground up; none from the front.
func JointsOf(a *screening.Analysis) []Joint {
	if a.View.Front {
		return nil
	}
	return fromGround(a.Shows().Joints)
}

// JointsIn returns the joints that are compared, from the ground up; none of clips from the front.
func JointsIn(c *screening.Comparison) []Joint {
	if c.FromFront() {
		return nil
	}
	return fromGround(c.Joints)
}

func fromGround(joints []body.Joint) []Joint {
	var out []Joint
	for _, j := range body.FromGround(joints) {
		out = append(out, Joint(j))
	}
	return out
}

// LegsFirst returns joints with the second one first, as the knee stands before hip and ankle; those after the third
// follow.
func LegsFirst(joints []Joint) []Joint {
	if len(joints) < 3 {
		return joints
	}
	return append([]Joint{joints[1], joints[2], joints[0]}, joints[3:]...)
}
