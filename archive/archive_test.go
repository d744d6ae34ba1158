package archive

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"holdfast/archive/rows"
	"holdfast/archive/store"
	"holdfast/internal/pgtest"
	"holdfast/internal/statements"
)

func TestMain(m *testing.M) {
	if role := os.Getenv(roleVariable); role != "" {
		os.Exit(child(role))
	}
	code := m.Run()
	pgtest.Stop()
	os.Exit(code)
}

// desk is an archive under test, with the steps that most tests begin with.
type desk struct {
	*Archive
	t testing.TB
}

func open(t testing.TB, dir string, opt Options) desk {
	t.Helper()
	if opt.Now == nil {
		opt.Now = ticking()
	}
	a, err := Open(t.Context(), dir, inWorld(t, dir, opt))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	return desk{a, t}
}

// ticking is a clock that goes on by one second each time it is read.
func ticking() func() time.Time {
	var mu sync.Mutex
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	return func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		now = now.Add(time.Second)
		return now
	}
}

func (d desk) must(err error) {
	d.t.Helper()
	if err != nil {
		d.t.Fatal(err)
	}
}

func (d desk) athlete(name string) Athlete {
	d.t.Helper()
	who, err := d.CreateAthlete(d.t.Context(), Athlete{Name: name})
	d.must(err)
	return who
}

func (d desk) visit(who Athlete, date string) Visit {
	d.t.Helper()
	v, err := d.VisitFor(d.t.Context(), Visit{AthleteID: who.ID, Date: date})
	d.must(err)
	return v
}

func (d desk) put(name, content string) File {
	d.t.Helper()
	f, err := d.Put(d.t.Context(), strings.NewReader(content), 1<<20)
	d.must(err)
	f.Name = name
	return f
}

func (d desk) clip(v Visit, content string) Clip {
	d.t.Helper()
	f := d.put("", content)
	c, known, err := d.AddClip(d.t.Context(), Clip{AthleteID: v.AthleteID, VisitID: v.ID, Name: "clip.mp4",
		SHA256: f.SHA256})
	d.must(err)
	if known {
		d.t.Fatalf("the clip %q is known", content)
	}
	return c
}

// healthy checks the archive and that it holds so many files.
func (d desk) healthy(files int) {
	d.t.Helper()
	rep, err := d.Check(d.t.Context())
	d.must(err)
	if len(rep.Problems) > 0 || rep.Files != files {
		d.t.Errorf("the check found %d files and %q, want %d and nothing", rep.Files, rep.Problems, files)
	}
}

func (d desk) has(sum string) bool {
	d.t.Helper()
	f, err := d.OpenFile(d.t.Context(), sum)
	if errors.Is(err, ErrNotFound) {
		return false
	}
	d.must(errors.Join(err, f.Close()))
	return true
}

func same(t testing.TB, what string, got, want any) {
	t.Helper()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("%s (- want, + got):\n%s", what, diff)
	}
}

func is(t testing.TB, what string, got, want error) {
	t.Helper()
	if !errors.Is(got, want) || got == nil && want != nil {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

func ptr[T any](v T) *T { return &v }

var nan = func() float64 { z := 0.0; return z / z }()

func TestAthletes(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	for _, tc := range []struct {
		name string
		in   Athlete
		want error
	}{
		{"plain", Athlete{Name: "Zora Field"}, nil},
		{"all fields", Athlete{Name: "  Élodie Stone ", HeightCm: ptr(171.5), BirthYear: ptr(1999),
			Notes: "left ankle\n\tstiff", Example: true}, nil},
		{"code", Athlete{Name: "A-17"}, nil},
		{"no name", Athlete{}, ErrInvalid},
		{"blank name", Athlete{Name: " \u00a0"}, ErrInvalid},
		{"line end in name", Athlete{Name: "a\nb"}, ErrInvalid},
		{"C1 control", Athlete{Name: "a\u009b31m"}, ErrInvalid},
		{"no UTF-8", Athlete{Name: "a\xffb"}, ErrInvalid},
		{"long name", Athlete{Name: strings.Repeat("x", maxName+1)}, ErrInvalid},
		{"long notes", Athlete{Name: "n", Notes: strings.Repeat("x", maxNotes+1)}, ErrInvalid},
		{"NUL in notes", Athlete{Name: "n", Notes: "\x00"}, ErrInvalid},
		{"height is no number", Athlete{Name: "n", HeightCm: ptr(nan)}, ErrInvalid},
		{"height below nothing", Athlete{Name: "n", HeightCm: ptr(-1.0)}, ErrInvalid},
		{"no height at all", Athlete{Name: "n", HeightCm: ptr(0.0)}, ErrInvalid},
	} {
		got, err := d.CreateAthlete(ctx, tc.in)
		is(t, tc.name, err, tc.want)
		if tc.want != nil {
			continue
		}
		if got.Name != strings.TrimSpace(tc.in.Name) {
			t.Errorf("%s: name %q", tc.name, got.Name)
		}
		back, err := d.Athlete(ctx, got.ID)
		d.must(err)
		same(t, tc.name, back, got)
	}
	all, err := d.Athletes(ctx)
	d.must(err)
	var names []string
	for _, a := range all {
		names = append(names, a.Name)
	}
	same(t, "by name", names, []string{"A-17", "Zora Field", "Élodie Stone"})

	elodie := all[2]
	for _, by := range []string{elodie.ID, "Élodie Stone", "ÉLODIE STONE", " élodie stone\n"} {
		got, err := d.FindAthlete(ctx, by)
		is(t, by, err, nil)
		same(t, by, got, elodie)
	}
	_, err = d.FindAthlete(ctx, "nobody")
	is(t, "nobody", err, ErrNotFound)
	d.athlete("a-17")
	_, err = d.FindAthlete(ctx, "A-17")
	is(t, "two of one name", err, ErrInvalid)

	elodie.Name, elodie.HeightCm, elodie.BirthYear, elodie.Notes = "E. Stone", nil, nil, ""
	d.must(d.UpdateAthlete(ctx, elodie))
	got, err := d.Athlete(ctx, elodie.ID)
	d.must(err)
	same(t, "changed", got, elodie)
	is(t, "change nobody", d.UpdateAthlete(ctx, Athlete{ID: "x", Name: "y"}), ErrNotFound)
	is(t, "change to nothing", d.UpdateAthlete(ctx, Athlete{ID: elodie.ID}), ErrInvalid)
	_, err = d.Athlete(ctx, "x")
	is(t, "athlete by a wrong id", err, ErrNotFound)
	_, err = d.DeleteAthlete(ctx, "x")
	is(t, "delete nobody", err, ErrNotFound)
	gone, cancel := context.WithCancel(ctx)
	cancel()
	_, err = d.Athletes(gone)
	is(t, "stopped", err, context.Canceled)
	_, err = d.FindAthlete(gone, "A-17")
	is(t, "stopped", err, context.Canceled)
	_, err = d.DeleteAthlete(gone, elodie.ID)
	is(t, "stopped", err, context.Canceled)
	d.healthy(0)
}

func TestVisits(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	who, other := d.athlete("one"), d.athlete("two")
	for _, tc := range []struct {
		name string
		in   Visit
		want error
	}{
		{"no date", Visit{AthleteID: who.ID}, ErrInvalid},
		{"date as a coach may write it", Visit{AthleteID: who.ID, Date: "2.5.2026"}, ErrInvalid},
		{"no such day", Visit{AthleteID: who.ID, Date: "2026-02-30"}, ErrInvalid},
		{"condition", Visit{AthleteID: who.ID, Date: "2026-02-03", Condition: "tired"}, ErrInvalid},
		{"load", Visit{AthleteID: who.ID, Date: "2026-02-03", Condition: Loaded, LoadKg: ptr(nan)}, ErrInvalid},
		{"negative load", Visit{AthleteID: who.ID, Date: "2026-02-03", Condition: Loaded, LoadKg: ptr(-2.0)}, ErrInvalid},
		{"notes", Visit{AthleteID: who.ID, Date: "2026-02-03", Notes: "\x1b[2J"}, ErrInvalid},
		{"nobody", Visit{AthleteID: "x", Date: "2026-02-03"}, ErrNotFound},
	} {
		_, err := d.VisitFor(ctx, tc.in)
		is(t, tc.name, err, tc.want)
	}
	get := func(v Visit) Visit {
		t.Helper()
		out, err := d.VisitFor(ctx, v)
		d.must(err)
		return out
	}
	late := get(Visit{AthleteID: who.ID, Date: "2026-03-01"})
	fresh := get(Visit{AthleteID: who.ID, Date: "2026-02-03", Notes: "first"})
	loaded := get(Visit{AthleteID: who.ID, Date: "2026-02-03", Condition: Loaded, LoadKg: ptr(40.0)})
	heavier := get(Visit{AthleteID: who.ID, Date: "2026-02-03", Condition: Loaded, LoadKg: ptr(60.0)})
	theirs := get(Visit{AthleteID: other.ID, Date: "2026-02-03"})
	same(t, "the same visit again", get(Visit{AthleteID: who.ID, Date: "2026-02-03", Condition: Fresh, Notes: "ignored"}),
		fresh)
	same(t, "the same load again", get(Visit{AthleteID: who.ID, Date: "2026-02-03", Condition: Loaded, LoadKg: ptr(40.0)}),
		loaded)
	if fresh.Condition != Fresh {
		t.Errorf("the condition is %q when none is given", fresh.Condition)
	}
	all, err := d.Visits(ctx, who.ID)
	d.must(err)
	same(t, "by date", all, []Visit{fresh, loaded, heavier, late})
	got, err := d.Visit(ctx, theirs.ID)
	d.must(err)
	same(t, "by id", got, theirs)
	_, err = d.Visit(ctx, "x")
	is(t, "no visit", err, ErrNotFound)

	fresh.Notes, fresh.Condition, fresh.Date = "after a race", Fatigued, "2026-02-04"
	d.must(d.UpdateVisit(ctx, fresh))
	got, err = d.Visit(ctx, fresh.ID)
	d.must(err)
	same(t, "changed", got, fresh)
	is(t, "change none", d.UpdateVisit(ctx, Visit{ID: "x", Date: "2026-02-04"}), ErrNotFound)
	is(t, "change to no day", d.UpdateVisit(ctx, Visit{ID: fresh.ID, Date: "x"}), ErrInvalid)

	// A visit goes with its clips and with the comparisons that used one of them.
	a, b, kept := d.clip(fresh, "a"), d.clip(fresh, "b"), d.clip(late, "c")
	table := d.put("comparison.json", "compared")
	_, err = d.SaveComparison(ctx, who.ID, []string{a.ID, b.ID, kept.ID}, []File{table})
	d.must(err)
	d.healthy(4)
	d.must(d.DeleteVisit(ctx, fresh.ID))
	is(t, "delete again", d.DeleteVisit(ctx, fresh.ID), ErrNotFound)
	d.healthy(1)
	if !d.has(kept.SHA256) || d.has(a.SHA256) || d.has(table.SHA256) {
		t.Error("the wrong files went")
	}

	// One that was emptied goes unless something is noted of it.
	noted := get(Visit{AthleteID: who.ID, Date: "2026-04-01", Notes: "slept badly"})
	for _, v := range []Visit{late, loaded, noted} {
		d.must(d.DeleteEmptied(ctx, v.ID))
	}
	all, err = d.Visits(ctx, who.ID)
	d.must(err)
	same(t, "not emptied", all, []Visit{heavier, late, noted})
}

func TestClips(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	who, other := d.athlete("one"), d.athlete("two")
	v, w := d.visit(who, "2026-02-03"), d.visit(other, "2026-02-03")
	f := d.put("", "frames")
	good := Clip{AthleteID: who.ID, VisitID: v.ID, Name: "slow.mp4", SHA256: f.SHA256, Tempo: "slow", HeightCm: ptr(180.0),
		CaptureFPS: ptr(240.0)}
	for _, tc := range []struct {
		name   string
		change func(c *Clip)
		want   error
	}{
		{"tempo", func(c *Clip) { c.Tempo = "quick" }, ErrInvalid},
		{"name", func(c *Clip) { c.Name = "a\rb" }, ErrInvalid},
		{"height", func(c *Clip) { c.HeightCm = ptr(nan) }, ErrInvalid},
		{"rate", func(c *Clip) { c.CaptureFPS = ptr(0.0) }, ErrInvalid},
		{"file", func(c *Clip) { c.SHA256 = strings.Repeat("0", 64) }, ErrNotFound},
		{"visit", func(c *Clip) { c.VisitID = "x" }, ErrNotFound},
		{"visit of another", func(c *Clip) { c.VisitID = w.ID }, ErrInvalid},
		{"nobody", func(c *Clip) { c.AthleteID = "x" }, ErrInvalid},
	} {
		c := good
		tc.change(&c)
		_, _, err := d.AddClip(ctx, c)
		is(t, tc.name, err, tc.want)
	}
	c, known, err := d.AddClip(ctx, good)
	d.must(err)
	if known || c.SizeBytes != f.SizeBytes || c.Result != nil {
		t.Errorf("a new clip is %+v, known %v", c, known)
	}
	got, err := d.Clip(ctx, c.ID)
	d.must(err)
	same(t, "by id", got, c)
	renamed := good
	renamed.Name, renamed.Tempo = "again.mp4", ""
	got, known, err = d.AddClip(ctx, renamed)
	d.must(err)
	if !known {
		t.Error("the same file is not recognised")
	}
	same(t, "recognised", got, c)
	theirs, known, err := d.AddClip(ctx, Clip{AthleteID: other.ID, VisitID: w.ID, Name: "x.mp4", SHA256: f.SHA256})
	d.must(err)
	if known {
		t.Error("a clip of another athlete is recognised")
	}
	_, err = d.Clip(ctx, "x")
	is(t, "no clip", err, ErrNotFound)

	c.Name, c.Tempo, c.HeightCm = "better.mp4", "fast", nil
	d.must(d.UpdateClip(ctx, c))
	got, err = d.Clip(ctx, c.ID)
	d.must(err)
	same(t, "changed", got, c)
	for _, tc := range []struct {
		name string
		in   Clip
		want error
	}{
		{"no clip", Clip{ID: "x", VisitID: v.ID}, ErrNotFound},
		{"no visit", Clip{ID: c.ID, VisitID: "x"}, ErrNotFound},
		{"tempo", Clip{ID: c.ID, VisitID: v.ID, Tempo: "x"}, ErrInvalid},
		{"the other has the file", Clip{ID: c.ID, VisitID: w.ID}, ErrInvalid},
	} {
		is(t, tc.name, d.UpdateClip(ctx, tc.in), tc.want)
	}

	// The file stays as long as one of the two has it.
	d.must(d.DeleteClip(ctx, theirs.ID))
	is(t, "delete again", d.DeleteClip(ctx, theirs.ID), ErrNotFound)
	if !d.has(f.SHA256) {
		t.Fatal("the file went with the first of two clips")
	}
	early := d.visit(who, "2026-01-03")
	first := d.clip(early, "earlier")
	all, err := d.ClipsOf(ctx, who.ID)
	d.must(err)
	same(t, "by date", all, []Clip{first, c})

	// A clip of the wrong person moves, and leaves no comparison that mixes two.
	table := d.put("comparison.json", "mixed")
	mixed, err := d.SaveComparison(ctx, who.ID, []string{first.ID, c.ID}, []File{table})
	d.must(err)
	first.Name = "moved within one athlete.mp4"
	first.VisitID = v.ID
	d.must(d.UpdateClip(ctx, first))
	if _, err := d.Comparison(ctx, mixed.ID); err != nil {
		t.Error("the comparison went with a change of date:", err)
	}
	c.VisitID = w.ID
	d.must(d.UpdateClip(ctx, c))
	got, err = d.Clip(ctx, c.ID)
	d.must(err)
	if got.AthleteID != other.ID {
		t.Error("the clip stayed where it was")
	}
	_, err = d.Comparison(ctx, mixed.ID)
	is(t, "the mixed comparison", err, ErrNotFound)
	d.healthy(2)
	for _, a := range []Athlete{who, other} {
		_, err := d.DeleteAthlete(ctx, a.ID)
		is(t, "delete "+a.Name, err, nil)
	}
	d.healthy(0)
}

func TestFiles(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	for _, tc := range []struct {
		name, content string
		most          int64
		want          error
	}{
		{"empty", "", 0, nil},
		{"just fits", "12345", 5, nil},
		{"one more", "123456", 5, ErrTooLarge},
		{"no limit", "12345", 1<<63 - 1, nil},
		{"limit below nothing", "1", -1, ErrTooLarge},
		{"limit far below nothing", "", -1 << 63, ErrTooLarge},
	} {
		f, err := d.Put(ctx, strings.NewReader(tc.content), tc.most)
		is(t, tc.name, err, tc.want)
		if tc.want != nil {
			continue
		}
		b, err := os.ReadFile(d.FilePath(f.SHA256))
		if err != nil || string(b) != tc.content || f.SizeBytes != int64(len(tc.content)) {
			t.Errorf("%s: stored %+v as %q, %v", tc.name, f, b, err)
		}
	}
	broken := errors.New("the line broke")
	_, err := d.Put(ctx, &failing{err: broken}, 100)
	is(t, "a reader that fails", err, broken)
	_, err = d.Put(ctx, strings.NewReader("checked"), 100, func(r io.ReaderAt, size int64) error {
		whole, err := io.ReadAll(io.NewSectionReader(r, 0, size))
		if err != nil || string(whole) != "checked" {
			t.Errorf("the check sees %q, %v", whole, err)
		}
		return broken
	})
	is(t, "a check that refuses", err, broken)
	gone, cancel := context.WithCancel(ctx)
	cancel()
	_, err = d.Put(gone, strings.NewReader("x"), 100)
	is(t, "stopped", err, context.Canceled)
	left, err := os.ReadDir(filepath.Join(d.Dir(), store.TmpFolder))
	d.must(err)
	if len(left) > 0 {
		t.Errorf("%d files are left in tmp", len(left))
	}
	for _, sum := range []string{"", "..", "../holdfast.db", "/etc/passwd", strings.Repeat("A", 64),
		strings.Repeat("../", 21) + "x", strings.Repeat("0", 64)} {
		_, err := d.OpenFile(ctx, sum)
		is(t, sum, err, ErrNotFound)
		rel, err := filepath.Rel(filepath.Join(d.Dir(), store.FilesFolder), d.FilePath(sum))
		if err != nil || !fs.ValidPath(rel) {
			t.Errorf("the path of %q leads out of the folder", sum)
		}
	}
	_, err = d.OpenFile(gone, strings.Repeat("0", 64))
	is(t, "stopped", err, context.Canceled)
	d.healthy(2)
}

// A row never comes before its file: when the file cannot get its name, there is none.
func TestPutWithoutPlace(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	const sum = "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881" // of "x"
	d.must(os.MkdirAll(filepath.Join(d.FilePath(sum), "in the way"), 0o700))
	if _, err := d.Put(ctx, strings.NewReader("x"), 1); err == nil {
		t.Fatal("stored in the place of a folder")
	}
	v := d.visit(d.athlete("one"), "2026-02-03")
	_, _, err := d.AddClip(ctx, Clip{AthleteID: v.AthleteID, VisitID: v.ID, SHA256: sum})
	is(t, "a clip of it", err, ErrNotFound)
	d.must(os.RemoveAll(d.FilePath(sum)))
	d.healthy(0)
	d.clip(v, "x")
	d.healthy(1)
}

// What is read in one view is of one moment, also when others write meanwhile.
func TestView(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	c := d.clip(d.visit(d.athlete("one"), "2026-02-03"), "frames")
	first, err := d.SaveResult(ctx, c.ID, []File{d.put("analysis.json", "1")}, 0)
	d.must(err)
	d.must(rows.View(ctx, d.folder.Read, func(db rows.Querier) error {
		for range 2 {
			r, err := resultOf(ctx, db, c.ID)
			if err != nil {
				return err
			}
			same(t, "in one view", r, &first)
			if _, err := d.SaveResult(ctx, c.ID, []File{d.put("analysis.json", "2")}, 0); err != nil {
				return err
			}
		}
		return nil
	}))
	got, err := d.Clip(ctx, c.ID)
	d.must(err)
	if got.Result.Revision != 3 {
		t.Errorf("revision %d after the view, want 3", got.Result.Revision)
	}
}

type failing struct{ err error }

func (f *failing) Read(p []byte) (int, error) { return copy(p, "x"), f.err }

func TestResults(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	who := d.athlete("one")
	c := d.clip(d.visit(who, "2026-02-03"), "frames")
	track, first, second := d.put("track.json.gz", "track"), d.put("analysis.json", "1"), d.put("analysis.json", "2")
	still := d.put("frames/bottom 1.png", "picture")
	for _, name := range []string{"", ".", "..", "../x", "/x", "a/../b", "a//b", "a/", `a\b`, `..\..\x`, "C:x", "a\x00b",
		"a\nb", strings.Repeat("n", maxName+1)} {
		_, err := d.SaveResult(ctx, c.ID, []File{{Name: name, SHA256: first.SHA256}}, 0)
		is(t, "result "+name, err, ErrInvalid)
		_, err = d.SaveComparison(ctx, who.ID, []string{c.ID}, []File{{Name: name, SHA256: first.SHA256}})
		is(t, "comparison "+name, err, ErrInvalid)
	}
	_, err := d.SaveResult(ctx, c.ID, []File{first, second}, 0)
	is(t, "a name twice", err, ErrInvalid)
	_, err = d.SaveResult(ctx, "x", []File{first}, 0)
	is(t, "no clip", err, ErrNotFound)
	_, err = d.SaveResult(ctx, c.ID, []File{first, {Name: "y", SHA256: strings.Repeat("0", 64)}}, 0)
	is(t, "no file", err, ErrNotFound)
	if got, _ := d.Clip(ctx, c.ID); got.Result != nil {
		t.Fatal("half a result was saved")
	}

	one, err := d.SaveResult(ctx, c.ID, []File{first, still, track}, 0)
	d.must(err)
	got, err := d.Clip(ctx, c.ID)
	d.must(err)
	same(t, "the first result", got.Result, &one)
	d.must(d.AddResultFile(ctx, one.ID, d.put("annotated.mp4", "film")))
	d.must(d.AddResultFile(ctx, one.ID, d.put("annotated.mp4", "better film")))
	d.must(d.AddResultFile(ctx, one.ID, d.put("annotated.mp4", "better film")))
	is(t, "add to none", d.AddResultFile(ctx, "x", track), ErrNotFound)
	is(t, "add a bad name", d.AddResultFile(ctx, one.ID, File{Name: "../x", SHA256: track.SHA256}), ErrInvalid)
	d.healthy(6) // clip, track, two analyses (the second waits for its row), picture, film

	two, err := d.SaveResult(ctx, c.ID, []File{second, track}, 3)
	d.must(err)
	if two.Revision != 2 || two.CorrectionSeq != 3 {
		t.Errorf("the second result is %+v", two)
	}
	got, err = d.Clip(ctx, c.ID)
	d.must(err)
	same(t, "the second result", got.Result, &two)
	is(t, "add to the old one", d.AddResultFile(ctx, one.ID, track), ErrNotFound)
	for _, f := range []struct {
		File
		want bool
	}{{track, true}, {second, true}, {first, false}, {still, false}} {
		if d.has(f.SHA256) != f.want {
			t.Errorf("%s is there: %v", f.Name, !f.want)
		}
	}
	d.healthy(3)
}

func TestCorrections(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	c := d.clip(d.visit(d.athlete("one"), "2026-02-03"), "frames")
	_, err := d.AddCorrection(ctx, "x", json.RawMessage("{}"), "moved a point")
	is(t, "no clip", err, ErrNotFound)
	for _, doc := range []string{"", "{", "{} {}", `"` + strings.Repeat("x", maxDoc) + `"`} {
		_, err := d.AddCorrection(ctx, c.ID, json.RawMessage(doc), "x")
		is(t, "no JSON", err, ErrInvalid)
	}
	_, err = d.AddCorrection(ctx, c.ID, json.RawMessage("{}"), "\x07")
	is(t, "description", err, ErrInvalid)

	// A word a step: +N adds document N, - undoes, = redoes; then what holds, and all.
	for i, tc := range []struct{ steps, holds, all string }{
		{"", "", ""},
		{"+1 +2", "2", "1 2"},
		{"-", "1", "1 2"},
		{"- -", "", "1 2"},
		{"=", "1", "1 2"},
		{"= =", "2", "1 2"},
		{"- +3", "3", "1 3"},
		{"=", "3", "1 3"},
		{"- - +4 +5", "5", "4 5"},
		{"- - - = +6", "6", "4 6"},
	} {
		for step := range strings.FieldsSeq(tc.steps) {
			switch step {
			case "-":
				_, _, err = d.UndoCorrection(ctx, c.ID)
			case "=":
				_, _, err = d.RedoCorrection(ctx, c.ID)
			default:
				_, err = d.AddCorrection(ctx, c.ID, json.RawMessage(step[1:]), "step "+step)
			}
			d.must(err)
		}
		doc, seq, err := d.CurrentCorrections(ctx, c.ID)
		d.must(err)
		if string(doc) != tc.holds || (seq == 0) != (tc.holds == "") {
			t.Errorf("%d %q: document %s, number %d holds, want %s", i, tc.steps, doc, seq, tc.holds)
		}
		all, err := d.Corrections(ctx, c.ID)
		d.must(err)
		var docs []string
		for j, one := range all {
			docs = append(docs, string(one.Doc))
			if one.Seq != j+1 {
				t.Errorf("%d: number %d is at place %d", i, one.Seq, j+1)
			}
		}
		if strings.Join(docs, " ") != tc.all {
			t.Errorf("%d %q: all are %q, want %q", i, tc.steps, docs, tc.all)
		}
	}
	now, ok, err := d.UndoCorrection(ctx, c.ID)
	d.must(err)
	if !ok || string(now.Doc) != "4" {
		t.Errorf("undone to %+v, %v", now, ok)
	}
	now, ok, err = d.UndoCorrection(ctx, c.ID)
	d.must(err)
	if !ok || now.ID != "" {
		t.Errorf("undone to %+v, %v, want nothing", now, ok)
	}
	if _, ok, err := d.UndoCorrection(ctx, c.ID); ok || err != nil {
		t.Error("undone more than there was", err)
	}
	d.must(d.DeleteClip(ctx, c.ID))
	if all, err := d.Corrections(ctx, c.ID); err != nil || len(all) > 0 {
		t.Error("corrections of a deleted clip:", all, err)
	}
}

func TestComparisons(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	who, other := d.athlete("one"), d.athlete("two")
	v := d.visit(who, "2026-02-03")
	slow, fast, theirs := d.clip(v, "slow"), d.clip(v, "fast"), d.clip(d.visit(other, "2026-02-03"), "theirs")
	table := d.put("comparison.json", "table")
	for _, tc := range []struct {
		name, athlete string
		clips         []string
		files         []File
		want          error
	}{
		{"nobody", "x", nil, nil, ErrNotFound},
		{"no clip", who.ID, []string{"x"}, nil, ErrNotFound},
		{"no file", who.ID, []string{slow.ID}, []File{{Name: "a", SHA256: strings.Repeat("1", 64)}}, ErrNotFound},
		{"two people", who.ID, []string{slow.ID, theirs.ID}, nil, ErrInvalid},
		{"a name twice", who.ID, []string{slow.ID}, []File{table, table}, ErrInvalid},
	} {
		_, err := d.SaveComparison(ctx, tc.athlete, tc.clips, tc.files)
		is(t, tc.name, err, tc.want)
	}
	one, err := d.SaveComparison(ctx, who.ID, []string{slow.ID, fast.ID}, []File{table})
	d.must(err)
	two, err := d.SaveComparison(ctx, who.ID, []string{fast.ID, slow.ID}, []File{table})
	d.must(err)
	all, err := d.ComparisonsOf(ctx, who.ID)
	d.must(err)
	same(t, "the newest first", all, []Comparison{two, one})
	page := d.put("coach.pdf", "page")
	d.must(d.AddComparisonFile(ctx, one.ID, page))
	d.must(d.AddComparisonFile(ctx, one.ID, d.put("coach.pdf", "another page")))
	if d.has(page.SHA256) {
		t.Error("the page that was replaced is still there")
	}
	is(t, "add to none", d.AddComparisonFile(ctx, "x", table), ErrNotFound)
	is(t, "add a bad name", d.AddComparisonFile(ctx, one.ID, File{Name: "a/../../b", SHA256: table.SHA256}), ErrInvalid)
	got, err := d.Comparison(ctx, one.ID)
	d.must(err)
	if len(got.Files) != 2 || !slices.Equal(got.ClipIDs, one.ClipIDs) {
		t.Errorf("the comparison is %+v", got)
	}
	_, err = d.Comparison(ctx, "x")
	is(t, "none", err, ErrNotFound)
	d.must(d.DeleteComparison(ctx, one.ID))
	is(t, "delete again", d.DeleteComparison(ctx, one.ID), ErrNotFound)
	d.healthy(4) // the table belongs to the second too
	d.must(d.DeleteClip(ctx, slow.ID))
	_, err = d.Comparison(ctx, two.ID)
	is(t, "without its clip", err, ErrNotFound)
	d.healthy(2)
}

func TestJobs(t *testing.T) {
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{})
	c := d.clip(d.visit(d.athlete("one"), "2026-02-03"), "frames")
	add := func(kind, options string) Job {
		t.Helper()
		j, err := d.AddJob(ctx, Job{ClipID: c.ID, Kind: kind, Options: json.RawMessage(options)}, nil)
		d.must(err)
		return j
	}
	for _, tc := range []struct {
		name string
		in   Job
		want error
	}{
		{"kind", Job{ClipID: c.ID, Kind: "dance"}, ErrInvalid},
		{"no clip", Job{ClipID: "x", Kind: JobAnalyze}, ErrNotFound},
		{"options", Job{ClipID: c.ID, Kind: JobAnalyze, Options: json.RawMessage("{")}, ErrInvalid},
	} {
		_, err := d.AddJob(ctx, tc.in, nil)
		is(t, tc.name, err, tc.want)
	}
	if _, ok, err := d.NextJob(ctx); ok || err != nil {
		t.Fatal("a job in an empty queue", err)
	}
	render, first, second := add(JobRender, `{"blur_face":true}`), add(JobAnalyze, ""), add(JobAnalyze, "{}")
	got, err := d.Job(ctx, render.ID)
	d.must(err)
	same(t, "by id", got, render)
	take := func(want Job, attempt int) Job {
		t.Helper()
		j, ok, err := d.NextJob(ctx)
		d.must(err)
		if !ok || j.ID != want.ID || j.State != JobRunning || j.Attempt != attempt || j.StartedAt == nil {
			t.Fatalf("took %+v, %v, want job %s, attempt %d", j, ok, want.ID, attempt)
		}
		return j
	}
	take(first, 1)
	d.must(d.UpdateJob(ctx, first.ID, "tracking", 30, 100))
	d.must(d.UpdateJob(ctx, second.ID, "a job that waits makes no progress", 1, 1))
	d.must(d.UpdateJob(ctx, "x", "nor does one that is not there", 1, 1))
	if got, _ = d.Job(ctx, first.ID); got.Stage != "tracking" || got.Done != 30 || got.Total != 100 {
		t.Errorf("the progress is %+v", got)
	}
	if got, _ = d.Job(ctx, second.ID); got.Stage != "" {
		t.Errorf("the waiting job is %+v", got)
	}
	cancelled := add(JobAnalyze, "")
	for _, tc := range []struct {
		id   string
		want bool
	}{{cancelled.ID, true}, {cancelled.ID, false}, {first.ID, false}, {"x", false}} {
		if ok, err := d.CancelJob(ctx, tc.id); ok != tc.want || err != nil {
			t.Errorf("cancelling: %v %v", ok, err)
		}
	}
	for _, state := range []JobState{"", JobWaiting, JobRunning, "x"} {
		is(t, "an end that is none", d.FinishJob(ctx, first.ID, state, "", ""), ErrInvalid)
	}
	is(t, "end none", d.FinishJob(ctx, "x", JobDone, "", ""), ErrNotFound)
	d.must(d.FinishJob(ctx, first.ID, JobFailed, "two people", "film one alone"))
	if got, _ = d.Job(ctx, first.ID); got.State != JobFailed || got.Error != "two people" ||
		got.Hint != "film one alone" || got.EndedAt == nil {
		t.Errorf("the failed job is %+v", got)
	}
	// A server that was stopped gives its job back, and that counts as no attempt.
	for range 4 {
		take(second, 1)
		d.must(d.ReturnJob(ctx, second.ID))
	}
	same(t, "given back", func() Job { j, _ := d.Job(ctx, second.ID); return j }(), second)
	for _, id := range []string{second.ID, first.ID, "x"} {
		is(t, "give back what does not run", d.ReturnJob(ctx, id), ErrNotFound)
	}
	// However often the server is killed while it works on the second, the clip is not
	// blamed for it.
	for range 5 {
		take(second, 1)
		n, err := d.RequeueRunning(ctx)
		d.must(err)
		if d.Shared() { // another computer may be at it: its lease has to run out
			d.must(d.ReturnJob(ctx, second.ID))
			n++
		}
		if n != 1 {
			t.Errorf("%d jobs wait again, want 1", n)
		}
	}
	if got, _ = d.Job(ctx, second.ID); got.State != JobWaiting || got.Attempt != 0 || got.Ends != 0 || got.Error != "" {
		t.Errorf("the job of a server that was killed is %+v", got)
	}
	// What ends the program that reads the clip is counted.
	for n := 1; n <= 2; n++ {
		take(second, n)
		d.must(d.SetBackJob(ctx, second.ID))
		if got, _ = d.Job(ctx, second.ID); got.State != JobWaiting || got.Ends != n || got.Attempt != n {
			t.Errorf("set back %d times, the job is %+v", n, got)
		}
	}
	is(t, "set back what does not run", d.SetBackJob(ctx, second.ID), ErrNotFound)
	take(second, 3)
	d.must(d.FinishJob(ctx, second.ID, JobFailed, "it ended twice", "film it again"))
	take(render, 1)
	waits := add(JobRender, "")
	all, err := d.Jobs(ctx, 100)
	d.must(err)
	var states []JobState
	for _, j := range all {
		states = append(states, j.State)
	}
	same(t, "states", states, []JobState{JobWaiting, JobRunning, JobCancelled, JobFailed, JobFailed})
	if few, err := d.Jobs(ctx, 2); err != nil || len(few) != 2 || few[0].ID != waits.ID {
		t.Errorf("the first two are %+v, %v", few, err)
	}
	_, err = d.Job(ctx, "x")
	is(t, "none", err, ErrNotFound)
	d.must(d.DeleteClip(ctx, c.ID))
	is(t, "end a job whose clip went", d.FinishJob(ctx, render.ID, JobDone, "", ""), ErrNotFound)
}

// Every statement fits the migrated schema, and each is used.
func TestStatements(t *testing.T) {
	t.Parallel()
	d := open(t, t.TempDir(), Options{})
	statements.Check(t, d.folder.Write, q, queriesText)
	if d.Shared() {
		statements.Check(t, d.folder.Write, qShared, sharedText)
	}
}

func ExampleArchive_VisitFor() {
	dir, err := os.MkdirTemp("", "archive-*")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	ctx := context.Background()
	a, err := Open(ctx, dir, Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer a.Close()
	who, err := a.CreateAthlete(ctx, Athlete{Name: "Robin Vale"})
	if err != nil {
		fmt.Println(err)
		return
	}
	first, err := a.VisitFor(ctx, Visit{AthleteID: who.ID, Date: "2026-05-02"})
	if err != nil {
		fmt.Println(err)
		return
	}
	again, err := a.VisitFor(ctx, Visit{AthleteID: who.ID, Date: "2026-05-02"})
	fmt.Println(first.Condition, first.ID == again.ID, err)
	// Output: fresh true <nil>
}

// Files that are put together are those that are put one by one, equal ones once; if one cannot be had none is kept.
func TestPutAll(t *testing.T) {
	t.Parallel()
	ctx, d, dir := t.Context(), open(t, t.TempDir(), Options{}), t.TempDir()
	var paths []string
	for i := range 120 {
		paths = append(paths, filepath.Join(dir, fmt.Sprint(i)))
		d.must(os.WriteFile(paths[i], fmt.Append(nil, "picture ", i/2), 0o600))
	}
	files, err := d.PutAll(ctx, paths, 100)
	d.must(err)
	for i, f := range files {
		single, err := d.Put(ctx, strings.NewReader(fmt.Sprint("picture ", i/2)), 100)
		d.must(err)
		if f != single {
			t.Errorf("%d: %+v, by itself %+v", i, f, single)
		}
		files[i].Name = fmt.Sprint(i)
	}
	c := d.clip(d.visit(d.athlete("one"), "2026-02-03"), "frames")
	_, err = d.SaveResult(ctx, c.ID, files, 0)
	d.must(err)
	d.healthy(61)
	_, err = d.PutAll(ctx, append(paths, filepath.Join(dir, "none")), 100)
	is(t, "one that is not there", err, os.ErrNotExist)
	_, err = d.PutAll(ctx, paths, 5)
	is(t, "too large ones", err, ErrTooLarge)
	if files, err := d.PutAll(ctx, nil, 5); err != nil || len(files) > 0 {
		t.Errorf("nothing: %v, %v", files, err)
	}
	d.healthy(61)
}
