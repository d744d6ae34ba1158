package queue

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"holdfast/archive"
)

// bench is a queue over an archive with a clip.
type bench struct {
	*testing.T
	*Queue
	clip     string
	database string // its address; empty: in the data folder
	do       func(ctx context.Context, job archive.Job) error
}

// newBench is a bench over an archive with these options.
func newBench(t *testing.T, opt archive.Options) *bench {
	t.Helper()
	a, err := archive.Open(t.Context(), t.TempDir(), opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	return benchOver(t, a)
}

// benchOver is a bench over an archive.
func benchOver(t *testing.T, a *archive.Archive) *bench {
	t.Helper()
	b := &bench{T: t, do: func(context.Context, archive.Job) error { return nil }}
	b.Queue = New(Options{
		Archive: a, Log: slog.New(slog.DiscardHandler), Now: time.Now, Most: 3, Changed: func() {},
		Do: func(ctx context.Context, job archive.Job, progress func(string, int, int)) error {
			progress("tracking", 1, 10)
			return b.do(ctx, job)
		},
	})
	who, err := a.CreateAthlete(t.Context(), archive.Athlete{Name: "Sam Example"})
	if err != nil {
		t.Fatal(err)
	}
	visit, err := a.VisitFor(t.Context(), archive.Visit{AthleteID: who.ID, Date: "2025-05-02"})
	if err != nil {
		t.Fatal(err)
	}
	file, err := a.Put(t.Context(), strings.NewReader("a clip"), 100)
	if err != nil {
		t.Fatal(err)
	}
	clip, _, err := a.AddClip(t.Context(), archive.Clip{VisitID: visit.ID, AthleteID: who.ID, Name: "slow.mp4",
		SHA256: file.SHA256})
	if err != nil {
		t.Fatal(err)
	}
	b.clip = clip.ID
	return b
}

// add adds an analysis with options of its own.
func (b *bench) add(n int) string {
	b.Helper()
	j, err := b.Add(b.Context(), archive.Job{ClipID: b.clip, Kind: archive.JobAnalyze, Options: fmt.Appendf(nil,
		`{"n":%d}`, n)}, true)
	if err != nil {
		b.Fatal(err)
	}
	return j.ID
}

func (b *bench) state(id string) archive.JobState {
	b.Helper()
	jobs, err := b.List(b.Context(), -1)
	if err != nil {
		b.Fatal(err)
	}
	for _, j := range jobs {
		if j.ID == id {
			return j.State
		}
	}
	b.Fatalf("there is no job %s", id)
	return ""
}

// run works until the test says stop.
func (b *bench) run() (stop func()) {
	ctx, cancel := context.WithCancel(b.Context())
	ended := make(chan struct{})
	go func() { defer close(ended); b.Queue.Run(ctx) }()
	return func() { cancel(); <-ended }
}

func (b *bench) wait(id string) archive.Job {
	b.Helper()
	j, err := b.Wait(b.Context(), id)
	if err != nil {
		b.Fatal(err)
	}
	return j
}
