package queue

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"holdfast/archive"
	"holdfast/archive/files"
	"holdfast/internal/pgtest"
)

// The environment of a test binary that is a worker: where the archive is, and how long it holds a job.
const (
	workerDatabase = "HOLDFAST_TEST_DATABASE"
	workerStore    = "HOLDFAST_TEST_STORE"
	workerLease    = "HOLDFAST_TEST_LEASE"
)

func TestMain(m *testing.M) {
	if os.Getenv(workerDatabase) != "" {
		os.Exit(worker())
	}
	code := m.Run()
	pgtest.Stop()
	os.Exit(code)
}

// worker takes a job, says which, and stays in the middle of it until it is killed.
func worker() int {
	lease, err := time.ParseDuration(os.Getenv(workerLease))
	dir, also := os.MkdirTemp("", "holdfast-worker-")
	if err = errors.Join(err, also); err != nil {
		fmt.Println(err)
		return 1
	}
	defer os.RemoveAll(dir)
	ctx := context.Background()
	go func() { // ends with the test, however that ends
		_, _ = io.Copy(io.Discard, os.Stdin)
		os.Exit(2)
	}()
	a, err := archive.Open(ctx, dir, archive.Options{Database: os.Getenv(workerDatabase), Lease: lease,
		Files: files.Folder{Root: os.Getenv(workerStore)}, MustExist: true})
	if err != nil {
		fmt.Println(err)
		return 1
	}
	q := New(Options{Archive: a, Log: slog.New(slog.DiscardHandler), Now: time.Now, Most: 100, Changed: func() {},
		Do: func(_ context.Context, job archive.Job, _ func(string, int, int)) error {
			fmt.Println("begun", job.ID)
			select {}
		}})
	q.Run(ctx)
	return 0
}

// process is a worker that runs.
type process struct {
	cmd   *exec.Cmd
	begun *bufio.Scanner
	stdin io.Closer
}

func startWorker(t *testing.T, opt archive.Options) *process {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), workerDatabase+"="+opt.Database, workerLease+"="+opt.Lease.String(),
		workerStore+"="+opt.Files.(files.Folder).Root)
	stdin, err := cmd.StdinPipe()
	out, also := cmd.StdoutPipe()
	if err = errors.Join(err, also); err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	return &process{cmd, bufio.NewScanner(out), stdin}
}

// kill ends the process as a power cut would.
func (p *process) kill() {
	_ = p.cmd.Process.Kill()
	_ = p.cmd.Wait() // by a signal
	_ = p.stdin.Close()
}

// clips adds clips with a job each and returns the ids of the jobs.
func (b *bench) clips(n int) (ids []string) {
	b.Helper()
	a := b.opt.Archive
	first, err := a.Clip(b.Context(), b.clip)
	if err != nil {
		b.Fatal(err)
	}
	for i := range n {
		f, err := a.Put(b.Context(), strings.NewReader(fmt.Sprintf("clip %d", i)), 100)
		if err != nil {
			b.Fatal(err)
		}
		c, _, err := a.AddClip(b.Context(), archive.Clip{VisitID: first.VisitID, AthleteID: first.AthleteID,
			Name: "slow.mp4", SHA256: f.SHA256})
		if err != nil {
			b.Fatal(err)
		}
		j, err := b.Add(b.Context(), archive.Job{ClipID: c.ID, Kind: archive.JobAnalyze}, false)
		if err != nil {
			b.Fatal(err)
		}
		ids = append(ids, j.ID)
	}
	return ids
}

// A worker that is killed in the middle of a job loses it to another when its lease has run out, and not before.
func TestWorkerKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("starts and kills programs")
	}
	opt := sharedOptions(t)
	opt.Lease, opt.Files = 2*time.Second, files.Folder{Root: filepath.Join(t.TempDir(), "store")}
	b := newBench(t, opt)
	ids := b.clips(1)
	p := startWorker(t, opt)
	if !p.begun.Scan() || p.begun.Text() != "begun "+ids[0] {
		t.Fatalf("the worker says %q", p.begun.Text())
	}
	if _, ok, err := b.opt.Archive.NextJob(t.Context()); ok || err != nil {
		t.Fatalf("a job that is at work was taken: %v", err)
	}
	p.kill()
	defer b.run()()
	if j := b.wait(ids[0]); j.State != archive.JobDone || j.Attempt != 1 {
		t.Errorf("the job is %+v", j)
	}
}

// A job that is cancelled on another computer ends when its lease is to be renewed.
func TestCancelledElsewhere(t *testing.T) {
	opt := sharedOptions(t)
	opt.Lease = time.Second
	b, page := newBench(t, opt), newBench(t, opt)
	begun := make(chan string)
	stopped := make(chan struct{})
	b.do = func(ctx context.Context, j archive.Job) error {
		begun <- j.ID
		<-ctx.Done()
		close(stopped)
		return ctx.Err()
	}
	id := b.clips(1)[0]
	defer b.run()()
	<-begun
	if ok, err := page.Cancel(t.Context(), id); !ok || err != nil {
		t.Fatalf("cancelling: %v, %v", ok, err)
	}
	<-stopped
	if j := page.wait(id); j.State != archive.JobCancelled {
		t.Errorf("the job is %s", j.State)
	}
}
