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
		{tiring(t, 30, 31, 30, 29, 30, 31), "6 slow reps: from the first to the last nothing drifts."},
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

// TestToFeet tells the mean of each tempo's reps, whose error they share.
func TestToFeet(t *testing.T) {
	clip := func(tempo events.Tempo, toFeetS ...float64) *screening.Analysis {
		a := &screening.Analysis{}
		for _, s := range toFeetS {
			r := kinematics.Rep{Quality: joints.Quality{Grade: joints.GradeGood},
				Rise: &measure.Rise{ToFeetS: stats.Estimate{Value: s, SD: 0.1}}}
			r.Tempo = tempo
			a.Reps = append(a.Reps, r)
		}
		return a
	}
	c := &screening.Comparison{Analyses: []*screening.Analysis{
		clip(events.TempoFast, 0.8, 1.0), clip(events.TempoSlow, 2, math.NaN(), 1.8)}}
	c.Pairs = []kinematics.Pair{{Baseline: "slow", Challenge: "fast"}}
	if got, want := ToFeet(c), "Onto the feet: slow 1.9 s (1.7 to 2.1); fast 0.9 s (0.7 to 1.1)."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	c.Analyses = []*screening.Analysis{{}, nil}
	if got := ToFeet(c); got != "" {
		t.Errorf("%q where nothing gets up", got)
	}
}
