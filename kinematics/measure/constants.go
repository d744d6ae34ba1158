package measure

// The table of what rests on rendered clips of known truth and belongs to no one network
// ([body.Calibration] holds what does): each constant with its unit and what it was measured
// on. The three bodies are the two of the project's clips and a third that was seen when
// the sums of jump and foot were settled; their figures hold for jumps at 30, 60 and 120
// frames a second. Whoever changes one runs scripts/accuracy.

// Times of events and their errors.
const (
	// softLanding (part) is the same of a landing, which dies away into its bottom so that
	// the last 5 hundredths of a second are lost in the noise. Landings of three bodies.
	softLanding = 1.2
	// postureSDLegs (leg lengths) is the standard deviation of how much taller the athlete
	// is at one end of the flight than at the other, by a network's points. Jumps of three
	// bodies: it moves the middle of a flight by 6 ms.
	postureSDLegs = 0.03
)

// Vertical, view and scale.
const (
	// heightSD (part) is the standard deviation of the scale from the height: of the crown's
	// allowance, of the points, and of a posture that is not quite tall. Clips of two
	// bodies: 1 to 2 %.
	heightSD = 0.02
	// jumpSD (part) is the standard deviation of the scale from one flight beyond the fit's
	// own: the points of a body that folds and stretches in the air are off by more at one
	// end. jumpSharedSD is the share of it that all flights of a clip have in common. Jumps
	// of three bodies: +3, -7 and +5 %.
	jumpSD, jumpSharedSD = 0.05, 0.045
)

// Foot, centre of mass and support point.
const (
	// shoeBehindHeel and shoeBeyondToe (parts of the distance between heel and toe point)
	// are how far the shoe reaches past the points, shoeEndSD how well that is known. Two
	// bodies in shoes: the heel point lies 30 to 40 mm before the back of the heel, the toe
	// point 15 to 30 mm behind the tip. The points of networks trained on photographs are
	// put well inside the foot.
	shoeBehindHeel, shoeBeyondToe, shoeEndSD = 0.155, 0.10, 0.04
	// riseSDPart (part of the foot's length) is the standard deviation of a rise of heel or
	// toe: 6 mm. Clips of three bodies.
	riseSDPart = 0.021
	// guessedRisePart (part of the rise) is what is added where a heel's rise is read off the points alone, which
	// follow the heel by as much as each network and shoe will: ten reps of five athletes of the calibrate set, heels
	// up by 3 to 13 cm, were off by 1.1 cm rms for the 0.4 of those whose pitch the shoe's picture told. guessedS is
	// how near to the largest rise a picture counts.
	guessedRisePart, guessedS = 0.1, 0.05
	// slideSDLegs (leg lengths) is the standard deviation of a slide of the foot. Squats of
	// two bodies whose foot never moved.
	slideSDLegs = 0.015
	// staggerLegs (leg lengths): feet whose ankles lie nearer to one another along the floor
	// stand side by side. A network misplaces the hidden ankle by up to 4 cm. Clips of two
	// bodies.
	staggerLegs = 0.045
	// massWanderLegs (leg lengths) is the standard deviation of an error of the centre of
	// mass that stays while a position is held and differs between positions. Clips of two
	// bodies.
	massWanderLegs = 0.01
	// movingNoise (part) is by how much points are rougher in movement than standing still.
	// Clips of two bodies.
	movingNoise = 2.2
	// SupportSEMPct and heelSEMPct (per cent of the foot) are the standard errors of one
	// reading of support point and heel rise. Clips of two bodies.
	SupportSEMPct, HeelSEMPct = 5.0, 2.0
)

// supportTries are the smoothings at which the acceleration of the body is tried (Hz),
// and the least noise of the support point under each (standard deviations of the centre
// of mass): a short stand may show too little. Clips of two bodies.
var supportTries = []struct{ cutoffHz, noise float64 }{{1.5, 4}, {3, 6}, {6, 11}}

func sq(x float64) float64 { return x * x }
