package body

import (
	"iter"
	"strings"
)

// ByAngle holds a value for each angle. In the documents it is an object of those that
// are compared: knee, hip, ankle, shank and trunk, and shoulder and elbow where they are known.
type ByAngle[T any] [NumAngles]T

// ByJoint holds a value for each joint; in the documents an object: knee, hip, ankle, and shoulder and elbow where they
// are known.
type ByJoint[T any] [NumJoints]T

// AngleSeries holds one value a sample for each angle.
type AngleSeries [NumAngles][]float64

// StandAngles holds the angles of quiet standing in degrees. The documents have those
// that are taken off as the athlete's zero, and not those of thigh and foot.
type StandAngles [NumAngles]float64

// Named yields the values as the documents hold them: their names there, and where they
// lie.
func (v *AngleSeries) Named() iter.Seq2[string, any] {
	return func(yield func(string, any) bool) {
		for a := range NumAngles {
			if !yield(a.String(), &v[a]) {
				return
			}
		}
	}
}

// Named yields the values as the documents hold them: their names there, and where they
// lie.
func (v *StandAngles) Named() iter.Seq2[string, any] {
	return func(yield func(string, any) bool) {
		for a := range ThighAngle {
			if !yield(a.String(), &v[a]) {
				return
			}
		}
	}
}

// Named yields the values as the documents hold them: their names there, and where they
// lie.
func (v *ByAngle[T]) Named() iter.Seq2[string, any] {
	return func(yield func(string, any) bool) {
		_ = yield("knee", &v[KneeFlexion]) && yield("hip", &v[HipFlexion]) && yield("ankle", &v[AnkleDorsiflexion]) &&
			yield("shank", &v[ShankAngle]) && yield("trunk", &v[TrunkLean]) &&
			yield("shoulder", &v[ShoulderFlexion]) && yield("elbow", &v[ElbowFlexion])
	}
}

// Named yields the values as the documents hold them: their names there, and where they
// lie.
func (v *ByJoint[T]) Named() iter.Seq2[string, any] {
	return func(yield func(string, any) bool) {
		_ = yield("knee", &v[KneeJoint]) && yield("hip", &v[HipJoint]) && yield("ankle", &v[AnkleJoint]) &&
			yield("shoulder", &v[ShoulderJoint]) && yield("elbow", &v[ElbowJoint])
	}
}

// MayLack says whether the documents leave out the value of that name where it is not known: one of the arm.
func MayLack(name string) bool {
	return strings.HasPrefix(name, "shoulder") || strings.HasPrefix(name, "elbow")
}
