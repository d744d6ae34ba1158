package report

import (
	"image/color"
	"math"

	"holdfast/vision"
	"holdfast/words"
)

// The colours: those of Okabe and Ito (2008, "Color universal design") for what
// carries a meaning, greys for the rest.
var (
	orange    = color.NRGBA{0xE6, 0x9F, 0x00, 255}
	skyBlue   = color.NRGBA{0x56, 0xB4, 0xE9, 255}
	green     = color.NRGBA{0x00, 0x9E, 0x73, 255}
	blue      = color.NRGBA{0x00, 0x72, 0xB2, 255}
	vermilion = color.NRGBA{0xD5, 0x5E, 0x00, 255}
	purple    = color.NRGBA{0xCC, 0x79, 0xA7, 255}

	paper   = color.NRGBA{0xF4, 0xF5, 0xF6, 255}
	ground  = color.NRGBA{0x17, 0x1B, 0x21, 255} // behind words and curves
	band    = color.NRGBA{0x26, 0x2D, 0x37, 255} // a rep in the strip
	line    = color.NRGBA{0x4A, 0x54, 0x61, 255} // axes
	quiet   = color.NRGBA{0xA9, 0xB4, 0xC0, 255} // axis words
	outline = color.NRGBA{0x10, 0x13, 0x18, 200} // around limbs
)

// jointColor is the joint's colour on dark ground and on the picture.
func jointColor(j joint) color.NRGBA { return [...]color.NRGBA{orange, skyBlue, purple}[j] }

func faded(c color.NRGBA, alpha uint8) color.NRGBA { c.A = alpha; return c }

// marker draws the joint's own sign: a triangle for the ankle, a disc for the
// knee, a square for the hip; hollow when the place was filled in.
func marker(c *vision.Canvas, j joint, at vision.XY, r float64, hollow bool) {
	shape := func(r float64, col color.NRGBA) {
		switch j {
		case ankle:
			c.Convex([]vision.XY{at.Add(0, -1.25*r), at.Add(1.1*r, 0.75*r), at.Add(-1.1*r, 0.75*r)}, col)
		case knee:
			c.Disc(at, r, col)
		case hip:
			c.Convex([]vision.XY{at.Add(-0.9*r, -0.9*r), at.Add(0.9*r, -0.9*r), at.Add(0.9*r, 0.9*r), at.Add(-0.9*r, 0.9*r)}, col)
		}
	}
	shape(r*1.35, outline)
	shape(r, jointColor(j))
	if hollow {
		shape(r*0.6, ground)
	}
}

// bones are the lines of the near side's skeleton, by landmark name.
var bones = [][2]string{
	{"ear", "shoulder"}, {"shoulder", "elbow"}, {"elbow", "wrist"},
	{"shoulder", "hip"}, {"hip", "knee"}, {"knee", "ankle"}, {"ankle", "heel"}, {"heel", "toe"},
}

// body is the athlete at one instant, in places of the picture drawn on.
type fitted struct {
	points  map[string]vision.XY
	deg     [numJoints]float64
	forward float64
	filled  bool
}

// bodyAt reads the athlete at a time, with places moved by the mapping. A
// mapping that mirrors turns the facing too.
func (m *motion) bodyAt(timeS float64, to vision.Affine) fitted {
	b := fitted{points: map[string]vision.XY{}, forward: m.forward, filled: m.filled(timeS)}
	if to.A < 0 {
		b.forward = -b.forward
	}
	if m.guessed(timeS) {
		for j := range b.deg {
			b.deg[j] = math.NaN()
		}
		return b
	}
	for _, bone := range bones {
		for _, name := range bone {
			if p := m.point(name, timeS); !p.Missing() {
				b.points[name] = to.Apply(p)
			}
		}
	}
	for j := range numJoints {
		b.deg[j] = m.value(m.a.Series.AnglesDeg[j.angle()], timeS)
	}
	return b
}

// skeletonStyle says how a body's lines look.
type skeletonStyle struct {
	unit    float64 // 1 on a picture of 360 × 640 pixels
	color   color.NRGBA
	dashed  bool
	markers bool
}

// skeleton draws a body's lines and joints.
func (b *fitted) skeleton(c *vision.Canvas, st skeletonStyle) {
	u := st.unit
	var dash []float64
	if st.dashed || b.filled {
		dash = []float64{5 * u, 4.5 * u}
	}
	for _, under := range []bool{true, false} {
		for _, bone := range bones {
			p, ok1 := b.points[bone[0]]
			q, ok2 := b.points[bone[1]]
			if !ok1 || !ok2 {
				continue
			}
			if under {
				c.Line(p, q, vision.Stroke{WidthPx: 4.2 * u, Color: faded(outline, 120), Dash: dash})
			} else {
				c.Line(p, q, vision.Stroke{WidthPx: 2.2 * u, Color: st.color, Dash: dash})
			}
		}
	}
	for _, name := range []string{"ear", "shoulder", "elbow", "wrist", "heel", "toe"} {
		if p, ok := b.points[name]; ok {
			c.Disc(p, 2.6*u, outline)
			c.Disc(p, 2*u, st.color)
		}
	}
	if !st.markers {
		return
	}
	for j := range numJoints {
		if p, ok := b.points[j.landmark()]; ok {
			marker(c, j, p, 4*u, b.filled)
		}
	}
}

// arc draws the angle of a joint as a wedge between the zero line (dashed) and
// the moving limb. It is built from the limb and the printed value, so that the
// picture and the number always say the same.
func (b *fitted) arc(c *vision.Canvas, j joint, u float64) {
	at, ok := b.points[j.landmark()]
	limb, ok2 := b.points[[...]string{"knee", "ankle", "knee"}[j]]
	deg := b.deg[j]
	if !ok || !ok2 || math.IsNaN(deg) {
		return
	}
	// On the screen, y down and facing right: the shank swings clockwise as the
	// knee flexes, the thigh anticlockwise as the hip flexes, the shank clockwise
	// as the ankle dorsiflexes.
	turn := [...]float64{1, 1, -1}[j] * b.forward
	limbDeg := math.Atan2(limb.Y-at.Y, limb.X-at.X) * 180 / math.Pi
	zeroDeg := limbDeg - turn*deg
	r := [...]float64{34, 26, 26}[j] * u
	col := jointColor(j)
	c.Wedge(at, r, zeroDeg, turn*deg, faded(col, 105))
	s, co := math.Sincos(zeroDeg * math.Pi / 180)
	zero := at.Add(co*r*1.25, s*r*1.25)
	// The dark rim keeps the arc apart from a wall that is as bright as its colour.
	c.Arc(at, r, zeroDeg, turn*deg, vision.Stroke{WidthPx: 3.2 * u, Color: outline})
	c.Line(at, zero, vision.Stroke{WidthPx: 2.9 * u, Color: faded(outline, 140)})
	c.Arc(at, r, zeroDeg, turn*deg, vision.Stroke{WidthPx: 1.8 * u, Color: col})
	c.Line(at, zero, vision.Stroke{WidthPx: 1.5 * u, Color: col, Dash: []float64{2.5 * u, 3 * u}})
}

// label is a few words on a dark pill.
type label struct {
	text   string
	second string // a smaller second line
	box    [4]float64
	col    color.NRGBA
}

const labelFont, smallFont = 12.5, 11.0

func (l *label) draw(c *vision.Canvas, u float64) {
	c.RoundRect(vision.XY{X: l.box[0], Y: l.box[1]}, vision.XY{X: l.box[2], Y: l.box[3]}, 4*u, color.NRGBA{0x10, 0x13, 0x18, 205})
	c.RoundRect(vision.XY{X: l.box[0], Y: l.box[1]}, vision.XY{X: l.box[0] + 3*u, Y: l.box[3]}, 1.5*u, l.col)
	x := l.box[0] + 7*u
	y := l.box[1] + 9.5*u
	if l.second == "" {
		y = (l.box[1] + l.box[3]) / 2
	}
	c.Text(vision.XY{X: x, Y: y}, l.text, vision.TextStyle{SizePx: labelFont * u, Bold: true, Color: paper, Middle: true})
	if l.second != "" {
		c.Text(vision.XY{X: x, Y: l.box[3] - 9*u}, l.second, vision.TextStyle{SizePx: smallFont * u, Color: paper, Middle: true})
	}
}

// jointLabels places a label for each joint at a fixed side of it, so that it
// does not jump from frame to frame: in front of the knee, behind hip and ankle.
// Where two meet, the upper one moves up; all stay within the frame box.
func (b *fitted) jointLabels(text func(joint) (string, string), u float64, frame [4]float64) []label {
	var ls []label
	for j := range numJoints {
		at, ok := b.points[j.landmark()]
		if !ok {
			continue
		}
		first, second := text(j)
		if first == "" {
			continue
		}
		w := vision.TextWidth(first, vision.TextStyle{SizePx: labelFont * u, Bold: true})
		h := 18 * u
		if second != "" {
			w = math.Max(w, vision.TextWidth(second, vision.TextStyle{SizePx: smallFont * u}))
			h = 33 * u
		}
		w += 13 * u
		side := b.forward
		gap := 34 * u
		dy := 0.0
		switch j {
		case ankle:
			side, gap, dy = -side, 22*u, -4*u
		case hip:
			side, gap = -side, 14*u
			dy = -6 * u
		}
		x0 := at.X + gap
		if side < 0 {
			x0 = at.X - gap - w
		}
		y0 := at.Y + dy - h/2
		x0 = math.Max(frame[0]+3*u, math.Min(frame[2]-3*u-w, x0))
		y0 = math.Max(frame[1]+3*u, math.Min(frame[3]-3*u-h, y0))
		for _, o := range ls {
			if x0 < o.box[2] && x0+w > o.box[0] && y0 < o.box[3]+2*u && y0+h > o.box[1]-2*u {
				y0 = o.box[1] - h - 3*u
			}
		}
		ls = append(ls, label{text: first, second: second, box: [4]float64{x0, y0, x0 + w, y0 + h}, col: jointColor(j)})
	}
	return ls
}

// degrees writes an angle in whole degrees, with a real minus sign; "–" when it
// is missing.
func degrees(v float64) string {
	if math.IsNaN(v) {
		return whole(v)
	}
	return whole(v) + "°"
}

// whole writes a number without decimals, with a real minus sign and without a
// negative zero.
func whole(v float64) string { return words.Number(v, 0) }

// interval writes a 95 % interval: "6 to 12".
func interval(lo, hi float64) string {
	if math.IsNaN(lo) || math.IsNaN(hi) {
		return say("ends_unknown")
	}
	return ends(whole(lo), whole(hi))
}

// ends writes the two ends of an interval.
func ends(lo, hi string) string { return say("ends", "lo", lo, "hi", hi) }
