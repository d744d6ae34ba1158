package media

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"

	"holdfast/vision/paint"
)

// TranscodeOptions are the choices for Transcode.
type TranscodeOptions struct {
	// MaxSidePx limits the longer side; 0 means 1280.
	MaxSidePx int
	// Heads are made unrecognisable; nil: none.
	Heads *paint.Heads
}

const (
	// pageSidePx is the default of TranscodeOptions.MaxSidePx.
	pageSidePx = 1280
	// keyEvery is how many frames lie between two that can be shown by themselves.
	// Few, so that a browser that jumps to a frame decodes ten at most.
	keyEvery = 10
)

// Transcode writes a clip as a video that a browser plays and jumps about in: H.264
// in MP4, upright, without sound. Every frame of the clip is in it at its own time,
// from the first frame on. Pictures alone are carried over: no place, date, device or
// other note of the file goes along. Progress is told the frames done.
//
// The file appears under its name only when it is complete. The error wraps
// ErrUnreadable when the clip cannot be decoded, ErrNotInstalled without ffmpeg, or the
// context's error.
func Transcode(ctx context.Context, clip *Clip, path string, opt TranscodeOptions, progress Progress) error {
	const stage = "video for the page"
	side := opt.MaxSidePx
	if side <= 0 {
		side = pageSidePx
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	frames, err := clip.FramesWithOptions(ctx, FrameOptions{MaxSidePx: max(2, side)})
	if err != nil {
		return fmt.Errorf("making the video for the page: %w", err)
	}
	defer frames.Close()
	t := transcoder{ctx: ctx, path: path, heads: opt.Heads}
	defer t.close()
	progress.Report(stage, 0, len(clip.TimesS))
	for n := 1; ; n++ {
		fr, err := frames.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil {
			err = t.add(fr)
			fr.Close()
		}
		if err != nil {
			return fmt.Errorf("making the video for the page: %w", err)
		}
		progress.Report(stage, n, max(n, len(clip.TimesS)))
	}
	if err := t.out.Close(); err != nil {
		return fmt.Errorf("making the video for the page: %w", err)
	}
	return nil
}

// transcoder passes frames on to a video.
type transcoder struct {
	ctx   context.Context
	path  string
	heads *paint.Heads
	out   *VideoWriter
	// even holds a picture whose size is odd, stretched by a pixel: H.264 needs even
	// sizes, and a black column would shift what a page draws over the video.
	even  *paint.Canvas
	lastS float64
}

func (t *transcoder) close() {
	if t.out != nil {
		t.out.Abort()
	}
	_ = t.even.Close()
}

func (t *transcoder) add(fr *Frame) error {
	if err := fr.Hide(t.heads); err != nil {
		return err
	}
	c, err := fr.Canvas()
	if err != nil {
		return err
	}
	w, h := (c.WidthPx()+1)/2*2, (c.HeightPx()+1)/2*2
	if t.out == nil {
		if w != c.WidthPx() || h != c.HeightPx() {
			if t.even, err = paint.NewCanvas(w, h, color.NRGBA{A: 255}); err != nil {
				return err
			}
		}
		t.lastS = math.Inf(-1)
		if t.out, err = openVideo(t.ctx, t.path, w, h, videoForScrubbing); err != nil {
			return err
		}
	}
	if t.even != nil {
		if err := t.even.DrawScaled(c, image.Rect(0, 0, w, h)); err != nil {
			return err
		}
		c = t.even
	}
	// Two frames at the same time, which a damaged file may hold, stay two frames.
	t.lastS = math.Max(fr.TimeS, t.lastS+1.0/ticksPerSecond)
	return t.out.Write(c, t.lastS)
}
