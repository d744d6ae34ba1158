package archive

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/archive/folder"
	"holdfast/screening/setting"
)

// TestKeptWithAnAthlete: team, consent and the day until which to keep are kept, and only a day is one.
func TestKeptWithAnAthlete(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{Serving: true})
	who := d.athlete("Imke Sample")
	who.Team, who.ConsentOn, who.KeepUntil = "U18", "2026-02-01", "2027-02-01"
	d.must(d.UpdateAthlete(ctx, who))
	got, err := d.Athlete(ctx, who.ID)
	d.must(err)
	if got != who {
		t.Errorf("kept are %+v, want %+v", got, who)
	}
	for today, past := range map[string]bool{"2027-01-31": false, "2027-02-01": false, "2027-02-02": true} {
		if got.PastKeeping(today) != past {
			t.Errorf("on %s: past %v", today, !past)
		}
	}
	who.KeepUntil = "soon"
	if err := d.UpdateAthlete(ctx, who); !errors.Is(err, ErrInvalid) {
		t.Errorf("a day called soon: %v", err)
	}
}

// TestMarksAndTrimOfAClip: both are kept with the clip, and marks go with it.
func TestMarksAndTrimOfAClip(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	d := open(t, t.TempDir(), Options{Serving: true})
	c := d.clip(d.visit(d.athlete("Imke Sample"), "2026-02-03"), "frames")
	from, to := 1.5, 4.25
	c.TrimFromS, c.TrimToS = &from, &to
	c.Movement, c.Setting = "squat", setting.Setting{AfterReps: &to, Cue: "‘up’"}
	d.must(d.UpdateClip(ctx, c))
	got, err := d.Clip(ctx, c.ID)
	d.must(err)
	if got.TrimFromS == nil || got.TrimToS == nil || *got.TrimFromS != from || *got.TrimToS != to {
		t.Errorf("trimmed is %+v", got)
	}
	if got.Movement != "squat" || got.Setting.Said() != "after 4.25 reps, cue: ‘up’" {
		t.Errorf("it shows %q, done %q", got.Movement, got.Setting.Said())
	}
	all, err := d.ClipsOf(ctx, c.AthleteID)
	d.must(err)
	if len(all) != 1 || all[0].Setting.Cue != got.Setting.Cue {
		t.Errorf("the athlete's clips are %+v", all)
	}
	c.Setting.Cue = strings.Repeat("x", 200)
	if err := d.UpdateClip(ctx, c); !errors.Is(err, ErrInvalid) {
		t.Errorf("a cue of 200 letters: %v", err)
	}
	c.Setting = setting.Setting{}
	c.TrimFromS, c.TrimToS = &to, &from
	if err := d.UpdateClip(ctx, c); !errors.Is(err, ErrInvalid) {
		t.Errorf("a part that ends before it begins: %v", err)
	}
	for _, doc := range []json.RawMessage{json.RawMessage(`{"marks": [1]}`), json.RawMessage(`{"marks": [2]}`), nil} {
		d.must(d.SetMarks(ctx, c.ID, doc))
		got, err := d.Marks(ctx, c.ID)
		d.must(err)
		if string(got) != string(doc) {
			t.Errorf("marked is %s, want %s", got, doc)
		}
	}
	for name, tc := range map[string]struct {
		id  string
		doc json.RawMessage
		is  error
	}{"no clip": {"nothing", json.RawMessage(`{}`), ErrNotFound}, "no JSON": {c.ID, json.RawMessage(`{`), ErrInvalid},
		"too long": {c.ID, make(json.RawMessage, maxMarks+1), ErrInvalid}} {
		if err := d.SetMarks(ctx, tc.id, tc.doc); !errors.Is(err, tc.is) {
			t.Errorf("%s: %v", name, err)
		}
	}
	d.must(d.SetMarks(ctx, c.ID, json.RawMessage(`{}`)))
	d.must(d.DeleteClip(ctx, c.ID))
	if marks, err := d.Marks(ctx, c.ID); err != nil || marks != nil {
		t.Errorf("of a clip that is gone there are marks %s, %v", marks, err)
	}
}

// TestCertificateIsNoStranger: a folder that holds the page's certificate alone is still one for an archive.
func TestCertificateIsNoStranger(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, folder.Certificate), []byte("a certificate"), 0o600); err != nil {
		t.Fatal(err)
	}
	d := open(t, dir, Options{Serving: true})
	d.healthy(0)
	if text, err := os.ReadFile(filepath.Join(dir, folder.Certificate)); err != nil || string(text) != "a certificate" {
		t.Errorf("the certificate became %q, %v", text, err)
	}
}
