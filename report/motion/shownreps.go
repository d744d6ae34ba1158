package motion

import (
	"slices"

	"holdfast/kinematics"
	"holdfast/report/said"
	"holdfast/screening"
)

// ShownRep is a rep shown for a condition.
type ShownRep struct {
	Of   kinematics.Condition
	A    *screening.Analysis
	Rep  *kinematics.Rep
	Clip int
}

func (s *ShownRep) Title() string {
	return said.Say("shown_rep", "of", said.Capital(s.Of.Words), "rep", s.Rep.Number)
}

// ShownReps returns the most typical rep of each condition, from the easiest on.
func ShownReps(c *screening.Comparison) []ShownRep {
	var out []ShownRep
	add := func(key string, clip, number int) {
		of := c.Condition(key)
		if slices.ContainsFunc(out, func(s ShownRep) bool { return s.Of == of }) {
			return
		}
		if clip < 0 || clip >= len(c.Analyses) || c.Analyses[clip] == nil {
			return
		}
		a := c.Analyses[clip]
		for i := range a.Reps {
			if a.Reps[i].Number == number {
				out = append(out, ShownRep{of, a, &a.Reps[i], clip})
				return
			}
		}
	}
	for i := range c.Pairs {
		p := &c.Pairs[i]
		add(p.Baseline, p.BaselineClip, p.BaselineRep)
		add(p.Challenge, p.ChallengeClip, p.ChallengeRep)
	}
	if len(c.Pairs) == 0 {
		for clip, a := range c.Analyses {
			if a != nil {
				for _, r := range screening.TypicalReps(a) {
					add(string(r.Tempo), clip, r.Number)
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b ShownRep) int { return said.PlaceOf(a.Of) - said.PlaceOf(b.Of) })
	return out
}
