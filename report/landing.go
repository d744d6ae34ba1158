package report

import (
	"fmt"
	"math"
	"strings"

	"holdfast/kinematics/measure"
	"holdfast/screening"
	"holdfast/words"
)

// landing sets the landing's bottom beside the slow one and that of the take-off.
func (p *page) landing() section {
	sec := section{ID: "landing", Title: "The landing"}
	l := p.c.Landing
	if l == nil {
		return sec
	}
	var pictures []figure
	for _, s := range []struct {
		shot    *shot
		what    string
		caption string
	}{
		{p.shots.easiest, "The slow bottom", fmt.Sprintf("Slow bottom, rep %d", l.SlowRep)},
		{p.shots.takeoff, "The bottom before the take-off", fmt.Sprintf("Bottom before the take-off, jump %d", l.JumpRep)},
		{p.shots.landing, "The bottom of the landing", fmt.Sprintf("Bottom of the landing, jump %d", l.JumpRep)},
	} {
		if s.shot != nil && s.shot.marked != nil {
			pictures = append(pictures, figure{JPEG: s.shot.marked, Alt: s.what + ", with the angle at ankle, knee and hip.", Caption: s.caption + p.anglesAt(s.shot)})
		}
	}
	t := &table{Columns: []column{{Title: "joint"}}}
	if l.AgainstSlow != nil {
		t.Columns = append(t.Columns, column{Title: "slow bottom"})
	}
	t.Columns = append(t.Columns, column{Title: "take-off bottom"}, column{Title: "landing bottom"})
	if l.AgainstSlow != nil {
		t.Columns = append(t.Columns, column{Title: "against slow", Words: true})
	}
	t.Columns = append(t.Columns, column{Title: "against take-off", Words: true})
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
	reps := fmt.Sprintf("Means of %s", counted(l.Jumps, "jump"))
	if l.AgainstSlow != nil {
		reps += fmt.Sprintf(" and %s", counted(l.SlowReps, "slow rep"))
	}
	if len(pictures) > 0 {
		sec.Blocks = append(sec.Blocks, block{Pictures: pictures, Across: 3})
	}
	sec.Blocks = append(sec.Blocks,
		block{Small: true, Text: reps + "; the last columns are the landing against the others, in brackets the 95 % interval of the difference. “Lost” means less bent there, by more than the smallest change that matters."},
		block{Table: t})
	if d, definition := p.landingDetails(); len(d.Rows) > 0 {
		sec.Blocks = append(sec.Blocks, block{Heading: "Each landing"}, block{Table: d})
		if definition != "" {
			sec.Blocks = append(sec.Blocks, block{Small: true, Text: "Settled: " + definition + "."})
		}
	}
	return sec
}

// anglesAt says the angles of a shot: ": ankle 28°, knee 101°, hip 95°".
func (p *page) anglesAt(s *shot) string {
	m := newMotion(p.c.Analyses[s.clip])
	var parts []string
	for j := range numJoints {
		if v := m.value(m.a.Series.AnglesDeg[j.angle()], s.timeS); !math.IsNaN(v) {
			parts = append(parts, strings.ToLower(j.name())+" "+degrees(v))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return ": " + strings.Join(parts, ", ")
}

// landingDetails is a table of measures, a column a jump.
func (p *page) landingDetails() (t *table, definition string) {
	t = &table{Columns: []column{{Title: "from first contact on", Words: true}}}
	var found []*measure.Landing
	for clip, a := range p.c.Analyses {
		if a == nil {
			continue
		}
		for i := range a.Reps {
			if r := &a.Reps[i]; r.Landing != nil && compared(p.c, clip, r) && len(found) < mostColumns {
				found = append(found, r.Landing)
				title := fmt.Sprintf("jump %d", r.Number)
				if len(jumpClips(p.c)) > 1 {
					title += ", " + a.Clip.Name
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
	row("Contact to bottom", func(l *measure.Landing) cell { return estimateCell(l.ContactToBottomS, 2, " s") })
	for j := range numJoints {
		row(j.name()+" at contact", func(l *measure.Landing) cell {
			return estimateCell(l.AtContactDeg[j.angle()], 0, "°")
		})
	}
	for j := range numJoints {
		row(j.name()+", fastest bending", func(l *measure.Landing) cell {
			v := l.PeakVelocityDegS[j]
			if math.IsNaN(v) || v == 0 {
				return missingCell
			}
			return plain("%s °/s", whole(math.Round(v/10)*10))
		})
	}
	row("Settled after", func(l *measure.Landing) cell { return seconds(l.SettleS) })
	row("Standing again after", func(l *measure.Landing) cell { return seconds(l.ToStandS) })
	row("Extra steps", func(l *measure.Landing) cell { return plain("%d", l.Steps) })
	row("Extra hops", func(l *measure.Landing) cell { return plain("%d", l.Hops) })
	row("Drift forward", func(l *measure.Landing) cell {
		if !math.IsNaN(l.ForwardDriftCm.Value) && l.ForwardDriftCm.SD > 0 {
			return estimateCell(l.ForwardDriftCm, 0, " cm")
		}
		return estimateCell(l.ForwardDriftPctFoot, 0, " % of foot")
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
	return plain("%.2f s", v)
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// jumps is the section of jump heights.
func (p *page) jumps() section {
	sec := section{ID: "jumps", Title: "The jumps"}
	t := &table{Columns: []column{{Title: "jump"}, {Title: "height, flight time"}, {Title: "height, body's rise"}, {Title: "above standing", Spare: true},
		{Title: "take-off velocity"}, {Title: "time in the air", Spare: true}, {Title: "on the floor before", Spare: true}, {Title: "reactive strength"}}}
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
			name := cell{Text: fmt.Sprint(r.Number), Under: under(map[string]string{
				"countermovement": "with countermovement", "from_hold": "from a held bottom", "rebound": "rebound"}[string(j.Kind)])}
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
				why = append(why, fmt.Sprintf("Jump %d: %s", r.Number, s))
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
		sec.Blocks = append(sec.Blocks, block{Heading: "Why the two heights differ"}, block{List: why})
	}
	sec.Blocks = append(sec.Blocks, block{Small: true, Text: "Height by flight time is g·t²/8, which holds when the body lands as tall as it took off. " +
		"The body's rise is that of the estimated centre of mass after take-off. Reactive strength is height by flight time over the time on the floor before; " +
		"it is given for repeated jumps filmed at 120 frames a second or more. " + strings.Join(scales, " ")})
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
		name, ok := map[string]string{"height": "the athlete's height", "mark": "a marked length", "jump": "the fall of the body in the jump itself",
			"leg": "the usual length of a leg"}[string(s.Name)]
		if !ok {
			name = string(s.Name)
		}
		from = append(from, name)
	}
	s := fmt.Sprintf("Scale of %s: %s mm a pixel (%s), from %s.", a.Clip.Name, decimal(a.Scale.MmPerPx.Value, 2),
		decimals2(a.Scale.MmPerPx.Interval95(), 2), strings.Join(from, " and "))
	if !a.Scale.Known {
		s += " That is too rough for lengths in centimetres."
	}
	if !a.Scale.Agree {
		s += " The sources do not agree: trust lengths less."
	}
	return s
}
