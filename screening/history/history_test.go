package history

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/stats"
	"holdfast/screening"
)

// dayOf is the analysis of one clip of slow reps with the given knee ranges.
func dayOf(kneeROMDeg ...float64) *screening.Analysis {
	a := &screening.Analysis{Schema: screening.AnalysisSchema}
	for i, rom := range kneeROMDeg {
		m := joints.AngleMeasure{ROMDeg: rom, SDDeg: 2, SystematicSDDeg: 1.2}
		none := joints.AngleMeasure{ROMDeg: math.NaN()}
		a.Reps = append(a.Reps, kinematics.Rep{RepTimes: events.RepTimes{Number: i + 1, Tempo: "slow"},
			Measures: joints.Measures{Angles: body.ByAngle[joints.AngleMeasure]{body.KneeFlexion: m, body.HipFlexion: none,
				body.AnkleDorsiflexion: none}}})
	}
	a.Sets = []kinematics.Set{{Tempo: "slow",
		Positions: []kinematics.PositionReadings{{Position: kinematics.PositionHeel, Unit: "% of foot",
			Readings: stats.Readings{Values: []float64{1, 2, 1}, NoiseSD: 2}}}}}
	return a
}

func TestHistoryTellsProgressFromChance(t *testing.T) {
	none := math.NaN()
	h := Of([]DatedAnalysis{
		{Date: "2026-03-01", Condition: "fresh", LoadKg: none, ClipID: "c", Analysis: dayOf(112, 113, 111)},
		{Date: "2026-01-01", Condition: "fresh", LoadKg: none, ClipID: "a", Analysis: dayOf(100, 101, 99)},
		{Date: "2026-02-01", Condition: "fresh", LoadKg: none, ClipID: "b", Analysis: dayOf(103, 102, 101)},
		{Date: "2026-02-01", Condition: "loaded", LoadKg: 60, ClipID: "l", Analysis: dayOf(90, 91, 92)},
		{Date: "2026-04-01", Condition: "fresh", LoadKg: none, ClipID: "empty", Analysis: nil},
	})
	var knee *HistorySeries
	for i := range h.Series {
		if s := &h.Series[i]; s.Position == kinematics.PositionKnee && s.Condition == "fresh" {
			knee = s
		}
	}
	if knee == nil || len(knee.Points) != 3 {
		t.Fatalf("the fresh knee has %+v, want three points", knee)
	}
	for i, want := range []struct {
		date             string
		value            float64
		first, previous  stats.Verdict
		change, detectMn float64
	}{
		{"2026-01-01", 100, "", "", 0, 0},
		{"2026-02-01", 102, "unclear", "unclear", 2, 5},
		{"2026-03-01", 112, "gained", "gained", 12, 5},
	} {
		p := knee.Points[i]
		if p.Date != want.date || math.Abs(p.Value.Value-want.value) > 1e-9 {
			t.Errorf("point %d is %s with %v, want %s with %v", i, p.Date, p.Value.Value, want.date, want.value)
		}
		if want.first == "" {
			if p.SinceFirst != nil || p.SincePrevious != nil {
				t.Errorf("the first visit compares itself with something")
			}
			continue
		}
		if p.SinceFirst.Verdict != want.first || p.SincePrevious.Verdict != want.previous {
			t.Errorf("%s is %s since the first and %s since the previous visit, want %s and %s", p.Date, p.SinceFirst.Verdict,
				p.SincePrevious.Verdict, want.first, want.previous)
		}
		if d := p.SinceFirst.Change; math.Abs(d-want.change) > 1e-9 {
			t.Errorf("%s changed by %v, want %v", p.Date, d, want.change)
		}
		if p.SinceFirst.SmallestDetectable < want.detectMn {
			t.Errorf("%s: smallest detectable change %v", p.Date, p.SinceFirst.SmallestDetectable)
		}
	}
	for _, s := range h.Series {
		if s.Condition == "loaded" && (s.LoadKg != 60 || len(s.Points) != 1) {
			t.Errorf("the loaded series is %+v", s)
		}
		if s.Position == kinematics.PositionAnkle || s.Position == kinematics.PositionHip {
			t.Errorf("there is a series of the %s, which was not measured", s.Position)
		}
	}
}

// The other leg and another movement are series of their own, and no retest.
func TestHistoryKeepsLegsAndMovementsApart(t *testing.T) {
	none := math.NaN()
	leg := func(side string, a *screening.Analysis) *screening.Analysis { a.NearSide = side; return a }
	hinge := dayOf(30, 31, 29)
	squat := dayOf(100, 101, 99)
	for i, a := range []*screening.Analysis{hinge, squat} {
		for k := range a.Reps {
			a.Reps[k].Angles[body.HipFlexion].ROMDeg, a.Reps[k].Angles[body.AnkleDorsiflexion].ROMDeg = 110, float64(30-25*(1-i))
		}
	}
	for _, tt := range []struct {
		name  string
		days  []DatedAnalysis
		sides string
		moves string
	}{
		{"two legs at each visit", []DatedAnalysis{
			{Date: "2026-01-01", Analysis: leg("left", dayOf(90, 91, 89))},
			{Date: "2026-01-01", Analysis: leg("right", dayOf(112, 113, 111))},
			{Date: "2026-02-01", Analysis: leg("left", dayOf(102, 103, 101))},
			{Date: "2026-02-01", Analysis: leg("right", dayOf(124, 125, 123))},
		}, "left right", "1 1"},
		{"a squat, then a hinge", []DatedAnalysis{
			{Date: "2026-01-01", Analysis: leg("left", squat)}, {Date: "2026-02-01", Analysis: leg("left", hinge)},
		}, "left left", "1 2"},
		{"a joint that was once not seen is no other movement", []DatedAnalysis{
			{Date: "2026-01-01", Analysis: leg("left", squat)}, {Date: "2026-02-01", Analysis: leg("left", dayOf(100, 101, 99))},
		}, "left", "1"},
	} {
		for i := range tt.days {
			tt.days[i].Condition, tt.days[i].LoadKg = "fresh", none
		}
		var sides, moves []string
		for _, s := range Of(tt.days).Series {
			if s.Position != kinematics.PositionKnee {
				continue
			}
			sides, moves = append(sides, s.Side), append(moves, fmt.Sprint(s.Movement))
			for _, p := range s.Points[1:] {
				if c := p.SinceFirst; tt.moves == "1 1" && (c.Verdict != "gained" || math.Abs(c.Change-12) > 1e-9) {
					t.Errorf("%s, %s: %+v, want 12 degrees gained", tt.name, s.Side, c)
				}
			}
		}
		if got := strings.Join(sides, " "); got != tt.sides || strings.Join(moves, " ") != tt.moves {
			t.Errorf("%s: series of %q, movements %q, want %q and %q", tt.name, got, moves, tt.sides, tt.moves)
		}
	}
}

// A retest that differs from the test by more than what matters widens the smallest
// change, so that a later gain of that size is chance.
func TestHistoryLearnsFromARetest(t *testing.T) {
	none := math.NaN()
	h := Of([]DatedAnalysis{
		{Date: "2026-01-01", Condition: "fresh", LoadKg: none, ClipID: "a", Analysis: dayOf(100, 101, 99)},
		{Date: "2026-01-01", Condition: "fresh", LoadKg: none, ClipID: "b", Analysis: dayOf(108, 92, 107)},
		{Date: "2026-03-01", Condition: "fresh", LoadKg: none, ClipID: "c", Analysis: dayOf(109, 110, 111)},
	})
	for _, s := range h.Series {
		if s.Position != kinematics.PositionKnee {
			continue
		}
		if len(s.Points) != 2 || len(s.Points[0].ClipIDs) != 2 || s.Points[0].Reps != 6 {
			t.Fatalf("the points are %+v, want one a visit", s.Points)
		}
		c := s.Points[1].SinceFirst
		if c.SmallestDetectable < 10 || c.Verdict == "gained" {
			t.Errorf("a gain of %.0f is %s at a smallest change of %.1f", c.Change, c.Verdict, c.SmallestDetectable)
		}
	}
}

// What was lost under a load and holds under it now is said, of visits that one calibration measured alone, and in the
// words of the movement.
func TestHistorySaysWhatHoldsAgain(t *testing.T) {
	day := func(model screening.ModelInfo, knee ...float64) *screening.Analysis {
		a := dayOf(knee...)
		a.Model = model
		a.Movement = screening.Movement{Key: "own", Turn: "top", Joints: []body.Joint{body.KneeJoint},
			Positions: []kinematics.Position{kinematics.PositionKnee, kinematics.PositionHeel}}
		a.Sets[0].Positions = append(a.Sets[0].Positions, kinematics.PositionReadings{Position: kinematics.PositionKnee,
			Unit: kinematics.Degrees, Readings: stats.Readings{Values: knee, NoiseSD: 0.5}})
		return a
	}
	now := screening.ModelInfo{Name: "heavy", SHA256: "1", Calibration: &screening.CalibrationInfo{Version: 2}}
	before := screening.ModelInfo{Name: "heavy", SHA256: "1", Calibration: &screening.CalibrationInfo{Version: 1}}
	history := func(spring screening.ModelInfo) History {
		fresh := func(date string, of *screening.Analysis) DatedAnalysis {
			return DatedAnalysis{Date: date, Condition: "fresh", LoadKg: math.NaN(), Analysis: of}
		}
		loaded := func(date string, of *screening.Analysis) DatedAnalysis {
			return DatedAnalysis{Date: date, Condition: "loaded", LoadKg: 60, Analysis: of}
		}
		return Of([]DatedAnalysis{fresh("2026-05-04", day(spring, 120, 121, 119)),
			loaded("2026-05-04", day(spring, 100, 101, 99)), fresh("2026-11-02", day(now, 120, 121, 119)),
			loaded("2026-11-02", day(now, 119, 120, 118))})
	}
	h := history(now)
	if len(h.Again) != 1 || !h.Again[0].Holds() || h.Again[0].Turn != "top" || h.Again[0].Challenge.LoadKg != 60 ||
		h.Again[0].Then.Date != "2026-05-04" || h.Again[0].Now.Date != "2026-11-02" {
		t.Errorf("said again: %+v", h.Again)
	}
	for _, s := range h.Series {
		if s.Turn != "top" || s.MovementKey != "own" {
			t.Errorf("a series of %q at the %q", s.MovementKey, s.Turn)
		}
	}
	if h = history(before); len(h.Again) != 0 || len(h.Warnings) == 0 {
		t.Errorf("of two calibrations: %+v, %v", h.Again, h.Warnings)
	}
}
