package desk

import (
	"strings"
	"testing"

	"holdfast/archive"
)

func TestSuggestComparesWhatBelongsTogether(t *testing.T) {
	type clip struct {
		archive.Clip
		tempos []string
	}
	card := func(id, visit string, tempos ...string) clip {
		return clip{archive.Clip{ID: id, VisitID: visit, Result: &archive.Result{}}, tempos}
	}
	waiting := card("w", "v2", "fast")
	waiting.Result = nil
	for _, c := range []struct {
		name   string
		clips  []clip
		ids    string
		tempos string
	}{
		{"nothing", nil, "", ""},
		{"one tempo", []clip{card("a", "v1", "slow"), card("b", "v1", "slow")}, "", ""},
		{"three tempos, the easiest first", []clip{card("j", "v1", "jump"), card("f", "v1", "fast"), card("s", "v1",
			"slow")}, "s f j", "slow fast jump"},
		{"the newest of a tempo", []clip{card("new", "v1", "slow"), card("old", "v1", "slow"), card("f", "v1", "fast")},
			"new f", "slow fast"},
		{"two tempos in one clip", []clip{card("both", "v1", "slow", "fast"), card("j", "v1", "jump")}, "both j",
			"slow fast jump"},
		{"never across visits", []clip{card("f", "v2", "fast"), card("s", "v1", "slow")}, "", ""},
		{"not what is not measured", []clip{waiting, card("s", "v2", "slow"), card("o", "v1", "slow"), card("p", "v1",
			"jump")}, "o p", "slow jump"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var clips []archive.Clip
			var sums []Sum
			for _, one := range c.clips {
				clips, sums = append(clips, one.Clip), append(sums, Sum{Tempos: one.tempos, Reps: 3})
			}
			got, ok := Suggest(clips, sums)
			if ok != (c.ids != "") || strings.Join(got.Clips, " ") != c.ids || strings.Join(got.Tempos, " ") != c.tempos {
				t.Errorf("suggests %+v, %v, want %s: %s", got, ok, c.ids, c.tempos)
			}
		})
	}
}
