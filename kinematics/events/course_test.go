package events

import (
	"math"
	"testing"

	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/trace"
)

// lean turns the near trunk of a trace forward by so many degrees over time, on straight legs.
func lean(tr *trace.Trace, deg func(t float64) float64) {
	near := &tr.Raw[tr.NearSide]
	for i, t := range tr.TimeS {
		near[body.Knee].X[i], near[body.Knee].Y[i] = 400, 850
		sin, cos := math.Sincos(deg(t) / body.DegPerRad)
		near[body.Shoulder].X[i], near[body.Shoulder].Y[i] = near[body.Hip].X[i]+50*sin, near[body.Hip].Y[i]-50*cos
	}
}

// A signal is read from the points that the file names and grows toward the turn, whatever it is.
func TestCourseOf(t *testing.T) {
	down := squat(1, 0.8, 0.4, 0.4)
	tr := handTrace(30, 4.5, down, onTheFloor)
	lean(tr, func(t float64) float64 { return 10 + 60*(1-down(t))/0.4 })
	stand := FindStand(tr, nil)
	if !stand.Found {
		t.Fatal("no stand")
	}
	at := tr.Index(2)
	for _, c := range []struct {
		name string
		sig  movement.Signal
		want float64
	}{
		{"height of the hips", movement.Signal{Kind: movement.Height, Points: []body.Landmark{body.Hip}, Falls: true}, 0.4},
		{"height of the shoulder", movement.Signal{Kind: movement.Height, Points: []body.Landmark{body.Shoulder},
			Falls: true}, 0.4 + 0.5*(math.Cos(10/body.DegPerRad)-math.Cos(70/body.DegPerRad))},
		{"distance", movement.Signal{Kind: movement.Distance, Points: []body.Landmark{body.Hip, body.Ankle},
			Falls: true}, 0.4},
		{"angle", movement.Signal{Kind: movement.Angle, Angle: body.TrunkLean}, 60},
	} {
		how := *shipped.Squat()
		how.Signal = c.sig
		got := CourseOf(tr, &how, stand)
		near(t, c.name, got.Quick[at], c.want, 0.01*math.Max(1, c.want))
		near(t, c.name+", standing", got.Quick[5], 0, 0.01*math.Max(1, c.want))
		near(t, c.name+", as measured", got.Raw[at]-got.Raw[5], c.want, 0.01*math.Max(1, c.want))
	}
}

// Which movement a clip shows is the one that has most reps in it; a jump is none of those that stay on the floor.
func TestRecognise(t *testing.T) {
	among := []*movement.Movement{shipped.Squat(), shipped.Movement("hinge")}
	twice := over(squat(1, 0.8, 0.4, 0.4), func(t float64) float64 { return squat(4, 0.8, 0.4, 0.4)(t) - 1 })
	bows := func(deg float64) *trace.Trace { // hips that hardly sink
		hip := func(t float64) float64 { return 1 - 0.2*(1-twice(t)) }
		tr := handTrace(30, 7, hip, onTheFloor)
		lean(tr, func(t float64) float64 { return deg * (1 - twice(t)) / 0.4 })
		return tr
	}
	for _, c := range []struct {
		name string
		tr   *trace.Trace
		want string
		reps int
		sure float64 // two reps never make it all sure
	}{
		{"squats", handTrace(30, 7, twice, onTheFloor), "squat", 2, 87},
		{"hinges", bows(70), "hinge", 2, 87},
		{"nods", bows(15), "squat", 0, 100},
	} {
		got := Recognise(c.tr, among, nil)
		if got.Movement.Key != c.want || len(got.Reps) != c.reps || math.Abs(got.SurePct-c.sure) > 0.5 {
			t.Errorf("%s: %s with %d reps, sure %.0f", c.name, got.Movement.Key, len(got.Reps), got.SurePct)
		}
	}
	tr := bows(70)
	flights := []trace.Span{{FromS: 1.5, ToS: 1.9}}
	got := Find(tr, among[1], flights)
	if len(got.Reps) != 1 || got.Reps[0].Number != 1 || got.Reps[0].StartS < 3 {
		t.Errorf("a hinge with a flight in it: %+v", got.Reps)
	}
}

// Who presses overhead stands all the time: a rep starts and ends where the hands rest, and only that standing counts.
func TestRestAtTheLowEnd(t *testing.T) {
	tr := handTrace(30, 7, standingStill, onTheFloor)
	up := func(t float64) float64 { return 2 - squat(1, 0.8, 0.3, 0.7)(t) - squat(4, 0.8, 0.3, 0.7)(t) }
	for side := range 2 {
		wrist := &tr.Raw[side][body.Wrist]
		for i, t := range tr.TimeS {
			wrist.X[i], wrist.Y[i] = 400, 900-100*(1.6+up(t))
		}
	}
	how := *shipped.Squat()
	how.Signal = movement.Signal{Kind: movement.Height, Points: []body.Landmark{body.Wrist}, RestsLow: true}
	how.Rep.LeastBendDeg, how.Turn.Follow, how.Feet.Leave = 0, body.NumAngles, false
	f := Find(tr, &how, nil)
	stand, c, reps := f.Stand, f.Course, f.Reps
	near(t, "rest", c.Quick[5], 0, 0.01)
	near(t, "turn", c.Quick[tr.Index(2)], 0.7, 0.02)
	if !c.Resting[5] || c.Resting[tr.Index(2)] || !stand.Found {
		t.Errorf("resting %v at the start, %v at the turn; stand %+v", c.Resting[5], c.Resting[tr.Index(2)], stand)
	}
	for _, s := range stand.Spans {
		if s.Contains(2) || s.Contains(5) {
			t.Errorf("the hands are up in the standing %v", s)
		}
	}
	if len(reps) != 2 {
		t.Fatalf("%d reps", len(reps))
	}
	near(t, "start", reps[0].StartS, 1, 0.1)
	near(t, "bottom", reps[0].BottomS, 1.8, 0.1)
	near(t, "end of the hold", reps[0].BottomEndS, 2.1, 0.1)
	near(t, "end", reps[0].EndS, 2.9, 0.1)
}
