package events

import (
	"math"
	"slices"
	"testing"

	"holdfast/kinematics/trace"
)

// The zero comes from the standing next to the reps, whatever the athlete does later; from
// all of it where none is near.
func TestStandsByReps(t *testing.T) {
	stand := Stand{Found: true, Spans: []trace.Span{{FromS: 0, ToS: 3}, {FromS: 5, ToS: 6}, {FromS: 20, ToS: 30}}}
	for _, c := range []struct {
		name string
		reps []RepTimes
		want []trace.Span
	}{
		{"beside", []RepTimes{{StartS: 3, EndS: 5}}, []trace.Span{{FromS: 1, ToS: 3}, {FromS: 5, ToS: 6}}},
		{"far from all", []RepTimes{{StartS: 10, EndS: 12}}, stand.Spans},
		{"no rep", nil, stand.Spans},
	} {
		if got := StandsByReps(stand.Spans, c.reps); !slices.Equal(got, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}

func TestFindStand(t *testing.T) {
	deep := func(float64) float64 { return 0.6 }
	wander := func(t float64) float64 { return 1 + 0.1*math.Sin(6*t) }
	for _, c := range []struct {
		name    string
		hip     func(t float64) float64
		flights []trace.Span
		spans   []trace.Span // nil: no standing
	}{
		{"all along", standingStill, nil, []trace.Span{{FromS: 0, ToS: 4}}},
		{"before and after a squat", squat(1, 0.6, 0.2, 0.5), nil, []trace.Span{{FromS: 0, ToS: 1.1}, {FromS: 2.3, ToS: 4}}},
		{"in a squat all along", deep, nil, nil},
		{"never still", wander, nil, nil},
		{"not beside a flight", standingStill, []trace.Span{{FromS: 1, ToS: 1.5}},
			[]trace.Span{{FromS: 0, ToS: 0.75}, {FromS: 1.75, ToS: 4}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := FindStand(handTrace(60, 4, c.hip, onTheFloor), c.flights)
			if s.Found != (c.spans != nil) || len(s.Spans) != len(c.spans) {
				t.Fatalf("%+v, want %v", s, c.spans)
			}
			for i, want := range c.spans {
				near(t, "begins", s.Spans[i].FromS, want.FromS, 0.15)
				near(t, "ends", s.Spans[i].ToS, want.ToS, 0.15)
			}
			if s.Found {
				near(t, "height", s.HipHeight, 1, 0.01)
			}
		})
	}
}

// A stand beside a rep whose knees still straighten takes nothing off its range: of the stand only what the angles are
// counted from counts. Two tracks of one real clip, played and mirrored, so differed by 3 degrees more.
func TestRangesCountFromZero(t *testing.T) {
	stand := func(fromS, toS float64) trace.Span { return trace.Span{FromS: fromS, ToS: toS} }
	for _, tt := range []struct {
		name               string
		flown              bool
		beside, zero, want []trace.Span
	}{
		{"straight from a while on", false, []trace.Span{stand(0, 2), stand(5, 6)}, []trace.Span{stand(1, 2)},
			[]trace.Span{stand(1, 2)}},
		{"the zero is elsewhere", false, []trace.Span{stand(0, 2)}, []trace.Span{stand(7, 8)}, []trace.Span{stand(0, 2)}},
		{"no stand beside", false, nil, []trace.Span{stand(7, 8)}, nil},
		{"a jump without a stand beside", true, nil, []trace.Span{stand(7, 8)}, []trace.Span{stand(7, 8)}},
		{"no zero", true, []trace.Span{stand(0, 2)}, nil, []trace.Span{stand(0, 2)}},
	} {
		reps := []RepTimes{{Beside: tt.beside, TakeoffS: math.NaN(), ContactS: math.NaN()}}
		if tt.flown {
			reps[0].TakeoffS, reps[0].ContactS, reps[0].FlightS = 3, 3.4, 0.4
		}
		if CountFromZero(reps, tt.zero); !slices.Equal(reps[0].Beside, tt.want) {
			t.Errorf("%s: %v", tt.name, reps[0].Beside)
		}
	}
}
