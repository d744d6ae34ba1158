package sides

import (
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/internal/pseudo"
)

// What clips differ in is said in the language that is spoken.
func TestSidesInAnotherLanguage(t *testing.T) {
	kg := 62.5
	visits := []archive.Visit{{Condition: archive.Fresh}, {Condition: archive.Loaded, LoadKg: &kg}}
	sides, _, _ := Of(visits)
	if got := strings.Join(sides, ", "); got != "fresh, loaded with 62.5 kg" {
		t.Errorf("they differ in %s", got)
	}
	pseudo.Speak(t)
	sides, _, _ = Of(visits)
	if found := pseudo.English(strings.Join(sides, " "), "kg"); len(found) > 0 || len(sides) != 2 {
		t.Errorf("%q is English in %q", found, sides)
	}
}
