package web

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
	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/printable"
	"holdfast/report"
	"holdfast/screening"
	"holdfast/vision"
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
	var order workOrder
	if err := json.Unmarshal(text, &order); err != nil {
		return fmt.Errorf("reading the order: %w", err)
	}
	if err := limitSelf(order.Limits); err != nil {
		return fmt.Errorf("setting limits: %w", err)
	}
	if order.Confined {
		if err := confine.Self(reachOf(&order)); err != nil {
			return fmt.Errorf("setting limits: %w", err)
		}
	}
	if order.Watched {
		// Whoever cancels the context after the work is done must not end it again.
		defer endWith(ctx, read)()
	}
	s := &speaker{out: json.NewEncoder(out), now: time.Now}
	if err := do(ctx, &order, s); err != nil {
		s.failed(err)
	} else {
		s.say(workLine{Event: eventDone})
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

func (s *speaker) say(l workLine) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.out.Encode(l); err != nil && s.err == nil {
		s.err = fmt.Errorf("telling how far the work has come: %w", err)
	}
}

// progressRest is the shortest time between two lines of one stage.
const progressRest = 100 * time.Millisecond

// progress is a vision.Progress; of its many calls it passes a few on.
func (s *speaker) progress(stage string, done, total int) {
	s.mu.Lock()
	now := s.now()
	skip := stage == s.stage && done != total && now.Sub(s.last) < progressRest
	if !skip {
		s.stage, s.last = stage, now
	}
	s.mu.Unlock()
	if !skip {
		s.say(workLine{Event: eventProgress, Stage: stage, Done: done, Total: total})
	}
}

// failed prints what went wrong in words for the coach: the reason without the
// path of the archive's file, which says nothing to them.
func (s *speaker) failed(err error) {
	l := workLine{Event: eventFailed, Error: plainLine(err)}
	var clip *vision.ClipError
	var known *workError
	switch {
	case errors.As(err, &known):
		l.Error, l.Hint = known.text, known.hint
	case errors.As(err, &clip):
		l.Error, l.Hint = plainLine(clip.Err), clip.Hint
	case errors.Is(err, report.ErrCannotWrite):
		l.Error, l.Hint = "the results cannot be written", "is the disk full?"
	}
	s.say(l)
}

func do(ctx context.Context, o *workOrder, s *speaker) error {
	if len(o.Clips) == 0 || o.Kind != workCompare && len(o.Clips) != 1 {
		return errors.New("the order names no clip, or too many")
	}
	switch o.Kind {
	case workAnalyze:
		return doAnalyze(ctx, o, s)
	case workVideo, workStills:
		return doPictures(ctx, o, s)
	case workCompare:
		return doCompare(ctx, o, s)
	}
	return fmt.Errorf("nobody knows how to %q", o.Kind)
}

// doAnalyze tracks and measures the clip and writes the result, then makes the
// video for the page: that takes a while, and the numbers are worth having before.
func doAnalyze(ctx context.Context, o *workOrder, s *speaker) error {
	in := o.Clips[0]
	clip, err := vision.Open(ctx, in.Path)
	if err != nil {
		return err
	}
	if text, hint := o.Limits.tooMuch(clip); text != "" {
		return &workError{text: text, hint: hint}
	}
	s.say(workLine{Event: eventClip, Frames: len(clip.TimesS)})
	tempo, err := tempoOf(in.Tempo)
	if err != nil {
		return err
	}
	// The athlete's name stays in the archive's own row: who is renamed is renamed everywhere.
	a, track, err := screening.Analyze(ctx, in.Path, screening.Options{
		Model: o.Model, Tempo: tempo, HeightCm: in.HeightCm, CaptureFPS: in.CaptureFPS, MaxMinutes: o.Limits.ClipMinutes, Progress: s.progress,
	})
	if err != nil {
		return err
	}
	clip.Turn(a.Clip.TurnedDeg)
	a.Clip.Name = in.Name
	result := filepath.Join(o.Dir, madeAnalysis)
	if _, err := report.WriteAnalysis(ctx, result, a, track, report.Options{Progress: s.progress}); err != nil {
		return err
	}
	if err := withoutPath(filepath.Join(result, "analysis.json")); err != nil {
		return err
	}
	if err := writeWhole(filepath.Join(result, measuredWithFile), in.measuredWith().write); err != nil {
		return err
	}
	if err := writeWhole(filepath.Join(o.Dir, madeTrack), func(w io.Writer) error { return vision.WriteTrack(w, track) }); err != nil {
		return err
	}
	s.say(workLine{Event: eventMade, Name: madeAnalysis})
	if err := pageVideo(ctx, clip, filepath.Join(o.Dir, madeWebVideo), s.progress); err != nil {
		return &workError{text: "the clip is measured, but its video for the page could not be made", hint: "retry; if it stays, run holdfast doctor", err: err}
	}
	s.say(workLine{Event: eventMade, Name: madeWebVideo})
	return nil
}

// doPictures draws a stored result over its clip: the stills, and the video when
// it is asked for.
func doPictures(ctx context.Context, o *workOrder, s *speaker) error {
	a, err := storedAnalysis(o.Clips[0], o.Athlete)
	if err != nil {
		return err
	}
	s.say(workLine{Event: eventClip, Frames: a.Clip.Frames})
	track, err := storedTrack(o.Clips[0].Track)
	if err != nil {
		return err
	}
	_, err = report.WriteAnalysis(ctx, filepath.Join(o.Dir, madeAnalysis), a, track, pictureOptions(o, s))
	if err != nil {
		return err
	}
	s.say(workLine{Event: eventMade, Name: madeAnalysis})
	return nil
}

// doCompare writes the report of a comparison.
func doCompare(ctx context.Context, o *workOrder, s *speaker) error {
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
	s.say(workLine{Event: eventClip, Frames: frames})
	c, err := screening.Compare(analyses, screening.CompareOptions{SmallestChangeDeg: o.SmallestChangeDeg, Sides: o.Sides, Axis: o.Axis, Dates: o.Dates})
	if err != nil {
		return err
	}
	c.Athlete = o.Athlete
	if _, err := report.WriteComparison(ctx, filepath.Join(o.Dir, madeAnalysis), c, pictureOptions(o, s)); err != nil {
		return err
	}
	s.say(workLine{Event: eventMade, Name: madeAnalysis})
	return nil
}

func pictureOptions(o *workOrder, s *speaker) report.Options {
	return report.Options{Video: o.Video, Date: o.Date, BlurFace: o.BlurFace, Progress: s.progress}
}

// storedAnalysis reads an analysis of the archive and lets it find its clip there.
func storedAnalysis(in workClip, athlete string) (*screening.Analysis, error) {
	a, err := screening.LoadAnalysis(in.Analysis)
	if err != nil {
		return nil, &workError{text: "the stored analysis cannot be read", hint: "analyse the clip again", err: err}
	}
	a.Clip.Path, a.Clip.Name, a.Athlete = in.Path, in.Name, athlete
	return a, nil
}

func storedTrack(path string) (*vision.Track, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("reading the track: %w", err)
	}
	defer f.Close()
	return vision.ReadTrack(f)
}

// withoutPath takes the place of the clip out of a written analysis: it is that of
// one computer's archive, and the analysis may be given away.
func withoutPath(path string) error {
	a, err := screening.LoadAnalysis(path)
	if err != nil {
		return fmt.Errorf("reading the analysis back: %w", err)
	}
	a.Clip.Path = ""
	return writeWhole(path, func(w io.Writer) error { return printable.WriteJSON(w, a) })
}

// writeWhole writes a file under a temporary name and renames it when it is whole.
func writeWhole(path string, fill func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), ".part-*")
	if err != nil {
		return fmt.Errorf("writing %s: %w: %w", filepath.Base(path), report.ErrCannotWrite, err)
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
		return fmt.Errorf("writing %s: %w: %w", filepath.Base(path), report.ErrCannotWrite, err)
	}
	return nil
}

// tempoOf reads a tempo; an empty one is left to be found.
func tempoOf(name string) (events.Tempo, error) {
	t := kinematics.ParseTempo(name)
	if t != events.TempoUnknown || name == "" {
		return t, nil
	}
	return t, fmt.Errorf("the tempo is %q: it can be slow, fast or jump", name)
}
