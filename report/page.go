package report

import (
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"

	"holdfast/screening"
)

//go:embed page.html
var pageText string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// page is report.html: one file that needs nothing else, to read on a phone or
// print.
type page struct {
	c        *screening.Comparison
	opt      Options
	curves   []byte
	pairs    []shownPair
	warnings []screening.Warning
}

// The parts of the page as the template reads them.
type (
	pageData struct {
		Athlete, Date, Program, Model string
		Clips                         []string
		Headlines                     []headline
		Pairs                         []pagePair
		Reps                          []pageClip
		Curves                        template.URL
		Warnings                      []string
		SmallestChange, OwnChange     string
		Facts                         []string
		Conventions                   string
	}
	headline struct{ Joint, Rest, Verdict string }
	pagePair struct {
		Title, Baseline, Challenge string
		Rows                       []pageRow
		Chart                      template.HTML
		Overlay, Both              template.URL
		OverlayAlt, BothAlt, Video string
	}
	pageRow struct {
		Joint, Retained, Verdict, Bottom, Reps string
		Baseline, Challenge, Change            withInterval
	}
	// pageClip is a clip with all its reps.
	pageClip struct {
		Name, View string
		Rows       []pageRep
		Advice     []string
	}
	pageRep struct {
		Rep, Tempo, Bottom, Grade string
		Knee, Hip, Ankle          withInterval
	}
	// withInterval is a number and its 95 % interval, which is empty when it is not
	// known.
	withInterval struct{ Value, Interval string }
)

func (p *page) write(w io.Writer) error {
	c := p.c
	d := pageData{
		Athlete: c.Athlete, Date: p.opt.Date, Program: c.Program,
		SmallestChange: degrees(float64(c.SmallestChangeDeg)), OwnChange: OwnSmallestChange(c),
		Facts: p.facts(),
	}
	for _, clip := range c.Clips {
		d.Clips = append(d.Clips, clip.Name)
	}
	for _, a := range c.Analyses {
		if a != nil {
			d.Model, d.Conventions = a.Model.Name, a.Series.AngleConventions
		}
	}
	if i := headlinePair(c); i >= 0 {
		for k, s := range Sentences(c) {
			name, rest, _ := strings.Cut(s, ": ")
			d.Headlines = append(d.Headlines, headline{name, rest, joint(k).change(&c.Pairs[i].Joints).Verdict})
		}
	}
	if p.curves != nil {
		d.Curves = dataURL("image/svg+xml", p.curves)
	}
	for i := range c.Pairs {
		d.Pairs = append(d.Pairs, p.pair(i))
	}
	for _, a := range c.Analyses {
		if a != nil && len(a.Reps) > 0 {
			d.Reps = append(d.Reps, clipReps(a))
		}
	}
	for _, warning := range p.warnings {
		d.Warnings = append(d.Warnings, warning.Message)
	}
	return pageTemplate.Execute(w, d)
}

func (p *page) pair(i int) pagePair {
	pair := &p.c.Pairs[i]
	out := pagePair{
		Title:    fmt.Sprintf("%s against %s", capital(pair.Baseline), pair.Challenge),
		Baseline: pair.Baseline, Challenge: pair.Challenge,
		Chart: intervalChart(pair, func(j joint) float64 { return smallestChange(p.c, j) }),
		OverlayAlt: fmt.Sprintf("The bottom of a %s rep and of a %s rep laid over each other at the ankle.",
			pair.Baseline, pair.Challenge),
		BothAlt: fmt.Sprintf("The bottom of a %s rep beside the bottom of a %s rep, same body size, with the angle at each joint.",
			pair.Baseline, pair.Challenge),
	}
	for j := range numJoints {
		ch := j.change(&pair.Joints)
		row := pageRow{
			Joint:     j.name(),
			Baseline:  withInterval{degrees(float64(ch.BaselineROMDeg)), p.meanInterval(pair.BaselineClip, pair.Baseline, j)},
			Challenge: withInterval{degrees(float64(ch.ChallengeROMDeg)), p.meanInterval(pair.ChallengeClip, pair.Challenge, j)},
			Change:    withInterval{degrees(float64(ch.LostDeg)), interval(ch.Interval95Deg[0], ch.Interval95Deg[1])},
			Retained:  "–", Verdict: ch.Verdict,
			Bottom: fmt.Sprintf("%s → %s", degrees(float64(ch.BaselineBottomDeg)), degrees(float64(ch.ChallengeBottomDeg))),
			Reps:   fmt.Sprintf("%d and %d", ch.BaselineReps, ch.ChallengeReps),
		}
		if !ch.RetainedPct.Missing() {
			row.Retained = whole(float64(ch.RetainedPct)) + " %"
		}
		out.Rows = append(out.Rows, row)
	}
	if i < len(p.pairs) {
		s := &p.pairs[i]
		if s.overlay != nil {
			out.Overlay, out.Both = dataURL("image/jpeg", s.overlay), dataURL("image/jpeg", s.both)
		}
		out.Video = s.video
	}
	return out
}

// meanInterval returns the 95 % interval of the mean range of one tempo: the means
// of the ends of its reps' intervals. Most of the doubt about an angle is the same
// in every rep, so that a mean is hardly surer than a rep. It is empty when the reps
// do not say.
func (p *page) meanInterval(clip int, tempo string, j joint) string {
	if clip < 0 || clip >= len(p.c.Analyses) || p.c.Analyses[clip] == nil {
		return ""
	}
	mean := func(all bool) (lo, hi, n float64) {
		a := p.c.Analyses[clip]
		for i := range a.Reps {
			r := &a.Reps[i]
			if m := j.measure(&r.Joints); !r.Partial && (all || r.Tempo == tempo) && knownInterval(m.ROMInterval95Deg) {
				lo, hi, n = lo+float64(m.ROMInterval95Deg[0]), hi+float64(m.ROMInterval95Deg[1]), n+1
			}
		}
		return lo / n, hi / n, n
	}
	lo, hi, n := mean(false)
	if n == 0 { // the order of the clips said which tempo is which
		lo, hi, n = mean(true)
	}
	if n == 0 {
		return ""
	}
	return interval(screening.Number(lo), screening.Number(hi))
}

// knownInterval says whether an interval was measured. In results of before
// intervals were kept, both ends are 0.
func knownInterval(v [2]screening.Number) bool {
	return !v[0].Missing() && !v[1].Missing() && v[0] != v[1]
}

// clipReps is the table of all reps of a clip.
func clipReps(a *screening.Analysis) pageClip {
	out := pageClip{Name: a.Clip.Name, View: viewWords(&a.View), Advice: Advice(a)}
	rom := func(r *screening.Rep, j joint) withInterval {
		m := j.measure(&r.Joints)
		w := withInterval{Value: degrees(float64(m.ROMDeg))}
		if knownInterval(m.ROMInterval95Deg) {
			w.Interval = interval(m.ROMInterval95Deg[0], m.ROMInterval95Deg[1])
		}
		return w
	}
	for i := range a.Reps {
		r := &a.Reps[i]
		row := pageRep{Rep: fmt.Sprint(r.Number), Tempo: r.Tempo, Knee: rom(r, knee), Hip: rom(r, hip), Ankle: rom(r, ankle),
			Grade: r.Quality.Grade}
		if r.Partial {
			row.Tempo += ", not whole"
		}
		if !r.BottomS.Missing() {
			row.Bottom = fmt.Sprintf("%.2f s", float64(r.BottomS))
			if sd := float64(r.BottomSDS); sd > 0 {
				row.Bottom = fmt.Sprintf("%.2f ± %.2f s", float64(r.BottomS), half95*sd)
			}
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// half95 times a standard deviation is half of a 95 % interval.
const half95 = 1.96

// viewWords says how the camera looked at the athlete.
func viewWords(v *screening.View) string {
	var parts []string
	if v.YawDeg.Missing() {
		parts = append(parts, "How far the camera stood from side-on is not known")
	} else {
		s := fmt.Sprintf("Camera %s", degrees(math.Abs(float64(v.YawDeg))))
		if !v.YawSDDeg.Missing() {
			s += fmt.Sprintf(" ± %s", degrees(half95*float64(v.YawSDDeg)))
		}
		parts = append(parts, s+" from side-on")
	}
	source, known := map[string]string{
		"lines": "from lines in the background", "flight": "from the flight of a jump", "given": "as given",
	}[v.RollSource]
	switch roll := float64(v.RollDeg); {
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
		parts = append(parts, fmt.Sprintf("the camera moved by up to %.0f pixels, which is taken out", float64(v.CameraMotionPx)))
	default:
		parts = append(parts, "the camera stood still")
	}
	return strings.Join(parts, "; ") + "."
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
		if rate := float64(a.Clip.CaptureRateHz); rate > 0 {
			s += fmt.Sprintf(", filmed at %.0f pictures a second", rate)
		}
		if a.Clip.VariableRate {
			s += " at a varying rate"
		}
		s += fmt.Sprintf(", %s side to the camera", a.NearSide)
		if share := filledShare(a.Series.Filled); share >= 0.005 {
			s += fmt.Sprintf(", %.0f %% of the time filled in", share*100)
		}
		if !a.Series.StandFound {
			s += ", no quiet standing found, so that the angles keep the network's own zero"
		}
		out = append(out, s+".")
	}
	return out
}

func filledShare(flags []bool) float64 {
	if len(flags) == 0 {
		return 0
	}
	n := 0
	for _, f := range flags {
		if f {
			n++
		}
	}
	return float64(n) / float64(len(flags))
}

func dataURL(kind string, b []byte) template.URL {
	return template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(b))
}

// intervalChart draws the change of each joint as a mark with its 95 % interval
// over a band of changes too small to matter at that joint. Everything in it is a number or a
// fixed word, so it needs no escaping.
func intervalChart(p *screening.Pair, smallest func(joint) float64) template.HTML {
	lo, hi := -10.0, 10.0
	known := false
	for j := range numJoints {
		ch := j.change(&p.Joints)
		for _, v := range []float64{float64(ch.LostDeg), float64(ch.Interval95Deg[0]), float64(ch.Interval95Deg[1])} {
			if !math.IsNaN(v) {
				known = true
				lo, hi = math.Min(lo, v), math.Max(hi, v)
			}
		}
	}
	if !known {
		return ""
	}
	step := 5.0
	for (hi-lo)/step > 8 {
		step *= 2
	}
	lo, hi = math.Floor(lo/step)*step, math.Ceil(hi/step)*step
	const left, right, rowH, top = 62.0, 348.0, 30.0, 22.0
	bottom := top + 3*rowH
	x := func(v float64) float64 { return left + (v-lo)/(hi-lo)*(right-left) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="chart" viewBox="0 0 360 %.0f" role="img" aria-label="Change of range of motion by joint with its 95 %% interval">`, bottom+34)
	for j := range numJoints {
		if s := smallest(j); s > 0 {
			from, to := math.Max(lo, -s), math.Min(hi, s)
			fmt.Fprintf(&b, `<rect class="band" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, x(from), top+rowH*float64(j), x(to)-x(from), rowH)
		}
	}
	for v := lo; v <= hi+1e-9; v += step {
		class := "grid"
		if math.Abs(v) < 1e-9 {
			class = "zero"
		}
		fmt.Fprintf(&b, `<line class="%s" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><text class="tick" x="%.1f" y="%.1f" text-anchor="middle">%s</text>`,
			class, x(v), x(v), top, bottom, x(v), bottom+13, degrees(v))
	}
	fmt.Fprintf(&b, `<text class="tick" x="%.1f" y="%.1f" text-anchor="end">gained ←</text><text class="tick" x="%.1f" y="%.1f">→ lost</text>`,
		x(0)-6, top-8, x(0)+6, top-8)
	for j := range numJoints {
		ch := j.change(&p.Joints)
		y := top + rowH*(float64(j)+0.5)
		fmt.Fprintf(&b, `<text class="name" x="2" y="%.1f">%s</text>`, y+4.5, j.name())
		if ch.LostDeg.Missing() {
			continue
		}
		if !ch.Interval95Deg[0].Missing() && !ch.Interval95Deg[1].Missing() {
			x0, x1 := x(float64(ch.Interval95Deg[0])), x(float64(ch.Interval95Deg[1]))
			fmt.Fprintf(&b, `<path class="bar" d="M%.1f %.1fH%.1fM%.1f %.1fV%.1fM%.1f %.1fV%.1f"/>`, x0, y, x1, x0, y-5, y+5, x1, y-5, y+5)
		}
		at := x(float64(ch.LostDeg))
		switch j {
		case ankle:
			fmt.Fprintf(&b, `<path class="mark" d="M%.1f %.1fl6 10.5h-12z"/>`, at, y-6.5)
		case knee:
			fmt.Fprintf(&b, `<circle class="mark" cx="%.1f" cy="%.1f" r="5.5"/>`, at, y)
		case hip:
			fmt.Fprintf(&b, `<rect class="mark" x="%.1f" y="%.1f" width="10" height="10"/>`, at-5, y-5)
		}
	}
	fmt.Fprintf(&b, `<text class="tick" x="%.1f" y="%.1f" text-anchor="middle">change of range of motion, degrees</text></svg>`, (left+right)/2, bottom+29)
	return template.HTML(b.String())
}
