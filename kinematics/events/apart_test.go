package events

import (
	"math"
	"testing"

	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

// A lunge is no squat, whichever foot is in front and however often the two are exchanged; a wide stance seen a little
// from the front is one. The places are those of real clips: squats from the side had their ankles 0.01 to 0.14 leg
// lengths apart at the bottom, one seen 30 degrees from the front 0.25, lunges and jumps that change the legs 0.64 to
// 0.92.
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
		reps, _ := FindReps(tr, shipped.Squat(), CourseOf(tr, shipped.Squat(), stand), stand, nil)
		if len(reps) != 1 {
			t.Fatalf("%s: %d reps", tt.name, len(reps))
		}
		kept, apart := PartOthers(tr, shipped.Squat(), reps)
		if (len(kept) == 1) != tt.kept || len(kept)+len(apart) != 1 {
			t.Errorf("%s: kept %d, apart %v", tt.name, len(kept), apart)
		}
		if !tt.kept && !(apart[0].FromS < 1.8 && apart[0].ToS > 2.2) {
			t.Errorf("%s: apart %v", tt.name, apart)
		}
	}
}

// Who sits with one foot ahead of the other and the trunk behind both of them does no lunge. In real lunges the
// shoulder was 0.3 to 0.55 leg lengths from the near ankle, of one who sat and lifted the hips on a hand 1.3 to 1.5.
func TestNoLungeBesideTheFeet(t *testing.T) {
	for _, tt := range []struct {
		behindLegs float64
		want       int
	}{{0, 1}, {0.55, 1}, {1.3, 0}} {
		tr := handTrace(30, 4.5, squat(1, 0.8, 0.4, 0.4), onTheFloor)
		for i := range tr.TimeS {
			tr.Raw[tr.NearSide.Opposite()][body.Ankle].X[i] -= 70
			tr.Quick[tr.NearSide][body.Shoulder].X[i] = tr.Quick[tr.NearSide][body.Ankle].X[i] - 100*tt.behindLegs
		}
		if got := Find(tr, shipped.Movement("lunge"), nil); len(got.Reps) != tt.want {
			t.Errorf("shoulder %.2f legs behind: %d lunges, want %d: %v", tt.behindLegs, len(got.Reps), tt.want, got.Others)
		}
	}
}

// Of lunges that of the near leg is measured; the others are named.
func TestLegInFront(t *testing.T) {
	lunge := shipped.Movement("lunge")
	for ahead, want := range map[float64]string{0.7: "", -0.7: "far_leg_in_front", 0.1: "feet_side_by_side"} {
		tr := handTrace(30, 4.5, squat(1, 0.8, 0.4, 0.4), onTheFloor)
		far := tr.Raw[tr.NearSide.Opposite()][body.Ankle].X
		for i := range far {
			far[i] -= 100 * ahead
		}
		got := Find(tr, lunge, nil)
		switch {
		case want == "" && len(got.Reps) != 1, want != "" && len(got.Reps) > 0:
			t.Errorf("%.1f ahead: %d reps", ahead, len(got.Reps))
		case want != "" && (len(got.Others) != 1 || got.Others[0].Code != want):
			t.Errorf("%.1f ahead: %v, want %s", ahead, got.Others, want)
		}
	}
}

// One who stands with one foot on a box does a step-up and neither a squat nor a lunge; a camera that looks down shows
// the far foot higher all the time.
func TestFootOnBox(t *testing.T) {
	for _, tt := range []struct {
		name                  string
		below, behind, always float64 // the far ankle at the turn, and above the near one all the time, leg lengths
		of                    string
		saw                   map[string]string
	}{
		{"a box", 0.35, 0.45, 0.1, "step_up", map[string]string{"squat": "foot_raised", "lunge": "foot_raised"}},
		{"a low box", 0.2, 0.35, 0.2, "step_up", map[string]string{"squat": "foot_raised"}},
		{"a box under the far foot", -0.35, 0.3, 0, "", map[string]string{"step_up": "far_foot_raised"}},
		{"level feet", 0, 0, 0.2, "squat", map[string]string{"step_up": "feet_level"}},
		{"a far foot that is guessed under the near one", 0.35, 0.1, 0, "squat", map[string]string{"step_up": "feet_level"}},
	} {
		tr := handTrace(30, 4.5, squat(1, 0.8, 0.4, 0.4), onTheFloor)
		far := &tr.Raw[tr.NearSide.Opposite()][body.Ankle]
		for i := range far.X {
			gone := 1 - squat(1, 0.8, 0.4, 1)(tr.TimeS[i])
			far.X[i] -= 100 * tt.behind * gone
			far.Y[i] += 100 * (tt.below*gone - tt.always)
		}
		for _, key := range []string{"squat", "lunge", "step_up"} {
			got := Find(tr, shipped.Movement(key), nil)
			if key == tt.of && len(got.Reps) != 1 {
				t.Errorf("%s is no %s: %v", tt.name, key, got.Others)
			}
			if want := tt.saw[key]; want != "" && (len(got.Others) != 1 || got.Others[0].Code != want) {
				t.Errorf("%s, as a %s: %v, want %s", tt.name, key, got.Others, want)
			}
		}
	}
}

func TestLegsApartNumbersAnew(t *testing.T) {
	second := func(t float64) float64 { return squat(4, 0.8, 0.2, 0.4)(t) - 1 }
	tr := handTrace(30, 8, over(squat(1, 0.8, 0.2, 0.4), second), onTheFloor)
	far := tr.Raw[tr.NearSide.Opposite()][body.Ankle].X
	for i := range far[:100] {
		far[i] += 70
	}
	reps, _ := findSquats(tr, nil)
	kept, apart := PartOthers(tr, shipped.Squat(), reps)
	if len(reps) != 2 || len(kept) != 1 || len(apart) != 1 || kept[0].Number != 1 || kept[0].BottomS < 4 {
		t.Errorf("%d reps, kept %+v, apart %v", len(reps), kept, apart)
	}
}

// Who bends over to pick something up does no squat; who leans far in a deep one does. The trunk
// of a real pick-up leaned by 84 degrees over a knee of 53, that of squats by 25 to 50 over 99 and
// more. A plate or a bar that is loaded is lifted with knees as bent as in a squat, and with a trunk that bends over
// further than in any; it stays as long as it was, where that of a shoulder that something hides does not.
// Who hinges on bent knees keeps the shanks upright: in six real hinges with a bell at the neck they leaned by 6 to 11
// degrees under knees of 47 to 67, in squats by a quarter of the knee and more.
func TestBentOver(t *testing.T) {
	for _, tt := range []struct {
		name       string
		lean, knee float64 // degrees at the bottom
		trunk      float64 // its length, in parts of that in standing
		shank      float64 // how it leans, in parts of the knee
		kept       bool
	}{
		{"a squat", 35, 110, 1, 0.25, true},
		{"a squat that leans far", 62, 105, 0.9, 0.25, true},
		{"a pick-up", 84, 53, 1, 0.25, false},
		{"a hinge", 75, 25, 1, 0.25, false},
		{"a plate from the floor", 72, 88, 0.9, 0.25, false},
		{"a shallow squat", 30, 45, 1, 0.25, true},
		{"a shoulder that a plate hides", 125, 60, 0.5, 0.25, true},
		{"a shoulder that a plate hides, trunk level", 80, 60, 0.5, 0.25, true},
		{"a trunk that is not seen", math.NaN(), 60, 1, 0.25, true},
		{"a hinge on bent knees", 40, 55, 1, 0.15, false},
		{"a squat that leans as far", 40, 55, 1, 0.3, true},
		{"a squat onto a box", 40, 90, 1, 0.12, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			second := func(t float64) float64 { return squat(5, 0.8, 0.4, 0.4)(t) - 1 }
			tr := handTrace(30, 9, over(squat(1, 0.8, 0.4, 0.4), second), onTheFloor)
			near := &tr.Raw[tr.NearSide]
			for i, timeS := range tr.TimeS {
				lean, knee, trunk := 0.0, 0.0, 50.0
				if timeS > 5 && timeS < 7 { // the second of the two
					lean, knee, trunk = tt.lean, tt.knee, 50*tt.trunk
				}
				thigh := knee / body.DegPerRad
				near[body.Knee].X[i], near[body.Knee].Y[i] = 400, 850
				near[body.Ankle].X[i], near[body.Ankle].Y[i] = 400-50*math.Sin(thigh*tt.shank), 900
				near[body.Hip].X[i], near[body.Hip].Y[i] = 400-50*math.Sin(thigh), 850-50*math.Cos(thigh)
				l := lean / body.DegPerRad
				near[body.Shoulder].X[i] = near[body.Hip].X[i] + trunk*math.Sin(l)
				near[body.Shoulder].Y[i] = near[body.Hip].Y[i] - trunk*math.Cos(l)
			}
			reps, _ := findSquats(tr, nil)
			if len(reps) != 2 {
				t.Fatalf("%d reps", len(reps))
			}
			kept, bent := PartOthers(tr, shipped.Squat(), reps)
			if (len(kept) == 2) != tt.kept || len(kept)+len(bent) != 2 || kept[0].Number != 1 {
				t.Errorf("kept %d, bent %v", len(kept), bent)
			}
			if !tt.kept && !(bent[0].FromS < 5.8 && bent[0].ToS > 6.2) {
				t.Errorf("bent %v", bent)
			}
		})
	}
}

// Who sits on a chair has the trunk so far behind the feet that they cannot carry it, be it at the end of the way down;
// in real squats its middle was 0.17 leg lengths ahead of the ankle to 0.14 behind, in rendered sitting 0.44 and more.
func TestSits(t *testing.T) {
	for _, tt := range []struct {
		back, leanBack float64 // of hip and shoulder behind the ankle at the end of the turn, in leg lengths
		reps           int
	}{{0.3, -0.1, 1}, {0.5, 0.45, 0}, {0.5, math.NaN(), 1}} {
		tr := handTrace(30, 6, squat(1, 0.9, 1.5, 0.9), onTheFloor)
		near := &tr.Raw[tr.NearSide]
		for i, timeS := range tr.TimeS {
			far := min(1, max(0, timeS-1)/0.9) * min(1, max(0, 4.3-timeS)/0.9)
			near[body.Hip].X[i], near[body.Shoulder].X[i] = 400-100*tt.back*far, 400-100*tt.leanBack*far
			near[body.Shoulder].Y[i] = near[body.Hip].Y[i] - 60
		}
		found := Find(tr, shipped.Squat(), nil)
		if len(found.Reps) != tt.reps || tt.reps == 0 && (len(found.Others) != 1 || found.Others[0].Code != "sits") {
			t.Errorf("%.1f behind: %d reps, %v", tt.back, len(found.Reps), found.Others)
		}
	}
}

// Who stands up, or goes from lying to standing, has the shoulders rise as in a pull-up, and the feet stay; in one
// they rise with the body, less where the bent knees are stretched, and may be out of the picture. Real squats were
// taken for pull-ups nearly as well, and burpees for pull-ups.
func TestHangingFeetRise(t *testing.T) {
	for name, tt := range map[string]struct {
		feet float64 // part of the shoulders' way
		reps int
	}{
		"stands up": {0, 0}, "heels up": {0.2, 0}, "hangs": {1, 1}, "stretches the knees": {0.6, 1},
		"not seen": {math.NaN(), 1},
	} {
		up := func(s float64) float64 { return 0.5 * (1 - squat(1, 1, 0.4, 1)(s)) }
		hips, feet := func(s float64) float64 { return 1 + up(s) }, func(s float64) float64 { return tt.feet * up(s) }
		tr := handTrace(30, 5, hips, feet)
		for i, s := range tr.TimeS {
			for side := range 2 {
				tr.Quick[side][body.Shoulder].X[i], tr.Quick[side][body.Shoulder].Y[i] = 400, 900-100*(1.8+up(s))
			}
		}
		if found := Find(tr, shipped.Movement("pull"), nil); len(found.Reps) != tt.reps {
			t.Errorf("%s: %d reps, want %d", name, len(found.Reps), tt.reps)
		}
	}
}
