package archive

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"holdfast/archive/backup"
	"holdfast/archive/folder"
	"holdfast/archive/store"
)

// Where something else lies, nothing is made and nothing removed.
func TestOpenForeignFolder(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name  string
		files []string // one that ends with a slash is a folder
		want  error
	}{
		{"nothing", nil, nil},
		{"what systems leave", []string{".DS_Store", "lost+found/", "desktop.ini", ".Trash-1000/files/x"}, nil},
		{"what a killed start leaves", []string{"files/", "tmp/", "serving.lock", "files.lock", "holdfast.db",
			"holdfast.db-journal"}, nil},
		{"a letter", []string{"letter.txt"}, ErrNotArchive},
		{"a letter and a folder named tmp", []string{"letter.txt", "tmp/thesis/chapter1.txt"}, ErrNotArchive},
		{"a folder named tmp", []string{"tmp/thesis/chapter1.txt"}, ErrNotArchive},
		{"a folder named files", []string{"files/photo.jpg"}, ErrNotArchive},
		{"a folder named as the database", []string{"holdfast.db/x"}, ErrNotArchive},
		{"an empty database", []string{"holdfast.db", "tmp/thesis/chapter1.txt"}, ErrNotArchive},
		{"the database is lost", []string{"files/ab/" + strings.Repeat("ab", 32), "tmp/put-1"}, ErrDamaged},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			for _, f := range tc.files {
				path := filepath.Join(dir, filepath.FromSlash(f))
				err := os.MkdirAll(filepath.Dir(path), 0o700)
				if strings.HasSuffix(f, "/") {
					err = os.MkdirAll(path, 0o700)
				} else if err == nil {
					var body []byte
					if f != folder.Database {
						body = []byte("precious")
					}
					err = os.WriteFile(path, body, 0o600)
				}
				if err != nil {
					t.Fatal(err)
				}
			}
			before := everything(t, dir)
			for _, opt := range []Options{{}, {Serving: true}, {MustExist: true}, {MustExist: true, Serving: true}} {
				want := tc.want
				if want == nil {
					if want = ErrNotArchive; !opt.MustExist {
						continue
					}
				}
				a, err := Open(t.Context(), dir, opt)
				if err == nil {
					err = a.Close()
				}
				is(t, fmt.Sprintf("%+v", opt), err, want)
				if string(everything(t, dir)) != string(before) {
					t.Fatalf("%+v changed the folder", opt)
				}
			}
			if tc.want == nil {
				open(t, dir, Options{Serving: true}).healthy(0)
			}
		})
	}
	dir := t.TempDir()
	statement(t, dir, "CREATE TABLE recipes (name TEXT)")
	for _, opt := range []Options{{}, {Serving: true}} {
		_, err := Open(t.Context(), dir, opt)
		is(t, "another program's database", err, ErrDamaged)
	}
	_, err := Open(t.Context(), filepath.Join(dir, "none"), Options{MustExist: true})
	if is(t, "no folder", err, ErrNotArchive); !strings.Contains(err.Error(), "--data") {
		t.Errorf("it does not say what to do: %v", err)
	}
	file := filepath.Join(dir, folder.Database)
	_, err = Open(t.Context(), file, Options{})
	is(t, "a file", err, ErrNotArchive)
	if _, err := os.Stat(filepath.Join(dir, "none")); !errors.Is(err, fs.ErrNotExist) {
		t.Error("a folder was made")
	}
}

// Nothing is removed on the word of a database that is damaged: its rows may be hidden.
func TestDamagedDatabaseRemovesNothing(t *testing.T) {
	t.Parallel()
	for name, spoil := range map[string]string{
		"an index without rows": "PRAGMA writable_schema = 1; UPDATE sqlite_schema SET rootpage = (SELECT rootpage FROM " +
			"sqlite_schema WHERE name = 'comparison_files_by_file') WHERE name = 'sqlite_autoindex_files_1'",
		"lost rows": "DELETE FROM files",
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			_, c := oneClip(t, dir)
			statement(t, dir, spoil)
			half := filepath.Join(dir, store.TmpFolder, "put-1")
			if err := os.WriteFile(half, nil, 0o600); err != nil {
				t.Fatal(err)
			}
			_, err := Open(t.Context(), dir, Options{Serving: true})
			is(t, "open", err, ErrDamaged)
			if b, err := os.ReadFile(store.PathIn(dir, c.SHA256)); err != nil ||
				string(b) != "the frames of a clip" {
				t.Errorf("the clip is %q, %v", b, err)
			}
			if _, err := os.Stat(half); err != nil {
				t.Error(err)
			}
		})
	}
}

// An older database beside newer files does not cost them: they come back with the
// newer one, and go for good only after a while.
func TestOlderDatabase(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	dir := t.TempDir()
	who, first := oneClip(t, dir)
	base := filepath.Join(dir, folder.Database)
	read := func() []byte {
		t.Helper()
		b, err := os.ReadFile(base)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	older := read()
	d := open(t, dir, Options{})
	second := d.clip(d.visit(who, "2026-03-04"), "a newer clip")
	d.must(d.Close())
	newer := read()

	// The database is exchanged while no program runs.
	serve := func(database []byte, now time.Time) desk {
		t.Helper()
		if database != nil {
			if err := os.WriteFile(base, database, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		a, err := Open(ctx, dir, Options{Serving: true, Now: func() time.Time { return now }})
		if err != nil {
			t.Fatal(err)
		}
		return desk{a, t}
	}
	day := func(n int) time.Time { return time.Date(2026, 3, n, 9, 0, 0, 0, time.UTC) }
	lost := filepath.Join(dir, store.LostFolder, second.SHA256)
	d = serve(older, day(1))
	d.healthy(2)
	if b, err := os.ReadFile(lost); err != nil || string(b) != "a newer clip" {
		t.Fatalf("the newer clip is %q, %v", b, err)
	}
	rep, err := d.Check(ctx)
	d.must(err)
	if len(rep.Notes) != 1 || !strings.Contains(rep.Notes[0], "1 file ") ||
		!strings.Contains(rep.Notes[0], store.LostFolder) {
		t.Errorf("the check notes %q", rep.Notes)
	}
	d.must(d.Close())

	d = serve(newer, day(2))
	d.healthy(3)
	if _, err := os.Stat(filepath.Dir(lost)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the empty folder stays: %v", err)
	}
	d.must(d.Close())

	for _, tc := range []struct {
		day   int
		there bool
	}{{3, true}, {3 + store.LostDays, true}, {4 + store.LostDays, false}} {
		d = serve(map[bool][]byte{true: older}[tc.day == 3], day(tc.day))
		if _, err := os.Stat(lost); (err == nil) != tc.there {
			t.Errorf("on day %d: %v", tc.day, err)
		}
		d.must(d.Close())
	}

	// Who is deleted is not kept there either.
	d = serve(nil, day(40))
	d.must(os.MkdirAll(filepath.Dir(lost), 0o700))
	d.must(os.WriteFile(filepath.Join(dir, store.LostFolder, first.SHA256+"-2"), []byte("the frames of a clip"), 0o600))
	_, err = d.DeleteAthlete(ctx, who.ID)
	d.must(err)
	if strings.Contains(string(everything(t, dir)), "the frames") {
		t.Error("a copy of the clip is left")
	}
	d.must(d.Close())
}

// What this program was putting or removing when it was killed is nobody's lost file.
func TestUnderway(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	_, c := oneClip(t, dir)
	d := open(t, dir, Options{})
	// As a deletion leaves it that is killed after its commit, and a put before it.
	sum := strings.Repeat("ab", 32)
	_, err := d.folder.Store.Begin([]string{c.SHA256, sum, "../../x"}, true)
	d.must(err)
	d.must(os.MkdirAll(filepath.Dir(d.FilePath(sum)), 0o700))
	d.must(os.WriteFile(d.FilePath(sum), []byte("half"), 0o600))
	server := open(t, dir, Options{Serving: true})
	server.healthy(2) // a file with a row stays
	if n, err := server.folder.Store.CountLost(); err != nil || n > 0 {
		t.Errorf("%d files are lost, %v", n, err)
	}
	onlyThese(t, filepath.Join(dir, store.TmpFolder))
}

// A file that cannot be removed is removed by the next server, not kept as lost.
func TestDiscardAgain(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	who, c := oneClip(t, dir)
	d := open(t, dir, Options{})
	d.must(os.Remove(d.FilePath(c.SHA256)))
	d.must(os.MkdirAll(filepath.Join(d.FilePath(c.SHA256), "in the way"), 0o700))
	if _, err := d.DeleteAthlete(t.Context(), who.ID); err == nil {
		t.Fatal("nothing is said of a file that stays")
	}
	d.must(os.RemoveAll(d.FilePath(c.SHA256)))
	d.must(os.WriteFile(d.FilePath(c.SHA256), []byte("the frames of a clip"), 0o600))
	open(t, dir, Options{Serving: true}).healthy(0)
	if strings.Contains(string(everything(t, dir)), "the frames") {
		t.Error("the clip is left")
	}
}

// What was put and got no name goes with the next deletion, unless somebody is about
// to name it.
func TestAbandoned(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	for name, del := range map[string]func(d desk, c Clip) error{
		"athlete": func(d desk, c Clip) error { _, err := d.DeleteAthlete(ctx, c.AthleteID); return err },
		"visit":   func(d desk, c Clip) error { return d.DeleteVisit(ctx, c.VisitID) },
		"clip":    func(d desk, c Clip) error { return d.DeleteClip(ctx, c.ID) },
	} {
		t.Run(name, func(t *testing.T) {
			now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
			clock := Options{Now: func() time.Time { return now }}
			dir := t.TempDir()
			d, other := open(t, dir, clock), open(t, dir, clock)
			c := d.clip(d.visit(d.athlete("one"), "2026-02-03"), "frames")
			old := d.put("", "put long ago")
			now = now.Add(store.NameWithin + time.Second)
			young := other.put("", "put by another program just now")
			waiting := d.put("analysis.json", "put just now")
			refused := d.put("", "its naming failed")
			_, _, err := d.AddClip(ctx, Clip{AthleteID: "x", VisitID: c.VisitID, SHA256: refused.SHA256})
			is(t, "a clip of nobody", err, ErrInvalid)
			twice := d.put("", "put twice, named once")
			d.put("", "put twice, named once")
			err = d.AddResultFile(ctx, "x", File{Name: "a", SHA256: twice.SHA256})
			is(t, "a file of no result", err, ErrNotFound)
			rep, err := d.Check(ctx)
			d.must(err)
			if len(rep.Problems) > 0 || len(rep.Notes) != 1 || !strings.Contains(rep.Notes[0], "5 files") {
				t.Errorf("the check found %+v", rep)
			}
			d.must(del(d, c))
			for what, f := range map[string]File{"old": old, "refused": refused, "of the clip": {SHA256: c.SHA256}} {
				if d.has(f.SHA256) {
					t.Errorf("the file %s is left", what)
				}
			}
			for what, f := range map[string]File{"of another program": young, "waiting": waiting,
				"waiting for one of two": twice} {
				if !d.has(f.SHA256) {
					t.Errorf("the file %s went", what)
				}
			}
			v := d.visit(d.athlete("two"), "2026-02-03")
			next := d.clip(v, "next")
			_, err = d.SaveResult(ctx, next.ID, []File{waiting}, 0)
			is(t, "the waiting file gets its name", err, nil)
		})
	}
}

// A file that was put for one clip stays when the same file of another clip goes
// before it is named.
func TestAwaitedFileStays(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	v := d.visit(d.athlete("one"), "2026-02-03")
	old, fresh := d.clip(v, "old clip"), d.clip(v, "new clip")
	_, err := d.SaveResult(ctx, old.ID, []File{d.put("with.json", "the same")}, 0)
	d.must(err)
	waiting := d.put("with.json", "the same")
	_, err = d.SaveResult(ctx, old.ID, []File{d.put("with.json", "another")}, 0)
	d.must(err)
	_, err = d.SaveResult(ctx, fresh.ID, []File{waiting}, 0)
	is(t, "the waiting file gets its name", err, nil)
	_, err = d.SaveResult(ctx, fresh.ID, []File{d.put("with.json", "another")}, 0)
	d.must(err)
	if d.has(waiting.SHA256) {
		t.Error("the file stays when nothing waits or names it any more")
	}
}

func TestForget(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	c := d.clip(d.visit(d.athlete("one"), "2026-02-03"), "frames")
	f := d.put("", "not wanted after all")
	d.must(d.Forget(ctx, f))
	if d.has(f.SHA256) {
		t.Error("the file is left")
	}
	d.must(d.Forget(ctx, f))
	d.must(d.Forget(ctx, File{}))
	d.must(d.Forget(ctx, d.put("", "frames")))
	if !d.has(c.SHA256) {
		t.Error("a file in use went")
	}
	// Two have put the same: the one who forgets does not take it from the other.
	d.put("", "the same")
	f = d.put("", "the same")
	d.must(d.Forget(ctx, f))
	if !d.has(f.SHA256) {
		t.Error("the file of the other went")
	}
	d.must(d.Forget(ctx, f))
	d.healthy(1)
	d.put("", "the same")
	f = d.put("", "the same")
	_, _, err := d.AddClip(ctx, Clip{AthleteID: "x", VisitID: c.VisitID, SHA256: f.SHA256})
	is(t, "a clip of nobody", err, ErrInvalid)
	d.must(d.Forget(ctx, f))
	if !d.has(f.SHA256) {
		t.Error("the file of the other went after a naming that failed")
	}
	d.must(d.Forget(ctx, f))
	d.healthy(1)
	// A naming that failed long ago, and whose file went, holds nothing.
	f = d.put("", "the same")
	_, _, err = d.AddClip(ctx, Clip{AthleteID: "x", VisitID: c.VisitID, SHA256: f.SHA256})
	is(t, "a clip of nobody", err, ErrInvalid)
	d.must(d.DeleteClip(ctx, d.clip(d.visit(d.athlete("two"), "2026-02-03"), "other").ID))
	d.must(d.Forget(ctx, d.put("", "the same")))
	d.healthy(1)
	rep, err := d.Check(ctx)
	d.must(err)
	if len(rep.Notes) > 0 {
		t.Errorf("the check notes %q", rep.Notes)
	}
}

// schema returns the first so many steps of the schema; 0: all of them.
func schema(t *testing.T, n int) fstest.MapFS {
	t.Helper()
	entries, err := os.ReadDir("folder/migrations")
	if err != nil {
		t.Fatal(err)
	}
	out := fstest.MapFS{}
	for _, e := range entries {
		text, err := os.ReadFile("folder/migrations/" + e.Name())
		if err != nil {
			t.Fatal(err)
		}
		if out[e.Name()] = (&fstest.MapFile{Data: text}); len(out) == n {
			break
		}
	}
	return out
}

// An archive of the first schema opens with all that is in it. Its jobs are not blamed
// for the ends of servers that it counted.
func TestArchiveOfTheFirstSchema(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	dir := t.TempDir()
	a, err := Open(ctx, dir, Options{Schema: schema(t, 1)})
	if err != nil {
		t.Fatal(err)
	}
	d := desk{a, t}
	file := d.put("", "the frames of a clip")
	c := Clip{ID: "clip"}
	for _, s := range []string{
		"INSERT INTO athletes (id, name, created_at) VALUES ('who', 'Imke Sample', '2026-02-03T09:00:00.000000000Z')",
		"INSERT INTO visits (id, athlete_id, date, condition) VALUES ('visit', 'who', '2026-02-03', 'fresh')",
		"INSERT INTO clips (id, visit_id, athlete_id, name, sha256, added_at) VALUES ('clip', 'visit', 'who', 'clip.mp4', " +
			"'" + file.SHA256 + "', '2026-02-03T09:00:00.000000000Z')"} {
		statement(t, dir, s)
	}
	for i, state := range []JobState{JobRunning, JobWaiting, JobFailed} {
		statement(t, dir, fmt.Sprintf("INSERT INTO jobs (id, clip_id, kind, state, attempt, created_at) VALUES ('%d', "+
			"'%s', 'analyze', '%s', 2, '2026-03-01T09:00:0%d.000000000Z')", i, c.ID, state, i))
	}
	d.must(a.Close())
	d = open(t, dir, Options{Serving: true})
	d.healthy(1)
	if n, err := d.RequeueRunning(ctx); err != nil || n != 1 {
		t.Errorf("%d jobs wait again, %v", n, err)
	}
	// What came later is empty: nobody is past a day, the clip is whole, nothing is marked.
	who, err := d.Athlete(ctx, "who")
	d.must(err)
	clip, err := d.Clip(ctx, c.ID)
	d.must(err)
	marks, err := d.Marks(ctx, c.ID)
	d.must(err)
	if who.Team+who.ConsentOn+who.KeepUntil != "" || who.PastKeeping("2099-01-01") || clip.TrimFromS != nil ||
		clip.TrimToS != nil || marks != nil {
		t.Errorf("after the step it has %+v, %+v and %s", who, clip, marks)
	}
	jobs, err := d.Jobs(ctx, 10)
	d.must(err)
	if len(jobs) != 3 {
		t.Fatalf("%d jobs", len(jobs))
	}
	for _, j := range jobs {
		if j.State == JobFailed && j.Attempt != 2 || j.State != JobFailed &&
			(j.State != JobWaiting || j.Attempt > 0 || j.Ends > 0) {
			t.Errorf("the job is %+v", j)
		}
	}
}

// The tables do not change under a server of an older program.
func TestMigrateUnderServer(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	newer := schema(t, 0)
	newer["00099_more.sql"] = &fstest.MapFile{Data: []byte("-- +goose Up\nCREATE TABLE more (id TEXT) STRICT;\n-- " +
		"+goose Down\nDROP TABLE more;\n")}
	server := open(t, dir, Options{Serving: true})
	for range 2 {
		_, err := Open(t.Context(), dir, Options{Schema: newer})
		if is(t, "beside an older server", err, ErrInUse); err == nil || !strings.Contains(err.Error(),
			"stop holdfast serve first") {
			t.Errorf("it does not say what to do: %v", err)
		}
	}
	open(t, dir, Options{}) // a program of the same age may come
	server.must(server.Close())
	a, err := Open(t.Context(), dir, Options{Schema: newer})
	server.must(err)
	server.must(a.Close())
	// The lock was given back.
	a, err = Open(t.Context(), dir, Options{Serving: true, Schema: newer})
	server.must(err)
	server.must(a.Close())
	_, err = Open(t.Context(), dir, Options{})
	is(t, "an older program afterwards", err, ErrNewerSchema)
}

// Errors say what to do, in words of their own.
func TestMessages(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	dir := t.TempDir()
	d := open(t, dir, Options{Serving: true})
	who, other := d.athlete("Imke Sample"), d.athlete("imke sample")
	mine := d.clip(d.visit(who, "2026-02-03"), "frames")
	d.clip(d.visit(other, "2026-02-03"), "frames")
	mine.VisitID = d.visit(other, "2026-02-03").ID
	_, twice := d.FindAthlete(ctx, "Imke Sample")
	_, nobody := d.FindAthlete(ctx, "Imka Sample")
	_, inUse := Open(ctx, dir, Options{Serving: true})
	for _, tc := range []struct {
		name string
		err  error
		is   []error
		want []string
	}{
		{"two of one name", twice, []error{ErrAmbiguous, ErrInvalid}, []string{"2 athletes", "holdfast athletes"}},
		{"a misspelt name", nobody, []error{ErrNotFound}, []string{`"Imka Sample"`, "holdfast athletes"}},
		{"a folder that holds something", restore(ctx, "x.zip", dir), []error{backup.ErrNotEmpty, ErrInvalid},
			[]string{dir, "not empty", "--data"}},
		{"a clip the athlete has", d.UpdateClip(ctx, mine), []error{ErrKnownClip, ErrInvalid},
			[]string{"has this clip already"}},
		{"a second server", inUse, []error{ErrInUse}, []string{dir, "stop it first"}},
	} {
		for _, e := range tc.is {
			is(t, tc.name, tc.err, e)
		}
		text := fmt.Sprint(tc.err)
		if slices.ContainsFunc(tc.want, func(w string) bool { return !strings.Contains(text, w) }) {
			t.Errorf("%s: %q lacks one of %q", tc.name, text, tc.want)
		}
		for _, w := range []string{"constraint", "cannot be stored", "no such entry"} {
			if strings.Contains(text, w) {
				t.Errorf("%s: %q says %q", tc.name, text, w)
			}
		}
	}
}
