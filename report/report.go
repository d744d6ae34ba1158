package report

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"

	"holdfast/printable"
	"holdfast/report/annotate"
	"holdfast/report/marked"
	"holdfast/report/motion"
	"holdfast/report/resultdir"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// Options are the choices for a written result.
type Options struct {
	// Video asks for the videos; without it a result is written in a moment.
	Video bool
	// Hold lets the annotated video stand still at each bottom, with the angles and
	// their intervals, and shows flight and landing at a quarter of the speed.
	Hold bool
	// EveryFrame shows each frame in the annotated video, also where there are more than 30 a second.
	EveryFrame bool
	// BlurFace takes all detail from the athlete's head in pictures and videos.
	BlurFace bool
	// Date is printed on a comparison's page as it is given; empty for none.
	Date string
	// Clip is the file of an analysis where it was opened already, turned upright; nil: it is
	// opened from its path.
	Clip *media.Clip
	// NoPath leaves out of an analysis where its clip lies.
	NoPath bool
	// Marks are what a coach marked by hand, for each clip of a comparison in order; nil: nothing.
	Marks [][]marked.Mark
	// Progress is told how far the work has come.
	Progress media.Progress
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

// warn adds warnings that are not there yet.
func (f *Files) warn(ws ...screening.Warning) {
	for _, w := range ws {
		if !slices.ContainsFunc(f.Warnings, func(old screening.Warning) bool {
			return screening.Say(old) == screening.Say(w)
		}) {
			f.Warnings = append(f.Warnings, w)
		}
	}
}

// WriteAnalysis writes an analysis into the folder dir: analysis.json,
// series.csv, and, when the track is given, keypoints.json; from the clip's file
// annotated.mp4 (with Options.Video) and frames/. When the clip's file is gone,
// pictures and video are left out with a warning.
//
// The error wraps ErrCannotWrite, ErrBusy or ErrNotOurs, the context's error when
// it ended, or what else went wrong; an earlier result in dir is then untouched.
func WriteAnalysis(ctx context.Context, dir string, a *screening.Analysis, t *pose.Track, opt Options) (Files, error) {
	if a == nil {
		return Files{}, errors.New("writing an analysis: there is none")
	}
	f, err := resultdir.Open(dir, analysisName)
	if err != nil {
		return Files{}, fmt.Errorf("writing the analysis: %w", err)
	}
	defer f.Abort()
	files, err := writeAnalysis(ctx, f, a, t, opt)
	if err == nil {
		err = ctx.Err()
	}
	if err == nil {
		err = f.Commit()
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
func Tables(a *screening.Analysis, t *pose.Track) []Table {
	out := []Table{
		{resultdir.AnalysisFile, func(w io.Writer) error { return printable.WriteJSON(w, withoutNil(a)) }},
		{resultdir.SeriesFile, func(w io.Writer) error { return writeSeries(w, motion.New(a), t) }},
	}
	if t != nil {
		out = append(out, Table{resultdir.KeypointsFile, func(w io.Writer) error { return writeKeypoints(w, a, t) }})
	}
	return out
}

// analysisName says whether a file belongs to the result of an analysis.
func analysisName(name string) bool {
	switch name {
	case resultdir.AnalysisFile, resultdir.SeriesFile, resultdir.KeypointsFile, "annotated.mp4", "frames":
		return true
	}
	return false
}

func writeAnalysis(ctx context.Context, f *resultdir.Folder, a *screening.Analysis, t *pose.Track,
	opt Options) (Files, error) {
	files := Files{Dir: f.Target}
	final := func(name string) string { return filepath.Join(f.Target, filepath.FromSlash(name)) }
	m := motion.New(a)
	opt.Progress.Report("tables", 0, 3)
	written := *a
	if opt.NoPath {
		written.Clip.Path = ""
	}
	for _, table := range Tables(&written, t) {
		if err := f.Write(table.Name, table.Write); err != nil {
			return files, err
		}
	}
	files.Analysis, files.Series = final(resultdir.AnalysisFile), final(resultdir.SeriesFile)
	if t != nil {
		files.Keypoints = final(resultdir.KeypointsFile)
	}
	opt.Progress.Report("tables", 3, 3)

	pictures, err := annotate.Write(ctx, f, m, t,
		annotate.Options{Clip: opt.Clip, Video: opt.Video, Hold: opt.Hold, EveryFrame: opt.EveryFrame, BlurFace: opt.BlurFace,
			Progress: opt.Progress})
	switch {
	case err == nil:
	case ctx.Err() != nil:
		return files, ctx.Err()
	case errors.Is(err, media.ErrUnreadable), errors.Is(err, media.ErrNoVideo):
		files.Warnings = append(files.Warnings, motion.ClipGone(a, err))
		return files, nil
	default:
		return files, err
	}
	for _, name := range pictures.Stills {
		files.Frames = append(files.Frames, final(name))
	}
	for _, name := range pictures.CloseUps {
		files.CloseUps = append(files.CloseUps, final(name))
	}
	if pictures.Video != "" {
		files.Video = final(pictures.Video)
	}
	return files, nil
}
