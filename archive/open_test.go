package archive

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"holdfast/archive/folder"
	"holdfast/archive/halfsent"
	"holdfast/archive/rows"
	"holdfast/archive/store"
)

// statement runs SQL on a data folder behind the archive's back.
func statement(t *testing.T, dir, text string) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, folder.Database))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.ExecContext(t.Context(), text); err != nil {
		t.Fatal(err)
	}
}

// oneClip makes a folder with one athlete, one clip and one result, and closes it.
func oneClip(t *testing.T, dir string) (Athlete, Clip) {
	t.Helper()
	a, err := Open(t.Context(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	d := desk{a, t}
	who := d.athlete("Imke Sample")
	c := d.clip(d.visit(who, "2026-02-03"), "the frames of a clip")
	_, err = d.SaveResult(t.Context(), c.ID, []File{d.put("analysis.json", "{}")}, 0)
	d.must(err)
	d.must(a.Close())
	return who, c
}

func TestOpenRefuses(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name  string
		spoil func(t *testing.T, dir string)
		want  error
	}{
		{"newer schema", func(t *testing.T, dir string) {
			statement(t, dir, "INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)")
		}, ErrNewerSchema},
		{"no database", func(t *testing.T, dir string) {
			if err := os.WriteFile(filepath.Join(dir, folder.Database), []byte(strings.Repeat("This is a letter. ", 1000)),
				0o600); err != nil {
				t.Fatal(err)
			}
		}, ErrDamaged},
		// A lost database is no new one: its files would be cleaned away.
		{"database lost", func(t *testing.T, dir string) {
			if err := os.Remove(filepath.Join(dir, folder.Database)); err != nil {
				t.Fatal(err)
			}
		}, ErrDamaged},
		{"database emptied", func(t *testing.T, dir string) {
			if err := os.Truncate(filepath.Join(dir, folder.Database), 0); err != nil {
				t.Fatal(err)
			}
		}, ErrDamaged},
	} {
		for _, serving := range []bool{false, true} {
			t.Run(fmt.Sprint(tc.name, ", serving ", serving), func(t *testing.T) {
				dir := t.TempDir()
				_, c := oneClip(t, dir)
				tc.spoil(t, dir)
				for range 2 { // what the first try left must not let the second in
					a, err := Open(t.Context(), dir, Options{Serving: serving})
					if err == nil {
						a.Close()
					}
					is(t, "open", err, tc.want)
				}
				b, err := os.ReadFile(store.PathIn(dir, c.SHA256))
				if err != nil || string(b) != "the frames of a clip" {
					t.Errorf("the clip is %q, %v", b, err)
				}
			})
		}
	}
	t.Run("a file", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "f")
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(t.Context(), path, Options{}); err == nil {
			t.Error("opened a file as a folder")
		}
	})
	t.Run("stopped", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		_, err := Open(ctx, t.TempDir(), Options{Serving: true})
		is(t, "open", err, context.Canceled)
	})
}

func TestFolderNames(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"a b", "100%", "50%41", "q?mode=memory", "#1", "ärger", "a'b\"c", "-x", ":memory:"} {
		dir := filepath.Join(t.TempDir(), name)
		who, _ := oneClip(t, dir)
		if _, err := os.Stat(filepath.Join(dir, folder.Database)); err != nil {
			t.Errorf("%q: the database lies elsewhere: %v", name, err)
		}
		d := open(t, dir, Options{Serving: true})
		if got, err := d.FindAthlete(t.Context(), "imke sample"); err != nil || got.ID != who.ID {
			t.Errorf("%q: %v, %v", name, got, err)
		}
	}
}

// One server a folder; commands beside it may read and write.
func TestServingLock(t *testing.T) {
	dir := t.TempDir()
	first := open(t, dir, Options{Serving: true})
	_, err := Open(t.Context(), dir, Options{Serving: true})
	is(t, "a second server", err, ErrInUse)
	cli := open(t, dir, Options{}) // a command beside the server
	who := cli.athlete("written beside the server")
	if _, err := first.Athlete(t.Context(), who.ID); err != nil {
		t.Error("the server does not see it:", err)
	}
	first.must(first.Close())
	second, err := Open(t.Context(), dir, Options{Serving: true})
	first.must(err)
	first.must(second.Close())
}

// A start of the server removes what was half done and nothing else.
func TestClean(t *testing.T) {
	ctx := t.Context()
	dir := t.TempDir()
	_, c := oneClip(t, dir)
	cli := open(t, dir, Options{})
	unused := cli.put("", "put, but never named by a row")
	write := func(path string) string {
		t.Helper()
		path = filepath.Join(dir, path)
		cli.must(os.MkdirAll(filepath.Dir(path), 0o700))
		cli.must(os.WriteFile(path, []byte("half"), 0o600))
		return path
	}
	gone := []string{
		cli.FilePath(unused.SHA256),
		write("tmp/put-1"), write("tmp/backup-1/files/ab/x"), write("tmp/job/deep/down/frame.png"), write("tmp/" +
			"deleting-" + "1"),
		write("files/ab/" + strings.Repeat("ab", 32)), write("files/stray"), write("files/zz/" + c.SHA256),
	}
	cli.must(os.Symlink(dir, filepath.Join(dir, store.TmpFolder, "link")))
	rep, err := cli.Check(ctx)
	cli.must(err)
	if len(rep.Problems) != 3 {
		t.Errorf("the check before finds %q, want three", rep.Problems)
	}

	// A file that another program writes at this moment is not half done.
	started, goOn := make(chan struct{}), make(chan struct{})
	var wg sync.WaitGroup
	var under File
	var underErr error
	wg.Go(func() {
		under, underErr = cli.Put(ctx, &held{started: started, goOn: goOn, r: strings.NewReader("slowly")}, 100)
	})
	<-started
	server := open(t, dir, Options{Serving: true})
	close(goOn)
	wg.Wait()
	cli.must(underErr)
	if !cli.has(under.SHA256) {
		t.Error("a file that was being written is gone")
	}
	for _, p := range gone {
		if _, err := os.Lstat(p); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s is still there", p)
		}
	}
	left, err := os.ReadDir(filepath.Join(dir, store.TmpFolder))
	cli.must(err)
	if len(left) > 0 {
		t.Errorf("tmp still holds %v", left)
	}
	server.healthy(3)
}

// held reads nothing before it may.
type held struct {
	started, goOn chan struct{}
	once          sync.Once
	r             io.Reader
}

func (h *held) Read(p []byte) (int, error) {
	h.once.Do(func() { close(h.started); <-h.goOn })
	return h.r.Read(p)
}

func TestCheckFinds(t *testing.T) {
	for _, tc := range []struct {
		name  string
		spoil func(t *testing.T, d desk, c Clip)
		want  string
	}{
		{"nothing", func(*testing.T, desk, Clip) {}, ""},
		{"a changed byte", func(t *testing.T, d desk, c Clip) {
			d.must(os.WriteFile(d.FilePath(c.SHA256), []byte("The frames of a clip"), 0o600))
		}, "is not what was stored"},
		{"a cut file", func(t *testing.T, d desk, c Clip) { d.must(os.Truncate(d.FilePath(c.SHA256), 3)) },
			"is not what was stored"},
		{"a lost file", func(t *testing.T, d desk, c Clip) { d.must(os.Remove(d.FilePath(c.SHA256))) }, "is missing"},
		{"a folder in its place", func(t *testing.T, d desk, c Clip) {
			d.must(errors.Join(os.Remove(d.FilePath(c.SHA256)), os.Mkdir(d.FilePath(c.SHA256), 0o700)))
		}, "cannot be read"},
		{"a stray file", func(t *testing.T, d desk, c Clip) {
			d.must(os.WriteFile(filepath.Join(d.Dir(), store.FilesFolder, "note.txt"), nil, 0o600))
		}, "is known to no row"},
		{"a copy in the wrong folder", func(t *testing.T, d desk, c Clip) {
			d.must(os.WriteFile(filepath.Join(d.Dir(), store.FilesFolder, c.SHA256), nil, 0o600))
		}, "lies in the wrong folder"},
		{"a wrong size in the row", func(t *testing.T, d desk, c Clip) {
			statement(t, d.Dir(),
				"UPDATE files SET size_bytes = 7")
		}, "is not what was stored"},
		{"a lost row", func(t *testing.T, d desk, c Clip) { statement(t, d.Dir(), "DELETE FROM visits") },
			"refers to one of visits"},
		{"a row for a lost file", func(t *testing.T, d desk, c Clip) {
			statement(t, d.Dir(), "INSERT INTO files VALUES ('"+strings.Repeat("../", 21)+"x', 1, '')")
		}, "is missing"},
		{"a clip of two people", func(t *testing.T, d desk, c Clip) {
			statement(t, d.Dir(), "UPDATE clips SET athlete_id = '"+d.athlete("another").ID+"'")
		}, "belongs to another athlete"},
		{"a comparison of two people", func(t *testing.T, d desk, c Clip) {
			x, err := d.SaveComparison(t.Context(), c.AthleteID, []string{c.ID}, nil)
			d.must(err)
			statement(t, d.Dir(), "UPDATE comparisons SET athlete_id = '"+d.athlete("another").ID+"' WHERE id = '"+x.ID+"'")
		}, "uses a clip of another athlete"},
		{"a name that leads out", func(t *testing.T, d desk, c Clip) {
			statement(t, d.Dir(), "UPDATE result_files SET name = '../../x'")
		}, "which this program never gives"},
		{"a damaged index", func(t *testing.T, d desk, c Clip) {
			statement(t, d.Dir(),
				"PRAGMA writable_schema = 1; UPDATE sqlite_schema SET rootpage = (SELECT rootpage FROM sqlite_schema WHERE name "+
					"= 'jobs_by_state') WHERE name = 'clips_of_visit'")
		}, "the database is damaged"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			_, c := oneClip(t, dir)
			d := open(t, dir, Options{})
			tc.spoil(t, d, c)
			d = open(t, dir, Options{}) // as the next command would
			rep, err := d.Check(t.Context())
			d.must(err)
			all := strings.Join(rep.Problems, "\n")
			if (all == "") != (tc.want == "") || !strings.Contains(all, tc.want) {
				t.Errorf("found %q, want %q", all, tc.want)
			}
			if rep.Rows < 6 {
				t.Errorf("%d rows", rep.Rows)
			}
		})
	}
}

// everything returns what all files of a folder hold.
func everything(t *testing.T, dir string) []byte {
	t.Helper()
	var all bytes.Buffer
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		all.WriteString(path + "\n")
		if err != nil || e.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		all.Write(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all.Bytes()
}

// A deleted athlete leaves no byte of name, notes or files, while those of others
// stay: also of what was renamed, replaced and deleted before, and also while the
// archive is open and others read.
func TestDeletedIsGone(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	dir := t.TempDir()
	d := open(t, dir, Options{Serving: true})
	beside := open(t, dir, Options{}) // another program, with its own connections
	stays := d.athlete("Stays Put")
	shared := d.clip(d.visit(stays, "2026-02-03"), "filmed together")
	var kept, gone []string
	kept = append(kept, "Stays Put", "filmed together")
	secret := func(i int, what string) string {
		s := fmt.Sprintf("Quillon%d-%s", i, strings.Repeat(what, 1+i*7%40))
		gone = append(gone, s)
		return s
	}
	var people []Athlete
	for i := range 8 {
		who, err := d.CreateAthlete(ctx, Athlete{Name: secret(i, "former"), Notes: secret(i, "remark")})
		d.must(err)
		who.Name, who.Notes = secret(i, "name"), secret(i, "note")
		d.must(d.UpdateAthlete(ctx, who))
		people = append(people, who)
		v, err := d.VisitFor(ctx, Visit{AthleteID: who.ID, Date: "2026-02-03", Notes: secret(i, "visit")})
		d.must(err)
		for k := range 2 {
			f := d.put("", secret(i, fmt.Sprint("clip", k)))
			c, _, err := d.AddClip(ctx, Clip{AthleteID: who.ID, VisitID: v.ID, Name: secret(i, "file"), SHA256: f.SHA256})
			d.must(err)
			for range 2 {
				_, err = d.SaveResult(ctx, c.ID, []File{d.put("analysis.json", secret(i, "angles"))}, 0)
				d.must(err)
			}
			_, err = d.AddCorrection(ctx, c.ID, []byte(`"`+secret(i, "doc")+`"`), secret(i, "what"))
			d.must(err)
			j, err := d.AddJob(ctx, Job{ClipID: c.ID, Kind: JobAnalyze, Options: []byte(`"` + secret(i, "option") + `"`)}, nil)
			d.must(err)
			d.must(d.FinishJob(ctx, j.ID, JobFailed, secret(i, "error"), ""))
			_, err = d.SaveComparison(ctx, who.ID, []string{c.ID}, []File{d.put("comparison.json", secret(i, "table"))})
			d.must(err)
			if k == 0 {
				d.must(d.DeleteClip(ctx, c.ID))
			}
		}
		if i%2 == 0 {
			_, _, err = d.AddClip(ctx, Clip{AthleteID: who.ID, VisitID: v.ID, Name: "x", SHA256: shared.SHA256})
			d.must(err)
		}
	}
	zip := filepath.Join(t.TempDir(), "before.zip")
	d.must(d.Backup(ctx, zip))
	for i, who := range people {
		if _, err := beside.Athletes(ctx); err != nil {
			t.Error(err)
		}
		got, err := d.DeleteAthlete(ctx, who.ID)
		d.must(err)
		clips := 1 + (i+1)%2
		want := Deleted{Athlete: who.Name, Visits: 1, Clips: clips, Results: 1, Comparisons: 1, Files: 3, Bytes: got.Bytes}
		same(t, who.Name, got, want)
		if got.Bytes == 0 {
			t.Error("no bytes went")
		}
		_, err = d.DeleteAthlete(ctx, who.ID)
		is(t, "delete again", err, ErrNotFound)
	}
	all := everything(t, dir) // the archive is still open
	for _, s := range gone {
		if bytes.Contains(all, []byte(s)) {
			t.Errorf("%q is still there", s)
		}
	}
	for _, s := range kept {
		if !bytes.Contains(all, []byte(s)) {
			t.Errorf("%q went too", s)
		}
	}
	d.healthy(1)
}

// A reader that does not let go keeps the old state in the file: the deletion says so,
// and the next server ends it.
func TestDeleteWhileRead(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	dir := t.TempDir()
	who, _ := oneClip(t, dir)
	d := open(t, dir, Options{})
	_, err := d.folder.Write.ExecContext(ctx, "PRAGMA busy_timeout = 1") // not to wait for it
	d.must(err)
	reader := open(t, dir, Options{})
	tx, err := reader.folder.Read.BeginTx(ctx, nil)
	d.must(err)
	var n int
	d.must(tx.QueryRowContext(ctx, "SELECT count(*) FROM athletes").Scan(&n))
	_, err = d.DeleteAthlete(ctx, who.ID)
	is(t, "delete", err, rows.ErrStillRead)
	if _, err := d.Athlete(ctx, who.ID); !errors.Is(err, ErrNotFound) {
		t.Error("the athlete is still there:", err)
	}
	d.must(tx.Rollback())
	server := open(t, dir, Options{Serving: true})
	if bytes.Contains(everything(t, dir), []byte("Imke")) {
		t.Error("the name is still there after the next start")
	}
	server.healthy(0)
}

// What one call returns belongs together, while others replace, delete and put.
func TestConcurrent(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	dir := t.TempDir()
	d := open(t, dir, Options{Serving: true})
	other := open(t, dir, Options{}) // as another process: locks, connections and all
	who := d.athlete("one")
	v := d.visit(who, "2026-02-03")
	c := d.clip(v, "frames")
	_, err := d.SaveResult(ctx, c.ID, []File{d.put("a", "0"), d.put("b", "0")}, 0)
	d.must(err)

	var wg sync.WaitGroup
	work := func(name string, n int, do func(i int) error) {
		wg.Go(func() {
			for i := range n {
				if err := do(i); err != nil {
					t.Errorf("%s: %v", name, err)
					return
				}
			}
		})
	}
	put := func(a *Archive, name, content string) (File, error) {
		f, err := a.Put(ctx, strings.NewReader(content), 100)
		f.Name = name
		return f, err
	}
	// Results replace each other: a file may go between putting and naming it, when it
	// is the same as one that is being replaced; then nothing is saved.
	for k, a := range []*Archive{d.Archive, other.Archive} {
		work("save", 8, func(i int) error {
			content := fmt.Sprint(k, i%2)
			x, err := put(a, "a", content)
			if err != nil {
				return err
			}
			y, err := put(a, "b", content)
			if err != nil {
				return err
			}
			if _, err = a.SaveResult(ctx, c.ID, []File{x, y}, i); errors.Is(err, ErrNotFound) {
				return nil
			}
			return err
		})
	}
	whole := func(r *Result) error {
		if r == nil || len(r.Files) != 2 || r.Files[0].SHA256 != r.Files[1].SHA256 {
			return fmt.Errorf("half a result: %+v", r)
		}
		return nil
	}
	for range 2 {
		work("read a clip", 100, func(int) error {
			got, err := other.Clip(ctx, c.ID)
			if err != nil {
				return err
			}
			return whole(got.Result)
		})
		work("read all clips", 30, func(int) error {
			all, err := d.ClipsOf(ctx, who.ID)
			if err != nil {
				return err
			}
			for _, one := range all {
				if one.ID == c.ID {
					return whole(one.Result)
				}
			}
			return errors.New("the clip is gone")
		})
	}
	// The same content comes and goes, for several athletes at once.
	for k := range 4 {
		a := d.Archive
		if k%2 == 1 {
			a = other.Archive
		}
		work("come and go", 4, func(i int) error {
			f, err := put(a, "", fmt.Sprint("the same for all ", i))
			if err != nil {
				return err
			}
			p, err := a.CreateAthlete(ctx, Athlete{Name: fmt.Sprint("guest ", k, i)})
			if err != nil {
				return err
			}
			w, err := a.VisitFor(ctx, Visit{AthleteID: p.ID, Date: "2026-02-03"})
			if err != nil {
				return err
			}
			g, _, err := a.AddClip(ctx, Clip{AthleteID: p.ID, VisitID: w.ID, SHA256: f.SHA256})
			switch {
			case errors.Is(err, ErrNotFound): // another deleted the file before it had a row
			case err != nil:
				return err
			default:
				b, err := os.ReadFile(a.FilePath(g.SHA256))
				if err != nil || string(b) != fmt.Sprint("the same for all ", i) {
					return fmt.Errorf("a clip with a row has the file %q, %w", b, err)
				}
			}
			_, err = a.DeleteAthlete(ctx, p.ID)
			return err
		})
	}
	work("check", 3, func(int) error {
		rep, err := other.Check(ctx)
		if err == nil && len(rep.Problems) > 0 {
			err = fmt.Errorf("%q", rep.Problems)
		}
		return err
	})
	// Each backup is the state of one moment.
	out := t.TempDir()
	work("backup", 3, func(i int) error { return d.Backup(ctx, filepath.Join(out, fmt.Sprint(i))) })
	// Every job is taken once.
	var mu sync.Mutex
	taken := map[string]int{}
	for range 20 {
		_, err := d.AddJob(ctx, Job{ClipID: c.ID, Kind: JobAnalyze}, nil)
		d.must(err)
	}
	for _, a := range []*Archive{d.Archive, other.Archive} {
		work("take", 10, func(int) error {
			j, ok, err := a.NextJob(ctx)
			mu.Lock()
			defer mu.Unlock()
			if taken[j.ID]++; err != nil || !ok || taken[j.ID] > 1 {
				return fmt.Errorf("took %+v, %v: %w", j, ok, err)
			}
			return nil
		})
	}
	wg.Wait()
	for i := range 3 {
		if err := restore(ctx, filepath.Join(out, fmt.Sprint(i)), filepath.Join(out, fmt.Sprint("folder", i))); err != nil {
			t.Error(err)
		}
	}
	got, err := d.Athletes(ctx)
	d.must(err)
	if len(got) != 1 {
		t.Errorf("%d athletes are left", len(got))
	}
	rep, err := d.Check(ctx)
	d.must(err)
	if len(rep.Problems) > 0 {
		t.Errorf("%q", rep.Problems)
	}
}

// Two processes write into one folder at the same time; the first to come makes it.
func TestTwoProcesses(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	const each = 25
	var wg sync.WaitGroup
	for k := range 2 {
		wg.Go(func() {
			c := self(t, "write", dir, fmt.Sprint(k))
			if out, err := c.CombinedOutput(); err != nil {
				t.Errorf("process %d: %v: %s", k, err, out)
			}
		})
	}
	wg.Wait()
	d := open(t, dir, Options{Serving: true})
	all, err := d.Athletes(t.Context())
	d.must(err)
	if len(all) != 2*each {
		t.Errorf("%d athletes, want %d", len(all), 2*each)
	}
	d.healthy(13 + 2*12) // every second clip is the same for both
}

// writeMany is one of the two processes: it adds athletes with a clip each, and
// half of the clips are the same as the other's.
func writeMany(dir, who string) error {
	ctx := context.Background()
	a, err := Open(ctx, dir, Options{Now: func() time.Time { return time.Unix(1, 0) }})
	if err != nil {
		return err
	}
	for i := range 25 {
		content := fmt.Sprint("clip ", i)
		if i%2 == 1 {
			content += " of " + who
		}
		p, err := a.CreateAthlete(ctx, Athlete{Name: fmt.Sprint(who, " ", i)})
		if err != nil {
			return err
		}
		v, err := a.VisitFor(ctx, Visit{AthleteID: p.ID, Date: "2026-02-03"})
		if err != nil {
			return err
		}
		f, err := a.Put(ctx, strings.NewReader(content), 100)
		if err != nil {
			return err
		}
		if _, _, err := a.AddClip(ctx, Clip{AthleteID: p.ID, VisitID: v.ID, Name: "c", SHA256: f.SHA256}); err != nil {
			return err
		}
	}
	return a.Close()
}

// halfSent makes an unfinished upload as the server does, and returns its two files.
func halfSent(t *testing.T, dir, id, note string) (files []string) {
	t.Helper()
	dir = filepath.Join(dir, halfsent.Folder)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{id + halfsent.Part: "half of the frames", id + halfsent.Note: note} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		files = append(files, filepath.Join(dir, name))
	}
	return files
}

// What was on its way when a server was killed is counted before the next one tidies up,
// and called no damage.
func TestCheckAfterAKill(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	oneClip(t, dir)
	d := open(t, dir, Options{})
	// As a put leaves it that is killed between the name of its file and the row.
	sum := strings.Repeat("ab", 32)
	_, err := d.folder.Store.Begin([]string{sum}, false)
	d.must(err)
	d.must(os.MkdirAll(filepath.Dir(d.FilePath(sum)), 0o700))
	d.must(os.WriteFile(d.FilePath(sum), []byte("all of the frames"), 0o600))
	halfSent(t, dir, "1", `{"id":"1","athlete_name":"Imke Sample"}`)
	halfSent(t, dir, "2", `{"id":"2","visit":"3"}`)
	d.healthy(2)
	rep, err := d.Check(t.Context())
	d.must(err)
	all := strings.Join(rep.Notes, "\n")
	for _, want := range []string{"on their way: 1 file that", "on their way: 2 files of clips that have not come whole"} {
		if !strings.Contains(all, want) {
			t.Errorf("the notes %q lack %q", all, want)
		}
	}
	// Beside it a file that nobody was writing is still one too many.
	stray := strings.Repeat("cd", 32)
	d.must(os.MkdirAll(filepath.Dir(d.FilePath(stray)), 0o700))
	d.must(os.WriteFile(d.FilePath(stray), nil, 0o600))
	rep, err = d.Check(t.Context())
	d.must(err)
	if len(rep.Problems) != 1 || !strings.Contains(rep.Problems[0], stray) {
		t.Errorf("the problems are %q", rep.Problems)
	}
}

// Who is deleted takes the clips along that have not come whole, those of others stay.
func TestDeletedUploads(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	for _, tc := range []struct {
		name string
		note func(who, other Athlete, visit, otherVisit Visit) string
		gone bool
	}{
		{"by id", func(who, _ Athlete, _, _ Visit) string {
			return fmt.Sprintf(`{"athlete":%q,"name":"imke.mp4"}`, who.ID)
		}, true},
		{"by name", func(Athlete, Athlete, Visit, Visit) string {
			return `{"athlete_name":" imke  SAMPLE","name":"imke.mp4"}`
		}, true},
		{"by visit", func(_, _ Athlete, v, _ Visit) string { return fmt.Sprintf(`{"visit":%q,"name":"imke.mp4"}`, v.ID) },
			true},
		{"another", func(_, other Athlete, _, _ Visit) string { return fmt.Sprintf(`{"athlete":%q}`, other.ID) }, false},
		{"another's name", func(Athlete, Athlete, Visit, Visit) string { return `{"athlete_name":"Imke Samples"}` }, false},
		{"another's visit", func(_, _ Athlete, _, v Visit) string { return fmt.Sprintf(`{"visit":%q}`, v.ID) }, false},
		{"nobody's", func(Athlete, Athlete, Visit, Visit) string { return `{"id":` }, false},
	} {
		for _, visitOnly := range []bool{false, true} {
			t.Run(fmt.Sprint(tc.name, ", the visit only ", visitOnly), func(t *testing.T) {
				dir := t.TempDir()
				d := open(t, dir, Options{})
				who, other := d.athlete("Imke Sample"), d.athlete("Another Sample")
				v, otherVisit := d.visit(who, "2026-02-03"), d.visit(other, "2026-02-03")
				files := halfSent(t, dir, "1", tc.note(who, other, v, otherVisit))
				want := tc.gone
				if visitOnly {
					d.must(d.DeleteVisit(ctx, v.ID))
					want = tc.name == "by visit"
				} else {
					gone, err := d.DeleteAthlete(ctx, who.ID)
					d.must(err)
					if (gone.Uploads == 1) != want || (gone.Bytes == int64(len("half of the frames"))) != want {
						t.Errorf("it says %+v", gone)
					}
				}
				for _, path := range files {
					if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) != want {
						t.Errorf("%s: %v, gone should be %v", filepath.Base(path), err, want)
					}
				}
			})
		}
	}
}

// What an archive makes is its owner's alone, whatever the umask. A folder that was there
// before stays as it is, and is said to be open to others.
func TestPermissions(t *testing.T) {
	for _, tc := range []struct {
		name   string
		before fs.FileMode // of a folder that is there; 0: none
		wide   bool
	}{{"new", 0, false}, {"wide", 0o755, true}, {"the group's", 0o710, true}, {"narrow", 0o700, false}} {
		t.Run(tc.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "data")
			if tc.before != 0 {
				if err := errors.Join(os.Mkdir(dir, 0o700), os.Chmod(dir, tc.before)); err != nil {
					t.Fatal(err)
				}
			}
			d := open(t, dir, Options{Serving: true})
			c := d.clip(d.visit(d.athlete("Imke Sample"), "2026-02-03"), "frames")
			_, err := d.SaveResult(t.Context(), c.ID, []File{d.put("analysis.json", "{}")}, 0)
			d.must(err)
			found := map[string]bool{}
			err = filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
				if err != nil {
					return err
				}
				info, err := e.Info()
				if err != nil {
					return err
				}
				found[e.Name()] = true
				want := fs.FileMode(0o600)
				if e.IsDir() {
					want = 0o700
				}
				if path == dir && tc.before != 0 {
					want = tc.before
				}
				if got := info.Mode().Perm(); got != want {
					t.Errorf("%s has the mode %o, want %o", path, got, want)
				}
				return nil
			})
			d.must(err)
			for _, name := range []string{folder.Database, folder.Database + "-wal", folder.Database + "-shm",
				store.FilesFolder, store.TmpFolder, "serving.lock", c.SHA256} {
				if !found[name] {
					t.Errorf("there is no %s to look at", name)
				}
			}
			if wide, err := d.OpenToOthers(); wide != tc.wide || err != nil {
				t.Errorf("open to others: %v, %v", wide, err)
			}
		})
	}
}
