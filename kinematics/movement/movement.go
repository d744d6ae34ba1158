// Package movement says what a movement is, as plain values that a file fills in: what moves a rep forward, where it
// starts and turns, which reps are of another movement, how its tempos are told apart, and what of it is compared.
//
// A rep leaves its rest, which is mostly quiet standing, turns, and comes back. How far it has gone is read from one
// [Signal], a height, a distance or an angle of named points. Heights and distances are in leg lengths (thigh plus
// shank), angles in degrees. Nothing in the sums asks for a movement by its key.
package movement

import (
	"slices"

	"holdfast/kinematics/body"
)

// Movement is one movement.
type Movement struct {
	Key string // its name in files and documents
	// Film says what to film of it: a code of the catalogue, or the words themselves.
	Film   string
	Signal Signal
	Rep    Rep
	Turn   Turn
	Feet   Feet
	// Unlike are the looks of a turn by which a rep is one of another movement.
	Unlike []Unlike
	Tempo  Tempo
	// Joints are those whose ranges are compared, what is told first before the others.
	Joints []body.Joint
	// Positions are followed from condition to condition, from the ground up.
	Positions []Position
	// Share is what the turn has in common with that of other movements.
	Share Share
}

// Share names a position that several movements turn in, so that their clips can be compared there: those whose files
// have the same name. Compared are the positions that all of them list.
type Share struct {
	Name      string
	Positions []Position
}

// Shared returns the positions that all of some movements share at the turn; none where they do not share one.
func Shared(all []*Movement) []Position {
	if len(all) == 0 || all[0].Share.Name == "" {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(all[0].Share.Positions), func(p Position) bool {
		return slices.ContainsFunc(all, func(m *Movement) bool {
			return m.Share.Name != all[0].Share.Name || !slices.Contains(m.Share.Positions, p)
		})
	})
}

// Signal is what moves a rep forward.
type Signal struct {
	Kind Kind
	// Points are one point for a height, two for a distance.
	Points []body.Landmark
	Angle  body.Angle // of an angle
	// Falls says that the signal gets less on the way to the turn.
	Falls bool
	// RestsLow says that a rep starts and ends where the signal rests at its low end, whatever the legs do; else it does
	// in quiet standing.
	RestsLow bool
}

// Kind is what a signal is.
type Kind string

// The kinds.
const (
	Height   Kind = "height"   // of a point over the standing ankle, mean of both sides, of hand and elbow the near one
	Distance Kind = "distance" // between two points of the near side
	Angle    Kind = "angle"    // of the near side
)

// Rep bounds what is a rep, in the signal's unit where nothing else is said.
type Rep struct {
	// Leaves is how far from rest it has begun, Back how near to it it is over.
	Leaves, Back float64
	// Least is how far it must go, LeastS how long that must take, in seconds.
	Least, LeastS float64
	// LeastBent is how far it must go where the angle of its turn reaches BentDeg: heels that come up hold the hips up.
	// 0: as far as any.
	LeastBent, BentDeg float64
	// LeastBendDeg is how much knee or hip must bend in it: what moves while neither does is the picture, or nobody.
	LeastBendDeg float64
	// SplitPart is the part of the way that it must come back between two reps without a rest.
	SplitPart float64
}

// Turn says by what the moment of the turn is read.
type Turn struct {
	// Follow is an angle that tells it best where it bends by LeastDeg and more; NumAngles: the signal does.
	Follow   body.Angle
	LeastDeg float64
	// Called is what the turn is called: a code of the catalogue, or the words themselves; empty: the bottom.
	Called string
}

// Feet says what the feet do, in leg lengths.
type Feet struct {
	// Leave says that a rep may leave the floor, Always that it does.
	Leave, Always bool
	// MostDrift is how far a foot that stays in place may move along the floor in a rep, MostDriftCut in one that the
	// clip cuts: people walk in and out.
	MostDrift, MostDriftCut float64
	// Stance is how they carry the body.
	Stance Stance
}

// Stance is how the feet carry the body.
type Stance int

// The stances.
const (
	SideBySide Stance = iota // both carry it, and the weight acts along them
	Split                    // one is ahead of the other: the weight acts between them
	Hanging                  // they do not: the body hangs from its hands
	OnHands                  // not at the turn: the hands carry it on the floor, and the feet go from place to place
	Kneeling                 // they do not: the knees carry it on the floor
	FromBox                  // they drop with it from something raised, and carry it on the floor at the turn
)

// OffFeet says that the feet do not carry the body all the time, so that nothing is told of them.
func (s Stance) OffFeet() bool { return s == Hanging || s == OnHands || s == Kneeling }

// Unlike is a look at the turn by which a rep is of another movement: the value lies above Above and below Below, and
// above that of AboveAngle.
type Unlike struct {
	// Code says what was seen, in the catalogue's notices; Film what to film instead, as that of a movement.
	Code, Film string
	// Place asks for where a part of the body is; else Angle is asked for, in degrees.
	Place        PlaceLook
	Angle        body.Angle
	Above, Below float64    // infinite: not bounded
	AboveAngle   body.Angle // NumAngles: none
	// Change asks for how much the angle changes from shortly before the rep to its turn.
	Change bool
	// After asks for how much the angle changes from the turn until shortly after the rep.
	After bool
	// Beside asks for how much more the angle is where the rep begins or ends than at its turn.
	Beside bool
	// OfJumps asks for nothing of a rep that stays on the floor, OnFloor of one that leaves it.
	OfJumps, OnFloor bool
	// Also is what must be there besides; nil: nothing.
	Also *Unlike
}

// PlaceLook is what is asked of where parts of the body are, in leg lengths.
type PlaceLook int

// The looks.
const (
	NoPlace          PlaceLook = iota
	FeetApart                  // how far apart the ankles are along the floor
	NearAhead                  // how far the near one is ahead of the far one
	NearAbove                  // how far the near one is above the far one, more than at rest
	TrunkAhead                 // how far the middle of the trunk is ahead of the near ankle, where it is farthest behind
	FeetFall                   // how much lower the near toe is than before the rep
	ShoulderFromFoot           // how far the near shoulder is from the near ankle along the floor, at most in the rep
	HandAbove                  // how far the near wrist is above the near ankle
	Taller                     // how much higher the near shoulder comes after the turn than it was before the rep
	HipsAhead                  // how far the near hip gets ahead of the ankle that is farther ahead, at most in the rep
	ShoulderAbove              // how far the near shoulder is above the near ankle, at least in the rep
)

// Tempo is the bounds between slow and fast: the way to the turn takes FastS seconds or less, or is as quick as
// FastSpeed, in the signal's unit a second. OfContact: the time on the floor between two jumps tells, FastS and less,
// where else a rep that leaves the floor is a jump. OfBack: the way back from the turn tells, as in a pull from the
// floor.
type Tempo struct {
	FastS, FastSpeed  float64
	OfContact, OfBack bool
}

// leastFromFront is the part of a rep's least way that is asked for from the front, where a network's hip point shows
// less of it: in rendered squats of four athletes three quarters and more.
const leastFromFront = 0.7

// FromFront returns the movements that the front shows, without what only the side tells of their reps: those whose
// hips sink over feet that stand side by side.
func FromFront(all []*Movement) (out []*Movement) {
	for _, m := range all {
		sig := &m.Signal
		if sig.Kind != Height || sig.Points[0] != body.Hip || !sig.Falls || sig.RestsLow || m.Feet.Stance != SideBySide ||
			m.Feet.Always {
			continue
		}
		of := *m
		of.Unlike, of.Rep.LeastBendDeg, of.Turn.Follow = nil, 0, body.NumAngles
		of.Rep.Least *= leastFromFront
		out = append(out, &of)
	}
	return out
}

// Position numbers a position that is followed from condition to condition.
type Position int

// The positions at the turn, from the ground up.
const (
	Support Position = iota // the support point
	Heel                    // the rise of the heel
	Ankle
	Knee
	Hip
	Trunk
	Shoulder
	Elbow     // which is to be straight
	ArmDown   // the shoulder of an arm that is to be drawn to the trunk
	ElbowBent // the elbow where it is to bend
	// How far in front of the middle of the foot they are.
	HipOverFoot
	ShoulderOverFoot
	WristOverFoot
	NumPositions
)

var positionNames = [NumPositions]string{"support_point", "heel_rise", "ankle", "knee", "hip", "trunk", "shoulder",
	"elbow", "arm_down", "elbow_bent", "hip_over_foot", "shoulder_over_foot", "wrist_over_foot"}

// OfArm says whether the position is one that is read only of movements that count the arm.
func (p Position) OfArm() bool { return p >= Shoulder && p < NumPositions }

// CountsArms says whether the movement counts what the arm does.
func (m *Movement) CountsArms() bool {
	return slices.ContainsFunc(m.Joints, body.Joint.OfArm) || slices.ContainsFunc(m.Positions, Position.OfArm)
}

// String returns the position's name in snake case.
func (p Position) String() string {
	if p < 0 || p >= NumPositions {
		return "unknown"
	}
	return positionNames[p]
}

// MarshalText returns the position's name.
func (p Position) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText sets the position of a name; one that nobody knows is NumPositions.
func (p *Position) UnmarshalText(name []byte) error {
	for *p = 0; *p < NumPositions; *p++ {
		if positionNames[*p] == string(name) {
			break
		}
	}
	return nil
}
