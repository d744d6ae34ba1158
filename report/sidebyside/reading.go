package sidebyside

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"holdfast/kinematics"
	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/screening"
	"holdfast/vision/media"
)

// reading goes through the clips of a comparison once, for all pictures and videos that are made of them: reps that
// are shown against each other are at the same time before or after their lowest moment.
type reading struct {
	c        *screening.Comparison
	blurFace bool
	clips    map[int]*media.Clip
	sources  []*source
	moments  []moment
}

// source is a rep that is read in order.
type source struct {
	clip  int // its number in the comparison
	m     *motion.Motion
	rep   *kinematics.Rep
	lowS  float64
	fromS float64 // the first moment that is asked for
	// player is nil until then; gone says why there will be none.
	player *motion.Player
	gone   *screening.Warning
}

// moment is one picture, of one rep or two.
type moment struct {
	sinceLowS float64
	of        []*source
	timesS    []float64 // in each
	draw      func(frames []*media.Frame) error
}

// of returns the source of a rep whose lowest moment that is.
func (r *reading) of(clip int, m *motion.Motion, rep *kinematics.Rep, lowS float64) *source {
	for _, s := range r.sources {
		if s.clip == clip && s.rep.Number == rep.Number && s.lowS == lowS {
			return s
		}
	}
	return r.add(clip, m, rep, lowS)
}

// within returns the source of a clip that comes by a time, which one that does not is made for.
func (r *reading) within(clip int, m *motion.Motion, rep *kinematics.Rep, timeS float64) *source {
	for _, s := range r.sources {
		if s.clip == clip && s.rep.StartS <= timeS && timeS <= s.rep.EndS {
			return s
		}
	}
	return r.add(clip, m, rep, timeS)
}

func (r *reading) add(clip int, m *motion.Motion, rep *kinematics.Rep, lowS float64) *source {
	s := &source{clip: clip, m: m, rep: rep, lowS: lowS, fromS: lowS}
	r.sources = append(r.sources, s)
	return s
}

// ask plans a picture.
func (r *reading) ask(mo moment) {
	for i, s := range mo.of {
		s.fromS = min(s.fromS, mo.timesS[i])
	}
	r.moments = append(r.moments, mo)
}

// run draws all that was asked for, but what is of a clip that is gone.
func (r *reading) run(ctx context.Context, progress media.Progress) error {
	const stage = "pictures for the pages"
	defer r.close()
	slices.SortStableFunc(r.moments, func(a, b moment) int { return cmp.Compare(a.sinceLowS, b.sinceLowS) })
	for n, mo := range r.moments {
		progress.Report(stage, n, len(r.moments))
		frames, err := r.read(ctx, mo)
		if err == nil && frames != nil {
			err = mo.draw(frames)
		}
		if ctx.Err() != nil {
			return ctx.Err() // whatever came of being stopped
		}
		if err != nil {
			return err
		}
	}
	progress.Report(stage, len(r.moments), len(r.moments))
	return nil
}

// read returns the frames of a moment, which hold until the next call; nil where a clip is gone.
func (r *reading) read(ctx context.Context, mo moment) ([]*media.Frame, error) {
	frames := make([]*media.Frame, len(mo.of))
	for i, s := range mo.of {
		if s.gone != nil {
			return nil, nil
		}
		var err error
		if s.player == nil {
			s.player, err = r.play(ctx, s)
		}
		if err == nil {
			frames[i], err = s.player.At(mo.timesS[i] * s.m.Slowdown)
		}
		switch {
		case err == nil:
		case ctx.Err() == nil && (errors.Is(err, media.ErrUnreadable) || errors.Is(err, media.ErrNoVideo)):
			w := motion.ClipGone(s.m.Analysis, err)
			s.gone = &w
			return nil, nil
		default:
			return nil, fmt.Errorf("drawing pictures of %s: %w", s.m.Analysis.Clip.Name, err)
		}
	}
	return frames, nil
}

// play begins to read a source.
func (r *reading) play(ctx context.Context, s *source) (*motion.Player, error) {
	clip := r.clips[s.clip]
	if clip == nil {
		var err error
		if clip, err = motion.OpenClip(ctx, s.m.Analysis); err != nil {
			return nil, err
		}
		if r.clips == nil {
			r.clips = map[int]*media.Clip{}
		}
		r.clips[s.clip] = clip
	}
	frames, err := clip.FramesWithOptions(ctx, media.FrameOptions{MaxSidePx: drawn.LongestSidePx,
		FromS: s.fromS * s.m.Slowdown})
	if err != nil {
		return nil, err
	}
	p := &motion.Player{Frames: frames}
	if r.blurFace {
		p.Heads = s.m.Heads(nil)
	}
	return p, nil
}

// close ends what is still being read.
func (r *reading) close() {
	for _, s := range r.sources {
		if s.player != nil {
			s.player.Close()
			s.player = nil
		}
	}
}
