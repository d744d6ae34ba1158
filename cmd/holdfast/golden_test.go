package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/internal/golden"
	"holdfast/internal/pseudo"
	"holdfast/internal/tracks"
	"holdfast/screening"
	"holdfast/vision/pose"
)

// tracked is an app that measures the shipped clips from their stored tracks: slow.mp4
// is slow_30.mp4, and so on, but for the clips from the front and those without reps.
func tracked(t *testing.T) *testApp {
	ta := newTestApp(t)
	ta.engine.compare = screening.Compare
	ta.engine.analyze = func(_ context.Context, path string, opt screening.Options) (*screening.Analysis, *pose.Track,
		error) {
		name := strings.TrimSuffix(filepath.Base(path), ".mp4")
		if !strings.HasPrefix(name, "front_") && !strings.HasPrefix(name, "no_rep_") {
			name += "_30"
		}
		a, track := tracks.Analysis(t, name, opt)
		return a, track, nil
	}
	return ta
}

// shown are the commands that show results of the shipped clips, by name.
func shown(t *testing.T) map[string][]string {
	of := []string{"--athlete", "Sam Example", "--height-cm", "180", "--no-video"}
	return map[string][]string{
		"analyze":       append([]string{"analyze", "jump.mp4"}, of...),
		"compare":       append([]string{"compare", "slow.mp4", "fast.mp4", "jump.mp4"}, of...),
		"front":         append([]string{"analyze", "front_slow.mp4"}, of...),
		"front_compare": append([]string{"compare", "front_slow.mp4", "front_fast.mp4"}, of...),
		"plain":         append([]string{"analyze", "no_rep_plate.mp4"}, of...),
		"plain_part":    append([]string{"analyze", "no_rep_sit.mp4", "--part", "1.5-4"}, of...),
		"joined": append([]string{"compare", "slow.mp4", "fast.mp4", "--front", "front_slow.mp4", "--front",
			"front_fast.mp4"}, of...),
		"history": {"history", "Sam Example", "--data", filmedThrice(t)},
	}
}

// What a terminal shows of the shipped clips, to the last letter.
func TestGoldenTables(t *testing.T) {
	for name, args := range shown(t) {
		t.Run(name, func(t *testing.T) {
			ta := tracked(t)
			if code := ta.run(args...); code != exitOK {
				t.Fatalf("exit code %d: %s", code, ta.err)
			}
			golden.Text(t, name+".txt", filepath.ToSlash(ta.out.String()))
			golden.Text(t, name+"_warnings.txt", filepath.ToSlash(ta.err.String()))
		})
	}
}

// The measures as CSV: a row for each rep, joint and measure.
func TestGoldenMeasures(t *testing.T) {
	for name, args := range shown(t) {
		t.Run(name, func(t *testing.T) {
			ta := tracked(t)
			if code := ta.run(append(args, "--csv")...); code != exitOK {
				t.Fatalf("exit code %d: %s", code, ta.err)
			}
			golden.Text(t, name+".csv", ta.out.String())
			rows, err := csv.NewReader(strings.NewReader(ta.out.String())).ReadAll()
			if err != nil || len(rows) < 15 {
				t.Fatalf("%d rows: %v", len(rows), err)
			}
			seen := map[string]bool{}
			for _, r := range rows[1:] {
				key := strings.Join(r[:len(r)-3], " ")
				if seen[key] {
					t.Errorf("two rows say %s", key)
				}
				seen[key] = true
				if _, err := strconv.ParseFloat(r[len(r)-3], 64); err != nil {
					t.Errorf("%s is %q", key, r[len(r)-3])
				}
				if !unitInName.MatchString(r[len(r)-4]) {
					t.Errorf("%s has no unit", r[len(r)-4])
				}
			}
		})
	}
}

var unitInName = regexp.MustCompile(`_(deg|deg_s|pct_foot|pct_stance|cm|m|s)$`)

// Results are shown in another language without a word of English in them.
func TestTablesInAnotherLanguage(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it measures clips")
	}
	pseudo.Speak(t)
	path := regexp.MustCompile(`\S*(/|\.mp4)\S*`)
	for name, args := range shown(t) {
		t.Run(name, func(t *testing.T) {
			ta := tracked(t)
			if code := ta.run(args...); code != exitOK {
				t.Fatalf("exit code %d: %s", code, ta.err)
			}
			text := strings.ReplaceAll(filepath.ToSlash(ta.out.String()+ta.err.String()), "Sam Example", "")
			if found := pseudo.English(path.ReplaceAllString(text, "")); len(found) > 0 {
				t.Errorf("English in %q:\n%s", found, text)
			}
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
