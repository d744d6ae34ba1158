package chart

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
	"holdfast/report/said"
	"holdfast/vision/plane"
)

// Drawing is a chart as a list of marks, so that the page (as SVG, in the
// reader's light or dark colours) and the PDF (as lines of its own) show the same.
// Places are in points from the upper left corner.
type Drawing struct {
	WidthPt, HeightPt float64
	Alt               string // what it shows, for those who cannot see it
	Marks             []mark
}

// Ink names a colour by its job.
type Ink string

// The inks of charts. The conditions' own, named after the tempos', are those of the
// curves: see lineOf.
const (
	NoInk      Ink = ""
	MainInk    Ink = "ink"
	SoftInk    Ink = "soft"
	GridInk    Ink = "grid"
	BandInk    Ink = "area"
	PaperInk   Ink = "ground"
	SlowInk    Ink = "slow"
	FastInk    Ink = "fast"
	jumpInk    Ink = "jump"
	otherInk   Ink = "other"
	AccentInk  Ink = "accent"
	goodInk    Ink = "good"
	cautionInk Ink = "caution"
)

func InkOf(at kinematics.Condition) Ink {
	return [said.Places]Ink{SlowInk, FastInk, jumpInk, otherInk}[said.PlaceOf(at)]
}

// DashOf is the dash of a condition's line, as in lineOf.
func DashOf(at kinematics.Condition) []float64 {
	return [said.Places][]float64{nil, {6, 3}, {7, 2.5, 1.5, 2.5}, {1.5, 2}}[said.PlaceOf(at)]
}

// InkColors are the colours on white paper, by ink: those of the page's light style.
var InkColors = map[Ink][3]int{
	MainInk: {0x16, 0x19, 0x1d}, SoftInk: {0x4c, 0x55, 0x60}, GridInk: {0xd5, 0xda, 0xe0}, BandInk: {0xe3, 0xe6, 0xea},
	PaperInk: {255, 255, 255},
	SlowInk:  {0x00, 0x72, 0xb2}, FastInk: {0xd5, 0x5e, 0x00}, jumpInk: {0x00, 0x80, 0x5d}, otherInk: {0x44, 0x44, 0x44},
	AccentInk: {0x00, 0x72, 0xb2}, goodInk: {0x00, 0x72, 0xb2}, cautionInk: {0xd5, 0x5e, 0x00},
}

// mark is a line or an area, or words.
type mark struct {
	Points       []plane.XY
	Closed       bool
	Stroke, Fill Ink
	Width        float64
	Dash         []float64
	See          float64 // opacity; 0: opaque

	Text   string
	At     plane.XY
	Size   float64
	Anchor float64 // 0 begins at the place, 0.5 is centred, 1 ends there
	Bold   bool
	Up     bool // reads upward
}

func (d *Drawing) Line(stroke Ink, width float64, dash []float64, points ...plane.XY) {
	if len(points) > 1 {
		d.Marks = append(d.Marks, mark{Points: points, Stroke: stroke, Width: width, Dash: dash})
	}
}

func (d *Drawing) area(fill Ink, see float64, points ...plane.XY) {
	if len(points) > 2 {
		d.Marks = append(d.Marks, mark{Points: points, Closed: true, Fill: fill, See: see})
	}
}

func (d *Drawing) Rect(fill Ink, see, x, y, w, h float64) {
	d.area(fill, see, plane.XY{X: x, Y: y}, plane.XY{X: x + w, Y: y}, plane.XY{X: x + w, Y: y + h},
		plane.XY{X: x, Y: y + h})
}

func (d *Drawing) Words(col Ink, size, anchor, x, y float64, text string) *mark {
	d.Marks = append(d.Marks, mark{Text: text, At: plane.XY{X: x, Y: y}, Size: size, Anchor: anchor, Fill: col})
	return &d.Marks[len(d.Marks)-1]
}

// shape is a sign that can be told from others without colour.
type shape int

const (
	Disc shape = iota
	Triangle
	square
	Diamond
)

func ShapeOf(at kinematics.Condition) shape {
	return [said.Places]shape{Disc, Triangle, square, Diamond}[said.PlaceOf(at)]
}

func JointShape(j said.Joint) shape { return [...]shape{Triangle, Disc, square, Diamond, Disc}[j] }

// Sign draws a shape of about the radius r.
func (d *Drawing) Sign(s shape, x, y, r float64, fill, stroke Ink) {
	var ps []plane.XY
	p := func(dx, dy float64) { ps = append(ps, plane.XY{X: x + dx*r, Y: y + dy*r}) }
	switch s {
	case Disc:
		const n = 24
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * float64(k) / n)
			p(c, s)
		}
	case Triangle:
		p(0, -1.2)
		p(1.1, 0.8)
		p(-1.1, 0.8)
	case square:
		p(-0.9, -0.9)
		p(0.9, -0.9)
		p(0.9, 0.9)
		p(-0.9, 0.9)
	case Diamond:
		p(0, -1.2)
		p(1.2, 0)
		p(0, 1.2)
		p(-1.2, 0)
	}
	d.Marks = append(d.Marks, mark{Points: ps, Closed: true, Fill: fill, Stroke: stroke, Width: 1})
}

// SVG returns the drawing as an element of a page. Colours come from the page's
// style by class, so that they follow light, dark and print.
func (d *Drawing) SVG() template.HTML {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="chart" viewBox="0 0 %s %s" role="img" aria-label="%s">`, num(d.WidthPt), num(d.HeightPt),
		template.HTMLEscapeString(d.Alt))
	for i := range d.Marks {
		m := &d.Marks[i]
		if m.Text != "" {
			fmt.Fprintf(&b, `<text class="f-%s" x="%s" y="%s" font-size="%s"`, m.Fill, num(m.At.X), num(m.At.Y), num(m.Size))
			switch m.Anchor {
			case 0.5:
				b.WriteString(` text-anchor="middle"`)
			case 1:
				b.WriteString(` text-anchor="end"`)
			}
			if m.Bold {
				b.WriteString(` font-weight="700"`)
			}
			if m.Up {
				fmt.Fprintf(&b, ` transform="rotate(-90 %s %s)"`, num(m.At.X), num(m.At.Y))
			}
			b.WriteString(">" + template.HTMLEscapeString(m.Text) + "</text>")
			continue
		}
		class := "f-none"
		if m.Fill != NoInk {
			class = "f-" + string(m.Fill)
		}
		if m.Stroke != NoInk {
			class += " s-" + string(m.Stroke)
		}
		fmt.Fprintf(&b, `<path class="%s" d="`, class)
		for k, p := range m.Points {
			if k == 0 {
				b.WriteByte('M')
			} else {
				b.WriteByte('L')
			}
			b.WriteString(num(p.X) + " " + num(p.Y))
		}
		if m.Closed {
			b.WriteByte('Z')
		}
		b.WriteByte('"')
		if m.Stroke != NoInk {
			fmt.Fprintf(&b, ` stroke-width="%s"`, num(m.Width))
		}
		if len(m.Dash) > 0 {
			b.WriteString(` stroke-dasharray="`)
			for k, v := range m.Dash {
				if k > 0 {
					b.WriteByte(' ')
				}
				b.WriteString(num(v))
			}
			b.WriteByte('"')
		}
		if m.See > 0 && m.See < 1 {
			of := "fill"
			if m.Fill == NoInk {
				of = "stroke"
			}
			fmt.Fprintf(&b, ` %s-opacity="%s"`, of, num(m.See))
		}
		b.WriteString("/>")
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// File returns the drawing as a file of its own, on white paper.
func (d *Drawing) File() []byte {
	var style strings.Builder
	for _, col := range slices.Sorted(maps.Keys(InkColors)) {
		c := InkColors[col]
		fmt.Fprintf(&style, ".f-%[1]s{fill:#%02[2]x%02[3]x%02[4]x}.s-%[1]s{stroke:#%02[2]x%02[3]x%02[4]x}",
			col, c[0], c[1], c[2])
	}
	head := fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" width="%s" height="%s" font-family="sans-serif" `,
		num(d.WidthPt), num(d.HeightPt))
	paper := fmt.Sprintf(`<style>.f-none{fill:none}%s</style><rect width="100%%" height="100%%" fill="#fff"/>`, &style)
	from, marks, _ := strings.Cut(string(d.SVG()), ">")
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
	d                        *Drawing
	Left, Top, Right, Bottom float64 // the places of its edges
	FromX, ToX, FromY, ToY   float64 // the values there
}

// The sizes of a panel's words, in points.
const TickSize, LabelSize, titleSize = 11, 11.5, 13

func NewAxes(d *Drawing, title string, x0, x1, y0, y1 float64) *axes {
	a := &axes{d: d, Left: 42, Top: 26, Right: d.WidthPt - 8, Bottom: d.HeightPt - 36, FromX: x0,
		ToX: x1, FromY: y0, ToY: y1}
	if title != "" {
		d.Words(MainInk, titleSize, 0, 2, 14, title).Bold = true
	}
	return a
}

func (a *axes) X(v float64) float64 { return a.Left + (v-a.FromX)/(a.ToX-a.FromX)*(a.Right-a.Left) }
func (a *axes) Y(v float64) float64 { return a.Bottom - (v-a.FromY)/(a.ToY-a.FromY)*(a.Bottom-a.Top) }

func (a *axes) At(x, y float64) plane.XY { return plane.XY{X: a.X(x), Y: a.Y(y)} }

// Across draws the scale below the panel.
func (a *axes) Across(step float64, label string, format func(float64) string) {
	for v := math.Ceil(a.FromX/step-1e-9) * step; v <= a.ToX+1e-9*step; v += step {
		a.d.Line(GridInk, 0.7, nil, plane.XY{X: a.X(v), Y: a.Top}, plane.XY{X: a.X(v), Y: a.Bottom})
		anchor := 0.5
		if a.X(v) > a.Right-8 {
			anchor = 1 // the last number stays inside
			a.d.Words(SoftInk, TickSize, anchor, a.Right+6, a.Bottom+13, format(v))
			continue
		}
		a.d.Words(SoftInk, TickSize, anchor, a.X(v), a.Bottom+13, format(v))
	}
	if label != "" {
		a.d.Words(MainInk, LabelSize, 0.5, (a.Left+a.Right)/2, a.Bottom+29, label)
	}
}

// Upward draws the scale on the left.
func (a *axes) Upward(step float64, format func(float64) string) {
	for v := math.Ceil(a.FromY/step-1e-9) * step; v <= a.ToY+1e-9*step; v += step {
		a.d.Line(GridInk, 0.7, nil, plane.XY{X: a.Left, Y: a.Y(v)}, plane.XY{X: a.Right, Y: a.Y(v)})
		a.d.Words(SoftInk, TickSize, 1, a.Left-5, a.Y(v)+4, format(v))
	}
}

// Curve draws values over places, broken where either is missing.
func (a *axes) Curve(stroke Ink, width float64, dash []float64, xs, ys []float64) {
	var run []plane.XY
	flush := func() {
		a.d.Line(stroke, width, dash, run...)
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

// Ribbon draws the area between two lines, in pieces where one is missing.
func (a *axes) Ribbon(fill Ink, see float64, xs, lo, hi []float64) {
	var up, down []plane.XY
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
func (a *axes) inside(x, y float64) plane.XY {
	lo, hi := math.Min(a.FromY, a.ToY), math.Max(a.FromY, a.ToY)
	return a.At(math.Max(a.FromX, math.Min(a.ToX, x)), math.Max(lo, math.Min(hi, y)))
}

// Key names conditions by their lines, in a drawing of its own.
func Key(conditions []kinematics.Condition) *Drawing {
	d := &Drawing{HeightPt: 20}
	var names []string
	for _, at := range conditions {
		names = append(names, at.Words)
	}
	d.Alt = said.Say("key_alt", "names", names)
	d.WidthPt = math.Max(d.legend(conditions), 260)
	return d
}

// legend names conditions by their lines at the top of a drawing, and returns where it ends.
func (d *Drawing) legend(conditions []kinematics.Condition) (x float64) {
	x = 2
	for _, at := range conditions {
		d.Line(InkOf(at), 2.2, DashOf(at), plane.XY{X: x, Y: 10}, plane.XY{X: x + 40, Y: 10})
		d.Sign(ShapeOf(at), x+20, 10, 4, InkOf(at), NoInk)
		d.Words(MainInk, 12, 0, x+46, 14, at.Words)
		x += 56 + 7*float64(utf8.RuneCountInString(at.Words)) + 16
	}
	return x
}

// LetterPt is how wide a letter of the letters drawn is on the average, of its size; bold ones are a little wider.
// Common practice, no source.
const LetterPt = 0.56

// Fit shortens a text to a width in its middle, as names that differ mostly do so at an end.
func Fit(text string, size, widthPt float64) string {
	letters := []rune(text)
	room := int(widthPt / (LetterPt * size))
	if len(letters) <= room || room < 5 {
		return text
	}
	head := room / 2
	return string(letters[:head]) + "…" + string(letters[len(letters)-(room-head-1):])
}
