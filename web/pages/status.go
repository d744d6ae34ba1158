package pages

import (
	"context"
	"errors"
	"time"

	"holdfast/archive"
	"holdfast/archive/users"
)

// failedShown is how many failed jobs the page about the work lists.
const failedShown = 100

// silentS is for how many seconds a worker may say nothing before the page says that it is silent: three of its signs.
const silentS = 30

// failedJob is a job that failed, with the names of what it is about.
type failedJob struct {
	archive.Job
	Athlete, Clip string
}

// worker is a program that works on the jobs, as the page tells of it.
type worker struct {
	archive.Worker
	Ago    int // seconds since it was heard of
	Silent bool
}

// statusBody is what the page about the work shows.
type statusBody struct {
	Waiting, Later, Running, Failed int
	Oldest                          time.Time // the job that has waited longest; zero: none waits
	Shared                          bool
	Workers                         []worker
	Jobs                            []failedJob // those that failed, the latest first
	Files                           int
	Bytes                           int64
	Named                           bool // users log in by name
	Users                           []users.User
}

// Status returns the page about the work: what waits, who works, what failed and why, and who may log in.
func (m *Maker) Status(ctx context.Context, named bool) (Page, error) {
	body := statusBody{Shared: m.Archive.Shared(), Named: named}
	counts, err := m.Archive.Count(ctx)
	if err != nil {
		return Page{}, err
	}
	body.Files, body.Bytes = counts.Files, counts.Bytes
	for _, n := range counts.Jobs {
		switch {
		case n.State == archive.JobRunning:
			body.Running += n.Jobs
		case n.State == archive.JobWaiting && n.Later:
			body.Later += n.Jobs
		case n.State == archive.JobWaiting:
			body.Waiting += n.Jobs
		}
		if n.State == archive.JobWaiting && (body.Oldest.IsZero() || n.Since.Before(body.Oldest)) {
			body.Oldest = n.Since
		}
	}
	workers, err := m.Archive.Workers(ctx)
	if err != nil {
		return Page{}, err
	}
	for _, w := range workers {
		body.Workers = append(body.Workers, worker{w, int(w.SilentS), w.SilentS > silentS})
	}
	failed, err := m.Archive.FailedJobs(ctx, failedShown)
	if err != nil {
		return Page{}, err
	}
	body.Failed = len(failed)
	for _, j := range failed {
		named, err := m.named(ctx, j)
		if err != nil {
			return Page{}, err
		}
		body.Jobs = append(body.Jobs, named)
	}
	if named {
		if body.Users, err = m.Archive.Users().List(ctx); err != nil {
			return Page{}, err
		}
	}
	return Page{Name: "status", Title: say("status.title"), Section: "status", Script: "status.js", Body: body}, nil
}

// named finds whose a failed job is; what was deleted meanwhile has no name.
func (m *Maker) named(ctx context.Context, j archive.Job) (f failedJob, err error) {
	f.Job = j
	ids := []string{j.ClipID}
	if j.ComparisonID != "" {
		c, err := m.Archive.Comparison(ctx, j.ComparisonID)
		if err != nil && !errors.Is(err, archive.ErrNotFound) {
			return f, err
		}
		ids = c.ClipIDs
	}
	for _, id := range ids {
		clip, err := m.Archive.Clip(ctx, id)
		if errors.Is(err, archive.ErrNotFound) {
			continue
		}
		if err != nil {
			return f, err
		}
		who, err := m.Archive.Athlete(ctx, clip.AthleteID)
		if err != nil && !errors.Is(err, archive.ErrNotFound) {
			return f, err
		}
		if f.Athlete = who.Name; f.Clip != "" {
			f.Clip += ", "
		}
		f.Clip += clip.Name
	}
	return f, nil
}
