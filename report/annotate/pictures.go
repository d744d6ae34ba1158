package annotate

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"path"
	"slices"

	"golang.org/x/sync/errgroup"

	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/report/resultdir"
	"holdfast/report/said"
	"holdfast/vision/media"
	"holdfast/vision/paint"
	"holdfast/vision/pose"
)

// Options are the choices for the pictures of a clip.
type Options struct {
	// Clip is the clip where it was opened already, turned upright; nil: it is opened from its path.
	Clip *media.Clip
	// Video asks for the annotated video besides the stills.
	Video bool
	// Hold lets the video stand still at each bottom, and shows flight and landing at a quarter of the speed.
	Hold bool
	// EveryFrame shows each frame of the clip in the video, also where there are more than 30 a second.
	EveryFrame bool
	// BlurFace takes all detail from the athlete's head.
	BlurFace bool
	// Progress is told how far the work has come.
	Progress media.Progress
}

// Files are the names of what was written, within the result's folder.
type Files struct {
	Stills   []string // frames/*.png
	CloseUps []string // frames/*_close.jpg, the athlete without the rest of the picture
	Video    string   // annotated.mp4; empty without one
}

// Write goes through the clip once, for the stills and the video.
func Write(ctx context.Context, f *resultdir.Folder, m *motion.Motion, t *pose.Track,
	opt Options) (out Files, err error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	clip := opt.Clip
	if clip == nil {
		clip, err = motion.OpenClip(ctx, m.Analysis)
	}
	if err != nil {
		return out, err
	}
	ms := motion.Moments(m.Analysis)
	if len(ms) == 0 && !opt.Video {
		return out, nil
	}
	if err := f.Mkdir("frames"); err != nil {
		return out, err
	}
	// Which frame is nearest to each moment can be told ahead from the container.
	wanted := map[int][]motion.Moment{}
	last := -1
	for _, mo := range ms {
		i := motion.Nearest(clip.TimesS, mo.TimeS*m.Slowdown)
		if i < 0 || math.Abs(clip.TimesS[i]-mo.TimeS*m.Slowdown) > 0.25*m.Slowdown {
			continue // the file is shorter than what was analysed
		}
		wanted[i] = append(wanted[i], mo)
		last = max(last, i)
	}
	an, err := newAnnotator(m, clip.WidthPx, clip.HeightPx)
	if err != nil {
		return out, err
	}
	defer an.close()
	var film *media.VideoWriter
	if opt.Video {
		film, err = media.NewVideoWriter(ctx, f.Path("annotated.mp4"), an.canvas.WidthPx(), an.canvas.HeightPx())
		if err != nil {
			return out, f.VideoError("annotated.mp4", err)
		}
		defer film.Abort()
		out.Video = "annotated.mp4"
	}
	if an.near, err = newCloseUps(m, ms, clip.WidthPx, clip.HeightPx); err != nil {
		return out, err
	}
	an.reel = newReel(m, clip.TimesS, opt.Hold)
	an.reel.everyFrame = opt.EveryFrame
	needed := []int{0}
	if opt.Video {
		needed = append(needed, an.reel.frames(clip.TimesS)...)
	}
	needed = slices.AppendSeq(needed, maps.Keys(wanted))
	slices.Sort(needed)
	frames, err := clip.FramesWithOptions(ctx,
		media.FrameOptions{MaxSidePx: drawn.LongestSidePx, Only: slices.Compact(needed)})
	if err != nil {
		return out, err
	}
	defer frames.Close()
	if opt.BlurFace {
		an.heads = m.Heads(t)
	}
	total := len(clip.TimesS)
	if !opt.Video {
		total = last + 1
	}
	next, stop := ahead(ctx, frames)
	defer stop()
	var encoding errgroup.Group // of stills, while later frames are drawn
	encoding.SetLimit(2)
	defer func() { _ = encoding.Wait() }() // what it says was asked for already, or something else went wrong
	for opt.Video || len(wanted) > 0 {
		fr, err := next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return out, err
		}
		stills, closeUps, err := an.frame(f, fr, wanted[fr.Index], film, encoding.Go)
		delete(wanted, fr.Index)
		fr.Close()
		if err != nil {
			return out, err
		}
		out.Stills, out.CloseUps = append(out.Stills, stills...), append(out.CloseUps, closeUps...)
		opt.Progress.Report("pictures", min(fr.Index+1, total), total)
	}
	if err := encoding.Wait(); err != nil {
		return out, err
	}
	opt.Progress.Report("pictures", total, total)
	if film != nil {
		if err := film.Close(); err != nil {
			return out, f.VideoError("annotated.mp4", err)
		}
	}
	return out, nil
}

// ahead reads frames while earlier ones are drawn. What next returns is the caller's to close;
// stop must be called before the frames are closed.
func ahead(ctx context.Context, frames *media.Frames) (next func() (*media.Frame, error), stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	read := make(chan *media.Frame, 1)
	var ended error // why there are no more, once read is closed
	go func() {
		defer close(read)
		for {
			fr, err := frames.Next()
			if err != nil {
				ended = err
				return
			}
			select {
			case read <- fr:
			case <-ctx.Done():
				fr.Close()
				ended = ctx.Err()
				return
			}
		}
	}()
	next = func() (*media.Frame, error) {
		if fr, ok := <-read; ok {
			return fr, nil
		}
		return nil, ended
	}
	return next, func() {
		cancel()
		for fr := range read {
			fr.Close()
		}
	}
}

// frame draws one frame into the video and the stills that show it, which are encoded later.
func (a *annotator) frame(f *resultdir.Folder, fr *media.Frame, at []motion.Moment, film *media.VideoWriter,
	later func(func() error)) (stills, closeUps []string, err error) {
	if len(at) == 0 && (film == nil || !a.reel.shows(fr.Index, fr.TimeS)) {
		return nil, nil, nil
	}
	if err := fr.Hide(a.heads); err != nil {
		return nil, nil, err
	}
	picture, err := fr.Canvas()
	if err != nil {
		return nil, nil, err
	}
	timeS := fr.TimeS / a.m.Slowdown
	if film != nil && a.reel.shows(fr.Index, fr.TimeS) {
		if err := a.film(picture, fr, film); err != nil {
			return nil, nil, f.VideoError("annotated.mp4", err)
		}
	}
	for _, mo := range at {
		title := said.RepTitle(mo.Rep, len(a.m.Analysis.Reps), mo.Label)
		c, err := a.draw(picture, timeS, shown{title: title})
		if err != nil {
			return nil, nil, err
		}
		base := path.Join("frames", fmt.Sprintf("rep%02d_%d_%s_%s", mo.Rep.Number, mo.Order, mo.Name, mo.Rep.Tempo))
		still := c.Still()
		later(func() error { return encode(f, base+".png", still.PNG) })
		stills = append(stills, base+".png")
		if a.near == nil {
			continue
		}
		near, err := a.near.draw(picture, timeS)
		if err != nil {
			return nil, nil, err
		}
		closeUp := near.Still()
		later(func() error {
			return encode(f, base+closeUpEnd, func() ([]byte, error) { return closeUp.JPEG(closeUpQuality) })
		})
		closeUps = append(closeUps, base+closeUpEnd)
	}
	return stills, closeUps, nil
}

// encode writes a picture of the result.
func encode(f *resultdir.Folder, name string, of func() ([]byte, error)) error {
	content, err := of()
	if err != nil {
		return err
	}
	return f.Bytes(name, content)
}

// film adds a frame to the video: once, or for as long as the picture stands still.
func (a *annotator) film(picture *paint.Canvas, fr *media.Frame, out *media.VideoWriter) error {
	timeS, at := fr.TimeS/a.m.Slowdown, a.reel.shownS(fr.TimeS)
	how := shown{}
	if a.reel.slowly(fr.TimeS) {
		how.speed = 1 / (a.reel.stretch * a.m.Slowdown)
	}
	h := a.reel.holds[fr.Index]
	if h != nil {
		how = shown{held: h, title: said.RepTitle(h.rep, len(a.m.Analysis.Reps), h.label)}
	}
	c, err := a.draw(picture, timeS, how)
	if err != nil {
		return err
	}
	if h != nil {
		// The same picture as often as it takes.
		n := int(math.Round(holdForS / holdEveryS))
		for k := range n {
			if err := out.Write(c, at+float64(k)*holdEveryS); err != nil {
				return err
			}
		}
		if c, err = a.draw(picture, timeS, shown{}); err != nil {
			return err
		}
	}
	return out.Write(c, a.reel.showed(fr.Index, fr.TimeS))
}
