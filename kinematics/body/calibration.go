package body

// Calibration is what was settled for one pose network: where it puts its points and
// how large its errors are. It comes from outside as a plain value; the zero value
// stands for a network of which nothing is known, see [Uncalibrated]. Lengths are leg
// lengths (thigh plus shank).
type Calibration struct {
	// Offsets says, for shoulder, hip, knee, ankle, heel and toe, how far beside the
	// joint the network puts the point.
	Offsets [NumLandmarks]PointOffset
	// HeelLag is the part of a heel's rise off the floor that the network does not
	// show, up to a foot's pitch of HeelLagToDeg degrees.
	HeelLag, HeelLagToDeg float64
	// FootSinkLegsPerDeg bounds how far heel and ankle point of a flat foot may sink in
	// the picture for each degree that the shank leans.
	FootSinkLegsPerDeg float64
	// ErrorTimeS is the time in seconds over which an error of the points stays alike:
	// its autocorrelation falls to 1/e.
	ErrorTimeS float64
	// WanderFloorLegs is the smallest wander of a point that is believed, WanderLegs the
	// standard deviation of the part of a point's error that stays while the body holds
	// a position and differs from position to position.
	WanderFloorLegs, WanderLegs float64
	// Errors are the errors of a range of motion, by the smoother of the points.
	Errors [2][NumAngles]AngleError
	// FlatFootSDDeg is the standard deviation, in degrees, of the pitch of a foot that
	// lies on the floor, LiftedFootSDDeg of one whose heel is up, AirFootSDDeg of the
	// heel-toe line in the air.
	FlatFootSDDeg, LiftedFootSDDeg, AirFootSDDeg float64
	// ViewSDDeg is the standard deviation, in degrees, of the camera's turn as the
	// Points tell it near side-on.
	ViewSDDeg  float64
	Confidence ConfidenceLimits
}

// Smoother says how the near side's points are smoothed.
type Smoother int

// The smoothers. SmootherBody fits one body, of constant segment lengths and with
// feet that do not slide on the floor, to the whole clip; where it cannot, and for
// the far side and the arms, points are filtered. SmootherFilter filters every
// point by itself.
const (
	SmootherBody Smoother = iota
	SmootherFilter
)

// String returns "body" or "filter".
func (s Smoother) String() string {
	if s == SmootherFilter {
		return "filter"
	}
	return "body"
}

// PointOffset says where a network puts a point, seen from the joint: Mean is what is
// usual, SD by how much athletes differ.
type PointOffset struct{ Mean, SD Displacement }

// Displacement is a way forward and up in leg lengths: so much in every posture, and so
// much more for each radian of knee flexion.
type Displacement struct{ Fwd, Up, FwdPerRad, UpPerRad float64 }

// AngleError holds standard deviations, in degrees, of what the network's error does to
// a range of motion: ClipDeg is the part that every tempo of an athlete shares and that
// cancels in what is lost, PostureDeg the part that differs between positions.
// LiftedDeg joins PostureDeg (root of the sum of squares) where the heel is up by
// [LiftedAtDeg] while the leg is bent deep, and in proportion where it is up more or less.
// RepDeg is what a single rep has beside the noise of its points: the mean of several has less of it.
type AngleError struct{ ClipDeg, PostureDeg, LiftedDeg, RepDeg float64 }

// ArmErrors are those of the angles of the arm, whatever the network: from presses of six invented athletes, slow and
// fast, three reps a clip. Networks draw an arm behind the head upright, and bend the elbow more where hands are at
// the shoulders.
var ArmErrors = map[Angle]AngleError{
	ShoulderFlexion: {ClipDeg: 4, PostureDeg: 5},
	ElbowFlexion:    {ClipDeg: 7, PostureDeg: 6},
}

// LiftedAtDeg is the foot's pitch, degrees, at which an error is [AngleError.LiftedDeg].
const LiftedAtDeg = 15.0

// ConfidenceLimits are confidences, 0 to 1: a point below Low is doubted, a leg below
// Good is no longer well seen, a point below Lost is of no use.
type ConfidenceLimits struct{ Good, Low, Lost float64 }

// Uncalibrated returns what is assumed of a network that was never measured. The error of
// an angle is the largest published one of single cameras and open pose networks, seen
// from the side: knee 8 degrees root mean square (Van Hooren 2023) and the hip as much (6
// there, but agreement in a squat is worst at the hip: Ota 2020), ankle 9.3 (a mean
// absolute error of 7.4, Stenum 2021, times 1.25 as in a normal distribution). Half of its
// variance is taken to differ between positions, so that what is lost between two tempos
// is as unsure as an angle; with a lifted heel the ankle has all of it. Nothing is assumed
// of the side to which points lie. All else is about twice what open networks showed on
// rendered clips. Common practice, no source.
func Uncalibrated() Calibration {
	c := Calibration{
		HeelLagToDeg: 12, FootSinkLegsPerDeg: 0.003, ErrorTimeS: 0.18, WanderFloorLegs: 0.002, WanderLegs: 0.012,
		FlatFootSDDeg: 2, LiftedFootSDDeg: 4, AirFootSDDeg: 12, ViewSDDeg: 8,
		Confidence: ConfidenceLimits{Good: 0.7, Low: 0.5, Lost: 0.3},
	}
	for _, p := range FitLandmarks {
		c.Offsets[p].SD = Displacement{Fwd: 0.02, Up: 0.02, FwdPerRad: 0.012, UpPerRad: 0.009}
	}
	both := func(deg float64) AngleError { return AngleError{ClipDeg: deg, PostureDeg: deg} }
	wide := [NumAngles]AngleError{
		KneeFlexion: both(5.7), HipFlexion: both(5.7), ShankAngle: both(4.0), TrunkLean: both(4.0), ThighAngle: both(5.7),
		AnkleDorsiflexion: {ClipDeg: 6.6, PostureDeg: 6.6, LiftedDeg: 9.3},
		FootPitch:         {PostureDeg: 6.6, LiftedDeg: 9.3},
	}
	c.Errors = [2][NumAngles]AngleError{SmootherBody: wide, SmootherFilter: wide}
	return c
}

// OrAssumed returns the calibration, what is assumed of a network where there is none.
func (c Calibration) OrAssumed() Calibration {
	if c == (Calibration{}) {
		return Uncalibrated()
	}
	return c
}

// FitOffsets returns the offsets in the order of the body's points.
func (c *Calibration) FitOffsets() FitOffsets {
	var out FitOffsets
	for p, k := range FitLandmarks {
		o := &c.Offsets[k]
		out[p] = FitOffset{Mean: o.Mean.inOrder(), SD: o.SD.inOrder()}
	}
	return out
}

func (d Displacement) inOrder() [perOffset]float64 {
	return [perOffset]float64{OffsetFwd: d.Fwd, OffsetUp: d.Up, OffsetFwdBend: d.FwdPerRad, OffsetUpBend: d.UpPerRad}
}
