package screening_test

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/movement"
	"holdfast/screening"
)

// Two movements that share a position are compared there and nowhere else; those that share none are not compared.
func TestMovementsThatShareAPosition(t *testing.T) {
	of := func(name string) *screening.Analysis {
		a, _ := tracks.Analysis(t, name, screening.Options{})
		return a
	}
	press, jerk := of("push_press_slow"), of("jerk_slow")
	c, err := screening.Compare([]*screening.Analysis{press, jerk}, screening.CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if c.Withheld != nil || !c.TurnOnly || c.Movement != "overhead" || c.Turn != "lock_out" || c.Landing != nil {
		t.Fatalf("compared as %q at the %q: %+v", c.Movement, c.Turn, c.Withheld)
	}
	if got := c.Conditions()[0].Words + ", " + c.Conditions()[1].Words; got != "push press, jerk" {
		t.Errorf("the conditions are %s", got)
	}
	var rungs []kinematics.Position
	for _, r := range c.Ladder.Rungs {
		if rungs = append(rungs, r.Position); r.Cells[1].Change == nil || r.Cells[1].Change.Verdict == "" {
			t.Errorf("nothing is said of the %s", r.Position)
		}
	}
	want := []kinematics.Position{movement.Trunk, movement.Shoulder, movement.Elbow, movement.HipOverFoot,
		movement.ShoulderOverFoot, movement.WristOverFoot}
	if !slices.Equal(rungs, want) || !slices.Equal(c.Joints, []body.Joint{body.ShoulderJoint, body.ElbowJoint}) {
		t.Errorf("compared are %v of %v", rungs, c.Joints)
	}
	p := &c.Pairs[0]
	if s := &p.Joints[body.ShoulderJoint]; math.IsNaN(s.BottomLostDeg) || !math.IsNaN(s.BaselineROMDeg) ||
		!math.IsNaN(s.LostDeg) {
		t.Errorf("of the shoulder is said %+v", s)
	}
	if len(p.Curves)+len(p.AngleAngle)+len(p.Support) != 0 {
		t.Error("more than the turn is compared")
	}
	const told = "The clips show movements that share the lock-out: they are compared there, and nowhere else."
	if !slices.ContainsFunc(c.Warnings, func(w screening.Warning) bool { return screening.Say(w) == told }) {
		t.Errorf("the coach does not read %q", told)
	}
	pair := []*screening.Analysis{press, of("lunge_slow")}
	if c, err = screening.Compare(pair, screening.CompareOptions{}); err == nil &&
		(c.Withheld == nil || c.Withheld.Code != "why_movements" || c.TurnOnly) {
		t.Errorf("a push press and a lunge are compared: %+v", c.Withheld)
	}
}

// Movements that share a position and were done at different tempos are compared there all the same, each in its own,
// which is said of both; a drop from a box has no tempo.
func TestMovementsInTheirOwnTempos(t *testing.T) {
	for _, tt := range []struct{ easy, hard, called, tempos, turn string }{
		{"push_press_slow", "jerk_fast", "slow push press, fast jerk", "slow, fast", "lock_out"},
		{"push_press_fast", "jerk_slow", "fast push press, slow jerk", "fast, slow", "lock_out"},
		{"hinge_slow", "clean_pull_fast", "slow hinge, fast clean pull", "slow, fast", ""},
		{"squat_beside", "drop_landing_high", "squat, drop landing", "slow, slow", ""},
		{"squat_drop", "drop_landing_high", "fast squat, drop landing", "fast, slow", ""},
		{"squat_up", "drop_landing_high", "jump squat, drop landing", "jump, slow", ""},
	} {
		t.Run(tt.easy+" and "+tt.hard, func(t *testing.T) {
			easy, _ := tracks.Analysis(t, tt.easy, screening.Options{})
			hard, _ := tracks.Analysis(t, tt.hard, screening.Options{})
			c, err := screening.Compare([]*screening.Analysis{easy, hard}, screening.CompareOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if c.Withheld != nil || !c.TurnOnly || c.Turn != tt.turn || len(c.Sides) != 2 || c.Tempo != "" {
				t.Fatalf("compared at the %q, sides %+v, tempo %q: %+v", c.Turn, c.Sides, c.Tempo, c.Withheld)
			}
			if got := c.Sides[0].Words + ", " + c.Sides[1].Words; got != tt.called {
				t.Errorf("the sides are called %q, want %q", got, tt.called)
			}
			if got := string(c.Sides[0].Tempo + ", " + c.Sides[1].Tempo); got != tt.tempos {
				t.Errorf("the tempos are %q, want %q", got, tt.tempos)
			}
			for i, a := range c.Analyses {
				if of, ok := c.ConditionOf(i, a.Reps[0].Tempo); !ok || of.Words != c.Sides[i].Words {
					t.Errorf("the reps of %s stand for %q", a.Clip.Name, of.Words)
				}
			}
			for _, j := range c.Joints {
				ch := &c.Pairs[0].Joints[j]
				if in := ch.BottomInterval95Deg; math.IsNaN(ch.BottomLostDeg) || !(in[0] < in[1]) {
					t.Errorf("nothing is said of the %s: %+v", j, ch)
				}
			}
			told := "The clips are compared with each other, each in its own tempo; " + c.Sides[0].Words + " is the baseline."
			if !slices.ContainsFunc(c.Warnings, func(w screening.Warning) bool { return screening.Say(w) == told }) {
				t.Errorf("the coach does not read %q", told)
			}
		})
	}
}

// A comparison of before names one tempo for all its sides.
func TestSidesOfBefore(t *testing.T) {
	var c screening.Comparison
	if err := json.Unmarshal([]byte(`{"schema": "holdfast/comparison/9", "tempo": "fast", "clips": [], "pairs": [],
		"sides": [{"key": "first", "words": "fresh", "clip": 0}, {"key": "second", "words": "tired", "clip": 1}]}`),
		&c); err != nil {
		t.Fatal(err)
	}
	if of, ok := c.ConditionOf(1, events.TempoFast); !ok || of.Words != "tired" {
		t.Errorf("fast reps of the second clip stand for %+v", of)
	}
	if _, ok := c.ConditionOf(1, events.TempoSlow); ok {
		t.Error("its slow reps were not compared")
	}
}
