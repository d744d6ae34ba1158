package work

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/printable"
	"holdfast/report"
	"holdfast/screening"
)

// The report of a stored comparison is that of the comparison itself, word by word.
func TestReportOfAStoredComparison(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it decodes clips")
	}
	dir := t.TempDir()
	order := Order{Kind: KindCompare, Dir: filepath.Join(dir, "made"), Athlete: "Sam Example", Date: "2025-05-02",
		Comparison: filepath.Join(dir, "comparison.json")}
	write := func(path string, v any) {
		t.Helper()
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if err := printable.WriteJSON(f, v); err != nil {
			t.Fatal(err)
		}
	}
	var analyses []*screening.Analysis
	for _, name := range []string{"slow_30", "fast_30"} {
		a, _ := tracks.Analysis(t, name, screening.Options{})
		path := a.Clip.Path
		a.Clip.Path, a.Clip.Name, a.Athlete = "", name+".mp4", ""
		in := Clip{Path: path, Name: name + ".mp4", Analysis: filepath.Join(dir, name+".json")}
		write(in.Analysis, a)
		stored, err := screening.LoadAnalysis(in.Analysis)
		if err != nil {
			t.Fatal(err)
		}
		order.Clips, analyses = append(order.Clips, in), append(analyses, stored)
	}
	c, err := screening.Compare(analyses, screening.CompareOptions{SmallestChangeDeg: 5})
	if err != nil {
		t.Fatal(err)
	}
	write(order.Comparison, c)
	text, err := json.Marshal(order)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(order.Dir, 0o700); err != nil {
		t.Fatal(err)
	}
	if last, err := doOrder(t, string(text)+"\n"); err != nil || last.Event != EventDone {
		t.Fatalf("%v: it says %+v", err, last)
	}
	c.Athlete = order.Athlete
	for i, a := range c.Analyses {
		a.Clip.Path, a.Athlete = order.Clips[i].Path, order.Athlete
	}
	want := filepath.Join(dir, "want")
	if _, err := report.WriteComparison(t.Context(), want, c, report.Options{Date: order.Date}); err != nil {
		t.Fatal(err)
	}
	// A stored number is rounded, which moves a curve by a tenth of a point: the words tell.
	tags := regexp.MustCompile(`<[^>]*>`)
	for _, name := range []string{"report.html", "athlete.html"} {
		var pages []string
		for _, folder := range []string{filepath.Join(order.Dir, MadeAnalysis), want} {
			page, err := os.ReadFile(filepath.Join(folder, name))
			if err != nil {
				t.Fatal(err)
			}
			pages = append(pages, tags.ReplaceAllString(string(page), " "))
		}
		if pages[0] != pages[1] || len(pages[0]) < 1000 {
			t.Errorf("%s says something else than that of the comparison itself", name)
		}
	}
	if info, err := os.Stat(filepath.Join(order.Dir, MadeAnalysis, "coach.pdf")); err != nil || info.Size() == 0 {
		t.Errorf("the PDF is not there: %v", err)
	}
}
