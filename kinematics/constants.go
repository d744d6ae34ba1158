package kinematics

// The table of what rests on rendered clips of known truth and belongs to no one network
// ([Calibration] holds what does): each constant with its unit and what it was measured
// on. The three bodies are the two of the project's clips and a third that was seen when
// the sums of jump and foot were settled; their figures hold for jumps at 30, 60 and 120
// frames a second. Whoever changes one runs scripts/accuracy.

// Times of events and their errors.
const (
	// lateTakeoffS (s) is by how much the break in the toe's way reads late at a take-off,
	// earlyContactS (s) early at a contact: the foot leaves the floor without speed and
	// gathers it as the legs stop stretching, and is slowed by them before it lands.
	// lateTakeoffSDS (s) is what makes a take-off less sure than a contact: a network lets
	// the toe point of a foot on its tip creep up in one body and not in another. Jumps of
	// three bodies: 17, 16 and -2 ms at take-off, 9, 5 and 3 ms at contact, of which these
	// are the medians.
	lateTakeoffS, lateTakeoffSDS, earlyContactS = 0.016, 0.006, 0.005
	// eventFrames (frames) is the error of a fitted event, better than one frame;
	// eventFloorS (s) what stays of it at any rate, because a network rounds the break in
	// the toe's way off. Jumps of two bodies.
	eventFrames, eventFloorS = 0.5, 0.008
	// softEnd (part) is to what part of its soft end the fit of a whole descent finds the
	// end, see [motion.timeSDs]. Squats of two bodies at 30, 60 and 120 frames a second.
	softEnd = 0.3
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
	// rollFlightSD (degrees) is how far the vertical from a flight is off: 0.8 to 1.1 in all
	// flights alike, so that more flights do not make it surer. Jumps of two bodies.
	rollFlightSD = 1.2
	// viewWidth (trunk lengths) is the width of the shoulders and that of the hips, between
	// a network's points, added up. Squats of two bodies turned by 0 to 45 degrees to either
	// side, tracked with two networks.
	viewWidth = 1.16
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
	// supportSEMPct and heelSEMPct (per cent of the foot) are the standard errors of one
	// reading of support point and heel rise. Clips of two bodies.
	supportSEMPct, heelSEMPct = 5.0, 2.0
)

// supportTries are the smoothings at which the acceleration of the body is tried (Hz),
// and the least noise of the support point under each (standard deviations of the centre
// of mass): a short stand may show too little. Clips of two bodies.
var supportTries = []struct{ cutoffHz, noise float64 }{{1.5, 4}, {3, 6}, {6, 11}}

// The freedoms and bounds of the fit, tuned on the clips of two bodies;
// each may be halved or doubled with little change of the errors. Common
// practice, no source.
const (
	bodyRounds      = 40
	noiseRounds     = 8 // rounds after which the noise is settled
	openPitchRounds = 4 // first rounds, in which the pitch is nearly free
	bodyConverged   = 1e-6
	// settleRounds rounds that change nothing by more than bodySettled (leg lengths
	// or radians, 0.03 degrees) are the last ones.
	settleRounds = 4
	bodySettled  = 5e-4

	// studentNu is the degrees of freedom of the points' noise.
	studentNu = 4.0
	// noiseFloor keeps the equations solvable for points without noise, leg
	// lengths.
	noiseFloor = 1e-6
	// heldSD is the standard deviation, in leg lengths, of a point that a coach put
	// right. A hand is not as good as that; but the body's lengths tie the point to
	// its neighbours, and those are seen in a dozen frames for its one.
	heldSD = 0.0005
	// quietSD is how far a point may lie beside the network's usual spread
	// before its weight falls; the network's own figure is a width of its heat
	// map and no more than a hint.
	quietSD, wildSD = 1.0, 4.0

	// Points further than this from the median of their neighbours are left out
	// of the first guess: leg lengths, standard deviations, seconds to either side.
	outlierMin, outlierSDs, outlierSpanS = 0.05, 5.0, 0.07

	// The segments' accelerations: at rest, degrees a second squared, and as a
	// multiple of what the first guess shows within accelSpanS seconds.
	restAccelDeg = 20.0
	accelGain    = 2.0
	accelSpanS   = 0.08
	// The same of the pitch, on the floor and about take-off and contact.
	pitchAccelDeg    = 100.0
	pitchAirAccelDeg = 6000.0

	// How far the ball of the foot and the body's size wander, by the square
	// root of a second: planted, and in the air. A step of more than stepSDs
	// loses its weight: people do step.
	plantedWalk, airWalk = 0.002, 3.0
	scaleWalk, scaleAir  = 0.002, 0.03
	stepSDs              = 3.0
	airAccel             = 60.0 // leg lengths a second squared
	scaleSD              = 0.03
	airMarginS           = 0.04 // beside a flight the foot may already move

	// The pitch on the floor, degrees: spread while flat, where that fades, and
	// how far the foot may sink into the floor; spread in the air.
	flatPitchDeg = 0.6
	flatReachDeg = 1.0
	sunkPitchDeg = 0.3
	openPitchDeg = 10.0
	airPitchDeg  = 60.0

	lengthSD = 0.1 // leg lengths about the first guess
	// shortestSegment is the length, in leg lengths, under which a segment has no
	// direction.
	shortestSegment = 0.02
	turnSD          = 30 // radians: keeps a segment that is never seen solvable

	// postures is how many independent postures a clip shows: standing and the
	// bottom, again and again.
	postures = 4.0
)
