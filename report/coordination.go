package report

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/words"
)

// partOrder is the order of the parts of a movement.
var partOrder = []kinematics.Part{kinematics.PartDescent, kinematics.PartAscent, kinematics.PartLanding}

// samePairs returns the pairs that share the baseline of the headline, the easiest
// challenge first: their curves go into one picture.
func samePairs(c *screening.Comparison) []*kinematics.Pair {
	h := headlinePair(c)
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
		return placeOf(c.Condition(a.Challenge)) - placeOf(c.Condition(b.Challenge))
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

// coordination is the section of curves over the parts of the movement and of one
// angle over another.
func (p *page) coordination() section {
	sec := section{ID: "curves", Title: say("curves")}
	pairs := samePairs(p.c)
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
			if len(c.BaselineDeg) > 0 && !slices.ContainsFunc(lines[at], func(l curveLine) bool { return l.of.Key == pair.Baseline }) {
				lines[at] = append(lines[at], curveLine{of: p.c.Condition(pair.Baseline), deg: c.BaselineDeg, band: c.BaselineBand})
			}
			if len(c.ChallengeDeg) > 0 {
				lines[at] = append(lines[at], curveLine{p.c.Condition(pair.Challenge), c.ChallengeDeg, c.ChallengeBand, c.LostFromPct, c.GainedFromPct})
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
		return cmp.Or(placeOf(a)-placeOf(b), strings.Compare(a.Key, b.Key))
	})
	if len(conditions) > 0 {
		sec.Blocks = append(sec.Blocks,
			block{Text: say("curves_explained")},
			block{Pictures: []figure{{Drawing: key(conditions)}}, Across: 2})
	}
	var said []string
	for _, angle := range angles {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, part := range partOrder {
			for _, l := range lines[panelOf{angle, part}] {
				for i, v := range l.deg {
					lo, hi = minMax(lo, hi, v)
					if i < len(l.band) {
						lo, hi = minMax(lo, hi, l.band[i][0])
						lo, hi = minMax(lo, hi, l.band[i][1])
					}
				}
			}
		}
		if lo > hi {
			continue
		}
		var panels []figure
		for _, part := range partOrder {
			ls := lines[panelOf{angle, part}]
			if len(ls) == 0 {
				continue
			}
			panels = append(panels, figure{Drawing: curvePanel(angle, part, ls, lo, hi)})
			for _, l := range ls {
				if s := fromWords(angle, part, l); s != "" {
					said = append(said, s)
				}
			}
		}
		if len(panels) > 0 {
			sec.Blocks = append(sec.Blocks, block{Heading: AngleWord(angle)}, block{Pictures: panels, Across: 3})
		}
	}
	if len(said) > 0 {
		sec.Blocks = append(sec.Blocks, block{Heading: say("curves_where")}, block{List: said})
	}
	if p.curves != nil {
		sec.Blocks = append(sec.Blocks, block{Heading: say("curves_every")}, block{
			Pictures: []figure{{Drawing: p.curves, Caption: say("curves_every_caption")}}, Across: 1})
	}
	return sec
}

func minMax(lo, hi, v float64) (float64, float64) {
	if math.IsNaN(v) {
		return lo, hi
	}
	return math.Min(lo, v), math.Max(hi, v)
}

// closeScale returns round ends of an axis close about its values, at least 10° apart,
// and the distance of at most five marks. A band that dips an eighth of that distance
// beyond an end needs no room of its own.
func closeScale(lo, hi float64) (from, to, step float64) {
	for _, step = range []float64{5, 10, 15, 20, 30, 45, 60, 90, 180} {
		from, to = math.Floor(lo/step+0.125)*step, math.Ceil(hi/step-0.125)*step
		if to-from < 10 {
			to = from + 10
		}
		if (to-from)/step <= 5.01 {
			break
		}
	}
	return from, to, step
}

// curvePanel draws one angle over one part of the movement.
func curvePanel(angle body.Angle, part kinematics.Part, ls []curveLine, lo, hi float64) *drawing {
	d := &drawing{w: 260, h: 200}
	var names []string
	for _, l := range ls {
		names = append(names, l.of.Words)
	}
	d.alt = say("curve_alt", "angle", AngleWord(angle), "part", PhaseWord(string(part)), "names", names)
	y0, y1, step := closeScale(lo, hi)
	a := newAxes(d, capital(PhaseWord(string(part))), 0, 100, y0, y1)
	a.upward(step, degrees)
	a.across(25, say("pct_of_part", "part", PhaseWord(string(part))), whole)
	for _, l := range ls {
		xs, los, his := percents(len(l.deg)), []float64{}, []float64{}
		for _, b := range l.band {
			los, his = append(los, b[0]), append(his, b[1])
		}
		a.ribbon(inkOf(l.of), 0.2, xs, los, his)
	}
	for _, l := range ls {
		a.curve(inkOf(l.of), 2, dashOf(l.of), percents(len(l.deg)), floats(l.deg))
	}
	for _, l := range ls {
		for _, at := range []struct {
			pct  *int
			fill ink
		}{{l.lostFrom, inkOf(l.of)}, {l.gained, paperInk}} {
			if at.pct == nil {
				continue
			}
			x := a.x(float64(*at.pct))
			d.line(inkOf(l.of), 1.1, []float64{1.5, 2}, a.at(float64(*at.pct), a.y1), a.at(float64(*at.pct), a.y0))
			d.sign(shapeOf(l.of), x, a.top-1, 4.2, at.fill, inkOf(l.of))
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
func fromWords(angle body.Angle, part kinematics.Part, l curveLine) string {
	less, more := "lost", "gained"
	if part == kinematics.PartAscent || angle == body.TrunkLean {
		less, more = "less", "more"
	}
	var parts []string
	add := func(pct *int, form string) {
		switch {
		case pct == nil:
		case *pct == 0:
			parts = append(parts, say("from_start", "form", form, "part", PhaseWord(string(part))))
		default:
			parts = append(parts, say("from_pct", "form", form, "part", PhaseWord(string(part)), "pct", *pct))
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
	return say("from", "angle", AngleWord(angle), "of", l.of.Words, "parts", parts)
}

// coupling is the section of one angle over another.
func (p *page) coupling() section {
	sec := section{ID: "coupling", Title: say("coupling")}
	type plot struct {
		over, of body.Angle
		part     kinematics.Part
		curves   []*kinematics.AngleAngleCurve
	}
	var plots []*plot
	for _, pair := range samePairs(p.c) {
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
	var pictures []figure
	var conditions []kinematics.Condition
	t := &table{Columns: []column{{Title: say("head_share")}, {Title: say("head_in_phase")}, {Title: say("head_anti_phase")}, {Title: say("head_upper_alone")},
		{Title: say("head_lower_alone")}, {Title: say("head_spread")}}}
	for _, q := range plots {
		d := couplingPanel(p.c, q.over, q.of, q.part, q.curves)
		if d == nil {
			continue
		}
		pictures = append(pictures, figure{Drawing: d})
		for _, c := range q.curves {
			of := p.c.Condition(c.Condition)
			if !slices.Contains(conditions, of) {
				conditions = append(conditions, of)
			}
			if math.IsNaN(c.Shares.InPhase) {
				continue
			}
			pct := func(v float64) cell {
				if math.IsNaN(v) {
					return missingCell
				}
				return plain("%s %%", whole(v))
			}
			spread := missingCell
			if !math.IsNaN(c.VariabilityDeg) {
				spread = plain("%s", degrees(c.VariabilityDeg))
			}
			t.Rows = append(t.Rows, []cell{{Text: say("coupled", "over", limb(q.over), "of", limbInside(q.of)), Under: []string{say("part_of", "part", PhaseWord(string(q.part)), "of", of.Words)}},
				pct(c.Shares.InPhase), pct(c.Shares.AntiPhase), pct(c.Shares.Proximal), pct(c.Shares.Distal), spread})
		}
	}
	if len(pictures) == 0 {
		return sec
	}
	sec.Blocks = append(sec.Blocks,
		block{Text: say("coupling_explained")},
		block{Pictures: []figure{{Drawing: key(conditions)}}, Across: 2},
		block{Pictures: pictures, Across: 2})
	if len(t.Rows) > 0 {
		sec.Blocks = append(sec.Blocks, block{Table: t}, block{Small: true,
			Text: say("shares_explained")})
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
	curves []*kinematics.AngleAngleCurve) *drawing {
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, c := range curves {
		for i := range c.OverDeg {
			if i < len(c.OfDeg) && !math.IsNaN(c.OverDeg[i]) && !math.IsNaN(c.OfDeg[i]) {
				x0, x1 = minMax(x0, x1, c.OverDeg[i])
				y0, y1 = minMax(y0, y1, c.OfDeg[i])
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
	d := &drawing{w: 340, h: 260, alt: say("coupling_alt", "of", AngleWord(of),
		"over", angleInside(over), "part", PhaseWord(string(part)), "names", names)}
	lowX, highX, stepX := closeScale(x0, x1)
	lowY, highY, stepY := closeScale(y0, y1)
	a := newAxes(d, say("coupling_title", "part", capital(PhaseWord(string(part))), "of", limbInside(of), "over", limbInside(over)),
		lowX, highX, lowY, highY)
	a.left = 58
	a.upward(stepY, degrees)
	d.words(mainInk, labelSize, 0.5, 13, (a.top+a.bottom)/2, angleInside(of)).up = true
	a.across(stepX, angleInside(over), degrees)
	for _, q := range curves {
		of := c.Condition(q.Condition)
		a.curve(inkOf(of), 2.2, dashOf(of), floats(q.OverDeg), floats(q.OfDeg))
	}
	for _, q := range curves {
		of := c.Condition(q.Condition)
		for i := range q.OverDeg {
			if i < len(q.OfDeg) && !math.IsNaN(q.OverDeg[i]) && !math.IsNaN(q.OfDeg[i]) {
				start := a.at(q.OverDeg[i], q.OfDeg[i])
				d.sign(shapeOf(of), start.X, start.Y, 4.5, inkOf(of), mainInk)
				break
			}
		}
	}
	return d
}

// consistency is the section of how alike the reps of a set are, and of drift.
func (p *page) consistency() section {
	sec := section{ID: "consistency", Title: say("consistency")}
	t := &table{Columns: []column{{Title: say("head_set")}, {Title: say("head_reps")}, {Title: say("head_joint")}, {Title: say("head_spread")}, {Title: say("head_first_to_last")},
		{Title: say("head_drift"), Words: true}}}
	for clip, a := range p.c.Analyses {
		if a == nil {
			continue
		}
		for i := range a.Sets {
			s := &a.Sets[i]
			of, ok := p.c.ConditionOf(clip, s.Tempo)
			if s.Reps < 2 || !ok {
				continue
			}
			for k, j := range []joint{ankle, knee, hip} {
				sd := s.BetweenRepsSDDeg[j]
				row := []cell{{}, {}, {Text: j.inside()}, missingCell, missingCell, missingCell}
				if k == 0 {
					row[0], row[1] = cell{Text: capital(of.Words), Under: []string{a.Clip.Name}}, plain("%d", s.Reps)
				}
				if !math.IsNaN(sd) {
					row[3] = plain("%s", tenths(sd))
				}
				if s.Drift != nil {
					d := &s.Drift[j]
					if !math.IsNaN(d.Total) {
						row[4] = cell{Text: signed(d.Total), Under: under(interval(d.Interval95[0], d.Interval95[1]))}
						row[5] = cell{Text: say("drift_none")}
						if d.Drifts && d.Total < 0 {
							row[5] = cell{Text: say("drift_less"), Bold: true}
						} else if d.Drifts {
							row[5] = cell{Text: say("drift_more"), Bold: true}
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
	sec.Blocks = append(sec.Blocks, block{Table: t}, block{Small: true,
		Text: say("consistency_explained")})
	return sec
}

// signed writes an angle that grew or shrank: "+3°".
func signed(v float64) string {
	if math.Round(v) > 0 {
		return "+" + degrees(v)
	}
	return degrees(v)
}
