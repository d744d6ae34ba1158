package kinematics

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/movement"
)

// Every row of the tables is whole, is found by its key, and says where its figures are from.
func TestTables(t *testing.T) {
	check := func(q Quantity) {
		t.Helper()
		if q.Key == "" || q.Unit == "" {
			t.Errorf("%q lacks something: %+v", q.Key, q)
		}
		for _, f := range []figure{q.rep, q.smallest, q.occasionSD} {
			if !(f.Value > 0) || f.Source == "" {
				t.Errorf("%s: %g, from %q", q.Key, f.Value, f.Source)
			}
		}
	}
	for a := range body.NumAngles {
		check(AngleQuantity(a))
	}
	for j := range body.NumJoints {
		if q := PositionQuantity(PositionOf(j)); q.Key != j.String() {
			t.Errorf("%v is at the bottom %q", j, q.Key)
		}
	}
	for p := range movement.NumPositions {
		check(PositionQuantity(p))
		var got Position
		if err := got.UnmarshalText([]byte(p.String())); err != nil || got != p {
			t.Errorf("%v is read as %v", p, got)
		}
	}
	var none Position
	if err := none.UnmarshalText([]byte("toe")); err != nil || none != movement.NumPositions ||
		PositionQuantity(movement.NumPositions).Key != "unknown" || AngleQuantity(-1).Key != "unknown" {
		t.Error("something is found that is in no table")
	}
}

// What counts in a movement is what is compared.
func TestMovementSaysWhatCounts(t *testing.T) {
	opt := CompareOptions{Movement: movement.Movement{Key: "lean", Joints: []body.Joint{body.HipJoint},
		Positions: []Position{PositionTrunk}}}
	p := pairOf(t, repsWithROM(100, 101), repsWithROM(90, 91), opt)
	if p.Joints[body.HipJoint].Verdict == "" || !math.IsNaN(p.Joints[body.KneeJoint].LostDeg) {
		t.Errorf("%+v", p)
	}
	two := []Group{rungGroup(events.TempoSlow, PositionTrunk, 30), rungGroup(events.TempoFast, PositionTrunk, 31)}
	if rungs := ladderOf(two, opt).Rungs; len(rungs) != 1 || rungs[0].Position != PositionTrunk {
		t.Errorf("%+v", rungs)
	}
}
