package pages

import (
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"holdfast/kinematics"
	"holdfast/movements"
	"holdfast/report/chart"
	"holdfast/report/marked"
	"holdfast/report/said"
	"holdfast/report/sidebyside"
	"holdfast/screening"
	"holdfast/vision/plane"
	"holdfast/words"
)

//go:embed page.html
var pageText string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"lang": words.Tag,
	// Longer lines of a cell may be broken.
	"long": func(s string) bool { return utf8.RuneCountInString(s) > 14 },
	// What stands in brackets stays on one line.
	"keep": func(s string) string {
		if i := strings.IndexByte(s, '('); i >= 0 {
			return s[:i] + strings.ReplaceAll(s[i:], " ", "\u00a0")
		}
		return s
	},
}).Parse(pageText))

// Material makes the coach's and the athlete's page of a comparison.
type Material struct {
	Comparison *screening.Comparison
	Date       string
	Curves     *chart.Drawing // every rep; nil: none
	Pairs      []sidebyside.ShownPair
	Shots      sidebyside.Shots
	Warnings   []screening.Warning
	Marked     []marked.Picture // what a coach marked by hand
}

// Warn adds warnings that are not there yet.
func (p *Material) Warn(ws ...screening.Warning) {
	for _, w := range ws {
		known := false
		for _, old := range p.Warnings {
			known = known || screening.Say(old) == screening.Say(w)
		}
		if !known {
			p.Warnings = append(p.Warnings, w)
		}
	}
}

// Coach puts the coach's page together.
func (p *Material) Coach() *Coach {
	c := p.Comparison
	s := &Coach{Title: said.Say("title"), Athlete: c.Athlete, Date: p.Date, Footer: p.footer(),
		Nothing: said.Say("nothing"), Explained: said.Say("headline_explained", "turn", c.ShownTurn())}
	switch {
	case c.FromFront():
		s.Title = said.Say("title_front")
	case c.TurnOnly:
		s.Title = said.Say("title_turn", "turn", c.ShownTurn())
		s.Explained = said.Say("headline_turn_explained", "turn", c.ShownTurn())
	case c.Tempo != "":
		s.Title = said.Say("title_sides", "tempo", c.Tempo)
	}
	for _, clip := range c.Clips {
		name := clip.Name
		if clip.Setting != nil {
			name = said.Say("clip_setting", "clip", name, "setting", clip.Setting.Said())
		}
		s.Clips = append(s.Clips, name)
	}
	if c.Fronts != nil {
		for _, clip := range c.Fronts.Clips {
			s.Clips = append(s.Clips, said.Say("clip_joined", "clip", clip.Name))
		}
	}
	for _, h := range said.Headlines(c) {
		s.Headlines = append(s.Headlines, Headline{h, stepSigns(h.Marks)})
	}
	if c.FromFront() {
		return p.coachFront(s)
	}
	warnings := p.heed(s)
	s.add(p.bottoms())
	s.add(p.ladder())
	s.add(p.times())
	addFronts(s, c.Fronts, true)
	s.add(warnings)
	s.add(care(p.Comparison))
	s.Appendix = len(s.Sections)
	for i := range c.Pairs {
		if !c.TurnOnly {
			s.add(p.pair(i))
		}
	}
	s.add(p.marked())
	s.add(p.landing())
	s.add(p.foot())
	s.add(p.jumps())
	s.add(p.coordination())
	s.add(p.coupling())
	s.add(p.consistency())
	s.add(p.reps())
	addFrontReps(s, c.Fronts)
	s.add(p.trust())
	return s
}

// heed makes the section of warnings and the line at the top that points to it.
func (p *Material) heed(s *Coach) Section {
	warnings := Section{ID: "warnings", Title: said.Say("warnings")}
	for _, w := range p.Warnings {
		if s := screening.Say(w); s != "" {
			warnings.Blocks = append(warnings.Blocks, Block{Note: s})
		}
	}
	if n := len(warnings.Blocks); n > 0 {
		s.Heed = said.Say("heed", "n", n)
	}
	return warnings
}

// care are the usual cautions of the trade; common practice, no source. Of jumps it speaks where some are shown.
func care(c *screening.Comparison) Section {
	form := flights(c)
	return Section{ID: "care", Title: said.Say("care"), Blocks: []Block{{Care: true, List: []string{said.Say("care_aid"),
		said.Say("care_stop"), said.Say("care_warm_up", "form", form), said.Say("care_clearance", "form", form)}}}}
}

// flights is the form of a caution about a comparison, in which some jump or none does.
func flights(c *screening.Comparison) string {
	for _, a := range c.Analyses {
		if a != nil && slices.ContainsFunc(a.Reps, func(r kinematics.Rep) bool { return r.HasFlight() }) {
			return "jumps"
		}
	}
	return "none"
}

func (p *Material) footer() string {
	parts := []string{p.Comparison.Program}
	for i := len(p.Comparison.Analyses) - 1; i >= 0; i-- {
		a := p.Comparison.Analyses[i]
		if a == nil {
			continue
		}
		if a.Model.Name != "" {
			parts = append(parts, said.Say("footer_network", "network", a.Model.Name))
		}
		if a.MassModel != "" {
			parts = append(parts, said.Say("footer_masses", "masses", a.MassModel))
		}
		if a.Series.AngleConventions != "" {
			parts = append(parts, said.Say("footer_angles", "angles",
				words.Or("conventions."+a.Series.AngleConventions, a.Series.AngleConventions)))
		}
		break
	}
	return strings.Join(parts, " · ")
}

// sectionID is the name of one of several sections of a kind.
func sectionID(kind string, i int) string { return fmt.Sprintf("%s%d", kind, i+1) }

// pair is the section of range of motion kept and lost between two conditions.
func (p *Material) pair(i int) Section {
	pair := &p.Comparison.Pairs[i]
	easier, harder := p.Comparison.Word(pair.Baseline), p.Comparison.Word(pair.Challenge)
	sec := Section{ID: sectionID("pair", i), Title: said.Say("pair", "easier", easier, "harder", harder)}
	t := &Table{Columns: []column{{Title: said.Say("head_joint")}, {Title: easier}, {Title: harder},
		{Title: said.Say("head_lost")}, {Title: said.Say("head_retained"), Spare: true},
		{Title: said.HeadAtBottom(p.Comparison), Spare: true},
		{Title: said.Say("head_reps"), Spare: true},
		{Title: said.Say("head_verdict"), Words: true}}}
	for _, j := range said.JointsIn(p.Comparison) {
		ch := &pair.Joints[j]
		retained := missingCell
		if !math.IsNaN(ch.RetainedPct) {
			retained = plain("%s %%", said.Whole(ch.RetainedPct))
		}
		t.Rows = append(t.Rows, []Cell{{Text: j.Name()},
			{Text: said.Degrees(ch.BaselineROMDeg), Under: under(said.IntervalOrNone(ch.BaselineInterval95Deg))},
			{Text: said.Degrees(ch.ChallengeROMDeg), Under: under(said.IntervalOrNone(ch.ChallengeInterval95Deg))},
			{Text: said.Degrees(ch.LostDeg), Bold: true, Under: under(said.Interval(ch.Interval95Deg[0], ch.Interval95Deg[1]))},
			retained,
			plain("%s → %s", said.BottomDegrees(ch.BaselineBottomDeg, ch.BaselineZeroKnown),
				said.BottomDegrees(ch.ChallengeBottomDeg, ch.ChallengeZeroKnown)),
			Cell{Text: said.Say("reps_and", "a", ch.BaselineReps, "b", ch.ChallengeReps)},
			{Text: said.VerdictWord(ch.Verdict), Badge: string(ch.Verdict)},
		})
	}
	sec.Blocks = append(sec.Blocks, Block{Table: t})
	if p.Comparison.LacksZero(pair) {
		sec.Blocks = append(sec.Blocks, Block{Small: true, Text: said.NoZero()})
	}
	if d := intervalChart(pair, said.JointsIn(p.Comparison), p.Comparison.SmallestChangeDeg); d != nil {
		sec.Blocks = append(sec.Blocks, Block{Pictures: []Figure{{Drawing: d}}, Across: 1})
	}
	if i != said.HeadlinePair(p.Comparison) {
		sec.Blocks = append(sec.Blocks, p.picturesOf(i)...)
	}
	return sec
}

// bottoms is the section of the pictures of the pair that tells most.
func (p *Material) bottoms() Section {
	i := said.HeadlinePair(p.Comparison)
	if i < 0 {
		return Section{}
	}
	pair := &p.Comparison.Pairs[i]
	return Section{ID: "bottoms", Title: said.Say("bottoms", "turn", p.Comparison.ShownTurn(),
		"easier", p.Comparison.Word(pair.Baseline), "harder", p.Comparison.Word(pair.Challenge)), Blocks: p.picturesOf(i)}
}

// marked is the section of the frames that a coach marked by hand.
func (p *Material) marked() Section {
	sec := Section{ID: "marked", Title: said.Say("marked")}
	var figures []Figure
	for _, m := range p.Marked {
		at := said.Say("marked_at", "clip", m.Clip, "time", said.Decimal(m.TimeS, 2))
		figures = append(figures, Figure{JPEG: m.JPEG, Alt: said.Say("marked_alt", "at", at),
			Caption: strings.Join(append([]string{at}, m.Notes...), " · ")})
	}
	if len(figures) > 0 {
		sec.Blocks = []Block{{Small: true, Text: said.Say("marked_explained")}, {Across: 2, Pictures: figures}}
	}
	return sec
}

// picturesOf are the pictures of a pair's two bottoms, beside and over each other; none where none could be made.
func (p *Material) picturesOf(i int) []Block {
	if i >= len(p.Pairs) || p.Pairs[i].Overlay == nil {
		return nil
	}
	s, pair := &p.Pairs[i], &p.Comparison.Pairs[i]
	easier, harder := p.Comparison.Word(pair.Baseline), p.Comparison.Word(pair.Challenge)
	form := "bottom"
	if s.Landing && !p.Comparison.InLandings() {
		form = "landing"
	}
	say := func(key string) string {
		return said.Say(key, "form", form, "turn", p.Comparison.ShownTurn(), "easier", easier, "harder", harder)
	}
	both := Figure{JPEG: s.Both, Alt: say("both_alt"),
		Caption: say("both_caption")}
	if s.Video != "" {
		both.Link, both.LinkWords = s.Video, said.Say("video")
	}
	return []Block{{Across: 2, Pictures: []Figure{both, {JPEG: s.Overlay,
		Alt:     say("overlay_alt"),
		Caption: say("overlay_caption")}}}}
}

// reps is the section of all reps of each clip.
func (p *Material) reps() Section {
	sec := Section{ID: "reps", Title: said.Say("reps")}
	for clip, a := range p.Comparison.Analyses {
		if a == nil || len(a.Reps) == 0 {
			continue
		}
		sec.Blocks = append(sec.Blocks, Block{Heading: a.Clip.Name}, Block{Small: true, Text: viewWords(&a.View)},
			Block{Table: p.repTable(clip)})
		if said.HasNoZero(a) {
			sec.Blocks = append(sec.Blocks, Block{Small: true, Text: said.NoZero()})
		}
		if advice := said.Advice(a); len(advice) > 0 {
			sec.Blocks = append(sec.Blocks, Block{Text: said.Say("next_time")}, Block{List: advice})
		}
	}
	if len(sec.Blocks) > 0 {
		explained := said.Say("reps_explained", "turn", p.Comparison.Turn)
		sec.Blocks = append([]Block{{Small: true, Text: explained}}, sec.Blocks...)
	}
	return sec
}

// repTable is the table of all reps of a clip.
func (p *Material) repTable(clip int) *Table {
	a := p.Comparison.Analyses[clip]
	joints := said.LegsFirst(said.JointsOf(a))
	t := &Table{Columns: []column{{Title: said.Say("head_rep")}}}
	for _, j := range joints {
		t.Columns = append(t.Columns, column{Title: j.Inside()})
	}
	t.Columns = append(t.Columns, column{Title: said.Say("head_quality"), Words: true})
	for i := range a.Reps {
		r := &a.Reps[i]
		of, ok := p.Comparison.ConditionOf(clip, r.Tempo)
		name := Cell{Text: said.Say("rep_of", "rep", r.Number, "of", of.Words)}
		if !ok {
			name.Text = said.Say("rep_not_compared", "rep", r.Number, "of", said.TempoWord(r.Tempo))
		}
		if r.Partial {
			name.Text = said.Say("rep_not_whole", "rep", name.Text)
		}
		if !math.IsNaN(r.BottomS) {
			bottom := said.Decimal(r.BottomS, 2) + " s"
			if r.TimeSDS.BottomS > 0 {
				bottom = said.Decimal(r.BottomS, 2) + " ± " + said.Decimal(screening.Half95(r.TimeSDS.BottomS), 2) + " s"
			}
			name.Under = []string{bottom}
		}
		row := []Cell{name}
		for _, j := range joints {
			m := &r.Angles[j.Angle()]
			c := Cell{Text: said.Degrees(m.ROMDeg), Under: under(said.IntervalOrNone(m.ROMInterval95Deg))}
			if !math.IsNaN(m.AtBottomDeg) {
				c.Under = append(c.Under, said.Say("cell_bottom", "turn", a.Movement.Turn,
					"deg", said.BottomDegrees(m.AtBottomDeg, m.ZeroKnown)))
			}
			row = append(row, c)
		}
		grade := missingCell
		if r.Quality.Grade != "" {
			grade = Cell{Text: said.GradeWord(r.Quality.Grade), Badge: string(r.Quality.Grade)}
		}
		t.Rows = append(t.Rows, append(row, grade))
	}
	return t
}

// viewWords says how the camera looked at the athlete.
func viewWords(v *screening.View) string {
	var parts []string
	switch {
	case math.IsNaN(v.YawDeg):
		parts = append(parts, said.Say("view_unknown"))
	case math.IsNaN(v.SDDeg):
		parts = append(parts, said.Say("view_yaw", "deg", math.Abs(v.YawDeg)))
	default:
		parts = append(parts, said.Say("view_yaw_within", "deg", math.Abs(v.YawDeg), "half", screening.Half95(v.SDDeg)))
	}
	source := words.Or("report.roll_source."+string(v.RollSource), "")
	switch roll := v.RollDeg; {
	case source == "" || math.IsNaN(roll):
		parts = append(parts, said.Say("roll_unknown"))
	case math.Abs(roll) < 0.5:
		parts = append(parts, said.Say("roll_none", "source", source))
	case roll < 0:
		parts = append(parts, said.Say("roll", "form", "anticlockwise", "deg", -roll, "source", source))
	default:
		parts = append(parts, said.Say("roll", "form", "clockwise", "deg", roll, "source", source))
	}
	switch {
	case !v.CameraKnown:
		parts = append(parts, said.Say("camera_unknown"))
	case v.CameraMoved:
		parts = append(parts, said.Say("camera_moved", "px", v.CameraMotionPx))
	default:
		parts = append(parts, said.Say("camera_still"))
	}
	return said.Say("view", "parts", parts)
}

// trust is the section on how to read the numbers and how far to believe them.
func (p *Material) trust() Section {
	list := []string{said.Say("trust_numbers"), said.Say("trust_interval"),
		said.Say("trust_smallest", "deg", p.Comparison.SmallestChangeDeg)}
	if own := said.OwnSmallestChange(p.Comparison); own != "" {
		list = append(list, said.Say("trust_own", "own", own))
	}
	list = append(list, said.Say("trust_flat"), said.Say("trust_tracking"))
	if len(p.Comparison.Ladder.Rungs) > 0 {
		list = append(list, said.Say("trust_estimated"))
	}
	return Section{ID: "trust", Title: said.Say("trust"), Blocks: []Block{{List: append(list, p.facts()...)}}}
}

// facts are the sentences on how these numbers came about.
func (p *Material) facts() []string {
	var out []string
	for _, a := range p.Comparison.Analyses {
		if a == nil {
			continue
		}
		partial := 0
		for i := range a.Reps {
			if a.Reps[i].Partial {
				partial++
			}
		}
		reps := said.Say("fact_reps", "n", len(a.Reps))
		if partial > 0 {
			reps = said.Say("fact_partial", "reps", reps, "n", partial)
		}
		facts := []string{movements.Name(a.Shows().Key), reps}
		rate := a.Clip.CaptureRateHz
		switch {
		case rate > 0 && a.Clip.VariableRate:
			facts = append(facts, said.Say("fact_varying_rate", "rate", rate))
		case rate > 0:
			facts = append(facts, said.Say("fact_rate", "rate", rate))
		}
		facts = append(facts, said.Say("fact_side", "form", a.NearSide))
		switch {
		case !a.OnItsFeet():
		case a.Series.FootByPicture():
			facts = append(facts, said.Say("fact_foot_picture"))
		default:
			facts = append(facts, said.Say("fact_foot_points"))
		}
		if share := a.Series.FilledShare(); share >= 0.005 {
			facts = append(facts, said.Say("fact_filled", "pct", share*100))
		}
		if !a.Series.StandFound {
			facts = append(facts, said.Say("fact_no_stand"))
		}
		out = append(out, said.Say("facts", "clip", a.Clip.Name, "facts", facts))
	}
	return out
}

func dataURL(kind string, b []byte) template.URL {
	return template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(b))
}

// intervalChart draws the change of each joint as a sign with its 95 % interval over a
// band of changes too small to matter at that joint; nil when nothing is known.
func intervalChart(p *kinematics.Pair, joints []said.Joint, smallestDeg float64) *chart.Drawing {
	lo, hi := -10.0, 10.0
	known := false
	for _, j := range joints {
		ch := &p.Joints[j]
		for _, v := range []float64{ch.LostDeg, ch.Interval95Deg[0], ch.Interval95Deg[1]} {
			known = known || !math.IsNaN(v)
			lo, hi = chart.MinMax(lo, hi, v)
		}
	}
	if !known {
		return nil
	}
	step := 5.0
	for (hi-lo)/step > 8 {
		step *= 2
	}
	lo, hi = math.Floor(lo/step)*step, math.Ceil(hi/step)*step
	const left, right, rowH, top = 62.0, 348.0, 30.0, 22.0
	bottom := top + float64(len(joints))*rowH
	d := &chart.Drawing{WidthPt: 360, HeightPt: bottom + 36, Alt: said.Say("interval_alt")}
	x := func(v float64) float64 { return left + (v-lo)/(hi-lo)*(right-left) }
	for k := range joints {
		if s := smallestDeg; s > 0 {
			from, to := math.Max(lo, -s), math.Min(hi, s)
			d.Rect(chart.BandInk, 0, x(from), top+rowH*float64(k), x(to)-x(from), rowH)
		}
	}
	for v := lo; v <= hi+1e-9; v += step {
		col := chart.GridInk
		if math.Abs(v) < 1e-9 {
			col = chart.MainInk
		}
		d.Line(col, 0.8, nil, plane.XY{X: x(v), Y: top}, plane.XY{X: x(v), Y: bottom})
		d.Words(chart.SoftInk, chart.TickSize, 0.5, x(v), bottom+13, said.Degrees(v))
	}
	d.Words(chart.SoftInk, chart.TickSize, 1, x(0)-6, top-8, said.Say("gained_arrow"))
	d.Words(chart.SoftInk, chart.TickSize, 0, x(0)+6, top-8, said.Say("lost_arrow"))
	for k, j := range joints {
		ch := &p.Joints[j]
		y := top + rowH*(float64(k)+0.5)
		d.Words(chart.MainInk, 14, 0, 2, y+4.5, j.Name()).Bold = true
		if math.IsNaN(ch.LostDeg) {
			continue
		}
		if !math.IsNaN(ch.Interval95Deg[0]) && !math.IsNaN(ch.Interval95Deg[1]) {
			x0, x1 := x(ch.Interval95Deg[0]), x(ch.Interval95Deg[1])
			d.Line(chart.MainInk, 2, nil, plane.XY{X: x0, Y: y}, plane.XY{X: x1, Y: y})
			for _, end := range []float64{x0, x1} {
				d.Line(chart.MainInk, 2, nil, plane.XY{X: end, Y: y - 5}, plane.XY{X: end, Y: y + 5})
			}
		}
		d.Sign(chart.JointShape(j), x(ch.LostDeg), y, 5.5, chart.AccentInk, chart.MainInk)
	}
	d.Words(chart.MainInk, chart.TickSize, 0.5, (left+right)/2, bottom+29, said.Say("interval_axis"))
	return d
}
