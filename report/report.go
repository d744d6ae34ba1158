package report

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path"
	"path/filepath"
	"strings"

	"holdfast/printable"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/words"
)

// Options are the choices for a written result.
type Options struct {
	// Video asks for the videos; without it a result is written in a moment.
	Video bool
	// Hold lets the annotated video stand still at each bottom, with the angles and
	// their intervals, and shows flight and landing at a quarter of the speed.
	Hold bool
	// BlurFace takes all detail from the athlete's head in pictures and videos.
	BlurFace bool
	// Date is printed on a comparison's page as it is given; empty for none.
	Date string
	// Clip is the file of an analysis where it was opened already, turned upright; nil: it is
	// opened from its path.
	Clip *vision.Clip
	// NoPath leaves out of an analysis where its clip lies.
	NoPath bool
	// Progress is told how far the work has come.
	Progress vision.Progress
}

// Files lists what a result consists of. The paths are those of the finished
// files; what was not written is empty.
type Files struct {
	Dir string

	Analysis  string   // analysis.json
	Series    string   // series.csv
	Keypoints string   // keypoints.json
	Video     string   // annotated.mp4
	Frames    []string // frames/*.png
	CloseUps  []string // frames/*_close.jpg, the athlete without the rest of the picture

	Comparison string   // comparison.json
	SideBySide []string // sidebyside.mp4 and, with several pairs, one a pair
	Overlay    string   // overlay.png, the first pair
	Overlays   []string // overlay.png and, with several pairs, one a pair
	Curves     string   // curves.svg
	Report     string   // report.html
	Pages      []string // report.html for the coach, athlete.html for the athlete
	PDFs       []string // coach.pdf and athlete.pdf

	// Warnings says what could not be written and why, for instance the videos
	// when the clip's file is gone.
	Warnings []screening.Warning
}

// WriteAnalysis writes an analysis into the folder dir: analysis.json,
// series.csv, and, when the track is given, keypoints.json; from the clip's file
// annotated.mp4 (with Options.Video) and frames/. When the clip's file is gone,
// pictures and video are left out with a warning.
//
// The error wraps ErrCannotWrite, ErrBusy or ErrNotOurs, the context's error when
// it ended, or what else went wrong; an earlier result in dir is then untouched.
func WriteAnalysis(ctx context.Context, dir string, a *screening.Analysis, t *vision.Track, opt Options) (Files, error) {
	if a == nil {
		return Files{}, errors.New("writing an analysis: there is none")
	}
	f, err := openFolder(dir, analysisName)
	if err != nil {
		return Files{}, fmt.Errorf("writing the analysis: %w", err)
	}
	defer f.abort()
	files, err := writeAnalysis(ctx, f, a, t, opt)
	if err == nil {
		err = ctx.Err()
	}
	if err == nil {
		err = f.commit()
	}
	if err != nil {
		return Files{}, fmt.Errorf("writing the analysis: %w", err)
	}
	return files, nil
}

// Table is a file of numbers.
type Table struct {
	Name  string
	Write func(io.Writer) error
}

// Tables returns the files of an analysis that hold its numbers: analysis.json, series.csv
// and, when the track is given, keypoints.json.
func Tables(a *screening.Analysis, t *vision.Track) []Table {
	out := []Table{
		{analysisFile, func(w io.Writer) error { return printable.WriteJSON(w, withoutNil(a)) }},
		{seriesFile, func(w io.Writer) error { return writeSeries(w, newMotion(a), t) }},
	}
	if t != nil {
		out = append(out, Table{keypointsFile, func(w io.Writer) error { return writeKeypoints(w, a, t) }})
	}
	return out
}

// analysisName says whether a file belongs to the result of an analysis.
func analysisName(name string) bool {
	switch name {
	case analysisFile, seriesFile, keypointsFile, "annotated.mp4", "frames":
		return true
	}
	return false
}

func writeAnalysis(ctx context.Context, f *folder, a *screening.Analysis, t *vision.Track, opt Options) (Files, error) {
	files := Files{Dir: f.target}
	final := func(name string) string { return filepath.Join(f.target, filepath.FromSlash(name)) }
	m := newMotion(a)
	opt.Progress.Report("tables", 0, 3)
	written := *a
	if opt.NoPath {
		written.Clip.Path = ""
	}
	for _, table := range Tables(&written, t) {
		if err := f.write(table.Name, table.Write); err != nil {
			return files, err
		}
	}
	files.Analysis, files.Series = final(analysisFile), final(seriesFile)
	if t != nil {
		files.Keypoints = final(keypointsFile)
	}
	opt.Progress.Report("tables", 3, 3)

	frames, video, err := writePictures(ctx, f, m, t, opt)
	switch {
	case err == nil:
	case ctx.Err() != nil:
		return files, ctx.Err()
	case errors.Is(err, vision.ErrUnreadable), errors.Is(err, vision.ErrNoVideo):
		files.Warnings = append(files.Warnings, clipGone(a, err))
		return files, nil
	default:
		return files, err
	}
	for _, name := range frames {
		if strings.HasSuffix(name, closeUpEnd) {
			files.CloseUps = append(files.CloseUps, final(name))
		} else {
			files.Frames = append(files.Frames, final(name))
		}
	}
	if video != "" {
		files.Video = final(video)
	}
	return files, nil
}

func clipGone(a *screening.Analysis, err error) screening.Warning {
	reason := err.Error()
	var ce *vision.ClipError
	if errors.As(err, &ce) && ce.Err != nil {
		reason = ce.Err.Error()
	}
	return screening.Warning{Code: "no_pictures", Params: words.Params{
		"form": "clip", "name": a.Clip.Name, "reason": strings.TrimSuffix(reason, "."), "path": a.Clip.Path}}
}

// openClip opens the file of an analysis. Another file under the same name, which
// phones that count from 1 again bring about, must not be shown with these
// numbers: it is refused like a missing one.
func openClip(ctx context.Context, a *screening.Analysis) (*vision.Clip, error) {
	clip, err := vision.Open(ctx, a.Clip.Path)
	if err == nil {
		clip.Turn(a.Clip.TurnedDeg)
	}
	if err != nil || len(a.Clip.SHA256) != 2*sha256.Size {
		return clip, err
	}
	f, err := os.Open(a.Clip.Path)
	if err != nil {
		return nil, &vision.ClipError{Path: a.Clip.Path, Err: fmt.Errorf("%w: %w", vision.ErrUnreadable, err)}
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return nil, &vision.ClipError{Path: a.Clip.Path, Err: fmt.Errorf("%w: %w", vision.ErrUnreadable, err)}
	}
	if !strings.EqualFold(hex.EncodeToString(sum.Sum(nil)), a.Clip.SHA256) {
		return nil, &vision.ClipError{Path: a.Clip.Path, Err: fmt.Errorf("%w: it is another file than the one analysed", vision.ErrUnreadable)}
	}
	return clip, nil
}

// writePictures goes through the clip once, for the stills and the video.
func writePictures(ctx context.Context, f *folder, m *motion, t *vision.Track, opt Options) (stills []string, video string, err error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	clip := opt.Clip
	if clip == nil {
		clip, err = openClip(ctx, m.a)
	}
	if err != nil {
		return nil, "", err
	}
	ms := moments(m.a)
	if len(ms) == 0 && !opt.Video {
		return nil, "", nil
	}
	if err := f.mkdir("frames"); err != nil {
		return nil, "", err
	}
	// Which frame is nearest to each moment can be told ahead from the container.
	wanted := map[int][]moment{}
	last := -1
	for _, mo := range ms {
		i := nearest(clip.TimesS, mo.timeS*m.slow)
		if i < 0 || math.Abs(clip.TimesS[i]-mo.timeS*m.slow) > 0.25*m.slow {
			continue // the file is shorter than what was analysed
		}
		wanted[i] = append(wanted[i], mo)
		last = max(last, i)
	}
	an, err := newAnnotator(m, clip.WidthPx, clip.HeightPx)
	if err != nil {
		return nil, "", err
	}
	defer an.close()
	frames, err := clip.FramesWithOptions(ctx, vision.FrameOptions{MaxSidePx: longestSidePx})
	if err != nil {
		return nil, "", err
	}
	defer frames.Close()
	var out *vision.VideoWriter
	if opt.Video {
		out, err = vision.NewVideoWriter(ctx, f.path("annotated.mp4"), an.canvas.WidthPx(), an.canvas.HeightPx())
		if err != nil {
			return nil, "", f.videoError("annotated.mp4", err)
		}
		defer out.Abort()
		video = "annotated.mp4"
	}
	if an.near, err = newCloseUps(m, ms, clip.WidthPx, clip.HeightPx); err != nil {
		return nil, "", err
	}
	an.reel = newReel(m, clip.TimesS, opt.Hold)
	if opt.BlurFace {
		an.heads = m.heads(t)
	}
	total := len(clip.TimesS)
	if !opt.Video {
		total = last + 1
	}
	for opt.Video || len(wanted) > 0 {
		fr, err := frames.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, "", err
		}
		names, err := an.frame(f, fr, wanted[fr.Index], out)
		delete(wanted, fr.Index)
		fr.Close()
		if err != nil {
			return nil, "", err
		}
		stills = append(stills, names...)
		opt.Progress.Report("pictures", min(fr.Index+1, total), total)
	}
	if out != nil {
		if err := out.Close(); err != nil {
			return nil, "", f.videoError("annotated.mp4", err)
		}
	}
	return stills, video, nil
}

// frame draws one frame into the video and the stills that show it.
func (a *annotator) frame(f *folder, fr *vision.Frame, stills []moment, out *vision.VideoWriter) (names []string, err error) {
	if out == nil && len(stills) == 0 {
		return nil, nil
	}
	if err := a.heads.Hide(fr); err != nil {
		return nil, err
	}
	picture, err := vision.CanvasOf(fr)
	if err != nil {
		return nil, err
	}
	timeS := fr.TimeS / a.m.slow
	if out != nil {
		if err := a.film(picture, fr, out); err != nil {
			return nil, f.videoError("annotated.mp4", err)
		}
	}
	for _, mo := range stills {
		title := repTitle(mo.rep, len(a.m.a.Reps), mo.label)
		c, err := a.draw(picture, timeS, shown{title: title})
		if err != nil {
			return nil, err
		}
		png, err := c.PNG()
		if err != nil {
			return nil, err
		}
		base := path.Join("frames", fmt.Sprintf("rep%02d_%d_%s_%s", mo.rep.Number, mo.order, mo.name, mo.rep.Tempo))
		if err := f.bytes(base+".png", png); err != nil {
			return nil, err
		}
		names = append(names, base+".png")
		if a.near == nil {
			continue
		}
		near, err := a.near.jpeg(picture, timeS)
		if err != nil {
			return nil, err
		}
		if err := f.bytes(base+closeUpEnd, near); err != nil {
			return nil, err
		}
		names = append(names, base+closeUpEnd)
	}
	return names, nil
}

// film adds a frame to the video: once, or for as long as the picture stands still.
func (a *annotator) film(picture *vision.Canvas, fr *vision.Frame, out *vision.VideoWriter) error {
	timeS, at := fr.TimeS/a.m.slow, a.reel.shownS(fr.TimeS)
	how := shown{}
	if a.reel.slowly(fr.TimeS) {
		how.speed = 1 / (a.reel.stretch * a.m.slow)
	}
	h := a.reel.holds[fr.Index]
	if h != nil {
		how = shown{held: h, title: repTitle(h.rep, len(a.m.a.Reps), h.label)}
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
		at += holdForS
		a.reel.lingersS += holdForS
		if c, err = a.draw(picture, timeS, shown{}); err != nil {
			return err
		}
	}
	return out.Write(c, at)
}

// videoError marks a video that could not be written as a failure to write,
// unless something is not installed or the work was stopped.
func (f *folder) videoError(name string, err error) error {
	if errors.Is(err, vision.ErrNotInstalled) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return f.cannotWrite(name, err)
}

func number(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	b, err := screening.EncodeJSON(v)
	if err != nil {
		return ""
	}
	return string(b)
}
