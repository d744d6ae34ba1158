package report_test

import (
	"os"
	"strings"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/report"
	"holdfast/screening"
)

// A report speaks of the movement that it shows: of hops, all of which are read in their landings, with their times on
// the floor and in the air, of a way down and up, and of no jump where none is.
func TestReportsSpeakOfTheirMovement(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it decodes videos")
	}
	for _, tt := range []struct {
		of          string
		says, never []string
	}{
		{"hop", []string{"At the landing: slow and fast", "The most typical rep of each at its landing",
			"Both at the landing over each other", "All positions are those of the landing", "before take-off</th>",
			"On the floor between two: slow 0.31 s (0.2", "In the air: slow 0.33 s", "From first contact until standing"},
			[]string{"The bottom of the slow rep", "At the bottom: slow"}},
		{"get_up", []string{"From the floor onto the feet: slow 1.9 s", "Until still: slow 2.0 s", "way down",
			"Knee flexion, fast: more from 89 % of the way up", "Warm up, and keep the floor"},
			[]string{"way out", "seem to leave the floor", "at the bottom", "jump only"}},
		{"press", []string{"% of the way down"}, []string{"lost from", "gained from", "jump", "bottom"}},
	} {
		t.Run(tt.of, func(t *testing.T) {
			slow, _ := tracks.Analysis(t, tt.of+"_slow", screening.Options{})
			fast, _ := tracks.Analysis(t, tt.of+"_fast", screening.Options{})
			c, err := screening.Compare([]*screening.Analysis{slow, fast}, screening.CompareOptions{})
			if err != nil {
				t.Fatal(err)
			}
			files, err := report.WriteComparison(t.Context(), t.TempDir()+"/out", c, report.Options{})
			if err != nil {
				t.Fatal(err)
			}
			html, err := os.ReadFile(files.Report)
			if err != nil {
				t.Fatal(err)
			}
			text, _, _ := strings.Cut(string(html), `id="trust"`)
			_, text, _ = strings.Cut(text, "<body")
			for _, s := range tt.says {
				if !strings.Contains(text, s) {
					t.Errorf("the report does not say %q", s)
				}
			}
			for _, s := range tt.never {
				if strings.Contains(strings.ReplaceAll(text, `id="bottoms"`, ""), s) {
					t.Errorf("the report says %q", s)
				}
			}
		})
	}
}
