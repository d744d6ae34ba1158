package kinematics

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/stats"
)

// Unit is what a number is counted in, as the documents name it.
type Unit string

// The units of what is compared.
const (
	Degrees   Unit = "degrees"
	PctOfFoot Unit = "% of foot"
	// PctOfHeight is per cent of the body's height, as the legs tell it.
	PctOfHeight Unit = "% of height"
)

// figure is a number of a table and where it is from.
type figure struct {
	Value  float64
	Source string
}

// Quantity is something that is compared of reps: a row of the tables of angles and
// positions. Its figures are in its unit.
type Quantity struct {
	Key  string // in the documents
	Unit Unit
	// Worse says which way a change is a loss: +1 when less is worse, -1 when more is, 0
	// when both are a change.
	Worse int
	// rep is how far an athlete's readings differ from rep to rep, as a standard deviation, for
	// where few reps show it themselves; smallest the smallest change that matters;
	// occasionSD how far a reading of one occasion is off that of another though the athlete
	// did not change (camera, clothes, time of day), as a standard deviation of each.
	rep, smallest, occasionSD figure
}

// Look returns as what a verdict is to be shown: held, unclear, and for a clear change lost
// where it is for the worse, gained where for the better, moved where it is neither.
func (q Quantity) Look(v stats.Verdict) string {
	switch {
	case v != stats.Lost && v != stats.Gained:
		return string(v)
	case q.Worse == 0:
		return "moved"
	case (v == stats.Lost) == (q.Worse > 0):
		return string(stats.Lost)
	}
	return string(stats.Gained)
}

func (q Quantity) options() stats.Options {
	return stats.Options{SmallestChange: q.smallest.Value, RepSD: q.rep.Value, RepWorth: repWorth,
		OccasionSD: q.occasionSD.Value}
}

// DefaultSmallestChangeDeg is the smallest change of an angle that matters.
const DefaultSmallestChangeDeg = 5

// repWorth is how many degrees of freedom the usual spread from rep to rep is worth: athletes
// differ in it, and with three reps of each a spread fits that is known to so many. Seventeen
// invented athletes, slow and fast.
const repWorth = 6

// angleRow is the row of an angle, whose figures are those of a range of motion in degrees: rep
// is what differs from rep to rep, as the program reads it.
func angleRow(key string, worse int, rep float64) Quantity {
	return Quantity{Key: key, Unit: Degrees, Worse: worse,
		rep: figure{rep, "seventeen invented athletes, three reps slow and three fast: scripts/accuracy -athletes"},
		smallest: figure{DefaultSmallestChangeDeg,
			"common practice, no source: of the size of the smallest change that repeated " +
				"lunge measurements detect (4.6 degrees, Powden et al. 2015)"},
		occasionSD: figure{4.6 / (1.96 * math.Sqrt2),
			"from the smallest detectable change of 4.6 degrees that repeated weight-bearing " +
				"lunge measurements of different testers show (Powden et al. 2015): 4.6 / (1.96 sqrt 2)"},
	}
}

// footRow is the row of a position of the foot, whose figures belong to it alone. Shoes and
// camera differ between occasions, by as much as the error of a reading.
func footRow(key string, worse int, sem, smallest float64) Quantity {
	return Quantity{Key: key, Unit: PctOfFoot, Worse: worse,
		rep:        figure{sem / 2, "clips of two bodies"},
		smallest:   figure{smallest, "common practice, no source"},
		occasionSD: figure{sem, "as large as the error of a reading; common practice, no source"},
	}
}

// stackRow is the row of how far a point is in front of the middle of the foot.
func stackRow(p Position) Quantity {
	return Quantity{Key: p.String(), Unit: PctOfHeight,
		rep:        figure{1, "common practice, no source"},
		smallest:   figure{3, "common practice, no source: 5 cm of a body of 1.7 m"},
		occasionSD: figure{measure.StackSEMPct, "as large as the error of a reading; common practice, no source"},
	}
}

// What differs from rep to rep, degrees.
const (
	ankleRepDeg = 1.3
	kneeRepDeg  = 1.5
	hipRepDeg   = 3.0
	trunkRepDeg = 2.4
	armRepDeg   = 3.0 // as of the hip: presses of one invented athlete differ by less
)

// angleTable holds the angles. Signs and zeros are in the package comment.
var angleTable = [body.NumAngles]Quantity{
	body.KneeFlexion:       angleRow(body.KneeFlexion.String(), 1, kneeRepDeg),
	body.HipFlexion:        angleRow(body.HipFlexion.String(), 1, hipRepDeg),
	body.AnkleDorsiflexion: angleRow(body.AnkleDorsiflexion.String(), 1, ankleRepDeg),
	body.ShankAngle:        angleRow(body.ShankAngle.String(), 0, 1.1),
	body.TrunkLean:         angleRow(body.TrunkLean.String(), 0, trunkRepDeg),
	body.ThighAngle:        angleRow(body.ThighAngle.String(), 0, 2),
	body.FootPitch:         angleRow(body.FootPitch.String(), 0, 1.5),
	body.ShoulderFlexion:   angleRow(body.ShoulderFlexion.String(), 1, armRepDeg),
	body.ElbowFlexion:      angleRow(body.ElbowFlexion.String(), 1, armRepDeg),
}

// positionTable holds the positions at the bottom: a row each with the angle that those of
// joints and trunk are read from.
var positionTable = [movement.NumPositions]struct {
	Quantity
	angle body.Angle // or noAngle
}{
	PositionSupport: {footRow(PositionSupport.String(), 0, measure.SupportSEMPct, 15), noAngle},
	PositionHeel:    {footRow(PositionHeel.String(), -1, measure.HeelSEMPct, heelSmallestPct), noAngle},
	PositionAnkle:   {angleRow(PositionAnkle.String(), 1, ankleRepDeg), body.AnkleDorsiflexion},
	PositionKnee:    {angleRow(PositionKnee.String(), 1, kneeRepDeg), body.KneeFlexion},
	PositionHip:     {angleRow(PositionHip.String(), 1, hipRepDeg), body.HipFlexion},
	PositionTrunk:   {angleRow(PositionTrunk.String(), 0, trunkRepDeg), body.TrunkLean},

	PositionShoulder: {angleRow(PositionShoulder.String(), 1, armRepDeg), body.ShoulderFlexion},
	PositionElbow:    {angleRow(PositionElbow.String(), -1, armRepDeg), body.ElbowFlexion}, // a lock-out is straight

	movement.ArmDown:   {angleRow(movement.ArmDown.String(), -1, armRepDeg), body.ShoulderFlexion},
	movement.ElbowBent: {angleRow(movement.ElbowBent.String(), 1, armRepDeg), body.ElbowFlexion},

	movement.HipOverFoot:      {stackRow(movement.HipOverFoot), noAngle},
	movement.ShoulderOverFoot: {stackRow(movement.ShoulderOverFoot), noAngle},
	movement.WristOverFoot:    {stackRow(movement.WristOverFoot), noAngle},
}

// noAngle stands for the angle of a position that is read from none.
const noAngle = body.NumAngles

// heelSmallestPct is the smallest heel rise that matters, per cent of the foot.
const heelSmallestPct = 7.0

// unknownQuantity is the row of what is in no table.
var unknownQuantity = Quantity{Key: "unknown"}

// AngleQuantity returns the row of an angle.
func AngleQuantity(a body.Angle) Quantity {
	if a < 0 || a >= body.NumAngles {
		return unknownQuantity
	}
	return angleTable[a]
}

// PositionQuantity returns the row of a position.
func PositionQuantity(p Position) Quantity {
	if p < 0 || p >= movement.NumPositions {
		return unknownQuantity
	}
	return positionTable[p].Quantity
}

// PositionOf returns the position of a joint at the bottom.
func PositionOf(j body.Joint) Position {
	return body.ByJoint[Position]{body.AnkleJoint: PositionAnkle, body.KneeJoint: PositionKnee,
		body.HipJoint: PositionHip, body.ShoulderJoint: PositionShoulder, body.ElbowJoint: PositionElbow}[j]
}

// PositionIn returns which of some positions is that of a joint; where none is, what [PositionOf] returns.
func PositionIn(among []Position, j body.Joint) Position {
	for _, p := range among {
		if IsOf(p, j) {
			return p
		}
	}
	return PositionOf(j)
}

// IsOf says whether a position is one of a joint.
func IsOf(p Position, j body.Joint) bool {
	a, ok := angleOf(p)
	return ok && a == j.Angle()
}

// Position numbers a position that the ladder follows from condition to condition.
type Position = movement.Position

// The positions, at the turn, from the ground up.
const (
	PositionSupport  = movement.Support
	PositionHeel     = movement.Heel
	PositionAnkle    = movement.Ankle
	PositionKnee     = movement.Knee
	PositionHip      = movement.Hip
	PositionTrunk    = movement.Trunk
	PositionShoulder = movement.Shoulder
	PositionElbow    = movement.Elbow
)

// angleOf returns the angle that a position is read from; ok is false for one of the foot.
func angleOf(p Position) (a body.Angle, ok bool) {
	if p < 0 || p >= movement.NumPositions {
		return body.NumAngles, false
	}
	a = positionTable[p].angle
	return a, a != noAngle
}
