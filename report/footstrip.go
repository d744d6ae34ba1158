package report

import (
	"image"
	"image/color"
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/words"
)

// footStrip is the line between picture and curves that says where the weight acts
// along the foot: a bar from heel to toe, the heel on the side where it is in the
// picture, the middle of the foot shaded, a marker at the support point with its 95 %
// interval. In a jump it says the height, and how far the heel is up when it is.
// Nothing of it needs colour.
type footStrip struct {
	m      *motion
	u      float64
	height int
	at     image.Point    // where it stands in the picture
	blank  *vision.Canvas // all that does not move
	bar    image.Rectangle
	title  vision.XY
	value  vision.XY
	jump   vision.XY
	heel   vision.XY
	right  bool // the words of the jump end at their place
	room   float64
	loPct  float64
	hiPct  float64
}

// spillPct is how far beyond the foot the marker may stand.
const spillPct = 1

// newFootStrip returns nil when the analysis does not hold a support point. A wide one has its words beside the bar, a
// narrow one below.
func newFootStrip(m *motion, width int, u float64, wide bool) (*footStrip, error) {
	known := false
	for _, v := range m.a.Series.SupportPct {
		known = known || !math.IsNaN(v)
	}
	if !known {
		return nil, nil
	}
	f := &footStrip{m: m, u: u}
	f.loPct, f.hiPct = supportBand(m.a)
	w := float64(width)
	side := w
	if wide {
		// The foot on the left, words on the right.
		side = math.Min(w*0.56, 380*u)
		f.height = even(44 * u)
		f.jump, f.heel = vision.XY{X: side + 14*u, Y: 13 * u}, vision.XY{X: side + 14*u, Y: 31 * u}
		f.room = w - side - 22*u
	} else {
		f.height = even(58 * u)
		f.jump, f.heel = vision.XY{X: w - 9*u, Y: 48 * u}, vision.XY{X: 9 * u, Y: 48 * u}
		f.right = true
		f.room = w - 18*u
		if !m.jumpsOrRises() {
			f.height = even(42 * u) // the third line would stay empty
		}
	}
	f.title = vision.XY{X: 9 * u, Y: 12 * u}
	f.value = vision.XY{X: side - 9*u, Y: 12 * u}
	f.bar = image.Rect(int(46*u), int(24*u), int(side-46*u), int(36*u))
	var err error
	if f.blank, err = vision.NewCanvas(width, f.height, ground); err != nil {
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
	if f.m.forward < 0 {
		part = 1 - part
	}
	return float64(f.bar.Min.X) + part*float64(f.bar.Dx())
}

func (f *footStrip) paint(c *vision.Canvas) {
	u := f.u
	small := vision.TextStyle{SizePx: 10.5 * u, Color: quiet, Middle: true}
	c.Text(f.title, say("strip_title"), small)
	b := f.bar
	c.RoundRect(vision.XY{X: float64(b.Min.X), Y: float64(b.Min.Y)}, vision.XY{X: float64(b.Max.X), Y: float64(b.Max.Y)}, 4*u, band)
	x0, x1 := f.place(f.loPct), f.place(f.hiPct)
	if x0 > x1 {
		x0, x1 = x1, x0
	}
	c.Rect(int(x0), b.Min.Y, int(x1-x0), b.Dy(), line)
	for _, pct := range []float64{0, f.loPct, f.hiPct, 100} {
		c.Rect(int(f.place(pct)-0.4*u), b.Min.Y-int(2*u), max(1, int(0.9*u)), b.Dy()+int(4*u), quiet)
	}
	mid := float64(b.Min.Y+b.Max.Y) / 2
	heel, toe := vision.XY{X: float64(b.Min.X) - 13*u, Y: mid}, vision.XY{X: float64(b.Max.X) + 13*u, Y: mid}
	left, right := words.Say("point.heel", nil), words.Say("point.toe", nil)
	if f.m.forward < 0 {
		left, right = right, left
	}
	ends := small
	ends.AlignX = 1
	c.Text(heel, left, ends)
	ends.AlignX = 0
	c.Text(toe, right, ends)
}

// draw puts the strip into the picture at a time.
func (f *footStrip) draw(c *vision.Canvas, timeS float64) {
	if f == nil {
		return
	}
	c.Draw(f.blank, f.at.X, f.at.Y)
	u, left, top := f.u, float64(f.at.X), float64(f.at.Y)
	mid := top + float64(f.bar.Min.Y+f.bar.Max.Y)/2
	pct, sd := f.m.support(timeS)
	words := vision.TextStyle{SizePx: 13 * u, Bold: true, Color: paper, AlignX: 1, Middle: true}
	if !math.IsNaN(pct) {
		text := whole(pct) + " %"
		if sd > 0 {
			iv := screening.Interval95(pct, sd)
			lo, hi := iv[0], iv[1]
			text += " (" + interval(lo, hi) + ")"
			st := vision.Stroke{WidthPx: 2 * u, Color: paper}
			for _, under := range []bool{true, false} {
				if st.WidthPx, st.Color = 2*u, paper; under {
					st.WidthPx, st.Color = 4.4*u, ground
				}
				x0, x1 := left+f.place(lo), left+f.place(hi)
				c.Line(vision.XY{X: x0, Y: mid}, vision.XY{X: x1, Y: mid}, st)
				for _, x := range []float64{x0, x1} {
					c.Line(vision.XY{X: x, Y: mid - 3*u}, vision.XY{X: x, Y: mid + 3*u}, st)
				}
			}
		}
		f.sign(c, vision.XY{X: left + f.place(pct), Y: mid}, false)
		c.Text(f.value.Add(left, top), text, words)
	} else {
		words.Bold, words.SizePx, words.Color = false, 12*u, quiet
		text := say("not_known")
		if f.m.airborne(timeS) {
			text = say("in_the_air")
		} else if last := f.m.lastSupport(timeS); !math.IsNaN(last) {
			// Hollow where it was last, for as long as that says something.
			f.sign(c, vision.XY{X: left + f.place(last), Y: mid}, true)
		}
		c.Text(f.value.Add(left, top), text, words)
	}
	jump, heel := f.m.jumpWords(timeS), f.m.heelWords(timeS)
	room := f.room
	if f.right && jump != "" && heel != "" {
		room = (f.room - 8*u) / 2 // on one line
	}
	if jump != "" {
		st := vision.TextStyle{SizePx: 13 * u, Bold: true, Color: paper, Middle: true}
		if f.right {
			st.AlignX = 1
		}
		fit(c, f.jump.Add(left, top), jump, st, room)
	}
	if heel != "" {
		fit(c, f.heel.Add(left, top), heel, vision.TextStyle{SizePx: 13 * u, Bold: true, Color: paper, Middle: true}, room)
	}
}

// fit writes words in the room that there is, smaller where it is scarce.
func fit(c *vision.Canvas, at vision.XY, text string, st vision.TextStyle, room float64) {
	if w := vision.TextWidth(text, st); w > room {
		st.SizePx *= room / w
	}
	c.Text(at, text, st)
}

// sign is the marker of the support point: a rhombus taller than the bar.
func (f *footStrip) sign(c *vision.Canvas, at vision.XY, hollow bool) {
	shape := func(r float64, col color.NRGBA) {
		c.Convex([]vision.XY{at.Add(0, -1.25*r), at.Add(r, 0), at.Add(0, 1.25*r), at.Add(-r, 0)}, col)
	}
	r := 7 * f.u
	if hollow {
		shape(r, quiet)
		shape(0.68*r, ground)
		return
	}
	shape(1.3*r, ground)
	shape(r, paper)
}

// support reads the support point at a time in per cent of the foot, heel 0, and
// its standard deviation; NaN where it is not known.
func (m *motion) support(timeS float64) (pct, sdPct float64) {
	if m.missing(timeS) || m.airborne(timeS) {
		return math.NaN(), math.NaN()
	}
	return m.value(m.a.Series.SupportPct, timeS), m.value(m.a.Series.SupportSDPct, timeS)
}

// lastSupportS is how long the last known support point is remembered.
const lastSupportS = 0.5

// lastSupport returns the last known support point before a time, NaN when that was
// long ago.
func (m *motion) lastSupport(timeS float64) float64 {
	i, _, _, ok := m.sample(timeS)
	if !ok {
		return math.NaN()
	}
	for s := m.a.Series.SupportPct; i >= 0 && timeS-m.t[i] <= lastSupportS && !m.airborne(m.t[i]); i-- {
		if i < len(s) && !math.IsNaN(s[i]) {
			return s[i]
		}
	}
	return math.NaN()
}

// airborne says whether a time lies in a flight.
func (m *motion) airborne(timeS float64) bool {
	for i := range m.a.Reps {
		if r := &m.a.Reps[i]; r.FlightS > 0 && timeS > r.TakeoffS && timeS < r.ContactS {
			return true
		}
	}
	return false
}

// jumpShownS is how long after a jump its height is said, at most.
const jumpShownS = 2.5

// jumped returns the rep whose flight a time lies in or after; nil when that is long
// ago or another rep has begun its own.
func (m *motion) jumped(timeS float64) *kinematics.Rep {
	var last *kinematics.Rep
	for i := range m.a.Reps {
		if r := &m.a.Reps[i]; r.FlightS > 0 && timeS >= r.TakeoffS {
			last = r
		}
	}
	if last != nil && !(timeS-last.ContactS <= jumpShownS) {
		return nil
	}
	return last
}

// jumpHeight returns a jump's height in metres: how far the body rises after
// take-off, or where that is not known what follows from the time in the air.
func jumpHeight(j *measure.Jump) (m float64, iv [2]float64, how string) {
	if math.IsNaN(j.RiseM) {
		return j.HeightFromFlightM, j.HeightFromFlightInterval95M, "flight"
	}
	return j.RiseM, j.RiseInterval95M, "rise"
}

// jumpWords says in and after a flight how high it was.
func (m *motion) jumpWords(timeS float64) string {
	r := m.jumped(timeS)
	if r == nil || r.Jump == nil {
		return ""
	}
	h, iv, how := jumpHeight(r.Jump)
	if math.IsNaN(h) {
		return ""
	}
	height := whole(100*h) + " cm"
	if knownInterval(iv) {
		height += " (" + interval(100*iv[0], 100*iv[1]) + ")"
	}
	return say("strip_jump", "form", how, "height", height)
}

// jumpsOrRises says whether any rep has a flight or a heel that comes up.
func (m *motion) jumpsOrRises() bool {
	return slices.ContainsFunc(m.a.Reps, func(r kinematics.Rep) bool { return r.FlightS > 0 || r.Foot != nil && r.Foot.Heel.Up })
}

// heelUp returns how far the heel is up at a time, in per cent of the foot as the
// rep's measure counts it, and the rep; NaN unless it is clearly up.
func (m *motion) heelUp(timeS float64) (pct float64, of *measure.FootRise) {
	r := m.rep(timeS)
	if r == nil || r.Foot == nil || m.missing(timeS) || m.airborne(timeS) {
		return math.NaN(), nil
	}
	h := &r.Foot.Heel
	for _, s := range h.Spans {
		if h.Up && timeS >= s.FromS && timeS <= s.ToS {
			now := m.value(m.a.Series.HeelRisePctFoot, timeS)
			most := m.value(m.a.Series.HeelRisePctFoot, h.AtS)
			// The series counts in distances of heel point and toe point, the measure in
			// lengths of the foot.
			return now * h.MaxPctFoot.Value / most, h
		}
	}
	return math.NaN(), nil
}

// heelWords says how far the heel is up when it clearly is, in centimetres where the
// scale is known.
func (m *motion) heelWords(timeS float64) string {
	pct, of := m.heelUp(timeS)
	if !(pct > 0) {
		return ""
	}
	if cm := of.CmAt(pct); !math.IsNaN(cm.Value) {
		return riseWords(cm, 1, " cm")
	}
	return riseWords(stats.Estimate{Value: pct, SD: of.MaxPctFoot.SD}, 0, say("pct_of_foot"))
}

func riseWords(e stats.Estimate, decimals int, unit string) string {
	up := decimal(e.Value, decimals) + unit
	if iv := e.Interval95(); knownInterval(iv) {
		up += " (" + ends(decimal(math.Max(0, iv[0]), decimals), decimal(iv[1], decimals)) + ")"
	}
	return say("strip_heel", "up", up)
}

// drawHeelTick marks, behind the heel, how far it is over its own flat place, when it
// is clearly up.
func (a *annotator) drawHeelTick(b *fitted, timeS float64) {
	pct, _ := a.m.heelUp(timeS)
	heel, ok := b.points["heel"]
	now := a.m.value(a.m.a.Series.HeelRisePctFoot, timeS)
	if !(pct > 0) || !ok || !(now > 0) {
		return
	}
	rise := now / 100 * a.m.footLengthPx() * float64(a.picture.Dy()) / float64(a.clipH)
	if !(rise > 0) {
		return
	}
	u := a.u
	x := heel.X - b.forward*14*u
	up, down := vision.XY{X: x, Y: heel.Y}, vision.XY{X: x, Y: heel.Y + rise}
	for _, under := range []bool{true, false} {
		st := vision.Stroke{WidthPx: 1.7 * u, Color: paper}
		if under {
			st = vision.Stroke{WidthPx: 3.6 * u, Color: outline}
		}
		// The flat level runs on to below the heel, the tick stands on it.
		a.canvas.Line(down.Add(-b.forward*7*u, 0), down.Add(b.forward*16*u, 0), st)
		a.canvas.Line(up, down, st)
		a.canvas.Line(up.Add(-4*u, 0), up.Add(4*u, 0), st)
	}
}

// footLengthPx returns the distance from heel point to toe point in the middle of
// the samples, pixels of the clip; NaN when they are not known.
func (m *motion) footLengthPx() float64 {
	if m.footPx == 0 {
		heel, toe := m.a.Series.PointsPx["heel"], m.a.Series.PointsPx["toe"]
		var ds []float64
		for i := range min(len(heel.X), len(heel.Y), len(toe.X), len(toe.Y)) {
			if d := math.Hypot(toe.X[i]-heel.X[i], toe.Y[i]-heel.Y[i]); d > 0 {
				ds = append(ds, d)
			}
		}
		m.footPx = median(ds)
	}
	return m.footPx
}

// median returns the middle of values; NaN when there is none.
func median(vs []float64) float64 {
	if len(vs) == 0 {
		return math.NaN()
	}
	slices.Sort(vs)
	return vs[len(vs)/2]
}

// massSeen reads where the centre of mass was at a time, in the picture of another
// moment; NaN where it is not known.
func (m *motion) massSeen(timeS, pictureS float64) vision.XY {
	if m.missing(timeS) {
		return vision.XY{X: math.NaN(), Y: math.NaN()}
	}
	p := m.a.Series.MassCentrePx
	return m.camera(pictureS).Inverse().Apply(vision.XY{X: m.value(p.X, timeS), Y: m.value(p.Y, timeS)})
}

// drawMassPath draws the way of the centre of mass during the last second, the older
// the paler.
func (a *annotator) drawMassPath(timeS float64) {
	const every = 1 / 30.0
	to := a.mapping()
	last := vision.XY{X: math.NaN(), Y: math.NaN()}
	for k := math.Ceil((timeS - traceS) / every); ; k++ {
		t := math.Min(k*every, timeS)
		p := a.m.massSeen(t, timeS)
		if !p.Missing() {
			p = to.Apply(p)
		}
		if !p.Missing() && !last.Missing() {
			new := 1 - (timeS-t)/traceS
			a.canvas.Line(last, p, vision.Stroke{WidthPx: 3.4 * a.u, Color: faded(outline, uint8(110*new))})
			a.canvas.Line(last, p, vision.Stroke{WidthPx: 1.6 * a.u, Color: faded(paper, uint8(30+200*new))})
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
	p := a.m.massSeen(timeS, timeS)
	if p.Missing() {
		return
	}
	massSign(a.canvas, a.mapping().Apply(p), 6*a.u, a.m.filled(timeS))
}

func massSign(c *vision.Canvas, at vision.XY, r float64, hollow bool) {
	c.Disc(at, 1.25*r, ground)
	c.Disc(at, r, paper)
	if hollow {
		c.Disc(at, 0.62*r, ground)
		return
	}
	c.Wedge(at, 0.86*r, 0, 90, ground)
	c.Wedge(at, 0.86*r, 180, 90, ground)
}

// drawFlight shows the height of a jump behind the athlete's back, in flight: from where the centre of mass was at take-off up to its highest
// place so far.
func (a *annotator) drawFlight(timeS float64) {
	r := a.m.jumped(timeS)
	if r == nil || r.Jump == nil || timeS > r.ContactS {
		return
	}
	off := a.m.massSeen(r.TakeoffS, timeS)
	until := math.Min(timeS, r.ContactS)
	top := off
	for t := r.TakeoffS; t <= until; t += 1 / 60.0 {
		if p := a.m.massSeen(t, timeS); p.Y < top.Y {
			top = p
		}
	}
	if off.Missing() || top.Missing() {
		return
	}
	to, u := a.mapping(), a.u
	off, top = to.Apply(off), to.Apply(top)
	// Behind the back, clear of the trunk and of the words at the hip.
	x := off.X - a.m.forward*100*u
	x = math.Max(float64(a.picture.Min.X)+12*u, math.Min(float64(a.picture.Max.X)-12*u, x))
	for _, under := range []bool{true, false} {
		st := vision.Stroke{WidthPx: 1.8 * u, Color: paper}
		if under {
			st = vision.Stroke{WidthPx: 3.8 * u, Color: outline}
		}
		a.canvas.Line(vision.XY{X: x, Y: off.Y}, vision.XY{X: x, Y: top.Y}, st)
		for _, y := range []float64{off.Y, top.Y} {
			a.canvas.Line(vision.XY{X: x - 6*u, Y: y}, vision.XY{X: x + 6*u, Y: y}, st)
		}
	}
	h, _, _ := jumpHeight(r.Jump)
	if math.IsNaN(h) {
		return
	}
	// The interval stands below, with the same number.
	text, st := whole(100*h)+" cm", vision.TextStyle{SizePx: labelFont * u, Bold: true, Color: paper, Middle: true}
	w := vision.TextWidth(text, st) + 12*u
	left := x - 11*u - w
	if a.m.forward < 0 {
		left = x + 11*u
	}
	left = math.Max(float64(a.picture.Min.X)+3*u, math.Min(float64(a.picture.Max.X)-3*u-w, left))
	if left < x+8*u && left+w > x-8*u {
		return // no room beside the line
	}
	y := (off.Y + top.Y) / 2
	a.canvas.RoundRect(vision.XY{X: left, Y: y - 9*u}, vision.XY{X: left + w, Y: y + 9*u}, 4*u, color.NRGBA{0x10, 0x13, 0x18, 205})
	a.canvas.Text(vision.XY{X: left + 6*u, Y: y}, text, st)
}
