package kinematics

import (
	"testing"

	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
)

// rungGroup is a group of a tempo with readings of one position.
func rungGroup(t events.Tempo, p Position, values ...float64) Group {
	return Group{Condition: ConditionOf(t),
		Positions: []PositionReadings{{Position: p, Readings: stats.Readings{Values: values, NoiseSD: 1}}}}
}

func TestLadder(t *testing.T) {
	for _, c := range []struct {
		name  string
		at    Position
		slow  []float64
		fast  []float64
		jump  []float64
		first events.Tempo
		to    PointsTo
	}{
		{"held", PositionKnee, []float64{120, 121, 119}, []float64{120, 119, 121}, []float64{119, 120, 121},
			events.TempoUnknown, ""},
		{"gone when fast", PositionKnee, []float64{120, 121, 119}, []float64{105, 104, 106}, []float64{100, 99, 101},
			events.TempoFast, PointsToControlAtSpeed},
		{"gone in the landing", PositionKnee, []float64{120, 121, 119}, []float64{120, 119, 121}, []float64{98, 99, 100},
			events.TempoJump, PointsToControlAtTurn},
		{"unclear when fast", PositionKnee, []float64{120, 121, 119}, []float64{110, 120, 118},
			[]float64{98, 99, 100}, events.TempoJump, ""},
		{"fast not filmed", PositionKnee, []float64{120, 121, 119}, nil, []float64{98, 99, 100}, events.TempoJump, ""},
		{"slow not filmed", PositionKnee, nil, []float64{120, 121, 119}, []float64{98, 99, 100}, events.TempoUnknown, ""},
		{"heel up already", PositionHeel, []float64{16, 15, 17}, []float64{16, 16, 17}, nil, events.TempoSlow, PointsToRange},
		{"heel up, by no clear margin", PositionHeel, []float64{7, 10, 7}, []float64{8, 7, 9}, nil, events.TempoUnknown, ""},
		{"weight on the toes already", PositionSupport, []float64{90, 91, 92}, []float64{90, 91, 92}, nil,
			events.TempoSlow, PointsToRange},
		{"heel comes up fast", PositionHeel, []float64{0, 0.5, 0}, []float64{14, 15, 13}, nil, events.TempoFast,
			PointsToControlAtSpeed},
		{"heel goes down", PositionHeel, []float64{6, 6, 6}, []float64{0, 0, 0}, []float64{0, 0, 0}, events.TempoUnknown, ""},
		{"weight goes to the toes", PositionSupport, []float64{50, 51, 49}, []float64{50, 51, 52}, []float64{80, 82, 81},
			events.TempoJump, PointsToControlAtTurn},
		{"trunk leans more", PositionTrunk, []float64{30, 31, 29}, []float64{45, 46, 44}, nil, events.TempoFast,
			PointsToControlAtSpeed},
		{"one rep each", PositionKnee, []float64{120}, []float64{115}, []float64{90}, events.TempoJump, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			groups := []Group{rungGroup(events.TempoSlow, c.at, c.slow...), rungGroup(events.TempoFast, c.at, c.fast...),
				rungGroup(events.TempoJump, c.at, c.jump...)}
			r := ladderOf(groups, ofSquats()).Rungs[c.at]
			if r.First != string(c.first) || r.PointsTo != c.to {
				t.Errorf("first outside at %q, points to %q; want %q, %q\n%+v", r.First, r.PointsTo, c.first, c.to, r.Cells)
			}
		})
	}
}

// A reading that is known of fewer than half of the reps points to nothing.
func TestLadderPointsOnlyByKnownReadings(t *testing.T) {
	for _, c := range []struct {
		name string
		reps int // of each tempo
		slow []float64
		fast []float64
		to   PointsTo
	}{
		{"all known", 3, []float64{16, 15, 17}, []float64{16, 16, 17}, PointsToRange},
		{"half known", 4, []float64{16, 15}, []float64{16, 16}, PointsToRange},
		{"one of three", 3, []float64{16}, []float64{16, 16, 17}, ""},
		{"none known", 3, nil, nil, ""},
		{"fast hardly known", 4, []float64{0, 0.5, 0, 0}, []float64{15}, ""},
	} {
		slow, fast := rungGroup(events.TempoSlow, PositionHeel, c.slow...),
			rungGroup(events.TempoFast, PositionHeel, c.fast...)
		slow.Reps, fast.Reps = make([]Rep, c.reps), make([]Rep, c.reps)
		r := ladderOf([]Group{slow, fast}, ofSquats()).Rungs[PositionHeel]
		if r.PointsTo != c.to || c.to == "" && r.First != "" {
			t.Errorf("%s: first outside at %q, points to %q, want %q", c.name, r.First, r.PointsTo, c.to)
		}
	}
}

// What a loss at speed points to, a loss under load or from day to day does not.
func TestLadderPointsOnTheTempoAxisAlone(t *testing.T) {
	for _, axis := range []Axis{axisTempo, AxisLoad, AxisFatigue, AxisDay, AxisSide, AxisClip} {
		easy, hard := rungGroup(events.TempoSlow, PositionHeel, 15, 16, 15),
			rungGroup(events.TempoFast, PositionKnee, 100, 101, 99)
		easy.Positions = append(easy.Positions, rungGroup("", PositionKnee, 120, 121, 119).Positions...)
		hard.Positions = append(hard.Positions, rungGroup("", PositionHeel, 15, 15, 16).Positions...)
		easy.Condition.Axis, hard.Condition.Axis = axis, axis
		rungs := ladderOf([]Group{easy, hard}, ofSquats()).Rungs
		if heel, knee := rungs[PositionHeel], rungs[PositionKnee]; heel.First != easy.Condition.Key ||
			knee.First != hard.Condition.Key {
			t.Errorf("%s: first outside at %q and %q", axis, heel.First, knee.First)
		}
		for _, r := range rungs {
			if points := axis == axisTempo && r.First != ""; (r.PointsTo != "") != points {
				t.Errorf("%s: %v points to %q", axis, r.Position, r.PointsTo)
			}
		}
	}
}

// Without readings of two conditions there is nothing to follow.
func TestLadderNeedsTwo(t *testing.T) {
	one := rungGroup(events.TempoSlow, PositionHeel, 1, 2, 1)
	if l := ladderOf([]Group{one, {Condition: ConditionOf(events.TempoFast)}}, ofSquats()); len(l.Rungs) != 0 {
		t.Errorf("%+v", l)
	}
}
