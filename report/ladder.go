package report

import (
	"fmt"
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/stats"
	"holdfast/screening"
)

// rungWords are the words for a position of the ladder: its name, its unit, and what
// is said of less and of more of it.
type rungWords struct {
	name, unit string
	decimals   int
	less, more string
	// lessVerdict and moreVerdict say a clear change; the class shows in the badge.
	lessVerdict, moreVerdict string
	lessClass, moreClass     string
}

func wordsOf(position string) rungWords {
	w := rungWords{capital(position), "", 0, "less", "more", "less", "more", "moved", "moved"}
	p, ok := kinematics.ParsePosition(position)
	if !ok {
		return w
	}
	of := kinematics.PositionQuantity(p)
	w.name, w.unit = of.Words, UnitSign(of.Unit)
	switch {
	case of.Worse > 0:
		w.lessVerdict, w.moreVerdict, w.lessClass, w.moreClass = "lost", "gained", "lost", "gained"
	case of.Worse < 0:
		w.lessClass, w.moreClass = "gained", "lost"
	case p == kinematics.PositionSupport:
		w.less, w.more, w.lessVerdict, w.moreVerdict = "toward the heel", "toward the toes", "nearer the heel", "nearer the toes"
	case p == kinematics.PositionTrunk:
		w.lessVerdict, w.moreVerdict = "leans less", "leans more"
	}
	return w
}

// UnitSign returns the sign of a unit as it stands behind a number: "°", " %".
func UnitSign(u kinematics.Unit) string {
	if u == kinematics.Degrees {
		return "°"
	}
	return " %"
}

// verdict returns the words for a verdict of a change of this position, and their class.
func (w rungWords) verdict(v stats.Verdict) (words, class string) {
	switch v {
	case "lost":
		return w.lessVerdict, w.lessClass
	case "gained":
		return w.moreVerdict, w.moreClass
	}
	return string(v), string(v)
}

// PositionVerdict returns a verdict in the words of a position of the ladder: what lies
// further to the toes or leans more has gained nothing.
func PositionVerdict(position string, verdict stats.Verdict) string {
	words, _ := wordsOf(position).verdict(verdict)
	return words
}

// change says a change in words: "8° less (2 to 13)".
func (w rungWords) change(ch *stats.Change) string {
	lost := ch.Lost
	if math.IsNaN(lost) {
		return ""
	}
	way, v, iv := w.less, lost, ch.Interval95
	if lost < 0 {
		way, v, iv = w.more, -lost, [2]float64{-ch.Interval95[1], -ch.Interval95[0]}
	}
	if math.Round(v) == 0 {
		return "the same (" + interval(iv[0], iv[1]) + ")"
	}
	return decimal(v, w.decimals) + w.unit + " " + way + " (" + interval(iv[0], iv[1]) + ")"
}

// ladder is the table that follows each position from slow to fast to the landing.
func (p *page) ladder() section {
	sec := section{ID: "ladder", Title: "The ladder: slow, fast, jump"}
	easiest := "slow"
	if !p.c.ByTempo() {
		sec.Title, easiest = "Positions at the bottom", p.c.Sides[0].Words
	}
	rungs := p.c.Ladder.Rungs
	t := &table{Columns: []column{{Title: "at the bottom"}}}
	if len(rungs) > 0 {
		for _, cell := range rungs[0].Cells {
			at := p.c.Condition(cell.Tempo)
			if isJump(at) {
				at.Words = "landing of the jump"
			}
			t.Columns = append(t.Columns, column{Title: at.Words})
		}
	}
	t.Columns = append(t.Columns, column{Title: "first outside", Spare: true})
	var said []string
	for i := range rungs {
		r := &rungs[i]
		w := wordsOf(r.Position)
		row := []cell{{Text: w.name, Under: under(unitWords(r.Position))}}
		known := false
		for k := range r.Cells {
			known = known || !math.IsNaN(r.Cells[k].Value)
			row = append(row, ladderCell(r, &r.Cells[k], w))
		}
		if !known {
			continue
		}
		for len(row) < len(t.Columns)-1 {
			row = append(row, missingCell)
		}
		last := cell{Text: "–"}
		if r.First != "" {
			last = cell{Text: p.c.Word(r.First), Bold: true}
		}
		t.Rows = append(t.Rows, append(row[:len(t.Columns)-1:len(t.Columns)-1], last))
		if r.Sentence != "" {
			said = append(said, r.Sentence)
		}
	}
	if len(t.Rows) == 0 {
		return sec
	}
	sec.Blocks = append(sec.Blocks,
		block{Small: true, Text: "Each position at the lowest point, from the ground up: the mean of the reps and its 95 % interval; then the change against " + easiest + " with its own. " +
			"“First outside” names the first at which the position is clearly another than " + easiest + ", by more than the smallest change that matters; there the number is bold."},
		block{Table: t})
	if len(said) > 0 {
		sec.Blocks = append(sec.Blocks, block{List: said})
	} else if p.c.ByTempo() {
		sec.Blocks = append(sec.Blocks, block{Text: "The numbers do not point to one thing."})
	}
	if p.c.Ladder.Caution != "" {
		sec.Blocks = append(sec.Blocks, block{Note: p.c.Ladder.Caution})
	}
	return sec
}

func under(s string) []string {
	if s == "" {
		return nil
	}
	return []string{s}
}

func unitWords(position string) string {
	switch position {
	case "support_point":
		return "heel 0 %, toe 100 %"
	case "heel_rise":
		return "% of the foot's length"
	case "ankle":
		return "dorsiflexion"
	case "knee", "hip":
		return "flexion"
	case "trunk":
		return "to the vertical"
	}
	return ""
}

func ladderCell(r *screening.Rung, at *screening.LadderAt, w rungWords) cell {
	if math.IsNaN(at.Value) {
		return missingCell
	}
	out := cell{Text: decimal(at.Value, w.decimals) + w.unit, Under: under(intervalOrNone(at.Interval95))}
	if at.Change != nil {
		verdict, _ := w.verdict(at.Change.Verdict)
		if s := w.change(at.Change); s != "" {
			out.Under = append(out.Under, s)
		}
		if verdict != "" {
			out.Under = append(out.Under, verdict)
		}
	}
	out.Bold = r.First == at.Tempo
	return out
}

// shownRep is a rep shown for a condition.
type shownRep struct {
	of   kinematics.Condition
	a    *screening.Analysis
	rep  *kinematics.Rep
	clip int
}

// shownReps returns the most typical rep of each condition, from the easiest on.
func shownReps(c *screening.Comparison) []shownRep {
	var out []shownRep
	add := func(key string, clip, number int) {
		of := c.Condition(key)
		if slices.ContainsFunc(out, func(s shownRep) bool { return s.of == of }) {
			return
		}
		if clip < 0 || clip >= len(c.Analyses) || c.Analyses[clip] == nil {
			return
		}
		a := c.Analyses[clip]
		for i := range a.Reps {
			if a.Reps[i].Number == number {
				out = append(out, shownRep{of, a, &a.Reps[i], clip})
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
	slices.SortStableFunc(out, func(a, b shownRep) int { return placeOf(a.of) - placeOf(b.of) })
	return out
}

func (s *shownRep) title() string {
	return fmt.Sprintf("%s, rep %d", capital(s.of.Words), s.rep.Number)
}
