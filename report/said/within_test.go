package said

import (
	"math"
	"strings"
	"testing"

	"holdfast/internal/pseudo"
	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/screening"
)

func tiring(t *testing.T, reps ...float64) *screening.Analysis {
	t.Helper()
	w, ok := stats.WithinSet(reps, kinematics.CompareOptions{}.ForPosition(kinematics.PositionAnkle))
	if !ok {
		t.Fatal("too few reps")
	}
	of := kinematics.PositionWithin{Position: kinematics.PositionAnkle, Unit: kinematics.Degrees, Reps: len(reps),
		Within: w}
	if w.Stays >= 0 {
		of.StaysFrom = w.Stays + 1
	}
	return &screening.Analysis{Schema: screening.AnalysisSchema,
		Sets: []kinematics.Set{{Tempo: "slow", Reps: len(reps), Within: []kinematics.PositionWithin{of}}}}
}

func TestWithin(t *testing.T) {
	tired := tiring(t, 30, 31, 30, 29, 30, 29, 27, 25, 21, 20, 20, 19)
	for _, tt := range []struct {
		of   *screening.Analysis
		want string
	}{
		{tired, "12 slow reps, ankle: 1.2° less a rep (0.9 to 1.5); 10° less in the last third than in the first (8 to " +
			"12); from rep 7 on it stays below the first ones."},
		{tiring(t, 19, 20, 20, 21, 25, 27, 29, 30), "8 slow reps, ankle: 1.8° more a rep (1.3 to 2.2); 10° more in the " +
			"last third than in the first (7 to 13); from rep 5 on it stays above the first ones."},
		{tiring(t, 30, 31, 30, 29, 30, 31), "6 slow reps: no position drifts from the first to the last."},
		{tiring(t, 30, 31, 30), ""},
	} {
		if got := strings.Join(Within(tt.of), "\n"); got != tt.want {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
	pseudo.Speak(t)
	if found := pseudo.English(strings.Join(Within(tired), " ")); len(found) > 0 {
		t.Errorf("%q is English", found)
	}
}

// Each way onto the feet and each drop is told in a line: how long, in how many steps, until still, and what is not
// known.
func TestWaysOfReps(t *testing.T) {
	a := &screening.Analysis{Schema: screening.AnalysisSchema, Reps: make([]kinematics.Rep, 5)}
	none, one, three := 0, 1, 3
	a.Reps[0].Rise = &measure.Rise{ToFeetS: stats.Estimate{Value: 2, SD: 0.1}, StillS: 2.4, Steps: &three}
	a.Reps[1].Rise = &measure.Rise{ToFeetS: stats.Estimate{Value: 1, SD: 0.1}, StillS: math.NaN(), Steps: &none}
	a.Reps[2].Rise = &measure.Rise{ToFeetS: stats.Estimate{Value: 1, SD: 0.1}, StillS: math.NaN()}
	a.Reps[3].Drop = &measure.Drop{HeightM: stats.Estimate{Value: 0.4, SD: 0.01}, StillS: 0.2, Steps: &one}
	a.Reps[4].Drop = &measure.Drop{HeightM: stats.Unknown(), StillS: 0.2, Steps: &none}
	for i := range a.Reps {
		a.Reps[i].Number = i + 1
	}
	const want = "Rep 1: onto the feet in 2.0 s (1.8 to 2.2) from when the body begins to come up; then 3 more steps " +
		"until both feet stay; still after 2.4 s.\n" +
		"Rep 2: onto the feet in 1.0 s (0.8 to 1.2) from when the body begins to come up; then no more steps.\n" +
		"Rep 3: onto the feet in 1.0 s (0.8 to 1.2) from when the body begins to come up; steps not known, as a foot is " +
		"hidden or the clip ends too soon.\n" +
		"Rep 4: dropped from 40 cm (38 to 42); still 0.2 s after the first contact; 1 step after the landing.\n" +
		"Rep 5: still 0.2 s after the first contact; no step after the landing; with the athlete's height the drop is " +
		"measured too."
	if got := strings.Join(Within(a), "\n"); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}

// TestTimes tells the mean of each tempo's reps: how long they took onto their feet and until they were still, on the
// floor and in the air.
func TestTimes(t *testing.T) {
	clip := func(tempo events.Tempo, change func(*kinematics.Rep, float64), timesS ...float64) *screening.Analysis {
		a := &screening.Analysis{}
		for _, s := range timesS {
			r := kinematics.Rep{Quality: joints.Quality{Grade: joints.GradeGood}}
			r.Tempo = tempo
			change(&r, s)
			a.Reps = append(a.Reps, r)
		}
		return a
	}
	rises := func(r *kinematics.Rep, s float64) {
		r.Rise = &measure.Rise{ToFeetS: stats.Estimate{Value: s, SD: 0.1}, StillS: s + 0.2}
		if steps := int(2 * s); !math.IsNaN(s) { // 1 and 2 of the fast ones, 3 and 4 of the slow ones
			r.Rise.Steps = &steps
		}
	}
	drops := func(r *kinematics.Rep, s float64) {
		r.Drop = &measure.Drop{HeightM: stats.Unknown(), StillS: s}
		if steps := 0; s < 0.3 {
			r.Drop.Steps = &steps
		}
	}
	hops := func(r *kinematics.Rep, s float64) {
		r.Jump = &measure.Jump{Kind: measure.JumpRebound, ContactTimeS: stats.Estimate{Value: s, SD: 0.01}, FlightS: 2 * s,
			FlightInterval95S: [2]float64{2*s - 0.02, 2*s + 0.02}}
		r.Landing = &measure.Landing{SettleS: math.NaN(), ToStandS: math.NaN()}
		if s < 0.2 {
			r.Landing.ToStandS = 0.8
		}
	}
	c := &screening.Comparison{}
	c.Pairs = []kinematics.Pair{{Baseline: "slow", Challenge: "fast"}}
	for _, tt := range []struct {
		analyses []*screening.Analysis
		want     string
	}{
		{[]*screening.Analysis{clip(events.TempoFast, rises, 0.8, 1.0), clip(events.TempoSlow, rises, 2, math.NaN(), 1.8)},
			"From the floor onto the feet: slow 1.9 s (1.7 to 2.1); fast 0.9 s (0.7 to 1.1).\n" +
				"Until still: slow 2.1 s (reps 2.0 to 2.2); fast 1.1 s (reps 1.0 to 1.2).\n" +
				"More steps after the first foot until both stay: slow 3 to 4; fast 1 to 2."},
		{[]*screening.Analysis{clip(events.TempoSlow, drops, 0.2), clip(events.TempoFast, drops, 0.4)},
			"Until still: slow 0.2 s; fast 0.4 s.\nSteps after the landing: slow 0."}, // those of hidden feet are not known
		{[]*screening.Analysis{clip(events.TempoSlow, hops, 0.3, 0.32), clip(events.TempoFast, hops, 0.21, 0.15)},
			"On the floor between two hops: slow 0.31 s (0.29 to 0.33); fast 0.18 s (0.16 to 0.20).\n" +
				"In the air: slow 0.62 s (0.60 to 0.64); fast 0.36 s (0.34 to 0.38).\n" +
				"From first contact until standing: fast 0.8 s."},
		{[]*screening.Analysis{{}, nil}, ""},
	} {
		c.Analyses = tt.analyses
		if got := strings.Join(Times(c), "\n"); got != tt.want {
			t.Errorf("%q, want %q", got, tt.want)
		}
	}
}
