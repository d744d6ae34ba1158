package pages

import (
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/stats"
	"holdfast/report/said"
	"holdfast/words"
)

// changeCell is the cell of a change of a position: its verdict as a badge, and how much.
func changeCell(p kinematics.Position, ch *stats.Change) Cell {
	return Cell{Text: said.PositionVerdict(p, ch.Verdict), Badge: kinematics.PositionQuantity(p).Look(ch.Verdict),
		Under: under(said.PositionChange(p, ch))}
}

// ladder is the table that follows each position from slow to fast to the landing.
func (p *Material) ladder() Section {
	sec := Section{ID: "ladder"}
	var conditions []string
	for _, of := range p.Comparison.Conditions() {
		conditions = append(conditions, of.Words)
	}
	if sec.Title = said.Say("ladder", "conditions", conditions); !p.Comparison.ByTempo() {
		sec.Title = said.Say("ladder_sides", "turn", p.Comparison.ShownTurn())
	}
	rungs := p.Comparison.Ladder.Rungs
	t := &Table{Columns: []column{{Title: said.Say("head_at_bottom", "turn", p.Comparison.ShownTurn())}}}
	easiest := ""
	if len(rungs) > 0 {
		for i := range rungs[0].Cells {
			t.Columns = append(t.Columns, column{Title: said.CellWord(p.Comparison, &rungs[0].Cells[i])})
		}
		easiest = t.Columns[1].Title
	}
	t.Columns = append(t.Columns, column{Title: said.Say("head_first_outside"), Spare: true})
	var sentences []string
	for i := range rungs {
		r := &rungs[i]
		row := []Cell{{Text: said.PositionWords(r.Position).Name,
			Under: under(said.PositionWords(r.Position).Scale)}}
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
		last := Cell{Text: "–"}
		if k := slices.IndexFunc(r.Cells, func(at kinematics.Cell) bool { return at.Condition == r.First }); k >= 0 {
			last = Cell{Text: said.CellWord(p.Comparison, &r.Cells[k]), Bold: true}
		}
		t.Rows = append(t.Rows, append(row[:len(t.Columns)-1:len(t.Columns)-1], last))
		if s := said.RungSentence(r); s != "" {
			sentences = append(sentences, s)
		}
	}
	if len(t.Rows) == 0 {
		return sec
	}
	sec.Blocks = append(sec.Blocks,
		Block{Small: true, Text: said.Say("ladder_explained", "turn", p.Comparison.ShownTurn(), "easiest", easiest)},
		Block{Table: t})
	if note := said.LandingNote(p.Comparison); note != "" {
		sec.Blocks = append(sec.Blocks, Block{Small: true, Text: note})
	}
	if slices.ContainsFunc(rungs, func(r kinematics.Rung) bool {
		return slices.ContainsFunc(r.Cells, func(c kinematics.Cell) bool { return !c.ZeroKnown })
	}) {
		sec.Blocks = append(sec.Blocks, Block{Small: true, Text: said.NoZero()})
	}
	if len(sentences) > 0 {
		sec.Blocks = append(sec.Blocks, Block{List: sentences})
	} else if p.Comparison.ByTempo() {
		sec.Blocks = append(sec.Blocks, Block{Text: said.Say("ladder_nothing")})
	}
	sec.Blocks = append(sec.Blocks, Block{Note: words.Say("ladder.caution", nil)})
	return sec
}

func under(s string) []string {
	if s == "" {
		return nil
	}
	return []string{s}
}

func ladderCell(r *kinematics.Rung, at *kinematics.Cell) Cell {
	if math.IsNaN(at.Value) {
		return missingCell
	}
	unit := said.UnitSign(kinematics.PositionQuantity(r.Position).Unit)
	out := Cell{Text: said.Whole(at.Value) + unit + said.ZeroMark(at.ZeroKnown),
		Under: under(said.IntervalOrNone(at.Interval95))}
	if at.Change != nil {
		if s := said.PositionChange(r.Position, at.Change); s != "" {
			out.Under = append(out.Under, s)
		}
		out.Under = append(out.Under, said.PositionVerdict(r.Position, at.Change.Verdict))
	}
	out.Bold = r.First == at.Condition
	return out
}
