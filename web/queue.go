package web

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"holdfast/archive"
	"holdfast/printable"
)

// queue works through the jobs of the archive, one at a time: the network uses all
// cores, and two clips at once would take longer, not shorter.
type queue struct {
	s      *Server
	worker *worker
	wake   chan struct{} // holds one: there may be a job

	// finish writes a job's end into the archive, and trouble is the pause after the
	// archive could not be used; tests replace both.
	finish  func(ctx context.Context, id string, state archive.JobState, text, hint string) error
	trouble time.Duration

	// adding is held from the look for the same job to the new one.
	adding sync.Mutex

	mu      sync.Mutex
	current *atWork
	ended   *endedJob // whose end is not in the archive yet
	version int       // counts the changes of the queue

	cacheMu sync.Mutex
	cached  []byte // the queue as JSON, at cachedVersion
	cachedV int
}

// atWork is the job that is being done.
type atWork struct {
	job       archive.Job
	cancel    context.CancelFunc
	cancelled bool

	stage       string
	done, total int
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

// jobOptions are the options of a job of kind render.
type jobOptions struct {
	BlurFace bool `json:"blur_face,omitempty"`
	// Stills asks for the pictures of the reps instead of the video.
	Stills bool `json:"stills,omitempty"`
}

// optionsOf reads the options of a job.
func optionsOf(j archive.Job) (jobOptions, error) {
	var opt jobOptions
	if len(j.Options) > 0 {
		if err := json.Unmarshal(j.Options, &opt); err != nil {
			return opt, fmt.Errorf("reading the options of a job: %w", err)
		}
	}
	return opt, nil
}

const (
	// listedJobs is how many jobs the page shows, progressRestS how often the
	// archive hears of progress.
	listedJobs   = 200
	progressSave = 5 * time.Second
	// archiveTime bounds each writing of a job's end, also when the server stops.
	archiveTime = 10 * time.Second
	// troubleTime is the pause after the archive could not be used.
	troubleTime = 5 * time.Second
	// maxEnds is how often a clip may end the program that reads it before it is put
	// aside: once may be another's doing, such as a computer short of memory.
	maxEnds = 2
)

func newQueue(s *Server) *queue {
	return &queue{s: s, wake: make(chan struct{}, 1), version: 1, finish: s.archive.FinishJob, trouble: troubleTime,
		worker: &worker{program: s.opt.Program, env: s.opt.Env, limits: s.limits, log: s.log}}
}

// changed tells the pages, and the worker, that the queue is not what it was.
func (q *queue) changed() {
	q.mu.Lock()
	q.version++
	q.mu.Unlock()
	q.s.events.jobsChanged()
	select {
	case q.wake <- struct{}{}:
	default:
	}
}

// run works until the context ends.
func (q *queue) run(ctx context.Context) {
	for ctx.Err() == nil {
		did, err := q.next(ctx)
		if did {
			continue
		}
		var pause <-chan time.Time
		if err != nil && ctx.Err() == nil {
			q.s.log.Error("the queue cannot be read or written; it is tried again")
			q.s.log.Debug("the queue cannot be read or written", "error", err)
			pause = time.After(q.trouble)
		}
		select {
		case <-ctx.Done():
		case <-q.wake:
		case <-pause:
		}
	}
}

// next does the next job, if there is one.
func (q *queue) next(ctx context.Context) (bool, error) {
	if err := q.writeEnd(ctx); err != nil {
		return false, err
	}
	jobCtx, cancel := context.WithCancel(ctx)
	defer cancel()
	// A job is either in the archive as waiting or here: a cancel finds it.
	q.mu.Lock()
	job, ok, err := q.s.archive.NextJob(ctx)
	if err != nil || !ok {
		q.mu.Unlock()
		return false, err
	}
	at := &atWork{job: job, cancel: cancel, since: q.s.now()}
	q.current = at
	q.mu.Unlock()
	q.changed()
	log := q.s.log.With("job", job.ID, "clip", job.ClipID, "kind", job.Kind)
	log.Info("job begins", "attempt", job.Attempt)
	err = q.do(jobCtx, job)
	q.mu.Lock()
	cancelled := at.cancelled
	stage, steps, total := at.stage, at.done, at.total
	if ctx.Err() != nil && err != nil && !cancelled {
		q.current = nil
		q.mu.Unlock()
		end, done := context.WithTimeout(context.WithoutCancel(ctx), archiveTime)
		defer done()
		log.Info("job stopped with the server; it will begin again")
		return true, q.s.archive.ReturnJob(end, job.ID)
	}
	ended := endedJob{id: job.ID, state: archive.JobDone}
	var failed *workError
	switch {
	case cancelled && err != nil:
		ended.state = archive.JobCancelled
	case errors.As(err, &failed) && failed.ended && job.Ends+1 < maxEnds:
		ended.state = archive.JobWaiting
	case errors.As(err, &failed):
		ended.state, ended.text, ended.hint = archive.JobFailed, failed.text, failed.hint
		if failed.ended {
			ended.text += ", twice: the clip was put aside"
		}
	case err != nil:
		p := problemOf(err)
		ended.state, ended.text, ended.hint = archive.JobFailed, p.text, p.hint
		log.Debug("job failed", "error", err)
	}
	q.current, q.ended = nil, &ended
	q.mu.Unlock()
	log.Info("job ended", "state", ended.state)
	if stage != "" && ended.state != archive.JobWaiting { // it is written now and then only
		last, done := context.WithTimeout(context.WithoutCancel(ctx), archiveTime)
		_ = q.s.archive.UpdateJob(last, job.ID, stage, steps, total)
		done()
	}
	err = q.writeEnd(ctx)
	q.changed()
	return err == nil, err
}

// writeEnd writes the end of the job that was done last, unless the archive has it. No
// other job begins before that.
func (q *queue) writeEnd(ctx context.Context) error {
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
		err = q.s.archive.SetBackJob(end, e.id)
	} else {
		err = q.finish(end, e.id, e.state, e.text, e.hint)
	}
	if err != nil && !errors.Is(err, archive.ErrNotFound) { // a clip that was deleted takes its jobs along
		return fmt.Errorf("writing the end of a job: %w", err)
	}
	q.mu.Lock()
	q.ended = nil
	q.mu.Unlock()
	q.changed()
	return nil
}

// list returns the jobs of the archive as archive.Jobs does, one that has ended as
// ended though the archive may not have that yet.
func (q *queue) list(ctx context.Context, limit int) ([]archive.Job, error) {
	q.mu.Lock()
	e := q.ended
	q.mu.Unlock()
	jobs, err := q.s.archive.Jobs(ctx, limit)
	if err != nil || e == nil {
		return jobs, err
	}
	if i := slices.IndexFunc(jobs, func(j archive.Job) bool { return j.ID == e.id }); i >= 0 {
		jobs[i].State, jobs[i].Error, jobs[i].Hint = e.state, e.text, e.hint
	}
	return jobs, nil
}

// adopt queues the analysis of clips that have neither a result nor a job, because the
// server was killed between the two steps of adding them. It returns how many.
func (q *queue) adopt(ctx context.Context) (int, error) {
	jobs, err := q.s.archive.Jobs(ctx, math.MaxInt32)
	if err != nil {
		return 0, err
	}
	has := map[string]bool{}
	for _, j := range jobs {
		has[j.ClipID] = true
	}
	athletes, err := q.s.archive.Athletes(ctx)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, a := range athletes {
		clips, err := q.s.archive.ClipsOf(ctx, a.ID)
		if err != nil {
			return n, err
		}
		for _, c := range clips {
			if c.Result != nil || has[c.ID] {
				continue
			}
			if _, err := q.s.archive.AddJob(ctx, archive.Job{ClipID: c.ID, Kind: archive.JobAnalyze, Options: json.RawMessage("{}")}); err != nil {
				return n, err
			}
			n++
		}
	}
	if n > 0 {
		q.changed()
	}
	return n, nil
}

// handleMeasure queues the analysis of a clip that has no result.
func (s *Server) handleMeasure(w http.ResponseWriter, r *http.Request) {
	clip, err := s.clip(r.Context(), r.PathValue("id"))
	if err == nil && clip.Result != nil {
		err = &problem{status: http.StatusConflict, text: "the clip is measured already", hint: "reload the page"}
	}
	var job archive.Job
	if err == nil {
		job, err = s.queue.add(r.Context(), clip.ID, archive.JobAnalyze, jobOptions{})
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusAccepted, struct {
		Job string `json:"job"`
	}{job.ID})
}

func (q *queue) do(ctx context.Context, job archive.Job) (err error) {
	dir, err := os.MkdirTemp(q.s.opt.WorkDir, "job-")
	if err != nil {
		return fmt.Errorf("making a folder to work in: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	clip, err := q.s.archive.Clip(ctx, job.ClipID)
	if err != nil {
		return err
	}
	athlete, err := q.s.archive.Athlete(ctx, clip.AthleteID)
	if err != nil {
		return err
	}
	order := workOrder{Kind: workAnalyze, Dir: dir, Model: q.s.opt.Model, Athlete: athlete.Name, Clips: []workClip{q.s.orderOf(clip)}}
	switch job.Kind {
	case archive.JobAnalyze:
		return q.worker.run(ctx, order, func(l workLine) error { return q.heardOfAnalysis(ctx, clip.ID, dir, l) })
	case archive.JobRender:
		return q.render(ctx, job, clip, order)
	}
	return fmt.Errorf("nobody knows a job of kind %q", job.Kind)
}

// orderOf describes a clip to a child process.
func (s *Server) orderOf(clip archive.Clip) workClip {
	w := workClip{Path: s.archive.FilePath(clip.SHA256), Name: clip.Name, Tempo: clip.Tempo}
	if clip.HeightCm != nil {
		w.HeightCm = *clip.HeightCm
	}
	if clip.CaptureFPS != nil {
		w.CaptureFPS = *clip.CaptureFPS
	}
	if clip.Result != nil {
		w.Analysis = s.archive.FilePath(fileOf(clip.Result.Files, "analysis.json").SHA256)
		w.Track = s.archive.FilePath(fileOf(clip.Result.Files, madeTrack).SHA256)
	}
	return w
}

// measuredAs names what was measured in a clip: another correction gives another
// name, another picture does not.
func measuredAs(c archive.Clip) string {
	if c.Result == nil {
		return ""
	}
	return fileOf(c.Result.Files, "analysis.json").SHA256
}

// fileOf returns the file of a name; the zero File when there is none.
func fileOf(files []archive.File, name string) archive.File {
	if i := slices.IndexFunc(files, func(f archive.File) bool { return f.Name == name }); i >= 0 {
		return files[i]
	}
	return archive.File{}
}

// heardOfAnalysis keeps what the child has made as soon as it is there.
func (q *queue) heardOfAnalysis(ctx context.Context, clipID, dir string, l workLine) error {
	switch {
	case l.Event == eventProgress:
		q.progress(ctx, l)
	case l.Event == eventMade && l.Name == madeAnalysis:
		if _, err := q.s.archive.Clip(ctx, clipID); err != nil {
			return err // deleted meanwhile: nothing of it is to be kept
		}
		files, err := q.s.putFolder(ctx, filepath.Join(dir, madeAnalysis))
		if err != nil {
			return err
		}
		track, err := q.s.putFile(ctx, filepath.Join(dir, madeTrack), madeTrack)
		if err != nil {
			return err
		}
		return q.s.desk.keepAnalysis(ctx, clipID, append(files, track))
	case l.Event == eventMade && l.Name == madeWebVideo:
		f, err := q.s.putFile(ctx, filepath.Join(dir, madeWebVideo), madeWebVideo)
		if err != nil {
			return err
		}
		return q.s.desk.addToResult(ctx, clipID, f)
	}
	return nil
}

// render makes pictures of a stored result.
func (q *queue) render(ctx context.Context, job archive.Job, clip archive.Clip, order workOrder) error {
	opt, err := optionsOf(job)
	if err != nil {
		return err
	}
	if clip.Result == nil {
		return &workError{text: "the clip has not been measured yet", hint: "wait for its analysis, then ask again"}
	}
	based := measuredAs(clip)
	order.Kind, order.Video, order.BlurFace = workVideo, true, opt.BlurFace
	if opt.Stills {
		order.Kind, order.Video = workStills, false
	}
	return q.worker.run(ctx, order, func(l workLine) error {
		switch l.Event {
		case eventProgress:
			q.progress(ctx, l)
		case eventMade:
			result := filepath.Join(order.Dir, madeAnalysis)
			if opt.Stills {
				return q.s.desk.keepStills(ctx, clip.ID, based, result)
			}
			f, err := q.s.putFile(ctx, filepath.Join(result, "annotated.mp4"), videoName(opt.BlurFace))
			if err != nil {
				if errors.Is(err, fs.ErrNotExist) {
					return &workError{text: "the video could not be drawn", hint: "the clip's file may be damaged: run holdfast archive check"}
				}
				return err
			}
			return q.s.desk.addToResultOf(ctx, clip.ID, based, f)
		}
		return nil
	})
}

// videoName is the name of the annotated video in a result.
func videoName(blurred bool) string {
	if blurred {
		return "annotated_blurred.mp4"
	}
	return "annotated.mp4"
}

// putFile puts a file that a child has made into the archive.
func (s *Server) putFile(ctx context.Context, path, name string) (archive.File, error) {
	f, err := os.Open(path)
	if err != nil {
		return archive.File{}, fmt.Errorf("reading what was made: %w", err)
	}
	defer f.Close()
	kept, err := s.archive.Put(ctx, f, workFileBytes)
	if err != nil {
		return archive.File{}, err
	}
	kept.Name = name
	return kept, nil
}

// putFolder puts all files of a folder into the archive, named as seen from it.
func (s *Server) putFolder(ctx context.Context, dir string) ([]archive.File, error) {
	var files []archive.File
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		f, err := s.putFile(ctx, path, filepath.ToSlash(name))
		files = append(files, f)
		return err
	})
	return files, err
}

// progress notes how far the job has come.
func (q *queue) progress(ctx context.Context, l workLine) {
	q.mu.Lock()
	at := q.current
	if at == nil {
		q.mu.Unlock()
		return
	}
	now := q.s.now()
	if l.Stage != at.stage {
		at.since, at.from, at.saved = now, l.Done, time.Time{}
	}
	at.stage, at.done, at.total = l.Stage, l.Done, l.Total
	save := now.Sub(at.saved) >= progressSave
	if save {
		at.saved = now
	}
	q.version++
	q.mu.Unlock()
	if save {
		// Only for a page that is opened after a restart: not worth failing for.
		_ = q.s.archive.UpdateJob(ctx, at.job.ID, l.Stage, l.Done, l.Total)
	}
	q.s.events.jobsChanged()
}

// cancel ends a job, at work or waiting. It says whether there was one to end.
func (q *queue) cancel(ctx context.Context, id string) (bool, error) {
	q.mu.Lock()
	if at := q.current; at != nil && at.job.ID == id {
		at.cancelled = true
		at.cancel()
		q.mu.Unlock()
		return true, nil
	}
	ok, err := q.s.archive.CancelJob(ctx, id)
	q.mu.Unlock()
	if ok {
		q.changed()
	}
	return ok, err
}

// cancelClip ends all jobs of a clip for which want says yes.
func (q *queue) cancelClip(ctx context.Context, clipID string, want func(archive.Job) bool) error {
	jobs, err := q.list(ctx, listedJobs)
	if err != nil {
		return err
	}
	for _, j := range jobs {
		if j.ClipID == clipID && unfinished(j) && want(j) {
			if _, err := q.cancel(ctx, j.ID); err != nil {
				return err
			}
		}
	}
	return nil
}

func anyJob(archive.Job) bool { return true }

func unfinished(j archive.Job) bool {
	return j.State == archive.JobWaiting || j.State == archive.JobRunning
}

// room returns a problem when the queue is full.
func (q *queue) room(ctx context.Context) error {
	jobs, err := q.s.archive.Jobs(ctx, listedJobs)
	if err != nil {
		return err
	}
	n := 0
	for _, j := range jobs {
		if j.State == archive.JobWaiting {
			n++
		}
	}
	if n >= q.s.limits.Queue {
		return &problem{status: 503, text: fmt.Sprintf("%d clips wait already", n), hint: "let some of them finish, then add more", retryS: 60}
	}
	return nil
}

// add puts a job into the queue. A job that waits and does the same is returned
// instead of a second one, and so is an analysis that runs. A rendering that runs is
// not: it may be of an older result.
func (q *queue) add(ctx context.Context, clipID, kind string, opt jobOptions) (archive.Job, error) {
	options, err := json.Marshal(opt)
	if err != nil {
		return archive.Job{}, fmt.Errorf("writing the options of a job: %w", err)
	}
	q.adding.Lock()
	defer q.adding.Unlock()
	jobs, err := q.list(ctx, listedJobs)
	if err != nil {
		return archive.Job{}, err
	}
	for _, j := range jobs {
		if j.ClipID != clipID || j.Kind != kind || !unfinished(j) {
			continue
		}
		if j.State == archive.JobRunning && (kind != archive.JobAnalyze || q.stopping(j.ID)) {
			continue
		}
		if has, err := optionsOf(j); err == nil && has == opt {
			return j, nil
		}
	}
	if err := q.room(ctx); err != nil {
		return archive.Job{}, err
	}
	job, err := q.s.archive.AddJob(ctx, archive.Job{ClipID: clipID, Kind: kind, Options: options})
	if err != nil {
		return archive.Job{}, err
	}
	q.changed()
	return job, nil
}

// stopping says whether a job that runs was cancelled.
func (q *queue) stopping(id string) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.current != nil && q.current.job.ID == id && q.current.cancelled
}

// jobView is a job as the page shows it.
type jobView struct {
	ID          string    `json:"id"`
	ClipID      string    `json:"clip_id"`
	ClipName    string    `json:"clip_name"`
	AthleteID   string    `json:"athlete_id"`
	AthleteName string    `json:"athlete_name"`
	Kind        string    `json:"kind"`
	State       string    `json:"state"`
	Stage       string    `json:"stage"`
	Done        int       `json:"done"`
	Total       int       `json:"total"`
	RateHz      *float64  `json:"rate_hz"` // steps a second; null when not known
	LeftS       *float64  `json:"left_s"`  // seconds left of the stage; null when not known
	Error       string    `json:"error"`
	Hint        string    `json:"hint"`
	Position    int       `json:"position"` // in the queue, from 1; 0 when it does not wait
	Attempt     int       `json:"attempt"`
	CreatedAt   time.Time `json:"created_at"`
}

// jobs lists the queue: what is at work first, then what waits in its order, then
// what has ended, the latest first.
func (s *Server) jobs(ctx context.Context) ([]jobView, error) {
	list, err := s.queue.list(ctx, listedJobs)
	if err != nil {
		return nil, err
	}
	order := func(j archive.Job) int {
		switch {
		case j.State == archive.JobRunning:
			return 0
		case j.State == archive.JobWaiting && j.Kind == archive.JobAnalyze:
			return 1
		case j.State == archive.JobWaiting:
			return 2
		}
		return 3
	}
	slices.SortStableFunc(list, func(a, b archive.Job) int {
		if c := cmp.Compare(order(a), order(b)); c != 0 {
			return c
		}
		if order(a) == 3 {
			return b.CreatedAt.Compare(a.CreatedAt)
		}
		return a.CreatedAt.Compare(b.CreatedAt)
	})
	clips := map[string]archive.Clip{}
	athletes := map[string]string{}
	views := make([]jobView, 0, len(list))
	position := 0
	for _, j := range list {
		if opt, err := optionsOf(j); err == nil && opt.Stills && (j.State == archive.JobDone || j.State == archive.JobCancelled) {
			continue // nobody asked for it: it came with a correction
		}
		clip, known := clips[j.ClipID]
		if !known {
			if clip, err = s.archive.Clip(ctx, j.ClipID); err != nil && !errors.Is(err, archive.ErrNotFound) {
				return nil, err
			}
			clips[j.ClipID] = clip
		}
		name, known := athletes[clip.AthleteID]
		if !known && clip.AthleteID != "" {
			a, err := s.archive.Athlete(ctx, clip.AthleteID)
			if err != nil && !errors.Is(err, archive.ErrNotFound) {
				return nil, err
			}
			name = a.Name
			athletes[clip.AthleteID] = name
		}
		v := jobView{ID: j.ID, ClipID: j.ClipID, ClipName: clip.Name, AthleteID: clip.AthleteID, AthleteName: name, Kind: j.Kind, State: string(j.State),
			Stage: j.Stage, Done: j.Done, Total: j.Total, Error: j.Error, Hint: j.Hint, Attempt: j.Attempt, CreatedAt: j.CreatedAt}
		if j.State == archive.JobWaiting {
			position++
			v.Position = position
		}
		s.queue.addProgress(&v)
		views = append(views, v)
	}
	return views, nil
}

// addProgress fills in how the job at work comes along.
func (q *queue) addProgress(v *jobView) {
	q.mu.Lock()
	defer q.mu.Unlock()
	at := q.current
	if at == nil || at.job.ID != v.ID {
		return
	}
	v.Stage, v.Done, v.Total = at.stage, at.done, at.total
	spent := q.s.now().Sub(at.since).Seconds()
	if steps := float64(at.done - at.from); steps > 0 && spent > 0 {
		rate := steps / spent
		v.RateHz = rounded(rate)
		if at.total > at.done {
			v.LeftS = rounded(float64(at.total-at.done) / rate)
		}
	}
}

// rounded is a number with one decimal.
func rounded(x float64) *float64 {
	x = math.Round(10*x) / 10
	return &x
}

// jobsJSON is the queue as JSON, made once for all pages.
func (s *Server) jobsJSON(ctx context.Context) ([]byte, error) {
	q := s.queue
	q.cacheMu.Lock()
	defer q.cacheMu.Unlock()
	q.mu.Lock()
	v := q.version
	q.mu.Unlock()
	if q.cached != nil && q.cachedV == v {
		return q.cached, nil
	}
	list, err := s.jobs(ctx)
	if err != nil {
		return nil, err
	}
	text, err := json.Marshal(struct {
		Jobs []jobView `json:"jobs"`
	}{list})
	if err != nil {
		return nil, fmt.Errorf("writing the queue: %w", err)
	}
	q.cached, q.cachedV = printable.JSON(text), v
	return q.cached, nil
}
