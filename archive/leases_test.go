package archive

import (
	"sync"
	"testing"
	"time"
)

// lapse lets the leases of all jobs run out.
func (d desk) lapse() {
	d.t.Helper()
	_, err := d.folder.Write.ExecContext(d.t.Context(), "UPDATE jobs SET lease_until = now() - interval '1 second' WHERE "+
		"state = 'running'")
	d.must(err)
}

// A job is held by one computer at a time: by another when the lease has run out, and the first then hears that it is
// not its own any more. One that is taken over again and again is put aside.
func TestLeases(t *testing.T) {
	t.Parallel()
	ctx, opt := t.Context(), inPostgres(t)
	a, b := open(t, t.TempDir(), opt), open(t, t.TempDir(), opt)
	c := a.clip(a.visit(a.athlete("one"), "2026-02-03"), "frames")
	late, err := a.AddJob(ctx, Job{ClipID: c.ID, Kind: JobAnalyze}, nil)
	a.must(err)
	a.must(a.LaterJob(ctx, late.ID))
	soon, err := a.AddJob(ctx, Job{ClipID: c.ID, Kind: JobRender}, nil)
	a.must(err)
	takes := func(d desk, want string) {
		t.Helper()
		j, ok, err := d.NextJob(ctx)
		d.must(err)
		if ok != (want != "") || j.ID != want {
			t.Fatalf("took %+v, want %q", j, want)
		}
	}
	takes(a, soon.ID) // though the other is of an earlier kind: nobody waits for it
	takes(b, late.ID)
	takes(a, "")
	a.must(a.RenewJob(ctx, soon.ID))
	is(t, "another's job", b.RenewJob(ctx, soon.ID), ErrNotFound)
	is(t, "the end of another's job", b.FinishJob(ctx, soon.ID, JobDone, "", ""), ErrNotFound)
	is(t, "another's job given back", b.ReturnJob(ctx, soon.ID), ErrNotFound)
	a.must(a.FinishJob(ctx, soon.ID, JobDone, "", ""))
	a.lapse()
	takes(a, late.ID)
	is(t, "a job that was taken over", b.RenewJob(ctx, late.ID), ErrNotFound)
	is(t, "its end", b.FinishJob(ctx, late.ID, JobFailed, "", ""), ErrNotFound)
	if j, err := a.Job(ctx, late.ID); err != nil || j.State != JobRunning || j.Attempt != 1 {
		t.Errorf("the job is %+v, %v", j, err)
	}
	for range maxLapses - 1 {
		a.lapse()
		takes(a, late.ID)
	}
	a.lapse()
	takes(b, "")
	if j, err := a.Job(ctx, late.ID); err != nil || j.State != JobFailed || j.Error == "" || j.Hint == "" {
		t.Errorf("the job is %+v, %v", j, err)
	}
	stop, err := a.AddJob(ctx, Job{ClipID: c.ID, Kind: JobAnalyze}, nil)
	a.must(err)
	takes(a, stop.ID)
	for _, want := range []bool{true, false} {
		if ok, err := b.StopJob(ctx, stop.ID); ok != want || err != nil {
			t.Errorf("stopping: %v, %v", ok, err)
		}
	}
	is(t, "a job that was cancelled elsewhere", a.RenewJob(ctx, stop.ID), ErrNotFound)
}

// What was put off waits, and is put off so often only.
func TestPutOffJob(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	d := open(t, t.TempDir(), inPostgres(t))
	c := d.clip(d.visit(d.athlete("one"), "2026-02-03"), "frames")
	job, err := d.AddJob(ctx, Job{ClipID: c.ID, Kind: JobAnalyze}, nil)
	d.must(err)
	for n := range maxTries + 1 {
		if _, ok, err := d.NextJob(ctx); !ok || err != nil {
			t.Fatalf("%d: %v, %v", n, ok, err)
		}
		if ok, err := d.PutOffJob(ctx, job.ID, "the store does not answer"); ok != (n < maxTries) || err != nil {
			t.Errorf("%d: %v, %v", n, ok, err)
		}
		if _, ok, err := d.NextJob(ctx); ok || err != nil {
			t.Errorf("%d: it does not wait: %v", n, err)
		}
		_, err := d.folder.Write.ExecContext(ctx, "UPDATE jobs SET not_before = NULL")
		d.must(err)
	}
	_, err = d.PutOffJob(ctx, "x", "")
	is(t, "none", err, ErrNotFound)
}

// Many who take jobs at once get each job once.
func TestClaims(t *testing.T) {
	t.Parallel()
	const jobs, workers = 60, 4
	opt := inPostgres(t)
	d := open(t, t.TempDir(), opt)
	c := d.clip(d.visit(d.athlete("one"), "2026-02-03"), "frames")
	for range jobs {
		_, err := d.AddJob(t.Context(), Job{ClipID: c.ID, Kind: JobAnalyze}, nil)
		d.must(err)
	}
	var mu sync.Mutex
	took := map[string]int{}
	var all sync.WaitGroup
	for range workers {
		w := open(t, t.TempDir(), opt)
		all.Go(func() {
			for {
				j, ok, err := w.NextJob(t.Context())
				if err != nil || !ok {
					if err != nil {
						t.Error(err)
					}
					return
				}
				mu.Lock()
				took[j.ID]++
				mu.Unlock()
				if err := w.FinishJob(t.Context(), j.ID, JobDone, "", ""); err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	for id, n := range took {
		if n != 1 {
			t.Errorf("the job %s was taken %d times", id, n)
		}
	}
	if len(took) != jobs {
		t.Errorf("%d jobs were taken, want %d", len(took), jobs)
	}
}

// One computer at a time has the turn of a clip.
func TestTurns(t *testing.T) {
	t.Parallel()
	opt := inPostgres(t)
	a, b := open(t, t.TempDir(), opt), open(t, t.TempDir(), opt)
	back, err := a.Turns()(t.Context(), []string{"x", "y"})
	a.must(err)
	got := make(chan error)
	go func() {
		back, err := b.Turns()(t.Context(), []string{"y", "z"})
		if err == nil {
			back()
		}
		got <- err
	}()
	select {
	case err := <-got:
		t.Errorf("two have the same turn: %v", err)
	case <-time.After(100 * time.Millisecond):
	}
	back()
	a.must(<-got)
	if open(t, t.TempDir(), Options{}).Turns() != nil {
		t.Error("a folder asks other computers")
	}
}
