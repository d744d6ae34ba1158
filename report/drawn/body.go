package drawn

import (
	"image/color"
	"math"

	"holdfast/report/motion"
	"holdfast/report/said"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

// body is the athlete at one instant, in places of the picture drawn on.
type Athlete struct {
	Points  map[string]plane.XY
	Deg     [said.NumJoints]float64
	Forward float64
	// Joints are those that count in the movement, from the ground up.
	Joints    []said.Joint
	filled    bool
	fromFront bool
}

// AthleteAt reads the athlete at a time, with places moved by the mapping. A
// mapping that mirrors turns the facing too.
func AthleteAt(m *motion.Motion, timeS float64, to plane.Affine) Athlete {
	b := Athlete{Points: map[string]plane.XY{}, Forward: m.Forward, filled: m.Filled(timeS),
		Joints: said.JointsOf(m.Analysis), fromFront: m.Analysis.View.Front}
	if b.fromFront {
		b.place(m, timeS, to, "ear", "shoulder") // where the athlete ends
	}
	if to.A < 0 {
		b.Forward = -b.Forward
	}
	if m.Guessed(timeS) {
		for j := range b.Deg {
			b.Deg[j] = math.NaN()
		}
		return b
	}
	for _, bone := range b.lines() {
		b.place(m, timeS, to, bone[:]...)
	}
	for _, j := range b.Joints {
		b.Deg[j] = m.Value(m.Analysis.Series.AnglesDeg[j.Angle()], timeS)
	}
	return b
}

// lines are those of the body.
func (b *Athlete) lines() [][2]string {
	if b.fromFront {
		return frontBones
	}
	return bones
}

// place reads points of the athlete.
func (b *Athlete) place(m *motion.Motion, timeS float64, to plane.Affine, names ...string) {
	for _, name := range names {
		if p := m.Point(name, timeS); !p.Missing() {
			b.Points[name] = to.Apply(p)
		}
	}
}

// bones are the lines of the near side's skeleton, by landmark name.
var bones = [][2]string{
	{"ear", "shoulder"}, {"shoulder", "elbow"}, {"elbow", "wrist"},
	{"shoulder", "hip"}, {"hip", "knee"}, {"knee", "ankle"}, {"ankle", "heel"}, {"heel", "toe"},
}

// SkeletonStyle says how a body's lines look.
type SkeletonStyle struct {
	Unit    float64 // 1 on a picture of 360 × 640 pixels
	Color   color.NRGBA
	Dashed  bool
	Markers bool
}

// Skeleton draws a body's lines and joints.
func (b *Athlete) Skeleton(c *paint.Canvas, st SkeletonStyle) {
	u := st.Unit
	var dash []float64
	if st.Dashed || b.filled {
		dash = []float64{5 * u, 4.5 * u}
	}
	for _, under := range []bool{true, false} {
		for _, bone := range b.lines() {
			p, ok1 := b.Points[bone[0]]
			q, ok2 := b.Points[bone[1]]
			if !ok1 || !ok2 {
				continue
			}
			if under {
				c.Line(p, q, paint.Stroke{WidthPx: 4.2 * u, Color: Faded(Outline, 120), Dash: dash})
			} else {
				c.Line(p, q, paint.Stroke{WidthPx: 2.2 * u, Color: st.Color, Dash: dash})
			}
		}
	}
	ends := []string{"ear", "shoulder", "elbow", "wrist", "heel", "toe"}
	if b.fromFront {
		ends = frontEnds
	}
	for _, name := range ends {
		if p, ok := b.Points[name]; ok {
			c.Disc(p, 2.6*u, Outline)
			c.Disc(p, 2*u, st.Color)
		}
	}
	if !st.Markers {
		return
	}
	for _, j := range b.Joints {
		if p, ok := b.Points[j.Landmark()]; ok {
			Marker(c, j, p, 4*u, b.filled)
		}
	}
}

// Arc draws the angle of a joint as a wedge between the zero line (dashed) and
// the moving limb. It is built from the limb and the printed value, so that the
// picture and the number always say the same.
func (b *Athlete) Arc(c *paint.Canvas, j said.Joint, u float64) {
	at, ok := b.Points[j.Landmark()]
	limb, ok2 := b.Points[[...]string{"knee", "ankle", "knee", "elbow", "wrist"}[j]]
	deg := b.Deg[j]
	if !ok || !ok2 || math.IsNaN(deg) {
		return
	}
	// On the screen, y down and facing right: the shank swings clockwise as the
	// knee flexes, the thigh anticlockwise as the hip flexes, the shank clockwise
	// as the ankle dorsiflexes, the arm anticlockwise.
	turn := [...]float64{1, 1, -1, -1, -1}[j] * b.Forward
	limbDeg := math.Atan2(limb.Y-at.Y, limb.X-at.X) * 180 / math.Pi
	zeroDeg := limbDeg - turn*deg
	r := [...]float64{34, 26, 26, 26, 22}[j] * u
	col := JointColor(j)
	c.Wedge(at, r, zeroDeg, turn*deg, Faded(col, 105))
	s, co := math.Sincos(zeroDeg * math.Pi / 180)
	zero := at.Add(co*r*1.25, s*r*1.25)
	// The dark rim keeps the arc apart from a wall that is as bright as its colour.
	c.Arc(at, r, zeroDeg, turn*deg, paint.Stroke{WidthPx: 3.2 * u, Color: Outline})
	c.Line(at, zero, paint.Stroke{WidthPx: 2.9 * u, Color: Faded(Outline, 140)})
	c.Arc(at, r, zeroDeg, turn*deg, paint.Stroke{WidthPx: 1.8 * u, Color: col})
	c.Line(at, zero, paint.Stroke{WidthPx: 1.5 * u, Color: col, Dash: []float64{2.5 * u, 3 * u}})
}

// LabelInFront says whether a joint's label stands in front of it.
func LabelInFront(j said.Joint) bool { return j == said.Knee || j == said.Elbow }

// JointLabels places a label for each joint at a fixed side of it, so that it
// does not jump from frame to frame: in front of knee and elbow, behind the others.
// Where two meet, the upper one moves up; all stay within the frame box.
func (b *Athlete) JointLabels(text func(said.Joint) (string, string), u float64, frame [4]float64) []label {
	var ls []label
	for _, j := range b.Joints {
		at, ok := b.Points[j.Landmark()]
		if !ok {
			continue
		}
		first, second := text(j)
		if first == "" {
			continue
		}
		w := paint.TextWidth(first, paint.TextStyle{SizePx: LabelFont * u, Bold: true})
		h := 18 * u
		if second != "" {
			w = math.Max(w, paint.TextWidth(second, paint.TextStyle{SizePx: smallFont * u}))
			h = 33 * u
		}
		w += 13 * u
		side := b.Forward
		gap := 34 * u
		dy := 0.0
		switch j {
		case said.Ankle:
			side, gap, dy = -side, 22*u, -4*u
		case said.Hip, said.Shoulder:
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
		ls = append(ls, label{text: first, second: second, box: [4]float64{x0, y0, x0 + w, y0 + h}, col: JointColor(j)})
	}
	return ls
}

// label is a few words on a dark pill.
type label struct {
	text   string
	second string // a smaller second line
	box    [4]float64
	col    color.NRGBA
}

func (l *label) Draw(c *paint.Canvas, u float64) {
	c.RoundRect(plane.XY{X: l.box[0], Y: l.box[1]}, plane.XY{X: l.box[2], Y: l.box[3]}, 4*u,
		color.NRGBA{0x10, 0x13, 0x18, 205})
	c.RoundRect(plane.XY{X: l.box[0], Y: l.box[1]}, plane.XY{X: l.box[0] + 3*u, Y: l.box[3]}, 1.5*u, l.col)
	x := l.box[0] + 7*u
	y := l.box[1] + 9.5*u
	if l.second == "" {
		y = (l.box[1] + l.box[3]) / 2
	}
	c.Text(plane.XY{X: x, Y: y}, l.text, paint.TextStyle{SizePx: LabelFont * u, Bold: true, Color: Paper, Middle: true})
	if l.second != "" {
		c.Text(plane.XY{X: x, Y: l.box[3] - 9*u}, l.second,
			paint.TextStyle{SizePx: smallFont * u, Color: Paper, Middle: true})
	}
}

const LabelFont, smallFont = 12.5, 11.0

// Marker draws the joint's own sign: a triangle for the ankle, a disc for the
// knee, a square for the hip, a diamond for the shoulder, a triangle on its tip for the elbow;
// hollow when the place was filled in.
func Marker(c *paint.Canvas, j said.Joint, at plane.XY, r float64, hollow bool) {
	shape := func(r float64, col color.NRGBA) {
		switch j {
		case said.Ankle:
			c.Convex([]plane.XY{at.Add(0, -1.25*r), at.Add(1.1*r, 0.75*r), at.Add(-1.1*r, 0.75*r)}, col)
		case said.Knee:
			c.Disc(at, r, col)
		case said.Hip:
			c.Convex([]plane.XY{at.Add(-0.9*r, -0.9*r), at.Add(0.9*r, -0.9*r), at.Add(0.9*r, 0.9*r), at.Add(-0.9*r, 0.9*r)}, col)
		case said.Shoulder:
			d := 1.25 * r
			c.Convex([]plane.XY{at.Add(0, -d), at.Add(d, 0), at.Add(0, d), at.Add(-d, 0)}, col)
		case said.Elbow:
			c.Convex([]plane.XY{at.Add(0, 1.25*r), at.Add(-1.1*r, -0.75*r), at.Add(1.1*r, -0.75*r)}, col)
		}
	}
	shape(r*1.35, Outline)
	shape(r, JointColor(j))
	if hollow {
		shape(r*0.6, Ground)
	}
}

// JointColor is the joint's colour on dark ground and on the picture.
func JointColor(j said.Joint) color.NRGBA {
	return [...]color.NRGBA{Orange, SkyBlue, purple, Green, Vermilion}[j]
}

// LongestSidePx is the longest side of a picture: larger clips are shown smaller, as 4K gains nothing here.
const LongestSidePx = 1920
