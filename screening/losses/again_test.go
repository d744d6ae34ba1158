package losses

import (
	"math"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
)

const spring, autumn = "2026-05-04", "2026-11-02"

func fresh(date string) Visit { return visit(date, events.TempoSlow, "fresh", 0, 120, 121, 119) }

func loaded(date string, knee ...float64) Visit {
	return visit(date, events.TempoSlow, "loaded", 60, knee...)
}

// Lost in spring under a load, measured again under it in autumn.
func TestHoldsAgain(t *testing.T) {
	then := loaded(spring, 100, 101, 99)
	for _, tt := range []struct {
		name    string
		now     []float64
		verdict stats.Verdict
		holds   bool
		lost    float64
	}{
		{"it holds", []float64{120, 121, 119}, stats.Held, true, 0},
		{"more than before", []float64{140, 141, 139}, stats.Gained, true, -20},
		{"still lost", []float64{105, 106, 104}, stats.Lost, false, 15},
		{"nobody can tell", []float64{95, 125, 110}, stats.Unclear, false, 10},
	} {
		all := AgainOf([]Visit{fresh(spring), then, loaded(autumn, tt.now...), fresh(autumn)})
		if len(all) != 1 {
			t.Fatalf("%s: %+v", tt.name, all)
		}
		a := &all[0]
		if a.Then.Date != spring || a.Now.Date != autumn || a.Then.Verdict != stats.Lost || a.Now.Verdict != tt.verdict ||
			a.Holds() != tt.holds || math.Abs(a.Now.LostDeg-tt.lost) > 1e-9 || a.Against != "" ||
			a.Challenge.LoadKg != 60 || !(a.Now.Interval95Deg[0] < tt.lost && tt.lost < a.Now.Interval95Deg[1]) {
			t.Errorf("%s: %+v", tt.name, a)
		}
	}
}

// Where easy reps are missing on the day, those of an earlier one stand in, with a wider interval.
func TestHoldsAgainAgainstAnEarlierDay(t *testing.T) {
	visits := []Visit{fresh(spring), loaded(spring, 100, 101, 99), loaded(autumn, 119, 120, 121)}
	without := AgainOf(visits)
	with := AgainOf(append(visits, fresh(autumn)))
	if len(without) != 1 || len(with) != 1 || without[0].Against != spring || with[0].Against != "" {
		t.Fatalf("%+v, %+v", without, with)
	}
	width := func(a Again) float64 { return a.Now.Interval95Deg[1] - a.Now.Interval95Deg[0] }
	if !(width(without[0]) > 1.5*width(with[0])) {
		t.Errorf("intervals of %.1f and %.1f degrees", width(without[0]), width(with[0]))
	}
}

// Nothing is said where it is not known.
func TestNothingHoldsAgain(t *testing.T) {
	lost := loaded(spring, 100, 101, 99)
	otherLeg, otherLoad, noZero := loaded(autumn, 119, 120), visit(autumn, events.TempoSlow, "loaded", 80, 119, 120),
		loaded(autumn, 119, 120)
	otherLeg.Side, noZero.ZeroKnown = "left", false
	for name, visits := range map[string][]Visit{
		"nothing":             nil,
		"never lost":          {fresh(spring), loaded(spring, 120, 121), fresh(autumn), loaded(autumn, 120, 119)},
		"not measured again":  {fresh(spring), lost, fresh(autumn)},
		"the other leg":       {fresh(spring), lost, otherLeg},
		"another load":        {fresh(spring), lost, otherLoad},
		"lost only now":       {fresh(spring), loaded(spring, 120, 121), fresh(autumn), loaded(autumn, 100, 101, 99)},
		"a zero that is lost": {fresh(spring), lost, noZero},
	} {
		if got := AgainOf(visits); len(got) != 0 {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// An elbow that must be straight is lost by bending.
func TestStraightElbowIsLostByBending(t *testing.T) {
	elbow := func(date string, kg float64, deg ...float64) Visit {
		v := visit(date, events.TempoSlow, "fresh", kg)
		if kg > 0 {
			v.State = kinematics.StateOf("loaded")
		}
		v.Turn, v.Positions = "lock_out", []kinematics.Position{kinematics.PositionElbow}
		v.At = func(kinematics.Position) stats.Readings { return stats.Readings{Values: deg, NoiseSD: 0.5} }
		return v
	}
	all := AgainOf([]Visit{elbow(spring, 0, 10, 11, 9), elbow(spring, 40, 30, 31, 29), elbow(autumn, 0, 10, 11, 9),
		elbow(autumn, 40, 10, 11, 12)})
	if len(all) != 1 || math.Abs(all[0].Then.LostDeg-20) > 1e-9 || all[0].Then.Interval95Deg[0] < 0 ||
		math.Abs(all[0].Now.LostDeg-1) > 1e-9 || all[0].Turn != "lock_out" {
		t.Errorf("%+v", all)
	}
}
