package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"runtime/debug"
	"slices"
	"strings"

	"holdfast/archive"
	"holdfast/desk/queue"
	"holdfast/desk/refusal"
	"holdfast/desk/trim"
	"holdfast/desk/work"
	"holdfast/report"
	"holdfast/screening"
	"holdfast/vision/pose"
)

// again measures a clip anew with corrections and saves the result; seq is asked
// for the number of the corrections only when the measuring went well. Who calls it has
// the clip's turn.
func (d *Desk) again(ctx context.Context, clipID string, doc json.RawMessage, seq func() (int, error)) error {
	clip, err := d.archive.Clip(ctx, clipID)
	if err != nil {
		return err
	}
	track, err := d.Track(ctx, clip)
	if err != nil {
		return err
	}
	a, err := d.measured(ctx, clip, track, doc)
	if err != nil {
		return err
	}
	// The numbers are written in a moment; a job draws the stills after them.
	var files []archive.File
	for _, t := range report.Tables(a, track) {
		f, err := d.put(ctx, t.Name, t.Write)
		if err != nil {
			return err
		}
		files = append(files, f)
	}
	with := d.orderOf(ctx, clip).MeasuredWith()
	note, err := d.put(ctx, work.MeasuredWithFile, with.Write)
	if err != nil {
		return err
	}
	files = append(files, note)
	n, err := seq()
	if err != nil {
		return err
	}
	// What shows the numbers of before goes with them: a missing picture is better than
	// a wrong one, and the stills are drawn in a moment. A new name changes no number.
	same := false
	was, err := d.measuredWithOf(ctx, clip)
	if err == nil && was != nil && n == clip.Result.CorrectionSeq && !d.Outdated(clip).Numbers {
		renamed := *was
		renamed.Name = clip.Name
		same = renamed == with
	}
	for _, f := range clip.Result.Files {
		if FileOf(files, f.Name).Name == "" && (same || !strings.HasPrefix(f.Name, "annotated") && !isStill(f)) {
			files = append(files, f)
		}
	}
	saved, err := d.archive.SaveResult(ctx, clipID, files, n)
	if err != nil {
		return err
	}
	d.log.Info("measured again", "clip", clipID, "revision", saved.Revision)
	d.opt.ClipChanged(clipID)
	if same {
		return nil
	}
	return d.drawStills(ctx, clipID)
}

// measured measures the track of a clip with what the coach gave and corrected. A panic,
// which would be a fault of the program and not of the clip, becomes an error.
func (d *Desk) measured(
	ctx context.Context, clip archive.Clip, track *pose.Track, doc json.RawMessage,
) (a *screening.Analysis, err error) {
	before, err := d.Analysis(clip)
	if err != nil {
		return nil, err
	}
	corrections, err := readCorrections(doc)
	if err != nil {
		return nil, err
	}
	tempo, err := work.TempoOf(clip.Tempo)
	if err != nil {
		return nil, refusal.Because(err)
	}
	order := d.orderOf(ctx, clip)
	// no athlete: the name stands in the archive's row
	opt := screening.Options{Tempo: tempo, HeightCm: order.HeightCm, CaptureFPS: order.CaptureFPS, LoadKg: order.Load(),
		Movement: order.Movement}
	part := trim.Part{FromS: clip.TrimFromS, ToS: clip.TrimToS}
	corrections = part.Corrections(corrections, track, corrections.SlowMotionFactor)
	if !corrections.Empty() {
		opt.Corrections = corrections
	}
	track = part.Track(track)
	info := before.Clip
	info.Name, info.Path, info.SHA256 = clip.Name, clip.Name, clip.SHA256
	defer func() {
		if v := recover(); v != nil {
			d.log.Error("measuring again panicked", "stack", string(debug.Stack()))
			a, err = nil, &refusal.Error{Code: "corrections_fail", Err: fmt.Errorf("panic: %v", v)}
		}
	}()
	if a, err = d.opt.Measure(info, track, opt); err != nil {
		return nil, part.Refused(err)
	}
	a.Clip.Name, a.Clip.SHA256, a.Clip.Path = clip.Name, clip.SHA256, ""
	part.Tell(a)
	return a, nil
}

func readCorrections(doc json.RawMessage) (*screening.Corrections, error) {
	var c screening.Corrections
	if len(doc) > 0 {
		if err := json.Unmarshal(doc, &c); err != nil {
			return nil, fmt.Errorf("reading the corrections: %w: %w", archive.ErrDamaged, err)
		}
	}
	return &c, nil
}

// drawStills queues the stills of a clip that was measured again, in place of
// those that are being drawn of what it was before.
func (d *Desk) drawStills(ctx context.Context, clipID string) error {
	stills := jobOptions{Stills: true}
	err := d.Queue.CancelAll(ctx, func(j archive.Job) bool {
		return j.ClipID == clipID && j.State == archive.JobRunning && j.Kind == archive.JobRender && optionsOf(j) == stills
	})
	if err == nil {
		_, err = d.addJob(ctx, archive.Job{ClipID: clipID, Kind: archive.JobRender}, stills)
	}
	return err
}

// Outdated says what of a result an earlier program made otherwise than this one does.
type Outdated struct {
	// Numbers are to be measured again from the stored track, or with Track from the clip.
	Numbers, Track bool
	// By is the program that made them.
	By string
}

// Outdated says what of a clip's result is outdated; of one that cannot be read nothing is.
func (d *Desk) Outdated(clip archive.Clip) (o Outdated) {
	a, err := d.Summary(clip)
	if err != nil {
		return o
	}
	o.By = a.Program
	if o.Numbers, o.Track, err = a.Outdated(d.opt.Model); err != nil {
		d.log.Warn("whether results are outdated is not known")
		d.log.Debug("whether results are outdated is not known", "clip", clip.ID, "error", err)
	}
	return o
}

// stale says whether a clip was changed after its numbers were measured, for instance by a
// program that was killed between the two, or whether its track is to be measured otherwise by now.
// Of a result that does not say what it was
// measured with nothing is outdated; one whose note cannot be read is measured again,
// which writes it anew.
func (d *Desk) stale(ctx context.Context, clip archive.Clip) (bool, error) {
	_, seq, err := d.archive.CurrentCorrections(ctx, clip.ID)
	if err != nil {
		return false, err
	}
	was, err := d.measuredWithOf(ctx, clip)
	changed := seq != clip.Result.CorrectionSeq || err != nil || was != nil && *was != d.orderOf(ctx, clip).MeasuredWith()
	old := d.Outdated(clip)
	return changed || old.Numbers && !old.Track, nil
}

// remeasure measures a clip with what was last said and corrected of it, unless its result
// has that already.
func (d *Desk) remeasure(ctx context.Context, clipID string) error {
	back, err := d.turns.Take(ctx, clipID)
	if err != nil {
		return err
	}
	defer back()
	clip, err := d.archive.Clip(ctx, clipID)
	if err != nil || clip.Result == nil {
		return err
	}
	stale, err := d.stale(ctx, clip)
	if err != nil || !stale {
		return err
	}
	doc, seq, err := d.archive.CurrentCorrections(ctx, clipID)
	if err != nil {
		return err
	}
	return d.again(ctx, clipID, doc, func() (int, error) { return seq, nil })
}

// adopt queues what a program that was killed has left undone: the analysis of clips that
// have neither a result nor a job, the measuring of those that were changed after it, and
// the stills of those that have none. It returns how many jobs that are.
func (d *Desk) adopt(ctx context.Context) (int, error) {
	jobs, err := d.archive.Jobs(ctx, -1)
	if err != nil {
		return 0, err
	}
	of := map[string][]archive.Job{}
	for _, j := range jobs {
		of[j.ClipID] = append(of[j.ClipID], j)
	}
	athletes, err := d.archive.Athletes(ctx)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, a := range athletes {
		clips, err := d.archive.ClipsOf(ctx, a.ID)
		if err != nil {
			return n, err
		}
		for _, c := range clips {
			job, opt, err := d.missing(ctx, c, of[c.ID])
			if err != nil {
				return n, err
			}
			if job.Kind == "" {
				continue
			}
			if _, err := d.addJob(ctx, job, opt); err != nil {
				return n, err
			}
			n++
		}
	}
	return n, nil
}

// missing returns the job that a clip wants which has had these; its kind is empty when it
// wants none.
func (d *Desk) missing(ctx context.Context, c archive.Clip, had []archive.Job) (archive.Job, jobOptions, error) {
	if c.Result == nil {
		if len(had) > 0 {
			return archive.Job{}, jobOptions{}, nil
		}
		return archive.Job{ClipID: c.ID, Kind: archive.JobAnalyze}, jobOptions{}, nil
	}
	// The change itself stands among the options, so that one which cannot be measured is
	// tried once; to try it again is the coach's to say.
	once := func(kind, change string) (archive.Job, jobOptions, error) {
		opt := jobOptions{Change: change}
		if slices.ContainsFunc(had, func(j archive.Job) bool {
			return j.Kind == kind && optionsOf(j) == opt && (j.State == archive.JobFailed || queue.Unfinished(j))
		}) {
			return archive.Job{}, opt, nil
		}
		return archive.Job{ClipID: c.ID, Kind: kind}, opt, nil
	}
	if d.Outdated(c).Track {
		return once(archive.JobAnalyze, "another network than that of "+measuredAs(c))
	}
	stale, err := d.stale(ctx, c)
	if err != nil {
		return archive.Job{}, jobOptions{}, err
	}
	if stale {
		_, seq, err := d.archive.CurrentCorrections(ctx, c.ID)
		if err != nil {
			return archive.Job{}, jobOptions{}, err
		}
		return once(archive.JobMeasure, fmt.Sprintf("%d %+v %s", seq, d.orderOf(ctx, c).MeasuredWith(), screening.Program))
	}
	stills := jobOptions{Stills: true}
	drawn := slices.ContainsFunc(c.Result.Files, isStill) || slices.ContainsFunc(had, func(j archive.Job) bool {
		// Another would not help; one that was cancelled said nothing.
		return optionsOf(j) == stills && j.State != archive.JobCancelled &&
			(j.State == archive.JobWaiting || !j.CreatedAt.Before(c.Result.CreatedAt))
	})
	if drawn {
		return archive.Job{}, stills, nil
	}
	if a, err := d.Summary(c); err != nil || len(a.Reps) == 0 {
		return archive.Job{}, stills, nil // nothing to draw, or nothing to draw it from
	}
	return archive.Job{ClipID: c.ID, Kind: archive.JobRender}, stills, nil
}
