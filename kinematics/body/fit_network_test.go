package body

// bodyNetwork is the calibration of a network whose points err as those that the scenes
// make up do.
func bodyNetwork() Calibration {
	foot := Displacement{UpPerRad: -0.006}
	return Calibration{
		Offsets: [NumLandmarks]PointOffset{
			Shoulder: {Mean: Displacement{Fwd: 0.0075}, SD: Displacement{0.010, 0.020, 0.007, 0.009}},
			Hip:      {Mean: Displacement{Fwd: 0.021}, SD: Displacement{0.012, 0.020, 0.006, 0.009}},
			Knee:     {SD: Displacement{0.008, 0.008, 0.006, 0.005}},
			Ankle:    {Mean: foot, SD: Displacement{0.008, 0.015, 0.012, 0.006}},
			Heel:     {Mean: foot, SD: Displacement{0.008, 0.010, 0.007, 0.0035}},
			Toe:      {Mean: foot, SD: Displacement{0.020, 0.010, 0.012, 0.006}},
		},
		HeelLag: 0.33, HeelLagToDeg: 12, WanderLegs: 0.006, FlatFootSDDeg: 1,
	}
}
