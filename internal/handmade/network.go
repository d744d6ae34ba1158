// Package handmade holds what tests of several rooms of the sums make by hand.
package handmade

import "holdfast/kinematics/body"

// Network returns the calibration of a network whose points err as those that the tests
// make up do.
func Network() body.Calibration {
	foot := body.Displacement{UpPerRad: -0.006}
	c := body.Calibration{
		Offsets: [body.NumLandmarks]body.PointOffset{
			body.Shoulder: {Mean: body.Displacement{Fwd: 0.0075}, SD: body.Displacement{Fwd: 0.010, Up: 0.020, FwdPerRad: 0.007,
				UpPerRad: 0.009}},
			body.Hip: {Mean: body.Displacement{Fwd: 0.021}, SD: body.Displacement{Fwd: 0.012, Up: 0.020, FwdPerRad: 0.006,
				UpPerRad: 0.009}},
			body.Knee:  {SD: body.Displacement{Fwd: 0.008, Up: 0.008, FwdPerRad: 0.006, UpPerRad: 0.005}},
			body.Ankle: {Mean: foot, SD: body.Displacement{Fwd: 0.008, Up: 0.015, FwdPerRad: 0.012, UpPerRad: 0.006}},
			body.Heel:  {Mean: foot, SD: body.Displacement{Fwd: 0.008, Up: 0.010, FwdPerRad: 0.007, UpPerRad: 0.0035}},
			body.Toe:   {Mean: foot, SD: body.Displacement{Fwd: 0.020, Up: 0.010, FwdPerRad: 0.012, UpPerRad: 0.006}},
		},
		HeelLag: 0.33, HeelLagToDeg: 12, FootSinkLegsPerDeg: 0.0015,
		ErrorTimeS: 0.09, WanderFloorLegs: 0.001, WanderLegs: 0.006,
		FlatFootSDDeg: 1, LiftedFootSDDeg: 1.8, AirFootSDDeg: 6, ViewSDDeg: 4,
		Confidence: body.ConfidenceLimits{Good: 0.7, Low: 0.5, Lost: 0.3},
	}
	c.Errors[body.SmootherFilter] = [body.NumAngles]body.AngleError{
		body.KneeFlexion:       {ClipDeg: 2.8, PostureDeg: 1.4, LiftedDeg: 0},
		body.HipFlexion:        {ClipDeg: 4.3, PostureDeg: 1.8, LiftedDeg: 0},
		body.AnkleDorsiflexion: {ClipDeg: 3.0, PostureDeg: 1.2, LiftedDeg: 7},
		body.ShankAngle:        {ClipDeg: 1.8, PostureDeg: 1.0, LiftedDeg: 0},
		body.TrunkLean:         {ClipDeg: 0.6, PostureDeg: 0.9, LiftedDeg: 0},
		body.ThighAngle:        {ClipDeg: 3.7, PostureDeg: 1.4, LiftedDeg: 0},
		body.FootPitch:         {ClipDeg: 0, PostureDeg: 1.0, LiftedDeg: 7},
	}
	c.Errors[body.SmootherBody] = [body.NumAngles]body.AngleError{
		body.KneeFlexion:       {ClipDeg: 3.0, PostureDeg: 1.7, LiftedDeg: 0},
		body.HipFlexion:        {ClipDeg: 2.7, PostureDeg: 1.6, LiftedDeg: 0},
		body.AnkleDorsiflexion: {ClipDeg: 2.6, PostureDeg: 1.2, LiftedDeg: 3.3},
		body.ShankAngle:        {ClipDeg: 1.8, PostureDeg: 1.0, LiftedDeg: 0},
		body.TrunkLean:         {ClipDeg: 0.8, PostureDeg: 0.9, LiftedDeg: 0},
		body.ThighAngle:        {ClipDeg: 3.0, PostureDeg: 1.4, LiftedDeg: 0},
		body.FootPitch:         {ClipDeg: 0, PostureDeg: 1.0, LiftedDeg: 3.3},
	}
	return c
}
