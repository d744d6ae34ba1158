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

// The annotated picture stands under a line of words. The curves stand below a wide picture and beside a tall one, so
// that they do not cover the athlete, and the athlete is large on a screen that is wider than tall.
const (
	tallestPx      = 1280 // of a tall picture, for the same reason
	shortestSidePx = 540  // smaller clips are shown larger, or words would be dots
	besideUnits    = 300  // the width of what stands beside a tall picture
	pageS          = 20.0 // the longest time one page of the strip shows
	traceS         = 1.0  // how far back the path of knee and ankle is drawn
)

// annotator draws the frames of one clip.
type annotator struct {
	m       *motion.Motion
	clipW   int // the size the points are measured in
	clipH   int
	part    part            // of the clip's picture that is shown
	picture image.Rectangle // where the clip's picture stands
	canvas  *paint.Canvas   // the annotated frame, reused
	u       float64         // 1 on a picture of 360 × 640 pixels
	foot    *footStrip      // nil when the support point is not known
	strip   *strip
	near    *closeUps // nil: no close-ups
	reel    *reel
	heads   *paint.Heads // to be made unrecognisable; nil: none
}

// newAnnotator prepares for a clip of the given size. The caller closes it.
func newAnnotator(m *motion.Motion, clipW, clipH int) (*annotator, error) {
	of := partOf(m, float64(clipW), float64(clipH))
	scale, most, tall := 1.0, float64(drawn.LongestSidePx), of.h > of.w
	if tall {
		most = tallestPx
	}
	if longest := math.Max(of.w, of.h); longest > most {
		scale = most / longest
	}
	if shortest := math.Min(of.w, of.h) * scale; shortest < shortestSidePx {
		scale *= math.Min(shortestSidePx/shortest, most/(scale*math.Max(of.w, of.h)))
	}
	w, h := even(of.w*scale), even(of.h*scale)
	a := &annotator{m: m, reel: newReel(m, nil, false), clipW: clipW, clipH: clipH, part: of,
		u: paint.MeanSidePx(w, h) / 480}
	// On a very long or wide picture the words must still fit.
	a.u = math.Min(a.u, float64(w)/300)
	top := even(32 * a.u)
	a.picture = image.Rect(0, top, w, top+h)
	at, width := image.Pt(0, top+h), w
	if tall {
		at, width = image.Pt(w, top), even(besideUnits*a.u)
	}
	var err error
	if a.foot, err = newFootStrip(m, width, a.u, !tall); err != nil {
		return nil, fmt.Errorf("drawing the foot: %w", err)
	}
	if a.foot != nil {
		a.foot.at = at
		at.Y += a.foot.height
	}
	column := 0
	if tall {
		column = top + h - at.Y
	}
	if m.Analysis.View.Front { // it has no curves
		a.canvas, err = paint.NewCanvas(w, top+h, drawn.Ground)
		return a, err
	}
	if a.strip, err = newStrip(m, width, column, a.u); err != nil {
		a.foot.close()
		return nil, fmt.Errorf("drawing the curves: %w", err)
	}
	a.strip.at = at
	if a.canvas, err = paint.NewCanvas(at.X+width, at.Y+a.strip.height, drawn.Ground); err != nil {
		a.strip.close()
		a.foot.close()
		return nil, err
	}
	return a, nil
}

func even(v float64) int { return max(2, 2*int(math.Round(v/2))) }

func (a *annotator) close() {
	_ = a.canvas.Close()
	a.foot.close()
	a.strip.close()
	a.near.close()
}

// mapping turns places of the clip into places of the annotated picture.
func (a *annotator) mapping() plane.Affine {
	sx := float64(a.picture.Dx()) / a.part.w
	sy := float64(a.picture.Dy()) / a.part.h
	return plane.Affine{A: sx, E: sy, C: float64(a.picture.Min.X) - sx*a.part.x, F: float64(a.picture.Min.Y) - sy*a.part.y}
}

// drawClip draws the part of the clip's picture that is shown.
func (a *annotator) drawClip(frame *paint.Canvas) error {
	if a.part.w == float64(a.clipW) && a.part.h == float64(a.clipH) {
		return a.canvas.DrawScaled(frame, a.picture)
	}
	to, k := a.mapping(), float64(a.clipW)/float64(frame.WidthPx()) // the frame may have been read smaller
	return a.canvas.DrawWarped(frame, plane.Affine{A: to.A * k, E: to.E * k, C: to.C, F: to.F}, a.picture, drawn.Ground)
}

// part is a part of a clip's picture: its upper left corner and its size in pixels.
type part struct{ x, y, w, h float64 }

// An athlete who is shorter than smallPart of the picture's height is shown without the rest of
// it: the picture then holds his whole way through the clip and a margin of marginBodies of
// his height, and is no wider than wideBodies by its height. Common practice, no source.
const (
	smallPart    = 0.4
	marginBodies = 0.3
	widestPart   = 16.0 / 9
	tallestPart  = 3.0 / 4 // of its width by its height
)

// partOf returns the part of a clip's picture that is shown: all of it, unless the athlete is
// small in it.
func partOf(m *motion.Motion, clipW, clipH float64) part {
	whole := part{0, 0, clipW, clipH}
	x0, y0, x1, y1, tall := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1), 0.0
	for _, t := range m.TimesS {
		if m.Missing(t) {
			continue
		}
		top, bottom := math.Inf(1), math.Inf(-1)
		for _, p := range drawn.AthleteAt(m, t, plane.Affine{A: 1, E: 1}).Points {
			x0, x1 = chart.MinMax(x0, x1, p.X)
			top, bottom = chart.MinMax(top, bottom, p.Y)
		}
		y0, y1, tall = math.Min(y0, top), math.Max(y1, bottom), math.Max(tall, bottom-top)
	}
	if !(tall > 0) || tall >= smallPart*clipH {
		return whole
	}
	margin := marginBodies * tall
	w, h := x1-x0+2*margin, y1-y0+2*margin
	w = math.Min(math.Max(w, tallestPart*h), clipW)
	h = math.Min(math.Max(h, w/widestPart), clipH)
	return part{inside((x0+x1-w)/2, w, clipW), inside((y0+y1-h)/2, h, clipH), w, h}
}

// shown says how a frame is shown other than by itself.
type shown struct {
	title string // replaces the words about rep and phase
	// held is the moment at which the picture stands still, nil when it runs.
	held *hold
	// speed is the part of the true speed at which it runs, when it is worth saying.
	speed float64
}

// draw annotates the clip's picture at a time. The canvas returned is the annotator's
// own and holds until the next call.
func (a *annotator) draw(frame *paint.Canvas, timeS float64, how shown) (*paint.Canvas, error) {
	c := a.canvas
	if err := a.drawClip(frame); err != nil {
		return nil, err
	}
	b := drawn.AthleteAt(a.m, timeS, a.mapping())
	intervals, marks := [said.NumJoints]string{}, [said.NumJoints]string{}
	if how.held != nil && !a.m.Missing(timeS) {
		for _, j := range b.Joints {
			if deg, iv := how.held.reading(j); !math.IsNaN(deg) {
				b.Deg[j], marks[j] = deg, said.ZeroMark(how.held.rep.Angles[j.Angle()].ZeroKnown)
				if said.KnownInterval(iv) {
					intervals[j] = said.Interval(iv[0], iv[1]) + "°"
				}
			}
		}
	}
	a.drawTrace(timeS)
	a.drawMassPath(timeS)
	a.drawFlight(timeS)
	for _, j := range b.Joints {
		b.Arc(c, j, a.u)
	}
	b.Skeleton(c, drawn.SkeletonStyle{Unit: a.u, Color: drawn.Paper, Markers: true})
	a.drawMass(timeS)
	a.drawHeelTick(&b, timeS)
	p := a.picture
	box := [4]float64{float64(p.Min.X), float64(p.Min.Y), float64(p.Max.X), float64(p.Max.Y)}
	for _, l := range b.JointLabels(func(j said.Joint) (string, string) {
		if math.IsNaN(b.Deg[j]) {
			return "", ""
		}
		return j.Name() + " " + said.Degrees(b.Deg[j]) + marks[j], intervals[j]
	}, a.u, box) {
		l.Draw(c, a.u)
	}
	b.KneesIn(c, a.u, box)
	a.drawHeader(timeS, how)
	if a.strip == nil {
		return c, nil
	}
	a.foot.draw(c, timeS)
	return c, a.strip.draw(c, timeS)
}

// drawTrace marks where knee and ankle were during the last second. The dots are
// equally far apart in time: wide gaps mean speed.
func (a *annotator) drawTrace(timeS float64) {
	const every = 1 / 30.0
	to := a.mapping()
	// The dots stand at fixed times, or they would crawl along the path.
	for k := math.Ceil((timeS - traceS) / every); k*every <= timeS; k++ {
		t := k * every
		age := (timeS - t) / traceS
		alpha := uint8(40 + 190*(1-age))
		r := (1.1 + 0.7*(1-age)) * a.u
		if p := a.m.PointSeen("knee", t, timeS); !p.Missing() {
			a.canvas.Disc(to.Apply(p), r, drawn.Faded(drawn.SkyBlue, alpha))
		}
		if p := a.m.PointSeen("ankle", t, timeS); !p.Missing() {
			q := to.Apply(p)
			a.canvas.Convex([]plane.XY{q.Add(0, -1.3*r), q.Add(1.15*r, 0.8*r), q.Add(-1.15*r, 0.8*r)},
				drawn.Faded(drawn.Orange, alpha))
		}
	}
}

// drawHeader writes which rep and phase it is and the clip's time.
func (a *annotator) drawHeader(timeS float64, how shown) {
	c, u := a.canvas, a.u
	w := float64(c.WidthPx())
	c.Rect(0, 0, c.WidthPx(), a.picture.Min.Y, drawn.Ground)
	mid := float64(a.picture.Min.Y) / 2
	clock := said.Decimal(timeS, 2) + " s"
	switch {
	case how.held != nil:
		clock = said.Say("held_at", "clock", clock)
	case how.speed > 0:
		clock = said.Say("slowed", "speed", 1/how.speed, "clock", clock)
	}
	st := paint.TextStyle{SizePx: 14 * u, Color: drawn.QuietColor, AlignX: 1, Middle: true}
	room := w - 24*u - c.Text(plane.XY{X: w - 9*u, Y: mid}, clock, st)
	title := how.title
	if title == "" {
		title = a.title(timeS)
	}
	note := ""
	switch {
	case a.m.Missing(timeS):
		note = said.Say("not_tracked")
	case a.m.Filled(timeS):
		note = said.Say("filled_in")
	default:
		if r := a.m.Rep(timeS); r != nil && r.Partial {
			note = said.Say("not_whole")
		}
	}
	bold := paint.TextStyle{SizePx: 15 * u, Bold: true, Color: drawn.Paper, Middle: true}
	if used := paint.TextWidth(title, bold); used > room {
		bold.SizePx *= room / used
	}
	x := 9*u + c.Text(plane.XY{X: 9 * u, Y: mid}, title, bold)
	if note != "" {
		small := paint.TextStyle{SizePx: 12 * u, Color: drawn.Ground, Middle: true}
		nw := paint.TextWidth(note, small)
		if x+nw+20*u > room+12*u {
			// No room beside the words: below them, on the picture's upper edge.
			x, mid = 0, float64(a.picture.Min.Y)+12*u
		}
		c.RoundRect(plane.XY{X: x + 8*u, Y: mid - 9*u}, plane.XY{X: x + 20*u + nw, Y: mid + 9*u}, 4*u,
			color.NRGBA{0xF0, 0xE4, 0x42, 255})
		c.Text(plane.XY{X: x + 14*u, Y: mid}, note, small)
	}
}

// title says which rep, tempo and phase a time belongs to.
func (a *annotator) title(timeS float64) string {
	n := len(a.m.Analysis.Reps)
	r := a.m.Rep(timeS)
	switch {
	case r != nil:
		if p := motion.PhaseAt(r, timeS); p != "" {
			return said.RepTitle(r, n, said.PhaseWord(a.m.Analysis.Movement.Turn, p))
		}
		return said.Say("frame_rep", "rep", r.Number, "of", n, "tempo", said.RepTempo(r))
	case a.m.Analysis.Plain != nil:
		return said.Say("no_movement")
	case n == 0:
		return said.Say("no_rep")
	case timeS < a.m.Analysis.Reps[0].StartS:
		return said.Say("before_reps")
	case timeS > a.m.Analysis.Reps[n-1].EndS:
		return said.Say("after_reps")
	}
	return said.Say("between_reps")
}
