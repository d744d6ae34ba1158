package archive

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"holdfast/archive/bucket"
	"holdfast/archive/files"
	"holdfast/archive/store"
	"holdfast/internal/filestest"
	"holdfast/internal/pgtest"
)

// rowTests are the tests of what an archive is asked, whatever keeps its rows and its files.
var rowTests = map[string]func(*testing.T){
	"Athletes": TestAthletes, "Visits": TestVisits, "Clips": TestClips, "View": TestView, "Results": TestResults,
	"Corrections": TestCorrections, "Comparisons": TestComparisons, "Jobs": TestJobs, "Export": TestExport,
	"KeptWithAnAthlete": TestKeptWithAnAthlete, "MarksAndTrimOfAClip": TestMarksAndTrimOfAClip,
	"Abandoned": TestAbandoned, "AwaitedFileStays": TestAwaitedFileStays, "Forget": TestForget,
	"ExportWhileChanged": TestExportWhileChanged, "Statements": TestStatements, "Coaches": TestCoaches,
	"Joins": TestJoins,
}

// worlds are where else rows and files may be kept: each makes the options of one archive.
var worlds = map[string]func(*testing.T) Options{"bucket": inBucket, "postgres": inPostgres}

// opened are the worlds of the data folders that tests opened, so that one that is opened again finds its own.
var opened sync.Map

// inWorld adds to the options of an archive where its rows and files are kept, which the name of the test says.
func inWorld(t testing.TB, dir string, opt Options) Options {
	t.Helper()
	parts := strings.Split(t.Name(), "/")
	if len(parts) < 2 || parts[0] != "TestElsewhere" {
		return opt
	}
	was, ok := opened.Load(dir)
	if !ok {
		was = worlds[parts[1]](t.(*testing.T))
		opened.Store(dir, was)
	}
	opt.Files, opt.Database = was.(Options).Files, was.(Options).Database
	return opt
}

func inBucket(t *testing.T) Options {
	b, err := bucket.Open(filestest.Server(t, nil), filestest.Keys)
	if err != nil {
		t.Fatal(err)
	}
	return Options{Files: b}
}

func inPostgres(t *testing.T) Options {
	if testing.Short() {
		t.Skip("starts a database server")
	}
	return Options{Database: pgtest.Database(t), Files: files.Folder{Root: filepath.Join(t.TempDir(), "kept")}}
}

// An archive answers the same wherever its rows and files are kept.
func TestElsewhere(t *testing.T) {
	t.Parallel()
	for world := range worlds {
		t.Run(world, func(t *testing.T) {
			for name, test := range rowTests {
				t.Run(name, test)
			}
		})
	}
}

// everyName lists the sums of all that is kept.
func everyName(t *testing.T, f files.Files) (names []string) {
	t.Helper()
	err := f.List(t.Context(), func(key string) error {
		names = append(names, key[3:])
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(names)
	return names
}

// Whatever fails of a store in which one call in ten does, no row names a file that is not there, and what no row names
// is known to be on its way; the next server clears it away.
func TestFailingStore(t *testing.T) {
	t.Parallel()
	for i, world := range []string{"bucket", "bucket", "postgres", "postgres"} {
		seed := uint64(i + 1)
		t.Run(fmt.Sprint(world, seed), func(t *testing.T) {
			t.Parallel()
			opt := worlds[world](t)
			dir, whole := t.TempDir(), opt.Files
			weak := filestest.Fail(whole, 10, seed)
			d := open(t, dir, Options{Files: weak, Database: opt.Database})
			who := d.athlete("one")
			v := d.visit(who, "2026-02-03")
			failed, done := 0, 0
			try := func(err error) bool {
				t.Helper()
				if err != nil && !errors.Is(err, filestest.ErrFailed) {
					t.Fatal(err)
				}
				if err != nil {
					failed++
				} else {
					done++
				}
				return err == nil
			}
			for i := range 60 {
				f, err := d.Put(t.Context(), strings.NewReader(fmt.Sprintf("clip %d", i/2)), 100)
				if !try(err) {
					continue
				}
				c, _, err := d.AddClip(t.Context(), Clip{AthleteID: who.ID, VisitID: v.ID, Name: "a.mp4", SHA256: f.SHA256})
				d.must(err)
				numbers, err := d.Put(t.Context(), strings.NewReader(fmt.Sprintf("numbers %d", i)), 100)
				if !try(err) {
					continue
				}
				numbers.Name = "analysis.json"
				_, err = d.SaveResult(t.Context(), c.ID, []File{numbers}, 0) // removes the numbers of before
				try(err)
				if i%5 == 0 {
					try(d.DeleteClip(t.Context(), c.ID))
				}
			}
			if failed == 0 || done == 0 || weak.Failed() == 0 {
				t.Errorf("%d steps failed and %d did not, of %d calls that failed", failed, done, weak.Failed())
			}
			sound := open(t, dir, opt)
			rep, err := sound.Check(t.Context())
			sound.must(err)
			if len(rep.Problems) > 0 {
				t.Errorf("problems: %q", rep.Problems)
			}
			opt.Serving = true
			opt.Now = func() time.Time { return time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC) } // nobody is at it any more
			server := open(t, dir, opt)
			rep, err = server.Check(t.Context())
			server.must(err)
			if kept := everyName(t, whole); len(rep.Problems)+len(rep.Notes) > 0 || len(kept) != rep.Files {
				t.Errorf("a server leaves %q %q and %d files with %d rows", rep.Problems, rep.Notes, len(kept), rep.Files)
			}
		})
	}
}

// What is kept elsewhere is read from copies, which are compared with what was stored, come again when they are gone,
// and go when nobody has read them for a day.
func TestCopies(t *testing.T) {
	t.Parallel()
	dir, away := t.TempDir(), inBucket(t).Files
	clock := ticking()
	d := open(t, dir, Options{Files: away, Now: clock})
	c := d.clip(d.visit(d.athlete("one"), "2026-02-03"), "frames")
	copies := filepath.Join(dir, store.CopiesFolder)
	there := func(want bool, what string) {
		t.Helper()
		b, err := os.ReadFile(d.FilePath(c.SHA256))
		if (err == nil) != want || err == nil && string(b) != "frames" {
			t.Errorf("%s: %q, %v", what, b, err)
		}
	}
	there(true, "just put")
	d.must(os.RemoveAll(copies))
	d.must(d.Fetch(t.Context(), "", c.SHA256))
	there(true, "fetched")
	is(t, "what is not there", d.Fetch(t.Context(), strings.Repeat("0", 64)), os.ErrNotExist)
	for range 25 * 3600 {
		clock()
	}
	old := open(t, dir, Options{Files: away, Now: clock})
	there(false, "a day later")
	d.must(os.RemoveAll(copies))
	changed := filepath.Join(t.TempDir(), "x")
	d.must(os.WriteFile(changed, []byte("Frames"), 0o600))
	d.must(away.Put(t.Context(), c.SHA256, changed))
	is(t, "what was changed", old.Fetch(t.Context(), c.SHA256), store.Changed)
	there(false, "changed")
	rep, err := d.Check(t.Context())
	d.must(err)
	if len(rep.Problems) != 1 || !strings.Contains(rep.Problems[0], store.Changed.Error()) {
		t.Errorf("the check says %q", rep.Problems)
	}
}

// Several computers that share rows and files put and delete the same contents at once; no row names a file that is
// not there, and every step ends.
func TestComputersBesideEachOther(t *testing.T) {
	t.Parallel()
	opt := inPostgres(t)
	first := open(t, t.TempDir(), opt)
	who := first.athlete("one")
	v := first.visit(who, "2026-02-03")
	var all sync.WaitGroup
	for n := range 3 {
		d := open(t, t.TempDir(), opt)
		all.Go(func() {
			for i := range 15 {
				f, err := d.Put(t.Context(), strings.NewReader(fmt.Sprint("clip ", i%4)), 100)
				if err != nil {
					t.Error(err)
					return
				}
				c, _, err := d.AddClip(t.Context(), Clip{AthleteID: who.ID, VisitID: v.ID, Name: "a.mp4", SHA256: f.SHA256})
				if errors.Is(err, ErrNotFound) {
					continue // another deleted the same file just then
				}
				if err == nil && (i+n)%2 == 0 {
					err = d.DeleteClip(t.Context(), c.ID)
				}
				if err != nil && !errors.Is(err, ErrNotFound) {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	rep, err := first.Check(t.Context())
	first.must(err)
	if len(rep.Problems) > 0 {
		t.Errorf("problems: %q", rep.Problems)
	}
}

// A shared database has one server at a time, and everybody else all the while.
func TestOneServerOfADatabase(t *testing.T) {
	t.Parallel()
	opt := inPostgres(t)
	opt.Serving = true
	first, err := Open(t.Context(), t.TempDir(), opt)
	if err != nil {
		t.Fatal(err)
	}
	_, err = Open(t.Context(), t.TempDir(), opt)
	is(t, "a second server", err, ErrInUse)
	open(t, t.TempDir(), Options{Database: opt.Database, Files: opt.Files}).healthy(0)
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	open(t, t.TempDir(), opt).healthy(0)
}

// While the database server is down everything fails in plain words; when it is up again all that was committed is
// there, and the archive goes on without being opened again.
func TestDatabaseRestarted(t *testing.T) {
	t.Parallel()
	server := pgtest.New(t)
	opt := Options{Database: server.Database(t), Files: files.Folder{Root: filepath.Join(t.TempDir(), "kept")}}
	d := open(t, t.TempDir(), opt)
	v := d.visit(d.athlete("one"), "2026-02-03")
	c := d.clip(v, "frames")
	broken := make(chan error)
	go func() { // the server goes in the middle of a transaction
		_, err := d.AthleteFor(t.Context(), Athlete{Name: "two"}, func(Athlete) bool {
			server.Kill()
			return false
		})
		broken <- err
	}()
	if err := <-broken; err == nil {
		t.Error("what was not committed is said to be done")
	}
	_, err := d.Clip(t.Context(), c.ID)
	if err == nil || !strings.Contains(err.Error(), "cannot be reached") {
		t.Errorf("without a server: %v", err)
	}
	if _, err := d.Put(t.Context(), strings.NewReader("late"), 100); err == nil {
		t.Error("put without a server")
	}
	d.must(server.Start())
	if _, err := d.Clip(t.Context(), c.ID); err != nil { // the first connections of the pool may be dead ones
		_, err = d.Clip(t.Context(), c.ID)
		d.must(err)
	}
	all, err := d.Athletes(t.Context())
	d.must(err)
	if len(all) != 1 {
		t.Errorf("there are %d athletes, want the one that was committed", len(all))
	}
	d.clip(v, "more frames")
	d.healthy(2)
}
