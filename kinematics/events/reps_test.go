package events

import (
	"math"
	"strings"
	"testing"

	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// repsIn returns the reps of a trace, and the movements whose feet moved.
func repsIn(tr *trace.Trace) (reps []RepTimes, moved []trace.Span) {
	flights, _ := FindFlights(tr)
	return findSquats(tr, flights)
}

func TestOneRep(t *testing.T) {
	for _, c := range []struct{ waysS, holdS float64 }{{1, 0.4}, {0.5, 0.3}, {0.4, 0}} {
		reps, moved := repsIn(handTrace(60, 5, squat(1.5, c.waysS, c.holdS, 0.5), onTheFloor))
		if len(reps) != 1 || len(moved) > 0 {
			t.Fatalf("%+v: %d reps, %d moved", c, len(reps), len(moved))
		}
		r := &reps[0]
		near(t, "start", r.StartS, 1.5, 0.05)
		near(t, "bottom", r.BottomS, 1.5+c.waysS, 0.06)
		near(t, "end of the dwell", r.BottomEndS, 1.5+c.waysS+c.holdS, 0.06)
		near(t, "end", r.EndS, 1.5+2*c.waysS+c.holdS, 0.05)
		near(t, "depth", r.Depth, 0.5, 0.01)
		// A minimum-jerk movement is fastest at 15/8 of its mean speed.
		near(t, "fall", r.PeakSpeed, 0.5*1.875/c.waysS, 0.05)
		if r.HasFlight() || r.Partial || len(r.Beside) != 2 || !math.IsNaN(r.TakeoffS) {
			t.Errorf("%+v", r)
		}
	}
}

func TestJumpsInARow(t *testing.T) {
	// Down, up and off the floor at 2.0 s; lands in a squat, holds it, and jumps again.
	hip := func(t float64) float64 {
		at := func(t0, t1, a, b float64) float64 { return a + (b-a)*signal.MinJerk((t-t0)/(t1-t0)) }
		switch {
		case t < 1.7:
			return at(1, 1.6, 1, 0.6)
		case t < 2:
			return at(1.65, 2.15, 0.6, 1.6) // still rising as the feet leave
		case t < 2.4:
			return 1 + flown(2, 2.4)(t)
		case t < 3.8:
			return at(2.35, 2.9, 1.05, 0.6)
		case t < 4.1:
			return at(3.75, 4.25, 0.6, 1.6)
		case t < 4.5:
			return 1 + flown(4.1, 4.5)(t)
		case t < 5.2:
			return at(4.45, 5, 1.05, 0.7)
		}
		return at(5.2, 6, 0.7, 1)
	}
	reps, _ := repsIn(handTrace(60, 8, hip, over(flown(2, 2.4), flown(4.1, 4.5))))
	if len(reps) != 2 {
		t.Fatalf("%d reps, want 2", len(reps))
	}
	a, b := &reps[0], &reps[1]
	near(t, "first take-off", a.TakeoffS, 2, 0.03)
	near(t, "second contact", b.ContactS, 4.5, 0.03)
	if !a.HasFlight() || !b.HasFlight() || a.EndS > b.StartS {
		t.Errorf("%+v, then %+v", a, b)
	}
	if !math.IsNaN(b.DescentS) || b.StartS != b.BottomS {
		t.Errorf("the second begins with its push: %+v", b)
	}
	names := ""
	for _, p := range a.Phases {
		names += string(p.Name) + " "
	}
	if !strings.HasPrefix(names, "descent") || !strings.Contains(names, "take-off flight landing") {
		t.Errorf("phases %q", names)
	}
}

// Jumps in a row in a clip that shows no standing: those between the first and the last
// are never upright. With a stand anywhere their range is counted from it.
func TestJumpsThatAreNeverUp(t *testing.T) {
	at := func(t, t0, t1, a, b float64) float64 { return a + (b-a)*signal.MinJerk((t-t0)/(t1-t0)) }
	lift := func(t float64) float64 { return flown(1, 1.4)(t) + flown(2.4, 2.8)(t) + flown(3.8, 4.2)(t) }
	hip := func(t float64) float64 {
		for _, up := range []float64{1, 2.4, 3.8} {
			switch {
			case t < up:
				return at(t, up-0.35, up+0.15, 0.6, 1.6)
			case t < up+0.4:
				return 1 + flown(up, up+0.4)(t)
			case t < up+0.95:
				return at(t, up+0.35, up+0.9, 1.05, 0.6)
			}
		}
		return at(t, 4.8, 5.6, 0.6, 0.95)
	}
	tr := handTrace(60, 6, hip, lift)
	flights, _ := FindFlights(tr)
	for _, stand := range []Stand{{HipHeight: 1}, {Found: true, HipHeight: 1, Spans: []trace.Span{{FromS: 5.7, ToS: 6}}}} {
		reps, _ := FindReps(tr, shipped.Squat(), CourseOf(tr, shipped.Squat(), stand), stand, flights)
		if len(reps) != 3 {
			t.Fatalf("%d reps of %d flights, want 3", len(reps), len(flights))
		}
		CountFromZero(reps, stand.Spans)
		for i := range reps {
			if stand.Found != (len(reps[i].Beside) == 1) {
				t.Errorf("stand %v: jump %d has %v beside it", stand.Found, i+1, reps[i].Beside)
			}
			if want := i == 1 && !stand.Found || i == 0 && !stand.Found && reps[0].Partial; reps[i].NeverUp != want {
				t.Errorf("stand %v: jump %d is never up: %v", stand.Found, i+1, reps[i].NeverUp)
			}
		}
	}
}

func TestWhatIsARep(t *testing.T) {
	shallow := squat(1.5, 1, 0, 0.1)
	twice := func(t float64) float64 { // comes up by seven tenths between
		return 1 - 0.5*(signal.MinJerk((t-1)/0.6)-0.7*signal.MinJerk((t-1.6)/0.6)+
			0.7*signal.MinJerk((t-2.2)/0.6)-signal.MinJerk((t-2.8)/0.6))
	}
	// Up to the end of the first rep the hips lie lower by an eighth of a leg, as in a picture that sinks.
	lowAtFirst := func(t float64) float64 {
		return squat(1.4, 0.6, 0, 0.5)(t) + squat(3.2, 0.5, 0, 0.5)(t) - 1 - 0.12*(1-signal.MinJerk((t-2.1)/0.5))
	}
	// The hips come up to a plank and down to a squat again.
	toTheFloor := func(t float64) float64 {
		return squat(1.2, 0.5, 1.8, 0.65)(t) + 0.5*(signal.MinJerk((t-2)/0.4)-signal.MinJerk((t-2.9)/0.4))
	}
	walksUntil := func(tr *trace.Trace, untilS float64) {
		for i, t := range tr.TimeS {
			tr.Quick[tr.NearSide][body.Ankle].X[i] += 40 * min(t, untilS)
		}
	}
	for _, c := range []struct {
		name    string
		hip     func(t float64) float64
		spoil   func(tr *trace.Trace)
		reps    int
		moved   int
		partial string // the code of why
	}{
		{"standing", standingStill, nil, 0, 0, ""},
		{"too shallow", shallow, nil, 0, 0, ""},
		{"one", squat(1.5, 0.8, 0, 0.5), nil, 1, 0, ""},
		{"two without a stand between", twice, nil, 2, 0, ""},
		{"walking", squat(1.5, 0.8, 0, 0.5), func(tr *trace.Trace) {
			for i, t := range tr.TimeS {
				tr.Quick[tr.NearSide][body.Ankle].X[i] += 40 * t
			}
		}, 0, 1, ""},
		{"walks in lower than it stands later", lowAtFirst, func(tr *trace.Trace) { walksUntil(tr, 1) }, 2, 1, ""},
		{"squats on the way to the floor and back", toTheFloor, func(tr *trace.Trace) {
			for i, t := range tr.TimeS { // the hands are on the floor, and the feet behind
				tr.Quick[tr.NearSide][body.Ankle].X[i] -= 60 * (signal.MinJerk((t-2)/0.3) - signal.MinJerk((t-3)/0.3))
			}
		}, 0, 1, ""},
		{"walks off lower than it stood", func(t float64) float64 { return lowAtFirst(5 - t) }, func(tr *trace.Trace) {
			for i, t := range tr.TimeS {
				tr.Quick[tr.NearSide][body.Ankle].X[i] += 40 * max(0, t-4)
			}
		}, 2, 1, ""},
		{"walks on in the first rep", lowAtFirst, func(tr *trace.Trace) { walksUntil(tr, 2.2) }, 1, 1, ""},
		{"neither knee nor hip bends", squat(1.5, 0.8, 0, 0.5), func(tr *trace.Trace) {
			for i := range tr.KneeDeg {
				tr.KneeDeg[i] /= 10
			}
		}, 0, 0, ""},
		{"the knee is not seen", squat(1.5, 0.8, 0, 0.5), func(tr *trace.Trace) {
			for i := range tr.KneeDeg {
				tr.KneeDeg[i] = math.NaN()
			}
		}, 0, 0, ""},
		{"the clip begins inside", squat(-0.5, 1, 0.5, 0.5), nil, 1, 0, "begins_inside"},
		{"the clip ends inside", squat(4, 0.8, 1, 0.5), nil, 1, 0, "ends_inside"},
		{"lost at the bottom", squat(1.5, 0.8, 0, 0.5),
			func(tr *trace.Trace) { tr.Missing[tr.Index(2.3)] = true }, 1, 0, "lost_at"},
		{"lost from the descent on", over(squat(0.3, 0.8, 0, 0.5), func(t float64) float64 {
			return squat(3.2, 0.8, 0, 0.5)(t) - 1
		}), func(tr *trace.Trace) { missFrom(tr, 3.7, 5) }, 1, 0, ""},
		{"lost from the ascent on", squat(1.5, 0.8, 0, 0.5), func(tr *trace.Trace) { missFrom(tr, 2.6, 5) }, 1, 0, "lost_at"},
		{"first seen in the ascent", squat(1.5, 0.8, 0, 0.5), func(tr *trace.Trace) { missFrom(tr, 0, 2.6) }, 0, 0, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr := handTrace(60, 5, c.hip, onTheFloor)
			if c.spoil != nil {
				c.spoil(tr)
			}
			reps, moved := repsIn(tr)
			if len(reps) != c.reps || len(moved) != c.moved {
				t.Fatalf("%d reps, %d moved, want %d and %d", len(reps), len(moved), c.reps, c.moved)
			}
			if c.reps == 1 && reps[0].PartialWhy.Code != c.partial {
				t.Errorf("not whole because %v, want %q", reps[0].PartialWhy, c.partial)
			}
		})
	}
}

// missFrom loses the athlete from one time to another.
func missFrom(tr *trace.Trace, fromS, toS float64) {
	for i := tr.Index(fromS); i <= tr.Index(toS); i++ {
		tr.Missing[i] = true
	}
}

// The stand that follows on a rep is shown for half a second, and no longer than to the
// next rep.
func TestAddStands(t *testing.T) {
	tr := handTrace(60, 5, standingStill, onTheFloor)
	reps := []RepTimes{{StartS: 1, EndS: 2}, {StartS: 2.2, EndS: 3}, {StartS: 3, EndS: 3.2, FlightS: 0.4},
		{StartS: 4, EndS: 4.8, Partial: true}}
	AddStands(tr, reps)
	want := [][]Phase{{{PhaseStand, 2, 2.2}}, nil, nil, nil}
	for i := range reps {
		if len(reps[i].Phases) != len(want[i]) || len(want[i]) > 0 && reps[i].Phases[0] != want[i][0] {
			t.Errorf("rep %d: %+v, want %+v", i+1, reps[i].Phases, want[i])
		}
	}
}

func TestMarkDamaged(t *testing.T) {
	tr := handTrace(60, 5, squat(1.5, 0.8, 0, 0.5), onTheFloor)
	obs := make([]trace.Observation, len(tr.TimeS))
	for _, c := range []struct {
		name     string
		from, to float64
		damaged  bool
	}{
		{"nothing", 9, 9, false}, {"before it", 0, 1, false}, {"one frame on the way", 1.8, 1.81, false},
		{"many on the way", 1.7, 1.9, true}, {"at the bottom", 2.3, 2.31, true},
	} {
		for i := range obs {
			obs[i] = trace.Observation{TimeS: tr.TimeS[i], Damaged: tr.TimeS[i] >= c.from && tr.TimeS[i] <= c.to}
		}
		reps := []RepTimes{{StartS: 1.5, BottomS: 2.3, BottomEndS: 2.3, EndS: 3.1, Depth: 0.5}}
		MarkDamaged(tr, CourseOf(tr, shipped.Squat(), FindStand(tr, nil)), reps, obs)
		if r := &reps[0]; r.Damaged != c.damaged || r.Partial != c.damaged {
			t.Errorf("%s: damaged %v (%v), want %v", c.name, r.Damaged, r.PartialWhy, c.damaged)
		}
	}
}
