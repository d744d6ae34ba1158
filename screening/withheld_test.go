package screening

import (
	"encoding/json"
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/stats"
	"holdfast/screening/headline"
)

// Of different people, legs or movements nothing is said of one against the other, and the reason is kept; what was
// measured of each is.
func TestComparisonWithheld(t *testing.T) {
	for _, tt := range []struct {
		name, why string
		change    func(*Analysis)
	}{
		{"one person, leg and movement", "", func(*Analysis) {}},
		{"two people", "why_people", func(a *Analysis) { a.Athlete = "Alex Example" }},
		{"one without a name", "", func(a *Analysis) { a.Athlete = Unnamed }},
		{"two legs", "why_legs", func(a *Analysis) { a.NearSide = "left" }},
		{"a squat and a hinge", "why_movements", func(a *Analysis) { a.Reps = repsOf("fast", 3, 25, 85, 3) }},
	} {
		slow, fast := analysisOf("a", repsOf("slow", 3, 114, 120, 28)), analysisOf("b", repsOf("fast", 3, 99, 121, 20))
		slow.NearSide, fast.NearSide = "right", "right"
		tt.change(fast)
		c, err := Compare([]*Analysis{slow, fast}, CompareOptions{})
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		got := ""
		if c.Withheld != nil {
			got = c.Withheld.Code
		}
		if got != tt.why {
			t.Errorf("%s: withheld for %q, want %q", tt.name, got, tt.why)
		}
		for _, h := range c.Headlines {
			for _, f := range []headline.Finding{h.Position, h.Range} {
				if (f.Code == headline.Withheld) != (tt.why != "") || (f.Why != nil) != (tt.why != "") {
					t.Errorf("%s: %s is %q", tt.name, h.Joint, f.Code)
				}
			}
		}
		for _, j := range body.LegJoints {
			ch := c.Pairs[0].Joints[j]
			if math.IsNaN(ch.LostDeg) != (tt.why != "") || tt.why != "" && (ch.Verdict != stats.Unclear ||
				ch.BottomVerdict != stats.Unclear || !math.IsNaN(ch.BottomLostDeg) || c.FirstLost[j] != nil) {
				t.Errorf("%s: joint %d: %+v", tt.name, j, ch)
			}
			if math.IsNaN(ch.BaselineROMDeg) || math.IsNaN(ch.ChallengeROMDeg) {
				t.Errorf("%s: joint %d is not measured", tt.name, j)
			}
		}
		doc, err := json.Marshal(c)
		var again Comparison
		if err == nil {
			err = json.Unmarshal(doc, &again)
		}
		if err != nil || (again.Withheld == nil) != (c.Withheld == nil) {
			t.Errorf("%s: written and read: %v", tt.name, err)
		}
	}
}
