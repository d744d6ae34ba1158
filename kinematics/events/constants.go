package events

// What rests on rendered clips of known truth and belongs to no one network.
const (
	// lateTakeoffS (s) is by how much the break in the toe's way reads late at a take-off,
	// earlyContactS (s) early at a contact: the foot leaves the floor without speed and
	// gathers it as the legs stop stretching, and is slowed by them before it lands. Jumps
	// of three bodies: 17, 16 and -2 ms at take-off, 9, 5 and 3 ms at contact, of which
	// these are the medians.
	lateTakeoffS, earlyContactS = 0.016, 0.005
)
