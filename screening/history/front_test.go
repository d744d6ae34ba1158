package history_test

import (
	"testing"

	"holdfast/internal/tracks"
	"holdfast/screening"
	"holdfast/screening/history"
)

// A clip from the front is left out of what the side shows, and that is said.
func TestFrontsAreLeftOut(t *testing.T) {
	front, _ := tracks.Analysis(t, "front_fast", screening.Options{})
	side, _ := tracks.Analysis(t, "slow_30", screening.Options{})
	h := history.Of([]history.DatedAnalysis{{Date: "2026-03-01", Condition: "fresh", Analysis: side},
		{Date: "2026-04-01", Condition: "fresh", Analysis: front}})
	for _, s := range h.Series {
		if len(s.Points) != 1 {
			t.Errorf("%s has %d points", s.Position, len(s.Points))
		}
	}
	if len(h.Series) == 0 || len(h.Warnings) != 1 || h.Warnings[0].Code != "fronts_left_out" {
		t.Errorf("%d series, %+v", len(h.Series), h.Warnings)
	}
}
