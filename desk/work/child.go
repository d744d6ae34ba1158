package work

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"holdfast/confine"
	"holdfast/desk/refusal"
	"holdfast/kinematics/events"
	"holdfast/movements"
	"holdfast/report"
	"holdfast/report/resultdir"
	"holdfast/screening"
	"holdfast/screening/sets"
	"holdfast/vision/media"
	"holdfast/vision/pose"
	"holdfast/words"
)

// maxOrderBytes bounds the order that a child reads.
const maxOrderBytes = 1 << 20

// Work is the child process's side: it reads one order from in, does it, and
// prints one line of JSON for each step to out. What goes wrong with the clip is
// printed and nil is returned; an error is returned when the order itself is wrong or
// nobody reads the lines.
func Work(ctx context.Context, in io.Reader, out io.Writer) error {
	read := bufio.NewReader(in)
	text, err := readLine(read, maxOrderBytes)
	if err != nil {
		return fmt.Errorf("reading the order: %w", err)
	}
	var order Order
	if err := json.Unmarshal(text, &order); err != nil {
		return fmt.Errorf("reading the order: %w", err)
	}
	if err := limitSelf(order.Limits); err != nil {
		return fmt.Errorf("setting limits: %w", err)
	}
	if order.Confined {
		nameLibrary()
		if err := confine.Self(reachOf(&order)); err != nil {
			return fmt.Errorf("setting limits: %w", err)
		}
	}
	if len(order.Movements) > 0 {
		known, err := movements.Known().WithOwn(order.Movements)
		if err != nil {
			return fmt.Errorf("reading the order: %w", err)
		}
		movements.Use(known)
	}
	if order.Watched {
		// Whoever cancels the context after the work is done must not end it again.
		defer endWith(ctx, read)()
	}
	s := &speaker{out: json.NewEncoder(out), now: time.Now}
	if err := do(ctx, &order, s); err != nil {
		s.failed(err)
	} else {
		s.say(Line{Event: EventDone})
	}
	return s.err
}

// endWith ends this process and all that it has started when the context ends or the
// pipe does, which whoever waits for the work keeps open: a server that was killed
// leaves no decoder behind. What it returns lets go of the context.
func endWith(ctx context.Context, pipe io.Reader) (letGo func()) {
	stop := context.AfterFunc(ctx, endGroup)
	go func() {
		_, _ = io.Copy(io.Discard, pipe)
		endGroup()
	}()
	return func() { stop() }
}

func readLine(r *bufio.Reader, most int) ([]byte, error) {
	var line []byte
	for {
		part, more, err := r.ReadLine()
		if err != nil {
			return nil, err
		}
		if line = append(line, part...); len(line) > most {
			return nil, errors.New("it is too long")
		}
		if !more {
			return line, nil
		}
	}
}

// speaker prints the lines of a child. Its first error is kept.
type speaker struct {
	now func() time.Time

	mu    sync.Mutex
	out   *json.Encoder
	err   error
	stage string
	last  time.Time
}

func (s *speaker) say(l Line) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.out.Encode(l); err != nil && s.err == nil {
		s.err = fmt.Errorf("telling how far the work has come: %w", err)
	}
}

// progressRest is the shortest time between two lines of one stage.
const progressRest = 100 * time.Millisecond

// progress is a media.Progress; of its many calls it passes a few on.
func (s *speaker) progress(stage string, done, total int) {
	s.mu.Lock()
	now := s.now()
	skip := stage == s.stage && done != total && now.Sub(s.last) < progressRest
	if !skip {
		s.stage, s.last = stage, now
	}
	s.mu.Unlock()
	if !skip {
		s.say(Line{Event: EventProgress, Stage: stage, Done: done, Total: total})
	}
}

// failed prints what went wrong in words for the coach: the reason without the
// path of the archive's file, which says nothing to them.
func (s *speaker) failed(err error) {
	l := Line{Event: EventFailed, Error: refusal.Plain(err)}
	var kind words.Error
	if errors.As(err, &kind) {
		l.Reason = string(kind)
	}
	var clip *media.ClipError
	var known *refusal.Error
	switch {
	case errors.As(err, &known), errors.Is(err, resultdir.ErrCannotWrite):
		of := refusal.Of(err)
		l.Error, l.Hint = of.Text, of.Hint
	case errors.As(err, &clip):
		l.Error, l.Hint = refusal.Plain(clip.Err), clip.Hint
	}
	s.say(l)
}

func do(ctx context.Context, o *Order, s *speaker) error {
	if len(o.Clips) == 0 || o.Kind != KindCompare && len(o.Clips) != 1 {
		return errors.New("the order names no clip, or too many")
	}
	switch o.Kind {
	case KindAnalyze:
		return doAnalyze(ctx, o, s)
	case KindVideo, KindStills:
		return doPictures(ctx, o, s)
	case KindCompare:
		return doCompare(ctx, o, s)
	}
	return fmt.Errorf("nobody knows how to %q", o.Kind)
}

// doAnalyze tracks and measures the clip and writes the result, then makes the
// video for the page: that takes a while, and the numbers are worth having before.
func doAnalyze(ctx context.Context, o *Order, s *speaker) error {
	in := o.Clips[0]
	clip, err := media.Open(ctx, in.Path)
	if err != nil {
		return err
	}
	if err := o.Limits.allow(clip); err != nil {
		return err
	}
	s.say(Line{Event: EventClip, Frames: len(clip.TimesS)})
	tempo, err := TempoOf(in.Tempo)
	if err != nil {
		return err
	}
	// The athlete's name stays in the archive's own row: who is renamed is renamed everywhere.
	a, track, err := screening.AnalyzeClip(ctx, clip, screening.Options{
		Model: o.Model, Tempo: tempo, HeightCm: in.HeightCm, CaptureFPS: in.CaptureFPS, LoadKg: in.Load(),
		Movement: in.Movement, MaxMinutes: o.Limits.ClipMinutes, Progress: s.progress,
	})
	if err != nil {
		return err
	}
	a.Clip.Name = in.Name
	result := filepath.Join(o.Dir, MadeAnalysis)
	// The result may be given away: it does not name its place in this computer's archive.
	opt := report.Options{Clip: clip, NoPath: true, Progress: s.progress}
	if _, err := report.WriteAnalysis(ctx, result, a, track, opt); err != nil {
		return err
	}
	if err := writeWhole(filepath.Join(result, MeasuredWithFile), in.MeasuredWith().Write); err != nil {
		return err
	}
	if err := writeWhole(filepath.Join(o.Dir, MadeTrack),
		func(w io.Writer) error { return pose.WriteTrack(w, track) }); err != nil {
		return err
	}
	s.say(Line{Event: EventMade, Name: MadeAnalysis})
	if err := pageVideo(ctx, clip, filepath.Join(o.Dir, MadeWebVideo), s.progress); err != nil {
		return &refusal.Error{Code: "web_video", Err: err}
	}
	s.say(Line{Event: EventMade, Name: MadeWebVideo})
	return nil
}

// doPictures draws a stored result over its clip: the stills, and the video when
// it is asked for.
func doPictures(ctx context.Context, o *Order, s *speaker) error {
	a, err := storedAnalysis(o.Clips[0], o.Athlete)
	if err != nil {
		return err
	}
	s.say(Line{Event: EventClip, Frames: a.Clip.Frames})
	track, err := storedTrack(o.Clips[0].Track)
	if err != nil {
		return err
	}
	_, err = report.WriteAnalysis(ctx, filepath.Join(o.Dir, MadeAnalysis), a, track, pictureOptions(o, s))
	if err != nil {
		return err
	}
	s.say(Line{Event: EventMade, Name: MadeAnalysis})
	return nil
}

// doCompare writes the report of a comparison.
func doCompare(ctx context.Context, o *Order, s *speaker) error {
	var analyses []*screening.Analysis
	frames := 0
	for _, in := range o.Clips {
		a, err := storedAnalysis(in, o.Athlete)
		if err != nil {
			return err
		}
		analyses = append(analyses, a)
		frames += a.Clip.Frames
	}
	s.say(Line{Event: EventClip, Frames: frames})
	var fronts []*screening.Analysis
	for _, in := range o.Fronts {
		a, err := storedAnalysis(in, o.Athlete)
		if err != nil {
			return err
		}
		fronts = append(fronts, a)
	}
	c, err := sets.Load(o.Comparison, analyses, fronts)
	if err != nil {
		return &refusal.Error{Code: "stored_comparison", Err: err}
	}
	c.Told(o.Athlete, o.Axis)
	opt := pictureOptions(o, s)
	for i := range o.Clips {
		opt.Marks = append(opt.Marks, o.Clips[i].Marks)
	}
	if _, err := report.WriteComparison(ctx, filepath.Join(o.Dir, MadeAnalysis), c, opt); err != nil {
		return err
	}
	s.say(Line{Event: EventMade, Name: MadeAnalysis})
	return nil
}

func pictureOptions(o *Order, s *speaker) report.Options {
	return report.Options{Video: o.Video, Date: o.Date, BlurFace: o.BlurFace, Progress: s.progress}
}

// storedAnalysis reads an analysis of the archive and lets it find its clip there.
func storedAnalysis(in Clip, athlete string) (*screening.Analysis, error) {
	a, err := screening.LoadAnalysis(in.Analysis)
	if err != nil {
		return nil, &refusal.Error{Code: "stored_analysis", Err: err}
	}
	a.Clip.Path, a.Clip.Name, a.Athlete = in.Path, in.Name, athlete
	return a, nil
}

func storedTrack(path string) (*pose.Track, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("reading the track: %w", err)
	}
	defer f.Close()
	return pose.ReadTrack(f)
}

// writeWhole writes a file under a temporary name and renames it when it is whole.
func writeWhole(path string, fill func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".part-*")
	if err != nil {
		return fmt.Errorf("writing %s: %w: %w", filepath.Base(path), resultdir.ErrCannotWrite, err)
	}
	defer func() {
		if err != nil {
			_ = os.Remove(f.Name())
		}
	}()
	buffered := bufio.NewWriter(f)
	err = fill(buffered)
	if err == nil {
		err = buffered.Flush()
	}
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return fmt.Errorf("writing %s: %w: %w", filepath.Base(path), resultdir.ErrCannotWrite, err)
	}
	return nil
}

// TempoOf reads a tempo; an empty one is left to be found. The error says what it can be.
func TempoOf(name string) (events.Tempo, error) {
	t := events.ParseTempo(name)
	if t != events.TempoUnknown || name == "" {
		return t, nil
	}
	return t, fmt.Errorf("the tempo is %q: it can be slow, fast or jump", name)
}
