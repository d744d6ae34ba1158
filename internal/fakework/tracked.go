package fakework

import (
	"bufio"
	"context"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"

	"holdfast/desk/work"
	"holdfast/internal/tracks"
	"holdfast/printable"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// DoTracked does an order as the program would, but that the network has been asked before: a
// clip is called like one that is shipped and is measured from its stored track. The clip
// itself is the page's video, and no other picture is made.
func DoTracked() int {
	text, err := bufio.NewReader(os.Stdin).ReadBytes('\n')
	var o work.Order
	if err != nil || json.Unmarshal(text, &o) != nil {
		return 1
	}
	out := json.NewEncoder(os.Stdout)
	say := func(l work.Line) { _ = out.Encode(l) }
	if err := tracked(&o, say); err != nil {
		say(work.Line{Event: work.EventFailed, Error: err.Error()})
		return 0
	}
	say(work.Line{Event: work.EventDone})
	return 0
}

func tracked(o *work.Order, say func(work.Line)) error {
	if o.Kind != work.KindAnalyze {
		return result(o, say)
	}
	in := o.Clips[0]
	clip, err := media.Open(context.Background(), in.Path)
	if err != nil {
		return err
	}
	say(work.Line{Event: work.EventClip, Frames: len(clip.TimesS)})
	track, err := tracks.Read(strings.TrimSuffix(in.Name, ".mp4"))
	if err != nil {
		return err
	}
	tempo, err := work.TempoOf(in.Tempo)
	if err != nil {
		return err
	}
	a, err := screening.Measure(clip, track, screening.Options{
		Tempo: tempo, HeightCm: in.HeightCm, CaptureFPS: in.CaptureFPS, LoadKg: in.Load(),
		Movement: in.Movement,
	})
	if err != nil {
		return err
	}
	a.Clip.Name, a.Clip.Path = in.Name, ""
	dir := filepath.Join(o.Dir, work.MadeAnalysis)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for _, f := range []struct {
		path string
		fill func(io.Writer) error
	}{
		{filepath.Join(dir, "analysis.json"), func(w io.Writer) error { return printable.WriteJSON(w, a) }},
		{filepath.Join(dir, work.MeasuredWithFile), in.MeasuredWith().Write},
		{filepath.Join(o.Dir, work.MadeTrack), func(w io.Writer) error { return pose.WriteTrack(w, track) }},
	} {
		if err := writeFile(f.path, f.fill); err != nil {
			return err
		}
	}
	say(work.Line{Event: work.EventMade, Name: work.MadeAnalysis})
	pictures, err := os.ReadFile(in.Path)
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(o.Dir, work.MadeWebVideo), pictures, 0o600); err != nil {
		return err
	}
	say(work.Line{Event: work.EventMade, Name: work.MadeWebVideo})
	return nil
}
