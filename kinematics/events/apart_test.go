package events

import (
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

// A lunge is no squat, whichever foot is in front and however often the two are exchanged; a wide stance seen a little
// from the front is one. The places are those of real clips: squats from the side had their ankles 0.01 to 0.14 leg
// lengths apart at the bottom, one seen 30 degrees from the front 0.25, lunges and jumps that change the legs 0.64 to 0.92.
func TestLegsApart(t *testing.T) {
	hip := squat(1, 0.8, 0.4, 0.4)
	apartBy := func(legs func(i int) float64) *trace.Trace {
		tr := handTrace(30, 4.5, hip, onTheFloor)
		far := tr.Raw[tr.NearSide.Opposite()][body.Ankle].X
		for i := range far {
			far[i] += 100 * legs(i)
		}
		return tr
	}
	fixed := func(legs float64) func(int) float64 { return func(int) float64 { return legs } }
	for _, tt := range []struct {
		name string
		legs func(i int) float64
		kept bool
	}{
		{"side by side", fixed(0), true},
		{"an oblique view", fixed(0.25), true},
		{"one ahead", fixed(0.64), false},
		{"one behind", fixed(-0.64), false},
		{"exchanged", func(i int) float64 { return 0.8 * float64(1-2*(i%2)) }, false},
		{"far foot not seen", fixed(math.NaN()), true},
	} {
		tr := apartBy(tt.legs)
		stand := FindStand(tr, nil)
		reps, _ := FindReps(tr, Squat(), stand, nil)
		if len(reps) != 1 {
			t.Fatalf("%s: %d reps", tt.name, len(reps))
		}
		kept, apart := LegsApart(tr, Squat(), reps)
		if (len(kept) == 1) != tt.kept || len(kept)+len(apart) != 1 {
			t.Errorf("%s: kept %d, apart %v", tt.name, len(kept), apart)
		}
		if !tt.kept && !(apart[0].FromS < 1.8 && apart[0].ToS > 2.2) {
			t.Errorf("%s: apart %v", tt.name, apart)
		}
	}
}

func TestLegsApartNumbersAnew(t *testing.T) {
	tr := handTrace(30, 8, over(squat(1, 0.8, 0.2, 0.4), func(t float64) float64 { return squat(4, 0.8, 0.2, 0.4)(t) - 1 }), onTheFloor)
	far := tr.Raw[tr.NearSide.Opposite()][body.Ankle].X
	for i := range far[:100] {
		far[i] += 70
	}
	reps, _ := FindReps(tr, Squat(), FindStand(tr, nil), nil)
	kept, apart := LegsApart(tr, Squat(), reps)
	if len(reps) != 2 || len(kept) != 1 || len(apart) != 1 || kept[0].Number != 1 || kept[0].BottomS < 4 {
		t.Errorf("%d reps, kept %+v, apart %v", len(reps), kept, apart)
	}
}
