package kinematics

import "iter"

// ByAngle holds a value for each angle. In the documents it is an object of those that
// are compared: knee, hip, ankle, shank and trunk.
type ByAngle[T any] [NumAngles]T

// ByJoint holds a value for each joint; in the documents an object: knee, hip, ankle.
type ByJoint[T any] [NumJoints]T

// Named yields the values as the documents hold them: their names there, and where they
// lie.
func (v *ByAngle[T]) Named() iter.Seq2[string, any] {
	return func(yield func(string, any) bool) {
		_ = yield("knee", &v[KneeFlexion]) && yield("hip", &v[HipFlexion]) && yield("ankle", &v[AnkleDorsiflexion]) &&
			yield("shank", &v[ShankAngle]) && yield("trunk", &v[TrunkLean])
	}
}

// Named yields the values as the documents hold them: their names there, and where they
// lie.
func (v *ByJoint[T]) Named() iter.Seq2[string, any] {
	return func(yield func(string, any) bool) {
		_ = yield("knee", &v[KneeJoint]) && yield("hip", &v[HipJoint]) && yield("ankle", &v[AnkleJoint])
	}
}
