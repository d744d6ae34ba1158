package pages

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/report/chart"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/words"
)

// partOrder is the order of the parts of a movement.
var partOrder = []kinematics.Part{kinematics.PartDescent, kinematics.PartAscent, kinematics.PartLanding}

// samePairs returns the pairs that share the baseline of the headline, the easiest
// challenge first: their curves go into one picture.
func samePairs(c *screening.Comparison) []*kinematics.Pair {
	h := said.HeadlinePair(c)
	if h < 0 {
		return nil
	}
	var out []*kinematics.Pair
	for i := range c.Pairs {
		if c.Pairs[i].Baseline == c.Pairs[h].Baseline {
			out = append(out, &c.Pairs[i])
		}
	}
	slices.SortStableFunc(out, func(a, b *kinematics.Pair) int {
		return said.PlaceOf(c.Condition(a.Challenge)) - said.PlaceOf(c.Condition(b.Challenge))
	})
	return out
}

// curveLine is one condition's curve in a panel.
type curveLine struct {
	of               kinematics.Condition
	deg              []float64
	band             [][2]float64
	lostFrom, gained *int
}

// partsOf returns what the parts of the movement are called that curves are drawn over.
func (p *Material) partsOf(pairs []*kinematics.Pair) (names []string) {
	for _, part := range partOrder {
		if slices.ContainsFunc(pairs, func(pair *kinematics.Pair) bool {
			return slices.ContainsFunc(pair.Curves, func(c kinematics.CurvePair) bool { return c.Part == part })
		}) {
			names = append(names, said.PhaseWord(p.Comparison.Turn, string(part)))
		}
	}
	return names
}

// coordination is the section of curves over the parts of the movement and of one
// angle over another.
func (p *Material) coordination() Section {
	sec := Section{ID: "curves", Title: said.Say("curves")}
	pairs := samePairs(p.Comparison)
	type panelOf struct {
		angle body.Angle
		part  kinematics.Part
	}
	var angles []body.Angle
	lines := map[panelOf][]curveLine{}
	for _, pair := range pairs {
		for i := range pair.Curves {
			c := &pair.Curves[i]
			at := panelOf{c.Angle, c.Part}
			if !slices.Contains(angles, c.Angle) {
				angles = append(angles, c.Angle)
			}
			shown := slices.ContainsFunc(lines[at], func(l curveLine) bool { return l.of.Key == pair.Baseline })
			if len(c.BaselineDeg) > 0 && !shown {
				lines[at] = append(lines[at], curveLine{of: p.Comparison.Condition(pair.Baseline),
					deg: c.BaselineDeg, band: c.BaselineBand})
			}
			if len(c.ChallengeDeg) > 0 {
				lines[at] = append(lines[at], curveLine{p.Comparison.Condition(pair.Challenge), c.ChallengeDeg, c.ChallengeBand,
					c.LostFromPct, c.GainedFromPct})
			}
		}
	}
	var conditions []kinematics.Condition
	for _, ls := range lines {
		for _, l := range ls {
			if !slices.Contains(conditions, l.of) {
				conditions = append(conditions, l.of)
			}
		}
	}
	slices.SortFunc(conditions, func(a, b kinematics.Condition) int {
		return cmp.Or(said.PlaceOf(a)-said.PlaceOf(b), strings.Compare(a.Key, b.Key))
	})
	if len(conditions) > 0 {
		sec.Blocks = append(sec.Blocks,
			Block{Text: said.Say("curves_explained", "parts", p.partsOf(pairs))},
			Block{Pictures: []Figure{{Drawing: chart.Key(conditions)}}, Across: 2})
	}
	var sentences []string
	for _, angle := range angles {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, part := range partOrder {
			for _, l := range lines[panelOf{angle, part}] {
				for i, v := range l.deg {
					lo, hi = chart.MinMax(lo, hi, v)
					if i < len(l.band) {
						lo, hi = chart.MinMax(lo, hi, l.band[i][0])
						lo, hi = chart.MinMax(lo, hi, l.band[i][1])
					}
				}
			}
		}
		if lo > hi {
			continue
		}
		var panels []Figure
		for _, part := range partOrder {
			ls := lines[panelOf{angle, part}]
			if len(ls) == 0 {
				continue
			}
			panels = append(panels, Figure{Drawing: curvePanel(p.Comparison.Turn, angle, part, ls, lo, hi)})
			for _, l := range ls {
				if s := fromWords(p.Comparison.Turn, angle, part, l); s != "" {
					sentences = append(sentences, s)
				}
			}
		}
		if len(panels) > 0 {
			sec.Blocks = append(sec.Blocks, Block{Heading: said.AngleWord(angle)}, Block{Pictures: panels, Across: 3})
		}
	}
	if len(sentences) > 0 {
		sec.Blocks = append(sec.Blocks, Block{Heading: said.Say("curves_where")}, Block{List: sentences})
	}
	if p.Curves != nil {
		sec.Blocks = append(sec.Blocks, Block{Heading: said.Say("curves_every")}, Block{
			Pictures: []Figure{{Drawing: p.Curves, Caption: said.Say("curves_every_caption", "form", said.Jumping(p.Comparison),
				"turn", p.Comparison.Turn)}}, Across: 1})
	}
	return sec
}

// curvePanel draws one angle over one part of the movement.
func curvePanel(turn string, angle body.Angle, part kinematics.Part, ls []curveLine, lo, hi float64) *chart.Drawing {
	d := &chart.Drawing{WidthPt: 260, HeightPt: 200}
	var names []string
	for _, l := range ls {
		names = append(names, l.of.Words)
	}
	d.Alt = said.Say("curve_alt", "angle", said.AngleWord(angle), "part", said.PhaseWord(turn, string(part)),
		"names", names)
	y0, y1, step := chart.CloseScale(lo, hi)
	a := chart.NewAxes(d, said.Capital(said.PhaseWord(turn, string(part))), 0, 100, y0, y1)
	a.Upward(step, said.Degrees)
	a.Across(25, said.Say("pct_of_part", "part", said.PhaseWord(turn, string(part))), said.Whole)
	for _, l := range ls {
		xs, los, his := percents(len(l.deg)), []float64{}, []float64{}
		for _, b := range l.band {
			los, his = append(los, b[0]), append(his, b[1])
		}
		a.Ribbon(chart.InkOf(l.of), 0.2, xs, los, his)
	}
	for _, l := range ls {
		a.Curve(chart.InkOf(l.of), 2, chart.DashOf(l.of), percents(len(l.deg)), chart.Floats(l.deg))
	}
	for _, l := range ls {
		for _, at := range []struct {
			pct  *int
			fill chart.Ink
		}{{l.lostFrom, chart.InkOf(l.of)}, {l.gained, chart.PaperInk}} {
			if at.pct == nil {
				continue
			}
			x := a.X(float64(*at.pct))
			d.Line(chart.InkOf(l.of), 1.1, []float64{1.5, 2}, a.At(float64(*at.pct), a.ToY), a.At(float64(*at.pct), a.FromY))
			d.Sign(chart.ShapeOf(l.of), x, a.Top-1, 4.2, at.fill, chart.InkOf(l.of))
		}
	}
	return d
}

func percents(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 100 * float64(i) / math.Max(1, float64(n-1))
	}
	return out
}

// fromWords says where a curve leaves the baseline: "Knee flexion, fast: lost from
// 73 % of the descent". On the way up an angle that is smaller is not a loss but a
// body that rises sooner.
func fromWords(turn string, angle body.Angle, part kinematics.Part, l curveLine) string {
	less, more := "lost", "gained"
	if turn != "" || part == kinematics.PartAscent || angle == body.TrunkLean {
		less, more = "less", "more"
	}
	var parts []string
	add := func(pct *int, form string) {
		switch {
		case pct == nil:
		case *pct == 0:
			parts = append(parts, said.Say("from_start", "form", form, "part", said.PhaseWord(turn, string(part))))
		default:
			parts = append(parts, said.Say("from_pct", "form", form, "part", said.PhaseWord(turn, string(part)), "pct", *pct))
		}
	}
	if l.lostFrom != nil && l.gained != nil && *l.gained < *l.lostFrom {
		add(l.gained, more)
		add(l.lostFrom, less)
	} else {
		add(l.lostFrom, less)
		add(l.gained, more)
	}
	if len(parts) == 0 {
		return ""
	}
	return said.Say("from", "angle", said.AngleWord(angle), "of", l.of.Words, "parts", parts)
}

// coupling is the section of one angle over another.
func (p *Material) coupling() Section {
	sec := Section{ID: "coupling", Title: said.Say("coupling")}
	type plot struct {
		over, of body.Angle
		part     kinematics.Part
		curves   []*kinematics.AngleAngleCurve
	}
	var plots []*plot
	for _, pair := range samePairs(p.Comparison) {
		for i := range pair.AngleAngle {
			aa := &pair.AngleAngle[i]
			at := slices.IndexFunc(plots, func(q *plot) bool { return q.over == aa.Over && q.of == aa.Of && q.part == aa.Part })
			if at < 0 {
				at = len(plots)
				plots = append(plots, &plot{aa.Over, aa.Of, aa.Part, []*kinematics.AngleAngleCurve{&aa.Baseline}})
			}
			if aa.Challenge != nil {
				plots[at].curves = append(plots[at].curves, aa.Challenge)
			}
		}
	}
	var pictures []Figure
	var conditions []kinematics.Condition
	t := &Table{Columns: []column{{Title: said.Say("head_share")}, {Title: said.Say("head_in_phase")},
		{Title: said.Say("head_anti_phase")}, {Title: said.Say("head_upper_alone")},
		{Title: said.Say("head_lower_alone")}, {Title: said.Say("head_spread")}}}
	for _, q := range plots {
		d := couplingPanel(p.Comparison, q.over, q.of, q.part, q.curves)
		if d == nil {
			continue
		}
		pictures = append(pictures, Figure{Drawing: d})
		for _, c := range q.curves {
			of := p.Comparison.Condition(c.Condition)
			if !slices.Contains(conditions, of) {
				conditions = append(conditions, of)
			}
			if math.IsNaN(c.Shares.InPhase) {
				continue
			}
			pct := func(v float64) Cell {
				if math.IsNaN(v) {
					return missingCell
				}
				return plain("%s %%", said.Whole(v))
			}
			spread := missingCell
			if !math.IsNaN(c.VariabilityDeg) {
				spread = plain("%s", said.Degrees(c.VariabilityDeg))
			}
			t.Rows = append(t.Rows,
				[]Cell{{Text: said.Say("coupled", "over", limb(q.over), "of", limbInside(q.of)),
					Under: []string{said.Say("part_of", "part", said.PhaseWord(p.Comparison.Turn, string(q.part)), "of", of.Words)}},
					pct(c.Shares.InPhase), pct(c.Shares.AntiPhase), pct(c.Shares.Proximal), pct(c.Shares.Distal), spread})
		}
	}
	if len(pictures) == 0 {
		return sec
	}
	sec.Blocks = append(sec.Blocks,
		Block{Text: said.Say("coupling_explained")},
		Block{Pictures: []Figure{{Drawing: chart.Key(conditions)}}, Across: 2},
		Block{Pictures: pictures, Across: 2})
	if len(t.Rows) > 0 {
		sec.Blocks = append(sec.Blocks, Block{Table: t}, Block{Small: true,
			Text: said.Say("shares_explained")})
	}
	return sec
}

// limb is the joint or segment of an angle, "Knee", limbInside inside of a sentence.
func limb(a body.Angle) string       { return words.Say("limb."+a.String(), nil) }
func limbInside(a body.Angle) string { return words.Say("limb_inside."+a.String(), nil) }

// angleInside is an angle's name inside of a sentence.
func angleInside(a body.Angle) string { return words.Say("angle_inside."+a.String(), nil) }

// couplingPanel draws one angle over another; nil without points.
func couplingPanel(c *screening.Comparison, over, of body.Angle, part kinematics.Part,
	curves []*kinematics.AngleAngleCurve) *chart.Drawing {
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, c := range curves {
		for i := range c.OverDeg {
			if i < len(c.OfDeg) && !math.IsNaN(c.OverDeg[i]) && !math.IsNaN(c.OfDeg[i]) {
				x0, x1 = chart.MinMax(x0, x1, c.OverDeg[i])
				y0, y1 = chart.MinMax(y0, y1, c.OfDeg[i])
			}
		}
	}
	if x0 > x1 {
		return nil
	}
	var names []string
	for _, q := range curves {
		names = append(names, c.Word(q.Condition))
	}
	d := &chart.Drawing{WidthPt: 340, HeightPt: 260, Alt: said.Say("coupling_alt", "of", said.AngleWord(of),
		"over", angleInside(over), "part", said.PhaseWord(c.Turn, string(part)), "names", names)}
	lowX, highX, stepX := chart.CloseScale(x0, x1)
	lowY, highY, stepY := chart.CloseScale(y0, y1)
	a := chart.NewAxes(d, said.Say("coupling_title", "part", said.Capital(said.PhaseWord(c.Turn, string(part))),
		"of", limbInside(of), "over", limbInside(over)), lowX, highX, lowY, highY)
	a.Left = 58
	a.Upward(stepY, said.Degrees)
	d.Words(chart.MainInk, chart.LabelSize, 0.5, 13, (a.Top+a.Bottom)/2, angleInside(of)).Up = true
	a.Across(stepX, angleInside(over), said.Degrees)
	for _, q := range curves {
		of := c.Condition(q.Condition)
		a.Curve(chart.InkOf(of), 2.2, chart.DashOf(of), chart.Floats(q.OverDeg), chart.Floats(q.OfDeg))
	}
	for _, q := range curves {
		of := c.Condition(q.Condition)
		for i := range q.OverDeg {
			if i < len(q.OfDeg) && !math.IsNaN(q.OverDeg[i]) && !math.IsNaN(q.OfDeg[i]) {
				start := a.At(q.OverDeg[i], q.OfDeg[i])
				d.Sign(chart.ShapeOf(of), start.X, start.Y, 4.5, chart.InkOf(of), chart.MainInk)
				break
			}
		}
	}
	return d
}

// consistency is the section of how alike the reps of a set are, and of drift.
func (p *Material) consistency() Section {
	sec := Section{ID: "consistency", Title: said.Say("consistency")}
	t := &Table{Columns: []column{{Title: said.Say("head_set")}, {Title: said.Say("head_reps")},
		{Title: said.Say("head_joint")}, {Title: said.Say("head_spread")}, {Title: said.Say("head_first_to_last")},
		{Title: said.Say("head_drift"), Words: true}}}
	for clip, a := range p.Comparison.Analyses {
		if a == nil {
			continue
		}
		for i := range a.Sets {
			s := &a.Sets[i]
			of, ok := p.Comparison.ConditionOf(clip, s.Tempo)
			if s.Reps < 2 || !ok {
				continue
			}
			for k, j := range said.JointsOf(a) {
				sd := s.BetweenRepsSDDeg[j]
				row := []Cell{{}, {}, {Text: j.Inside()}, missingCell, missingCell, missingCell}
				if k == 0 {
					row[0], row[1] = Cell{Text: said.Capital(of.Words), Under: []string{a.Clip.Name}}, plain("%d", s.Reps)
				}
				if !math.IsNaN(sd) {
					row[3] = plain("%s", said.Tenths(sd))
				}
				if s.Drift != nil {
					d := &s.Drift[j]
					if !math.IsNaN(d.Total) {
						row[4] = Cell{Text: said.Signed(d.Total), Under: under(said.Interval(d.Interval95[0], d.Interval95[1]))}
						row[5] = Cell{Text: said.Say("drift_none")}
						if small := math.Abs(d.Total) < p.Comparison.SmallestChangeDeg; d.Drifts && small {
							row[5] = Cell{Text: said.Say("drift_slight")}
						} else if d.Drifts && d.Total < 0 {
							row[5] = Cell{Text: said.Say("drift_less"), Bold: true}
						} else if d.Drifts {
							row[5] = Cell{Text: said.Say("drift_more"), Bold: true}
						}
					}
				}
				t.Rows = append(t.Rows, row)
			}
		}
	}
	if len(t.Rows) == 0 {
		return sec
	}
	sec.Blocks = append(sec.Blocks, Block{Table: t})
	if lines := p.within(); len(lines) > 0 {
		sec.Blocks = append(sec.Blocks, Block{List: lines})
	}
	sec.Blocks = append(sec.Blocks, Block{Small: true, Text: said.Say("consistency_explained")})
	return sec
}

// within says how positions go over the reps of each clip.
func (p *Material) within() (out []string) {
	for clip, a := range p.Comparison.Analyses {
		if a == nil {
			continue
		}
		for _, line := range said.Within(a) {
			if len(p.Comparison.Analyses) > 1 {
				line = said.Say("within_clip", "clip", p.Comparison.Clips[clip].Name, "line", line)
			}
			out = append(out, line)
		}
	}
	return out
}
