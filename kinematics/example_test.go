package kinematics_test

import (
	"fmt"

	"holdfast/kinematics"
)

// The angles of a squat, from six points in image pixels.
func ExampleAnglesOf() {
	var limb kinematics.Limb
	limb[kinematics.Shoulder] = kinematics.Point{X: 400, Y: 200}
	limb[kinematics.Hip] = kinematics.Point{X: 340, Y: 420}
	limb[kinematics.Knee] = kinematics.Point{X: 500, Y: 440}
	limb[kinematics.Ankle] = kinematics.Point{X: 450, Y: 610}
	limb[kinematics.Heel] = kinematics.Point{X: 415, Y: 650}
	limb[kinematics.Toe] = kinematics.Point{X: 560, Y: 655}
	a := kinematics.AnglesOf(&limb, kinematics.FacingRight)
	fmt.Printf("knee %.1f, hip %.1f, ankle %.1f, shank %.1f, trunk %.1f degrees\n",
		a[kinematics.KneeFlexion], a[kinematics.HipFlexion], a[kinematics.AnkleDorsiflexion],
		a[kinematics.ShankAngle], a[kinematics.TrunkLean])
	// Output: knee 99.3, hip 98.1, ankle 14.4, shank 16.4, trunk 15.3 degrees
}

// What five fast reps lost of five slow ones.
func ExampleCompareReadings() {
	c := kinematics.CompareReadings(
		kinematics.Readings{Deg: []float64{118.2, 116.9, 119.4, 117.5, 118.0}},
		kinematics.Readings{Deg: []float64{108.4, 104.9, 110.1, 106.6, 107.0}},
		kinematics.CompareOptions{})
	fmt.Printf("%.1f degrees slow, %.1f fast, %.1f lost (%.1f to %.1f): %s\n",
		c.Baseline, c.Challenge, c.Lost, c.Interval95[0], c.Interval95[1], c.Verdict)
	// Output: 118.0 degrees slow, 107.4 fast, 10.6 lost (8.2 to 13.0): lost
}
