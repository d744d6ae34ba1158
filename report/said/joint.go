package said

import (
	"holdfast/kinematics"
	"holdfast/kinematics/body"
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
	NumJoints = Joint(body.NumJoints)
)
