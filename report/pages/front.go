package pages

import (
	"holdfast/report/said"
	"holdfast/screening/headline"
	"holdfast/words"
)

// coachFront puts the coach's page of clips from the front together: what only the front shows.
func (p *Material) coachFront(s *Coach) *Coach {
	s.Explained = words.Say("front.explained", nil)
	warnings := p.heed(s)
	for i, t := range said.FrontPairs(p.Comparison) {
		s.add(frontSection(sectionID("front", i), &t))
	}
	s.add(warnings)
	s.add(care(p.Comparison))
	s.Appendix = len(s.Sections)
	s.add(p.marked())
	for i, a := range p.Comparison.Analyses {
		if a == nil {
			continue
		}
		t := said.FrontReps(a)
		t.Title = a.Clip.Name
		s.add(frontSection(sectionID("reps", i), t))
	}
	return s
}

// frontSection is a table of what the front shows under its title.
func frontSection(id string, t *said.FrontTable) Section {
	table := &Table{}
	for _, head := range t.Head {
		table.Columns = append(table.Columns, column{Title: head, Words: true})
	}
	for _, row := range t.Rows {
		var cells []Cell
		for _, text := range row {
			cells = append(cells, Cell{Text: text})
		}
		table.Rows = append(table.Rows, cells)
	}
	sec := Section{ID: id, Title: t.Title, Blocks: []Block{{Table: table}}}
	for _, note := range t.Notes {
		sec.Blocks = append(sec.Blocks, Block{Small: true, Text: note})
	}
	return sec
}

// athleteFront says on the athlete's page what became of the knees.
func (p *Material) athleteFront(s *Athlete) {
	s.LessTitle = words.Say("front.sheet", nil)
	for _, h := range said.Headlines(p.Comparison) {
		if h.Code == headline.Held {
			s.Keep = append(s.Keep, h.Sentence)
			continue
		}
		s.Less = append(s.Less, h.Sentence)
	}
}
