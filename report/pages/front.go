package pages

import (
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/screening/headline"
	"holdfast/words"
)

// coachFront puts the coach's page of clips from the front together: what only the front shows.
func (p *Material) coachFront(s *Coach) *Coach {
	s.Explained = words.Say("front.explained", nil)
	warnings := p.heed(s)
	addFronts(s, p.Comparison, false)
	s.add(warnings)
	s.add(care(p.Comparison))
	s.Appendix = len(s.Sections)
	s.add(p.marked())
	addFrontReps(s, p.Comparison)
	return s
}

// addFronts adds what became of what the front shows, a section a pair; nil: nothing. joined: it stands with what the
// side shows of the same sets.
func addFronts(s *Coach, c *screening.Comparison, joined bool) {
	if c == nil {
		return
	}
	for i, t := range said.FrontPairs(c) {
		if joined { // the other notes stand with the reps, in the appendix
			t.Title, t.Notes = said.JoinedTitle(&t), t.Notes[:1]
		}
		s.add(frontSection(sectionID("front", i), &t))
	}
}

// addFrontReps adds what the front shows of the reps of each clip; nil: nothing.
func addFrontReps(s *Coach, c *screening.Comparison) {
	if c == nil {
		return
	}
	for i, a := range c.Analyses {
		if a == nil {
			continue
		}
		t := said.FrontReps(a)
		t.Title = a.Clip.Name
		s.add(frontSection(sectionID("front-reps", i), t))
	}
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
	s.keepFronts(said.Headlines(p.Comparison))
}

// keepFronts says what stays of the knees and what does not.
func (s *Athlete) keepFronts(knees []said.Headline) {
	for _, h := range knees {
		if h.Code == headline.Held {
			s.Keep = append(s.Keep, h.Sentence)
			continue
		}
		s.Less = append(s.Less, h.Sentence)
	}
}
