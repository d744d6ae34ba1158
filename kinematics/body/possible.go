package body

import "math"

// Bounds are the lowest and the highest value that is believed.
type Bounds struct{ Low, High float64 }

// Hold says whether a value lies within the bounds. One that is not known does not.
func (b Bounds) Hold(x float64) bool { return x >= b.Low && x <= b.High }

// Believed returns the value where it lies within the bounds, else NaN.
func (b Bounds) Believed(x float64) float64 {
	if b.Hold(x) {
		return x
	}
	return math.NaN()
}

// AnglePossible is what an angle of a healthy body may read.
type AnglePossible struct {
	// Deg bounds the angle itself, against the athlete's own standing; MostRangeDeg what it
	// goes through in one rep while the foot bears load.
	Deg          Bounds
	MostRangeDeg float64
	// MostDegS bounds its rate of change, either way, in degrees a second.
	MostDegS float64
	// MostHalfDeg is half of the widest 95 % interval that still tells anything: a third of
	// the range that handbooks give.
	MostHalfDeg float64
}

// Possible is the table of what anatomy and physics allow. What lies beyond it is no
// measurement: a bound never changes a number, it makes a reading unknown.
//
// Joints have the ranges of handbooks and a margin: the handbooks' are those of most people
// and not of the most mobile, and a network's points lie beside the joints. Ranges: AAOS
// 1965 (knee 0 to 135 degrees with 10 of hyperextension, hip -30 to 120, ankle 20 of
// dorsiflexion and 50 of plantarflexion; from memory) and Soucie et al. 2011 (passive,
// adults: knee to 142, hip to 134; from memory). The hip's angle is counted to the line
// from hip to shoulder, so that the back's own bend is in it. In a lunge under load the
// ankle gives up to 50 degrees (common practice, no source).
//
// Arms: shoulder flexion 0 to 180 degrees with 60 of extension, elbow 0 to 150 (38 CFR 4.71: 0 to 145; Soucie et al.
// 2011: 169 to 172 and 145 to 150; from memory), with a margin for shoulders whose trunk leans back under the arm.
// A throw straightens the elbow at 2300 degrees a second (Fleisig et al. 1995, from memory); a press is slower.
//
// In jumps the knee straightens at 800 to 1000 degrees a second and the ankle as fast
// (Bobbert & van Ingen Schenau 1988, from memory).
var Possible = [NumAngles]AnglePossible{
	KneeFlexion:       {Bounds{-10, 165}, 165, 1500, 45},
	HipFlexion:        {Bounds{-35, 165}, 175, 1500, 45},
	AnkleDorsiflexion: {Bounds{-75, 60}, 80, 1500, 25},
	ShankAngle:        {Bounds{-60, 85}, 120, 1500, 45},
	TrunkLean:         {Bounds{-50, 130}, 160, 1500, 45},
	ThighAngle:        {Bounds{-135, 65}, 180, 1500, 45},
	FootPitch:         {Bounds{-100, 45}, 110, 1500, 25},
	ShoulderFlexion:   {Bounds{-80, 225}, 250, 2000, 60},
	ElbowFlexion:      {Bounds{-25, 170}, 175, 3000, 50},
}

// Lengths of the body, as seen from the side. A thigh is 0.245 of the height, a shank 0.246
// and a foot 0.152 (Drillis & Contini, in Winter; from memory); the margins are for points
// that lie beside the joints, for a foot point inside the shoe, and for the view.
var (
	// ThighOverShank is the length of the thigh over that of the shank.
	ThighOverShank = Bounds{0.6, 1.6}
	// FootOverLeg is the distance of heel and toe point over thigh plus shank.
	FootOverLeg = Bounds{0.12, 0.45}
	// LegM is the length of thigh plus shank in metres: 0.491 of a height of 1.2 to 2.2 m,
	// widened by a fifth.
	LegM = Bounds{0.49, 1.3}
)

// A jump. The highest standing jumps raise the body by about a metre (common practice, no
// source): a flight of 0.9 s.
var (
	// FlightS is the time in the air.
	FlightS = Bounds{0.05, 1}
	// RiseM is how far the centre of mass rises after take-off, over its place in standing,
	// or by flight time.
	RiseM = Bounds{0, 1.25}
	// RiseOverFlightHeight is the rise over what the flight time gives for a landing as tall
	// as the take-off: who lands folded falls longer than he rose.
	RiseOverFlightHeight = Bounds{0.3, 1.7}
)

// The foot on the floor, in per cent of its length with the shoe.
var (
	// FootRisePct is how far heel or toe are up while the foot bears the body: the whole
	// length for a foot on end. HeelOverFloorPct counts a jump in.
	FootRisePct, HeelOverFloorPct = Bounds{0, 100}, Bounds{0, 700}
	// FootWayPct is how far a foot slides in a stance, or the knee lies before or behind
	// its tip.
	FootWayPct = Bounds{-250, 250}
	// SupportPct is where the weight acts: it cannot act off the foot.
	SupportPct = Bounds{0, 100}
)

// Tells says whether a number with this 95 % interval tells anything of itself: the interval
// is no wider than the number is large.
func Tells(value float64, interval95 [2]float64) bool {
	return interval95[1]-interval95[0] <= math.Abs(value)
}
