package report

import (
	"fmt"
	"math"

	"holdfast/kinematics/measure"
	"holdfast/screening"
	"holdfast/words"
)

// landing sets the landing's bottom beside the slow one and that of the take-off.
func (p *page) landing() section {
	sec := section{ID: "landing", Title: say("landing")}
	l := p.c.Landing
	if l == nil {
		return sec
	}
	var pictures []figure
	for _, s := range []struct {
		shot *shot
		form string
		rep  int
	}{
		{p.shots.easiest, "slow", l.SlowRep},
		{p.shots.takeoff, "takeoff", l.JumpRep},
		{p.shots.landing, "landing", l.JumpRep},
	} {
		if s.shot != nil && s.shot.marked != nil {
			pictures = append(pictures, figure{JPEG: s.shot.marked, Alt: say("shot_alt", "form", s.form), Caption: p.shotCaption(s.shot, s.form, s.rep)})
		}
	}
	t := &table{Columns: []column{{Title: say("head_joint")}}}
	if l.AgainstSlow != nil {
		t.Columns = append(t.Columns, column{Title: say("head_slow_bottom")})
	}
	t.Columns = append(t.Columns, column{Title: say("head_takeoff_bottom")}, column{Title: say("head_landing_bottom")})
	if l.AgainstSlow != nil {
		t.Columns = append(t.Columns, column{Title: say("head_against_slow"), Words: true})
	}
	t.Columns = append(t.Columns, column{Title: say("head_against_takeoff"), Words: true})
	for j := range numJoints {
		at := j.position()
		off := &l.AgainstTakeoff[j]
		if math.IsNaN(off.Challenge) && (l.AgainstSlow == nil || math.IsNaN(l.AgainstSlow[j].Challenge)) {
			continue
		}
		row := []cell{{Text: j.name()}}
		if l.AgainstSlow != nil {
			row = append(row, plain("%s", degrees(l.AgainstSlow[j].Baseline)))
		}
		row = append(row, plain("%s", degrees(off.Baseline)), plain("%s", degrees(off.Challenge)))
		if l.AgainstSlow != nil {
			row = append(row, changeCell(at, &l.AgainstSlow[j]))
		}
		t.Rows = append(t.Rows, append(row, changeCell(at, off)))
	}
	if len(t.Rows) == 0 {
		return sec
	}
	reps := say("landing_jumps", "n", l.Jumps)
	if l.AgainstSlow != nil {
		reps = say("landing_jumps_and_reps", "jumps", reps, "n", l.SlowReps)
	}
	if len(pictures) > 0 {
		sec.Blocks = append(sec.Blocks, block{Pictures: pictures, Across: 3})
	}
	sec.Blocks = append(sec.Blocks,
		block{Small: true, Text: say("landing_explained", "reps", reps)},
		block{Table: t})
	if d, definition := p.landingDetails(); len(d.Rows) > 0 {
		sec.Blocks = append(sec.Blocks, block{Heading: say("landing_each")}, block{Table: d})
		if definition != "" {
			sec.Blocks = append(sec.Blocks, block{Small: true, Text: say("landing_settled", "definition", definition)})
		}
	}
	return sec
}

// shotCaption says what a shot shows and its angles: "Slow bottom, rep 2: ankle 28°, knee 101°, hip 95°".
func (p *page) shotCaption(s *shot, form string, rep int) string {
	m := newMotion(p.c.Analyses[s.clip])
	var parts []string
	for j := range numJoints {
		if v := m.value(m.a.Series.AnglesDeg[j.angle()], s.timeS); !math.IsNaN(v) {
			parts = append(parts, say("joint_angle", "joint", j.inside(), "deg", v))
		}
	}
	caption := say("shot", "form", form, "rep", rep)
	if len(parts) == 0 {
		return caption
	}
	return say("shot_angles", "shot", caption, "angles", parts)
}

// landingDetails is a table of measures, a column a jump.
func (p *page) landingDetails() (t *table, definition string) {
	t = &table{Columns: []column{{Title: say("head_from_contact"), Words: true}}}
	var found []*measure.Landing
	for clip, a := range p.c.Analyses {
		if a == nil {
			continue
		}
		for i := range a.Reps {
			if r := &a.Reps[i]; r.Landing != nil && compared(p.c, clip, r) && len(found) < mostColumns {
				found = append(found, r.Landing)
				title := say("head_jump_number", "rep", r.Number)
				if len(jumpClips(p.c)) > 1 {
					title = say("of_clip", "of", title, "clip", a.Clip.Name)
				}
				t.Columns = append(t.Columns, column{Title: title})
				definition = words.Say("landing.settled", nil)
			}
		}
	}
	row := func(name string, of func(*measure.Landing) cell) {
		cells := []cell{{Text: name}}
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
	row(say("row_contact_to_bottom"), func(l *measure.Landing) cell { return estimateCell(l.ContactToBottomS, 2, " s") })
	for j := range numJoints {
		row(say("row_at_contact", "joint", j.name()), func(l *measure.Landing) cell {
			return estimateCell(l.AtContactDeg[j.angle()], 0, "°")
		})
	}
	for j := range numJoints {
		row(say("row_fastest", "joint", j.name()), func(l *measure.Landing) cell {
			v := l.PeakVelocityDegS[j]
			if math.IsNaN(v) || v == 0 {
				return missingCell
			}
			return plain("%s °/s", whole(math.Round(v/10)*10))
		})
	}
	row(say("row_settled"), func(l *measure.Landing) cell { return seconds(l.SettleS) })
	row(say("row_standing"), func(l *measure.Landing) cell { return seconds(l.ToStandS) })
	row(say("row_steps"), func(l *measure.Landing) cell { return plain("%d", l.Steps) })
	row(say("row_hops"), func(l *measure.Landing) cell { return plain("%d", l.Hops) })
	row(say("row_drift"), func(l *measure.Landing) cell {
		if !math.IsNaN(l.ForwardDriftCm.Value) && l.ForwardDriftCm.SD > 0 {
			return estimateCell(l.ForwardDriftCm, 0, " cm")
		}
		return estimateCell(l.ForwardDriftPctFoot, 0, say("pct_of_foot"))
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
			if r := &a.Reps[k]; compared(c, i, r) && (r.Landing != nil || r.Jump != nil) {
				out = append(out, i)
				break
			}
		}
	}
	return out
}

func seconds(v float64) cell {
	if math.IsNaN(v) {
		return missingCell
	}
	return cell{Text: decimal(v, 2) + " s"}
}

// jumps is the section of jump heights.
func (p *page) jumps() section {
	sec := section{ID: "jumps", Title: say("jumps")}
	t := &table{Columns: []column{{Title: say("head_jump")}, {Title: say("head_height_flight")}, {Title: say("head_height_rise")}, {Title: say("head_above_standing"), Spare: true},
		{Title: say("head_takeoff_velocity")}, {Title: say("head_air"), Spare: true}, {Title: say("head_floor"), Spare: true}, {Title: say("head_strength")}}}
	var why, scales []string
	several := len(jumpClips(p.c)) > 1
	for clip, a := range p.c.Analyses {
		if a == nil {
			continue
		}
		jumped := false
		for i := range a.Reps {
			r := &a.Reps[i]
			if r.Jump == nil || !compared(p.c, clip, r) {
				continue
			}
			jumped = true
			j := r.Jump
			name := cell{Text: fmt.Sprint(r.Number), Under: under(words.Or("report.jump_kind."+string(j.Kind), ""))}
			if several {
				name.Under = append(name.Under, a.Clip.Name)
			}
			cm := func(v float64, iv [2]float64) cell {
				return numberCell(v*100, [2]float64{iv[0] * 100, iv[1] * 100}, 0, " cm")
			}
			t.Rows = append(t.Rows, []cell{name,
				cm(j.HeightFromFlightM, j.HeightFromFlightInterval95M), cm(j.RiseM, j.RiseInterval95M),
				cm(j.RiseFromStandM.Value, j.RiseFromStandM.Interval95()),
				numberCell(j.TakeoffVelocityMS, j.TakeoffVelocityInterval95MS, 1, " m/s"),
				numberCell(j.FlightS, j.FlightInterval95S, 2, " s"),
				estimateCell(j.ContactTimeS, 2, " s"),
				numberCell(j.ReactiveStrengthMS, j.ReactiveStrengthInterval95MS, 2, " m/s"),
			})
			if s := screening.Say(j.Why); s != "" {
				why = append(why, say("jump_why", "rep", r.Number, "why", s))
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
	sec.Blocks = append(sec.Blocks, block{Table: t})
	if len(why) > 0 {
		sec.Blocks = append(sec.Blocks, block{Heading: say("jumps_why")}, block{List: why})
	}
	sec.Blocks = append(sec.Blocks, block{Small: true, Text: say("jumps_explained", "scales", scales)})
	return sec
}

// dropEmptyColumns removes the columns in which nothing is known.
func (t *table) dropEmptyColumns() {
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
	s := say("scale", "clip", a.Clip.Name, "mm", a.Scale.MmPerPx.Value, "ends", decimals2(a.Scale.MmPerPx.Interval95(), 2), "from", from)
	if !a.Scale.Known {
		s += " " + say("scale_rough")
	}
	if !a.Scale.Agree {
		s += " " + say("scale_disputed")
	}
	return s
}
