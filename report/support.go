package report

import (
	"math"
	"strings"
	"unicode/utf8"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/words"
)

// foot is the section on the weight over the foot, the heel and the depth.
func (p *page) foot() section {
	sec := section{ID: "foot", Title: say("foot")}
	reps := shownReps(p.c)
	var strips []figure
	for i := range reps {
		if d := supportStrip(&reps[i]); d != nil {
			strips = append(strips, figure{Drawing: d, Title: reps[i].title()})
		}
	}
	if len(strips) > 0 {
		lo, hi := supportBand(reps[0].a)
		sec.Blocks = append(sec.Blocks,
			block{Heading: say("foot_where")},
			block{Text: say("foot_where_explained", "lo", lo, "hi", hi)},
			block{Pictures: strips, Across: max(2, min(len(strips), 3))})
	}
	if t := supportTable(reps); len(t.Rows) > 0 {
		sec.Blocks = append(sec.Blocks, block{Table: t},
			block{Small: true, Text: say("foot_table_explained")})
	}
	if t := p.supportChanges(); len(t.Rows) > 0 {
		sec.Blocks = append(sec.Blocks, block{Heading: say("foot_changes")}, block{Table: t})
	}
	if t := footTable(reps); len(t.Rows) > 0 {
		sec.Blocks = append(sec.Blocks, block{Heading: say("foot_heel")}, block{Table: t},
			block{Small: true, Text: say("foot_heel_explained")})
	}
	return sec
}

func supportBand(a *screening.Analysis) (lo, hi float64) {
	lo, hi = a.SupportBandPct[0], a.SupportBandPct[1]
	if !(lo < hi) {
		return 25, 75 // of before the band was kept; common practice, no source
	}
	return lo, hi
}

// supportStrip draws the support point of a rep over time; nil when it is not known.
func supportStrip(t *shownRep) *drawing {
	s := &t.a.Series
	m := newMotion(t.a)
	from, to := t.rep.StartS, t.rep.EndS
	if !(from < to) || len(s.SupportPct) != len(m.t) {
		return nil
	}
	var xs, ys, lo, hi []float64
	known := false
	for i, at := range m.t {
		if at < from || at > to {
			continue
		}
		v, sd := s.SupportPct[i], 0.0
		if i < len(s.SupportSDPct) && !math.IsNaN(s.SupportSDPct[i]) {
			sd = s.SupportSDPct[i]
		}
		known = known || !math.IsNaN(v)
		iv := screening.Interval95(v, sd)
		xs, ys, lo, hi = append(xs, at-from), append(ys, v), append(lo, iv[0]), append(hi, iv[1])
	}
	if !known {
		return nil
	}
	d := &drawing{w: 260, h: 200, alt: say("strip_alt", "of", t.of.Words, "rep", t.rep.Number)}
	a := newAxes(d, t.title(), 0, to-from, 0, 100)
	a.left = 50 // room for "toe 100"
	b0, b1 := supportBand(t.a)
	d.rect(bandInk, 0, a.left, a.y(b1), a.right-a.left, a.y(b0)-a.y(b1))
	a.upward(25, func(v float64) string {
		switch v {
		case 0:
			return say("strip_heel_end")
		case 100:
			return say("strip_toe_end")
		}
		return whole(v)
	})
	step := timeStep((to-from)/4.01, to-from)
	a.across(step, say("strip_seconds"), func(v float64) string { return trimmed(v) })
	a.ribbon(inkOf(t.of), 0.22, xs, lo, hi)
	a.curve(inkOf(t.of), 2.2, dashOf(t.of), xs, ys)
	r := t.rep
	event := func(at float64, words string, row float64) {
		if math.IsNaN(at) || at < from-1e-6 || at > to+1e-6 {
			return
		}
		x := a.x(at - from)
		d.line(mainInk, 0.9, []float64{2, 2}, vision.XY{X: x, Y: a.top}, vision.XY{X: x, Y: a.bottom})
		if words != "" {
			// On the right of its line where there is room, else on the left.
			anchor := 0.0
			if x+5.6*float64(utf8.RuneCountInString(words)) > a.right {
				anchor = 1
			}
			d.words(mainInk, 10, anchor, x+3-6*anchor, a.top+row, words)
		}
	}
	if r.FlightS > 0 {
		if x0, x1 := r.TakeoffS-from, r.ContactS-from; x0 < x1 && x0 >= 0 && x1 <= to-from {
			event(r.TakeoffS, "", 0)
			event(r.ContactS, "", 0)
			d.words(mainInk, 10, 0.5, a.x((x0+x1)/2), a.top+11, say("strip_air"))
		}
		event(r.LandingBottomS, say("moment.landing"), 24)
	} else {
		event(r.BottomS, say("moment.bottom"), 11)
	}
	return d
}

// trimmed writes a time with as many decimals as it needs.
func trimmed(v float64) string {
	return strings.TrimSuffix(decimal(math.Abs(v), 1), strings.TrimPrefix(decimal(0, 1), "0"))
}

// supportTable says the support point by phase of the shown reps.
func supportTable(reps []shownRep) *table {
	t := &table{Columns: []column{{Title: say("head_support")}, {Title: say("head_mean")}, {Title: say("head_nine_tenths")}, {Title: say("head_outside")},
		{Title: say("head_toward"), Spare: true}, {Title: say("head_known"), Spare: true}}}
	for i := range reps {
		for k := range reps[i].rep.Support {
			s := &reps[i].rep.Support[k]
			if math.IsNaN(s.MeanPct.Value) || s.Phase == events.PhaseStand || s.Phase == "start" {
				continue
			}
			name := cell{Text: say("support_phase", "of", capital(reps[i].of.Words), "phase", PhaseWord(string(s.Phase)))}
			if s.Phase == events.WholeRep {
				name = cell{Text: say("support_rep", "of", capital(reps[i].of.Words)), Bold: true}
			}
			t.Rows = append(t.Rows, []cell{name,
				estimateCell(s.MeanPct, 0, " %"),
				plain("%s %%", interval(s.MinPct, s.MaxPct)),
				some(s.OutsideS),
				plain("%s / %s", some(s.BehindS).Text, some(s.BeforeS).Text),
				plain("%s %%", whole(100*s.KnownPart)),
			})
		}
	}
	return t
}

// some is a time that may be none.
func some(v float64) cell {
	if v < 0.005 {
		return cell{Text: say("none")}
	}
	return seconds(v)
}

// supportChanges compares the support point of each phase between tempos.
func (p *page) supportChanges() *table {
	t := &table{Columns: []column{{Title: say("head_phase")}, {Title: say("head_easier")}, {Title: say("head_harder")}, {Title: say("head_change"), Words: true}}}
	for i := range p.c.Pairs {
		pair := &p.c.Pairs[i]
		for k := range pair.Support {
			s := &pair.Support[k]
			if math.IsNaN(s.Baseline) || math.IsNaN(s.Challenge) {
				continue
			}
			t.Rows = append(t.Rows, []cell{{Text: capital(PhaseWord(string(s.Phase))), Under: []string{say("against", "easier", p.c.Word(pair.Baseline), "harder", p.c.Word(pair.Challenge))}},
				plain("%s %%", whole(s.Baseline)), plain("%s %%", whole(s.Challenge)),
				changeCell(kinematics.PositionSupport, &s.Change)})
		}
	}
	return t
}

// footTable says what foot, knee and thigh did in the shown reps, a column a tempo.
func footTable(reps []shownRep) *table {
	t := &table{Columns: []column{{Title: say("head_shown_rep"), Words: true}}}
	var feet []*measure.Foot
	for i := range reps {
		if f := reps[i].rep.Foot; f != nil {
			feet = append(feet, f)
			t.Columns = append(t.Columns, column{Title: reps[i].of.Words})
		}
	}
	row := func(name string, of func(*measure.Foot) cell) {
		cells := []cell{{Text: name}}
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
	either := func(cm, pct stats.Estimate) cell {
		if inCm && cm.SD > 0 {
			return estimateCell(cm, 1, " cm")
		}
		return estimateCell(pct, 0, say("pct_of_foot"))
	}
	rise := func(r *measure.FootRise) cell {
		if math.IsNaN(r.MaxPctFoot.Value) {
			return missingCell
		}
		c := either(r.MaxCm, r.MaxPctFoot)
		if r.Up {
			c.Under = append(c.Under, say("heel_up_for", "time", seconds(r.UpS).Text))
		} else {
			c.Under = append(c.Under, say("heel_noise"))
		}
		return c
	}
	row(say("row_heel"), func(f *measure.Foot) cell { return rise(&f.Heel) })
	row(say("row_toe"), func(f *measure.Foot) cell { return rise(&f.Toe) })
	row(say("row_slid"), func(f *measure.Foot) cell { return either(f.SlideCm, f.SlidePctFoot) })
	row(say("row_knee"), func(f *measure.Foot) cell { return either(f.KneePastToeCm, f.KneePastToePctFoot) })
	row(say("row_shank"), func(f *measure.Foot) cell { return estimateCell(f.ShankAtBottomDeg, 0, "°") })
	row(say("row_thigh"), func(f *measure.Foot) cell { return estimateCell(f.ThighAtBottomDeg, 0, "°") })
	row(say("row_crease"), func(f *measure.Foot) cell {
		if f.HipCreaseBelowKnee == "" {
			return missingCell
		}
		return cell{Text: words.Or("report.crease."+string(f.HipCreaseBelowKnee), string(f.HipCreaseBelowKnee))}
	})
	return t
}
