package kinematics

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
)

// Unit is what a number is counted in, as the documents name it.
type Unit string

// The units of what is compared.
const (
	Degrees   Unit = "degrees"
	PctOfFoot Unit = "% of foot"
)

// Figure is a number of a table and where it is from.
type Figure struct {
	Value  float64
	Source string
}

// Quantity is something that is compared of reps: a row of the tables of angles, joints and
// positions. Its figures are in its unit.
type Quantity struct {
	Key   string // in the documents
	Unit  Unit
	Words string // a short English name
	Plain string // the same for people outside of the trade
	// Worse says which way a change is a loss: +1 when less is worse, -1 when more is, 0
	// when both are a change.
	Worse int
	// SEM is the standard error of one reading that is assumed where too few reps show
	// their own spread, Smallest the smallest change that matters, OccasionSD how far a
	// reading of one occasion is off that of another though the athlete did not change
	// (camera, clothes, time of day), as a standard deviation of each.
	SEM, Smallest, OccasionSD Figure
}

func (q Quantity) options() stats.Options {
	return stats.Options{SmallestChange: q.Smallest.Value, SEM: q.SEM.Value, OccasionSD: q.OccasionSD.Value}
}

// DefaultSmallestChangeDeg is the smallest change of an angle that matters.
const DefaultSmallestChangeDeg = 5

// angleRow is the row of an angle: all have the figures of a range of motion in degrees.
func angleRow(key, words string, worse int) Quantity {
	return Quantity{Key: key, Unit: Degrees, Words: words, Plain: words, Worse: worse,
		SEM: Figure{3, "common practice, no source: markerless studies report 4 to 8 degrees of error on a single frame, " +
			"the greater part of which is the same in both conditions and cancels"},
		Smallest: Figure{DefaultSmallestChangeDeg, "common practice, no source: of the size of the smallest change that repeated " +
			"lunge measurements detect (4.6 degrees, Powden et al. 2015)"},
		OccasionSD: Figure{4.6 / (1.96 * math.Sqrt2), "from the smallest detectable change of 4.6 degrees that repeated weight-bearing " +
			"lunge measurements of different testers show (Powden et al. 2015): 4.6 / (1.96 sqrt 2)"},
	}
}

// footRow is the row of a position of the foot, whose figures belong to it alone. Shoes and
// camera differ between occasions, by as much as the error of a reading.
func footRow(key, words, plain string, worse int, sem, smallest float64) Quantity {
	return Quantity{Key: key, Unit: PctOfFoot, Words: words, Plain: plain, Worse: worse,
		SEM:        Figure{sem, "clips of two bodies"},
		Smallest:   Figure{smallest, "common practice, no source"},
		OccasionSD: Figure{sem, "as large as the error of a reading; common practice, no source"},
	}
}

// angleTable holds the angles. Signs and zeros are in the package comment.
var angleTable = [body.NumAngles]Quantity{
	body.KneeFlexion:       angleRow(body.KneeFlexion.String(), "Knee flexion", 1),
	body.HipFlexion:        angleRow(body.HipFlexion.String(), "Hip flexion", 1),
	body.AnkleDorsiflexion: angleRow(body.AnkleDorsiflexion.String(), "Ankle dorsiflexion", 1),
	body.ShankAngle:        angleRow(body.ShankAngle.String(), "Shank angle", 0),
	body.TrunkLean:         angleRow(body.TrunkLean.String(), "Trunk lean", 0),
	body.ThighAngle:        angleRow(body.ThighAngle.String(), "Thigh angle", 0),
	body.FootPitch:         angleRow(body.FootPitch.String(), "Foot pitch", 0),
}

// jointTable holds the joints, by their ranges of motion.
var jointTable = [body.NumJoints]Quantity{
	body.AnkleJoint: angleRow(body.AnkleJoint.String(), "Ankle", 1),
	body.KneeJoint:  angleRow(body.KneeJoint.String(), "Knee", 1),
	body.HipJoint:   angleRow(body.HipJoint.String(), "Hip", 1),
}

// positionTable holds the positions at the bottom, and the angle that those of joints and
// trunk are read from.
var positionTable = [NumPositions]struct {
	Quantity
	angle body.Angle // NumAngles: none
}{
	PositionSupport: {footRow("support_point", "Support point", "Weight on foot", 0, measure.SupportSEMPct, 15), body.NumAngles},
	PositionHeel:    {footRow("heel_rise", "Heel rise", "Heel rise", -1, measure.HeelSEMPct, heelSmallestPct), body.NumAngles},
	PositionAnkle:   {angleRow("ankle", "Ankle", 1), body.AnkleDorsiflexion},
	PositionKnee:    {angleRow("knee", "Knee", 1), body.KneeFlexion},
	PositionHip:     {angleRow("hip", "Hip", 1), body.HipFlexion},
	PositionTrunk:   {angleRow("trunk", "Trunk lean", 0), body.TrunkLean},
}

// heelSmallestPct is the smallest heel rise that matters, per cent of the foot.
const heelSmallestPct = 7.0

// unknownQuantity is the row of what is in no table.
var unknownQuantity = Quantity{Key: "unknown", Words: "Unknown", Plain: "Unknown"}

// AngleQuantity returns the row of an angle.
func AngleQuantity(a body.Angle) Quantity {
	if a < 0 || a >= body.NumAngles {
		return unknownQuantity
	}
	return angleTable[a]
}

// JointQuantity returns the row of a joint.
func JointQuantity(j body.Joint) Quantity {
	if j < 0 || j >= body.NumJoints {
		return unknownQuantity
	}
	return jointTable[j]
}

// PositionQuantity returns the row of a position.
func PositionQuantity(p Position) Quantity {
	if p < 0 || p >= NumPositions {
		return unknownQuantity
	}
	return positionTable[p].Quantity
}

// ParseAngle returns the angle of a key; ok is false for another text.
func ParseAngle(key string) (a body.Angle, ok bool) {
	for a := range body.NumAngles {
		if angleTable[a].Key == key {
			return a, true
		}
	}
	return body.NumAngles, false
}

// ParsePosition returns the position of a key; ok is false for another text.
func ParsePosition(key string) (p Position, ok bool) {
	for p := range NumPositions {
		if positionTable[p].Key == key {
			return p, true
		}
	}
	return NumPositions, false
}

// Position numbers a position that the ladder follows from condition to condition.
type Position int

// The positions, at the bottom, from the ground up.
const (
	PositionSupport Position = iota // the support point
	PositionHeel                    // the rise of the heel
	PositionAnkle
	PositionKnee
	PositionHip
	PositionTrunk
	NumPositions
)

// String returns the position's name in snake case.
func (p Position) String() string { return PositionQuantity(p).Key }

// angle returns the angle that the position is read from; ok is false for one of the foot.
func (p Position) angle() (a body.Angle, ok bool) {
	if p < 0 || p >= NumPositions {
		return body.NumAngles, false
	}
	a = positionTable[p].angle
	return a, a < body.NumAngles
}

// Movement says what counts in a movement: the joints whose ranges are compared and the
// positions that the ladder follows, from the ground up. It is a plain value: whoever adds
// a movement passes another one in [CompareOptions].
type Movement struct {
	Key       string
	Joints    []body.Joint
	Positions []Position
}

// Squat returns the movement that all others are measured by so far: squats, and jumps from
// and into one.
func Squat() Movement {
	return Movement{Key: "squat", Joints: []body.Joint{body.AnkleJoint, body.KneeJoint, body.HipJoint},
		Positions: []Position{PositionSupport, PositionHeel, PositionAnkle, PositionKnee, PositionHip, PositionTrunk}}
}
