package report

import (
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
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
	c         *screening.Comparison
	opt       Options
	curves    []byte // SVG
	curvesPNG []byte
	pairs     []shownPair
	shots     shots
	warnings  []screening.Warning
}

// write writes report.html.
func (p *page) write(w io.Writer) error {
	b, err := p.sheet().html()
	if err != nil {
		return err
	}
	_, err = w.Write(b)
	return err
}

// sheet puts the coach's page together.
func (p *page) sheet() *sheet {
	c := p.c
	s := &sheet{Title: "Range of motion under speed", Athlete: c.Athlete, Date: p.opt.Date, Footer: p.footer(),
		Nothing: "There is no pair of tempos to compare."}
	if !c.ByTempo() {
		s.Title = "Range of motion compared, " + c.Tempo + " reps"
	}
	for _, clip := range c.Clips {
		s.Clips = append(s.Clips, clip.Name)
	}
	if i := headlinePair(c); i >= 0 {
		for k, words := range Sentences(c) {
			name, rest, _ := strings.Cut(words, ": ")
			s.Headlines = append(s.Headlines, headline{name, rest, string(c.Pairs[i].Joints[k].Verdict)})
		}
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
	warnings := section{ID: "warnings", Title: "Warnings"}
	for _, w := range p.warnings {
		if s := screening.Say(w); s != "" {
			warnings.Blocks = append(warnings.Blocks, block{Note: s})
		}
	}
	if n := len(warnings.Blocks); n == 1 {
		s.Heed = "Read the warning below first."
	} else if n > 1 {
		s.Heed = fmt.Sprintf("Read the %d warnings below first.", n)
	}
	return warnings
}

func care() section {
	return section{ID: "care", Title: "Take care", Blocks: []block{{Care: true, List: cautions}}}
}

// cautions are the usual ones of the trade; common practice, no source.
var cautions = []string{
	"This is an aid for coaching. It is not a diagnosis and not a medical device, and it does not predict injury.",
	"Stop on pain, dizziness or a feeling of giving way.",
	"Warm up; jump only on a dry, level floor with clear space around the landing.",
	"No jumps after a recent injury or operation, or in pregnancy, without clearance. Pain, injury and return to sport belong to licensed practice: its judgement stands above these numbers.",
}

func (p *page) footer() string {
	parts := []string{p.c.Program}
	for i := len(p.c.Analyses) - 1; i >= 0; i-- {
		a := p.c.Analyses[i]
		if a == nil {
			continue
		}
		if a.Model.Name != "" {
			parts = append(parts, "network: "+a.Model.Name)
		}
		if a.MassModel != "" {
			parts = append(parts, "masses: "+a.MassModel)
		}
		if a.Series.AngleConventions != "" {
			parts = append(parts, "angles: "+words.Or("conventions."+a.Series.AngleConventions, a.Series.AngleConventions))
		}
		break
	}
	return strings.Join(parts, " · ")
}

// pair is the section of range of motion kept and lost between two conditions.
func (p *page) pair(i int) section {
	pair := &p.c.Pairs[i]
	easier, harder := p.c.Word(pair.Baseline), p.c.Word(pair.Challenge)
	sec := section{ID: fmt.Sprintf("pair%d", i+1), Title: fmt.Sprintf("Range of motion: %s against %s", easier, harder)}
	t := &table{Columns: []column{{Title: "joint"}, {Title: easier}, {Title: harder}, {Title: "lost"},
		{Title: "retained", Spare: true}, {Title: "at the bottom", Spare: true}, {Title: "reps", Spare: true}, {Title: "verdict", Words: true}}}
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
			plain("%d and %d", ch.BaselineReps, ch.ChallengeReps),
			{Text: string(ch.Verdict), Badge: string(ch.Verdict)},
		})
	}
	sec.Blocks = append(sec.Blocks, block{Table: t})
	if ch := &pair.Joints[knee]; !ch.BaselineZeroKnown || !ch.ChallengeZeroKnown {
		sec.Blocks = append(sec.Blocks, block{Small: true, Text: NoZero})
	}
	if d := intervalChart(pair, p.c.SmallestChangeDeg); d != nil {
		sec.Blocks = append(sec.Blocks, block{Pictures: []figure{{Drawing: d}}, Across: 1})
	}
	if i < len(p.pairs) && p.pairs[i].overlay != nil {
		s := &p.pairs[i]
		both := figure{JPEG: s.both, Alt: fmt.Sprintf("The bottom of a %s rep beside the bottom of a %s rep, same body size, with the angle at each joint.", easier, harder),
			Caption: fmt.Sprintf("The most typical rep of each at its bottom, in the same body size. Dashed lines: the %s rep.", easier)}
		if s.video != "" {
			both.Link, both.LinkWords = s.video, "Video"
		}
		sec.Blocks = append(sec.Blocks, block{Across: 2, Pictures: []figure{both, {JPEG: s.overlay,
			Alt:     fmt.Sprintf("The bottom of a %s rep and of a %s rep laid over each other at the ankle.", easier, harder),
			Caption: fmt.Sprintf("Both bottoms over each other at the ankle. Unbroken: %s; dashed: %s.", easier, harder)}}})
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
	sec := section{ID: "reps", Title: "Reps"}
	for clip, a := range p.c.Analyses {
		if a == nil || len(a.Reps) == 0 {
			continue
		}
		sec.Blocks = append(sec.Blocks, block{Heading: a.Clip.Name}, block{Small: true, Text: viewWords(&a.View)}, block{Table: p.repTable(clip)})
		if hasNoZero(a) {
			sec.Blocks = append(sec.Blocks, block{Small: true, Text: NoZero})
		}
		if advice := Advice(a); len(advice) > 0 {
			sec.Blocks = append(sec.Blocks, block{Text: "Next time:"}, block{List: advice})
		}
	}
	if len(sec.Blocks) > 0 {
		sec.Blocks = append([]block{{Small: true, Text: "Range of motion of every rep; beneath each number its 95 % interval and the angle at the bottom, and beneath each rep the time of its bottom. " +
			"The grade says how well the clip shows the rep: good, fair or poor."}}, sec.Blocks...)
	}
	return sec
}

// repTable is the table of all reps of a clip.
func (p *page) repTable(clip int) *table {
	a := p.c.Analyses[clip]
	joints := []joint{knee, hip, ankle}
	t := &table{Columns: []column{{Title: "rep"}}}
	for _, j := range joints {
		t.Columns = append(t.Columns, column{Title: j.landmark()})
	}
	t.Columns = append(t.Columns, column{Title: "quality", Words: true})
	for i := range a.Reps {
		r := &a.Reps[i]
		of, ok := p.c.ConditionOf(clip, r.Tempo)
		name := cell{Text: fmt.Sprintf("%d %s", r.Number, of.Words)}
		if !ok {
			name.Text = fmt.Sprintf("%d %s, not compared", r.Number, r.Tempo)
		}
		if r.Partial {
			name.Text += ", not whole"
		}
		if !math.IsNaN(r.BottomS) {
			bottom := fmt.Sprintf("%.2f s", r.BottomS)
			if r.TimeSDS.BottomS > 0 {
				bottom = fmt.Sprintf("%.2f ± %.2f s", r.BottomS, screening.Half95(r.TimeSDS.BottomS))
			}
			name.Under = []string{bottom}
		}
		row := []cell{name}
		for _, j := range joints {
			m := &r.Angles[j.angle()]
			c := cell{Text: degrees(m.ROMDeg), Under: under(intervalOrNone(m.ROMInterval95Deg))}
			if !math.IsNaN(m.AtBottomDeg) {
				c.Under = append(c.Under, "bottom "+bottomDegrees(m.AtBottomDeg, m.ZeroKnown))
			}
			row = append(row, c)
		}
		grade := missingCell
		if r.Quality.Grade != "" {
			grade = cell{Text: string(r.Quality.Grade), Badge: string(r.Quality.Grade)}
		}
		t.Rows = append(t.Rows, append(row, grade))
	}
	return t
}

// viewWords says how the camera looked at the athlete.
func viewWords(v *screening.View) string {
	var parts []string
	if math.IsNaN(v.YawDeg) {
		parts = append(parts, "How far the camera stood from side-on is not known")
	} else {
		s := fmt.Sprintf("Camera %s", degrees(math.Abs(v.YawDeg)))
		if !math.IsNaN(v.SDDeg) {
			s += fmt.Sprintf(" ± %s", degrees(screening.Half95(v.SDDeg)))
		}
		parts = append(parts, s+" from side-on")
	}
	source, known := map[string]string{
		"lines": "from lines in the background", "flight": "from the flight of a jump", "given": "as given",
	}[v.RollSource]
	switch roll := v.RollDeg; {
	case !known || math.IsNaN(roll):
		parts = append(parts, "phone taken to be upright")
	case math.Abs(roll) < 0.5:
		parts = append(parts, "phone upright ("+source+")")
	default:
		way := "clockwise"
		if roll < 0 {
			way = "anticlockwise"
		}
		parts = append(parts, fmt.Sprintf("phone's picture turned %s %s (%s), which is taken out", degrees(math.Abs(roll)), way, source))
	}
	switch {
	case !v.CameraKnown:
		parts = append(parts, "the background does not show whether the camera moved")
	case v.CameraMoved:
		parts = append(parts, fmt.Sprintf("the camera moved by up to %.0f pixels, which is taken out", v.CameraMotionPx))
	default:
		parts = append(parts, "the camera stood still")
	}
	return strings.Join(parts, "; ") + "."
}

// trust is the section on how to read the numbers and how far to believe them.
func (p *page) trust() section {
	list := []string{
		"Numbers are whole degrees; in brackets, and in the tables beneath each number, stands the 95 % interval. The difference is taken before rounding.",
		"The 95 % interval of a change joins the spread from rep to rep and that part of the network's error that differs between positions; that of a single angle also holds the error that is the same in every rep, which cancels in a change. More reps make the interval of a change narrower.",
		fmt.Sprintf("The smallest change that matters is here %s. “Lost” means at least that much less, with an interval wholly above 0, so that chance alone did not make it; “gained”, the same the other way; “held”, that the whole interval lies inside that change either way (the grey band); “unclear”, all else. Unclear is not “nothing lost”.", degrees(p.c.SmallestChangeDeg)),
	}
	if own := OwnSmallestChange(p.c); own != "" {
		list = append(list, own+" It comes from the same test filmed twice, and nothing smaller is called lost or gained. Three reps tell it only to about 40 % of itself.")
	}
	list = append(list,
		"One camera sees a flat picture. A knee at 105° reads 1° too small when the camera stands 10° off the side-on view, and 7° too small at 30° (computed from the geometry). Keep camera, side, clothes and shoes the same in all clips.",
		"Such tracking, held against marker-based systems in running, was off by about 6° at the hip, 8° at the knee and 6° at the ankle (root mean square; Van Hooren et al. 2023). An error that is the same in all clips cancels in the difference between tempos, not in the angle itself: trust “lost” more than the single angles.")
	if len(p.c.Ladder.Rungs) > 0 {
		list = append(list, "Support point, centre of mass and jump height are estimated from the picture and a table of segment masses. They are good for one athlete against himself or herself, less for one athlete against another.")
	}
	return section{ID: "trust", Title: "How to read the numbers, and how far to trust them", Blocks: []block{{List: append(list, p.facts()...)}}}
}

// facts are the sentences on how these numbers came about.
func (p *page) facts() []string {
	var out []string
	for _, a := range p.c.Analyses {
		if a == nil {
			continue
		}
		reps := fmt.Sprintf("%d reps", len(a.Reps))
		if len(a.Reps) == 1 {
			reps = "1 rep"
		}
		partial := 0
		for i := range a.Reps {
			if a.Reps[i].Partial {
				partial++
			}
		}
		if partial > 0 {
			reps += fmt.Sprintf(" (%d not whole, left out)", partial)
		}
		s := fmt.Sprintf("%s: %s", a.Clip.Name, reps)
		if rate := a.Clip.CaptureRateHz; rate > 0 {
			s += fmt.Sprintf(", filmed at %.0f pictures a second", rate)
		}
		if a.Clip.VariableRate {
			s += " at a varying rate"
		}
		s += fmt.Sprintf(", %s side to the camera", a.NearSide)
		if a.Series.FootByPicture() {
			s += ", foot angle read from the picture of the shoe"
		} else {
			s += ", foot angle worked out from heel and ankle"
		}
		if share := a.Series.FilledShare(); share >= 0.005 {
			s += fmt.Sprintf(", %.0f %% of the time filled in", share*100)
		}
		if !a.Series.StandFound {
			s += ", no quiet standing found, so that the angles keep the network's own zero"
		}
		out = append(out, s+".")
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
	d := &drawing{w: 360, h: bottom + 36, alt: "Change of range of motion by joint with its 95 % interval."}
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
	d.words(softInk, tickSize, 1, x(0)-6, top-8, "gained ←")
	d.words(softInk, tickSize, 0, x(0)+6, top-8, "→ lost")
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
	d.words(mainInk, tickSize, 0.5, (left+right)/2, bottom+29, "change of range of motion, degrees")
	return d
}
