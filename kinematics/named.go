package kinematics

import (
	"iter"

	"holdfast/kinematics/body"
)

// ByAngle holds a value for each angle. In the documents it is an object of those that
// are compared: knee, hip, ankle, shank and trunk.
type ByAngle[T any] [body.NumAngles]T

// ByJoint holds a value for each joint; in the documents an object: knee, hip, ankle.
type ByJoint[T any] [body.NumJoints]T

// Named yields the values as the documents hold them: their names there, and where they
// lie.
func (v *ByAngle[T]) Named() iter.Seq2[string, any] {
	return func(yield func(string, any) bool) {
		_ = yield("knee", &v[body.KneeFlexion]) && yield("hip", &v[body.HipFlexion]) && yield("ankle", &v[body.AnkleDorsiflexion]) &&
			yield("shank", &v[body.ShankAngle]) && yield("trunk", &v[body.TrunkLean])
	}
}

// Named yields the values as the documents hold them: their names there, and where they
// lie.
func (v *ByJoint[T]) Named() iter.Seq2[string, any] {
	return func(yield func(string, any) bool) {
		_ = yield("knee", &v[body.KneeJoint]) && yield("hip", &v[body.HipJoint]) && yield("ankle", &v[body.AnkleJoint])
	}
}
