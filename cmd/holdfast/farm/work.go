// Package farm is what the commands do that have many clips measured by several computers: work, submit and jobs.
package farm

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"holdfast/archive"
	"holdfast/archive/disk"
	"holdfast/archive/store"
	"holdfast/cmd/holdfast/place"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/desk"
	"holdfast/web/vitals"
)

// open opens an archive that several computers share.
func open(ctx context.Context, in place.Options, opt archive.Options) (*archive.Archive, error) {
	dir, err := in.Folder()
	if err != nil {
		return nil, err
	}
	opt.MustExist = true
	arc, err := in.Open(ctx, dir, opt)
	if err != nil {
		return nil, err
	}
	if !arc.Shared() {
		return nil, errors.Join(terminal.Usage("farm_database"), arc.Close())
	}
	return arc, nil
}

// workPattern names the folders in which workers work, of whom several may share a data folder.
const workPattern = "worker-*"

// folder makes a folder for what one program computes, which is gone when it ends, and removes those of programs that
// were killed.
func folder(arc *archive.Archive) (dir string, leave func() error, err error) {
	tmp := filepath.Join(arc.Dir(), store.TmpFolder)
	entries, err := os.ReadDir(tmp)
	if err != nil {
		return "", nil, err
	}
	for _, e := range entries {
		path := filepath.Join(tmp, e.Name())
		if ours, _ := filepath.Match(workPattern, e.Name()); ours {
			if err := disk.WhenFree(path, e, func() error { return os.RemoveAll(path) }); err != nil {
				return "", nil, err
			}
		}
	}
	lock, err := disk.LockedFolder(tmp, workPattern)
	if err != nil {
		return "", nil, err
	}
	return filepath.Join(lock.Name(), "work"), func() error {
		return errors.Join(os.RemoveAll(lock.Name()), lock.Close())
	}, nil
}

// WorkOptions say how a worker works.
type WorkOptions struct {
	Model      string
	MaxMinutes float64
	Log        *slog.Logger
	Ready      func()        // hears that the worker takes jobs
	Program    []string      // that works on a clip; nil: this one
	Lease      time.Duration // of a job; 0: archive.Lease
	Metrics    string        // where machines ask how it is; empty: nowhere
}

// Work does the jobs of a shared archive until ctx ends: the job at hand is then handed back.
func Work(ctx context.Context, in place.Options, opt WorkOptions) (err error) {
	arc, err := open(ctx, in, archive.Options{Lease: opt.Lease})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, arc.Close()) }()
	dir, leave, err := folder(arc)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, leave()) }()
	d, err := desk.New(desk.Options{Archive: arc, WorkDir: dir, Model: opt.Model, Log: opt.Log,
		Program: opt.Program, Limits: desk.Limits{ClipMinutes: opt.MaxMinutes}})
	if err != nil {
		return err
	}
	v := &vitals.Vitals{Archive: arc, Meter: d.Queue.Meter, Log: opt.Log, Now: time.Now}
	end, err := v.Beside(ctx, opt.Metrics)
	if err != nil {
		return terminal.Usage("cannot_listen_metrics", "address", opt.Metrics, "error", err)
	}
	defer func() { err = errors.Join(err, end()) }()
	opt.Ready()
	d.Run(ctx)
	return nil
}

// Jobs returns the jobs of a shared archive, the ones that wait or run first; failed alone: those that were put aside.
func Jobs(ctx context.Context, in place.Options, failed bool, do func(archive.Job, archive.Clip, string) error) (
	err error) {
	arc, err := open(ctx, in, archive.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, arc.Close()) }()
	jobs, err := arc.Jobs(ctx, -1)
	if err != nil {
		return err
	}
	for _, j := range jobs {
		if failed && j.State != archive.JobFailed {
			continue
		}
		var clip archive.Clip
		if j.ClipID != "" {
			if clip, err = arc.Clip(ctx, j.ClipID); errors.Is(err, archive.ErrNotFound) {
				continue // deleted meanwhile
			}
		}
		name := ""
		if err == nil && clip.AthleteID != "" {
			var who archive.Athlete
			who, err = arc.Athlete(ctx, clip.AthleteID)
			name = who.Name
		}
		if err == nil {
			err = do(j, clip, name)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
