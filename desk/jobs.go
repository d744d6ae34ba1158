package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"holdfast/archive"
	"holdfast/desk/refusal"
	"holdfast/desk/work"
)

// jobOptions are the options of a job.
type jobOptions struct {
	// Of a rendering and of a report.
	BlurFace bool `json:"blur_face,omitempty"`
	// Stills asks for the pictures of the reps instead of the video.
	Stills bool `json:"stills,omitempty"`
	// Change names what a clip is measured again with.
	Change string `json:"change,omitempty"`
	// Video asks for the videos of a report too.
	Video bool `json:"video,omitempty"`
}

// optionsOf reads the options of a job; what cannot be read are none.
func optionsOf(j archive.Job) (opt jobOptions) {
	if json.Unmarshal(j.Options, &opt) != nil {
		return jobOptions{}
	}
	return opt
}

// AskedFor says whether somebody asked for a job: the desk's own come with a correction.
func AskedFor(j archive.Job) bool {
	return !optionsOf(j).Stills
}

func (d *Desk) addJob(ctx context.Context, job archive.Job, opt jobOptions) (archive.Job, error) {
	text, err := json.Marshal(opt)
	if err != nil {
		return archive.Job{}, fmt.Errorf("writing the options of a job: %w", err)
	}
	job.Options = text
	return d.Queue.Add(ctx, job, AskedFor(job) && job.Kind != archive.JobMeasure)
}

// Analyze queues the analysis of a clip that has no result, or with anew of one that has one, too.
func (d *Desk) Analyze(ctx context.Context, clipID string, anew bool) (archive.Job, error) {
	clip, err := d.Clip(ctx, clipID)
	if err == nil && clip.Result != nil && !anew {
		err = &refusal.Error{Kind: refusal.Conflict, Code: "measured_already"}
	}
	if err != nil {
		return archive.Job{}, err
	}
	return d.addJob(ctx, archive.Job{ClipID: clip.ID, Kind: archive.JobAnalyze}, jobOptions{})
}

// Render queues the annotated video of a measured clip, and returns the name that it will
// have among the result's files.
func (d *Desk) Render(ctx context.Context, clipID string, blurFace bool) (job archive.Job, file string, err error) {
	clip, err := d.Measured(ctx, clipID)
	if err == nil {
		job, err = d.addJob(ctx, archive.Job{ClipID: clip.ID, Kind: archive.JobRender}, jobOptions{BlurFace: blurFace})
	}
	return job, videoName(blurFace), err
}

// Retry queues again what a job that has ended was to do.
func (d *Desk) Retry(ctx context.Context, id string) (archive.Job, error) {
	job, err := d.archive.Job(ctx, id)
	if err != nil {
		return job, refusal.NoSuch("job", err)
	}
	if job.State == archive.JobWaiting || job.State == archive.JobRunning {
		return job, &refusal.Error{Kind: refusal.Conflict, Code: "job_not_ended"}
	}
	return d.addJob(ctx, job, optionsOf(job))
}

// Cancel ends a job that waits or runs.
func (d *Desk) Cancel(ctx context.Context, id string) error {
	job, err := d.archive.Job(ctx, id)
	if err != nil {
		return refusal.NoSuch("job", err)
	}
	ok, err := d.Queue.Cancel(ctx, job.ID)
	if err == nil && !ok {
		err = &refusal.Error{Kind: refusal.Conflict, Code: "job_ended"}
	}
	return err
}

// do does a job of any kind.
func (d *Desk) do(ctx context.Context, job archive.Job, progress func(stage string, done, total int)) (err error) {
	switch job.Kind {
	case archive.JobMeasure:
		return d.remeasure(ctx, job.ClipID)
	case archive.JobReport:
		return d.doReport(ctx, job, progress)
	}
	clip, err := d.archive.Clip(ctx, job.ClipID)
	if err != nil {
		return err
	}
	athlete, err := d.archive.Athlete(ctx, clip.AthleteID)
	if err != nil {
		return err
	}
	order := work.Order{Kind: work.KindAnalyze, Model: d.opt.Model, Athlete: athlete.Name,
		Clips: []work.Clip{d.orderOf(ctx, clip)}}
	switch job.Kind {
	case archive.JobAnalyze:
		return d.run(ctx, order, progress, func(dir, made string) error { return d.keepMade(ctx, clip.ID, dir, made) })
	case archive.JobRender:
		return d.render(ctx, clip, optionsOf(job), order, progress)
	}
	return fmt.Errorf("nobody knows a job of kind %q", job.Kind)
}

// run has an order done in a folder of its own, and tells keep what was made there.
func (d *Desk) run(
	ctx context.Context, order work.Order, progress func(stage string, done, total int), keep func(dir, made string) error,
) (err error) {
	if err = d.archive.Fetch(ctx, order.Files()...); err != nil {
		return err
	}
	if order.Dir, err = os.MkdirTemp(d.opt.WorkDir, "job-"); err != nil {
		return fmt.Errorf("making a folder to work in: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(order.Dir)) }()
	return d.worker.Run(ctx, order, func(l work.Line) error {
		switch l.Event {
		case work.EventProgress:
			progress(l.Stage, l.Done, l.Total)
		case work.EventMade:
			return keep(order.Dir, l.Name)
		}
		return nil
	})
}

// orderOf describes a clip to a child process.
func (d *Desk) orderOf(ctx context.Context, clip archive.Clip) work.Clip {
	w := work.Clip{Path: d.archive.FilePath(clip.SHA256), Name: clip.Name, Tempo: clip.Tempo, Movement: clip.Movement}
	if clip.HeightCm != nil {
		w.HeightCm = *clip.HeightCm
	}
	if clip.CaptureFPS != nil {
		w.CaptureFPS = *clip.CaptureFPS
	}
	if clip.TrimFromS != nil {
		w.TrimFromS = *clip.TrimFromS
	}
	if clip.TrimToS != nil {
		w.TrimToS = *clip.TrimToS
	}
	switch visit, err := d.archive.Visit(ctx, clip.VisitID); {
	case err != nil:
		d.log.Warn("the load of a visit is not known")
		d.log.Debug("the load of a visit is not known", "clip", clip.ID, "error", err)
	case visit.LoadKg != nil:
		w.LoadKg = *visit.LoadKg
	}
	if clip.Result != nil {
		w.Analysis = d.archive.FilePath(measuredAs(clip))
		w.Track = d.archive.FilePath(FileOf(clip.Result.Files, work.MadeTrack).SHA256)
	}
	return w
}

// keepMade keeps what the analysis of a clip has made as soon as it is there.
func (d *Desk) keepMade(ctx context.Context, clipID, dir, made string) error {
	if _, err := d.archive.Clip(ctx, clipID); err != nil {
		return err // deleted meanwhile: nothing of it is to be kept
	}
	switch made {
	case work.MadeAnalysis:
		files, err := d.putFolder(ctx, filepath.Join(dir, work.MadeAnalysis), work.MadeTrack)
		if err != nil {
			return err
		}
		return d.keepAnalysis(ctx, clipID, files)
	case work.MadeWebVideo:
		f, err := d.putFile(ctx, filepath.Join(dir, work.MadeWebVideo), work.MadeWebVideo)
		if err != nil {
			return err
		}
		return d.addToResult(ctx, clipID, "", f)
	}
	return nil
}

// render makes pictures of a stored result.
func (d *Desk) render(
	ctx context.Context, clip archive.Clip, opt jobOptions, order work.Order, progress func(stage string, done, total int),
) error {
	if clip.Result == nil {
		return &refusal.Error{Kind: refusal.Conflict, Code: "not_measured_2"}
	}
	based := measuredAs(clip)
	order.Kind, order.Video, order.BlurFace = work.KindVideo, true, opt.BlurFace
	if opt.Stills {
		order.Kind, order.Video = work.KindStills, false
	}
	return d.run(ctx, order, progress, func(dir, _ string) error {
		result := filepath.Join(dir, work.MadeAnalysis)
		if opt.Stills {
			return d.keepStills(ctx, clip.ID, based, result)
		}
		f, err := d.putFile(ctx, filepath.Join(result, "annotated.mp4"), videoName(opt.BlurFace))
		if errors.Is(err, fs.ErrNotExist) {
			return &refusal.Error{Kind: refusal.NotMeasurable, Code: "video_not_drawn"}
		}
		if err != nil {
			return err
		}
		return d.addToResult(ctx, clip.ID, based, f)
	})
}

// videoName is the name of the annotated video in a result.
func videoName(blurred bool) string {
	if blurred {
		return "annotated_blurred.mp4"
	}
	return "annotated.mp4"
}
