package body

// BallLegLengths bounds the lever from the heel point to the ball of the
// foot, about which the heel turns as it comes up.
const BallLegLengths = 0.235

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
	// stillSD is how far anything may move that no correction touches, leg lengths or
	// radians: not at all, as far as the equations can be solved.
	stillSD = 1e-7
	// ledAccel is how quickly a segment may turn where a hand leads it, radians a second
	// squared for each leg length of the way: that of half a leg whose end goes there
	// and back, as half a cosine, within 0.15 s to either side.
	ledAccel = 440.0
	// smallestSpread is how far a point may lie beside the network's usual spread
	// before its weight falls; the network's own figure is a width of its heat
	// map and no more than a hint.
	smallestSpread, largestSpread = 1.0, 4.0

	// Points further than this from the median of their neighbours are left out
	// of the first guess: leg lengths, standard deviations, seconds to either side.
	outlierMin, outlierSDs, outlierSpanS = 0.05, 5.0, 0.07

	// The segments' accelerations: at rest, degrees a second squared, and as a
	// multiple of what the first guess shows within accelSpanS seconds.
	restAccelDeg = 20.0
	accelGain    = 2.0
	accelSpanS   = 0.08
	// The same of the pitch, on the floor, there where it was measured, and about take-off
	// and contact.
	pitchAccelDeg      = 100.0
	pitchKnownAccelDeg = 2000.0
	pitchAirAccelDeg   = 6000.0

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
	// PitchJitterPart is the part of a measured pitch's spread that differs from frame to
	// frame; the rest stays alike, and averaging must not make it go away.
	PitchJitterPart = 0.4

	lengthSD = 0.1 // leg lengths about the first guess
	// shortestSegment is the length, in leg lengths, under which a segment has no
	// direction.
	shortestSegment = 0.02
	turnSD          = 30 // radians: keeps a segment that is never seen solvable

	// postures is how many independent postures a clip shows: standing and the
	// bottom, again and again.
	postures = 4.0
)
