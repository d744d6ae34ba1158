package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync"

	"holdfast/archive"
	"holdfast/report"
	"holdfast/screening"
	"holdfast/vision"
)

// desk is where stored results are read, measured again and compared. It holds the
// last few tracks and analyses ready, so that a correction is answered at once.
type desk struct {
	s *Server
	// measure measures a track again; tests replace it.
	measure func(screening.ClipInfo, *vision.Track, screening.Options, *screening.Corrections) (*screening.Analysis, error)

	// unfit holds, by clip, the last changes that could not be measured.
	unfit sync.Map

	locks    locks
	tracks   *recent[*vision.Track]
	analyses *recent[*screening.Analysis]
	// summaries are analyses without their series.
	summaries *recent[*screening.Analysis]
	inputs    *recent[measuredWith]
	reports   *reports
}

const (
	heldTracks    = 4
	heldAnalyses  = 16
	heldSummaries = 1000
)

func newDesk(s *Server) *desk {
	return &desk{s: s, measure: measureAgain, tracks: newRecent[*vision.Track](heldTracks),
		analyses: newRecent[*screening.Analysis](heldAnalyses), summaries: newRecent[*screening.Analysis](heldSummaries),
		inputs: newRecent[measuredWith](heldSummaries), reports: newReports(s)}
}

func (d *desk) close() { d.reports.close() }

// forget drops what is held ready: what was deleted must not live on in memory.
func (d *desk) forget() {
	d.tracks.clear()
	d.analyses.clear()
	d.summaries.clear()
	d.inputs.clear()
}

// locks are one lock for each clip: a clip has one result at a time.
type locks struct {
	mu sync.Mutex
	of map[string]*clipLock
}

type clipLock struct {
	sync.Mutex
	users int
}

// hold takes the lock of an id and returns how to give it back.
func (l *locks) hold(id string) func() {
	l.mu.Lock()
	if l.of == nil {
		l.of = map[string]*clipLock{}
	}
	k := l.of[id]
	if k == nil {
		k = &clipLock{}
		l.of[id] = k
	}
	k.users++
	l.mu.Unlock()
	k.Lock()
	return func() {
		k.Unlock()
		l.mu.Lock()
		defer l.mu.Unlock()
		if k.users--; k.users == 0 {
			delete(l.of, id)
		}
	}
}

// holdAll takes the locks of several ids and returns how to give them back.
func (l *locks) holdAll(ids []string) func() {
	ids = slices.Clone(ids)
	slices.Sort(ids) // in one order, so that no two wait for each other
	var back []func()
	for _, id := range slices.Compact(ids) {
		back = append(back, l.hold(id))
	}
	return func() {
		for _, f := range back {
			f()
		}
	}
}

// recent holds the last few things that were read, by the hash of their file. They
// are shared: nobody changes one.
type recent[T any] struct {
	most int

	mu   sync.Mutex
	keys []string // the latest last
	of   map[string]T
}

func newRecent[T any](most int) *recent[T] { return &recent[T]{most: most, of: map[string]T{}} }

func (r *recent[T]) get(key string, read func() (T, error)) (T, error) {
	r.mu.Lock()
	v, ok := r.of[key]
	r.mu.Unlock()
	if !ok {
		var err error
		if v, err = read(); err != nil {
			return v, err
		}
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	for i, k := range r.keys {
		if k == key {
			r.keys = append(r.keys[:i], r.keys[i+1:]...)
			break
		}
	}
	r.keys = append(r.keys, key)
	r.of[key] = v
	for len(r.keys) > r.most {
		delete(r.of, r.keys[0])
		r.keys = r.keys[1:]
	}
	return v, nil
}

// clear forgets everything.
func (r *recent[T]) clear() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.keys = nil
	clear(r.of)
}

// errNotMeasured: the clip has no result yet.
var errNotMeasured = &problem{status: 409, text: "the clip has not been measured yet", hint: "wait until its analysis is done"}

// track returns the track of a clip's current result.
func (d *desk) track(ctx context.Context, clip archive.Clip) (*vision.Track, error) {
	if clip.Result == nil {
		return nil, errNotMeasured
	}
	f := fileOf(clip.Result.Files, madeTrack)
	if f.SHA256 == "" {
		return nil, &problem{status: 409, text: "the clip's track was not kept", hint: "analyse the clip again"}
	}
	return d.tracks.get(f.SHA256, func() (*vision.Track, error) {
		r, err := d.s.archive.OpenFile(ctx, f.SHA256)
		if err != nil {
			return nil, err
		}
		defer r.Close()
		return vision.ReadTrack(r)
	})
}

// analysis returns the analysis of a clip's current result. It is shared: take a
// copy to change its clip's path or name.
func (d *desk) analysis(_ context.Context, clip archive.Clip) (*screening.Analysis, error) {
	if clip.Result == nil {
		return nil, errNotMeasured
	}
	f := fileOf(clip.Result.Files, "analysis.json")
	if f.SHA256 == "" {
		return nil, errNotMeasured
	}
	return d.analyses.get(f.SHA256, func() (*screening.Analysis, error) {
		a, err := screening.LoadAnalysis(d.s.archive.FilePath(f.SHA256))
		if err != nil {
			return nil, fmt.Errorf("%w: %w", archive.ErrDamaged, err)
		}
		return a, nil
	})
}

// keepAnalysis makes the files of a fresh analysis the clip's result. Corrections
// that the clip has already (it is analysed anew) are applied to it.
func (d *desk) keepAnalysis(ctx context.Context, clipID string, files []archive.File) error {
	defer d.locks.hold(clipID)()
	if _, err := d.s.archive.SaveResult(ctx, clipID, files, 0); err != nil {
		return err
	}
	doc, seq, err := d.s.archive.CurrentCorrections(ctx, clipID)
	if err != nil {
		return err
	}
	if seq > 0 {
		// A correction that no longer fits is no reason to lose the analysis.
		if err := d.again(ctx, clipID, doc, func() (int, error) { return seq, nil }); err != nil {
			d.s.log.Warn("corrections do not fit the new analysis", "clip", clipID)
			d.s.log.Debug("corrections do not fit the new analysis", "clip", clipID, "error", err)
		}
	}
	d.s.events.clipChanged(clipID)
	return nil
}

// addToResult adds a file to whatever result the clip has.
func (d *desk) addToResult(ctx context.Context, clipID string, f archive.File) error {
	return d.addToResultOf(ctx, clipID, "", f)
}

// addToResultOf adds a file to a result, if the clip still has it: pictures of
// numbers that have been corrected since are thrown away.
func (d *desk) addToResultOf(ctx context.Context, clipID, measured string, f archive.File) error {
	defer d.locks.hold(clipID)()
	clip, err := d.s.archive.Clip(ctx, clipID)
	if err != nil {
		return err
	}
	if clip.Result == nil || measured != "" && measuredAs(clip) != measured {
		return &workError{text: "the clip was corrected meanwhile", hint: "ask for the video again"}
	}
	if err := d.s.archive.AddResultFile(ctx, clip.Result.ID, f); err != nil {
		return err
	}
	d.s.events.clipChanged(clipID)
	return nil
}

// keepStills replaces the stills of a result by new ones.
func (d *desk) keepStills(ctx context.Context, clipID, measured, dir string) error {
	defer d.locks.hold(clipID)()
	clip, err := d.s.archive.Clip(ctx, clipID)
	if err != nil {
		return err
	}
	if measuredAs(clip) != measured {
		return nil // corrected again meanwhile: another job draws the stills of that
	}
	made, err := d.s.putFolder(ctx, filepath.Join(dir, stillsFolder))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if len(made) == 0 {
		return nil
	}
	for i := range made {
		made[i].Name = stillsFolder + "/" + made[i].Name
	}
	var files []archive.File
	for _, f := range clip.Result.Files {
		if !isStill(f.Name) {
			files = append(files, f)
		}
	}
	files = append(files, made...)
	if _, err := d.s.archive.SaveResult(ctx, clipID, files, clip.Result.CorrectionSeq); err != nil {
		return err
	}
	d.s.events.clipChanged(clipID)
	return nil
}

// stillsFolder is where the stills of a result lie.
const stillsFolder = "frames"

func isStill(name string) bool { return strings.HasPrefix(name, stillsFolder+"/") }

// again measures a clip anew with corrections and saves the result; seq is asked
// for the number of the corrections only when the measuring went well. The clip's
// lock is held.
func (d *desk) again(ctx context.Context, clipID string, doc json.RawMessage, seq func() (int, error)) error {
	clip, err := d.s.archive.Clip(ctx, clipID)
	if err != nil {
		return err
	}
	before, err := d.analysis(ctx, clip)
	if err != nil {
		return err
	}
	track, err := d.track(ctx, clip)
	if err != nil {
		return err
	}
	var corrections screening.Corrections
	if len(doc) > 0 {
		if err := json.Unmarshal(doc, &corrections); err != nil {
			return fmt.Errorf("reading the corrections: %w: %w", archive.ErrDamaged, err)
		}
	}
	var opt screening.Options // without the athlete's name, see doAnalyze
	if opt.Tempo, err = tempoOf(clip.Tempo); err != nil {
		return badRequest("%v", err)
	}
	if clip.HeightCm != nil {
		opt.HeightCm = *clip.HeightCm
	}
	if clip.CaptureFPS != nil {
		opt.CaptureFPS = *clip.CaptureFPS
	}
	info := before.Clip
	info.Name, info.Path, info.SHA256 = clip.Name, clip.Name, clip.SHA256
	a, err := d.safely(info, track, opt, &corrections)
	if err != nil {
		return err
	}
	a.Clip.Name, a.Clip.SHA256 = clip.Name, clip.SHA256
	// Without a path no picture is looked for: the numbers are written in a moment,
	// and a job draws the stills after them.
	a.Clip.Path = ""
	dir, err := os.MkdirTemp(d.s.opt.WorkDir, "again-")
	if err != nil {
		return fmt.Errorf("making a folder to work in: %w", err)
	}
	defer os.RemoveAll(dir)
	result := filepath.Join(dir, madeAnalysis)
	if _, err := report.WriteAnalysis(ctx, result, a, track, report.Options{}); err != nil {
		return err
	}
	files, err := d.s.putFolder(ctx, result)
	if err != nil {
		return err
	}
	with, err := d.s.orderOf(clip).measuredWith().file(ctx, d.s.archive)
	if err != nil {
		return err
	}
	files = append(files, with)
	n, err := seq()
	if err != nil {
		return err
	}
	// What shows the numbers of before goes with them: a missing picture is better than
	// a wrong one, and the stills are drawn in a moment. A new name changes no number.
	same := false
	if was, err := d.s.measuredWithOf(ctx, clip); err == nil && was != nil && n == clip.Result.CorrectionSeq {
		was := *was
		was.Name = clip.Name
		same = was == d.s.orderOf(clip).measuredWith()
	}
	for _, f := range clip.Result.Files {
		if fileOf(files, f.Name).Name == "" && (same || !strings.HasPrefix(f.Name, "annotated") && !isStill(f.Name)) {
			files = append(files, f)
		}
	}
	saved, err := d.s.archive.SaveResult(ctx, clipID, files, n)
	if err != nil {
		return err
	}
	d.s.log.Info("measured again", "clip", clipID, "revision", saved.Revision)
	d.s.events.clipChanged(clipID)
	if same {
		return nil
	}
	return d.drawStills(ctx, clipID)
}

// drawStills queues the stills of a clip that was measured again, in place of
// those that are being drawn of what it was before.
func (d *desk) drawStills(ctx context.Context, clipID string) error {
	err := d.s.queue.cancelClip(ctx, clipID, func(j archive.Job) bool {
		opt, err := optionsOf(j)
		return err == nil && j.State == archive.JobRunning && j.Kind == archive.JobRender && opt.Stills
	})
	if err == nil {
		_, err = d.s.queue.add(ctx, clipID, archive.JobRender, jobOptions{Stills: true})
	}
	var p *problem
	if errors.As(err, &p) {
		return nil // the queue is full: the old stills stay
	}
	return err
}

// safely measures and turns a panic, which would be a fault of the program and not
// of the clip, into an error.
func (d *desk) safely(info screening.ClipInfo, track *vision.Track, opt screening.Options, c *screening.Corrections) (a *screening.Analysis, err error) {
	defer func() {
		if v := recover(); v != nil {
			d.s.log.Error("measuring again panicked", "stack", string(debug.Stack()))
			a, err = nil, &problem{status: 500, text: "these corrections cannot be measured", hint: "undo the last one and try it otherwise", err: fmt.Errorf("panic: %v", v)}
		}
	}()
	return d.measure(info, track, opt, c)
}

// fresh measures a clip again whose last change was recorded but not measured, because
// the program was killed between the two. Whoever asks may go away meanwhile.
func (d *desk) fresh(ctx context.Context, clip archive.Clip) (archive.Clip, error) {
	if clip.Result == nil {
		return clip, nil
	}
	ctx = context.WithoutCancel(ctx)
	if stale, err := d.stale(ctx, clip); err != nil || !stale {
		if err == nil {
			d.missStills(ctx, clip)
		}
		return clip, err
	}
	defer d.locks.hold(clip.ID)()
	clip, err := d.s.archive.Clip(ctx, clip.ID)
	if err != nil || clip.Result == nil {
		return clip, err
	}
	if stale, err := d.stale(ctx, clip); err != nil || !stale {
		return clip, err
	}
	doc, seq, err := d.s.archive.CurrentCorrections(ctx, clip.ID)
	if err != nil {
		return clip, err
	}
	if err := d.again(ctx, clip.ID, doc, func() (int, error) { return seq, nil }); err != nil {
		// The numbers of before are better than none. What may pass is tried again.
		var p *problem
		if errors.As(err, &p) || errors.Is(err, screening.ErrBadCorrection) || errors.Is(err, screening.ErrCannotMeasure) || errors.Is(err, screening.ErrNoReps) {
			d.unfit.Store(clip.ID, d.changes(clip, seq))
		}
		d.s.log.Warn("the last change cannot be measured", "clip", clip.ID)
		d.s.log.Debug("the last change cannot be measured", "clip", clip.ID, "error", err)
		return clip, nil
	}
	return d.s.archive.Clip(ctx, clip.ID)
}

// missStills has the stills of a result drawn that has none, because the job for them
// was cancelled, or never queued. A clip can be looked at without them.
func (d *desk) missStills(ctx context.Context, clip archive.Clip) {
	if slices.ContainsFunc(clip.Result.Files, func(f archive.File) bool { return isStill(f.Name) }) {
		return
	}
	if a, err := d.summary(ctx, clip); err != nil || len(a.Reps) == 0 {
		return
	}
	jobs, err := d.s.archive.Jobs(ctx, listedJobs)
	for _, j := range jobs {
		opt, err := optionsOf(j)
		if err != nil || j.ClipID != clip.ID || !opt.Stills {
			continue
		}
		underWay := j.State == archive.JobWaiting || j.State == archive.JobRunning
		if underWay || j.State != archive.JobCancelled && !j.CreatedAt.Before(clip.Result.CreatedAt) {
			return // another would not help
		}
	}
	if err == nil {
		err = d.drawStills(ctx, clip.ID)
	}
	if err != nil {
		d.s.log.Warn("the stills of a clip cannot be queued", "clip", clip.ID)
	}
}

// stale says whether a clip was changed after its numbers were measured, in a way that
// is not known to be one that cannot be measured.
func (d *desk) stale(ctx context.Context, clip archive.Clip) (bool, error) {
	_, seq, err := d.s.archive.CurrentCorrections(ctx, clip.ID)
	if err != nil {
		return false, err
	}
	if seq == clip.Result.CorrectionSeq && !d.s.outdated(ctx, clip) {
		return false, nil
	}
	bad, known := d.unfit.Load(clip.ID)
	return !known || bad != d.changes(clip, seq), nil
}

// changes names all that a coach has changed of a clip.
func (d *desk) changes(clip archive.Clip, seq int) string {
	return fmt.Sprintf("%d %+v", seq, d.s.orderOf(clip).measuredWith())
}
