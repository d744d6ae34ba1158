package kinematics

import "holdfast/kinematics/body"

// Observation is what was seen of the athlete in one frame.
type Observation struct {
	// TimeS is the frame's presentation time in seconds.
	TimeS float64
	// Points holds both sides: Points[body.Left][body.Knee] is the athlete's left knee.
	Points [2][body.NumLandmarks]body.Point
	// Depth is the network's depth guess of each side's shoulder and hip
	// together (mean), smaller is nearer to the camera; NaN when unknown.
	Depth [2]float64
	// Damaged says that the frame could not be read; it has no points.
	Damaged bool
	// Corrections are the points that a coach put right in this frame.
	Corrections []Correction
}
