package main

import (
	"bytes"
	"context"
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/internal/golden"
	"holdfast/internal/tracks"
	"holdfast/screening"
	"holdfast/vision"
)

// tracked is an app that measures the shipped clips from their stored tracks: slow.mp4
// is slow_30.mp4, and so on.
func tracked(t *testing.T) *testApp {
	ta := newTestApp(t)
	ta.engine.compare = screening.Compare
	ta.engine.analyze = func(_ context.Context, path string, opt screening.Options) (*screening.Analysis, *vision.Track,
		error) {
		a, track := tracks.Analysis(t, strings.TrimSuffix(filepath.Base(path), ".mp4")+"_30", opt)
		return a, track, nil
	}
	return ta
}

// What a terminal shows of the shipped clips, to the last letter.
func TestGoldenTables(t *testing.T) {
	for _, tt := range []struct {
		name string
		args []string
	}{
		{"analyze", []string{"analyze", "jump.mp4"}},
		{"compare", []string{"compare", "slow.mp4", "fast.mp4", "jump.mp4"}},
		{"history", []string{"history", "Sam Example", "--data", filmedThrice(t)}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			ta := tracked(t)
			args := tt.args
			if tt.name != "history" {
				args = append(args, "--athlete", "Sam Example", "--height-cm", "180", "--no-video")
			}
			if code := ta.run(args...); code != exitOK {
				t.Fatalf("exit code %d: %s", code, ta.err)
			}
			golden.Text(t, tt.name+".txt", filepath.ToSlash(ta.out.String()))
			golden.Text(t, tt.name+"_warnings.txt", filepath.ToSlash(ta.err.String()))
		})
	}
}

// filmedThrice makes an archive of an athlete with three visits.
func filmedThrice(t *testing.T) (dir string) {
	t.Helper()
	ctx := t.Context()
	dir = filepath.Join(t.TempDir(), "data")
	arc, err := archive.Open(ctx, dir, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	who, err := arc.CreateAthlete(ctx, archive.Athlete{Name: "Sam Example"})
	must(err)
	load := 60.0
	of := map[string][]byte{}
	for _, clip := range []struct {
		date, condition string
		loadKg          *float64
		name            string
	}{
		{"2025-01-02", "fresh", nil, "slow_30"}, {"2025-01-02", "fresh", nil, "fast_30"},
		{"2025-01-09", "fresh", nil, "fast"},
		{"2025-01-16", "loaded", &load, "fast"}, {"2025-01-16", "loaded", &load, "jump_30"},
	} {
		v, err := arc.VisitFor(ctx, archive.Visit{AthleteID: who.ID, Date: clip.date, Condition: clip.condition,
			LoadKg: clip.loadKg})
		must(err)
		f, err := arc.Put(ctx, strings.NewReader(clip.date+clip.name), 100)
		must(err)
		c, _, err := arc.AddClip(ctx, archive.Clip{AthleteID: who.ID, VisitID: v.ID, Name: clip.name + ".mp4",
			SHA256: f.SHA256})
		must(err)
		if of[clip.name] == nil {
			a, _ := tracks.Analysis(t, clip.name, screening.Options{HeightCm: 180})
			of[clip.name], err = json.Marshal(a)
			must(err)
		}
		r, err := arc.Put(ctx, bytes.NewReader(of[clip.name]), 1<<24)
		must(err)
		r.Name = "analysis.json"
		_, err = arc.SaveResult(ctx, c.ID, []archive.File{r}, 0)
		must(err)
	}
	must(arc.Close())
	return dir
}
