package archive

import (
	"context"
	_ "embed"
	"errors"
	"time"

	"holdfast/archive/rows"
	"holdfast/words"
)

//go:embed queries_postgres.sql
var sharedText string

// qShared holds the statements of queries_postgres.sql by their names.
var qShared = func() (all sharedQueries) {
	rows.MustFill(&all, sharedText)
	return all
}()

type sharedQueries struct {
	WorkerSeen, WorkersGone, Workers string

	JobsGiveUp, JobClaim, JobRenew, JobProgress, JobFinish, JobStop, JobReturn, JobSetBack, JobPutOff string
}

const (
	// Lease is how long a computer holds a job that it says nothing of: then another takes it.
	Lease = 30 * time.Second
	// maxLapses is how often a job may be taken over before it is put aside.
	maxLapses = 5
)

// Shared says that several computers use the archive: jobs are then held by leases, which RenewJob renews.
func (a *Archive) Shared() bool { return a.folder.Shared() }

// Lease returns how long a job is held that is not renewed.
func (a *Archive) Lease() time.Duration { return a.lease }

// Turns returns what waits for the turns of clips and comparisons, by id in order, that one computer alone has; nil
// where there is but one.
func (a *Archive) Turns() func(ctx context.Context, ids []string) (back func(), err error) {
	if !a.Shared() {
		return nil
	}
	return a.folder.Turns
}

// claim takes a job for this program: one that waits, or one whose holder has said nothing for as long as a lease
// lasts. No two get the same.
func (a *Archive) claim(ctx context.Context) (job Job, ok bool, err error) {
	db := a.folder.Write
	_, now := a.folder.Stamp()
	why, hint := words.Say("error.job_lapsed", nil), words.Say("error.job_lapsed_hint", nil)
	if err := rows.Do(ctx, db, qShared.JobsGiveUp, why, hint, now, maxLapses); err != nil {
		return job, false, err
	}
	ids, err := rows.Texts(ctx, db, qShared.JobClaim, a.worker, a.lease.Seconds(), now)
	if err != nil || len(ids) == 0 {
		return job, false, err
	}
	job, err = scanJob(db.QueryRowContext(ctx, q.JobByID, ids[0]))
	return job, err == nil, rows.NotFound(err)
}

// RenewJob says that a job is still at work here. The error wraps ErrNotFound when it is not this program's any more:
// it was cancelled, or another has taken it.
func (a *Archive) RenewJob(ctx context.Context, id string) error {
	if !a.Shared() {
		return nil
	}
	err := rows.Damaged(rows.One(ctx, a.folder.Write, qShared.JobRenew, a.lease.Seconds(), id, a.worker))
	if err != nil {
		return words.Doing("doing_renewing_job", err)
	}
	return nil
}

// StopJob cancels a job of a shared archive that is at work somewhere; who is at it hears of it when the lease is to be
// renewed. It says whether there was one.
func (a *Archive) StopJob(ctx context.Context, id string) (bool, error) {
	if !a.Shared() {
		return false, nil
	}
	_, now := a.folder.Stamp()
	err := rows.One(ctx, a.folder.Write, qShared.JobStop, now, id)
	if errors.Is(err, ErrNotFound) {
		return false, nil
	}
	if err != nil {
		return false, words.Doing("doing_cancelling_job", rows.Damaged(err))
	}
	return true, nil
}
