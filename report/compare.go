package report

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"holdfast/printable"
	"holdfast/report/chart"
	"holdfast/report/marked"
	"holdfast/report/pages"
	"holdfast/report/pdf"
	"holdfast/report/resultdir"
	"holdfast/report/sidebyside"
	"holdfast/screening"
)

// WriteComparison writes a comparison into the folder dir: comparison.json,
// report.html and coach.pdf for the coach, athlete.html and athlete.pdf for the
// athlete, curves.svg, overlay.png (the first pair, and with several pairs one more
// a pair) and, with Options.Video, sidebyside.mp4 likewise. What a missing clip would
// have shown is left out with a warning.
//
// The error wraps ErrCannotWrite, ErrBusy or ErrNotOurs, the context's error when
// it ended, or what else went wrong; an earlier result in dir is then untouched.
func WriteComparison(ctx context.Context, dir string, c *screening.Comparison, opt Options) (Files, error) {
	if c == nil {
		return Files{}, errors.New("writing a comparison: there is none")
	}
	f, err := resultdir.Open(dir, comparisonName)
	if err != nil {
		return Files{}, fmt.Errorf("writing the comparison: %w", err)
	}
	defer f.Abort()
	files, err := writeComparison(ctx, f, c, opt)
	if err == nil {
		err = ctx.Err()
	}
	if err == nil {
		err = f.Commit()
	}
	if err != nil {
		return Files{}, fmt.Errorf("writing the comparison: %w", err)
	}
	return files, nil
}

// comparisonName says whether a file belongs to the result of a comparison.
func comparisonName(name string) bool {
	switch name {
	case resultdir.ComparisonFile, "report.html", "athlete.html", "coach.pdf", "athlete.pdf", "curves.svg":
		return true
	}
	return strings.HasPrefix(name, "overlay") && strings.HasSuffix(name, ".png") ||
		strings.HasPrefix(name, "sidebyside") && strings.HasSuffix(name, ".mp4")
}

func writeComparison(ctx context.Context, f *resultdir.Folder, c *screening.Comparison, opt Options) (Files, error) {
	files := Files{Dir: f.Target}
	final := func(name string) string { return filepath.Join(f.Target, name) }
	if err := f.Write(resultdir.ComparisonFile, func(w io.Writer) error {
		return printable.WriteJSON(w, withoutNil(c))
	}); err != nil {
		return files, err
	}
	files.Comparison = final(resultdir.ComparisonFile)

	p := pages.Material{Comparison: c, Date: opt.Date, Warnings: append([]screening.Warning{}, c.Warnings...)}
	if !c.FromFront() {
		if err := writePictures(ctx, f, &files, &p, opt); err != nil {
			return files, err
		}
	}
	for i, marks := range opt.Marks {
		if i >= len(c.Analyses) || c.Analyses[i] == nil {
			continue
		}
		pictures, gone, err := marked.Pictures(ctx, c.Analyses[i], marks, opt.BlurFace)
		if err != nil {
			return files, err
		}
		p.Marked = append(p.Marked, pictures...)
		if gone != nil {
			files.warn(*gone)
		}
	}
	return files, writePages(f, &files, &p, opt)
}

// writePictures writes the curves, and the pictures and videos of the pairs.
func writePictures(ctx context.Context, f *resultdir.Folder, files *Files, p *pages.Material, opt Options) error {
	c := p.Comparison
	final := func(name string) string { return filepath.Join(f.Target, name) }
	if p.Curves = chart.EveryRep(c); p.Curves != nil {
		if err := f.Bytes("curves.svg", p.Curves.File()); err != nil {
			return err
		}
		files.Curves = final("curves.svg")
	}
	made, err := sidebyside.Write(ctx, f, c,
		sidebyside.Options{Video: opt.Video, BlurFace: opt.BlurFace, Progress: opt.Progress})
	if err != nil {
		return err
	}
	for _, pair := range made.Pairs {
		for _, name := range pair.Overlays {
			files.Overlays = append(files.Overlays, final(name))
			files.Overlay = files.Overlays[0]
		}
		for _, name := range pair.SideBySide {
			files.SideBySide = append(files.SideBySide, final(name))
		}
		if pair.Warning != nil {
			files.warn(*pair.Warning)
		}
		p.Pairs = append(p.Pairs, pair.Shown)
	}
	p.Shots = made.Shots
	p.Warn(files.Warnings...)
	files.warn(made.Warnings...)
	p.Warn(made.Warnings...)
	return nil
}

// writePages writes the pages of the coach and the athlete.
func writePages(f *resultdir.Folder, files *Files, p *pages.Material, opt Options) error {
	final := func(name string) string { return filepath.Join(f.Target, name) }
	p.Warn(files.Warnings...)
	coach, athlete := p.Coach(), p.Athlete()
	for _, written := range []struct {
		name string
		make func() ([]byte, error)
	}{
		{"report.html", coach.HTML},
		{"athlete.html", athlete.HTML},
		{"coach.pdf", func() ([]byte, error) { return pdf.Coach(coach, opt.Date) }},
		{"athlete.pdf", func() ([]byte, error) { return pdf.Athlete(athlete, opt.Date) }},
	} {
		b, err := written.make()
		if err != nil {
			return fmt.Errorf("making %s: %w", written.name, err)
		}
		if err := f.Bytes(written.name, b); err != nil {
			return err
		}
	}
	files.Report = final("report.html")
	files.Pages = []string{files.Report, final("athlete.html")}
	files.PDFs = []string{final("coach.pdf"), final("athlete.pdf")}
	return nil
}
