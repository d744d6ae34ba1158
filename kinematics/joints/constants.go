package joints

// The table of what rests on rendered clips of known truth and belongs to no one network
// ([body.Calibration] holds what does): each constant with its unit and what it was
// measured on. The three bodies are the two of the project's clips and a third that was
// seen when the sums of jump and foot were settled; their figures hold for jumps at 30, 60
// and 120 frames a second. Whoever changes one runs scripts/accuracy.

// Times of events and their errors.
const (
	// lateTakeoffSDS (s) is what makes a take-off less sure than a contact: a network lets
	// the toe point of a foot on its tip creep up in one body and not in another. Jumps of
	// three bodies.
	lateTakeoffSDS = 0.006
	// eventFrames (frames) is the error of a fitted event, better than one frame;
	// eventFloorS (s) what stays of it at any rate, because a network rounds the break in
	// the toe's way off. Jumps of two bodies.
	eventFrames, eventFloorS = 0.5, 0.008
	// softEnd (part) is to what part of its soft end the fit of a whole descent finds the
	// end, see [timeSDs]. Squats of two bodies at 30, 60 and 120 frames a second.
	softEnd = 0.3
)

// footTimeSDS (s) is how well the time is known at which a turning foot is seen as it is: its pitch and the shank
// are read from the picture in different ways, and a frame at 30 a second takes a part of 0.033 s to expose. Where
// the shank follows the foot, the ankle all but still, as in who goes up on the toes, such an error is a movement
// of the ankle that is none. Invented athletes of the calibrate set: the ankle was 2.8 degrees off (rms) where the
// foot turned by 250 degrees a second, 1.6 where it did so by 45.
const footTimeSDS = 0.012

func sq(x float64) float64 { return x * x }
