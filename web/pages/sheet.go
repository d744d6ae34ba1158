package pages

import (
	"cmp"
	"slices"

	"holdfast/archive"
	"holdfast/desk/given"
)

// sheet is the contact sheet of one tempo: a row a phase, a column a visit.
type sheet struct {
	Tempo   string
	Columns []sheetColumn
	Rows    []sheetRow
}

type sheetColumn struct {
	Visit archive.Visit
	Clip  string
}

type sheetRow struct {
	Phase  string
	Stills []sheetStill // one for each column
}

// sheetStill is a picture of a contact sheet: what is shown, and what it leads to.
// Both are empty where there is no such picture.
type sheetStill struct{ Shown, Large string }

// sheetColumns bounds a contact sheet: the latest visits are shown.
const sheetColumns = 8

// sheetsOf lays out the archived frames of an athlete, by tempo. Of each visit it
// takes the first whole rep of the tempo's latest clip.
func sheetsOf(clips []archive.Clip, visits []archive.Visit) []sheet {
	type pick struct {
		clip   archive.Clip
		rep    string
		stills map[string]sheetStill // by phase
	}
	phases := map[string]map[string]int{} // by tempo: the order of each phase
	picks := map[string]map[string]pick{} // by tempo and visit
	clips = slices.Clone(clips)
	slices.SortStableFunc(clips, func(a, b archive.Clip) int { return b.AddedAt.Compare(a.AddedAt) })
	for _, c := range clips {
		if c.Result == nil {
			continue
		}
		for _, f := range c.Result.Files {
			m, near := stillName.FindStringSubmatch(f.Name), false
			if m == nil {
				m, near = closeUpName.FindStringSubmatch(f.Name), true
			}
			if m == nil {
				continue
			}
			rep, order, phase, tempo := m[1], int(m[2][0]-'0'), m[3], m[4]
			if picks[tempo] == nil {
				picks[tempo], phases[tempo] = map[string]pick{}, map[string]int{}
			}
			p, have := picks[tempo][c.VisitID]
			if !have || p.clip.ID == c.ID && rep < p.rep {
				p = pick{c, rep, map[string]sheetStill{}}
			}
			if p.clip.ID != c.ID || p.rep != rep {
				continue
			}
			still := p.stills[phase]
			if address := stillAddress(c, f.Name); near {
				still.Shown = address
			} else if still.Large = address; still.Shown == "" {
				still.Shown = address // an older version made no close-ups
			}
			p.stills[phase] = still
			picks[tempo][c.VisitID] = p
			phases[tempo][phase] = order
		}
	}
	visits = slices.Clone(visits)
	slices.SortStableFunc(visits, func(a, b archive.Visit) int { return cmp.Compare(a.Date, b.Date) })
	var out []sheet
	for _, tempo := range given.Tempos {
		sh := sheet{Tempo: tempo}
		var columns []pick
		for _, v := range visits {
			if p, have := picks[tempo][v.ID]; have {
				sh.Columns = append(sh.Columns, sheetColumn{v, p.clip.ID})
				columns = append(columns, p)
			}
		}
		if len(columns) == 0 {
			continue
		}
		if n := len(columns) - sheetColumns; n > 0 {
			sh.Columns, columns = sh.Columns[n:], columns[n:]
		}
		names := make([]string, 0, len(phases[tempo]))
		for phase := range phases[tempo] {
			names = append(names, phase)
		}
		slices.SortFunc(names, func(a, b string) int {
			return cmp.Or(cmp.Compare(phases[tempo][a], phases[tempo][b]), cmp.Compare(a, b))
		})
		for _, phase := range names {
			row := sheetRow{Phase: phase}
			for _, p := range columns {
				row.Stills = append(row.Stills, p.stills[phase])
			}
			sh.Rows = append(sh.Rows, row)
		}
		out = append(out, sh)
	}
	return out
}
