package report

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"holdfast/vision"
)

// The annotated picture stands under a line of words. The curves stand below a wide picture and beside a tall one, so
// that they do not cover the athlete, and the athlete is large on a screen that is wider than tall.
const (
	longestSidePx  = 1920 // larger clips are shown smaller: 4K gains nothing here
	tallestPx      = 1280 // of a tall picture, for the same reason
	shortestSidePx = 540  // smaller clips are shown larger, or words would be dots
	besideUnits    = 300  // the width of what stands beside a tall picture
	pageS          = 20.0 // the longest time one page of the strip shows
	traceS         = 1.0  // how far back the path of knee and ankle is drawn
)

// annotator draws the frames of one clip.
type annotator struct {
	m       *motion
	clipW   int // the size the points are measured in
	clipH   int
	picture image.Rectangle // where the clip's picture stands
	canvas  *vision.Canvas  // the annotated frame, reused
	u       float64         // 1 on a picture of 360 × 640 pixels
	foot    *footStrip      // nil when the support point is not known
	strip   *strip
	near    *closeUps // nil: no close-ups
	reel    *reel
	heads   *vision.Heads // to be made unrecognisable; nil: none
}

// newAnnotator prepares for a clip of the given size. The caller closes it.
func newAnnotator(m *motion, clipW, clipH int) (*annotator, error) {
	scale, most, tall := 1.0, float64(longestSidePx), clipH > clipW
	if tall {
		most = tallestPx
	}
	if longest := float64(max(clipW, clipH)); longest > most {
		scale = most / longest
	}
	if shortest := float64(min(clipW, clipH)) * scale; shortest < shortestSidePx {
		scale *= math.Min(shortestSidePx/shortest, most/(scale*float64(max(clipW, clipH))))
	}
	w, h := even(float64(clipW)*scale), even(float64(clipH)*scale)
	a := &annotator{m: m, reel: newReel(m, nil, false), clipW: clipW, clipH: clipH, u: vision.MeanSidePx(w, h) / 480}
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
	if a.strip, err = newStrip(m, width, column, a.u); err != nil {
		a.foot.close()
		return nil, fmt.Errorf("drawing the curves: %w", err)
	}
	a.strip.at = at
	if a.canvas, err = vision.NewCanvas(at.X+width, at.Y+a.strip.height, ground); err != nil {
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
func (a *annotator) mapping() vision.Affine {
	sx := float64(a.picture.Dx()) / float64(a.clipW)
	sy := float64(a.picture.Dy()) / float64(a.clipH)
	return vision.Affine{A: sx, E: sy, C: float64(a.picture.Min.X), F: float64(a.picture.Min.Y)}
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
func (a *annotator) draw(frame *vision.Canvas, timeS float64, how shown) (*vision.Canvas, error) {
	c := a.canvas
	if err := c.DrawScaled(frame, a.picture); err != nil {
		return nil, err
	}
	b := a.m.bodyAt(timeS, a.mapping())
	intervals := [numJoints]string{}
	if how.held != nil && !a.m.missing(timeS) {
		for j := range numJoints {
			if deg, iv := how.held.reading(j); !math.IsNaN(deg) {
				b.deg[j] = deg
				if knownInterval(iv) {
					intervals[j] = interval(iv[0], iv[1]) + "°"
				}
			}
		}
	}
	a.drawTrace(timeS)
	a.drawMassPath(timeS)
	a.drawFlight(timeS)
	for j := range numJoints {
		b.arc(c, j, a.u)
	}
	b.skeleton(c, skeletonStyle{unit: a.u, color: paper, markers: true})
	a.drawMass(timeS)
	a.drawHeelTick(&b, timeS)
	p := a.picture
	box := [4]float64{float64(p.Min.X), float64(p.Min.Y), float64(p.Max.X), float64(p.Max.Y)}
	for _, l := range b.jointLabels(func(j joint) (string, string) {
		if math.IsNaN(b.deg[j]) {
			return "", ""
		}
		return j.name() + " " + degrees(b.deg[j]), intervals[j]
	}, a.u, box) {
		l.draw(c, a.u)
	}
	a.drawHeader(timeS, how)
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
		if p := a.m.pointSeen("knee", t, timeS); !p.Missing() {
			a.canvas.Disc(to.Apply(p), r, faded(skyBlue, alpha))
		}
		if p := a.m.pointSeen("ankle", t, timeS); !p.Missing() {
			q := to.Apply(p)
			a.canvas.Convex([]vision.XY{q.Add(0, -1.3*r), q.Add(1.15*r, 0.8*r), q.Add(-1.15*r, 0.8*r)}, faded(orange, alpha))
		}
	}
}

// drawHeader writes which rep and phase it is and the clip's time.
func (a *annotator) drawHeader(timeS float64, how shown) {
	c, u := a.canvas, a.u
	w := float64(c.WidthPx())
	c.Rect(0, 0, c.WidthPx(), a.picture.Min.Y, ground)
	mid := float64(a.picture.Min.Y) / 2
	clock := fmt.Sprintf("%.2f s", timeS)
	switch {
	case how.held != nil:
		clock = "held at " + clock
	case how.speed > 0:
		clock = fmt.Sprintf("1/%.0f speed · %s", 1/how.speed, clock)
	}
	st := vision.TextStyle{SizePx: 14 * u, Color: quiet, AlignX: 1, Middle: true}
	room := w - 24*u - c.Text(vision.XY{X: w - 9*u, Y: mid}, clock, st)
	title := how.title
	if title == "" {
		title = a.title(timeS)
	}
	note := ""
	switch {
	case a.m.missing(timeS):
		note = "not tracked"
	case a.m.filled(timeS):
		note = "filled in"
	default:
		if r := a.m.rep(timeS); r != nil && r.Partial {
			note = "rep not whole"
		}
	}
	bold := vision.TextStyle{SizePx: 15 * u, Bold: true, Color: paper, Middle: true}
	if used := vision.TextWidth(title, bold); used > room {
		bold.SizePx *= room / used
	}
	x := 9*u + c.Text(vision.XY{X: 9 * u, Y: mid}, title, bold)
	if note != "" {
		small := vision.TextStyle{SizePx: 12 * u, Color: ground, Middle: true}
		nw := vision.TextWidth(note, small)
		if x+nw+20*u > room+12*u {
			// No room beside the words: below them, on the picture's upper edge.
			x, mid = 0, float64(a.picture.Min.Y)+12*u
		}
		c.RoundRect(vision.XY{X: x + 8*u, Y: mid - 9*u}, vision.XY{X: x + 20*u + nw, Y: mid + 9*u}, 4*u, color.NRGBA{0xF0, 0xE4, 0x42, 255})
		c.Text(vision.XY{X: x + 14*u, Y: mid}, note, small)
	}
}

// title says which rep, tempo and phase a time belongs to.
func (a *annotator) title(timeS float64) string {
	n := len(a.m.a.Reps)
	r := a.m.rep(timeS)
	switch {
	case r != nil:
		s := fmt.Sprintf("Rep %d of %d · %s", r.Number, n, r.Tempo)
		if p := phaseAt(r, timeS); p != "" {
			s += " · " + p
		}
		return s
	case n == 0:
		return "No rep found"
	case timeS < a.m.a.Reps[0].StartS:
		return "Before the first rep"
	case timeS > a.m.a.Reps[n-1].EndS:
		return "After the last rep"
	}
	return "Between reps"
}
