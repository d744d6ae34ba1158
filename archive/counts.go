package archive

import (
	"context"
	"errors"
	"time"

	"holdfast/archive/rows"
	"holdfast/words"
)

// JobCount is how many jobs of a kind are in a state, waiting, running or failed.
type JobCount struct {
	State JobState
	Kind  string
	Later bool // nobody waits for them
	Jobs  int
	Since time.Time // when the oldest was queued
}

// Counts are how much of what an archive has.
type Counts struct {
	Jobs  []JobCount
	Files int
	Bytes int64 // of all files
}

// Count counts jobs and files.
func (a *Archive) Count(ctx context.Context) (c Counts, err error) {
	c.Jobs, err = rows.List(ctx, a.folder.Read, func(s rows.Scanner) (n JobCount, err error) {
		var later int
		err = s.Scan(&n.State, &n.Kind, &later, &n.Jobs, rows.Time{To: &n.Since})
		n.Later = later == 1
		return n, err
	}, q.JobCounts)
	if err == nil {
		err = rows.Damaged(a.folder.Read.QueryRowContext(ctx, q.FileCounts).Scan(&c.Files, &c.Bytes))
	}
	if err != nil {
		return Counts{}, words.Doing("doing_counting", err)
	}
	return c, nil
}

// FailedJobs returns at most so many jobs that failed and that nobody has had tried again since, the latest first.
func (a *Archive) FailedJobs(ctx context.Context, limit int) ([]Job, error) {
	all, err := rows.List(ctx, a.folder.Read, scanJob, q.JobsFailed, limit)
	if err != nil {
		return nil, words.Doing("doing_listing_jobs", err)
	}
	var own []Job
	for _, j := range all {
		switch err := a.seesJob(ctx, j); {
		case err == nil:
			own = append(own, j)
		case !errors.Is(err, ErrNotFound):
			return nil, words.Doing("doing_listing_jobs", err)
		}
	}
	return own, nil
}

// Ping says whether the rows can be read.
func (a *Archive) Ping(ctx context.Context) error {
	return rows.Damaged(a.folder.Read.PingContext(ctx))
}

// Worker is a program that works on the jobs of a shared archive.
type Worker struct {
	Computer, Version string
	StartedAt, SeenAt time.Time
	SilentS           float64 // for how long nothing was heard of it, by the database's clock
	Kind              string  // of the job that it is at; empty: of none
}

// SignOfLife says that this program works on the jobs of a shared archive, until it leaves.
func (a *Archive) SignOfLife(ctx context.Context, computer, version string) error {
	if !a.Shared() {
		return nil
	}
	return rows.Do(ctx, a.folder.Write, qShared.WorkerSeen, a.worker, computer, version)
}

// Leave says that this program works no more, and forgets those of which nothing was heard for a day.
func (a *Archive) Leave(ctx context.Context) error {
	if !a.Shared() {
		return nil
	}
	return rows.Do(ctx, a.folder.Write, qShared.WorkersGone, a.worker)
}

// Workers returns the programs that work on a shared archive; of a folder none is known.
func (a *Archive) Workers(ctx context.Context) ([]Worker, error) {
	if !a.Shared() {
		return nil, nil
	}
	all, err := rows.List(ctx, a.folder.Read, func(s rows.Scanner) (w Worker, err error) {
		return w, s.Scan(&w.Computer, &w.Version, rows.Time{To: &w.StartedAt}, rows.Time{To: &w.SeenAt}, &w.SilentS, &w.Kind)
	}, qShared.Workers)
	if err != nil {
		return nil, words.Doing("doing_counting", err)
	}
	return all, nil
}
