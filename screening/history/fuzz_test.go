package history

import (
	"encoding/json"
	"testing"

	"holdfast/screening"
)

// Whatever is read as an analysis does not break a history.
func FuzzOf(f *testing.F) {
	data, err := json.Marshal(dayOf(100, 101, 99))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Add([]byte(`{"schema":"holdfast/analysis/1"}`))
	f.Fuzz(func(_ *testing.T, data []byte) {
		var a screening.Analysis
		if json.Unmarshal(data, &a) != nil {
			return
		}
		_ = Of([]DatedAnalysis{{Date: a.Program, Condition: a.Facing, Analysis: &a},
			{Date: a.Athlete, LoadKg: a.HeightCm, Analysis: &a}})
	})
}
