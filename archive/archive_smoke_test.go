package archive

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestWholeLife(t *testing.T) {
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "data folder #1?")
	a, err := Open(ctx, dir, Options{Serving: true})
	if err != nil {
		t.Fatal(err)
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	if _, err := Open(ctx, dir, Options{Serving: true}); err == nil {
		t.Fatal("two servers")
	}
	who, err := a.CreateAthlete(ctx, Athlete{Name: "Quillon Marsk"})
	must(err)
	v, err := a.VisitFor(ctx, Visit{AthleteID: who.ID, Date: "2026-01-02"})
	must(err)
	f, err := a.Put(ctx, strings.NewReader("a clip"), 100)
	must(err)
	c, known, err := a.AddClip(ctx, Clip{AthleteID: who.ID, VisitID: v.ID, Name: "a.mp4", SHA256: f.SHA256})
	must(err)
	if known {
		t.Error("known")
	}
	r, err := a.Put(ctx, strings.NewReader("{}"), 100)
	must(err)
	r.Name = "analysis.json"
	_, err = a.SaveResult(ctx, c.ID, []File{r}, 0)
	must(err)
	_, err = a.SaveComparison(ctx, who.ID, []string{c.ID}, []File{r})
	must(err)
	j, err := a.AddJob(ctx, Job{ClipID: c.ID, Kind: JobAnalyze})
	must(err)
	if got, ok, err := a.NextJob(ctx); err != nil || !ok || got.ID != j.ID {
		t.Fatal(got, ok, err)
	}
	rep, err := a.Check(ctx)
	must(err)
	if len(rep.Problems) > 0 || rep.Files != 2 {
		t.Fatal(rep)
	}
	zip := filepath.Join(t.TempDir(), "b.zip")
	must(a.Backup(ctx, zip))
	again := filepath.Join(t.TempDir(), "again")
	must(Restore(ctx, zip, again))
	b, err := Open(ctx, again, Options{})
	must(err)
	if got, err := b.FindAthlete(ctx, "quillon marsk"); err != nil || got.ID != who.ID {
		t.Fatal(got, err)
	}
	must(b.Close())
	var out bytes.Buffer
	must(a.Export(ctx, who.ID, &out))
	gone, err := a.DeleteAthlete(ctx, who.ID)
	must(err)
	if gone.Files != 2 || gone.Clips != 1 || gone.Comparisons != 1 {
		t.Error(gone)
	}
	must(a.Close())
	db, err := os.ReadFile(filepath.Join(dir, databaseName))
	must(err)
	if bytes.Contains(db, []byte("Quillon")) {
		t.Error("the name is still there")
	}
}
