package correct

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/trace"
)

// What a correction moves is whole where the coach put the point, no more beside it,
// and nothing beyond the time that it reaches to.
func TestCorrectionsFade(t *testing.T) {
	times := make([]float64, 400)
	for i := range times {
		times[i] = float64(i) / 100
	}
	rapid.Check(t, func(rt *rapid.T) {
		at := rapid.SliceOfNDistinct(rapid.IntRange(0, 399), 1, 6, rapid.ID).Draw(rt, "frames")
		slices.Sort(at)
		by := make([]body.Vec, len(at))
		for i := range by {
			by[i] = body.Vec{Fwd: rapid.Float64Range(-40, 40).Draw(rt, "x"), Up: rapid.Float64Range(-40, 40).Draw(rt, "y")}
		}
		most := 0.0
		for _, d := range by {
			most = max(most, d.Length())
		}
		for i, s := range times {
			d, part := fadedAt(times, at, by, s)
			away := math.Inf(1)
			for a, k := range at {
				away = min(away, math.Abs(times[k]-s))
				if k == i && (part != 1 || d != by[a]) {
					rt.Fatalf("at the correction itself: %v by %v", part, d)
				}
			}
			if part < 0 || part > 1 || away > joinS/2 && part != 0 {
				rt.Fatalf("%v of a correction, %v s away from the nearest", part, away)
			}
			if now := d.Scale(part); now.Length() > most+1e-9 {
				rt.Fatalf("moved by %v, the corrections by %v at most", now.Length(), most)
			}
		}
	})
}

// swinging returns four seconds at 30 frames a second of an athlete whose right knee goes
// to and fro over a foot that stands, the leg some 400 pixels long.
func swinging() []trace.Observation {
	obs := make([]trace.Observation, 120)
	for i := range obs {
		t := float64(i) / 30
		obs[i].TimeS = t
		for s := range 2 {
			p := &obs[i].Points[s]
			for k := range p {
				p[k] = body.MissingPoint()
			}
			p[body.Hip], p[body.Ankle] = body.Point{X: 300, Y: 600}, body.Point{X: 300, Y: 1000}
			p[body.Knee] = body.Point{X: 330 + 60*math.Sin(math.Pi*t), Y: 800 - 20*math.Cos(math.Pi*t)}
		}
	}
	return obs
}

// A network that is off for a few frames is followed there and left alone beside.
func TestCorrectionFollowsTheMistake(t *testing.T) {
	const frame = 40
	for _, tt := range []struct {
		name      string
		from, to  int // frames with the mistake
		missing   bool
		near, far float64 // most that may be left in frames with the mistake, and beside
	}{
		{"one frame", frame, frame, false, 1, 4},
		{"five frames", frame - 2, frame + 2, false, 6, 4},
		{"the point is not there", frame, frame, true, 1, 3},
	} {
		obs := swinging()
		want := make([]body.Point, len(obs))
		for i := range obs {
			p := &obs[i].Points[body.Right][body.Knee]
			want[i] = *p
			if i >= tt.from && i <= tt.to {
				p.X, p.Y = p.X+40, p.Y-20
				if tt.missing {
					*p = body.MissingPoint()
				}
			}
		}
		obs[frame].Corrections = []trace.Correction{{Near: true, Landmark: body.Knee, X: want[frame].X, Y: want[frame].Y}}
		got := CarryOut(obs, body.Right)
		for i := range obs {
			p := obs[i].Points[body.Right][body.Knee]
			off, most := math.Hypot(p.X-want[i].X, p.Y-want[i].Y), tt.far
			if i >= tt.from && i <= tt.to {
				most = tt.near
			}
			if !(off <= most) {
				t.Errorf("%s: frame %d is off by %.1f pixels", tt.name, i, off)
			}
			if w := got.share[body.Right][body.Knee][i]; math.Abs(obs[i].TimeS-obs[frame].TimeS) > followS && w != 0 {
				t.Errorf("%s: frame %d follows by %v", tt.name, i, w)
			}
		}
		if got.share[body.Left][body.Knee] != nil || got.share[body.Right][body.Hip] != nil {
			t.Errorf("%s: other points follow", tt.name)
		}
	}
}

// The coach's times are taken, what follows from them is worked out anew, and times that
// cannot be are refused.
func TestChangeReps(t *testing.T) {
	tr, course := &trace.Trace{RateHz: 50}, &events.Course{}
	for i := range 300 {
		s := float64(i) / 50
		tr.TimeS, tr.HipHeight = append(tr.TimeS, s), append(tr.HipHeight, 1-0.5*math.Sin(math.Pi*max(0, min(1, s-1))))
		course.Quick = append(course.Quick, 1-tr.HipHeight[i])
	}
	found := func() []events.RepTimes {
		return []events.RepTimes{
			{Number: 1, StartS: 1, BottomS: 1.5, BottomEndS: 1.5, EndS: 2, DescentS: 0.5, AscentS: 0.5, Tempo: events.TempoFast},
			{Number: 2, StartS: 3, BottomS: 3.5, BottomEndS: 3.5, EndS: 4, DescentS: 0.5, AscentS: 0.5, Tempo: events.TempoFast},
		}
	}
	at := func(s float64) *float64 { return &s }
	for _, c := range []struct {
		name   string
		change RepChange
		ok     bool
		want   func(r *events.RepTimes) bool // of the first rep
	}{
		{"nothing", RepChange{AtS: 1.5}, true, func(r *events.RepTimes) bool { return r.EndS == 2 && !r.Partial }},
		{"a later bottom", RepChange{AtS: 1.2, BottomS: at(1.6)}, true, func(r *events.RepTimes) bool {
			return r.BottomS == 1.6 && math.Abs(r.DescentS-0.6) < 1e-9 && math.Abs(r.AscentS-0.4) < 1e-9 &&
				math.Abs(r.Depth-0.5*math.Sin(0.6*math.Pi)) < 1e-9
		}},
		{"tempo", RepChange{AtS: 1.2, Tempo: events.TempoSlow}, true, func(r *events.RepTimes) bool {
			return r.Tempo == events.TempoSlow && bool(r.TempoGiven)
		}},
		{"left out", RepChange{AtS: 1.2, LeftOut: true}, true, func(r *events.RepTimes) bool {
			return r.Partial && r.PartialWhy.Code == events.LeftOut
		}},
		{"no rep there", RepChange{AtS: 2.5}, false, nil},
		{"bottom before the start", RepChange{AtS: 1.5, BottomS: at(0.8)}, false, nil},
		{"into the next", RepChange{AtS: 1.5, EndS: at(3.2)}, false, nil},
		{"outside the clip", RepChange{AtS: 1.5, EndS: at(9)}, false, nil},
	} {
		reps := found()
		err := ChangeReps(tr, course, events.Stand{HipHeight: 1}, reps, []RepChange{c.change})
		if (err == nil) != c.ok || err != nil && !errors.Is(err, ErrRepChange) {
			t.Errorf("%s: %v", c.name, err)
		}
		if c.ok && !c.want(&reps[0]) {
			t.Errorf("%s: got %+v", c.name, reps[0])
		}
	}
}
