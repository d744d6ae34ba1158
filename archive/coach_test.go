package archive

import (
	"context"
	"encoding/json"
	"io"
	"strings"
	"testing"

	"holdfast/archive/users"
)

// In the context of a coach only his or her own athletes are there, whatever is asked of the archive and by which id.
func TestCoaches(t *testing.T) {
	t.Parallel()
	d := open(t, t.TempDir(), Options{})
	ctx := t.Context()
	coach := func(name string) (users.User, context.Context) {
		u, err := d.Users().Add(ctx, name, users.Coach, "correct horse")
		d.must(err)
		return u, ForCoach(ctx, u.ID)
	}
	kim, own := coach("Kim")
	robin, other := coach("Robin")
	who, err := d.CreateAthlete(own, Athlete{Name: "one"})
	d.must(err)
	v, err := d.VisitFor(own, Visit{AthleteID: who.ID, Date: "2026-02-03", Condition: Fresh})
	d.must(err)
	c, front := d.clip(v, "frames"), d.clip(v, "frames from the front")
	again, err := d.Put(ctx, strings.NewReader("other frames"), 100)
	d.must(err)
	x, err := d.SaveComparison(own, who.ID, []string{c.ID}, nil)
	d.must(err)
	job, err := d.AddJob(own, Job{ClipID: c.ID, Kind: JobAnalyze}, nil)
	d.must(err)
	_, err = d.AddJob(own, Job{ComparisonID: x.ID, Kind: JobReport}, nil)
	d.must(err)
	_, err = d.AddCorrection(own, c.ID, json.RawMessage("{}"), "upright")
	d.must(err)
	all := map[string]func(ctx context.Context) error{
		"Athlete":       func(ctx context.Context) error { _, err := d.Athlete(ctx, who.ID); return err },
		"FindAthlete":   func(ctx context.Context) error { _, err := d.FindAthlete(ctx, "one"); return err },
		"UpdateAthlete": func(ctx context.Context) error { return d.UpdateAthlete(ctx, who) },
		"Visits":        func(ctx context.Context) error { _, err := d.Visits(ctx, who.ID); return err },
		"Visit":         func(ctx context.Context) error { _, err := d.Visit(ctx, v.ID); return err },
		"VisitFor":      func(ctx context.Context) error { _, err := d.VisitFor(ctx, v); return err },
		"UpdateVisit":   func(ctx context.Context) error { return d.UpdateVisit(ctx, v) },
		"Clip":          func(ctx context.Context) error { _, err := d.Clip(ctx, c.ID); return err },
		"ClipsOf":       func(ctx context.Context) error { _, err := d.ClipsOf(ctx, who.ID); return err },
		"UpdateClip":    func(ctx context.Context) error { return d.UpdateClip(ctx, c) },
		"AddCorrection": func(ctx context.Context) error {
			_, err := d.AddCorrection(ctx, c.ID, json.RawMessage("{}"), "x")
			return err
		},
		"Corrections":    func(ctx context.Context) error { _, err := d.Corrections(ctx, c.ID); return err },
		"UndoCorrection": func(ctx context.Context) error { _, _, err := d.UndoCorrection(ctx, c.ID); return err },
		"Marks":          func(ctx context.Context) error { _, err := d.Marks(ctx, c.ID); return err },
		"SetMarks":       func(ctx context.Context) error { return d.SetMarks(ctx, c.ID, nil) },
		"Comparison":     func(ctx context.Context) error { _, err := d.Comparison(ctx, x.ID); return err },
		"ComparisonsOf":  func(ctx context.Context) error { _, err := d.ComparisonsOf(ctx, who.ID); return err },
		"SaveComparison": func(ctx context.Context) error { _, err := d.SaveComparison(ctx, who.ID, nil, nil); return err },
		"Job":            func(ctx context.Context) error { _, err := d.Job(ctx, job.ID); return err },
		"Export":         func(ctx context.Context) error { return d.Export(ctx, who.ID, io.Discard) },
		"AddClip": func(ctx context.Context) error {
			_, _, err := d.AddClip(ctx, Clip{AthleteID: who.ID, VisitID: v.ID, Name: "b.mp4", SHA256: again.SHA256})
			return err
		},
	}
	for name, ask := range all {
		is(t, name+" of another coach", ask(other), ErrNotFound)
	}
	ends := []struct {
		name string
		ask  func(ctx context.Context) error
	}{
		{"JoinClips", func(ctx context.Context) error { return d.JoinClips(ctx, c.ID, front.ID) }},
		{"PartClips", func(ctx context.Context) error { return d.PartClips(ctx, c.ID) }},
		{"CancelJob", func(ctx context.Context) error { _, err := d.CancelJob(ctx, job.ID); return err }},
		{"DeleteComparison", func(ctx context.Context) error { return d.DeleteComparison(ctx, x.ID) }},
		{"DeleteClip", func(ctx context.Context) error { return d.DeleteClip(ctx, c.ID) }},
		{"DeleteVisit", func(ctx context.Context) error { return d.DeleteVisit(ctx, v.ID) }},
		{"DeleteAthlete", func(ctx context.Context) error { _, err := d.DeleteAthlete(ctx, who.ID); return err }},
	}
	for _, end := range ends {
		is(t, end.name+" of another coach", end.ask(other), ErrNotFound)
	}
	count := func(ctx context.Context, athletes, jobs int) {
		t.Helper()
		a, err := d.Athletes(ctx)
		d.must(err)
		j, err := d.Jobs(ctx, -1)
		d.must(err)
		if len(a) != athletes || len(j) != jobs {
			t.Errorf("%d athletes and %d jobs are there, want %d and %d", len(a), len(j), athletes, jobs)
		}
	}
	count(other, 0, 0)
	count(own, 1, 2)
	count(ctx, 1, 2)
	d.must(d.GiveAthletes(ctx, robin.ID, who.ID))
	count(own, 0, 0)
	count(other, 1, 2)
	is(t, "what was given away", all["Clip"](own), ErrNotFound)
	d.must(d.GiveAthletes(ctx, kim.ID, who.ID))
	for name, ask := range all {
		if err := ask(own); err != nil {
			t.Errorf("%s of the own coach: %v", name, err)
		}
	}
	d.must(d.Users().Remove(ctx, kim.Name))
	count(own, 0, 0)
	count(ctx, 1, 2)
	for _, end := range ends {
		if err := end.ask(ctx); err != nil {
			t.Errorf("%s of everybody: %v", end.name, err)
		}
	}
}
