package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/internal/pgtest"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/screening"
)

// filledArchive makes an archive with one athlete who was filmed on two dates.
func filledArchive(t *testing.T) (dir string) {
	t.Helper()
	ctx := context.Background()
	dir = filepath.Join(t.TempDir(), "data")
	arc, err := archive.Open(ctx, dir, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	who, err := arc.CreateAthlete(ctx, archive.Athlete{Name: "Sam Example"})
	must(err)
	for i, date := range []string{"2025-01-02", "2025-03-04"} {
		v, err := arc.VisitFor(ctx, archive.Visit{AthleteID: who.ID, Date: date})
		must(err)
		f, err := arc.Put(ctx, strings.NewReader("clip "+date), 100)
		must(err)
		c, _, err := arc.AddClip(ctx, archive.Clip{AthleteID: who.ID, VisitID: v.ID, Name: "slow.mp4", SHA256: f.SHA256})
		must(err)
		none := joints.AngleMeasure{ROMDeg: math.NaN()}
		a := screening.Analysis{Schema: screening.AnalysisSchema}
		for n := range 3 {
			knee := joints.AngleMeasure{ROMDeg: float64(100 + 20*i + n), SystematicSDDeg: 1}
			a.Reps = append(a.Reps, kinematics.Rep{RepTimes: events.RepTimes{Number: n + 1, Tempo: "slow"},
				Measures: joints.Measures{Angles: body.ByAngle[joints.AngleMeasure]{body.KneeFlexion: knee, body.HipFlexion: none,
					body.AnkleDorsiflexion: none}}})
		}
		b, err := json.Marshal(a)
		must(err)
		r, err := arc.Put(ctx, bytes.NewReader(b), 1<<20)
		must(err)
		r.Name = "analysis.json"
		_, err = arc.SaveResult(ctx, c.ID, []archive.File{r}, 0)
		must(err)
	}
	must(arc.Close())
	return dir
}

func TestArchiveCommands(t *testing.T) {
	dir := filledArchive(t)
	backup := filepath.Join(t.TempDir(), "all.zip")
	again := filepath.Join(t.TempDir(), "again")
	server, store := pgtest.Database(t), "file://"+filepath.Join(t.TempDir(), "store")
	far := []string{"--data", t.TempDir(), "--database", server, "--store", store}
	home := filepath.Join(t.TempDir(), "home")
	export := filepath.Join(t.TempDir(), "sam.zip")
	for _, step := range []struct {
		args  []string
		stdin string
		code  int
		out   string // must be in standard output
		err   string // must be in standard error
	}{
		{args: []string{"athletes"}, out: "Sam Example  2       2025-03-04  2"},
		{args: []string{"athletes", "--json"}, out: `"visits":2`},
		{args: []string{"history", "sam example"},
			out: "2025-03-04  3     121° (117 to 125)  +20° gained  +20° gained     6°"},
		{args: []string{"history", "Sam Example", "--json"}, out: `"position":"knee"`},
		{args: []string{"history", "Nobody"}, code: exitUsage, err: `nobody is called "Nobody"; holdfast athletes lists`},
		{args: []string{"archive", "check"}, out: "All is well: 4 files"},
		{args: []string{"archive", "backup", backup}, out: "Everything is in"},
		{args: []string{"archive", "restore", backup}, code: exitUsage, err: "not empty"},
		{args: []string{"archive", "restore", backup, "--data", again}, out: "The archive is in"},
		{args: []string{"archive", "restore", export, "--data", again + "2"}, code: exitUsage, err: "there is no file"},
		{args: []string{"archive", "export", "Sam Example", export}, out: "Everything of Sam Example"},
		{args: []string{"archive", "move"}, code: exitUsage, err: "say where to"},
		{args: []string{"archive", "move", "--to-database", server}, code: exitUsage, err: "wants --store too"},
		{args: []string{"archive", "move", "--to-database", "mysql://x", "--to-store", store}, code: exitUsage,
			err: "--database takes"},
		{args: []string{"archive", "move", "--to-database", server, "--to-store", store},
			out: "All was copied: 4 files, 13 rows."},
		{args: []string{"archive", "move", "--to-database", server, "--to-store", store}, code: exitUsage,
			err: "where no athletes are yet"},
		{args: append([]string{"athletes"}, far...), out: "Sam Example  2       2025-03-04  2"},
		{args: append([]string{"history", "sam example"}, far...), out: "2025-03-04  3     121° (117 to 125)"},
		{args: append([]string{"archive", "check"}, far...), out: "All is well: 4 files"},
		{args: append([]string{"archive", "backup", backup + "2"}, far...), code: exitUsage, err: "holdfast archive move"},
		{args: append([]string{"athletes"}, append(far, "--data", dir)...), code: exitUsage, err: "an archive of its own"},
		{args: append([]string{"archive", "move", "--to-data", home}, far...), out: "All was copied: 4 files, 13 rows."},
		{args: []string{"history", "sam example", "--data", home}, out: "2025-03-04  3     121° (117 to 125)"},
		{args: []string{"archive", "check", "--data", home}, out: "All is well: 4 files"},
		{args: []string{"archive", "delete", "Sam Example"}, stdin: "no\n", code: exitUsage, err: "nothing was deleted"},
		{args: []string{"archive", "delete", "Sam Example"}, stdin: "Sam Example\n",
			out: "Deleted Sam Example: 2 visits, 2 clips, 2 results, 0 comparisons, 0 half-sent uploads, 4 files"},
		{args: []string{"athletes"}, out: "no athletes yet"},
		{args: []string{"athletes", "--data", again}, out: "Sam Example"},
		{args: []string{"athletes", "--data", again + "/none"}, code: exitUsage, err: "there is no archive"},
	} {
		ta := newTestApp(t)
		ta.app.stdin = strings.NewReader(step.stdin)
		args := step.args
		if !strings.Contains(strings.Join(args, " "), "--data") {
			args = append(args, "--data", dir)
		}
		if code := ta.run(args...); code != step.code {
			t.Errorf("%v: exit code %d, want %d: %s", step.args, code, step.code, ta.err)
		}
		if !strings.Contains(ta.out.String(), step.out) || !strings.Contains(ta.err.String(), step.err) {
			t.Errorf("%v: standard output\n%s\nstandard error\n%s\nwant %q and %q in them", step.args, ta.out, ta.err, step.out,
				step.err)
		}
	}
}

// What is not whole, and what cannot be done, has its exit code and says what to do.
func TestArchiveCommandsFail(t *testing.T) {
	dir := filledArchive(t)
	box := t.TempDir()
	in := func(names ...string) string { return filepath.Join(append([]string{box}, names...)...) }
	for path, text := range map[string]string{"foreign/letter.txt": "Dear Sam",
		"foreign/tmp/thesis/chapter1.txt": "It was", "before.zip": "an older backup"} {
		if err := os.MkdirAll(filepath.Dir(in(path)), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(in(path), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	arc, err := archive.Open(t.Context(), dir, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	who, err := arc.FindAthlete(t.Context(), "Sam Example")
	if err != nil {
		t.Fatal(err)
	}
	clips, err := arc.ClipsOf(t.Context(), who.ID)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if _, err := arc.CreateAthlete(t.Context(), archive.Athlete{Name: "Robin Vale"}); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := arc.Put(t.Context(), strings.NewReader("of no use"), 100); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(arc.FilePath(clips[0].SHA256)); err != nil {
		t.Fatal(err)
	}
	if err := arc.Close(); err != nil {
		t.Fatal(err)
	}
	const lost = "is missing (Sam Example: slow.mp4)"
	for _, step := range []struct {
		args []string
		code int
		out  string
		err  string
	}{
		{args: []string{"archive", "check"}, code: exitUnreadable, out: "Note: without a use: 1 file", err: lost},
		{args: []string{"archive", "backup", in("b.zip")}, code: exitUnreadable, err: lost},
		{args: []string{"archive", "backup", in("before.zip")}, code: exitUnreadable, err: "the rest is in " +
			in("before-incomplete.zip")},
		{args: []string{"archive", "restore", in("b.zip"), "--data", in("again")}, code: exitUnreadable, err: "--keep-whole"},
		{args: []string{"archive", "restore", in("b.zip"), "--data", in("again"), "--keep-whole"}, code: exitUnreadable,
			err: lost},
		{args: []string{"athletes", "--data", in("again")}, out: "Sam Example  2"},
		{args: []string{"archive", "export", "Sam Example", in("sam.zip")}, code: exitUnreadable,
			err: "clips/2025-01-02_01_slow/original.mp4 is missing"},
		{args: []string{"archive", "backup", in("none", "b.zip")}, code: exitCannotWrite, err: "cannot be written"},
		{args: []string{"archive", "export", "Sam Example", in("none", "b.zip")}, code: exitCannotWrite,
			err: "cannot be written"},
		{args: []string{"history", "Robin Vale"}, code: exitUsage, err: "2 athletes are called"},
		{args: []string{"athletes", "--data", in("foreign")}, code: exitUsage, err: "no archive"},
		{args: []string{"serve", "--listen", "127.0.0.1:0", "--data", in("foreign")}, code: exitUsage,
			err: "name a new or an empty folder"},
	} {
		ta := newTestApp(t)
		args := step.args
		if !strings.Contains(strings.Join(args, " "), "--data") {
			args = append(args, "--data", dir)
		}
		if code := ta.run(args...); code != step.code {
			t.Errorf("%v: exit code %d, want %d: %s", step.args, code, step.code, ta.err)
		}
		if !strings.Contains(ta.out.String(), step.out) || !strings.Contains(ta.err.String(), step.err) {
			t.Errorf("%v: standard output\n%s\nstandard error\n%s\nwant %q and %q in them", step.args, ta.out, ta.err, step.out,
				step.err)
		}
	}
	for path, text := range map[string]string{"foreign/letter.txt": "Dear Sam",
		"foreign/tmp/thesis/chapter1.txt": "It was", "before.zip": "an older backup"} {
		if b, err := os.ReadFile(in(path)); err != nil || string(b) != text {
			t.Errorf("%s is now %q, %v", path, b, err)
		}
	}
}

func TestArchiveCheckSaysWhatIsWrong(t *testing.T) {
	dir := filledArchive(t)
	var file string
	err := filepath.WalkDir(filepath.Join(dir, "files"), func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			file = path
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte("something else"), 0o600); err != nil {
		t.Fatal(err)
	}
	ta := newTestApp(t)
	if code := ta.run("archive", "check", "--data", dir); code != exitUnreadable ||
		!strings.Contains(ta.err.String(), "is not what was stored") {
		t.Errorf("exit code %d: %s", code, ta.err)
	}
}

// writeFiles writes files into a data folder.
func writeFiles(t *testing.T, dir string, files map[string]string) {
	t.Helper()
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// What a killed server left on its way is counted in a line of its own: it is no damage,
// and nobody is told to restore a backup.
func TestArchiveCheckAfterAKill(t *testing.T) {
	dir := filledArchive(t)
	sum := strings.Repeat("ab", 32)
	writeFiles(t, dir, map[string]string{
		"files/ab/" + sum: "all of a clip", "tmp/underway-1": sum + "\n", "tmp/put-1": "half of a clip",
		"uploads/1.part": "half of a clip", "uploads/1.json": `{"id":"1","name":"fast.mp4","athlete_name":"Sam Example"}`,
	})
	ta := newTestApp(t)
	code := ta.run("archive", "check", "--data", dir)
	said := ta.out.String() + ta.err.String()
	if code != 0 || strings.Count(said, "Note: on their way: 1 file") != 2 || !strings.Contains(said, "All is well") ||
		strings.Contains(said, "backup") {
		t.Errorf("exit code %d: %s", code, said)
	}
}

// A deletion takes the half-sent clips of the athlete along and says so.
func TestArchiveDeleteSaysWhatWent(t *testing.T) {
	dir := filledArchive(t)
	writeFiles(t, dir, map[string]string{
		"uploads/1.part": "half of a clip",
		"uploads/1.json": `{"id":"1","name":"fast of sam.mp4","athlete_name":"Sam Example"}`,
		"uploads/2.part": "half of a clip",
		"uploads/2.json": `{"id":"2","name":"other.mp4","athlete_name":"Another Example"}`,
	})
	ta := newTestApp(t)
	if code := ta.run("archive", "delete", "--data", dir, "--yes", "Sam Example"); code != 0 ||
		!strings.Contains(ta.out.String(), "2 visits, 2 clips, 2 results, 0 comparisons, 1 half-sent upload, 4 files") {
		t.Errorf("exit code %d: %s%s", code, ta.out, ta.err)
	}
	left, err := os.ReadDir(filepath.Join(dir, "uploads"))
	if err != nil || len(left) != 2 || left[0].Name() != "2.json" {
		t.Errorf("left are %v, %v", left, err)
	}
}
