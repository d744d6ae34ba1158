package losses

import (
	"math"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
)

// visit is reps of a tempo whose knee stands at some degrees at the bottom.
func visit(date string, tempo events.Tempo, state string, kg float64, knee ...float64) Visit {
	return Visit{Date: date, Side: "right", Movement: 1, Tempo: kinematics.ConditionOf(tempo),
		State: kinematics.StateOf(state), LoadKg: kg, ZeroKnown: true,
		Positions: []kinematics.Position{kinematics.PositionKnee},
		At: func(p kinematics.Position) stats.Readings {
			if p != kinematics.PositionKnee {
				return stats.Readings{}
			}
			return stats.Readings{Values: knee, NoiseSD: 0.5}
		}}
}

func TestLossesOverVisits(t *testing.T) {
	const may, november = "2026-05-04", "2026-11-02"
	slow := func(date string) Visit { return visit(date, events.TempoSlow, "fresh", 0, 120, 121, 119) }
	for _, tt := range []struct {
		name    string
		now     []float64
		verdict stats.Verdict
		kept    float64
	}{
		{"kept more", []float64{119, 120, 118}, stats.Gained, 19},
		{"kept less", []float64{80, 81, 79}, stats.Lost, -20},
		{"not told apart", []float64{95, 120, 101}, stats.Unclear, 5.33},
	} {
		s := Of([]Visit{slow(may), visit(may, events.TempoFast, "fresh", 0, 100, 101, 99),
			visit(november, events.TempoFast, "fresh", 0, tt.now...), slow(november)})
		if len(s) != 1 || len(s[0].Points) != 2 {
			t.Fatalf("%s: %+v", tt.name, s)
		}
		first, last := s[0].Points[0], s[0].Points[1]
		if first.Date != may || math.Abs(first.LostDeg-20) > 1e-9 || first.SinceFirst != nil || first.Verdict != stats.Lost {
			t.Errorf("%s: the first visit is %+v", tt.name, first)
		}
		c := last.SinceFirst
		if c == nil || c.Since != may || c.Verdict != tt.verdict || math.Abs(c.KeptDeg-tt.kept) > 0.01 ||
			!(c.Interval95Deg[0] < c.KeptDeg && c.KeptDeg < c.Interval95Deg[1]) {
			t.Errorf("%s: %+v", tt.name, c)
		}
		if c != nil && c.SmallestDetectableDeg < kinematics.DefaultSmallestChangeDeg {
			t.Errorf("%s: a change of %.1f° would show", tt.name, c.SmallestDetectableDeg)
		}
	}
}

// No change is told where none that matters can be hidden, and is not where the interval is wide.
func TestHeldLosses(t *testing.T) {
	at := func(lost, half float64) *Point {
		return &Point{LostDeg: lost, Interval95Deg: [2]float64{lost - half, lost + half}}
	}
	opt := stats.Options{SmallestChange: 5}
	if c := changeOf(at(9, 2), at(8, 2), opt); c.Verdict != stats.Held || c.SmallestDetectableDeg != 5 {
		t.Errorf("narrow: %+v", c)
	}
	c := changeOf(at(9, 5), at(8, 5), opt)
	if c.Verdict != stats.Unclear || math.Abs(c.SmallestDetectableDeg-7.07) > 0.01 {
		t.Errorf("wide: %+v", c)
	}
}

// Only what belongs together is followed.
func TestLossesOfOneKind(t *testing.T) {
	const day, next = "2026-05-04", "2026-05-11"
	slow, fast := visit(day, events.TempoSlow, "fresh", 0, 120, 121), visit(day, events.TempoFast, "fresh", 0, 100, 101)
	jump := visit(day, events.TempoJump, "fresh", 0, 90, 91)
	loaded := visit(day, events.TempoSlow, "loaded", 60, 110, 111)
	otherDay, otherLeg, noZero := fast, fast, fast
	otherDay.Date, otherLeg.Side, noZero.ZeroKnown = next, "left", false
	for _, tt := range []struct {
		name   string
		visits []Visit
		want   int
	}{
		{"slow and fast", []Visit{slow, fast}, 1},
		{"the baseline is the easiest", []Visit{slow, fast, jump}, 2},
		{"fresh and loaded", []Visit{slow, loaded}, 1},
		{"loaded fast alone", []Visit{slow, visit(day, events.TempoFast, "loaded", 60, 90)}, 0},
		{"two days", []Visit{slow, otherDay}, 0},
		{"two legs", []Visit{slow, otherLeg}, 0},
		{"two zeros", []Visit{slow, noZero}, 0},
		{"nothing", nil, 0},
	} {
		if got := Of(tt.visits); len(got) != tt.want {
			t.Errorf("%s: %d series, want %d", tt.name, len(got), tt.want)
		}
	}
}
