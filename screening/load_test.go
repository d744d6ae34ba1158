package screening_test

import (
	"math"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/kinematics/body"
	"holdfast/screening"
)

// Where an outside load is, nobody knows: with one, neither centre of mass nor support point is given, and all that
// rests on the body's own points is as without.
func TestLoadHidesTheMass(t *testing.T) {
	kg := func(x float64) *float64 { return &x }
	plain, _ := tracks.Analysis(t, "slow_30", screening.Options{})
	for _, tt := range []struct {
		name  string
		load  *float64
		known bool
	}{
		{"nothing said", nil, true},
		{"said to carry nothing", kg(0), true},
		{"a bar", kg(20), false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a, _ := tracks.Analysis(t, "slow_30", screening.Options{LoadKg: tt.load})
			for i := range a.Reps {
				r := &a.Reps[i]
				if known := !math.IsNaN(r.Support[0].MeanPct.Value); known != tt.known {
					t.Errorf("rep %d: support point known: %v", r.Number, known)
				}
				at := int(math.Round(r.BottomS * a.Series.RateHz))
				if known := !math.IsNaN(a.Series.MassCentrePx.X[at]) || !math.IsNaN(a.Series.SupportPct[at]); known != tt.known {
					t.Errorf("rep %d: centre of mass or support point known at the bottom: %v", r.Number, known)
				}
				for _, j := range body.LegJoints {
					if got, want := r.Angles[j.Angle()].ROMDeg, plain.Reps[i].Angles[j.Angle()].ROMDeg; got != want {
						t.Errorf("rep %d: the range of the %v is %.1f, without a load %.1f", r.Number, j, got, want)
					}
				}
				if r.Foot.Heel.Up != plain.Reps[i].Foot.Heel.Up {
					t.Errorf("rep %d: the heel changes with the load", r.Number)
				}
			}
		})
	}
}
