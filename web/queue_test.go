package web

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"holdfast/archive"
)

// The end of a job that cannot be written at once is written later; until then the
// pages see it as ended, and no other job begins.
func TestEndOfAJobIsWrittenLater(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it starts programs")
	}
	b := newIdleBench(t, nil)
	q := b.s.queue
	added := b.upload([]string{"athlete_name=Sam Example"}, "slow.mp4="+movie("1"), "fast.mp4="+movie("2"))
	first, second := added.Clips[0].Job, added.Clips[1].Job
	busy := errors.New("another program holds the database")
	q.finish = func(context.Context, string, archive.JobState, string, string) error { return busy }
	if did, err := q.next(t.Context()); did || !errors.Is(err, busy) {
		t.Fatalf("%v, %v", did, err)
	}
	if did, err := q.next(t.Context()); did || !errors.Is(err, busy) {
		t.Errorf("the next job began: %v, %v", did, err)
	}
	var list struct{ Jobs []jobView }
	b.want(200, "GET", "/api/jobs", "", &list)
	states := map[string]string{}
	for _, j := range list.Jobs {
		states[j.ID] = j.State
	}
	if states[first] != "done" || states[second] != "waiting" {
		t.Errorf("the pages see %v", states)
	}
	q.finish, q.trouble = b.s.archive.FinishJob, time.Millisecond
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { defer close(ended); q.run(ctx) }()
	defer func() { stop(); <-ended }()
	for _, id := range []string{first, second} {
		if j := b.await(id); j.State != archive.JobDone {
			t.Errorf("job %s is %s", id, j.State)
		}
	}
}

// A clip that ends the program once is read again; one that ends it twice is put aside
// with that reason. A reason that the program gives itself is final.
func TestClipThatEndsItsProgram(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it starts programs")
	}
	for _, tt := range []struct {
		clip   string
		tries  int
		state  archive.JobState
		reason string
	}{
		{"once", 2, archive.JobDone, ""},
		{"crash", 2, archive.JobFailed, "the program that reads the clip ended before it was done, twice: the clip was put aside"},
		{"exit", 2, archive.JobFailed, "the program that reads the clip ended before it was done, twice: the clip was put aside"},
		{"hang", 2, archive.JobFailed, "it took too long and was stopped, twice: the clip was put aside"},
		{"refused", 1, archive.JobFailed, "nobody was found in the clip"},
		{"good", 1, archive.JobDone, ""},
	} {
		t.Run(tt.clip, func(t *testing.T) {
			t.Parallel()
			b := newIdleBench(t, func(o *Options) {
				if tt.clip == "hang" {
					o.Limits.WorkTime, o.Limits.WorkPerFrame = time.Millisecond, 1
				}
			})
			id := b.upload([]string{"athlete_name=Sam Example"}, tt.clip+".mp4="+movie("1")).Clips[0].Job
			var job archive.Job
			for try := 1; try <= tt.tries; try++ {
				if did, err := b.s.queue.next(t.Context()); err != nil || !did {
					t.Fatalf("try %d: %v, %v", try, did, err)
				}
				var err error
				if job, err = b.s.archive.Job(t.Context(), id); err != nil {
					t.Fatal(err)
				}
				if try < tt.tries && (job.State != archive.JobWaiting || job.Ends != try || job.Error != "") {
					t.Errorf("after try %d the job is %+v", try, job)
				}
			}
			if job.State != tt.state || job.Error != tt.reason || (job.Hint == "") != (tt.reason == "") {
				t.Errorf("the job is %s: %q, %q", job.State, job.Error, job.Hint)
			}
			if did, err := b.s.queue.next(t.Context()); did || err != nil {
				t.Errorf("something is left to do: %v, %v", did, err)
			}
		})
	}
}

// The loop itself tries the end of a job again.
func TestQueueGoesOnAfterTrouble(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it starts programs")
	}
	b := newIdleBench(t, nil)
	q := b.s.queue
	failures := 3
	q.trouble = time.Millisecond
	q.finish = func(ctx context.Context, id string, state archive.JobState, text, hint string) error {
		if failures--; failures >= 0 {
			return errors.New("another program holds the database")
		}
		return b.s.archive.FinishJob(ctx, id, state, text, hint)
	}
	job := b.upload([]string{"athlete_name=Sam Example"}, "slow.mp4="+movie("1")).Clips[0].Job
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { defer close(ended); q.run(ctx) }()
	defer func() { stop(); <-ended }()
	if j := b.await(job); j.State != archive.JobDone {
		t.Errorf("the job is %s", j.State)
	}
	b.want(409, "POST", "/api/jobs/"+job+"/cancel", "", nil)
	b.want(201, "POST", "/api/jobs/"+job+"/retry", "", nil)
}

// A clip that was added without a job is measured by the next server, or when it is asked for.
func TestClipWithoutAJob(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it starts programs")
	}
	b := newIdleBench(t, nil)
	ctx := t.Context()
	orphan := func(name string) string {
		file, err := b.s.archive.Put(ctx, strings.NewReader(movie(name)), 1000)
		if err != nil {
			t.Fatal(err)
		}
		visit, err := b.s.visitOf(ctx, clipFields{AthleteName: "Sam Example"})
		if err != nil {
			t.Fatal(err)
		}
		clip, _, err := b.s.archive.AddClip(ctx, archive.Clip{VisitID: visit.ID, AthleteID: visit.AthleteID, Name: name, SHA256: file.SHA256})
		if err != nil {
			t.Fatal(err)
		}
		return clip.ID
	}
	count := func() (n int) {
		jobs, err := b.s.archive.Jobs(ctx, 100)
		if err != nil {
			t.Fatal(err)
		}
		return len(jobs)
	}
	waits := b.upload([]string{"athlete_name=Sam Example"}, "fast.mp4="+movie("1"))
	cancelled := b.upload([]string{"athlete_name=Sam Example"}, "jump.mp4="+movie("2"))
	b.want(200, "POST", "/api/jobs/"+cancelled.Clips[0].Job+"/cancel", "", nil)
	id := orphan("slow.mp4")
	if n, err := b.s.queue.adopt(ctx); n != 1 || err != nil || count() != 3 {
		t.Errorf("%d clips were adopted, %d jobs (%v)", n, count(), err)
	}
	if n, err := b.s.queue.adopt(ctx); n != 0 || err != nil {
		t.Errorf("%d clips were adopted a second time (%v)", n, err)
	}
	var asked, again struct{ Job string }
	other := orphan("slow_2.mp4")
	b.want(202, "POST", "/api/clips/"+other+"/measure", "", &asked)
	b.want(202, "POST", "/api/clips/"+other+"/measure", "", &again)
	if asked.Job == "" || asked.Job != again.Job || count() != 4 {
		t.Errorf("jobs %q and %q, %d in all", asked.Job, again.Job, count())
	}
	b.want(404, "POST", "/api/clips/nothing/measure", "", nil)
	working, stop := context.WithCancel(ctx)
	ended := make(chan struct{})
	go func() { defer close(ended); b.s.queue.run(working) }()
	defer func() { stop(); <-ended }()
	for _, job := range []string{waits.Clips[0].Job, asked.Job} {
		if j := b.await(job); j.State != archive.JobDone {
			t.Errorf("a job is %s: %s", j.State, j.Error)
		}
	}
	b.settle()
	b.want(409, "POST", "/api/clips/"+other+"/measure", "", nil)
	if c, err := b.s.archive.Clip(ctx, id); err != nil || c.Result == nil {
		t.Errorf("the adopted clip has no result (%v)", err)
	}
}

// A clip that is sent again while it is measured is not measured twice; one whose
// analysis was just cancelled is.
func TestClipSentAgainWhileItIsMeasured(t *testing.T) {
	b := newBench(t, nil)
	send := func() string {
		return b.upload([]string{"athlete_name=Sam Example"}, "hang.mp4="+movie("1")).Clips[0].Job
	}
	job := send()
	b.until(func() bool {
		j, err := b.s.archive.Job(t.Context(), job)
		return err == nil && j.State == archive.JobRunning
	})
	if again := send(); again != job {
		t.Errorf("a second job was made")
	}
	b.s.queue.mu.Lock()
	b.s.queue.current.cancelled = true // as cancel does, but the job does not end yet
	b.s.queue.mu.Unlock()
	next := send()
	if next == job {
		t.Error("a job that is being cancelled was taken for one that runs")
	}
	for _, id := range []string{next, job} {
		b.want(200, "POST", fmt.Sprintf("/api/jobs/%s/cancel", id), "", nil)
		if j := b.await(id); j.State != archive.JobCancelled {
			t.Errorf("job %s is %s", id, j.State)
		}
	}
}
