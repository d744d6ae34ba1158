package pages

import (
	"math"
	"unicode/utf8"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/report/chart"
	"holdfast/report/motion"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/vision/plane"
	"holdfast/words"
)

// foot is the section on the weight over the foot, the heel and the depth.
func (p *Material) foot() Section {
	sec := Section{ID: "foot", Title: said.Say("foot")}
	reps := motion.ShownReps(p.Comparison)
	var strips []Figure
	var seen []motion.ShownRep // whose support point is known over time
	for i := range reps {
		if d := supportStrip(&reps[i]); d != nil {
			strips, seen = append(strips, Figure{Drawing: d, Title: reps[i].Title()}), append(seen, reps[i])
		}
	}
	if len(strips) > 0 {
		lo, hi := motion.SupportBand(reps[0].A)
		sec.Blocks = append(sec.Blocks,
			Block{Heading: said.Say("foot_where")},
			Block{Text: said.Say("foot_where_explained", "lo", lo, "hi", hi)},
			Block{Pictures: strips, Across: max(2, min(len(strips), 3))})
	}
	if t := supportTable(seen); len(t.Rows) > 0 {
		sec.Blocks = append(sec.Blocks, Block{Table: t},
			Block{Small: true, Text: said.Say("foot_table_explained")})
	}
	if t := p.supportChanges(); len(t.Rows) > 0 {
		sec.Blocks = append(sec.Blocks, Block{Heading: said.Say("foot_changes")}, Block{Table: t})
	}
	if t := footTable(reps, p.Comparison.Turn == ""); len(t.Rows) > 0 {
		form, explained := "heel", said.Say("foot_heel_explained")
		if p.Comparison.Turn != "" {
			form, explained = "alone", ""
		}
		sec.Blocks = append(sec.Blocks, Block{Heading: said.Say("foot_moved", "form", form)}, Block{Table: t})
		if explained != "" {
			sec.Blocks = append(sec.Blocks, Block{Small: true, Text: explained})
		}
	}
	return sec
}

// leastDrawn is of how many samples one after the other a line is drawn: fewer are not seen in a chart.
const leastDrawn = 3

// supportStrip draws the support point of a rep over time; nil when it is not known long enough for a line.
func supportStrip(t *motion.ShownRep) *chart.Drawing {
	s := &t.A.Series
	m := motion.New(t.A)
	from, to := t.Rep.StartS, t.Rep.EndS
	if !(from < to) || len(s.SupportPct) != len(m.TimesS) {
		return nil
	}
	var xs, ys, lo, hi []float64
	run, longest := 0, 0 // of samples that are known one after the other
	for i, at := range m.TimesS {
		if at < from || at > to {
			continue
		}
		v, sd := s.SupportPct[i], 0.0
		if i < len(s.SupportSDPct) && !math.IsNaN(s.SupportSDPct[i]) {
			sd = s.SupportSDPct[i]
		}
		if run++; math.IsNaN(v) {
			run = 0
		}
		longest = max(longest, run)
		iv := measure.OnFoot(screening.Interval95(v, sd))
		xs, ys, lo, hi = append(xs, at-from), append(ys, v), append(lo, iv[0]), append(hi, iv[1])
	}
	if longest < leastDrawn {
		return nil
	}
	d := &chart.Drawing{WidthPt: 260, HeightPt: 200, Alt: said.Say("strip_alt", "of", t.Of.Words, "rep", t.Rep.Number)}
	a := chart.NewAxes(d, t.Title(), 0, to-from, 0, 100)
	a.Left = 50 // room for "toe 100"
	b0, b1 := motion.SupportBand(t.A)
	d.Rect(chart.BandInk, 0, a.Left, a.Y(b1), a.Right-a.Left, a.Y(b0)-a.Y(b1))
	a.Upward(25, func(v float64) string {
		switch v {
		case 0:
			return said.Say("strip_heel_end")
		case 100:
			return said.Say("strip_toe_end")
		}
		return said.Whole(v)
	})
	step := chart.TimeStep((to-from)/4.01, to-from)
	a.Across(step, said.Say("strip_seconds"), func(v float64) string { return said.Trimmed(v) })
	a.Ribbon(chart.InkOf(t.Of), 0.22, xs, lo, hi)
	a.Curve(chart.InkOf(t.Of), 2.2, chart.DashOf(t.Of), xs, ys)
	r := t.Rep
	event := func(at float64, words string, row float64) {
		if math.IsNaN(at) || at < from-1e-6 || at > to+1e-6 {
			return
		}
		x := a.X(at - from)
		d.Line(chart.MainInk, 0.9, []float64{2, 2}, plane.XY{X: x, Y: a.Top}, plane.XY{X: x, Y: a.Bottom})
		if words != "" {
			// On the right of its line where there is room, else on the left.
			anchor := 0.0
			if x+5.6*float64(utf8.RuneCountInString(words)) > a.Right {
				anchor = 1
			}
			d.Words(chart.MainInk, 10, anchor, x+3-6*anchor, a.Top+row, words)
		}
	}
	if r.FlightS > 0 {
		if x0, x1 := r.TakeoffS-from, r.ContactS-from; x0 < x1 && x0 >= 0 && x1 <= to-from {
			event(r.TakeoffS, "", 0)
			event(r.ContactS, "", 0)
			d.Words(chart.MainInk, 10, 0.5, a.X((x0+x1)/2), a.Top+11, said.Say("strip_air"))
		}
		event(r.LandingBottomS, said.Say("moment.landing"), 24)
	} else {
		event(r.BottomS, said.Say("moment.bottom", "turn", t.A.Movement.Turn), 11)
	}
	return d
}

// supportTable says the support point by phase of the shown reps.
func supportTable(reps []motion.ShownRep) *Table {
	t := &Table{Columns: []column{{Title: said.Say("head_support")}, {Title: said.Say("head_mean")},
		{Title: said.Say("head_nine_tenths")}, {Title: said.Say("head_outside")},
		{Title: said.Say("head_toward"), Spare: true}, {Title: said.Say("head_known"), Spare: true}}}
	for i := range reps {
		for k := range reps[i].Rep.Support {
			s := &reps[i].Rep.Support[k]
			if math.IsNaN(s.MeanPct.Value) || s.Phase == events.PhaseStand || s.Phase == "start" {
				continue
			}
			name := Cell{Text: said.Say("support_phase", "of", said.Capital(reps[i].Of.Words),
				"phase", said.PhaseWord(reps[i].A.Movement.Turn, string(s.Phase)))}
			if s.Phase == events.WholeRep {
				name = Cell{Text: said.Say("support_rep", "of", said.Capital(reps[i].Of.Words)), Bold: true}
			}
			t.Rows = append(t.Rows, []Cell{name,
				numberCell(s.MeanPct.Value, measure.OnFoot(s.MeanPct.Interval95()), 0, " %"),
				plain("%s %%", said.Interval(s.MinPct, s.MaxPct)),
				some(s.OutsideS),
				plain("%s / %s", some(s.BehindS).Text, some(s.BeforeS).Text),
				plain("%s %%", said.Whole(100*s.KnownPart)),
			})
		}
	}
	return t
}

// some is a time that may be none.
func some(v float64) Cell {
	if v < 0.005 {
		return Cell{Text: said.Say("none")}
	}
	return seconds(v)
}

// supportChanges compares the support point of each phase between tempos.
func (p *Material) supportChanges() *Table {
	t := &Table{Columns: []column{{Title: said.Say("head_phase")}, {Title: said.Say("head_easier")},
		{Title: said.Say("head_harder")}, {Title: said.Say("head_change"), Words: true}}}
	for i := range p.Comparison.Pairs {
		pair := &p.Comparison.Pairs[i]
		for k := range pair.Support {
			s := &pair.Support[k]
			if math.IsNaN(s.Baseline) || math.IsNaN(s.Challenge) {
				continue
			}
			t.Rows = append(t.Rows,
				[]Cell{{Text: said.Capital(said.PhaseWord(p.Comparison.Turn, string(s.Phase))),
					Under: []string{said.Say("against", "easier", p.Comparison.Word(pair.Baseline),
						"harder", p.Comparison.Word(pair.Challenge))}},
					plain("%s %%", said.Whole(s.Baseline)), plain("%s %%", said.Whole(s.Challenge)),
					changeCell(kinematics.PositionSupport, &s.Change)})
		}
	}
	return t
}

// footTable says what the foot did in the shown reps, a column a tempo; where the turn is a bottom (bends), what knee
// and thigh did too.
func footTable(reps []motion.ShownRep, bends bool) *Table {
	t := &Table{Columns: []column{{Title: said.Say("head_shown_rep"), Words: true}}}
	var feet []*measure.Foot
	for i := range reps {
		if f := reps[i].Rep.Foot; f != nil {
			feet = append(feet, f)
			t.Columns = append(t.Columns, column{Title: reps[i].Of.Words})
		}
	}
	row := func(name string, of func(*measure.Foot) Cell) {
		cells := []Cell{{Text: name}}
		known := false
		for _, f := range feet {
			c := of(f)
			known = known || c.Text != missingCell.Text
			cells = append(cells, c)
		}
		if known {
			t.Rows = append(t.Rows, cells)
		}
	}
	inCm := len(feet) > 0 // in one unit, so that the columns can be compared
	for _, f := range feet {
		inCm = inCm && f.SlideCm.SD > 0
	}
	either := func(cm, pct stats.Estimate) Cell {
		if inCm && cm.SD > 0 {
			return estimateCell(cm, 1, " cm")
		}
		return estimateCell(pct, 0, said.Say("pct_of_foot"))
	}
	rise := func(r *measure.FootRise) Cell {
		if math.IsNaN(r.MaxPctFoot.Value) {
			return missingCell
		}
		c := either(r.MaxCm, r.MaxPctFoot)
		if r.Up {
			c.Under = append(c.Under, said.Say("heel_up_for", "time", seconds(r.UpS).Text))
		} else {
			c.Under = append(c.Under, said.Say("heel_noise"))
		}
		return c
	}
	row(said.Say("row_heel"), func(f *measure.Foot) Cell { return rise(&f.Heel) })
	row(said.Say("row_toe"), func(f *measure.Foot) Cell { return rise(&f.Toe) })
	row(said.Say("row_slid"), func(f *measure.Foot) Cell { return either(f.SlideCm, f.SlidePctFoot) })
	if !bends {
		return t
	}
	row(said.Say("row_knee"), func(f *measure.Foot) Cell { return either(f.KneePastToeCm, f.KneePastToePctFoot) })
	row(said.Say("row_shank"), func(f *measure.Foot) Cell { return estimateCell(f.ShankAtBottomDeg, 0, "°") })
	row(said.Say("row_thigh"), func(f *measure.Foot) Cell { return estimateCell(f.ThighAtBottomDeg, 0, "°") })
	row(said.Say("row_crease"), func(f *measure.Foot) Cell {
		if f.HipCreaseBelowKnee == "" {
			return missingCell
		}
		return Cell{Text: words.Or("report.crease."+string(f.HipCreaseBelowKnee), string(f.HipCreaseBelowKnee))}
	})
	return t
}
