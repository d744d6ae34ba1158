package report

import (
	"fmt"
	"html/template"
	"maps"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"holdfast/kinematics"
	"holdfast/printable"
	"holdfast/vision"
)

// drawing is a chart as a list of marks, so that the page (as SVG, in the
// reader's light or dark colours) and the PDF (as lines of its own) show the same.
// Places are in points from the upper left corner.
type drawing struct {
	w, h  float64
	alt   string // what it shows, for those who cannot see it
	marks []mark
}

// ink names a colour by its job.
type ink string

// The inks of charts. The conditions' own, named after the tempos', are those of the
// curves: see lineOf.
const (
	noInk      ink = ""
	mainInk    ink = "ink"
	softInk    ink = "soft"
	gridInk    ink = "grid"
	bandInk    ink = "area"
	paperInk   ink = "ground"
	slowInk    ink = "slow"
	fastInk    ink = "fast"
	jumpInk    ink = "jump"
	otherInk   ink = "other"
	accentInk  ink = "accent"
	goodInk    ink = "good"
	cautionInk ink = "caution"
)

func inkOf(at kinematics.Condition) ink {
	return [places]ink{slowInk, fastInk, jumpInk, otherInk}[placeOf(at)]
}

// dashOf is the dash of a condition's line, as in lineOf.
func dashOf(at kinematics.Condition) []float64 {
	return [places][]float64{nil, {6, 3}, {7, 2.5, 1.5, 2.5}, {1.5, 2}}[placeOf(at)]
}

// inkColors are the colours on white paper, by ink: those of the page's light style.
var inkColors = map[ink][3]int{
	mainInk: {0x16, 0x19, 0x1d}, softInk: {0x4c, 0x55, 0x60}, gridInk: {0xd5, 0xda, 0xe0}, bandInk: {0xe3, 0xe6, 0xea}, paperInk: {255, 255, 255},
	slowInk: {0x00, 0x72, 0xb2}, fastInk: {0xd5, 0x5e, 0x00}, jumpInk: {0x00, 0x80, 0x5d}, otherInk: {0x44, 0x44, 0x44},
	accentInk: {0x00, 0x72, 0xb2}, goodInk: {0x00, 0x72, 0xb2}, cautionInk: {0xd5, 0x5e, 0x00},
}

// mark is a line or an area, or words.
type mark struct {
	points       []vision.XY
	closed       bool
	stroke, fill ink
	width        float64
	dash         []float64
	see          float64 // opacity; 0: opaque

	text   string
	at     vision.XY
	size   float64
	anchor float64 // 0 begins at the place, 0.5 is centred, 1 ends there
	bold   bool
	up     bool // reads upward
}

func (d *drawing) line(stroke ink, width float64, dash []float64, points ...vision.XY) {
	if len(points) > 1 {
		d.marks = append(d.marks, mark{points: points, stroke: stroke, width: width, dash: dash})
	}
}

func (d *drawing) area(fill ink, see float64, points ...vision.XY) {
	if len(points) > 2 {
		d.marks = append(d.marks, mark{points: points, closed: true, fill: fill, see: see})
	}
}

func (d *drawing) rect(fill ink, see, x, y, w, h float64) {
	d.area(fill, see, vision.XY{X: x, Y: y}, vision.XY{X: x + w, Y: y}, vision.XY{X: x + w, Y: y + h}, vision.XY{X: x, Y: y + h})
}

func (d *drawing) words(col ink, size, anchor, x, y float64, text string) *mark {
	d.marks = append(d.marks, mark{text: text, at: vision.XY{X: x, Y: y}, size: size, anchor: anchor, fill: col})
	return &d.marks[len(d.marks)-1]
}

// shape is a sign that can be told from others without colour.
type shape int

const (
	disc shape = iota
	triangle
	square
	diamond
)

func shapeOf(at kinematics.Condition) shape {
	return [places]shape{disc, triangle, square, diamond}[placeOf(at)]
}

func jointShape(j joint) shape { return [...]shape{triangle, disc, square}[j] }

// sign draws a shape of about the radius r.
func (d *drawing) sign(s shape, x, y, r float64, fill, stroke ink) {
	var ps []vision.XY
	p := func(dx, dy float64) { ps = append(ps, vision.XY{X: x + dx*r, Y: y + dy*r}) }
	switch s {
	case disc:
		const n = 24
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * float64(k) / n)
			p(c, s)
		}
	case triangle:
		p(0, -1.2)
		p(1.1, 0.8)
		p(-1.1, 0.8)
	case square:
		p(-0.9, -0.9)
		p(0.9, -0.9)
		p(0.9, 0.9)
		p(-0.9, 0.9)
	case diamond:
		p(0, -1.2)
		p(1.2, 0)
		p(0, 1.2)
		p(-1.2, 0)
	}
	d.marks = append(d.marks, mark{points: ps, closed: true, fill: fill, stroke: stroke, width: 1})
}

// svg returns the drawing as an element of a page. Colours come from the page's
// style by class, so that they follow light, dark and print.
func (d *drawing) svg() template.HTML {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="chart" viewBox="0 0 %s %s" role="img" aria-label="%s">`, num(d.w), num(d.h), template.HTMLEscapeString(d.alt))
	for i := range d.marks {
		m := &d.marks[i]
		if m.text != "" {
			fmt.Fprintf(&b, `<text class="f-%s" x="%s" y="%s" font-size="%s"`, m.fill, num(m.at.X), num(m.at.Y), num(m.size))
			switch m.anchor {
			case 0.5:
				b.WriteString(` text-anchor="middle"`)
			case 1:
				b.WriteString(` text-anchor="end"`)
			}
			if m.bold {
				b.WriteString(` font-weight="700"`)
			}
			if m.up {
				fmt.Fprintf(&b, ` transform="rotate(-90 %s %s)"`, num(m.at.X), num(m.at.Y))
			}
			b.WriteString(">" + template.HTMLEscapeString(m.text) + "</text>")
			continue
		}
		class := "f-none"
		if m.fill != noInk {
			class = "f-" + string(m.fill)
		}
		if m.stroke != noInk {
			class += " s-" + string(m.stroke)
		}
		fmt.Fprintf(&b, `<path class="%s" d="`, class)
		for k, p := range m.points {
			if k == 0 {
				b.WriteByte('M')
			} else {
				b.WriteByte('L')
			}
			b.WriteString(num(p.X) + " " + num(p.Y))
		}
		if m.closed {
			b.WriteByte('Z')
		}
		b.WriteByte('"')
		if m.stroke != noInk {
			fmt.Fprintf(&b, ` stroke-width="%s"`, num(m.width))
		}
		if len(m.dash) > 0 {
			b.WriteString(` stroke-dasharray="`)
			for k, v := range m.dash {
				if k > 0 {
					b.WriteByte(' ')
				}
				b.WriteString(num(v))
			}
			b.WriteByte('"')
		}
		if m.see > 0 && m.see < 1 {
			of := "fill"
			if m.fill == noInk {
				of = "stroke"
			}
			fmt.Fprintf(&b, ` %s-opacity="%s"`, of, num(m.see))
		}
		b.WriteString("/>")
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// file returns the drawing as a file of its own, on white paper.
func (d *drawing) file() []byte {
	var style strings.Builder
	for _, col := range slices.Sorted(maps.Keys(inkColors)) {
		c := inkColors[col]
		fmt.Fprintf(&style, ".f-%[1]s{fill:#%02[2]x%02[3]x%02[4]x}.s-%[1]s{stroke:#%02[2]x%02[3]x%02[4]x}", col, c[0], c[1], c[2])
	}
	head := fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" width="%s" height="%s" font-family="sans-serif" `,
		num(d.w), num(d.h))
	paper := fmt.Sprintf(`<style>.f-none{fill:none}%s</style><rect width="100%%" height="100%%" fill="#fff"/>`, &style)
	from, marks, _ := strings.Cut(string(d.svg()), ">")
	return printable.Page([]byte(head + strings.TrimPrefix(from, "<svg ") + ">" + paper + marks + "\n"))
}

// num writes a place with at most one decimal (two below one).
func num(v float64) string {
	if math.Abs(v) < 1 {
		return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", v), "0"), ".")
	}
	return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0")
}

// axes is a panel with a scale across and one up.
type axes struct {
	d                        *drawing
	left, top, right, bottom float64 // the places of its edges
	x0, x1, y0, y1           float64 // the values there
}

// The sizes of a panel's words, in points.
const tickSize, labelSize, titleSize = 11, 11.5, 13

func newAxes(d *drawing, title string, x0, x1, y0, y1 float64) *axes {
	a := &axes{d: d, left: 42, top: 26, right: d.w - 8, bottom: d.h - 36, x0: x0, x1: x1, y0: y0, y1: y1}
	if title != "" {
		d.words(mainInk, titleSize, 0, 2, 14, title).bold = true
	}
	return a
}

func (a *axes) x(v float64) float64 { return a.left + (v-a.x0)/(a.x1-a.x0)*(a.right-a.left) }
func (a *axes) y(v float64) float64 { return a.bottom - (v-a.y0)/(a.y1-a.y0)*(a.bottom-a.top) }

func (a *axes) at(x, y float64) vision.XY { return vision.XY{X: a.x(x), Y: a.y(y)} }

// across draws the scale below the panel.
func (a *axes) across(step float64, label string, format func(float64) string) {
	for v := math.Ceil(a.x0/step-1e-9) * step; v <= a.x1+1e-9*step; v += step {
		a.d.line(gridInk, 0.7, nil, vision.XY{X: a.x(v), Y: a.top}, vision.XY{X: a.x(v), Y: a.bottom})
		anchor := 0.5
		if a.x(v) > a.right-8 {
			anchor = 1 // the last number stays inside
			a.d.words(softInk, tickSize, anchor, a.right+6, a.bottom+13, format(v))
			continue
		}
		a.d.words(softInk, tickSize, anchor, a.x(v), a.bottom+13, format(v))
	}
	if label != "" {
		a.d.words(mainInk, labelSize, 0.5, (a.left+a.right)/2, a.bottom+29, label)
	}
}

// upward draws the scale on the left.
func (a *axes) upward(step float64, format func(float64) string) {
	for v := math.Ceil(a.y0/step-1e-9) * step; v <= a.y1+1e-9*step; v += step {
		a.d.line(gridInk, 0.7, nil, vision.XY{X: a.left, Y: a.y(v)}, vision.XY{X: a.right, Y: a.y(v)})
		a.d.words(softInk, tickSize, 1, a.left-5, a.y(v)+4, format(v))
	}
}

// curve draws values over places, broken where either is missing.
func (a *axes) curve(stroke ink, width float64, dash []float64, xs, ys []float64) {
	var run []vision.XY
	flush := func() {
		a.d.line(stroke, width, dash, run...)
		run = nil
	}
	for i := range xs {
		if i >= len(ys) || math.IsNaN(xs[i]) || math.IsNaN(ys[i]) {
			flush()
			continue
		}
		run = append(run, a.inside(xs[i], ys[i]))
	}
	flush()
}

// ribbon draws the area between two lines, in pieces where one is missing.
func (a *axes) ribbon(fill ink, see float64, xs, lo, hi []float64) {
	var up, down []vision.XY
	flush := func() {
		for i := len(down) - 1; i >= 0; i-- {
			up = append(up, down[i])
		}
		a.d.area(fill, see, up...)
		up, down = nil, nil
	}
	for i := range xs {
		if i >= len(lo) || i >= len(hi) || math.IsNaN(lo[i]) || math.IsNaN(hi[i]) || math.IsNaN(xs[i]) {
			flush()
			continue
		}
		up, down = append(up, a.inside(xs[i], hi[i])), append(down, a.inside(xs[i], lo[i]))
	}
	flush()
}

// inside keeps a place within the panel: what lies beyond runs along its edge.
func (a *axes) inside(x, y float64) vision.XY {
	lo, hi := math.Min(a.y0, a.y1), math.Max(a.y0, a.y1)
	return a.at(math.Max(a.x0, math.Min(a.x1, x)), math.Max(lo, math.Min(hi, y)))
}

// key names conditions by their lines, in a drawing of its own.
func key(conditions []kinematics.Condition) *drawing {
	d := &drawing{h: 20}
	var names []string
	for _, at := range conditions {
		names = append(names, at.Words)
	}
	d.alt = say("key_alt", "names", names)
	d.w = math.Max(d.legend(conditions), 260)
	return d
}

// legend names conditions by their lines at the top of a drawing, and returns where it ends.
func (d *drawing) legend(conditions []kinematics.Condition) (x float64) {
	x = 2
	for _, at := range conditions {
		d.line(inkOf(at), 2.2, dashOf(at), vision.XY{X: x, Y: 10}, vision.XY{X: x + 40, Y: 10})
		d.sign(shapeOf(at), x+20, 10, 4, inkOf(at), noInk)
		d.words(mainInk, 12, 0, x+46, 14, at.Words)
		x += 56 + 7*float64(utf8.RuneCountInString(at.Words)) + 16
	}
	return x
}
