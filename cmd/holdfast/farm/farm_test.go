package farm

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"holdfast/archive"
	"holdfast/archive/files"
	"holdfast/cmd/holdfast/place"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/internal/fakework"
	"holdfast/internal/pgtest"
)

func TestMain(m *testing.M) {
	switch {
	case len(os.Args) > 1 && os.Args[1] == childArgument:
		os.Exit(fakework.Do())
	case os.Getenv(workerData) != "":
		os.Exit(worker())
	}
	code := m.Run()
	pgtest.Stop()
	os.Exit(code)
}

// write writes files below a folder, which it returns.
func write(t *testing.T, texts map[string]string) (dir string) {
	t.Helper()
	dir = t.TempDir()
	for name, text := range texts {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o700), os.WriteFile(path, []byte(text), 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// The names of folders, or a list, say whose a clip is; what they do not say is asked for.
func TestRead(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		texts map[string]string
		want  []string // athlete, date, condition and tempo of each clip
		wrong string
	}{
		"names": {map[string]string{
			"Sam_Example/2026-05-02/slow_1.mp4": "", "Robin Vale/2026-05-02_loaded_20kg/Fast.MOV": "",
			"Robin Vale/2026-05-03_fatigued/clip.mp4": "", "Robin Vale/2026-05-03/notes.txt": "",
		}, []string{"Robin Vale 2026-05-02 loaded fast", "Robin Vale 2026-05-03 fatigued ",
			"Sam Example 2026-05-02  slow"}, ""},
		"no date":        {map[string]string{"Sam/May/slow.mp4": ""}, nil, "does not say whose"},
		"no athlete":     {map[string]string{"2026-05-02/slow.mp4": ""}, nil, "does not say whose"},
		"another word":   {map[string]string{"Sam/2026-05-02_tired/slow.mp4": ""}, nil, "does not say whose"},
		"no such folder": {nil, nil, "no folder"},
		"a list": {map[string]string{"clips.csv": "file,athlete,date,tempo,load_kg\nx/a.mp4,Sam,2026-05-02,jump,\n"},
			[]string{"Sam 2026-05-02  jump"}, ""},
		"a list with a date that is none": {map[string]string{"clips.csv": "file,athlete,date\na.mp4,Sam,May\n"}, nil,
			"line 2"},
		"a list with conditions": {map[string]string{"clips.csv": "file,athlete,date,after_reps,cue,movement\n" +
			"a.mp4,Sam,2026-05-02,20,\"up, not forward\",squat\n"},
			[]string{"Sam 2026-05-02   after 20 reps, cue: up, not forward squat"}, ""},
		"a list with no exertion": {map[string]string{"clips.csv": "file,athlete,exertion_0_10\na.mp4,Sam,11\n"}, nil,
			"between 0 and 10"},
		"a list that leads out":    {map[string]string{"clips.csv": "file,athlete\n../a.mp4,Sam\n"}, nil, "line 2"},
		"a list of another column": {map[string]string{"clips.csv": "file,name\na.mp4,Sam\n"}, nil, "line 2"},
		"a list with a short line": {map[string]string{"clips.csv": "file,athlete\na.mp4\n"}, nil, "line 2"},
		"a list without files":     {map[string]string{"clips.csv": "athlete\nSam\n"}, nil, "line 2"},
		"an empty list":            {map[string]string{"clips.csv": ""}, nil, "line 1"},
	} {
		dir := write(t, tc.texts)
		if tc.texts == nil {
			dir += "/none"
		}
		clips, err := Read(dir)
		var usage terminal.UsageError
		if tc.wrong != "" && (!errors.As(err, &usage) || !strings.Contains(err.Error(), tc.wrong)) || tc.wrong == "" &&
			err != nil {
			t.Errorf("%s: %v", name, err)
		}
		var got []string
		for _, c := range clips {
			f := c.Fields
			said := strings.Join([]string{f.AthleteName, f.Date, f.Condition, f.Tempo}, " ")
			if !f.Setting.Empty() {
				said += " " + f.Setting.Said() + " " + f.Movement
			}
			got = append(got, said)
		}
		if slices.Sort(got); !slices.Equal(got, tc.want) {
			t.Errorf("%s: %q, want %q", name, got, tc.want)
		}
	}
}

// A folder is sent in once however often it is sent, a worker takes its clips, and what it cannot measure is listed
// with the reason.
func TestSubmitWorkJobs(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("starts a database server")
	}
	store := filepath.Join(t.TempDir(), "store")
	in := place.Options{Data: t.TempDir(), Database: pgtest.Database(t), Store: "file://" + store}
	dir := write(t, map[string]string{"Sam/2026-05-02/slow.mp4": "no clip at all", "Sam/2026-05-02/fast.mp4": "nor this"})
	quiet := func(int, int) {}
	if _, _, err := Submit(t.Context(), in, dir, "", quiet); !errors.Is(err, archive.ErrNotArchive) {
		t.Fatalf("before there is an archive: %v", err)
	}
	kept := archive.Options{Database: in.Database, Files: files.Folder{Root: store}}
	made, err := archive.Open(t.Context(), in.Data, kept)
	if err == nil {
		err = made.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range [][2]int{{2, 0}, {0, 2}} {
		if sent, known, err := Submit(t.Context(), in, dir, "", quiet); err != nil || [2]int{sent, known} != want {
			t.Errorf("sent %d, known %d, %v; want %v", sent, known, err, want)
		}
	}
	count := func(failed bool) (n int) {
		t.Helper()
		err := Jobs(t.Context(), in, failed, func(j archive.Job, c archive.Clip, athlete string) error {
			if n++; athlete != "Sam" || c.Name == "" || failed && j.Error == "" {
				t.Errorf("listed is %+v of %q", j, athlete)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	if all, failed := count(false), count(true); all != 2 || failed != 0 {
		t.Errorf("%d jobs, %d failed", all, failed)
	}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	ended := make(chan error)
	go func() {
		ended <- Work(ctx, in, WorkOptions{Log: slog.New(slog.DiscardHandler), Ready: func() {},
			Program: []string{"/bin/sh", "-c", "exit 3"}})
	}()
	again := time.NewTicker(50 * time.Millisecond)
	defer again.Stop()
	for count(true) < 2 { // each clip ends the program that reads it twice
		select {
		case <-again.C:
		case err := <-ended:
			t.Fatalf("the worker ended: %v", err)
		}
	}
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	left, err := filepath.Glob(filepath.Join(in.Data, "tmp", workPattern))
	if err != nil || len(left) > 0 {
		t.Errorf("left are %q, %v", left, err)
	}
	if err := Work(t.Context(), place.Options{Data: filled(t)}, WorkOptions{}); err == nil ||
		!strings.Contains(err.Error(), "--database") {
		t.Errorf("work for a folder: %v", err)
	}
}

// filled is a data folder with an archive.
func filled(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	a, err := archive.Open(t.Context(), dir, archive.Options{})
	if err == nil {
		err = a.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return dir
}
