package web_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/given"
	"holdfast/internal/tracks"
	"holdfast/screening"
	"holdfast/vision"
)

// Clips from the front, and their comparison, show what only the front shows and no curve of the side.
func TestBrowserFront(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	d, ids := trackedDesk(t, "front_slow", "front_fast")
	d.open(t, "/clips/"+ids[1])
	d.until(t, stepLimit, `!!document.querySelector('[data-testid="front-table"]')`)
	if cells := eval[string](t, d, `document.querySelector('[data-testid="front-table"]').innerText`); !strings.Contains(
		cells, "° in") || strings.Contains(cells, "undefined") {
		t.Errorf("the table says %q", cells)
	}
	d.until(t, stepLimit, `document.querySelector("#angles-chart").offsetParent === null`)
	d.shoot(t, "front_clip")
	id := eval[string](t, d, fmt.Sprintf(`fetch("/api/comparisons", { method: "POST",
		headers: { "X-Holdfast": "1", "Content-Type": "application/json" },
		body: JSON.stringify({ clips: [%q, %q] }) }).then((r) => r.json()).then((r) => r.id)`, ids[0], ids[1]))
	d.open(t, "/comparisons/"+id)
	d.until(t, stepLimit, `!!document.querySelector('#ladder-words [data-testid="front-table"]')`)
	d.hasText(t, "Right knee at the bottom")
	d.until(t, stepLimit, `document.querySelector("#curves-card").offsetParent === null`)
	d.shoot(t, "front_comparison")
	d.quiet(t)
}

// trackedDesk serves an archive with an athlete's clips, measured from their stored tracks.
func trackedDesk(t *testing.T, names ...string) (d *coach, ids []string) {
	t.Helper()
	dir := t.TempDir()
	kept, err := archive.Open(t.Context(), dir, archive.Options{Serving: true})
	if err != nil {
		t.Fatal(err)
	}
	athlete, err := kept.CreateAthlete(t.Context(), archive.Athlete{Name: "Sam Example"})
	if err != nil {
		t.Fatal(err)
	}
	adds, err := desk.New(desk.Options{Archive: kept, WorkDir: filepath.Join(dir, "tmp", "adds"),
		Model: vision.DefaultModel})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		a, track := tracks.Analysis(t, name, screening.Options{})
		clip, err := os.Open(tracks.Clip(t, name).Path)
		if err != nil {
			t.Fatal(err)
		}
		added, err := adds.AddTracked(t.Context(), clip, name+".mp4",
			given.Clip{Athlete: athlete.ID, Date: "2026-03-01"}, a.Clip, track)
		clip.Close()
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, added.Clip.ID)
	}
	return serveArchive(t, kept, dir, "work", vision.DefaultModel), ids
}
