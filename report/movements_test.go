package report_test

import (
	"cmp"
	"os"
	"path/filepath"
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
		of, other   string
		says, never []string
		athlete     []string // what the athlete's page says
	}{
		{"hop", "", []string{"At the landing: slow and fast", "The most typical rep of each at the landing",
			"Both at the landing over each other", "All positions are those of the landing", "before take-off</th>",
			"On the floor between two hops: slow 0.31 s (0.2", "In the air: slow 0.33 s", "From first contact until standing"},
			[]string{"The bottom of the slow rep", "At the bottom: slow"}, []string{"Knee: 13° of your 37°"}},
		{"get_up", "", []string{"From the floor onto the feet: slow 2.1 s",
			"Until still: slow 2.1 s (reps 2.1 to 2.2); fast 1.0 s.", "both stay: slow 1; fast 0", "way down",
			"% of the way up", "Warm up, and keep the floor"},
			[]string{"way out", "seem to leave the floor", "at the bottom", "jump only", "hips rise and fall"},
			nil},
		{"press", "", []string{"% of the way down"}, []string{"lost from", "gained from", "jump", "bottom"}, nil},
		// An arm that comes less far down is no part of what it was, and who hangs does not stand.
		{"pull", "", []string{"The hang next to the reps reads"}, []string{"stand upright", "people are in"},
			[]string{"Shoulder: 15° less far down (0 to 30), fast", "Upper arm drawn down fast: less far down"}},
		// Angles about zero are no parts of one another.
		{"hinge", "", nil, nil, []string{"Ankle: 7° more bend (4 to 9)", "Knee: all 23°, and 11° more (8 to 14)"}},
		// What a plate hides has no curve, and what too few reps show is no start.
		{"press", "press_bar", nil, []string{"Elbow flexion, press_bar", "Shoulder flexion, press_bar", "tempo"},
			[]string{"Hip press_slow: start"}},
		{"push_press", "jerk_slow", []string{"Compared at the lock-out"}, []string{"range of motion that was used"}, nil},
		{"push_press", "jerk_fast", []string{"Compared at the lock-out", "(slow push press)", "(fast jerk)",
			"At the lock-out: slow push press and fast jerk"}, []string{"range of motion that was used"}, nil},
	} {
		other := cmp.Or(tt.other, tt.of+"_fast")
		t.Run(tt.of+" and "+other, func(t *testing.T) {
			slow, _ := tracks.Analysis(t, tt.of+"_slow", screening.Options{})
			fast, _ := tracks.Analysis(t, other, screening.Options{})
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
			if html, err = os.ReadFile(filepath.Join(files.Dir, "athlete.html")); err != nil {
				t.Fatal(err)
			}
			for _, s := range tt.athlete {
				if !strings.Contains(string(html), s) {
					t.Errorf("the athlete's page does not say %q", s)
				}
			}
			if _, after, found := strings.Cut(string(html), "−"); found && strings.Contains(string(html), "° of your −") {
				t.Errorf("a part of less than nothing: %.60q", after)
			}
		})
	}
}
