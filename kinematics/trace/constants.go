package trace

// What rests on rendered clips of known truth and belongs to no one network.
const (
	// rollFlightSD (degrees) is how far the vertical from a flight is off: 0.8 to 1.1 in all
	// flights alike, so that more flights do not make it surer. Jumps of two bodies.
	rollFlightSD = 1.2
	// ViewWidth (trunk lengths) is the width of the shoulders and that of the hips, between
	// a network's points, added up. Squats of two bodies turned by 0 to 45 degrees to either
	// side, tracked with two networks.
	ViewWidth = 1.16
)

const (
	GravityMS2 = 9.81

	// liftLegLengths is how far a foot point must rise over its own ground level
	// to be off the floor: 2 cm on a leg of 0.8 to 0.9 m. Common practice, no
	// source; the noise bound below may raise it.
	liftLegLengths = 0.025
	liftNoiseSDs   = 3
	// MinFlightS is the shortest flight.
	MinFlightS = 0.08
	// A leg is 0.45 to 0.53 of a stature of 1.4 to 2.1 m (segment lengths after
	// Drillis & Contini, from memory), widened by a fifth because the hip is not
	// the centre of mass.
	MinLegM = 0.45 * 1.4 / 1.2
	MaxLegM = 0.53 * 2.1 * 1.2
)
