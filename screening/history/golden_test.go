package history_test

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"holdfast/internal/golden"
	"holdfast/internal/tracks"
	"holdfast/screening"
	"holdfast/screening/history"
)

// What is written of a history of the shipped clips, to the last digit; one that was read is written as it was.
func TestGoldenDocuments(t *testing.T) {
	day := func(date, condition string, loadKg float64, name string) history.DatedAnalysis {
		a, _ := tracks.Analysis(t, name, screening.Options{Athlete: "Sam Example", HeightCm: 180})
		return history.DatedAnalysis{Date: date, Condition: condition, LoadKg: loadKg, ClipID: name, Analysis: a}
	}
	none := math.NaN()
	h := history.Of([]history.DatedAnalysis{
		day("2025-01-02", "fresh", none, "slow_30"), day("2025-01-02", "fresh", none, "fast_30"),
		day("2025-01-02", "fresh", none, "jump_30"),
		day("2025-01-09", "fresh", none, "fast"), day("2025-01-09", "fresh", none, "left_fast"),
		day("2025-01-16", "loaded", 60, "fast"), day("2025-01-23", "loaded", 60, "fast_30"),
	})
	golden.JSON(t, "history.json", h)
	first, err := json.Marshal(&h)
	if err != nil {
		t.Fatal(err)
	}
	var read history.History
	if err := json.Unmarshal(first, &read); err != nil {
		t.Fatal(err)
	}
	if second, err := json.Marshal(&read); err != nil || !bytes.Equal(first, second) {
		t.Errorf("a history changes when it is read and written again (%v)", err)
	}
}
