package screening_test

import (
	"math"
	"slices"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
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
