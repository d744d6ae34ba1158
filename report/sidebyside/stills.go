package sidebyside

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

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

// TakeShots draws the shots, going through each clip once. A clip that is gone
// gives a warning and no pictures.
func TakeShots(ctx context.Context, c *screening.Comparison, blurFace bool, progress media.Progress) (
	Shots, []screening.Warning, error) {
	out := planShots(c)
	var warnings []screening.Warning
	byClip := map[int][]*Shot{}
	var clips []int
	forward := 0.0
	for _, s := range []*Shot{out.Easiest, out.Second, out.Takeoff, out.Landing} {
		if s == nil {
			continue
		}
		if forward == 0 {
			forward = motion.New(c.Analyses[s.Clip]).Forward
		}
		if byClip[s.Clip] == nil {
			clips = append(clips, s.Clip)
		}
		byClip[s.Clip] = append(byClip[s.Clip], s)
	}
	for k, clip := range clips {
		progress.Report("pictures for the pages", k, len(clips))
		wanted := byClip[clip]
		slices.SortStableFunc(wanted, func(a, b *Shot) int { return cmp.Compare(a.TimeS, b.TimeS) })
		err := takeFrom(ctx, c.Analyses[clip], wanted, forward, blurFace)
		if ctx.Err() != nil {
			err = ctx.Err() // whatever came of being stopped
		}
		if err != nil && ctx.Err() == nil && (errors.Is(err, media.ErrUnreadable) || errors.Is(err, media.ErrNoVideo)) {
			warnings = append(warnings, motion.ClipGone(c.Analyses[clip], err))
			err = nil
		}
		if err != nil {
			return Shots{}, nil, fmt.Errorf("drawing pictures of %s: %w", c.Analyses[clip].Clip.Name, err)
		}
	}
	progress.Report("pictures for the pages", len(clips), len(clips))
	return out, warnings, nil
}

// takeFrom draws the shots of one clip, in the order of their times.
func takeFrom(ctx context.Context, a *screening.Analysis, wanted []*Shot, forward float64, blurFace bool) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	clip, err := motion.OpenClip(ctx, a)
	if err != nil {
		return err
	}
	m := motion.New(a)
	frames, err := clip.FramesWithOptions(ctx, media.FrameOptions{MaxSidePx: drawn.LongestSidePx,
		FromS: wanted[0].TimeS * m.Slowdown})
	if err != nil {
		return err
	}
	p := &motion.Player{Frames: frames}
	defer p.Close()
	if blurFace {
		p.Heads = m.Heads(nil)
	}
	canvas, err := paint.NewCanvas(shotW, shotH, drawn.Ground)
	if err != nil {
		return err
	}
	defer canvas.Close()
	for _, s := range wanted {
		fr, err := p.At(s.TimeS * m.Slowdown)
		if err != nil {
			return err
		}
		if err := s.draw(canvas, m, fr, forward); err != nil {
			return err
		}
	}
	return nil
}

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
