package body_test

import (
	"fmt"

	"holdfast/kinematics/body"
)

// The angles of a squat, from six points in image pixels.
func ExampleAnglesOf() {
	var limb body.Limb
	limb[body.Shoulder] = body.Point{X: 400, Y: 200}
	limb[body.Hip] = body.Point{X: 340, Y: 420}
	limb[body.Knee] = body.Point{X: 500, Y: 440}
	limb[body.Ankle] = body.Point{X: 450, Y: 610}
	limb[body.Heel] = body.Point{X: 415, Y: 650}
	limb[body.Toe] = body.Point{X: 560, Y: 655}
	a := body.AnglesOf(&limb, body.FacingRight)
	fmt.Printf("knee %.1f, hip %.1f, ankle %.1f, shank %.1f, trunk %.1f degrees\n",
		a[body.KneeFlexion], a[body.HipFlexion], a[body.AnkleDorsiflexion],
		a[body.ShankAngle], a[body.TrunkLean])
	// Output: knee 99.3, hip 98.1, ankle 14.4, shank 16.4, trunk 15.3 degrees
}
