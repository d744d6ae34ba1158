package queue

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"holdfast/archive"
	"holdfast/archive/disk"
	"holdfast/archive/files"
	"holdfast/desk/refusal"
	"holdfast/internal/pgtest"
)

// The environment of a test binary that is a worker: where the archive is, how long it holds a job, and whether it
// stops in the middle of the first one for ever.
const (
	workerDatabase = "HOLDFAST_TEST_DATABASE"
	workerStore    = "HOLDFAST_TEST_STORE"
	workerLease    = "HOLDFAST_TEST_LEASE"
	workerHangs    = "HOLDFAST_TEST_HANGS"
)

func TestMain(m *testing.M) {
	if os.Getenv(workerDatabase) != "" {
		os.Exit(worker())
	}
	code := m.Run()
	pgtest.Stop()
	os.Exit(code)
}

func sharedOptions(t *testing.T) archive.Options {
	t.Helper()
	if testing.Short() {
		t.Skip("starts a database server")
	}
	return archive.Options{Database: pgtest.Database(t), Files: files.Folder{Root: filepath.Join(t.TempDir(), "store")}}
}

// A queue is the same over a database that several computers use.
func TestShared(t *testing.T) {
	for name, test := range map[string]func(*testing.T){"EndOfAJobIsWrittenLater": TestEndOfAJobIsWrittenLater,
		"Add": TestAdd, "EndOfTheQueue": TestEndOfTheQueue} {
		t.Run(name, test)
	}
}

// recorded does a job as far as the archive sees it: it puts what was measured, and makes it the clip's result.
func recorded(ctx context.Context, a *archive.Archive, job archive.Job) error {
	f, err := a.Put(ctx, strings.NewReader("measured of "+job.ClipID), 100)
	if err != nil {
		return err
	}
	f.Name = "analysis.json"
	_, err = a.SaveResult(ctx, job.ClipID, []archive.File{f}, 0)
	return err
}

// worker works until it is killed, and says which job it begins.
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
		Do: func(ctx context.Context, job archive.Job, _ func(string, int, int)) error {
			fmt.Println("begun", job.ID)
			if os.Getenv(workerHangs) != "" {
				select {}
			}
			return recorded(ctx, a, job)
		}})
	q.trouble = 50 * time.Millisecond
	q.Run(ctx)
	return 0
}

// process is a worker that runs.
type process struct {
	cmd   *exec.Cmd
	begun *bufio.Scanner
	stdin io.Closer
}

func startWorker(t *testing.T, opt archive.Options, lease string, hangs bool) *process {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), workerDatabase+"="+opt.Database, workerLease+"="+lease,
		workerStore+"="+opt.Files.(files.Folder).Root)
	if hangs {
		cmd.Env = append(cmd.Env, workerHangs+"=yes")
	}
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

// sharedBench is a queue over a database that workers of a test use too.
func sharedBench(t *testing.T, opt archive.Options) *bench {
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

// A worker that is killed in the middle of a job loses it to another when its lease has run out, and not before.
func TestWorkerKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("starts and kills programs")
	}
	opt := sharedOptions(t)
	opt.Lease = 2 * time.Second
	b := sharedBench(t, opt)
	ids := b.clips(1)
	p := startWorker(t, opt, "2s", true)
	if !p.begun.Scan() || p.begun.Text() != "begun "+ids[0] {
		t.Fatalf("the worker says %q", p.begun.Text())
	}
	if _, ok, err := b.opt.Archive.NextJob(t.Context()); ok || err != nil {
		t.Fatalf("a job that is at work was taken: %v", err)
	}
	p.kill()
	b.do = func(ctx context.Context, j archive.Job) error { return recorded(ctx, b.opt.Archive, j) }
	defer b.run()()
	if j := b.wait(ids[0]); j.State != archive.JobDone || j.Attempt != 1 {
		t.Errorf("the job is %+v", j)
	}
}

// Workers that are killed at chance moments, and a database server that is, lose no job, and no clip has two results.
func TestWorkersKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("starts and kills programs")
	}
	const jobs, workers, kills = 60, 2, 6
	server := pgtest.New(t)
	opt := archive.Options{Database: server.Database(t), Files: files.Folder{Root: filepath.Join(t.TempDir(), "store")}}
	b := sharedBench(t, opt)
	ids := b.clips(jobs)
	chance := rand.New(rand.NewPCG(7, 7))
	begun := make(chan int)
	var running [workers]*process
	var all sync.WaitGroup
	over := make(chan struct{})
	var mu sync.Mutex
	for i := range workers {
		all.Go(func() {
			for {
				p := startWorker(t, opt, "1s", false)
				mu.Lock()
				running[i] = p
				mu.Unlock()
				for p.begun.Scan() {
					if strings.HasPrefix(p.begun.Text(), "begun ") {
						select {
						case begun <- i:
						case <-over:
						}
					}
				}
				p.kill() // it has ended already
				select {
				case <-over:
					return
				default:
				}
			}
		})
	}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for _, id := range ids {
			for {
				if _, err := b.Wait(t.Context(), id); err == nil {
					break // else the database server is not there
				}
			}
		}
	}()
	n, began := 0, 0
	for done := false; !done; {
		select {
		case i := <-begun:
			began++
			switch {
			case began == jobs/3:
				server.Kill()
				if err := server.Start(); err != nil {
					t.Error(err)
				}
			case n < kills && chance.IntN(5) == 0:
				n++
				mu.Lock()
				_ = running[i].cmd.Process.Kill()
				mu.Unlock()
			}
		case <-ended:
			done = true
		}
	}
	close(over)
	mu.Lock()
	for _, p := range running {
		_ = p.cmd.Process.Kill()
	}
	mu.Unlock()
	all.Wait()
	list, err := b.List(t.Context(), -1)
	if err != nil {
		t.Fatal(err)
	}
	for _, j := range list {
		clip, err := b.opt.Archive.Clip(t.Context(), j.ClipID)
		if err != nil || j.State != archive.JobDone || clip.Result == nil || len(clip.Result.Files) != 1 {
			t.Errorf("%v: the job is %+v and its clip %+v", err, j, clip)
		}
	}
	rep, err := b.opt.Archive.Check(t.Context())
	if err != nil || len(rep.Problems) > 0 || len(list) != jobs || n == 0 {
		t.Errorf("%d jobs, %d kills, %q, %v", len(list), n, rep.Problems, err)
	}
	t.Logf("%d jobs were begun %d times; %d workers were killed and the database once", jobs, began, n)
}

// What may pass is tried again later, what a clip is to blame for is not; a queue that cannot say either way leaves the
// job to its lease.
func TestPutOff(t *testing.T) {
	opt := sharedOptions(t)
	b := sharedBench(t, opt)
	for _, tt := range []struct {
		name  string
		err   error
		state archive.JobState
	}{
		{"a store that does not answer", errors.New("no answer"), archive.JobWaiting},
		{"a clip with nobody in it", &refusal.Error{Kind: refusal.NotMeasurable, Text: "nobody"}, archive.JobFailed},
		{"a full disk", disk.ErrDiskFull, archive.JobFailed},
		{"a damaged file", archive.ErrDamaged, archive.JobFailed},
	} {
		b.do = func(context.Context, archive.Job) error { return tt.err }
		id := b.clips(1)[0]
		if did, err := b.next(t.Context()); !did || err != nil {
			t.Errorf("%s: %v, %v", tt.name, did, err)
		}
		if got := b.state(id); got != tt.state {
			t.Errorf("%s: the job is %s", tt.name, got)
		}
		if err := b.opt.Archive.DeleteClip(t.Context(), jobOf(t, b, id).ClipID); err != nil {
			t.Fatal(err)
		}
	}
}

func jobOf(t *testing.T, b *bench, id string) archive.Job {
	t.Helper()
	j, err := b.opt.Archive.Job(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// A job that is cancelled on another computer ends when its lease is to be renewed.
func TestCancelledElsewhere(t *testing.T) {
	opt := sharedOptions(t)
	opt.Lease = time.Second
	b, page := sharedBench(t, opt), sharedBench(t, opt)
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
