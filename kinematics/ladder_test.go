package kinematics

import (
	"math"
	"strings"
	"testing"

	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
)

func ladderStep(t events.Tempo, p Position, values ...float64) Step {
	s := Step{Condition: ConditionOf(t)}
	s.Readings[p] = stats.Readings{Values: values, NoiseSD: 1}
	return s
}

func TestLadder(t *testing.T) {
	var wantKnee LadderOptions
	wantKnee.Wanted[PositionKnee] = Wanted{Min: 110, Max: math.NaN()}
	for _, c := range []struct {
		name  string
		at    Position
		slow  []float64
		fast  []float64
		jump  []float64
		opt   LadderOptions
		first events.Tempo
		to    PointsTo
		says  string
	}{
		{"held", PositionKnee, []float64{120, 121, 119}, []float64{120, 119, 121}, []float64{119, 120, 121}, LadderOptions{}, events.TempoUnknown, PointsToNothing, ""},
		{"gone when fast", PositionKnee, []float64{120, 121, 119}, []float64{105, 104, 106}, []float64{100, 99, 101}, LadderOptions{}, events.TempoFast, PointsToControlAtSpeed, "control at speed"},
		{"gone in the landing", PositionKnee, []float64{120, 121, 119}, []float64{120, 119, 121}, []float64{98, 99, 100}, LadderOptions{}, events.TempoJump, PointsToControlAtTurn, "change of direction"},
		{"unclear when fast", PositionKnee, []float64{120, 121, 119}, []float64{110, 120, 118}, []float64{98, 99, 100}, LadderOptions{}, events.TempoJump, PointsToNothing, ""},
		{"fast not filmed", PositionKnee, []float64{120, 121, 119}, nil, []float64{98, 99, 100}, LadderOptions{}, events.TempoJump, PointsToNothing, ""},
		{"slow not filmed", PositionKnee, nil, []float64{120, 121, 119}, []float64{98, 99, 100}, LadderOptions{}, events.TempoUnknown, PointsToNothing, ""},
		{"short of what is wanted", PositionKnee, []float64{95, 96, 94}, []float64{95, 94, 96}, nil, wantKnee, events.TempoSlow, PointsToRange, "points to range"},
		{"short, by no clear margin", PositionKnee, []float64{108, 112, 107}, []float64{108, 109, 107}, nil, wantKnee, events.TempoUnknown, PointsToNothing, ""},
		{"heel up already", PositionHeel, []float64{16, 15, 17}, []float64{16, 16, 17}, nil, LadderOptions{}, events.TempoSlow, PointsToRange, "points to range"},
		{"heel comes up fast", PositionHeel, []float64{0, 0.5, 0}, []float64{14, 15, 13}, nil, LadderOptions{}, events.TempoFast, PointsToControlAtSpeed, "comes up in the fast one"},
		{"heel goes down", PositionHeel, []float64{6, 6, 6}, []float64{0, 0, 0}, []float64{0, 0, 0}, LadderOptions{}, events.TempoUnknown, PointsToNothing, ""},
		{"weight goes to the toes", PositionSupport, []float64{50, 51, 49}, []float64{50, 51, 52}, []float64{80, 82, 81}, LadderOptions{}, events.TempoJump, PointsToControlAtTurn, "moves in the landing"},
		{"trunk leans more", PositionTrunk, []float64{30, 31, 29}, []float64{45, 46, 44}, nil, LadderOptions{}, events.TempoFast, PointsToControlAtSpeed, "changes in the fast one"},
		{"one rep each", PositionKnee, []float64{120}, []float64{112}, []float64{90}, LadderOptions{}, events.TempoJump, PointsToNothing, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			steps := []Step{ladderStep(events.TempoJump, c.at, c.jump...), ladderStep(events.TempoSlow, c.at, c.slow...), ladderStep(events.TempoFast, c.at, c.fast...)}
			r := Ladder(steps, c.opt)[c.at]
			if r.FirstOutside != ConditionOf(c.first) || r.PointsTo != c.to {
				t.Errorf("first outside at %v, points to %q; want %v, %q\n%+v", r.FirstOutside, r.PointsTo, c.first, c.to, r.Cells)
			}
			says := r.Sentence()
			if (c.says == "") != (says == "") || !strings.Contains(says, c.says) {
				t.Errorf("says %q, want %q in it", says, c.says)
			}
			if says != "" && !strings.Contains(says, "points to") {
				t.Errorf("a sentence that claims more than it may: %q", says)
			}
		})
	}
}

func TestLadderJoinsClips(t *testing.T) {
	steps := []Step{
		ladderStep(events.TempoSlow, PositionHip, 100, 101), ladderStep(events.TempoSlow, PositionHip, 99),
		ladderStep(events.TempoFast, PositionHip, 80, 81, 79),
	}
	r := Ladder(steps, LadderOptions{})[PositionHip]
	if len(r.Cells) != 2 || r.Cells[0].Mean.Value != 100 || r.Cells[0].Change != nil || r.Cells[1].Change == nil || r.Cells[1].Change.Lost != 20 {
		t.Errorf("%+v", r)
	}
	if steps[0].Readings[PositionHip].Values[0] != 100 || len(steps[0].Readings[PositionHip].Values) != 2 {
		t.Error("the steps were changed")
	}
}

// What a loss at speed points to, a loss under load or from day to day does not.
func TestLadderPointsOnTheTempoAxisAlone(t *testing.T) {
	for _, axis := range []Axis{AxisTempo, AxisLoad, AxisFatigue, AxisDay, AxisSide, AxisClip} {
		easy, hard := ladderStep(events.TempoSlow, PositionHeel, 15, 16, 15), ladderStep(events.TempoFast, PositionKnee, 100, 101, 99)
		easy.Readings[PositionKnee], hard.Readings[PositionHeel] = stats.Readings{Values: []float64{120, 121, 119}}, stats.Readings{Values: []float64{15, 15, 16}}
		easy.Condition.Axis, hard.Condition.Axis = axis, axis
		rungs := Ladder([]Step{easy, hard}, LadderOptions{})
		if heel, knee := rungs[PositionHeel], rungs[PositionKnee]; heel.FirstOutside != easy.Condition || knee.FirstOutside != hard.Condition {
			t.Errorf("%s: first outside at %+v and %+v", axis, heel.FirstOutside, knee.FirstOutside)
		}
		for _, r := range rungs {
			if points := axis == AxisTempo && r.FirstOutside.Known(); (r.PointsTo != PointsToNothing) != points || (r.Sentence() != "") != points {
				t.Errorf("%s: %v points to %q: %q", axis, r.Position, r.PointsTo, r.Sentence())
			}
		}
	}
}
