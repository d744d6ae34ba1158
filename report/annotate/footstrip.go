package annotate

import (
	"image"
	"image/color"
	"math"

	"holdfast/kinematics/measure"
	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
	"holdfast/words"
)

// footStrip is the line between picture and curves that says where the weight acts
// along the foot: a bar from heel to toe, the heel on the side where it is in the
// picture, the middle of the foot shaded, a marker at the support point with its 95 %
// interval. In a jump it says the height, and how far the heel is up when it is.
// Nothing of it needs colour.
type footStrip struct {
	m      *motion.Motion
	u      float64
	height int
	at     image.Point   // where it stands in the picture
	blank  *paint.Canvas // all that does not move
	bar    image.Rectangle
	title  plane.XY
	value  plane.XY
	jump   plane.XY
	heel   plane.XY
	right  bool // the words of the jump end at their place
	room   float64
	loPct  float64
	hiPct  float64
}

// spillPct is how far beyond the foot the marker may stand.
const spillPct = 1

// newFootStrip returns nil when the analysis does not hold a support point. A wide one has its words beside the bar, a
// narrow one below.
func newFootStrip(m *motion.Motion, width int, u float64, wide bool) (*footStrip, error) {
	known := false
	for _, v := range m.Analysis.Series.SupportPct {
		known = known || !math.IsNaN(v)
	}
	if !known {
		return nil, nil
	}
	f := &footStrip{m: m, u: u}
	f.loPct, f.hiPct = motion.SupportBand(m.Analysis)
	w := float64(width)
	side := w
	if wide {
		// The foot on the left, words on the right.
		side = math.Min(w*0.56, 380*u)
		f.height = even(44 * u)
		f.jump, f.heel = plane.XY{X: side + 14*u, Y: 13 * u}, plane.XY{X: side + 14*u, Y: 31 * u}
		f.room = w - side - 22*u
	} else {
		f.height = even(58 * u)
		f.jump, f.heel = plane.XY{X: w - 9*u, Y: 48 * u}, plane.XY{X: 9 * u, Y: 48 * u}
		f.right = true
		f.room = w - 18*u
		if !m.JumpsOrRises() {
			f.height = even(42 * u) // the third line would stay empty
		}
	}
	f.title = plane.XY{X: 9 * u, Y: 12 * u}
	f.value = plane.XY{X: side - 9*u, Y: 12 * u}
	f.bar = image.Rect(int(46*u), int(24*u), int(side-46*u), int(36*u))
	var err error
	if f.blank, err = paint.NewCanvas(width, f.height, drawn.Ground); err != nil {
		return nil, err
	}
	f.paint(f.blank)
	return f, nil
}

func (f *footStrip) close() {
	if f != nil {
		_ = f.blank.Close()
	}
}

// place returns where a part of the foot stands on the bar.
func (f *footStrip) place(pct float64) float64 {
	part := math.Max(-spillPct, math.Min(100+spillPct, pct)) / 100
	if f.m.Forward < 0 {
		part = 1 - part
	}
	return float64(f.bar.Min.X) + part*float64(f.bar.Dx())
}

func (f *footStrip) paint(c *paint.Canvas) {
	u := f.u
	small := paint.TextStyle{SizePx: 10.5 * u, Color: drawn.QuietColor, Middle: true}
	c.Text(f.title, said.Say("strip_title"), small)
	b := f.bar
	c.RoundRect(plane.XY{X: float64(b.Min.X), Y: float64(b.Min.Y)},
		plane.XY{X: float64(b.Max.X), Y: float64(b.Max.Y)}, 4*u, drawn.BandColor)
	x0, x1 := f.place(f.loPct), f.place(f.hiPct)
	if x0 > x1 {
		x0, x1 = x1, x0
	}
	c.Rect(int(x0), b.Min.Y, int(x1-x0), b.Dy(), drawn.AxisColor)
	for _, pct := range []float64{0, f.loPct, f.hiPct, 100} {
		c.Rect(int(f.place(pct)-0.4*u), b.Min.Y-int(2*u), max(1, int(0.9*u)), b.Dy()+int(4*u), drawn.QuietColor)
	}
	mid := float64(b.Min.Y+b.Max.Y) / 2
	heel, toe := plane.XY{X: float64(b.Min.X) - 13*u, Y: mid}, plane.XY{X: float64(b.Max.X) + 13*u, Y: mid}
	left, right := words.Say("point.heel", nil), words.Say("point.toe", nil)
	if f.m.Forward < 0 {
		left, right = right, left
	}
	ends := small
	ends.AlignX = 1
	c.Text(heel, left, ends)
	ends.AlignX = 0
	c.Text(toe, right, ends)
}

// draw puts the strip into the picture at a time.
func (f *footStrip) draw(c *paint.Canvas, timeS float64) {
	if f == nil {
		return
	}
	c.Draw(f.blank, f.at.X, f.at.Y)
	u, left, top := f.u, float64(f.at.X), float64(f.at.Y)
	mid := top + float64(f.bar.Min.Y+f.bar.Max.Y)/2
	pct, sd := f.m.Support(timeS)
	words := paint.TextStyle{SizePx: 13 * u, Bold: true, Color: drawn.Paper, AlignX: 1, Middle: true}
	if !math.IsNaN(pct) {
		text := said.Whole(pct) + " %"
		if sd > 0 {
			iv := measure.OnFoot(screening.Interval95(pct, sd))
			lo, hi := iv[0], iv[1]
			text += " (" + said.Interval(lo, hi) + ")"
			st := paint.Stroke{WidthPx: 2 * u, Color: drawn.Paper}
			for _, under := range []bool{true, false} {
				if st.WidthPx, st.Color = 2*u, drawn.Paper; under {
					st.WidthPx, st.Color = 4.4*u, drawn.Ground
				}
				x0, x1 := left+f.place(lo), left+f.place(hi)
				c.Line(plane.XY{X: x0, Y: mid}, plane.XY{X: x1, Y: mid}, st)
				for _, x := range []float64{x0, x1} {
					c.Line(plane.XY{X: x, Y: mid - 3*u}, plane.XY{X: x, Y: mid + 3*u}, st)
				}
			}
		}
		f.sign(c, plane.XY{X: left + f.place(pct), Y: mid}, false)
		c.Text(f.value.Add(left, top), text, words)
	} else {
		words.Bold, words.SizePx, words.Color = false, 12*u, drawn.QuietColor
		text := said.Say("not_known")
		if f.m.Airborne(timeS) {
			text = said.Say("in_the_air")
		} else if last := f.m.LastSupport(timeS); !math.IsNaN(last) {
			// Hollow where it was last, for as long as that says something.
			f.sign(c, plane.XY{X: left + f.place(last), Y: mid}, true)
		}
		c.Text(f.value.Add(left, top), text, words)
	}
	jump, heel := f.m.JumpWords(timeS), f.m.HeelWords(timeS)
	room := f.room
	if f.right && jump != "" && heel != "" {
		room = (f.room - 8*u) / 2 // on one line
	}
	if jump != "" {
		st := paint.TextStyle{SizePx: 13 * u, Bold: true, Color: drawn.Paper, Middle: true}
		if f.right {
			st.AlignX = 1
		}
		c.Fit(f.jump.Add(left, top), jump, st, room)
	}
	if heel != "" {
		c.Fit(f.heel.Add(left, top), heel,
			paint.TextStyle{SizePx: 13 * u, Bold: true, Color: drawn.Paper, Middle: true}, room)
	}
}

// sign is the marker of the support point: a rhombus taller than the bar.
func (f *footStrip) sign(c *paint.Canvas, at plane.XY, hollow bool) {
	shape := func(r float64, col color.NRGBA) {
		c.Convex([]plane.XY{at.Add(0, -1.25*r), at.Add(r, 0), at.Add(0, 1.25*r), at.Add(-r, 0)}, col)
	}
	r := 7 * f.u
	if hollow {
		shape(r, drawn.QuietColor)
		shape(0.68*r, drawn.Ground)
		return
	}
	shape(1.3*r, drawn.Ground)
	shape(r, drawn.Paper)
}

// drawHeelTick marks, behind the heel, how far it is over its own flat place, when it
// is clearly up.
func (a *annotator) drawHeelTick(b *drawn.Athlete, timeS float64) {
	pct, _ := a.m.HeelUp(timeS)
	heel, ok := b.Points["heel"]
	now := a.m.Value(a.m.Analysis.Series.HeelRisePctFoot, timeS)
	if !(pct > 0) || !ok || !(now > 0) {
		return
	}
	rise := now / 100 * a.m.FootLengthPx() * float64(a.picture.Dy()) / float64(a.clipH)
	if !(rise > 0) {
		return
	}
	u := a.u
	x := heel.X - b.Forward*14*u
	up, down := plane.XY{X: x, Y: heel.Y}, plane.XY{X: x, Y: heel.Y + rise}
	for _, under := range []bool{true, false} {
		st := paint.Stroke{WidthPx: 1.7 * u, Color: drawn.Paper}
		if under {
			st = paint.Stroke{WidthPx: 3.6 * u, Color: drawn.Outline}
		}
		// The flat level runs on to below the heel, the tick stands on it.
		a.canvas.Line(down.Add(-b.Forward*7*u, 0), down.Add(b.Forward*16*u, 0), st)
		a.canvas.Line(up, down, st)
		a.canvas.Line(up.Add(-4*u, 0), up.Add(4*u, 0), st)
	}
}

// drawMassPath draws the way of the centre of mass during the last second, the older
// the paler.
func (a *annotator) drawMassPath(timeS float64) {
	const every = 1 / 30.0
	to := a.mapping()
	last := plane.XY{X: math.NaN(), Y: math.NaN()}
	for k := math.Ceil((timeS - traceS) / every); ; k++ {
		t := math.Min(k*every, timeS)
		p := a.m.MassSeen(t, timeS)
		if !p.Missing() {
			p = to.Apply(p)
		}
		if !p.Missing() && !last.Missing() {
			new := 1 - (timeS-t)/traceS
			a.canvas.Line(last, p, paint.Stroke{WidthPx: 3.4 * a.u, Color: drawn.Faded(drawn.Outline, uint8(110*new))})
			a.canvas.Line(last, p, paint.Stroke{WidthPx: 1.6 * a.u, Color: drawn.Faded(drawn.Paper, uint8(30+200*new))})
		}
		last = p
		if t >= timeS {
			return
		}
	}
}

// drawMass draws the sign of the centre of mass: a disc of two black and two white
// quarters.
func (a *annotator) drawMass(timeS float64) {
	p := a.m.MassSeen(timeS, timeS)
	if p.Missing() {
		return
	}
	massSign(a.canvas, a.mapping().Apply(p), 6*a.u, a.m.Filled(timeS))
}

func massSign(c *paint.Canvas, at plane.XY, r float64, hollow bool) {
	c.Disc(at, 1.25*r, drawn.Ground)
	c.Disc(at, r, drawn.Paper)
	if hollow {
		c.Disc(at, 0.62*r, drawn.Ground)
		return
	}
	c.Wedge(at, 0.86*r, 0, 90, drawn.Ground)
	c.Wedge(at, 0.86*r, 180, 90, drawn.Ground)
}

// drawFlight shows the height of a jump behind the athlete's back, in flight: from where the centre of mass was at
// take-off up to its highest place so far.
func (a *annotator) drawFlight(timeS float64) {
	r := a.m.Jumped(timeS)
	if r == nil || r.Jump == nil || timeS > r.ContactS {
		return
	}
	off := a.m.MassSeen(r.TakeoffS, timeS)
	until := math.Min(timeS, r.ContactS)
	top := off
	for t := r.TakeoffS; t <= until; t += 1 / 60.0 {
		if p := a.m.MassSeen(t, timeS); p.Y < top.Y {
			top = p
		}
	}
	if off.Missing() || top.Missing() {
		return
	}
	to, u := a.mapping(), a.u
	off, top = to.Apply(off), to.Apply(top)
	// Behind the back, clear of the trunk and of the words at the hip.
	x := off.X - a.m.Forward*100*u
	x = math.Max(float64(a.picture.Min.X)+12*u, math.Min(float64(a.picture.Max.X)-12*u, x))
	for _, under := range []bool{true, false} {
		st := paint.Stroke{WidthPx: 1.8 * u, Color: drawn.Paper}
		if under {
			st = paint.Stroke{WidthPx: 3.8 * u, Color: drawn.Outline}
		}
		a.canvas.Line(plane.XY{X: x, Y: off.Y}, plane.XY{X: x, Y: top.Y}, st)
		for _, y := range []float64{off.Y, top.Y} {
			a.canvas.Line(plane.XY{X: x - 6*u, Y: y}, plane.XY{X: x + 6*u, Y: y}, st)
		}
	}
	h, _, _ := motion.JumpHeight(r.Jump)
	if math.IsNaN(h) {
		return
	}
	// The interval stands below, with the same number.
	text := said.Whole(100*h) + " cm"
	st := paint.TextStyle{SizePx: drawn.LabelFont * u, Bold: true, Color: drawn.Paper, Middle: true}
	w := paint.TextWidth(text, st) + 12*u
	left := x - 11*u - w
	if a.m.Forward < 0 {
		left = x + 11*u
	}
	left = math.Max(float64(a.picture.Min.X)+3*u, math.Min(float64(a.picture.Max.X)-3*u-w, left))
	if left < x+8*u && left+w > x-8*u {
		return // no room beside the line
	}
	y := (off.Y + top.Y) / 2
	a.canvas.RoundRect(plane.XY{X: left, Y: y - 9*u}, plane.XY{X: left + w, Y: y + 9*u}, 4*u,
		color.NRGBA{0x10, 0x13, 0x18, 205})
	a.canvas.Text(plane.XY{X: left + 6*u, Y: y}, text, st)
}
