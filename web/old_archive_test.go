package web

import (
	"archive/zip"
	"context"
	"math"
	"net"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/screening/history"
)

// openOldArchive returns a server over the archive that version 0.1 left behind, whose clips the network heavy tracked,
// and that archive. model is the one that the server tracks clips with; empty: the default.
func openOldArchive(t *testing.T, model string) (*Server, *archive.Archive) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "data")
	z, err := zip.OpenReader("../testdata/archive-0.1.zip")
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	if err := os.CopyFS(dir, z); err != nil {
		t.Fatal(err)
	}
	kept, err := archive.Open(t.Context(), dir, archive.Options{Serving: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	})
	s, err := NewServer(Options{
		Desk: desk.Options{
			Archive: kept, WorkDir: filepath.Join(dir, "tmp", "work"), Program: []string{os.Args[0]},
			Env: []string{fakeVariable + "=work"}, Model: model,
		},
		Address: &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 7070},
	})
	if err != nil {
		t.Fatal(err)
	}
	return s, kept
}

// Where clips are tracked with other networks by now, those of then are tracked anew in the background, each once.
func TestArchiveOfVersion01IsTrackedAnew(t *testing.T) {
	s, kept := openOldArchive(t, "")
	for range 2 {
		if err := s.desk.Resume(t.Context()); err != nil {
			t.Fatal(err)
		}
		jobs, err := kept.Jobs(t.Context(), -1)
		if err != nil {
			t.Fatal(err)
		}
		waiting := map[string]int{}
		for _, j := range jobs {
			if j.State == archive.JobWaiting {
				waiting[j.Kind]++
			}
		}
		if waiting[archive.JobAnalyze] != 2 || len(waiting) != 1 {
			t.Errorf("there wait %v, want two clips to be tracked", waiting)
		}
	}
}

// An archive that version 0.1 left behind: an athlete with a slow and a fast squat, a
// corrected point and a comparison. Its numbers below are what 0.1 showed.
func TestArchiveOfVersion01(t *testing.T) {
	s, kept := openOldArchive(t, "heavy")
	b := &bench{t: t, s: s}
	near := func(what string, got float64, want, within float64) {
		t.Helper()
		if !(math.Abs(got-want) <= within) {
			t.Errorf("%s is %.1f°, in version 0.1 it was %.1f°", what, got, want)
		}
	}

	const slow, fast, comparison = "01a223e3-0356-7068-94f6-c31691b2e425", "01a223e3-05af-7509-9c5e-459e5964c3e7",
		"01a223e8-c72d-7ca5-b8d1-26d666504e50"
	for _, clip := range []struct {
		id, tempo string
		kneeDeg   float64
		corrected bool
	}{{slow, "slow", 117.6, false}, {fast, "fast", 98.0, true}} {
		var a screening.Analysis
		b.want(200, "GET", "/api/clips/"+clip.id+"/analysis", "", &a)
		if len(a.Reps) != 1 || string(a.Reps[0].Tempo) != clip.tempo || (a.Corrections != nil) != clip.corrected {
			t.Fatalf("the %s clip has %d reps, corrections %v", clip.tempo, len(a.Reps), a.Corrections)
		}
		near("the knee of the "+clip.tempo+" clip", a.Reps[0].Angles[body.KneeFlexion].ROMDeg, clip.kneeDeg, 0.1)
		for _, file := range []string{"series.csv", "track.json.gz"} {
			if w := b.send("GET", "/clips/"+clip.id+"/files/"+file, nil, nil); w.Code != 200 || w.Body.Len() == 0 {
				t.Errorf("%s of the %s clip: %d", file, clip.tempo, w.Code)
			}
		}
	}
	var c struct{ Comparison screening.Comparison }
	b.want(200, "GET", "/api/comparisons/"+comparison, "", &c)
	if len(c.Comparison.Pairs) != 1 || c.Comparison.Pairs[0].Joints[body.KneeJoint].Verdict != "lost" {
		t.Fatalf("the comparison is %+v", c.Comparison.Pairs)
	}
	// The comparison may have been made anew from the stored analyses.
	near("what the knee loses", c.Comparison.Pairs[0].Joints[body.KneeJoint].LostDeg, 19.6, 0.5)

	var athletes struct {
		Athletes []struct{ ID, Name string }
	}
	b.want(200, "GET", "/api/athletes", "", &athletes)
	if len(athletes.Athletes) != 1 || athletes.Athletes[0].Name != "Sam Example" {
		t.Fatalf("athletes %+v", athletes)
	}
	var h struct{ History history.History }
	b.want(200, "GET", "/api/athletes/"+athletes.Athletes[0].ID+"/history", "", &h)
	if n := len(h.History.Series); n != 10 { // five positions in two tempos
		t.Errorf("%d series, want 10", n)
	}
	for _, series := range h.History.Series {
		if series.Position == kinematics.PositionKnee {
			near("the "+series.Tempo+" knee in the history", series.Points[0].Value.Value,
				map[string]float64{"slow": 117.6, "fast": 98.0}[series.Tempo], 0.1)
		}
	}
	for _, page := range []string{"/", "/clips/" + slow, "/clips/" + fast, "/comparisons/" + comparison,
		"/athletes/" + athletes.Athletes[0].ID} {
		if w := b.send("GET", page, nil, nil); w.Code != 200 {
			t.Errorf("the page %s: %d", page, w.Code)
		}
	}
	// The numbers of then say so until the clips are measured again in the background, each once.
	old := func(id string) (program string, said bool) {
		t.Helper()
		var a screening.Analysis
		b.want(200, "GET", "/api/clips/"+id+"/analysis", "", &a)
		return a.Program, slices.ContainsFunc(a.Warnings,
			func(w screening.Warning) bool { return w.Code == "measured_before" })
	}
	for _, id := range []string{slow, fast} {
		if program, said := old(id); program != "holdfast 0.1" || !said {
			t.Errorf("before: measured by %q, said to be old: %v", program, said)
		}
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan struct{})
	if err := s.desk.Resume(ctx); err != nil {
		t.Fatal(err)
	}
	go func() { s.desk.Run(ctx); close(ended) }()
	measuring := 0
	jobs, err := kept.Jobs(ctx, -1)
	if err != nil {
		t.Fatal(err)
	}
	for _, j := range jobs {
		if j.Kind != archive.JobMeasure {
			continue
		}
		measuring++
		if j, err = s.desk.Queue.Wait(ctx, j.ID); err != nil || j.State != archive.JobDone {
			t.Errorf("measuring again: %s, %s, %v", j.State, j.Error, err)
		}
	}
	stop()
	<-ended
	if measuring != 2 {
		t.Errorf("%d clips are measured again, want 2", measuring)
	}
	for _, id := range []string{slow, fast} {
		if program, said := old(id); program != screening.Program || said {
			t.Errorf("after: measured by %q, said to be old: %v", program, said)
		}
	}
	b.want(200, "GET", "/api/comparisons/"+comparison, "", &c)
	near("what the knee loses, measured again", c.Comparison.Pairs[0].Joints[body.KneeJoint].LostDeg, 19.6, 2)

	// A correction measures the clip of then with the program of now.
	b.want(200, "POST", "/api/clips/"+fast+"/corrections/undo", "", nil)
	var a screening.Analysis
	b.want(200, "GET", "/api/clips/"+fast+"/analysis", "", &a)
	near("the knee without the correction", a.Reps[0].Angles[body.KneeFlexion].ROMDeg, 99.3, 0.5)
}
