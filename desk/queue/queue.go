// Package queue works through the jobs of an archive, one at a time: the network uses all
// cores, and two clips at once would take longer, not shorter.
//
// The table of jobs outlives the program. One goroutine (Run) takes a job at a time and has
// it done by Options.Do, which knows the kinds. A job that ends the process that does it is
// done once more, then it is put aside; the ends of the server are not counted.
package queue

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"time"

	"holdfast/archive"
	"holdfast/desk/meter"
	"holdfast/desk/refusal"
	"holdfast/desk/work"
	"holdfast/words"
)

// Options say what a queue works on and how.
type Options struct {
	Archive *archive.Archive
	Log     *slog.Logger
	Now     func() time.Time
	// Most is how many jobs may wait.
	Most int
	// Do does a job and tells how far it has come. What goes wrong with it is a refusal, or
	// any other error, whose text the page is not told.
	Do func(ctx context.Context, job archive.Job, progress func(stage string, done, total int)) error
	// Changed hears that the list of jobs is not what it was.
	Changed func()
}

// Queue is the jobs of an archive and the one that is being done.
type Queue struct {
	// Meter counts what is done.
	Meter *meter.Meter

	opt  Options
	wake chan struct{} // holds one: there may be a job

	// finish writes a job's end into the archive, and trouble is the pause after the
	// archive could not be used; tests replace both.
	finish  func(ctx context.Context, id string, state archive.JobState, text, hint string) error
	trouble time.Duration

	mu      sync.Mutex
	current *atWork
	taking  chan struct{} // closed when the job that is being taken is the current one; nil: none is
	ended   *endedJob     // whose end is not in the archive yet
	version int           // counts the changes of the queue
	news    chan struct{} // closed at the next change
}

// atWork is the job that is being done.
type atWork struct {
	job       archive.Job
	cancel    context.CancelFunc
	cancelled bool
	lost      bool // another has it by now, or cancelled it

	stage       string
	done, total int
	begun       time.Time // of the job
	since       time.Time // of the stage
	from        int       // steps done when the stage was first heard of
	saved       time.Time // when progress was last written to the archive
}

// endedJob is the end of a job, or that it is set back to wait again: until the archive
// has it, the archive takes the job for one that runs.
type endedJob struct {
	id         string
	state      archive.JobState
	text, hint string
}

const (
	// Listed is how many jobs a page shows.
	Listed = 200
	// progressSave is how often the archive hears of progress.
	progressSave = 5 * time.Second
	// archiveTime bounds each writing of a job's end, also when the server stops.
	archiveTime = 10 * time.Second
	// troubleTime is the pause after the archive could not be used.
	troubleTime = 5 * time.Second
	// maxEnds is how often a clip may end the program that reads it before it is put
	// aside: once may be another's doing, such as a computer short of memory.
	maxEnds = 2
)

// New returns a queue, which works while Run does. All options are needed.
func New(opt Options) *Queue {
	return &Queue{Meter: &meter.Meter{}, opt: opt, wake: make(chan struct{}, 1), version: 1, news: make(chan struct{}),
		finish: opt.Archive.FinishJob, trouble: troubleTime}
}

// Changed tells whoever listens, and Run, that the queue is not what it was.
func (q *Queue) Changed() {
	q.tell()
	select {
	case q.wake <- struct{}{}:
	default:
	}
}

func (q *Queue) tell() {
	q.mu.Lock()
	q.version++
	close(q.news)
	q.news = make(chan struct{})
	q.mu.Unlock()
	q.opt.Changed()
}

// Version counts the changes of the queue.
func (q *Queue) Version() int {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.version
}

// Run works until the context ends.
func (q *Queue) Run(ctx context.Context) {
	defer q.signs(ctx)()
	for ctx.Err() == nil {
		did, err := q.next(ctx)
		if did {
			continue
		}
		pause := q.otherNews()
		if err != nil && ctx.Err() == nil {
			q.opt.Log.Error("the queue cannot be read or written; it is tried again")
			q.opt.Log.Debug("the queue cannot be read or written", "error", err)
			pause = time.After(q.trouble)
		}
		select {
		case <-ctx.Done():
		case <-q.wake:
		case <-pause:
		}
	}
}

// take takes the next job out of the archive. A job is either there as waiting, or being
// taken, or the current one: a cancel finds it.
func (q *Queue) take(ctx context.Context, cancel context.CancelFunc) (*atWork, error) {
	taking := make(chan struct{})
	q.mu.Lock()
	q.taking = taking
	q.mu.Unlock()
	job, ok, err := q.opt.Archive.NextJob(ctx)
	q.mu.Lock()
	defer q.mu.Unlock()
	q.taking = nil
	close(taking)
	if err != nil || !ok {
		return nil, err
	}
	now := q.opt.Now()
	q.current = &atWork{job: job, cancel: cancel, begun: now, since: now}
	return q.current, nil
}

// next does the next job, if there is one.
func (q *Queue) next(ctx context.Context) (bool, error) {
	if err := q.writeEnd(ctx); err != nil {
		return false, err
	}
	jobCtx, cancel := context.WithCancel(ctx)
	defer cancel()
	at, err := q.take(ctx, cancel)
	if err != nil || at == nil {
		return false, err
	}
	q.Changed()
	job := at.job
	log := q.opt.Log.With("job", job.ID, "clip", job.ClipID, "kind", job.Kind)
	log.Info("job begins", "attempt", job.Attempt)
	renewed := q.renewing(jobCtx, at)
	err = q.opt.Do(jobCtx, job, func(stage string, done, total int) { q.progress(ctx, at, stage, done, total) })
	cancel()
	<-renewed
	q.mu.Lock()
	now := q.opt.Now()
	took := now.Sub(at.begun)
	q.countStage(at.stage, at.done, now.Sub(at.since))
	q.mu.Unlock()
	if q.leave(ctx, at, err) {
		q.countEnd(job, archive.JobWaiting, err, took)
		log.Warn("the job is another's by now, was cancelled, or waits to be tried again")
		q.Changed()
		return true, nil
	}
	q.mu.Lock()
	stage, steps, total := at.stage, at.done, at.total
	if ctx.Err() != nil && err != nil && !at.cancelled {
		q.current = nil
		q.mu.Unlock()
		end, done := context.WithTimeout(context.WithoutCancel(ctx), archiveTime)
		defer done()
		log.Info("job stopped with the server; it will begin again")
		return true, q.opt.Archive.ReturnJob(end, job.ID)
	}
	ended := endOf(job, err, at.cancelled)
	q.countEnd(job, ended.state, err, took)
	q.current, q.ended = nil, &ended
	q.mu.Unlock()
	if err != nil {
		log.Debug("job failed", "error", err)
	}
	log.Info("job ended", "state", ended.state, "seconds", took.Round(time.Millisecond).Seconds())
	if stage != "" && ended.state != archive.JobWaiting { // it is written now and then only
		last, done := context.WithTimeout(context.WithoutCancel(ctx), archiveTime)
		_ = q.opt.Archive.UpdateJob(last, job.ID, stage, steps, total)
		done()
	}
	err = q.writeEnd(ctx)
	q.Changed()
	return err == nil, err
}

// endOf says how a job ended that was done with this error.
func endOf(job archive.Job, err error, cancelled bool) endedJob {
	e := endedJob{id: job.ID, state: archive.JobDone}
	crashed := errors.Is(err, work.ErrEnded)
	switch {
	case err == nil:
	case cancelled:
		e.state = archive.JobCancelled
	case crashed && job.Ends+1 < maxEnds:
		e.state = archive.JobWaiting
	default:
		why := refusal.Of(err)
		e.state, e.text, e.hint = archive.JobFailed, why.Text, why.Hint
		if crashed {
			e.text += ", twice: the clip was put aside"
		}
	}
	return e
}

// writeEnd writes the end of the job that was done last, unless the archive has it. No
// other job begins before that.
func (q *Queue) writeEnd(ctx context.Context) error {
	q.mu.Lock()
	e := q.ended
	q.mu.Unlock()
	if e == nil {
		return nil
	}
	end, done := context.WithTimeout(context.WithoutCancel(ctx), archiveTime)
	defer done()
	var err error
	if e.state == archive.JobWaiting {
		err = q.opt.Archive.SetBackJob(end, e.id)
	} else {
		err = q.finish(end, e.id, e.state, e.text, e.hint)
	}
	if err != nil && !errors.Is(err, archive.ErrNotFound) { // a clip that was deleted takes its jobs along
		return fmt.Errorf("writing the end of a job: %w", err)
	}
	q.mu.Lock()
	q.ended = nil
	q.mu.Unlock()
	q.Changed()
	return nil
}

// List returns the jobs of the archive as archive.Jobs does, one that has ended as
// ended though the archive may not have that yet.
func (q *Queue) List(ctx context.Context, limit int) ([]archive.Job, error) {
	q.mu.Lock()
	e := q.ended
	q.mu.Unlock()
	jobs, err := q.opt.Archive.Jobs(ctx, limit)
	if err != nil || e == nil {
		return jobs, err
	}
	if i := slices.IndexFunc(jobs, func(j archive.Job) bool { return j.ID == e.id }); i >= 0 {
		jobs[i].State, jobs[i].Error, jobs[i].Hint = e.state, e.text, e.hint
	}
	return jobs, nil
}

// progress notes how far the job has come.
func (q *Queue) progress(ctx context.Context, at *atWork, stage string, done, total int) {
	q.mu.Lock()
	now := q.opt.Now()
	if stage != at.stage {
		q.countStage(at.stage, at.done, now.Sub(at.since))
		at.since, at.from, at.saved = now, done, time.Time{}
	}
	at.stage, at.done, at.total = stage, done, total
	save := now.Sub(at.saved) >= progressSave
	if save {
		at.saved = now
	}
	q.mu.Unlock()
	if save {
		// Only for a page that is opened after a restart: not worth failing for.
		_ = q.opt.Archive.UpdateJob(ctx, at.job.ID, stage, done, total)
	}
	q.tell()
}

// Progress is how far the job at work has come.
type Progress struct {
	Stage       string
	Done, Total int
	// RateHz is how many steps are done in a second; 0: not known yet.
	RateHz float64
	// LeftS is how many seconds the stage still takes; 0: not known, or nothing is left.
	LeftS float64
}

// Progress returns how far a job has come; ok is false when it is not at work.
func (q *Queue) Progress(id string) (p Progress, ok bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	at := q.current
	if at == nil || at.job.ID != id {
		return Progress{}, false
	}
	p = Progress{Stage: at.stage, Done: at.done, Total: at.total}
	spent := q.opt.Now().Sub(at.since).Seconds()
	if steps := float64(at.done - at.from); steps > 0 && spent > 0 {
		p.RateHz = steps / spent
		p.LeftS = float64(max(at.total-at.done, 0)) / p.RateHz
	}
	return p, true
}

// Cancel ends a job, at work or waiting. It says whether there was one to end.
func (q *Queue) Cancel(ctx context.Context, id string) (bool, error) {
	if q.stop(id) {
		return true, nil
	}
	ok, err := q.opt.Archive.CancelJob(ctx, id)
	if err == nil && !ok {
		ok, err = q.opt.Archive.StopJob(ctx, id)
	}
	if err != nil || ok {
		q.Changed()
		return ok, err
	}
	// It waits no more: it has ended, or is being taken and at work in a moment.
	q.mu.Lock()
	taking := q.taking
	q.mu.Unlock()
	if taking != nil {
		select {
		case <-taking:
		case <-ctx.Done():
			return false, ctx.Err()
		}
	}
	return q.stop(id), nil
}

// stop ends the job at work if it is the one.
func (q *Queue) stop(id string) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	at := q.current
	if at == nil || at.job.ID != id {
		return false
	}
	at.cancelled = true
	at.cancel()
	return true
}

// CancelAll ends all unfinished jobs for which want says yes.
func (q *Queue) CancelAll(ctx context.Context, want func(archive.Job) bool) error {
	jobs, err := q.List(ctx, -1)
	if err != nil {
		return err
	}
	for _, j := range jobs {
		if Unfinished(j) && want(j) {
			if _, err := q.Cancel(ctx, j.ID); err != nil {
				return err
			}
		}
	}
	return nil
}

// Unfinished says whether a job waits or runs.
func Unfinished(j archive.Job) bool {
	return j.State == archive.JobWaiting || j.State == archive.JobRunning
}

// Room returns a refusal when the queue is full.
func (q *Queue) Room(ctx context.Context) error {
	jobs, err := q.opt.Archive.Jobs(ctx, Listed)
	if err != nil {
		return err
	}
	return q.room(jobs)
}

func (q *Queue) room(jobs []archive.Job) error {
	n := 0
	for _, j := range jobs {
		if j.State == archive.JobWaiting {
			n++
		}
	}
	if n < q.opt.Most {
		return nil
	}
	return &refusal.Error{Kind: refusal.Busy, Code: "queue_full", Params: words.Params{"number": n}, Retry: time.Minute}
}

// Add puts a job into the queue: its clip or comparison, its kind and its options are
// taken. A job that waits and does the same is returned instead of a second one, and so is
// an analysis or a report that runs. A rendering that runs is not: it may be of an older
// result. limited says that it is refused when the queue is full.
func (q *Queue) Add(ctx context.Context, job archive.Job, limited bool) (archive.Job, error) {
	q.mu.Lock()
	over := map[string]bool{} // runs by the archive's word, but is ending or has ended
	if q.ended != nil {
		over[q.ended.id] = true
	}
	if q.current != nil && q.current.cancelled {
		over[q.current.job.ID] = true
	}
	q.mu.Unlock()
	shared := job.Kind == archive.JobAnalyze || job.Kind == archive.JobReport
	added, err := q.opt.Archive.AddJob(ctx, job, func(unfinished []archive.Job) (*archive.Job, error) {
		for _, j := range unfinished {
			if j.ClipID != job.ClipID || j.ComparisonID != job.ComparisonID || j.Kind != job.Kind || !bytes.Equal(j.Options,
				job.Options) {
				continue
			}
			if j.State == archive.JobWaiting || shared && !over[j.ID] {
				return &j, nil
			}
		}
		if limited {
			return nil, q.room(unfinished)
		}
		return nil, nil
	})
	if err != nil {
		return archive.Job{}, err
	}
	q.Changed()
	return added, nil
}

// Wait returns a job when it has ended.
func (q *Queue) Wait(ctx context.Context, id string) (archive.Job, error) {
	for {
		q.mu.Lock()
		news := q.news
		q.mu.Unlock()
		job, err := q.opt.Archive.Job(ctx, id)
		if err != nil || !Unfinished(job) {
			return job, err
		}
		select {
		case <-news:
		case <-q.otherNews():
		case <-ctx.Done():
			return job, ctx.Err()
		}
	}
}
