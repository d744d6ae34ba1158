package pages

import (
	"fmt"
	"math"

	"holdfast/kinematics/measure"
	"holdfast/report/motion"
	"holdfast/report/said"
	"holdfast/report/sidebyside"
	"holdfast/screening"
	"holdfast/words"
)

// landing sets the landing's bottom beside the slow one and that of the take-off.
func (p *Material) landing() Section {
	sec := Section{ID: "landing", Title: said.Say("landing")}
	l := p.Comparison.Landing
	if l == nil {
		return sec
	}
	var pictures []Figure
	for _, s := range []struct {
		shot *sidebyside.Shot
		form string
		rep  int
	}{
		{p.Shots.Easiest, "slow", l.SlowRep},
		{p.Shots.Takeoff, "takeoff", l.JumpRep},
		{p.Shots.Landing, "landing", l.JumpRep},
	} {
		if s.shot != nil && s.shot.Marked != nil {
			pictures = append(pictures, Figure{JPEG: s.shot.Marked, Alt: said.Say("shot_alt", "form", s.form),
				Caption: p.shotCaption(s.shot, s.form, s.rep)})
		}
	}
	t := &Table{Columns: []column{{Title: said.Say("head_joint")}}}
	if l.AgainstSlow != nil {
		t.Columns = append(t.Columns, column{Title: said.Say("head_slow_bottom")})
	}
	t.Columns = append(t.Columns, column{Title: said.Say("head_takeoff_bottom")},
		column{Title: said.Say("head_landing_bottom")})
	if l.AgainstSlow != nil {
		t.Columns = append(t.Columns, column{Title: said.Say("head_against_slow"), Words: true})
	}
	t.Columns = append(t.Columns, column{Title: said.Say("head_against_takeoff"), Words: true})
	for _, j := range said.JointsIn(p.Comparison) {
		at := j.Position()
		off := &l.AgainstTakeoff[j]
		if math.IsNaN(off.Challenge) && (l.AgainstSlow == nil || math.IsNaN(l.AgainstSlow[j].Challenge)) {
			continue
		}
		row := []Cell{{Text: j.Name()}}
		if l.AgainstSlow != nil {
			row = append(row, plain("%s", said.Degrees(l.AgainstSlow[j].Baseline)))
		}
		row = append(row, plain("%s", said.Degrees(off.Baseline)), plain("%s", said.Degrees(off.Challenge)))
		if l.AgainstSlow != nil {
			row = append(row, changeCell(at, &l.AgainstSlow[j]))
		}
		t.Rows = append(t.Rows, append(row, changeCell(at, off)))
	}
	if len(t.Rows) == 0 {
		return sec
	}
	reps := said.Say("landing_jumps", "n", l.Jumps)
	if l.AgainstSlow != nil {
		reps = said.Say("landing_jumps_and_reps", "jumps", reps, "n", l.SlowReps)
	}
	if len(pictures) > 0 {
		sec.Blocks = append(sec.Blocks, Block{Pictures: pictures, Across: 3})
	}
	sec.Blocks = append(sec.Blocks,
		Block{Small: true, Text: said.Say("landing_explained", "reps", reps)},
		Block{Table: t})
	if d, definition := p.landingDetails(); len(d.Rows) > 0 {
		sec.Blocks = append(sec.Blocks, Block{Heading: said.Say("landing_each")}, Block{Table: d})
		if definition != "" {
			sec.Blocks = append(sec.Blocks, Block{Small: true, Text: said.Say("landing_settled", "definition", definition)})
		}
	}
	return sec
}

// shotCaption says what a shot shows and its angles: "Slow bottom, rep 2: ankle 28°, knee 101°, hip 95°".
func (p *Material) shotCaption(s *sidebyside.Shot, form string, rep int) string {
	m := motion.New(p.Comparison.Analyses[s.Clip])
	var parts []string
	for _, j := range said.JointsIn(p.Comparison) {
		if v := m.Value(m.Analysis.Series.AnglesDeg[j.Angle()], s.TimeS); !math.IsNaN(v) {
			parts = append(parts, said.Say("joint_angle", "joint", j.Inside(), "deg", v))
		}
	}
	caption := said.Say("shot", "form", form, "rep", rep)
	if len(parts) == 0 {
		return caption
	}
	return said.Say("shot_angles", "shot", caption, "angles", parts)
}

// landingDetails is a table of measures, a column a jump.
func (p *Material) landingDetails() (t *Table, definition string) {
	t = &Table{Columns: []column{{Title: said.Say("head_from_contact"), Words: true}}}
	var found []*measure.Landing
	for clip, a := range p.Comparison.Analyses {
		if a == nil {
			continue
		}
		for i := range a.Reps {
			if r := &a.Reps[i]; r.Landing != nil && said.Compared(p.Comparison, clip, r) && len(found) < mostColumns {
				found = append(found, r.Landing)
				title := said.Say("head_jump_number", "rep", r.Number)
				if len(jumpClips(p.Comparison)) > 1 {
					title = said.Say("of_clip", "of", title, "clip", a.Clip.Name)
				}
				t.Columns = append(t.Columns, column{Title: title})
				definition = words.Say("landing.settled", nil)
			}
		}
	}
	row := func(name string, of func(*measure.Landing) Cell) {
		cells := []Cell{{Text: name}}
		known := false
		for _, l := range found {
			c := of(l)
			known = known || c.Text != missingCell.Text
			cells = append(cells, c)
		}
		if known {
			t.Rows = append(t.Rows, cells)
		}
	}
	row(said.Say("row_contact_to_bottom"), func(l *measure.Landing) Cell {
		return estimateCell(l.ContactToBottomS, 2, " s")
	})
	for _, j := range said.JointsIn(p.Comparison) {
		row(said.Say("row_at_contact", "joint", j.Name()), func(l *measure.Landing) Cell {
			return estimateCell(l.AtContactDeg[j.Angle()], 0, "°")
		})
	}
	for _, j := range said.JointsIn(p.Comparison) {
		row(said.Say("row_fastest", "joint", j.Name()), func(l *measure.Landing) Cell {
			v := l.PeakVelocityDegS[j]
			if math.IsNaN(v) || v == 0 {
				return missingCell
			}
			return plain("%s °/s", said.Whole(math.Round(v/10)*10))
		})
	}
	row(said.Say("row_settled"), func(l *measure.Landing) Cell { return seconds(l.SettleS) })
	row(said.Say("row_standing"), func(l *measure.Landing) Cell { return seconds(l.ToStandS) })
	row(said.Say("row_steps"), func(l *measure.Landing) Cell { return plain("%d", l.Steps) })
	row(said.Say("row_hops"), func(l *measure.Landing) Cell { return plain("%d", l.Hops) })
	row(said.Say("row_drift"), func(l *measure.Landing) Cell {
		if !math.IsNaN(l.ForwardDriftCm.Value) && l.ForwardDriftCm.SD > 0 {
			return estimateCell(l.ForwardDriftCm, 0, " cm")
		}
		return estimateCell(l.ForwardDriftPctFoot, 0, said.Say("pct_of_foot"))
	})
	if len(found) == 0 {
		t.Rows = nil
	}
	return t, definition
}

// mostColumns keeps a table of reps within a sheet of paper.
const mostColumns = 6

func jumpClips(c *screening.Comparison) []int {
	var out []int
	for i, a := range c.Analyses {
		if a == nil {
			continue
		}
		for k := range a.Reps {
			if r := &a.Reps[k]; said.Compared(c, i, r) && (r.Landing != nil || r.Jump != nil) {
				out = append(out, i)
				break
			}
		}
	}
	return out
}

func seconds(v float64) Cell {
	if math.IsNaN(v) {
		return missingCell
	}
	return Cell{Text: said.Decimal(v, 2) + " s"}
}

// times is the section of how long the parts of the movement took.
func (p *Material) times() Section {
	sec := Section{ID: "times", Title: said.Say("times")}
	if lines := said.Times(p.Comparison); len(lines) > 0 {
		sec.Blocks = []Block{{List: lines}}
	}
	return sec
}

// jumps is the section of jump heights.
func (p *Material) jumps() Section {
	sec := Section{ID: "jumps", Title: said.Say("jumps")}
	t := &Table{Columns: []column{{Title: said.Say("head_jump")}, {Title: said.Say("head_height_flight")},
		{Title: said.Say("head_height_rise")}, {Title: said.Say("head_above_standing"), Spare: true},
		{Title: said.Say("head_takeoff_velocity")}, {Title: said.Say("head_air"), Spare: true},
		{Title: said.Say("head_floor"), Spare: true}, {Title: said.Say("head_strength")}}}
	var why, scales []string
	several := len(jumpClips(p.Comparison)) > 1
	for clip, a := range p.Comparison.Analyses {
		if a == nil {
			continue
		}
		jumped := false
		for i := range a.Reps {
			r := &a.Reps[i]
			if r.Jump == nil || !said.Compared(p.Comparison, clip, r) {
				continue
			}
			jumped = true
			j := r.Jump
			name := Cell{Text: fmt.Sprint(r.Number), Under: under(words.Or("report.jump_kind."+string(j.Kind), ""))}
			if several {
				name.Under = append(name.Under, a.Clip.Name)
			}
			cm := func(v float64, iv [2]float64) Cell {
				return numberCell(v*100, [2]float64{iv[0] * 100, iv[1] * 100}, 0, " cm")
			}
			t.Rows = append(t.Rows, []Cell{name,
				cm(j.HeightFromFlightM, j.HeightFromFlightInterval95M), cm(j.RiseM, j.RiseInterval95M),
				cm(j.RiseFromStandM.Value, j.RiseFromStandM.Interval95()),
				numberCell(j.TakeoffVelocityMS, j.TakeoffVelocityInterval95MS, 1, " m/s"),
				numberCell(j.FlightS, j.FlightInterval95S, 2, " s"),
				estimateCell(j.ContactTimeS, 2, " s"),
				numberCell(j.ReactiveStrengthMS, j.ReactiveStrengthInterval95MS, 2, " m/s"),
			})
			if s := screening.Say(j.Why); s != "" {
				why = append(why, said.Say("jump_why", "rep", r.Number, "why", s))
			}
		}
		if s := scaleWords(a); jumped && s != "" {
			scales = append(scales, s)
		}
	}
	t.dropEmptyColumns()
	if len(t.Rows) == 0 {
		return sec
	}
	sec.Blocks = append(sec.Blocks, Block{Table: t})
	if len(why) > 0 {
		sec.Blocks = append(sec.Blocks, Block{Heading: said.Say("jumps_why")}, Block{List: why})
	}
	sec.Blocks = append(sec.Blocks, Block{Small: true, Text: said.Say("jumps_explained", "scales", scales)})
	return sec
}

// dropEmptyColumns removes the columns in which nothing is known.
func (t *Table) dropEmptyColumns() {
	for k := len(t.Columns) - 1; k > 0; k-- {
		known := false
		for _, r := range t.Rows {
			known = known || r[k].Text != missingCell.Text
		}
		if known {
			continue
		}
		t.Columns = append(t.Columns[:k], t.Columns[k+1:]...)
		for i, r := range t.Rows {
			t.Rows[i] = append(r[:k], r[k+1:]...)
		}
	}
}

// scaleWords says where the scale of a clip comes from.
func scaleWords(a *screening.Analysis) string {
	if len(a.Scale.Sources) == 0 || math.IsNaN(a.Scale.MmPerPx.Value) {
		return ""
	}
	var from []string
	for _, s := range a.Scale.Sources {
		from = append(from, words.Or("report.scale_source."+string(s.Name), string(s.Name)))
	}
	s := said.Say("scale", "clip", a.Clip.Name, "mm", a.Scale.MmPerPx.Value, "ends",
		said.Decimals2(a.Scale.MmPerPx.Interval95(), 2), "from", from)
	if !a.Scale.Known {
		s += " " + said.Say("scale_rough")
	}
	if !a.Scale.Agree {
		s += " " + said.Say("scale_disputed")
	}
	return s
}
