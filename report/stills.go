package report

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
	"holdfast/screening"
	"holdfast/vision"
)

// shots are the pictures that pages show besides those of the pairs: nil where there
// is none.
type shots struct{ easiest, second, takeoff, landing *shot }

// shot is the athlete at one moment, in the same body size in every shot.
type shot struct {
	of     kinematics.Condition
	clip   int
	rep    *kinematics.Rep
	timeS  float64
	marked []byte // JPEG with the angle at each joint
	bare   []byte // JPEG with the body's lines alone
}

// The size of a shot, and the length of the leg on it.
const (
	shotW, shotH = 540, 660
	shotLegPx    = 285.0
)

// planShots says which moments are worth a picture, as far as the reps are there.
func planShots(c *screening.Comparison) shots {
	var out shots
	at := func(of kinematics.Condition, clip, number int, when func(*kinematics.Rep) float64) *shot {
		if clip < 0 || clip >= len(c.Analyses) || c.Analyses[clip] == nil {
			return nil
		}
		a := c.Analyses[clip]
		for i := range a.Reps {
			if r := &a.Reps[i]; r.Number == number && !math.IsNaN(when(r)) {
				return &shot{of: of, clip: clip, rep: r, timeS: when(r)}
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
	for _, t := range shownReps(c) {
		switch {
		case isJump(t.of):
			out.takeoff = at(t.of, t.clip, t.rep.Number, bottom)
			out.landing = at(t.of, t.clip, t.rep.Number, landed)
		case t.of.Rank == 1:
			out.easiest = at(t.of, t.clip, t.rep.Number, bottom)
		case t.of.Rank == 2:
			out.second = at(t.of, t.clip, t.rep.Number, bottom)
		}
	}
	if l := c.Landing; l != nil {
		slow, jump := c.Condition(events.TempoSlow.String()), c.Condition(events.TempoJump.String())
		if s := at(slow, l.SlowClip, l.SlowRep, bottom); s != nil {
			out.easiest = s
		}
		if s := at(jump, l.JumpClip, l.JumpRep, landed); s != nil {
			out.takeoff, out.landing = at(jump, l.JumpClip, l.JumpRep, bottom), s
		}
	}
	return out
}

// takeShots draws the shots, going through each clip once. A clip that is gone
// gives a warning and no pictures.
func takeShots(ctx context.Context, c *screening.Comparison, opt Options) (shots, []screening.Warning, error) {
	out := planShots(c)
	var warnings []screening.Warning
	byClip := map[int][]*shot{}
	var clips []int
	forward := 0.0
	for _, s := range []*shot{out.easiest, out.second, out.takeoff, out.landing} {
		if s == nil {
			continue
		}
		if forward == 0 {
			forward = newMotion(c.Analyses[s.clip]).forward
		}
		if byClip[s.clip] == nil {
			clips = append(clips, s.clip)
		}
		byClip[s.clip] = append(byClip[s.clip], s)
	}
	for k, clip := range clips {
		opt.Progress.Report("pictures for the pages", k, len(clips))
		wanted := byClip[clip]
		slices.SortStableFunc(wanted, func(a, b *shot) int { return cmp.Compare(a.timeS, b.timeS) })
		err := takeFrom(ctx, c.Analyses[clip], wanted, forward, opt)
		if ctx.Err() != nil {
			err = ctx.Err() // whatever came of being stopped
		}
		if err != nil && ctx.Err() == nil && (errors.Is(err, vision.ErrUnreadable) || errors.Is(err, vision.ErrNoVideo)) {
			warnings = append(warnings, clipGone(c.Analyses[clip], err))
			err = nil
		}
		if err != nil {
			return shots{}, nil, fmt.Errorf("drawing pictures of %s: %w", c.Analyses[clip].Clip.Name, err)
		}
	}
	opt.Progress.Report("pictures for the pages", len(clips), len(clips))
	return out, warnings, nil
}

// takeFrom draws the shots of one clip, in the order of their times.
func takeFrom(ctx context.Context, a *screening.Analysis, wanted []*shot, forward float64, opt Options) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	clip, err := openClip(ctx, a)
	if err != nil {
		return err
	}
	frames, err := clip.FramesWithOptions(ctx, vision.FrameOptions{MaxSidePx: longestSidePx})
	if err != nil {
		return err
	}
	p := &player{frames: frames}
	defer p.close()
	m := newMotion(a)
	if opt.BlurFace {
		p.heads = m.heads(nil)
	}
	canvas, err := vision.NewCanvas(shotW, shotH, ground)
	if err != nil {
		return err
	}
	defer canvas.Close()
	for _, s := range wanted {
		fr, err := p.at(s.timeS * m.slow)
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
func (s *shot) draw(c *vision.Canvas, m *motion, fr *vision.Frame, forward float64) error {
	leg, at := m.legLengthPx(s.rep), m.point("ankle", s.timeS)
	if !(leg > 0) || at.Missing() {
		return nil
	}
	k := shotLegPx / leg
	kx := k
	if m.forward != forward {
		kx = -k
	}
	// The knees and arms stand before the ankle, the hips behind it.
	to := vision.Affine{A: kx, E: k, C: shotW*(0.5-0.03*forward) - kx*at.X, F: 0.88*shotH - k*at.Y}
	picture, err := vision.CanvasOf(fr)
	if err != nil {
		return err
	}
	all := image.Rect(0, 0, shotW, shotH)
	b := m.bodyAt(s.timeS, to)
	const u = 1.55
	for _, marked := range []bool{false, true} {
		if err := c.DrawWarped(picture, onFrame(to, fr), all, ground); err != nil {
			return err
		}
		if marked {
			for j := range numJoints {
				b.arc(c, j, u)
			}
		}
		b.skeleton(c, skeletonStyle{unit: u, color: paper, markers: true})
		if marked {
			for _, l := range b.jointLabels(func(j joint) (string, string) {
				if math.IsNaN(b.deg[j]) {
					return "", ""
				}
				return j.name() + " " + degrees(b.deg[j]), ""
			}, u, [4]float64{0, 0, shotW, shotH}) {
				l.draw(c, u)
			}
		}
		jpeg, err := c.JPEG(88)
		if err != nil {
			return err
		}
		if marked {
			s.marked = jpeg
		} else {
			s.bare = jpeg
		}
	}
	return nil
}
