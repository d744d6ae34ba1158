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

// figure is a number of a table and where it is from.
type figure struct {
	Value  float64
	Source string
}

// Quantity is something that is compared of reps: a row of the tables of angles and
// positions. Its figures are in its unit.
type Quantity struct {
	Key   string // in the documents
	Unit  Unit
	Words string // a short English name
	Plain string // the same for people outside of the trade
	// Worse says which way a change is a loss: +1 when less is worse, -1 when more is, 0
	// when both are a change.
	Worse int
	// sem is the standard error of one reading that is assumed where too few reps show
	// their own spread, smallest the smallest change that matters, occasionSD how far a
	// reading of one occasion is off that of another though the athlete did not change
	// (camera, clothes, time of day), as a standard deviation of each.
	sem, smallest, occasionSD figure
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
	return stats.Options{SmallestChange: q.smallest.Value, SEM: q.sem.Value, OccasionSD: q.occasionSD.Value}
}

// DefaultSmallestChangeDeg is the smallest change of an angle that matters.
const DefaultSmallestChangeDeg = 5

// angleRow is the row of an angle: all have the figures of a range of motion in degrees.
func angleRow(key, words string, worse int) Quantity {
	return Quantity{Key: key, Unit: Degrees, Words: words, Plain: words, Worse: worse,
		sem: figure{3, "common practice, no source: markerless studies report 4 to 8 degrees of error on a single frame, " +
			"the greater part of which is the same in both conditions and cancels"},
		smallest: figure{DefaultSmallestChangeDeg, "common practice, no source: of the size of the smallest change that repeated " +
			"lunge measurements detect (4.6 degrees, Powden et al. 2015)"},
		occasionSD: figure{4.6 / (1.96 * math.Sqrt2), "from the smallest detectable change of 4.6 degrees that repeated weight-bearing " +
			"lunge measurements of different testers show (Powden et al. 2015): 4.6 / (1.96 sqrt 2)"},
	}
}

// footRow is the row of a position of the foot, whose figures belong to it alone. Shoes and
// camera differ between occasions, by as much as the error of a reading.
func footRow(key, words, plain string, worse int, sem, smallest float64) Quantity {
	return Quantity{Key: key, Unit: PctOfFoot, Words: words, Plain: plain, Worse: worse,
		sem:        figure{sem, "clips of two bodies"},
		smallest:   figure{smallest, "common practice, no source"},
		occasionSD: figure{sem, "as large as the error of a reading; common practice, no source"},
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

// positionTable holds the positions at the bottom: a row each with the angle that those of
// joints and trunk are read from, and all that is said of them anywhere.
var positionTable = [numPositions]struct {
	Quantity
	angle body.Angle // or noAngle
	words Words
}{
	PositionSupport: {footRow("support_point", "Support point", "Weight on foot", 0, measure.SupportSEMPct, 15), noAngle, Words{
		Scale: "heel 0 %, toe 100 %", Less: "toward the heel", More: "toward the toes",
		ClearlyLess: "nearer the heel", ClearlyMore: "nearer the toes",
		subject: "The weight over the foot", well: "in place", gone: "moves",
		Athlete: AthleteWords{"Weight on the foot", "your weight stays over the same part of the foot",
			"it moves toward the heel", "it moves toward the toes", "to heel", "to toes"}}},
	PositionHeel: {footRow("heel_rise", "Heel rise", "Heel rise", -1, measure.HeelSEMPct, heelSmallestPct), noAngle, Words{
		Scale: "% of the foot's length", Less: "less", More: "more", ClearlyLess: "less", ClearlyMore: "more",
		subject: "The heel", well: "down", gone: "comes up",
		Athlete: AthleteWords{"Heel on the floor", "your heel stays down",
			"it stays lower", "it comes up", "kept", "comes up"}}},
	PositionAnkle: {angleRow("ankle", "Ankle", 1), body.AnkleDorsiflexion, jointWords("ankle", "Ankle", "dorsiflexion")},
	PositionKnee:  {angleRow("knee", "Knee", 1), body.KneeFlexion, jointWords("knee", "Knee", "flexion")},
	PositionHip:   {angleRow("hip", "Hip", 1), body.HipFlexion, jointWords("hip", "Hip", "flexion")},
	PositionTrunk: {angleRow("trunk", "Trunk lean", 0), body.TrunkLean, Words{
		Scale: "to the vertical", Less: "less", More: "more", ClearlyLess: "leans less", ClearlyMore: "leans more",
		subject: "The trunk's lean", well: "set", gone: "changes",
		Athlete: AthleteWords{"Upper body lean", "your upper body keeps its lean",
			"it leans less", "it leans more", "less lean", "more lean"}}},
}

// noAngle stands for the angle of a position that is read from none.
const noAngle = body.NumAngles

// Words are what is said of a position beside its name.
type Words struct {
	// Scale says what its number counts, under the name: "dorsiflexion".
	Scale string
	// Less and More stand behind the number of a change, ClearlyLess and ClearlyMore alone
	// in place of the verdicts lost and gained.
	Less, More, ClearlyLess, ClearlyMore string
	// The ladder's sentence: "The heel" is "down" and "comes up".
	subject, well, gone string
	Athlete             AthleteWords
}

// AthleteWords are for the athlete, without the trade's terms: the title, how it is when
// all is well, what it does else, and the words beside the signs of both.
type AthleteWords struct{ Title, Well, Less, More, SignLess, SignMore string }

// jointWords are those of a joint's position.
func jointWords(name, title, scale string) Words {
	return Words{Scale: scale, Less: "less", More: "more",
		ClearlyLess: string(stats.Lost), ClearlyMore: string(stats.Gained),
		subject: "The " + name + "'s position", well: "there", gone: "is gone",
		Athlete: AthleteWords{title + " bend", "your " + name + " bends all the way",
			"it bends less", "it bends more", "less bend", "more bend"}}
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

// PositionQuantity returns the row of a position.
func PositionQuantity(p Position) Quantity {
	if p < 0 || p >= numPositions {
		return unknownQuantity
	}
	return positionTable[p].Quantity
}

// PositionWords returns what is said of a position.
func PositionWords(p Position) Words {
	if p < 0 || p >= numPositions {
		return Words{Less: "less", More: "more", ClearlyLess: "less", ClearlyMore: "more",
			Athlete: AthleteWords{unknownQuantity.Words, "it is there", "it is less", "it is more", "less", "more"}}
	}
	return positionTable[p].words
}

// PositionOf returns the position of a joint at the bottom.
func PositionOf(j body.Joint) Position {
	return body.ByJoint[Position]{body.AnkleJoint: PositionAnkle, body.KneeJoint: PositionKnee, body.HipJoint: PositionHip}[j]
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
	numPositions
)

// String returns the position's name in snake case.
func (p Position) String() string { return PositionQuantity(p).Key }

// MarshalText returns the position's name.
func (p Position) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText sets the position of a name; one that nobody knows is numPositions.
func (p *Position) UnmarshalText(name []byte) error {
	for *p = 0; *p < numPositions; *p++ {
		if positionTable[*p].Key == string(name) {
			break
		}
	}
	return nil
}

// angle returns the angle that the position is read from; ok is false for one of the foot.
func (p Position) angle() (a body.Angle, ok bool) {
	if p < 0 || p >= numPositions {
		return body.NumAngles, false
	}
	a = positionTable[p].angle
	return a, a != noAngle
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
