package joints

import (
	"math"

	"holdfast/kinematics/body"
)

// differentShareDeg is how far apart the directions of two movements in the
// space of ankle, knee and hip range may point and still be one movement. A
// squat at half depth points the same way as a full one; quick squats of invented
// athletes whose heels come up and whose trunks fall forward point up to 22 degrees
// elsewhere than their slow ones, a hinge from the hips about 30. Common practice, no source.
const differentShareDeg = 26

// DifferentShares says whether two movements divide themselves over the joints quite
// differently.
func DifferentShares(a, b body.ByJoint[float64]) bool {
	var dot, aa, bb float64
	for j := range body.NumJoints {
		if a[j] == 0 || b[j] == 0 {
			continue // not known in one of them
		}
		dot, aa, bb = dot+a[j]*b[j], aa+a[j]*a[j], bb+b[j]*b[j]
	}
	return aa > 0 && bb > 0 && math.Acos(math.Min(1, dot/math.Sqrt(aa*bb)))*180/math.Pi > differentShareDeg
}
