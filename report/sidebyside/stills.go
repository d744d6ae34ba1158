package sidebyside

import (
	"image"
	"math"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

// Shots are the pictures that pages show besides those of the pairs: nil where there
// is none.
type Shots struct{ Easiest, Second, Takeoff, Landing *Shot }

// Shot is the athlete at one moment, in the same body size in every shot.
type Shot struct {
	Of     kinematics.Condition
	Clip   int
	rep    *kinematics.Rep
	TimeS  float64
	Marked []byte // JPEG with the angle at each joint
	Bare   []byte // JPEG with the body's lines alone
}

// The size of a shot, and the length of the leg on it.
const (
	shotW, shotH = 540, 660
	shotLegPx    = 285.0
)

// planShots says which moments are worth a picture, as far as the reps are there.
func planShots(c *screening.Comparison) Shots {
	var out Shots
	at := func(of kinematics.Condition, clip, number int, when func(*kinematics.Rep) float64) *Shot {
		if clip < 0 || clip >= len(c.Analyses) || c.Analyses[clip] == nil {
			return nil
		}
		a := c.Analyses[clip]
		for i := range a.Reps {
			if r := &a.Reps[i]; r.Number == number && !math.IsNaN(when(r)) {
				return &Shot{Of: of, Clip: clip, rep: r, TimeS: when(r)}
			}
		}
		return nil
	}
	bottom := func(r *kinematics.Rep) float64 { return r.BottomS }
	landed := func(r *kinematics.Rep) float64 {
		if !(r.FlightS > 0) {
			return math.NaN()
		}
		return r.LandingBottomS
	}
	for _, t := range motion.ShownReps(c) {
		switch {
		case said.IsJump(t.Of):
			out.Takeoff = at(t.Of, t.Clip, t.Rep.Number, bottom)
			out.Landing = at(t.Of, t.Clip, t.Rep.Number, landed)
		case t.Of.Rank == 1:
			out.Easiest = at(t.Of, t.Clip, t.Rep.Number, bottom)
		case t.Of.Rank == 2:
			out.Second = at(t.Of, t.Clip, t.Rep.Number, bottom)
		}
	}
	if l := c.Landing; l != nil {
		slow, jump := c.Condition(events.TempoSlow.String()), c.Condition(events.TempoJump.String())
		if s := at(slow, l.SlowClip, l.SlowRep, bottom); s != nil {
			out.Easiest = s
		}
		if s := at(jump, l.JumpClip, l.JumpRep, landed); s != nil {
			out.Takeoff, out.Landing = at(jump, l.JumpClip, l.JumpRep, bottom), s
		}
	}
	return out
}

// takenShots are shots that are drawn as a reading comes by them.
type takenShots struct {
	Shots
	canvas *paint.Canvas
	read   []*source
}

// ask plans the drawing of the shots.
func (out Shots) ask(r *reading) (*takenShots, error) {
	taken := &takenShots{Shots: out}
	var err error
	if taken.canvas, err = paint.NewCanvas(shotW, shotH, drawn.Ground); err != nil {
		return nil, err
	}
	forward := 0.0
	for _, s := range []*Shot{out.Easiest, out.Second, out.Takeoff, out.Landing} {
		if s == nil {
			continue
		}
		m := motion.New(r.c.Analyses[s.Clip])
		if forward == 0 {
			forward = m.Forward
		}
		from := r.within(s.Clip, m, s.rep, s.TimeS)
		taken.read = append(taken.read, from)
		r.ask(moment{sinceLowS: s.TimeS - from.lowS, of: []*source{from}, timesS: []float64{s.TimeS},
			draw: func(frames []*media.Frame) error { return s.draw(taken.canvas, m, frames[0], forward) }})
	}
	return taken, nil
}

// gone says which clips are gone, so that there are no pictures of them.
func (t *takenShots) gone() (out []screening.Warning) {
	for _, s := range t.read {
		if s.gone != nil {
			out = append(out, *s.gone)
		}
	}
	return out
}

func (t *takenShots) close() { _ = t.canvas.Close() }

// draw makes both pictures of a moment. Where the leg was not tracked there is none.
func (s *Shot) draw(c *paint.Canvas, m *motion.Motion, fr *media.Frame, forward float64) error {
	leg, at := m.LegLengthPx(s.rep), m.Point("ankle", s.TimeS)
	if !(leg > 0) || at.Missing() {
		return nil
	}
	const above = 0.88 * shotH // the ankle
	k := min(shotLegPx, above/max(m.Reach(s.rep), above/shotLegPx)) / leg
	kx := k
	if m.Forward != forward {
		kx = -k
	}
	// The knees and arms stand before the ankle, the hips behind it.
	to := plane.Affine{A: kx, E: k, C: shotW*(0.5-0.03*forward) - kx*at.X, F: above - k*at.Y}
	picture, err := fr.Canvas()
	if err != nil {
		return err
	}
	all := image.Rect(0, 0, shotW, shotH)
	b := drawn.AthleteAt(m, s.TimeS, to)
	const u = 1.55
	for _, marked := range []bool{false, true} {
		if err := c.DrawWarped(picture, motion.OnFrame(to, fr), all, drawn.Ground); err != nil {
			return err
		}
		if marked {
			for _, j := range b.Joints {
				b.Arc(c, j, u)
			}
		}
		b.Skeleton(c, drawn.SkeletonStyle{Unit: u, Color: drawn.Paper, Markers: true})
		if marked {
			for _, l := range b.JointLabels(func(j said.Joint) (string, string) {
				if math.IsNaN(b.Deg[j]) {
					return "", ""
				}
				return j.Name() + " " + said.Degrees(b.Deg[j]), ""
			}, u, [4]float64{0, 0, shotW, shotH}) {
				l.Draw(c, u)
			}
		}
		jpeg, err := c.JPEG(88)
		if err != nil {
			return err
		}
		if marked {
			s.Marked = jpeg
		} else {
			s.Bare = jpeg
		}
	}
	return nil
}
