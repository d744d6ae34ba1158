package headline

import (
	"math"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/stats"
)

// rung is the ladder's rung of a joint: the angle at the bottom, and from the second condition on what was lost.
func rung(p kinematics.Position, verdicts ...stats.Verdict) kinematics.Rung {
	const easiest = 120
	sizes := map[stats.Verdict]float64{stats.Lost: 12, stats.Gained: -12, stats.Held: 1, stats.Unclear: 4}
	conditions := []string{"slow", "fast", "jump"}
	r := kinematics.Rung{Position: p, Cells: []kinematics.Cell{{Condition: "slow", Value: easiest, ZeroKnown: true}}}
	for i, v := range verdicts {
		c := kinematics.Cell{Condition: conditions[i+1], Value: math.NaN(), ZeroKnown: true, Landing: i == 1}
		if v != "" {
			lost := sizes[v]
			c.Value = easiest - lost
			c.Change = &stats.Change{Lost: lost, Interval95: [2]float64{lost - 3, lost + 3}, Verdict: v}
		}
		r.Cells = append(r.Cells, c)
	}
	return r
}

func TestFindingShowsTheLoss(t *testing.T) {
	for _, tt := range []struct {
		name           string
		verdicts       []stats.Verdict
		code           Code
		shown          int
		first, unclear string
	}{
		{"lost at the end", []stats.Verdict{stats.Held, stats.Lost}, Lost, 2, "jump", ""},
		{"lost from the middle on", []stats.Verdict{stats.Lost, stats.Lost}, Lost, 2, "fast", ""},
		{"lost in the middle alone", []stats.Verdict{stats.Lost, stats.Unclear}, Lost, 1, "fast", ""},
		{"lost in the middle, then gained", []stats.Verdict{stats.Lost, stats.Gained}, Lost, 1, "fast", ""},
		{"unclear, then lost", []stats.Verdict{stats.Unclear, stats.Lost}, Lost, 2, "jump", "fast"},
		{"held", []stats.Verdict{stats.Held, stats.Held}, Held, 2, "", ""},
		{"unclear, then held", []stats.Verdict{stats.Unclear, stats.Held}, Held, 2, "", ""},
		{"the landing not measured", []stats.Verdict{stats.Held, ""}, Held, 1, "", ""},
		{"nothing but slow", []stats.Verdict{"", ""}, Unmeasured, 2, "", ""},
		{"two conditions", []stats.Verdict{stats.Gained}, Gained, 1, "", ""},
	} {
		c := kinematics.Comparison{Pairs: []kinematics.Pair{{Baseline: "slow", Challenge: "fast"}},
			Ladder: kinematics.Ladder{Rungs: []kinematics.Rung{rung(kinematics.PositionKnee, tt.verdicts...)}}}
		for _, h := range Of(&c, nil) {
			if h.Joint != body.KneeJoint.String() {
				continue
			}
			f := h.Position
			if f.Code != tt.code || f.Shown != tt.shown || f.FirstLost != tt.first || f.UnclearAt != tt.unclear {
				t.Errorf("%s: %s of step %d, first lost at %q, unclear at %q", tt.name, f.Code, f.Shown, f.FirstLost, f.UnclearAt)
			}
			if later := len(f.Steps) - 1 - tt.shown; len(f.Later()) != later {
				t.Errorf("%s: %d steps are later, want %d", tt.name, len(f.Later()), later)
			}
		}
	}
}

// What is lost most stands first, what could not be compared last.
func TestHeadlinesAreSortedByWhatIsLost(t *testing.T) {
	lost := rung(kinematics.PositionHip, stats.Lost, stats.Unclear)
	c := kinematics.Comparison{Pairs: []kinematics.Pair{{Baseline: "slow", Challenge: "jump"}},
		Ladder: kinematics.Ladder{Rungs: []kinematics.Rung{rung(kinematics.PositionAnkle, "", ""),
			rung(kinematics.PositionKnee, stats.Held, stats.Held), lost}}}
	var got []string
	for _, h := range Of(&c, nil) {
		got = append(got, h.Joint)
	}
	if len(got) != 3 || got[0] != "hip" || got[1] != "knee" || got[2] != "ankle" {
		t.Errorf("%v", got)
	}
	if of := Of(&kinematics.Comparison{}, nil); len(of) != 0 {
		t.Errorf("headlines of nothing: %+v", of)
	}
}
