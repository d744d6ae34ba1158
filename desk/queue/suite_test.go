package queue

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"holdfast/archive"
	"holdfast/archive/bucket"
	"holdfast/archive/disk"
	"holdfast/archive/folder"
	"holdfast/archive/rows"
	"holdfast/desk/refusal"
	"holdfast/desk/work"
	"holdfast/internal/filestest"
	"holdfast/internal/pgtest"
)

// engines are what may keep jobs and the files that they make: each makes the options of a new archive.
var engines = map[string]func(*testing.T) archive.Options{
	"folder":            func(*testing.T) archive.Options { return archive.Options{} },
	"folderAndBucket":   func(t *testing.T) archive.Options { return archive.Options{Files: newBucket(t)} },
	"postgresAndBucket": func(t *testing.T) archive.Options { return sharedOptions(t) },
}

// suite is what is asked of every engine.
var suite = map[string]func(*bench){
	"once":              (*bench).once,
	"order":             (*bench).order,
	"progress":          (*bench).listsProgress,
	"cancel":            (*bench).cancels,
	"cancelWhileTaken":  (*bench).cancelsWhileTaken,
	"list":              (*bench).lists,
	"ends":              (*bench).ends,
	"endIsWrittenLater": (*bench).endIsWrittenLater,
	"retries":           (*bench).retries,
	"setAside":          (*bench).setsAside,
	"handsBack":         (*bench).handsBack,
	"killed":            (*bench).takesOver,
	"newerBeside":       (*bench).newerBeside,
}

// Every engine keeps the jobs alike.
func TestEngines(t *testing.T) {
	for engine, options := range engines {
		t.Run(engine, func(t *testing.T) {
			for name, test := range suite {
				t.Run(name, func(t *testing.T) {
					opt := options(t)
					b := newBench(t, opt)
					b.database = opt.Database
					test(b)
				})
			}
		})
	}
}

func newBucket(t *testing.T) *bucket.Bucket {
	t.Helper()
	b, err := bucket.Open(filestest.Server(t, nil), filestest.Keys)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func sharedOptions(t *testing.T) archive.Options {
	t.Helper()
	if testing.Short() {
		t.Skip("starts a database server")
	}
	return archive.Options{Database: pgtest.Database(t), Files: newBucket(t)}
}

// sql changes or reads rows past the archive, as time or another program would.
func (b *bench) sql(query string, into ...any) {
	b.Helper()
	db, err := rows.Open(filepath.Join(b.opt.Archive.Dir(), folder.Database), false)
	if b.database != "" {
		db, err = rows.OpenPostgres(b.database)
	}
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	if len(into) > 0 {
		err = db.QueryRowContext(b.Context(), query).Scan(into...)
	} else {
		_, err = db.ExecContext(b.Context(), query)
	}
	if err != nil {
		b.Fatalf("%s: %v", query, err)
	}
}

// takes takes a job, which must be this one; none where that is empty.
func (b *bench) takes(a *archive.Archive, want string) {
	b.Helper()
	j, ok, err := a.NextJob(b.Context())
	if err != nil || ok != (want != "") || j.ID != want {
		b.Fatalf("taken is %+v, %v, want %q", j, err, want)
	}
}

func (b *bench) job(id string) archive.Job {
	b.Helper()
	j, err := b.opt.Archive.Job(b.Context(), id)
	if err != nil {
		b.Fatal(err)
	}
	return j
}

// once: a job that does the same as one that waits is that one; an analysis that runs is not begun a second time,
// unless it was cancelled. What the desk wants itself finds room.
func (b *bench) once() {
	one := b.add(1)
	if same, other := b.add(1), b.add(2); same != one || other == one {
		b.Error("the same is not the same, or another is")
	}
	b.add(3)
	var full *refusal.Error
	job := archive.Job{ClipID: b.clip, Kind: archive.JobRender, Options: []byte(`{}`)}
	if _, err := b.Add(b.Context(), job, true); !errors.As(err, &full) || full.Kind != refusal.Busy ||
		b.Room(b.Context()) == nil {
		b.Errorf("a fourth job: %v", err)
	}
	if _, err := b.Add(b.Context(), job, false); err != nil {
		b.Errorf("a fourth job of the desk's own: %v", err)
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
		b.Error("a second job was made for an analysis that runs")
	}
	b.mu.Lock()
	b.current.cancelled = true // as Cancel does, but the job does not end yet
	b.mu.Unlock()
	next, err := b.Add(b.Context(), archive.Job{ClipID: b.clip, Kind: archive.JobAnalyze, Options: []byte(`{"n":1}`)},
		false)
	if err != nil || next.ID == first {
		b.Errorf("a job that is being cancelled was taken for one that runs (%v)", err)
	}
}

// order: first what somebody waits for, by its kind and then by its age, then what was sent in for the night.
func (b *bench) order() {
	add := func(kind string, n int) string {
		j, err := b.Add(b.Context(), archive.Job{ClipID: b.clip, Kind: kind, Options: fmt.Appendf(nil, `{"n":%d}`, n)},
			false)
		if err != nil {
			b.Fatal(err)
		}
		return j.ID
	}
	night, lateNight := add(archive.JobMeasure, 1), add(archive.JobAnalyze, 2)
	for _, id := range []string{night, lateNight} {
		if err := b.opt.Archive.LaterJob(b.Context(), id); err != nil {
			b.Fatal(err)
		}
	}
	video, clip := add(archive.JobRender, 3), add(archive.JobAnalyze, 4)
	second, numbers := add(archive.JobAnalyze, 5), add(archive.JobMeasure, 6)
	var took []string
	b.do = func(_ context.Context, j archive.Job) error { took = append(took, j.ID); return nil }
	stop := b.run()
	b.wait(lateNight)
	stop()
	if want := []string{numbers, clip, second, video, night, lateNight}; !slices.Equal(took, want) {
		b.Errorf("taken in the order %q, want %q", took, want)
	}
	if err := b.opt.Archive.LaterJob(b.Context(), night); err != nil {
		b.Errorf("one that has ended is put to the end: %v", err)
	}
}

// listsProgress: how far a job has come is told while it runs, and is in the archive for others.
func (b *bench) listsProgress() {
	id := b.add(1)
	begun, end := make(chan bool), make(chan bool)
	b.do = func(context.Context, archive.Job) error { begun <- true; <-end; return nil }
	defer b.run()()
	<-begun
	if p, at := b.Progress(id); !at || p.Stage != "tracking" || p.Done != 1 || p.Total != 10 {
		b.Errorf("it has come to %+v, %v", p, at)
	}
	if j := b.job(id); j.State != archive.JobRunning || j.Stage != "tracking" || j.Done != 1 || j.Total != 10 ||
		j.StartedAt == nil || j.Attempt != 1 {
		b.Errorf("others see %+v", j)
	}
	end <- true
	if j := b.wait(id); j.EndedAt == nil || j.Stage != "tracking" {
		b.Errorf("in the end it is %+v", j)
	}
	if _, at := b.Progress(id); at {
		b.Error("a job that has ended is at work")
	}
}

// cancels: a job that waits, or runs, ends as cancelled; one that has ended stays as it is.
func (b *bench) cancels() {
	runs, waits := b.add(1), b.add(2)
	begun := make(chan bool)
	b.do = func(ctx context.Context, _ archive.Job) error { begun <- true; <-ctx.Done(); return ctx.Err() }
	defer b.run()()
	<-begun
	for _, id := range []string{waits, runs} {
		if ok, err := b.Cancel(b.Context(), id); !ok || err != nil {
			b.Errorf("cancelling: %v, %v", ok, err)
		}
		if j := b.wait(id); j.State != archive.JobCancelled || j.EndedAt == nil {
			b.Errorf("the job is %+v", j)
		}
		if ok, err := b.Cancel(b.Context(), id); ok || err != nil {
			b.Errorf("a second time: %v, %v", ok, err)
		}
	}
}

// cancelsWhileTaken: a job that is just being taken out of the archive is found by a cancel.
func (b *bench) cancelsWhileTaken() {
	b.do = func(ctx context.Context, _ archive.Job) error { <-ctx.Done(); return ctx.Err() }
	for i := range 50 {
		id := b.add(i)
		stop := b.run()
		for range 1000 { // it may not have begun
			if ok, err := b.Cancel(b.Context(), id); ok || err != nil {
				break
			}
		}
		if j := b.wait(id); j.State != archive.JobCancelled {
			b.Errorf("the job is %s", j.State)
		}
		stop()
	}
}

// lists: jobs that run or wait come first, then the newest.
func (b *bench) lists() {
	old, ended, waits := b.add(1), b.add(2), b.add(3)
	for _, id := range []string{old, ended} {
		if ok, err := b.Cancel(b.Context(), id); !ok || err != nil {
			b.Fatal(ok, err)
		}
	}
	for limit, want := range map[int][]string{-1: {waits, ended, old}, 2: {waits, ended}, 0: {}} {
		jobs, err := b.List(b.Context(), limit)
		got := []string{}
		for _, j := range jobs {
			got = append(got, j.ID)
		}
		if err != nil || !slices.Equal(got, want) {
			b.Errorf("%d jobs: %q, %v, want %q", limit, got, err, want)
		}
	}
}

// ends: how a job ended is told in words, but for what nobody foresaw; what ends the program that reads the clip twice
// is put aside.
func (b *bench) ends() {
	for i, tt := range []struct {
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
		{"refused", &refusal.Error{Kind: refusal.NotMeasurable, Text: "nobody is there", Hint: "film somebody"}, false, 1,
			archive.JobFailed, "nobody is there", "film somebody"},
		{"crashed", &refusal.Error{Text: "it ended", Hint: "copy it", Err: work.ErrEnded}, false, 2, archive.JobFailed,
			"it ended, twice: the clip was put aside", "copy it"},
		{"a full disk", fmt.Errorf("writing: %w", disk.ErrDiskFull), false, 1, archive.JobFailed, "the disk is full",
			"make room and try again; nothing that was kept is lost"},
		{"a damaged file", archive.ErrDamaged, false, 1, archive.JobFailed, "", ""},
	} {
		id := b.add(i)
		tries := 0
		b.do = func(ctx context.Context, job archive.Job) error {
			tries++
			if tt.cancelled {
				if ok, err := b.Cancel(ctx, job.ID); !ok || err != nil || ctx.Err() == nil {
					b.Errorf("a job at work is not cancelled: %v, %v", ok, err)
				}
			}
			return tt.err
		}
		stop := b.run()
		j := b.wait(id)
		stop()
		if tt.text == "" {
			j.Error, j.Hint = "", ""
		}
		if j.State != tt.state || j.Error != tt.text || j.Hint != tt.hint || tries != tt.tries || j.Stage != "tracking" {
			b.Errorf("%s: after %d tries the job is %+v", tt.name, tries, j)
		}
		if ok, err := b.Cancel(b.Context(), id); ok || err != nil {
			b.Errorf("%s: a job that has ended is cancelled: %v, %v", tt.name, ok, err)
		}
	}
}

// endIsWrittenLater: the end of a job that cannot be written at once is written later; until then it is listed as
// ended, and no other job begins.
func (b *bench) endIsWrittenLater() {
	first, second := b.add(1), b.add(2)
	busy := errors.New("another program holds the database")
	b.finish = func(context.Context, string, archive.JobState, string, string) error { return busy }
	for i := range 2 {
		if did, err := b.next(b.Context()); did || !errors.Is(err, busy) {
			b.Fatalf("%d: %v, %v", i, did, err)
		}
	}
	if b.state(first) != archive.JobDone || b.state(second) != archive.JobWaiting {
		b.Errorf("the jobs are %s and %s", b.state(first), b.state(second))
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
			b.Errorf("job %s is %s", id, j.State)
		}
	}
}

// retries: what may pass is tried again after a while, each time four times as long, and put aside with the reason in
// the end. A folder on this computer's disk has nothing that passes: there a fault ends the job.
func (b *bench) retries() {
	id := b.add(1)
	b.do = func(context.Context, archive.Job) error { return errors.New("no answer from /secret") }
	waits := 5
	if !b.opt.Archive.MayPass() {
		waits = 0
	}
	for n := range waits {
		before := time.Now()
		if did, err := b.next(b.Context()); !did || err != nil {
			b.Fatalf("%d: %v, %v", n, did, err)
		}
		j := b.job(id)
		var due time.Time
		b.sql("SELECT not_before FROM jobs", rows.Time{To: &due})
		wait := archive.FirstWait << (2 * n)
		if early := due.Sub(before) - wait; j.State != archive.JobWaiting || j.Error == "" || early < -time.Second ||
			early > time.Minute {
			b.Errorf("%d: the job is %+v and due at %s, want after %s", n, j, due, wait)
		}
		b.takes(b.opt.Archive, "")
		b.sql("UPDATE jobs SET not_before = NULL")
	}
	if did, err := b.next(b.Context()); !did || err != nil {
		b.Fatal(did, err)
	}
	if j := b.job(id); j.State != archive.JobFailed || j.Error != "something went wrong that should not" {
		b.Errorf("in the end it is %+v", j)
	}
}

// setsAside: a job that was put aside is listed with its reason, and can be tried again.
func (b *bench) setsAside() {
	id := b.add(1)
	b.do = func(context.Context, archive.Job) error {
		return &refusal.Error{Kind: refusal.NotMeasurable, Text: "nobody is there", Hint: "film somebody"}
	}
	stop := b.run()
	b.wait(id)
	stop()
	jobs, err := b.List(b.Context(), -1)
	if err != nil || len(jobs) != 1 || jobs[0].State != archive.JobFailed || jobs[0].Error != "nobody is there" ||
		jobs[0].Hint != "film somebody" || jobs[0].EndedAt == nil {
		b.Errorf("listed are %+v, %v", jobs, err)
	}
	b.takes(b.opt.Archive, "")
	again := b.add(1)
	if again == id {
		b.Error("a job that has ended was taken for one that waits")
	}
	b.do = func(context.Context, archive.Job) error { return nil }
	defer b.run()()
	if j := b.wait(again); j.State != archive.JobDone {
		b.Errorf("the second try is %+v", j)
	}
}

// handsBack: a queue that ends lets its job wait for the next one, without counting the attempt.
func (b *bench) handsBack() {
	id := b.add(1)
	begun := make(chan struct{})
	b.do = func(ctx context.Context, _ archive.Job) error { close(begun); <-ctx.Done(); return ctx.Err() }
	stop := b.run()
	<-begun
	stop()
	if j := b.job(id); j.State != archive.JobWaiting || j.Attempt != 0 || j.Stage != "" || j.StartedAt != nil {
		b.Errorf("the job is %+v", j)
	}
	b.takes(b.opt.Archive, id)
}

// takesOver: a job of a program that was killed is done by the next, and the attempt is not counted: in a folder when
// that starts, else when the lease is over.
func (b *bench) takesOver() {
	id := b.add(1)
	b.takes(b.opt.Archive, id) // and nothing is heard of it any more
	next := b.opt.Archive
	if b.database == "" {
		if n, err := next.RequeueRunning(b.Context()); n != 1 || err != nil {
			b.Fatal(n, err)
		}
	} else {
		b.takes(next, "")
		b.sql("UPDATE jobs SET lease_until = now() - interval '1 second'")
	}
	if ended, err := b.next(b.Context()); !ended || err != nil {
		b.Fatal(ended, err)
	}
	if j := b.job(id); j.State != archive.JobDone || j.Attempt != 1 {
		b.Errorf("the job is %+v", j)
	}
}

// newerBeside: a newer program has added a column and a kind of job; the one that runs goes on with what it knows and
// leaves the rest to it, and one that is started anew is refused.
func (b *bench) newerBeside() {
	b.sql("ALTER TABLE jobs ADD COLUMN later TEXT NOT NULL DEFAULT 'of a newer program'")
	strange := "INSERT INTO jobs (id, clip_id, kind, state, created_at) VALUES ('0', '" + b.clip +
		"', 'later', 'waiting', '2026-02-03T00:00:00.000000000Z')"
	if b.database == "" {
		b.sql("PRAGMA ignore_check_constraints = 1; " + strange)
	} else {
		b.sql("ALTER TABLE jobs DROP CONSTRAINT jobs_kind_check")
		b.sql(strange)
	}
	b.sql("INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, TRUE)")
	id := b.add(1)
	stop := b.run()
	if j := b.wait(id); j.State != archive.JobDone {
		b.Errorf("the job is %+v", j)
	}
	stop()
	b.takes(b.opt.Archive, "")
	if j := b.job("0"); j.State != archive.JobWaiting || j.Attempt != 0 {
		b.Errorf("the newer program's job is %+v", j)
	}
	old, err := archive.Open(b.Context(), b.opt.Archive.Dir(), archive.Options{Database: b.database})
	if !errors.Is(err, archive.ErrNewerSchema) {
		b.Errorf("an older program that starts: %v, %v", old, err)
	}
}
