package archive

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"math"
	"time"

	"holdfast/archive/rows"
	"holdfast/words"
)

// JobState says how far a job is.
type JobState string

// The states of a job.
const (
	JobWaiting   JobState = "waiting"
	JobRunning   JobState = "running"
	JobDone      JobState = "done"
	JobFailed    JobState = "failed"
	JobCancelled JobState = "cancelled"
)

// The kinds of job, those that go first before others: somebody waits for them.
const (
	JobMeasure = "measure" // a clip that was measured already, again from its track
	JobReport  = "report"  // of a comparison
	JobAnalyze = "analyze"
	JobRender  = "render"
)

// Job is work on a clip or a comparison that waits, runs, or has ended.
type Job struct {
	ID           string          `json:"id"`
	ClipID       string          `json:"clip_id"`       // empty: of a comparison
	ComparisonID string          `json:"comparison_id"` // empty: of a clip
	Kind         string          `json:"kind"`
	State        JobState        `json:"state"`
	Options      json.RawMessage `json:"options"`
	Stage        string          `json:"stage"`
	Done         int             `json:"done"`
	Total        int             `json:"total"`
	Error        string          `json:"error"`
	Hint         string          `json:"hint"`
	Attempt      int             `json:"attempt"` // without those that the server's own end broke off
	Ends         int             `json:"ends"`    // how often the program that reads the clip ended by itself
	CreatedAt    time.Time       `json:"created_at"`
	StartedAt    *time.Time      `json:"started_at"`
	EndedAt      *time.Time      `json:"ended_at"`
}

func scanJob(s rows.Scanner) (j Job, err error) {
	var options string
	var started, ended time.Time
	err = s.Scan(&j.ID, &j.ClipID, &j.ComparisonID, &j.Kind, &j.State, &options, &j.Stage, &j.Done, &j.Total, &j.Error,
		&j.Hint, &j.Attempt, &j.Ends,
		rows.Time{To: &j.CreatedAt}, rows.Time{To: &started}, rows.Time{To: &ended})
	if options != "" {
		j.Options = json.RawMessage(options)
	}
	if !started.IsZero() {
		j.StartedAt = &started
	}
	if !ended.IsZero() {
		j.EndedAt = &ended
	}
	return j, err
}

// AddJob puts a job at the end of the queue: its clip or comparison, kind and options are
// taken. look,
// where it is not nil, is shown the jobs that wait or run, and may name one of them to be
// returned instead, or refuse the job by an error; no other job comes between.
func (a *Archive) AddJob(ctx context.Context, in Job, look func(unfinished []Job) (instead *Job,
	err error)) (Job, error) {
	out := Job{ClipID: in.ClipID, ComparisonID: in.ComparisonID, Kind: in.Kind, Options: in.Options, State: JobWaiting}
	err := error(nil)
	if len(in.Options) > maxDoc || len(in.Options) > 0 && !json.Valid(in.Options) {
		err = words.Because(ErrInvalid, "why_options", nil)
	}
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
			if look != nil {
				unfinished, err := rows.List(ctx, tx, scanJob, q.JobsUnfinished)
				if err != nil {
					return err
				}
				if instead, err := look(unfinished); err != nil || instead != nil {
					if instead != nil {
						out = *instead
					}
					return err
				}
			}
			var err error
			if out.ID, err = rows.NewID(); err != nil {
				return err
			}
			var now string
			out.CreatedAt, now = a.folder.Stamp()
			_, err = tx.ExecContext(ctx, q.JobInsert, out.ID, out.ClipID, out.ComparisonID, out.Kind, string(out.Options), now)
			return err
		})
	}
	if err != nil {
		return Job{}, words.Doing("doing_queueing_job", err)
	}
	return out, nil
}

// NextJob takes the waiting job of the first kind that has one, the oldest of these, marks it as
// running and counts the attempt. Those of LaterJob come after all others; kinds that a newer program has made are left
// to it. ok is false when none waits.
func (a *Archive) NextJob(ctx context.Context) (job Job, ok bool, err error) {
	if a.Shared() {
		if job, ok, err = a.claim(ctx); err != nil {
			err = words.Doing("doing_taking_job", err)
		}
		return job, ok, err
	}
	err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
		_, now := a.folder.Stamp()
		j, err := scanJob(tx.QueryRowContext(ctx, q.JobNext, now))
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := rows.One(ctx, tx, q.JobStart, now, j.ID); err != nil {
			return err
		}
		job, err = scanJob(tx.QueryRowContext(ctx, q.JobByID, j.ID))
		ok = err == nil
		return err
	})
	if err != nil {
		return Job{}, false, words.Doing("doing_taking_job", err)
	}
	return job, ok, nil
}

// UpdateJob says how far a running job is.
func (a *Archive) UpdateJob(ctx context.Context, id, stage string, done, total int) error {
	var err error
	if a.Shared() {
		err = rows.Do(ctx, a.folder.Soon(), qShared.JobProgress, stage, done, total, id, a.worker)
	} else {
		err = rows.Do(ctx, a.folder.Write, q.JobProgress, stage, done, total, id)
	}
	if err != nil {
		return words.Doing("doing_noting_job_progress", err)
	}
	return nil
}

// FinishJob ends a job with done, failed or cancelled; a failure says why and what to
// do.
func (a *Archive) FinishJob(ctx context.Context, id string, state JobState, text, hint string) error {
	err := error(nil)
	switch state {
	case JobDone, JobFailed, JobCancelled:
	default:
		err = words.Because(ErrInvalid, "why_end", words.Params{"state": state})
	}
	if err == nil {
		err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
			_, now := a.folder.Stamp()
			if a.Shared() {
				return rows.One(ctx, tx, qShared.JobFinish, state, text, hint, now, id, a.worker)
			}
			return rows.One(ctx, tx, q.JobFinish, state, text, hint, now, id)
		})
	}
	if err != nil {
		return words.Doing("doing_ending_job", err)
	}
	return nil
}

// CancelJob takes a waiting job out of the queue; false when it does not wait.
func (a *Archive) CancelJob(ctx context.Context, id string) (bool, error) {
	if err := a.reaches(ctx, "job", id); err != nil {
		return false, words.Doing("doing_cancelling_job", err)
	}
	_, now := a.folder.Stamp()
	var done bool
	err := rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
		err := rows.One(ctx, tx, q.JobCancel, now, id)
		if done = err == nil; errors.Is(err, ErrNotFound) {
			return nil
		}
		return err
	})
	if err != nil {
		return false, words.Doing("doing_cancelling_job", err)
	}
	return done, nil
}

// Job returns one job by id.
func (a *Archive) Job(ctx context.Context, id string) (Job, error) {
	j, err := scanJob(a.folder.Read.QueryRowContext(ctx, q.JobByID, id))
	if err == nil {
		err = a.seesJob(ctx, j)
	}
	if err != nil {
		return Job{}, words.Doing("doing_looking_job", rows.NotFound(err))
	}
	return j, nil
}

// Jobs returns at most so many jobs, all where limit is negative: those that run or wait first, then the newest. In the
// context of a coach they are those of his or her athletes.
func (a *Archive) Jobs(ctx context.Context, limit int) ([]Job, error) {
	if limit < 0 {
		limit = math.MaxInt32
	}
	out, err := rows.List(ctx, a.folder.Read, scanJob, q.JobsRecent, limit, CoachOf(ctx))
	if err != nil {
		return nil, words.Doing("doing_listing_jobs", err)
	}
	return out, nil
}

// ReturnJob lets a running job wait again without counting the attempt: the server
// was stopped, and the clip is not to blame.
func (a *Archive) ReturnJob(ctx context.Context, id string) error {
	err := a.back(ctx, q.JobReturn, qShared.JobReturn, id)
	if err != nil {
		return words.Doing("doing_putting_job_back", err)
	}
	return nil
}

// back runs the statement that lets a running job wait again, of a shared archive only if it is this program's.
func (a *Archive) back(ctx context.Context, own, shared, id string) error {
	return rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
		if a.Shared() {
			return rows.One(ctx, tx, shared, id, a.worker)
		}
		return rows.One(ctx, tx, own, id)
	})
}

// SetBackJob lets a running job wait again after the program that reads its clip ended
// by itself, and counts that in Job.Ends.
func (a *Archive) SetBackJob(ctx context.Context, id string) error {
	err := a.back(ctx, q.JobSetBack, qShared.JobSetBack, id)
	if err != nil {
		return words.Doing("doing_setting_job_back", err)
	}
	return nil
}

const (
	// maxTries is how often a job is put off before it counts as failed.
	maxTries = 5
	// FirstWait is how long a job is put off for; each time it is four times as long.
	FirstWait = 10 * time.Second
)

// MayPass says whether a fault may pass by itself: rows or files are kept on servers, which may not answer for a while.
func (a *Archive) MayPass() bool { return a.Shared() || a.folder.Store.Away() }

// PutOffJob lets a running job wait for a while because of what may pass, each time for longer; ok is false when it was
// put off too often.
func (a *Archive) PutOffJob(ctx context.Context, id, why string) (ok bool, err error) {
	var tries int
	if err = a.folder.Read.QueryRowContext(ctx, q.JobTries, id).Scan(&tries); err == nil && tries < maxTries {
		wait := FirstWait << (2 * tries)
		if a.Shared() {
			err = rows.One(ctx, a.folder.Write, qShared.JobPutOff, why, wait.Seconds(), id, a.worker)
		} else {
			now, _ := a.folder.Stamp()
			err = rows.One(ctx, a.folder.Write, q.JobPutOff, why, now.Add(wait).Format(rows.TimeText), id)
		}
		ok = err == nil
	}
	if err != nil {
		return false, words.Doing("doing_putting_job_back", rows.NotFound(err))
	}
	return ok, nil
}

// LaterJob lets a waiting job go after all that people wait for.
func (a *Archive) LaterJob(ctx context.Context, id string) error {
	err := rows.One(ctx, a.folder.Write, q.JobBatch, id)
	if err != nil && !errors.Is(err, ErrNotFound) { // it is at work already
		return words.Doing("doing_queueing_job", rows.Damaged(err))
	}
	return nil
}

// RequeueRunning lets jobs that were running when the server ended wait again, without
// counting the attempt, and returns how many: however often a server is killed, no clip
// is to blame for it. Those of a shared archive may be at work elsewhere: their leases run out by themselves.
func (a *Archive) RequeueRunning(ctx context.Context) (n int, err error) {
	if a.Shared() {
		return 0, nil
	}
	err = rows.Change(ctx, a.folder.Write, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, q.JobsRequeue)
		if err != nil {
			return err
		}
		changed, err := r.RowsAffected()
		n = int(changed)
		return err
	})
	if err != nil {
		return 0, words.Doing("doing_queueing_unfinished_jobs_again", err)
	}
	return n, nil
}
