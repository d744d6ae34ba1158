package events

import (
	"math"
	"testing"

	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/trace"
)

// onToesTrace returns a trace with three fast squats onto the toes: the hips fall by depth as the knees bend by
// kneeDeg, the trunk leans by holdDeg at the turn and bows by bowDeg on the way there and back.
func onToesTrace(depth, kneeDeg, bowDeg, holdDeg float64) *trace.Trace {
	hip := func(t float64) float64 {
		return squat(1, 0.4, 0.4, depth)(t) + squat(3, 0.4, 0.4, depth)(t) + squat(5, 0.4, 0.4, depth)(t) - 2
	}
	tr := handTrace(30, 7.5, hip, onTheFloor)
	for side := range 2 {
		leg := &tr.Raw[side]
		for i, timeS := range tr.TimeS {
			part := (1 - hip(timeS)) / depth
			knee := kneeDeg * part / body.DegPerRad
			l := (holdDeg*part + bowDeg*math.Pow(math.Sin(math.Pi*part), 2)) / body.DegPerRad
			at := func(k body.Landmark, from body.Landmark, x, y float64) {
				leg[k].X[i], leg[k].Y[i] = leg[from].X[i]+x, leg[from].Y[i]+y
			}
			at(body.Shoulder, body.Hip, 50*math.Sin(l), -50*math.Cos(l))
			at(body.Knee, body.Hip, 50*math.Sin(knee/2), 50*math.Cos(knee/2))
			at(body.Ankle, body.Knee, -50*math.Sin(knee/2), 50*math.Cos(knee/2))
		}
	}
	tr.KneeDeg = angleWay(tr, body.KneeFlexion)
	return tr
}

// Who drops onto the toes may bow on the way down and on the way up and be upright between: of 30 invented athletes
// four were said to hinge, twice a squat. Who hinges has the knees straighter between two reps than at the turns.
func TestBowIsNoHinge(t *testing.T) {
	among := []*movement.Movement{shipped.Squat(), shipped.Movement("hinge")}
	found := Recognise(onToesTrace(0.35, 105, 60, 10), among, nil)
	if found.Movement != among[0] || len(found.Reps) != 3 {
		t.Errorf("%d reps of %s", len(found.Reps), found.Movement.Key)
	}
	hinges := Find(onToesTrace(0.1, 30, 0, 75), among[1], nil)
	if len(hinges.Reps) != 3 {
		t.Errorf("%d hinges, %v", len(hinges.Reps), hinges.Others)
	}
}

// With the heels up the hips of a squat stay high: in rendered ones they fell by 0.14 to 0.2 leg lengths with knees
// bent by 79 to 93 degrees. A dip of the knees is none.
func TestShallowOnToes(t *testing.T) {
	for _, c := range []struct {
		depth, knee float64
		reps        int
	}{{0.15, 83, 3}, {0.19, 79, 3}, {0.15, 55, 0}, {0.1, 83, 0}, {0.25, 55, 3}} {
		reps, _ := findSquats(onToesTrace(c.depth, c.knee, 0, 10), nil)
		if len(reps) != c.reps {
			t.Errorf("hips %.2f down, knees %.0f: %d reps, want %d", c.depth, c.knee, len(reps), c.reps)
		}
	}
}
