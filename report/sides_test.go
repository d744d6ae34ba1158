package report

import (
	"html"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"holdfast/internal/compared"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/report/said"
	"holdfast/screening"
)

// Clips of one tempo are called by what they differ in, on every page, and nowhere by
// the keys that stand for them.
func TestPagesOfConditions(t *testing.T) {
	a, _ := compared.Analysis(t, "slow", "slow")
	b, _ := compared.Analysis(t, "slow", "slow")
	a.Clip.Path, b.Clip.Path = "", ""
	b.Clip.Name = "loaded.mp4"
	for i := range b.Reps { // a load takes 12 degrees of the knee
		b.Reps[i].Angles[body.KneeFlexion].ROMDeg -= 12
	}
	c, err := screening.Compare([]*screening.Analysis{a, b},
		screening.CompareOptions{Sides: []string{"fresh", "loaded with 60 kg"}, Axis: kinematics.AxisLoad})
	if err != nil {
		t.Fatal(err)
	}
	knee := regexp.MustCompile(`^Range of motion: \d+° fresh, \d+° loaded with 60 kg, 12° lost \(\d+ to \d+\)\.$`)
	for _, h := range said.Headlines(c) {
		if h.Name == "Knee" && (!knee.MatchString(h.Range) ||
			!strings.HasPrefix(h.Sentence, "Knee at the bottom: ") ||
			!strings.Contains(h.Sentence, "° loaded with 60 kg, held")) {
			t.Errorf("the sentences are %q and %q", h.Sentence, h.Range)
		}
	}
	dir := filepath.Join(t.TempDir(), "out")
	files, err := WriteComparison(t.Context(), dir, c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := schemaErr(t, "comparison.schema.json", files.Comparison); err != nil {
		t.Error(err)
	}
	keys := regexp.MustCompile(`\b([Ff]irst|[Ss]econd)( rep\b| ·| against)|>([Ff]irst|[Ss]econd)<`)
	for _, name := range []string{"report.html", "athlete.html"} {
		page, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		checkPage(t, string(page))
		text := html.UnescapeString(string(page))
		for _, want := range []string{"resh", "oaded with 60 kg"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s lacks %q", name, want)
			}
		}
		if at := keys.FindStringIndex(text); at != nil {
			t.Errorf("%s shows a key: …%s…", name, text[max(0, at[0]-60):min(len(text), at[1]+60)])
		}
		for _, wrong := range []string{"control at speed", "with a jump", "lost at speed", "under speed"} {
			if strings.Contains(text, wrong) {
				t.Errorf("%s speaks of %q", name, wrong)
			}
		}
	}
	for _, of := range []kinematics.Condition{{Axis: kinematics.AxisDay, Words: "2026-05-02"},
		{Axis: kinematics.AxisFatigue, Words: "fatigued"}, {Words: "morning"}} {
		c.Sides[0].Words, c.Axis = of.Words, of.Axis
		want := of.Words
		if of.Axis != kinematics.AxisFatigue {
			want = "(" + want + ")"
		}
		if got := said.Reading(c, "first", 25, true); got != "25° "+want {
			t.Errorf("%s in a sentence: %q, want %q", of.Words, got, want)
		}
	}
}
