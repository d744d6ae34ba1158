package report

import (
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"math"
	"strings"
	"unicode/utf8"

	"holdfast/kinematics"
	"holdfast/screening"
	"holdfast/vision"
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

// page makes the coach's and the athlete's page of a comparison.
type page struct {
	c        *screening.Comparison
	date     string
	curves   *drawing // every rep; nil: none
	pairs    []shownPair
	shots    shots
	warnings []screening.Warning
}

// warn adds warnings that are not there yet.
func (p *page) warn(ws ...screening.Warning) {
	for _, w := range ws {
		known := false
		for _, old := range p.warnings {
			known = known || screening.Say(old) == screening.Say(w)
		}
		if !known {
			p.warnings = append(p.warnings, w)
		}
	}
}

// sheet puts the coach's page together.
func (p *page) sheet() *sheet {
	c := p.c
	s := &sheet{Title: say("title"), Athlete: c.Athlete, Date: p.date, Footer: p.footer(),
		Nothing: say("nothing"), Explained: say("headline_explained")}
	if !c.ByTempo() {
		s.Title = say("title_sides", "tempo", c.Tempo)
	}
	for _, clip := range c.Clips {
		s.Clips = append(s.Clips, clip.Name)
	}
	for _, h := range Headlines(c) {
		s.Headlines = append(s.Headlines, headline{h.Name, h.Text, string(h.Verdict), VerdictWord(h.Verdict)})
	}
	warnings := p.heed(s)
	s.add(p.ladder())
	for i := range c.Pairs {
		s.add(p.pair(i))
	}
	s.add(p.landing())
	s.add(p.foot())
	s.add(p.jumps())
	s.add(p.coordination())
	s.add(p.coupling())
	s.add(p.consistency())
	s.add(p.reps())
	s.add(warnings)
	s.add(p.trust())
	s.add(care())
	return s
}

// heed makes the section of warnings and the line at the top that points to it.
func (p *page) heed(s *sheet) section {
	warnings := section{ID: "warnings", Title: say("warnings")}
	for _, w := range p.warnings {
		if s := screening.Say(w); s != "" {
			warnings.Blocks = append(warnings.Blocks, block{Note: s})
		}
	}
	if n := len(warnings.Blocks); n > 0 {
		s.Heed = say("heed", "n", n)
	}
	return warnings
}

// care are the usual cautions of the trade; common practice, no source.
func care() section {
	return section{ID: "care", Title: say("care"), Blocks: []block{{Care: true, List: []string{
		say("care_aid"), say("care_stop"), say("care_warm_up"), say("care_clearance")}}}}
}

func (p *page) footer() string {
	parts := []string{p.c.Program}
	for i := len(p.c.Analyses) - 1; i >= 0; i-- {
		a := p.c.Analyses[i]
		if a == nil {
			continue
		}
		if a.Model.Name != "" {
			parts = append(parts, say("footer_network", "network", a.Model.Name))
		}
		if a.MassModel != "" {
			parts = append(parts, say("footer_masses", "masses", a.MassModel))
		}
		if a.Series.AngleConventions != "" {
			parts = append(parts, say("footer_angles", "angles", words.Or("conventions."+a.Series.AngleConventions, a.Series.AngleConventions)))
		}
		break
	}
	return strings.Join(parts, " · ")
}

// pair is the section of range of motion kept and lost between two conditions.
func (p *page) pair(i int) section {
	pair := &p.c.Pairs[i]
	easier, harder := p.c.Word(pair.Baseline), p.c.Word(pair.Challenge)
	sec := section{ID: fmt.Sprintf("pair%d", i+1), Title: say("pair", "easier", easier, "harder", harder)}
	t := &table{Columns: []column{{Title: say("head_joint")}, {Title: easier}, {Title: harder}, {Title: say("head_lost")},
		{Title: say("head_retained"), Spare: true}, {Title: say("head_at_bottom"), Spare: true}, {Title: say("head_reps"), Spare: true}, {Title: say("head_verdict"), Words: true}}}
	for j := range numJoints {
		ch := &pair.Joints[j]
		retained := missingCell
		if !math.IsNaN(ch.RetainedPct) {
			retained = plain("%s %%", whole(ch.RetainedPct))
		}
		t.Rows = append(t.Rows, []cell{{Text: j.name()},
			{Text: degrees(ch.BaselineROMDeg), Under: under(intervalOrNone(ch.BaselineInterval95Deg))},
			{Text: degrees(ch.ChallengeROMDeg), Under: under(intervalOrNone(ch.ChallengeInterval95Deg))},
			{Text: degrees(ch.LostDeg), Bold: true, Under: under(interval(ch.Interval95Deg[0], ch.Interval95Deg[1]))},
			retained,
			plain("%s → %s", bottomDegrees(ch.BaselineBottomDeg, ch.BaselineZeroKnown), bottomDegrees(ch.ChallengeBottomDeg, ch.ChallengeZeroKnown)),
			cell{Text: say("reps_and", "a", ch.BaselineReps, "b", ch.ChallengeReps)},
			{Text: VerdictWord(ch.Verdict), Badge: string(ch.Verdict)},
		})
	}
	sec.Blocks = append(sec.Blocks, block{Table: t})
	if ch := &pair.Joints[knee]; !ch.BaselineZeroKnown || !ch.ChallengeZeroKnown {
		sec.Blocks = append(sec.Blocks, block{Small: true, Text: NoZero()})
	}
	if d := intervalChart(pair, p.c.SmallestChangeDeg); d != nil {
		sec.Blocks = append(sec.Blocks, block{Pictures: []figure{{Drawing: d}}, Across: 1})
	}
	if i < len(p.pairs) && p.pairs[i].overlay != nil {
		s := &p.pairs[i]
		both := figure{JPEG: s.both, Alt: say("both_alt", "easier", easier, "harder", harder),
			Caption: say("both_caption", "easier", easier)}
		if s.video != "" {
			both.Link, both.LinkWords = s.video, say("video")
		}
		sec.Blocks = append(sec.Blocks, block{Across: 2, Pictures: []figure{both, {JPEG: s.overlay,
			Alt:     say("overlay_alt", "easier", easier, "harder", harder),
			Caption: say("overlay_caption", "easier", easier, "harder", harder)}}})
	}
	return sec
}

// knownInterval says whether an interval was measured. In results of before
// intervals were kept, both ends are 0.
func knownInterval(v [2]float64) bool {
	return !math.IsNaN(v[0]) && !math.IsNaN(v[1]) && v[0] != v[1]
}

// intervalOrNone writes an interval, empty when it was not measured.
func intervalOrNone(v [2]float64) string {
	if !knownInterval(v) {
		return ""
	}
	return interval(v[0], v[1])
}

// reps is the section of all reps of each clip.
func (p *page) reps() section {
	sec := section{ID: "reps", Title: say("reps")}
	for clip, a := range p.c.Analyses {
		if a == nil || len(a.Reps) == 0 {
			continue
		}
		sec.Blocks = append(sec.Blocks, block{Heading: a.Clip.Name}, block{Small: true, Text: viewWords(&a.View)}, block{Table: p.repTable(clip)})
		if hasNoZero(a) {
			sec.Blocks = append(sec.Blocks, block{Small: true, Text: NoZero()})
		}
		if advice := Advice(a); len(advice) > 0 {
			sec.Blocks = append(sec.Blocks, block{Text: say("next_time")}, block{List: advice})
		}
	}
	if len(sec.Blocks) > 0 {
		sec.Blocks = append([]block{{Small: true, Text: say("reps_explained")}}, sec.Blocks...)
	}
	return sec
}

// repTable is the table of all reps of a clip.
func (p *page) repTable(clip int) *table {
	a := p.c.Analyses[clip]
	joints := []joint{knee, hip, ankle}
	t := &table{Columns: []column{{Title: say("head_rep")}}}
	for _, j := range joints {
		t.Columns = append(t.Columns, column{Title: j.inside()})
	}
	t.Columns = append(t.Columns, column{Title: say("head_quality"), Words: true})
	for i := range a.Reps {
		r := &a.Reps[i]
		of, ok := p.c.ConditionOf(clip, r.Tempo)
		name := cell{Text: say("rep_of", "rep", r.Number, "of", of.Words)}
		if !ok {
			name.Text = say("rep_not_compared", "rep", r.Number, "of", tempoWord(r.Tempo))
		}
		if r.Partial {
			name.Text = say("rep_not_whole", "rep", name.Text)
		}
		if !math.IsNaN(r.BottomS) {
			bottom := decimal(r.BottomS, 2) + " s"
			if r.TimeSDS.BottomS > 0 {
				bottom = decimal(r.BottomS, 2) + " ± " + decimal(screening.Half95(r.TimeSDS.BottomS), 2) + " s"
			}
			name.Under = []string{bottom}
		}
		row := []cell{name}
		for _, j := range joints {
			m := &r.Angles[j.angle()]
			c := cell{Text: degrees(m.ROMDeg), Under: under(intervalOrNone(m.ROMInterval95Deg))}
			if !math.IsNaN(m.AtBottomDeg) {
				c.Under = append(c.Under, say("cell_bottom", "deg", bottomDegrees(m.AtBottomDeg, m.ZeroKnown)))
			}
			row = append(row, c)
		}
		grade := missingCell
		if r.Quality.Grade != "" {
			grade = cell{Text: GradeWord(r.Quality.Grade), Badge: string(r.Quality.Grade)}
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
		parts = append(parts, say("view_unknown"))
	case math.IsNaN(v.SDDeg):
		parts = append(parts, say("view_yaw", "deg", math.Abs(v.YawDeg)))
	default:
		parts = append(parts, say("view_yaw_within", "deg", math.Abs(v.YawDeg), "half", screening.Half95(v.SDDeg)))
	}
	source := words.Or("report.roll_source."+string(v.RollSource), "")
	switch roll := v.RollDeg; {
	case source == "" || math.IsNaN(roll):
		parts = append(parts, say("roll_unknown"))
	case math.Abs(roll) < 0.5:
		parts = append(parts, say("roll_none", "source", source))
	case roll < 0:
		parts = append(parts, say("roll", "form", "anticlockwise", "deg", -roll, "source", source))
	default:
		parts = append(parts, say("roll", "form", "clockwise", "deg", roll, "source", source))
	}
	switch {
	case !v.CameraKnown:
		parts = append(parts, say("camera_unknown"))
	case v.CameraMoved:
		parts = append(parts, say("camera_moved", "px", v.CameraMotionPx))
	default:
		parts = append(parts, say("camera_still"))
	}
	return say("view", "parts", parts)
}

// trust is the section on how to read the numbers and how far to believe them.
func (p *page) trust() section {
	list := []string{say("trust_numbers"), say("trust_interval"), say("trust_smallest", "deg", p.c.SmallestChangeDeg)}
	if own := OwnSmallestChange(p.c); own != "" {
		list = append(list, say("trust_own", "own", own))
	}
	list = append(list, say("trust_flat"), say("trust_tracking"))
	if len(p.c.Ladder.Rungs) > 0 {
		list = append(list, say("trust_estimated"))
	}
	return section{ID: "trust", Title: say("trust"), Blocks: []block{{List: append(list, p.facts()...)}}}
}

// facts are the sentences on how these numbers came about.
func (p *page) facts() []string {
	var out []string
	for _, a := range p.c.Analyses {
		if a == nil {
			continue
		}
		partial := 0
		for i := range a.Reps {
			if a.Reps[i].Partial {
				partial++
			}
		}
		reps := say("fact_reps", "n", len(a.Reps))
		if partial > 0 {
			reps = say("fact_partial", "reps", reps, "n", partial)
		}
		facts := []string{reps}
		rate := a.Clip.CaptureRateHz
		switch {
		case rate > 0 && a.Clip.VariableRate:
			facts = append(facts, say("fact_varying_rate", "rate", rate))
		case rate > 0:
			facts = append(facts, say("fact_rate", "rate", rate))
		}
		facts = append(facts, say("fact_side", "form", a.NearSide))
		if a.Series.FootByPicture() {
			facts = append(facts, say("fact_foot_picture"))
		} else {
			facts = append(facts, say("fact_foot_points"))
		}
		if share := a.Series.FilledShare(); share >= 0.005 {
			facts = append(facts, say("fact_filled", "pct", share*100))
		}
		if !a.Series.StandFound {
			facts = append(facts, say("fact_no_stand"))
		}
		out = append(out, say("facts", "clip", a.Clip.Name, "facts", facts))
	}
	return out
}

func dataURL(kind string, b []byte) template.URL {
	return template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(b))
}

// intervalChart draws the change of each joint as a sign with its 95 % interval over a
// band of changes too small to matter at that joint; nil when nothing is known.
func intervalChart(p *kinematics.Pair, smallestDeg float64) *drawing {
	lo, hi := -10.0, 10.0
	known := false
	for j := range numJoints {
		ch := &p.Joints[j]
		for _, v := range []float64{ch.LostDeg, ch.Interval95Deg[0], ch.Interval95Deg[1]} {
			known = known || !math.IsNaN(v)
			lo, hi = minMax(lo, hi, v)
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
	bottom := top + 3*rowH
	d := &drawing{w: 360, h: bottom + 36, alt: say("interval_alt")}
	x := func(v float64) float64 { return left + (v-lo)/(hi-lo)*(right-left) }
	for j := range numJoints {
		if s := smallestDeg; s > 0 {
			from, to := math.Max(lo, -s), math.Min(hi, s)
			d.rect(bandInk, 0, x(from), top+rowH*float64(j), x(to)-x(from), rowH)
		}
	}
	for v := lo; v <= hi+1e-9; v += step {
		col := gridInk
		if math.Abs(v) < 1e-9 {
			col = mainInk
		}
		d.line(col, 0.8, nil, vision.XY{X: x(v), Y: top}, vision.XY{X: x(v), Y: bottom})
		d.words(softInk, tickSize, 0.5, x(v), bottom+13, degrees(v))
	}
	d.words(softInk, tickSize, 1, x(0)-6, top-8, say("gained_arrow"))
	d.words(softInk, tickSize, 0, x(0)+6, top-8, say("lost_arrow"))
	for j := range numJoints {
		ch := &p.Joints[j]
		y := top + rowH*(float64(j)+0.5)
		d.words(mainInk, 14, 0, 2, y+4.5, j.name()).bold = true
		if math.IsNaN(ch.LostDeg) {
			continue
		}
		if !math.IsNaN(ch.Interval95Deg[0]) && !math.IsNaN(ch.Interval95Deg[1]) {
			x0, x1 := x(ch.Interval95Deg[0]), x(ch.Interval95Deg[1])
			d.line(mainInk, 2, nil, vision.XY{X: x0, Y: y}, vision.XY{X: x1, Y: y})
			for _, end := range []float64{x0, x1} {
				d.line(mainInk, 2, nil, vision.XY{X: end, Y: y - 5}, vision.XY{X: end, Y: y + 5})
			}
		}
		d.sign(jointShape(j), x(ch.LostDeg), y, 5.5, accentInk, mainInk)
	}
	d.words(mainInk, tickSize, 0.5, (left+right)/2, bottom+29, say("interval_axis"))
	return d
}
