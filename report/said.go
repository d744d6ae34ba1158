package report

import (
	"holdfast/screening"
	"holdfast/words"
)

// Said is what is said of a comparison, for those who show it.
type Said struct {
	// Rungs are the sentences of the ladder's rungs, in order; empty where nothing is said.
	Rungs []string `json:"rungs"`
	// Caution goes with the ladder.
	Caution string `json:"caution"`
}

// SaidOf returns what is said of a comparison.
func SaidOf(c *screening.Comparison) Said {
	s := Said{Rungs: []string{}, Caution: words.Say("ladder.caution", nil)}
	for i := range c.Ladder.Rungs {
		s.Rungs = append(s.Rungs, RungSentence(&c.Ladder.Rungs[i]))
	}
	return s
}
