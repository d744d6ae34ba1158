package report

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"holdfast/internal/golden"
	"holdfast/internal/pdftext"
	"holdfast/internal/tracks"
	"holdfast/kinematics"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/screening/sets"
)

// What the pages, sheets and curves say of the shipped clips, word for word and line for
// line. Of a comparison of tempos with pictures, of one of conditions without.
func TestGoldenComparisons(t *testing.T) {
	for _, tt := range []struct {
		name  string
		clips []string
		how   screening.CompareOptions
		gone  bool // the clips' files
	}{
		{"tempos", []string{"slow_30", "fast_30", "jump_30"}, screening.CompareOptions{}, false},
		{"conditions", []string{"fast_30", "fast"}, screening.CompareOptions{
			Sides: []string{"fresh", "loaded with 60 kg"}, Axis: kinematics.AxisLoad,
			Dates: []string{"2025-01-02", "2025-01-09"}}, true},
		{"joined", []string{"slow_30", "fast_30"}, screening.CompareOptions{}, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if testing.Short() && !tt.gone {
				t.Skip("left to the full run: it decodes clips")
			}
			var analyses []*screening.Analysis
			for _, name := range tt.clips {
				a, _ := tracks.Analysis(t, name, screening.Options{Athlete: "Sam Example", HeightCm: 180})
				if tt.gone {
					a.Clip.Path = "gone/" + a.Clip.Name
				}
				analyses = append(analyses, a)
			}
			var fronts []*screening.Analysis
			if tt.name == "joined" { // with what the front shows of the same sets
				for _, name := range []string{"front_slow", "front_fast"} {
					a, _ := tracks.Analysis(t, name, screening.Options{Athlete: "Sam Example", HeightCm: 180})
					fronts = append(fronts, a)
				}
			}
			c, err := sets.Compare(analyses, fronts, tt.how)
			if err != nil {
				t.Fatal(err)
			}
			dir := filepath.Join(t.TempDir(), "out")
			if _, err := WriteComparison(t.Context(), dir, c, Options{Date: "2025-01-23"}); err != nil {
				t.Fatal(err)
			}
			for _, name := range []string{"report.html", "athlete.html", "curves.svg"} {
				golden.HTML(t, tt.name+"/"+name, readFile(t, filepath.Join(dir, name)))
			}
			for _, name := range []string{"coach.pdf", "athlete.pdf"} {
				golden.Text(t, tt.name+"/"+name+".txt", pdftext.Of(t, readFile(t, filepath.Join(dir, name))))
			}
			// The coach's answer is two sheets, with all else in the appendix.
			coach := pdftext.Of(t, readFile(t, filepath.Join(dir, "coach.pdf")))
			sheets, _, _ := strings.Cut(coach, "\n"+said.Say("appendix")+"\n")
			if n := len(regexp.MustCompile(`(?m)^\d+ of \d+$`).FindAllString(sheets, -1)); n < 1 || n > 2 {
				t.Errorf("the appendix comes after %d sheets", n)
			}
		})
	}
}

func readFile(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
