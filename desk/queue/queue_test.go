package queue

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"holdfast/archive"
	"holdfast/archive/disk"
	"holdfast/desk/refusal"
	"holdfast/desk/work"
)

// bench is a queue over an archive with a clip.
type bench struct {
	*testing.T
	*Queue
	clip string
	do   func(ctx context.Context, job archive.Job) error
}

func newBench(t *testing.T) *bench {
	t.Helper()
	var opt archive.Options
	if strings.HasPrefix(t.Name(), "TestShared/") {
		opt = sharedOptions(t)
	}
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

// The end of a job that cannot be written at once is written later; until then it is
// listed as ended, and no other job begins.
func TestEndOfAJobIsWrittenLater(t *testing.T) {
	b := newBench(t)
	first, second := b.add(1), b.add(2)
	busy := errors.New("another program holds the database")
	b.finish = func(context.Context, string, archive.JobState, string, string) error { return busy }
	for i := range 2 {
		if did, err := b.next(t.Context()); did || !errors.Is(err, busy) {
			t.Fatalf("%d: %v, %v", i, did, err)
		}
	}
	if b.state(first) != archive.JobDone || b.state(second) != archive.JobWaiting {
		t.Errorf("the jobs are %s and %s", b.state(first), b.state(second))
	}
	failures := 3
	b.trouble = time.Millisecond
	b.finish = func(ctx context.Context, id string, state archive.JobState, text, hint string) error {
		if failures--; failures >= 0 {
			return busy
		}
		return b.opt.Archive.FinishJob(ctx, id, state, text, hint)
	}
	defer b.run()()
	for _, id := range []string{first, second} {
		if j := b.wait(id); j.State != archive.JobDone {
			t.Errorf("job %s is %s", id, j.State)
		}
	}
}

// How a job ended is told in words, but for what nobody foresaw.
func TestEnds(t *testing.T) {
	for _, tt := range []struct {
		name       string
		err        error
		cancelled  bool
		tries      int
		state      archive.JobState
		text, hint string
	}{
		{"done", nil, false, 1, archive.JobDone, "", ""},
		{"done, as it was cancelled", nil, true, 1, archive.JobDone, "", ""},
		{"cancelled", context.Canceled, true, 1, archive.JobCancelled, "", ""},
		{"refused", &refusal.Error{Text: "nobody is there", Hint: "film somebody"}, false, 1, archive.JobFailed,
			"nobody is there", "film somebody"},
		{"crashed", &refusal.Error{Text: "it ended", Hint: "copy it", Err: work.ErrEnded}, false, 2, archive.JobFailed,
			"it ended, twice: the clip was put aside", "copy it"},
		{"a fault", errors.New("/secret"), false, 1, archive.JobFailed, "something went wrong that should not", ""},
		{"a full disk", fmt.Errorf("writing: %w", disk.ErrDiskFull), false, 1, archive.JobFailed, "the disk is full",
			"make room and try again; nothing that was kept is lost"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			b := newBench(t)
			id := b.add(1)
			tries := 0
			b.do = func(ctx context.Context, job archive.Job) error {
				tries++
				if tt.cancelled {
					if ok, err := b.Cancel(ctx, job.ID); !ok || err != nil || ctx.Err() == nil {
						t.Errorf("a job at work is not cancelled: %v, %v", ok, err)
					}
				}
				return tt.err
			}
			defer b.run()()
			j := b.wait(id)
			if j.State != tt.state || j.Error != tt.text || j.Hint != tt.hint || tries != tt.tries || j.Stage != "tracking" {
				t.Errorf("after %d tries the job is %+v", tries, j)
			}
			if ok, err := b.Cancel(t.Context(), id); ok || err != nil {
				t.Errorf("a job that has ended is cancelled: %v, %v", ok, err)
			}
		})
	}
}

// A job that is just being taken out of the archive is found by a cancel.
func TestCancelWhileAJobIsTaken(t *testing.T) {
	for range 50 {
		b := newBench(t)
		id := b.add(1)
		b.do = func(ctx context.Context, _ archive.Job) error { <-ctx.Done(); return ctx.Err() }
		stop := b.run()
		for range 1000 { // it may not have begun
			if ok, err := b.Cancel(t.Context(), id); ok || err != nil {
				break
			}
		}
		if j := b.wait(id); j.State != archive.JobCancelled {
			t.Errorf("the job is %s", j.State)
		}
		stop()
	}
}

// A job that does the same as one that waits is that one; an analysis that runs is not
// begun a second time, unless it was cancelled. What the desk wants itself finds room.
func TestAdd(t *testing.T) {
	b := newBench(t)
	one := b.add(1)
	if same, other := b.add(1), b.add(2); same != one || other == one {
		t.Error("the same is not the same, or another is")
	}
	b.add(3)
	var full *refusal.Error
	job := archive.Job{ClipID: b.clip, Kind: archive.JobRender, Options: []byte(`{}`)}
	if _, err := b.Add(t.Context(), job, true); !errors.As(err, &full) || full.Kind != refusal.Busy ||
		b.Room(t.Context()) == nil {
		t.Errorf("a fourth job: %v", err)
	}
	if _, err := b.Add(t.Context(), job, false); err != nil {
		t.Errorf("a fourth job of the desk's own: %v", err)
	}
	begun := make(chan string)
	b.do = func(ctx context.Context, j archive.Job) error {
		begun <- j.ID
		<-ctx.Done()
		return ctx.Err()
	}
	defer b.run()()
	first := <-begun
	if again := b.add(1); again != first {
		t.Error("a second job was made for an analysis that runs")
	}
	b.mu.Lock()
	b.current.cancelled = true // as Cancel does, but the job does not end yet
	b.mu.Unlock()
	next, err := b.Add(t.Context(), archive.Job{ClipID: b.clip, Kind: archive.JobAnalyze, Options: []byte(`{"n":1}`)},
		false)
	if err != nil || next.ID == first {
		t.Errorf("a job that is being cancelled was taken for one that runs (%v)", err)
	}
}

// A queue that ends lets its job wait for the next one, without counting the attempt.
func TestEndOfTheQueue(t *testing.T) {
	b := newBench(t)
	id := b.add(1)
	begun := make(chan struct{})
	b.do = func(ctx context.Context, _ archive.Job) error { close(begun); <-ctx.Done(); return ctx.Err() }
	stop := b.run()
	<-begun
	if p, at := b.Progress(id); !at || p.Stage != "tracking" || p.Total != 10 {
		t.Errorf("it has come to %+v, %v", p, at)
	}
	stop()
	if j, err := b.opt.Archive.Job(t.Context(), id); err != nil || j.State != archive.JobWaiting || j.Attempt != 0 {
		t.Errorf("the job is %+v (%v)", j, err)
	}
}
