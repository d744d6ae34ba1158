package pseudo

import (
	"slices"
	"testing"

	"holdfast/words"
)

func TestText(t *testing.T) {
	for _, c := range []struct{ english, want string }{
		{"held", "héld ññ"},
		{"{{.easier}} against {{.harder}}.", "{{.harder}} ágáínst {{.easier}} ñññ."},
		{"{{list .reps `, ` ` and `}}", "{{list .reps `, ` ` ánd `}}"},
		{"the {{term `point` .point}}", "thé {{term `point` .point}} ññ"},
		{"±", "±"},
	} {
		if got := Text(c.english); got != c.want {
			t.Errorf("%q: %q, want %q", c.english, got, c.want)
		}
	}
}

func TestSpeak(t *testing.T) {
	t.Run("pseudo", func(t *testing.T) {
		Speak(t)
		if got := words.Say("report.against", words.Params{"easier": "A", "harder": "B"}); got != "B ágáínst A ñññ" {
			t.Error(got)
		}
		if got := words.Say("notice.few_frames_in_the_turn", words.Params{"rep": 2, "n": 1}); English(got) != nil {
			t.Error(got)
		}
	})
	if got := words.Say("verdict.held", nil); got != "held" {
		t.Errorf("after it: %q", got)
	}
	if got := English("Sam: héld, not lóst 3 cm", "Sam"); !slices.Equal(got, []string{"not"}) {
		t.Errorf("%v", got)
	}
}
