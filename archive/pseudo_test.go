package archive

import (
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"holdfast/archive/halfsent"
	"holdfast/archive/store"
	"holdfast/internal/pseudo"
)

// Why the archive refuses something, and what a check finds, is said in another language too.
func TestRefusalsInAnotherLanguage(t *testing.T) {
	pseudo.Speak(t)
	ctx, dir := t.Context(), t.TempDir()
	outside := regexp.MustCompile(regexp.QuoteMeta(dir) + `[^ ,:;)"]*|holdfast( \w+)*|--[a-z-]+|\w+\.(mp4|json|db)|` +
		`[0-9a-f]{8}-[0-9a-f-]{27}|[0-9a-f]{64}|Kim|JSON|note\.txt`)
	said := 0
	look := func(what, text string) {
		t.Helper()
		said++
		if found := pseudo.English(outside.ReplaceAllString(text, " ")); len(found) > 0 || text == "" {
			t.Errorf("%s: %q is English in %q", what, found, text)
		}
	}
	refused := func(what string, err error) {
		t.Helper()
		if err == nil {
			t.Errorf("%s is taken", what)
			return
		}
		look(what, err.Error())
	}
	data := filepath.Join(dir, "data")
	d := open(t, data, Options{Serving: true})
	who := d.athlete("Kim")
	v := d.visit(who, "2026-02-03")
	mine := d.clip(v, "the frames")
	_, err := d.CreateAthlete(ctx, Athlete{})
	refused("nobody", err)
	_, err = d.CreateAthlete(ctx, Athlete{Name: strings.Repeat("x", 401)})
	refused("a long name", err)
	_, err = d.CreateAthlete(ctx, Athlete{Name: "\a"})
	refused("a bell", err)
	below := -1.0
	_, err = d.VisitFor(ctx, Visit{AthleteID: who.ID, Date: "2026-02-03", LoadKg: &below})
	refused("less than nothing", err)
	_, err = d.VisitFor(ctx, Visit{AthleteID: who.ID, Date: "3.2."})
	refused("a date", err)
	_, err = d.VisitFor(ctx, Visit{AthleteID: who.ID, Date: "2026-02-03", Condition: "x"})
	refused("a condition", err)
	bad := mine
	bad.Tempo = "x"
	refused("a tempo", d.UpdateClip(ctx, bad))
	_, err = d.SaveResult(ctx, mine.ID, []File{{Name: "../2"}}, 0)
	refused("a file name", err)
	_, err = d.AddCorrection(ctx, mine.ID, []byte("{"), "")
	refused("a correction", err)
	_, err = d.FindAthlete(ctx, "Kim K")
	refused("a misspelt name", err)
	_, err = d.Clip(ctx, "none")
	refused("no clip", err)
	_, err = d.Put(ctx, strings.NewReader("much"), 3)
	refused("too much", err)
	_, err = Open(ctx, data, Options{Serving: true})
	refused("a second server", err)
	_, err = Open(ctx, filepath.Join(dir, "none"), Options{MustExist: true})
	refused("no archive", err)
	refused("a folder that holds something", restore(ctx, "x.zip", data))
	refused("no backup", restore(ctx, filepath.Join(dir, "none.zip"), filepath.Join(dir, "new")))
	// What a check finds, and what goes into a backup with damage.
	uploads := filepath.Join(data, halfsent.Folder)
	d.must(errors.Join(os.MkdirAll(uploads, 0o700),
		os.WriteFile(filepath.Join(uploads, "1"+halfsent.Note), []byte("{}"), 0o600),
		os.WriteFile(filepath.Join(data, store.FilesFolder, "note.txt"), nil, 0o600), os.Remove(d.FilePath(mine.SHA256))))
	d.put("", "unused")
	statement(t, data, "DELETE FROM visits")
	rep, err := d.Check(ctx)
	d.must(err)
	if len(rep.Problems) < 3 || len(rep.Notes) < 2 {
		t.Errorf("the check finds %q and notes %q", rep.Problems, rep.Notes)
	}
	for _, text := range append(rep.Problems, rep.Notes...) {
		look("check", strings.NewReplacer("visits", "", "clips", "").Replace(text))
	}
	refused("a backup with damage", d.Backup(ctx, filepath.Join(dir, "b.zip")))
	refused("a backup with damage", restore(ctx, filepath.Join(dir, "b-incomplete.zip"), filepath.Join(dir, "new")))
	if said < 20 {
		t.Errorf("only %d texts", said)
	}
}
