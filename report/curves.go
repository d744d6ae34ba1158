package report

import (
	"bytes"
	"fmt"
	"image/color"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/printable"
	"holdfast/screening"
)

// curveLook is how a condition looks in the curves, on white paper.
type curveLook struct {
	color  color.NRGBA
	dashes []vg.Length
	glyph  draw.GlyphDrawer
}

func lineOf(at kinematics.Condition) curveLook {
	return [places]curveLook{
		{blue, nil, draw.CircleGlyph{}},
		{vermilion, []vg.Length{vg.Points(6), vg.Points(3)}, draw.PyramidGlyph{}},
		{green, []vg.Length{vg.Points(7), vg.Points(2.5), vg.Points(1.5), vg.Points(2.5)}, draw.BoxGlyph{}},
		{color.NRGBA{0x44, 0x44, 0x44, 255}, []vg.Length{vg.Points(1.5), vg.Points(2)}, draw.CrossGlyph{}},
	}[placeOf(at)]
}

// The size of the picture of curves, in points.
const curvesW, curvesRowH, curvesHead, curvesFoot = 420, 170, 26, 14

// curves draws the angle of each joint over the rep, every rep thin and the most
// typical one of each condition thick, as SVG and as PNG at 200 dots an inch. It returns
// nil when there is nothing to draw. What is not loaded (flight, a push on the toes) is
// left out, as it is in the range of motion.
func curves(c *screening.Comparison) (svg, png []byte, err error) {
	w, h := vg.Points(curvesW), vg.Points(3*curvesRowH+curvesHead+curvesFoot)
	lines := vgsvg.New(w, h)
	drawn, err := drawCurves(c, draw.New(lines))
	if err != nil || !drawn {
		return nil, nil, err
	}
	var out bytes.Buffer
	if _, err := lines.WriteTo(&out); err != nil {
		return nil, nil, err
	}
	dots := vgimg.NewWith(vgimg.UseWH(w, h), vgimg.UseDPI(200))
	if _, err := drawCurves(c, draw.New(dots)); err != nil {
		return nil, nil, err
	}
	var picture bytes.Buffer
	if _, err := (vgimg.PngCanvas{Canvas: dots}).WriteTo(&picture); err != nil {
		return nil, nil, err
	}
	return printable.Page(out.Bytes()), picture.Bytes(), nil
}

// drawCurves draws the curves and says whether there were any.
func drawCurves(c *screening.Comparison, dc draw.Canvas) (drawn bool, err error) {
	var conditions []kinematics.Condition
	typical := map[kinematics.Condition][2]int{} // clip and rep
	for i := range c.Pairs {
		p := &c.Pairs[i]
		for _, s := range []struct {
			key       string
			clip, rep int
		}{{p.Baseline, p.BaselineClip, p.BaselineRep}, {p.Challenge, p.ChallengeClip, p.ChallengeRep}} {
			if at := c.Condition(s.key); !slices.Contains(conditions, at) {
				conditions = append(conditions, at)
				typical[at] = [2]int{s.clip, s.rep}
			}
		}
	}
	easiestFirst(conditions)
	const each, head, foot = curvesRowH, curvesHead, curvesFoot
	for j := range numJoints {
		row := int(j)
		p := plainPlot()
		p.Title.Text = AngleWord(body.Joint(j).Angle())
		p.Y.Label.Text = say("degrees")
		if row == 2 {
			p.X.Label.Text = say("pct_of_rep")
		}
		p.X.Min, p.X.Max = 0, 100
		p.X.Tick.Marker = plot.ConstantTicks([]plot.Tick{{Value: 0, Label: "0"}, {Value: 25, Label: "25"}, {Value: 50, Label: "50"}, {Value: 75, Label: "75"}, {Value: 100, Label: "100"}})
		grid := plotter.NewGrid()
		grid.Horizontal.Color = color.NRGBA{0xDD, 0xDD, 0xDD, 255}
		grid.Vertical.Color = grid.Horizontal.Color
		p.Add(grid)
		all := []float64{}
		// Thin lines first, so that the typical reps lie on top.
		for _, thick := range []bool{false, true} {
			for _, at := range conditions {
				vs, err := addReps(p, c, j, at, typical[at], thick)
				if err != nil {
					return false, err
				}
				all = append(all, vs...)
			}
		}
		if len(all) > 0 {
			drawn = true
			var step float64
			p.Y.Min, p.Y.Max, step = degreeScale(all)
			var ticks []plot.Tick
			for v := p.Y.Min; v <= p.Y.Max+1e-9; v += step {
				ticks = append(ticks, plot.Tick{Value: v, Label: degrees(v)})
			}
			p.Y.Tick.Marker = plot.ConstantTicks(ticks)
			p.Y.Min, p.Y.Max = p.Y.Min-0.12*step, p.Y.Max+0.05*step
		}
		top := vg.Points(head + float64(row*each))
		p.Draw(draw.Crop(dc, vg.Points(4), vg.Points(-6), vg.Points(3*each+head+foot)-top-vg.Points(each), -top))
	}
	if drawn {
		legend(dc, conditions)
	}
	return drawn, nil
}

// addReps adds the reps of a condition to a plot: the typical one, or all others.
// It returns the angles it drew.
func addReps(p *plot.Plot, c *screening.Comparison, j joint, at kinematics.Condition, typical [2]int, thick bool) ([]float64, error) {
	var all []float64
	look := lineOf(at)
	for ci, a := range c.Analyses {
		if a == nil {
			continue
		}
		m := newMotion(a)
		for i := range a.Reps {
			r := &a.Reps[i]
			of, _ := c.ConditionOf(ci, r.Tempo)
			if of != at || r.Partial || (typical == [2]int{ci, r.Number}) != thick {
				continue
			}
			for _, run := range repCurve(m, r, j) {
				l, err := plotter.NewLine(run)
				if err != nil {
					return nil, fmt.Errorf("rep %d of %s: %w", r.Number, a.Clip.Name, err)
				}
				l.Color, l.Width = faded(look.color, 110), vg.Points(0.8)
				if thick {
					l.Color, l.Width, l.Dashes = look.color, vg.Points(2.2), look.dashes
				}
				p.Add(l)
				for _, xy := range run {
					all = append(all, xy.Y)
				}
			}
			if thick {
				at := plotter.XY{X: percentOf(r, r.BottomS), Y: m.value(a.Series.AnglesDeg[j.angle()], r.BottomS)}
				if math.IsNaN(at.X) || math.IsNaN(at.Y) {
					continue
				}
				s, err := plotter.NewScatter(plotter.XYs{at})
				if err != nil {
					return nil, err
				}
				s.GlyphStyle = draw.GlyphStyle{Color: look.color, Radius: vg.Points(4), Shape: look.glyph}
				p.Add(s)
			}
		}
	}
	return all, nil
}

func percentOf(r *kinematics.Rep, timeS float64) float64 {
	return (timeS - r.StartS) / (r.EndS - r.StartS) * 100
}

// repCurve returns a joint's angle over the per cent of a rep, in pieces: broken
// where it is missing or not loaded.
func repCurve(m *motion, r *kinematics.Rep, j joint) []plotter.XYs {
	series := m.a.Series.AnglesDeg[j.angle()]
	var runs []plotter.XYs
	var run plotter.XYs
	flush := func() {
		if len(run) > 1 {
			runs = append(runs, run)
		}
		run = nil
	}
	for i, t := range m.t {
		if t < r.StartS || t > r.EndS || i >= len(series) {
			continue
		}
		loaded := len(r.Loaded) == 0
		for _, s := range r.Loaded {
			loaded = loaded || t >= s.FromS && t <= s.ToS
		}
		if !loaded || math.IsNaN(series[i]) || m.missing(t) || math.IsNaN(percentOf(r, t)) {
			flush()
			continue
		}
		run = append(run, plotter.XY{X: percentOf(r, t), Y: series[i]})
	}
	flush()
	return runs
}

// legend names the conditions on one line at the top.
func legend(dc draw.Canvas, conditions []kinematics.Condition) {
	x := vg.Points(14)
	y := dc.Max.Y - vg.Points(14)
	sty := plainText(11)
	sty.YAlign = draw.YCenter
	for _, at := range conditions {
		look := lineOf(at)
		dc.StrokeLine2(draw.LineStyle{Color: look.color, Width: vg.Points(2.2), Dashes: look.dashes}, x, y, x+vg.Points(30), y)
		dc.DrawGlyph(draw.GlyphStyle{Color: look.color, Radius: vg.Points(4), Shape: look.glyph}, vg.Point{X: x + vg.Points(15), Y: y})
		x += vg.Points(36)
		dc.FillText(sty, vg.Point{X: x, Y: y}, at.Words)
		x += sty.Width(at.Words) + vg.Points(16)
	}
	sty.Color = color.NRGBA{0x55, 0x55, 0x55, 255}
	sty.Font.Size = vg.Points(9.5)
	dc.FillText(sty, vg.Point{X: vg.Points(14), Y: dc.Min.Y + vg.Points(8)}, say("curves_key"))
}

func plainText(points float64) draw.TextStyle {
	return draw.TextStyle{
		Color:   color.Black,
		Font:    font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Points(points)},
		Handler: plot.DefaultTextHandler,
	}
}

func plainPlot() *plot.Plot {
	p := plot.New()
	p.BackgroundColor = color.Transparent
	title := plainText(12)
	title.XAlign, title.YAlign = draw.XCenter, draw.YTop
	p.Title.TextStyle = title
	p.Title.Padding = vg.Points(2)
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Label.TextStyle.Font = plainText(10.5).Font
		a.Tick.Label.Font = plainText(10).Font
		a.LineStyle.Width = vg.Points(0.6)
		a.Tick.LineStyle.Width = vg.Points(0.6)
		a.Padding = vg.Points(2)
	}
	return p
}
