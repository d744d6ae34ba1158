package desk

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"holdfast/archive"
	"holdfast/desk/held"
	"holdfast/desk/joined"
	"holdfast/desk/queue"
	"holdfast/desk/refusal"
	"holdfast/desk/work"
	"holdfast/screening"
	"holdfast/vision/pose"
)

// Options say what a desk works on and how. Archive and WorkDir are needed, everything
// else has a default.
type Options struct {
	Archive *archive.Archive
	// WorkDir is a folder on the archive's own file system for what is being computed;
	// what a killed program left there is removed.
	WorkDir string
	Log     *slog.Logger
	// Program is the program that works on a clip and its arguments, Env what is added to
	// its environment; nil: this program's own hidden subcommand child.
	Program []string
	Env     []string
	// Model is the network that finds the body; empty: the best one.
	Model  string
	Limits Limits
	Now    func() time.Time
	// Measure measures a stored track again; nil: screening.MeasureAgain.
	Measure Measure
	// JobsChanged hears that the list of jobs is not what it was, and ClipChanged that a
	// clip has a new result or is gone; nil: nobody does.
	JobsChanged func()
	ClipChanged func(clipID string)
}

// Measure measures a track with what the coach gave and corrected.
type Measure func(screening.ClipInfo, *pose.Track, screening.Options) (*screening.Analysis, error)

// Limits bound what the desk takes on. A zero stands for the default.
type Limits struct {
	ClipBytes int64 // of one clip; default 2 GB
	Queue     int   // jobs that wait; default 100
	// ClipMinutes is how long a clip may last; default screening.DefaultMaxMinutes.
	ClipMinutes float64
	FramePx     int   // pixels of one frame; default 50 million
	WorkMemory  int64 // bytes that a job may hold; default 4 GB
	// WorkTime is how long a job may take before its clip's length is known, default 5
	// minutes; the clip's frames add WorkPerFrame each, default half a second.
	WorkTime     time.Duration
	WorkPerFrame time.Duration
}

func or[T comparable](value, otherwise T) T {
	var zero T
	if value == zero {
		return otherwise
	}
	return value
}

func (l Limits) withDefaults() Limits {
	return Limits{
		ClipBytes: or(l.ClipBytes, 2e9), Queue: or(l.Queue, 100), ClipMinutes: or(l.ClipMinutes, screening.DefaultMaxMinutes),
		FramePx: or(l.FramePx, 50_000_000), WorkMemory: or(l.WorkMemory, 4e9),
		WorkTime: or(l.WorkTime, 5*time.Minute), WorkPerFrame: or(l.WorkPerFrame, 500*time.Millisecond),
	}
}

// Desk is the work over one archive. Its methods may be called at the same time.
type Desk struct {
	// Queue holds the jobs; it works while Run does.
	Queue *queue.Queue
	// Joined are the clips of one set from two views.
	Joined *joined.Sets
	// Limits are those in force.
	Limits Limits

	archive *archive.Archive
	log     *slog.Logger
	opt     Options
	worker  *work.Worker

	turns    held.Turns
	tracks   *held.Recent[*pose.Track]
	analyses *held.Recent[*screening.Analysis]
	// summaries are analyses without their series.
	summaries   *held.Recent[*screening.Analysis]
	inputs      *held.Recent[work.MeasuredWith]
	comparisons *held.Recent[[]byte] // as JSON, by what they are made of
}

// What is held ready, so that a correction is answered at once.
const (
	heldTracks, heldAnalyses, heldComparisons = 4, 16, 16

	heldSummaries = 1000
)

// New returns a desk over an open archive, which stays the caller's to close after Run has
// returned.
func New(opt Options) (*Desk, error) {
	if opt.Archive == nil || opt.WorkDir == "" {
		return nil, errors.New("an archive and a folder to work in are needed")
	}
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Measure == nil {
		opt.Measure = screening.MeasureAgain
	}
	if opt.JobsChanged == nil {
		opt.JobsChanged = func() {}
	}
	if opt.ClipChanged == nil {
		opt.ClipChanged = func(string) {}
	}
	if opt.Program == nil {
		exe, err := os.Executable()
		if err != nil {
			return nil, fmt.Errorf("finding the program itself: %w", err)
		}
		opt.Program = []string{exe, "child"}
	}
	if err := emptyFolder(opt.WorkDir); err != nil {
		return nil, fmt.Errorf("preparing the folder to work in: %w", err)
	}
	l := opt.Limits.withDefaults()
	d := &Desk{
		Limits: l, archive: opt.Archive, log: opt.Log, opt: opt, turns: held.Turns{Beyond: opt.Archive.Turns()},
		worker: &work.Worker{Program: opt.Program, Env: opt.Env, Log: opt.Log, Limits: work.Limits{
			ClipMinutes: l.ClipMinutes, FramePx: l.FramePx, MemoryBytes: l.WorkMemory,
			Time: l.WorkTime, PerFrame: l.WorkPerFrame,
		}},
		tracks: held.New[*pose.Track](heldTracks), analyses: held.New[*screening.Analysis](heldAnalyses),
		summaries: held.New[*screening.Analysis](heldSummaries), inputs: held.New[work.MeasuredWith](heldSummaries),
		comparisons: held.New[[]byte](heldComparisons),
	}
	d.Joined = &joined.Sets{Archive: opt.Archive, Summary: d.Summary, Changed: opt.ClipChanged}
	d.Queue = queue.New(queue.Options{Archive: opt.Archive, Log: opt.Log, Now: opt.Now, Most: l.Queue, Do: d.do,
		Changed: opt.JobsChanged})
	return d, nil
}

// emptyFolder makes a folder and removes what an earlier program left in it.
func emptyFolder(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if err := os.RemoveAll(filepath.Join(dir, e.Name())); err != nil {
			return err
		}
	}
	return nil
}

// Resume takes up what an earlier program left: jobs that it was doing wait again, a clip
// without a result or a job gets one, and so does a clip whose last change was recorded but
// not measured, or whose pictures were not drawn.
func (d *Desk) Resume(ctx context.Context) error {
	n, err := d.archive.RequeueRunning(ctx)
	if err != nil {
		return fmt.Errorf("putting interrupted jobs back into the queue: %w", err)
	}
	if n > 0 {
		d.log.Info("interrupted jobs wait again", "jobs", n)
	}
	if n, err = d.adopt(ctx); err != nil {
		return fmt.Errorf("queueing clips that were never measured: %w", err)
	}
	if n > 0 {
		d.log.Info("clips without a job wait now", "clips", n)
	}
	return nil
}

// Run works through the jobs until the context ends.
func (d *Desk) Run(ctx context.Context) { d.Queue.Run(ctx) }

// forget drops what is held ready: what was deleted must not live on in memory.
func (d *Desk) forget() {
	d.tracks.Clear()
	d.analyses.Clear()
	d.summaries.Clear()
	d.inputs.Clear()
	d.comparisons.Clear()
}

// Clip returns a clip by its id, or a refusal.
func (d *Desk) Clip(ctx context.Context, id string) (archive.Clip, error) {
	c, err := d.archive.Clip(ctx, id)
	if err != nil {
		return c, refusal.NoSuch("clip", err)
	}
	return c, nil
}

// Athlete returns an athlete by the id, or a refusal.
func (d *Desk) Athlete(ctx context.Context, id string) (archive.Athlete, error) {
	a, err := d.archive.Athlete(ctx, id)
	if err != nil {
		return a, refusal.NoSuch("athlete", err)
	}
	return a, nil
}

// Visit returns a visit by its id, or a refusal.
func (d *Desk) Visit(ctx context.Context, id string) (archive.Visit, error) {
	v, err := d.archive.Visit(ctx, id)
	if err != nil {
		return v, refusal.NoSuch("visit", err)
	}
	return v, nil
}

// Measured returns a clip that has a result, or a refusal.
func (d *Desk) Measured(ctx context.Context, id string) (archive.Clip, error) {
	c, err := d.Clip(ctx, id)
	if err == nil && c.Result == nil {
		err = joined.NotMeasured
	}
	return c, err
}
