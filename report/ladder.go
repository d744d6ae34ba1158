package report

import (
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/stats"
	"holdfast/screening"
	"holdfast/words"
)

// UnitSign returns the sign of a unit as it stands behind a number: "°", " %".
func UnitSign(u kinematics.Unit) string {
	if u == kinematics.Degrees {
		return "°"
	}
	return " %"
}

// PositionVerdict returns a verdict in the words of a position of the ladder: what lies
// further to the toes or leans more has gained nothing.
func PositionVerdict(p kinematics.Position, v stats.Verdict) string {
	switch w := PositionWords(p); v {
	case stats.Lost:
		return w.ClearlyLess
	case stats.Gained:
		return w.ClearlyMore
	}
	return VerdictWord(v)
}

// positionChange says a change of a position in words: "8° less (2 to 13)".
func positionChange(p kinematics.Position, ch *stats.Change) string {
	if math.IsNaN(ch.Lost) {
		return ""
	}
	w := PositionWords(p)
	way, v, iv := w.Less, ch.Lost, ch.Interval95
	if ch.Lost < 0 {
		way, v, iv = w.More, -ch.Lost, [2]float64{-ch.Interval95[1], -ch.Interval95[0]}
	}
	if math.Round(v) == 0 {
		return say("difference_label", "form", "same", "ends", interval(iv[0], iv[1]))
	}
	return say("position_change", "size", whole(v)+UnitSign(kinematics.PositionQuantity(p).Unit), "way", way, "ends", interval(iv[0], iv[1]))
}

// RungSentence returns what a rung of the ladder may mean in one sentence; empty where nothing
// is said.
func RungSentence(r *kinematics.Rung) string {
	switch r.PointsTo {
	default:
		return ""
	case kinematics.PointsToRange, kinematics.PointsToControlAtSpeed, kinematics.PointsToControlAtTurn:
	}
	return words.Say("rung."+r.Position.String()+"."+string(r.PointsTo), nil)
}

// changeCell is the cell of a change of a position: its verdict as a badge, and how much.
func changeCell(p kinematics.Position, ch *stats.Change) cell {
	return cell{Text: PositionVerdict(p, ch.Verdict), Badge: kinematics.PositionQuantity(p).Look(ch.Verdict),
		Under: under(positionChange(p, ch))}
}

// ladder is the table that follows each position from slow to fast to the landing.
func (p *page) ladder() section {
	sec := section{ID: "ladder", Title: say("ladder")}
	easiest := words.Say("condition.slow", nil)
	if !p.c.ByTempo() {
		sec.Title, easiest = say("ladder_sides"), p.c.Sides[0].Words
	}
	rungs := p.c.Ladder.Rungs
	t := &table{Columns: []column{{Title: say("head_at_bottom")}}}
	if len(rungs) > 0 {
		for _, cell := range rungs[0].Cells {
			at := p.c.Condition(cell.Condition)
			if isJump(at) {
				at.Words = say("head_landing")
			}
			t.Columns = append(t.Columns, column{Title: at.Words})
		}
	}
	t.Columns = append(t.Columns, column{Title: say("head_first_outside"), Spare: true})
	var said []string
	for i := range rungs {
		r := &rungs[i]
		row := []cell{{Text: PositionWords(r.Position).Name,
			Under: under(PositionWords(r.Position).Scale)}}
		known := false
		for k := range r.Cells {
			known = known || !math.IsNaN(r.Cells[k].Value)
			row = append(row, ladderCell(r, &r.Cells[k]))
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
		if s := RungSentence(r); s != "" {
			said = append(said, s)
		}
	}
	if len(t.Rows) == 0 {
		return sec
	}
	sec.Blocks = append(sec.Blocks,
		block{Small: true, Text: say("ladder_explained", "easiest", easiest)},
		block{Table: t})
	if slices.ContainsFunc(rungs, func(r kinematics.Rung) bool {
		return slices.ContainsFunc(r.Cells, func(c kinematics.Cell) bool { return !c.ZeroKnown })
	}) {
		sec.Blocks = append(sec.Blocks, block{Small: true, Text: NoZero()})
	}
	if len(said) > 0 {
		sec.Blocks = append(sec.Blocks, block{List: said})
	} else if p.c.ByTempo() {
		sec.Blocks = append(sec.Blocks, block{Text: say("ladder_nothing")})
	}
	sec.Blocks = append(sec.Blocks, block{Note: words.Say("ladder.caution", nil)})
	return sec
}

func under(s string) []string {
	if s == "" {
		return nil
	}
	return []string{s}
}

func ladderCell(r *kinematics.Rung, at *kinematics.Cell) cell {
	if math.IsNaN(at.Value) {
		return missingCell
	}
	unit := UnitSign(kinematics.PositionQuantity(r.Position).Unit)
	out := cell{Text: whole(at.Value) + unit + ZeroMark(at.ZeroKnown), Under: under(intervalOrNone(at.Interval95))}
	if at.Change != nil {
		if s := positionChange(r.Position, at.Change); s != "" {
			out.Under = append(out.Under, s)
		}
		out.Under = append(out.Under, PositionVerdict(r.Position, at.Change.Verdict))
	}
	out.Bold = r.First == at.Condition
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
	return say("shown_rep", "of", capital(s.of.Words), "rep", s.rep.Number)
}
