package annotate

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"holdfast/report/chart"
	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/report/said"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

// strip is the row of curves under the picture, or their column beside a tall one: one panel a joint, each with its
// own scale because the ankle moves a quarter as far as the knee, and a cursor
// at the time shown. What lies ahead of the cursor is drawn pale, what
// has been is drawn in full: both are painted once for each page of time, a
// frame only copies them.
type strip struct {
	m             *motion.Motion
	width, height int
	at            image.Point // where the strip stands in the picture
	u             float64
	panels        [said.NumJoints]panel
	page          int
	pages         int
	pageFromS     float64
	pageToS       float64
	ahead, been   *paint.Canvas
}

// panel is the place of one joint's curve within the strip.
type panel struct {
	plot    image.Rectangle
	name    plane.XY
	value   plane.XY
	right   bool // the value ends at its place
	loDeg   float64
	hiDeg   float64
	stepDeg float64
	times   bool // carries the time axis
	first   bool // the uppermost
}

// newStrip lays the panels out side by side, or one above the other in a column of the given height.
func newStrip(m *motion.Motion, width, columnHeight int, u float64) (*strip, error) {
	s := &strip{m: m, width: width, u: u, page: -1, pages: 1}
	order := said.LegsFirst(said.JointsOf(m.Analysis))
	w := float64(width)
	if columnHeight == 0 {
		s.height = even(110 * u)
		each := w / float64(len(order))
		for i, j := range order {
			x := each * float64(i)
			s.panels[j] = panel{
				plot:  image.Rect(int(x+34*u), int(39*u), int(x+each-8*u), int(92*u)),
				name:  plane.XY{X: x + 8*u, Y: 14 * u},
				value: plane.XY{X: x + each - 8*u, Y: 14 * u}, right: true, times: true,
			}
		}
	} else {
		s.height = columnHeight
		row := (float64(columnHeight)/u - 22) / float64(len(order))
		for i, j := range order {
			y := (row*float64(i) + 10) * u
			s.panels[j] = panel{
				plot:  image.Rect(int(92*u), int(y), int(w-8*u), int(y+(row-13)*u)),
				name:  plane.XY{X: 8 * u, Y: y + 9*u},
				value: plane.XY{X: 8 * u, Y: y + 27*u}, times: i == len(order)-1, first: i == 0,
			}
		}
	}
	for _, j := range order {
		p := &s.panels[j]
		p.loDeg, p.hiDeg, p.stepDeg = chart.DegreeScale(chart.Floats(m.Analysis.Series.AnglesDeg[j.Angle()]))
	}
	if n := len(m.TimesS); n > 0 {
		s.pages = max(1, int(math.Ceil((m.TimesS[n-1]-m.TimesS[0])/pageS-1e-9)))
	}
	var err error
	if s.ahead, err = paint.NewCanvas(width, s.height, drawn.Ground); err != nil {
		return nil, err
	}
	if s.been, err = paint.NewCanvas(width, s.height, drawn.Ground); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

func (s *strip) close() {
	if s == nil {
		return
	}
	_ = s.ahead.Close()
	_ = s.been.Close()
}

// place returns where an angle at a time stands in a panel.
func (s *strip) place(p *panel, timeS, deg float64) plane.XY {
	part := (timeS - s.pageFromS) / (s.pageToS - s.pageFromS)
	up := (deg - p.loDeg) / (p.hiDeg - p.loDeg)
	return plane.XY{
		X: float64(p.plot.Min.X) + part*float64(p.plot.Dx()),
		Y: float64(p.plot.Max.Y) - math.Max(-0.08, math.Min(1.08, up))*float64(p.plot.Dy()),
	}
}

// turnTo paints the page that holds a time.
func (s *strip) turnTo(timeS float64) {
	first, last := 0.0, 1.0
	if n := len(s.m.TimesS); n > 0 {
		first, last = s.m.TimesS[0], s.m.TimesS[n-1]
	}
	length := math.Max((last-first)/float64(s.pages), 0.1)
	page := int(math.Max(0, math.Min(float64(s.pages-1), math.Floor((timeS-first)/length))))
	if page == s.page {
		return
	}
	s.page = page
	s.pageFromS = first + float64(page)*length
	s.pageToS = s.pageFromS + length
	s.paint(s.ahead, false)
	s.paint(s.been, true)
}

func (s *strip) paint(c *paint.Canvas, been bool) {
	u := s.u
	c.Fill(drawn.Ground)
	small := paint.TextStyle{SizePx: 10 * u, Color: drawn.QuietColor, Middle: true}
	for _, j := range said.JointsOf(s.m.Analysis) {
		p := &s.panels[j]
		at := func(t, deg float64) plane.XY { return s.place(p, t, deg) }
		for i := range s.m.Analysis.Reps {
			r := &s.m.Analysis.Reps[i]
			from, to := math.Max(r.StartS, s.pageFromS), math.Min(r.EndS, s.pageToS)
			if !(from < to) {
				continue
			}
			x0, x1 := int(at(from, 0).X), int(at(to, 0).X)
			// One pixel stays free, so that reps that meet can be told apart.
			c.Rect(x0, p.plot.Min.Y, x1-x0-max(1, int(u)), p.plot.Dy(), drawn.BandColor)
			if words := said.Say("rep_of", "rep", r.Number, "of", said.RepTempo(r)); p.first || p.right {
				st := paint.TextStyle{SizePx: 9.5 * u, Color: drawn.QuietColor, AlignX: 0.5, Middle: true}
				if paint.TextWidth(words, st) > float64(x1-x0) {
					words = fmt.Sprint(r.Number)
				}
				// The rep's number stands on the panel's upper edge.
				c.Text(plane.XY{X: float64(x0+x1) / 2, Y: float64(p.plot.Min.Y) - 5*u}, words, st)
			}
		}
		for d := p.loDeg; d <= p.hiDeg+0.01; d += p.stepDeg {
			y := at(s.pageFromS, d).Y
			c.Rect(p.plot.Min.X, int(y), p.plot.Dx(), max(1, int(u*0.6)), drawn.Faded(drawn.AxisColor, 150))
			st := small
			st.AlignX = 1
			c.Text(plane.XY{X: float64(p.plot.Min.X) - 4*u, Y: y}, said.Degrees(d), st)
		}
		if p.times {
			step := chart.TimeStep((s.pageToS-s.pageFromS)/float64(p.plot.Dx())*34*u, s.pageToS-s.pageFromS)
			for t := math.Ceil(s.pageFromS/step-1e-9) * step; t <= s.pageToS+1e-9; t += step {
				x := at(t, 0).X
				c.Rect(int(x), p.plot.Max.Y, max(1, int(u*0.6)), int(3*u), drawn.AxisColor)
				st := small
				st.AlignX = 0.5
				words := fmt.Sprintf("%g s", math.Abs(math.Round(t*10)/10))
				half := paint.TextWidth(words, st) / 2
				x = math.Min(x, float64(s.width)-half-2*u)
				c.Text(plane.XY{X: x, Y: float64(p.plot.Max.Y) + 10*u}, words, st)
			}
		}
		drawn.Marker(c, j, p.name.Add(5*u, 0), 4*u, false)
		c.Text(p.name.Add(15*u, 0), j.Name(), paint.TextStyle{SizePx: 13 * u, Bold: true, Color: drawn.Paper, Middle: true})
		s.curve(c, j, been)
	}
}

// curve draws a joint's curve over the page: whole where it was tracked, dashed
// where it was filled in, with a gap where it is missing.
func (s *strip) curve(c *paint.Canvas, j said.Joint, been bool) {
	p := &s.panels[j]
	series := &s.m.Analysis.Series
	deg := series.AnglesDeg[j.Angle()]
	st := paint.Stroke{WidthPx: 1.1 * s.u, Color: drawn.Faded(drawn.JointColor(j), 150)}
	if been {
		st = paint.Stroke{WidthPx: 2 * s.u, Color: drawn.JointColor(j)}
	}
	var run []plane.XY
	runFilled := false
	flush := func() {
		if runFilled {
			st.Dash = []float64{2 * s.u, 3.4 * s.u}
		} else {
			st.Dash = nil
		}
		c.Polyline(run, st)
		run = run[:0]
	}
	for i, t := range s.m.TimesS {
		if t < s.pageFromS || t > s.pageToS || i >= len(deg) {
			continue
		}
		here := plane.XY{X: math.NaN()}
		if i >= len(series.Missing) || !series.Missing[i] {
			here = s.place(p, t, deg[i])
		}
		filled := i < len(series.Filled) && series.Filled[i]
		if filled != runFilled && len(run) > 0 {
			last := run[len(run)-1]
			flush()
			run = append(run, last)
		}
		runFilled = filled
		run = append(run, here)
	}
	flush()
}

// draw puts the strip into the picture with the cursor at a time.
func (s *strip) draw(c *paint.Canvas, timeS float64) error {
	s.turnTo(timeS)
	u := s.u
	c.Draw(s.ahead, s.at.X, s.at.Y)
	for _, j := range said.JointsOf(s.m.Analysis) {
		p := &s.panels[j]
		deg := s.m.Value(s.m.Analysis.Series.AnglesDeg[j.Angle()], timeS)
		if s.m.Missing(timeS) {
			deg = math.NaN()
		}
		at := s.place(p, timeS, deg)
		at.X = math.Max(float64(p.plot.Min.X), math.Min(float64(p.plot.Max.X), at.X))
		cut := image.Rect(p.plot.Min.X, p.plot.Min.Y-int(3*u), int(at.X), p.plot.Max.Y+int(3*u))
		c.DrawPart(s.been, cut, cut.Min.X+s.at.X, cut.Min.Y+s.at.Y)
		x := int(at.X - 0.75*u)
		c.Rect(s.at.X+x, s.at.Y+p.plot.Min.Y-int(2*u), max(1, int(1.5*u)), p.plot.Dy()+int(4*u),
			color.NRGBA{0xF4, 0xF5, 0xF6, 190})
		if !math.IsNaN(deg) {
			drawn.Marker(c, j, at.Add(float64(s.at.X), float64(s.at.Y)), 3.6*u, s.m.Filled(timeS))
		}
		st := paint.TextStyle{SizePx: 17 * u, Bold: true, Color: drawn.Paper, Middle: true}
		if p.right {
			st.AlignX = 1
		}
		c.Text(p.value.Add(float64(s.at.X), float64(s.at.Y)), said.Degrees(deg), st)
	}
	return nil
}
