package kinematics

import (
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
)

// Axis names what conditions differ in.
type Axis string

// The axes.
const (
	axisTempo   Axis = "tempo"   // see [ConditionOf]
	AxisLoad    Axis = "load"    // what is carried
	AxisFatigue Axis = "fatigue" // what was done before
	AxisDay     Axis = "day"
	AxisSide    Axis = "side" // of the body
	AxisClip    Axis = "clip" // nothing but the clip's name is known
)

// Condition is how reps were done, and where that stands between easy and hard.
type Condition struct {
	Key  string // in documents
	Axis Axis
	Rank int // on its axis, the easiest 1
	// Words is what it is called, where only those who filmed it know; else its key has a name.
	Words string
}

// Group is reps of one condition, all from one clip.
type Group struct {
	Condition Condition
	Reps      []Rep
	// Clip says which clip they are from, as the caller counts.
	Clip int
	// Angles are those of the whole clip, for the curves; nil: none are compared.
	Angles *joints.Angles
	// Positions are the readings for the ladder; nil: there are none.
	Positions []PositionReadings
}

// ConditionOf returns a tempo as a condition; that of an unknown tempo is not known.
func ConditionOf(t events.Tempo) Condition {
	if t == events.TempoUnknown {
		return Condition{}
	}
	return Condition{Key: t.String(), Axis: axisTempo, Rank: t.Rank()}
}

// ByTempo returns the reps of each tempo that there are reps of, the easiest first.
func ByTempo(reps []Rep) []Group {
	var out []Group
	for _, t := range events.Tempos {
		g := Group{Condition: ConditionOf(t)}
		for _, r := range reps {
			if r.Tempo == t {
				g.Reps = append(g.Reps, r)
			}
		}
		if len(g.Reps) > 0 {
			out = append(out, g)
		}
	}
	return out
}

// States are the conditions in which athletes are filmed other than tempo, by rank. Fresh is
// the easy end of both axes.
var States = [...]Condition{
	{Key: "fresh", Axis: AxisLoad, Rank: 1},
	{Key: "loaded", Axis: AxisLoad, Rank: 2},
	{Key: "fatigued", Axis: AxisFatigue, Rank: 3},
}

// StateOf returns the state of a key; not known for another text.
func StateOf(key string) Condition {
	for _, s := range States {
		if s.Key == key {
			return s
		}
	}
	return Condition{}
}
