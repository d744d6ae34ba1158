package desk

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"holdfast/archive"
	"holdfast/desk/refusal"
	"holdfast/desk/work"
	"holdfast/report/marked"
)

// ReportFiles are the files of a comparison that are made when they are asked for.
var ReportFiles = []string{"report.html", "athlete.html", "coach.pdf", "athlete.pdf", "curves.svg", "overlay.png",
	"sidebyside.mp4"}

// reportFolder begins the names of all files of reports.
const reportFolder = "made-"

func isReport(f archive.File) bool { return strings.HasPrefix(f.Name, reportFolder) }

// folderOf is where the files of a report lie in the comparison. The key is in it, so that
// what was made before a correction is not taken for what was made after.
func (c Compared) folderOf(blurFace bool) string {
	folder := reportFolder + c.key + "/"
	if blurFace {
		folder += "blurred/"
	}
	return folder
}

// Report returns a file of a comparison's report, as it was made of the present numbers:
// its name is empty when that was not done yet.
func (c Compared) Report(name string, blurFace bool) archive.File {
	return FileOf(c.Files, c.folderOf(blurFace)+name)
}

// IsReport says whether a report may have a file of such a name.
func IsReport(name string) bool {
	return slices.Contains(ReportFiles, name) || !strings.ContainsAny(name, "/\\") &&
		(strings.HasPrefix(name, "overlay") && strings.HasSuffix(name, ".png") || isVideo(name))
}

func isVideo(name string) bool {
	return strings.HasPrefix(name, "sidebyside") && strings.HasSuffix(name, ".mp4")
}

// MakeReport has the report of a comparison made that a file belongs to, unless it is
// there, and returns when it is. It goes on when whoever asked goes away.
func (d *Desk) MakeReport(ctx context.Context, comparisonID, name string, blurFace bool) error {
	if !IsReport(name) {
		return refusal.NoSuch("file", archive.ErrNotFound)
	}
	// A clip may be corrected while its report is made: then it is made once more.
	for range 3 {
		c, err := d.Comparison(ctx, comparisonID)
		if err != nil || c.Report(name, blurFace).Name != "" {
			return err
		}
		if c.Old { // its pictures would be of other numbers
			return &refusal.Error{Kind: refusal.Conflict, Code: "comparison_busy"}
		}
		made := c.key
		job, err := d.addJob(ctx, archive.Job{ComparisonID: c.ID, Kind: archive.JobReport},
			jobOptions{BlurFace: blurFace, Video: isVideo(name)})
		if err == nil {
			job, err = d.Queue.Wait(ctx, job.ID)
		}
		if err != nil {
			return refusal.NoSuch("comparison", err)
		}
		switch job.State {
		case archive.JobCancelled:
			return &refusal.Error{Kind: refusal.Conflict, Code: "report_cancelled"}
		case archive.JobFailed:
			return &refusal.Error{Kind: refusal.NotMeasurable, Text: job.Error, Hint: job.Hint}
		}
		if c, err = d.Comparison(ctx, comparisonID); err != nil {
			return err
		}
		if c.Report(name, blurFace).Name == "" && c.key == made {
			return &refusal.Error{Kind: refusal.Missing, Code: "no_such_report"}
		}
	}
	return &refusal.Error{Kind: refusal.Conflict, Code: "report_outdated"}
}

// cancelReports ends the reports that are wanted of a comparison.
func (d *Desk) cancelReports(ctx context.Context, comparisonID string) error {
	return d.Queue.CancelAll(ctx, func(j archive.Job) bool { return j.ComparisonID == comparisonID })
}

// doReport makes a report of a comparison in a child process: its pictures need the clips
// decoded.
func (d *Desk) doReport(ctx context.Context, job archive.Job, progress func(stage string, done, total int)) error {
	c, err := d.keepNumbers(ctx, job.ComparisonID)
	if err != nil {
		return err
	}
	opt := optionsOf(job)
	return d.run(ctx, d.reportOrder(ctx, c, opt), progress, func(dir, _ string) error {
		return d.keepReport(ctx, c, opt.BlurFace, filepath.Join(dir, work.MadeAnalysis))
	})
}

// reportOrder orders a report of a comparison that the archive has.
func (d *Desk) reportOrder(ctx context.Context, c Compared, opt jobOptions) work.Order {
	o := work.Order{
		Kind: work.KindCompare, Athlete: c.Athlete.Name, BlurFace: opt.BlurFace, Video: opt.Video, Axis: c.from.Axis,
		Comparison: d.archive.FilePath(FileOf(c.Files, ComparisonFile).SHA256), Date: d.opt.Now().Format("2006-01-02"),
	}
	for i, k := range c.Clips {
		one := d.orderOf(ctx, k)
		one.Marks = marked.Read(c.marks[i])
		o.Clips = append(o.Clips, one)
	}
	for _, k := range c.Fronts {
		o.Fronts = append(o.Fronts, d.orderOf(ctx, k))
	}
	return o
}

// keepNumbers returns a comparison whose present numbers the archive has.
func (d *Desk) keepNumbers(ctx context.Context, id string) (Compared, error) {
	back, err := d.turns.Take(ctx, id)
	if err != nil {
		return Compared{}, err
	}
	defer back()
	c, err := d.Comparison(ctx, id)
	if err != nil || c.stored {
		return c, err
	}
	files, err := d.putNumbers(ctx, c.Numbers, c.from)
	if err != nil {
		return c, err
	}
	// The reports of the numbers of before go with them.
	if err := d.archive.ReplaceComparisonFiles(ctx, id, files); err != nil {
		return c, err
	}
	return d.Comparison(ctx, id)
}

// keepReport puts a report's files into the archive. What is there already stays: the
// same page with a video in it is another page. A report of numbers that are others by now
// is thrown away.
func (d *Desk) keepReport(ctx context.Context, of Compared, blurFace bool, dir string) error {
	back, err := d.turns.Take(ctx, of.ID)
	if err != nil {
		return err
	}
	defer back()
	c, err := d.Comparison(ctx, of.ID)
	if err != nil || c.key != of.key {
		return err
	}
	// The numbers are kept already, without the athlete's name.
	if err := os.Remove(filepath.Join(dir, ComparisonFile)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("keeping a report: %w", err)
	}
	files, err := d.putFolder(ctx, dir)
	if err != nil {
		return err
	}
	// What was made of other numbers or under another name goes.
	kept := slices.DeleteFunc(c.Files, func(f archive.File) bool {
		return isReport(f) && !strings.HasPrefix(f.Name, reportFolder+c.key+"/")
	})
	for _, f := range files {
		if f.Name = c.folderOf(blurFace) + f.Name; FileOf(kept, f.Name).Name == "" {
			kept = append(kept, f)
		}
	}
	return d.archive.ReplaceComparisonFiles(ctx, c.ID, kept)
}
