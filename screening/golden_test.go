package screening_test

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"holdfast/internal/golden"
	"holdfast/internal/tracks"
	"holdfast/screening"
)

// What is written of the shipped clips, to the last digit: one clip, a comparison of
// tempos, one of conditions.
func TestGoldenDocuments(t *testing.T) {
	of := map[string]*screening.Analysis{}
	for _, name := range []string{"slow_30", "fast_30", "jump_30", "fast", "left_fast"} {
		of[name], _ = tracks.Analysis(t, name, screening.Options{Athlete: "Sam Example", HeightCm: 180})
	}
	golden.JSON(t, "analysis.json", of["jump_30"])

	compared := func(opt screening.CompareOptions, names ...string) *screening.Comparison {
		t.Helper()
		var analyses []*screening.Analysis
		for _, n := range names {
			analyses = append(analyses, of[n])
		}
		c, err := screening.Compare(analyses, opt)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	golden.JSON(t, "comparison_tempos.json", compared(screening.CompareOptions{}, "slow_30", "fast_30", "jump_30"))
	golden.JSON(t, "comparison_conditions.json", compared(screening.CompareOptions{
		Sides: []string{"fresh", "loaded with 60 kg"}, Dates: []string{"2025-01-02", "2025-01-09"},
	}, "fast_30", "fast"))
}

// A document that was read is written as it was, and both are as the schema says.
func TestDocumentsAreWrittenAsRead(t *testing.T) {
	opt := screening.Options{HeightCm: 180}
	slow, _ := tracks.Analysis(t, "slow_30", opt)
	jump, _ := tracks.Analysis(t, "jump_30", opt)
	c, err := screening.Compare([]*screening.Analysis{slow, jump}, screening.CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name, schema string
		of, read     any
	}{
		{"an analysis", "analysis.schema.json", slow, &screening.Analysis{}},
		{"one of jumps", "analysis.schema.json", jump, &screening.Analysis{}},
		{"a comparison", "comparison.schema.json", c, &screening.Comparison{}},
	} {
		first, err := json.Marshal(tt.of)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(first, tt.read); err != nil {
			t.Fatal(err)
		}
		if second, err := json.Marshal(tt.read); err != nil || !bytes.Equal(first, second) {
			t.Errorf("%s changes when it is read and written again (%v)", tt.name, err)
		}
		schema, err := jsonschema.NewCompiler().Compile(filepath.Join("schema", tt.schema))
		if err != nil {
			t.Fatal(err)
		}
		written, err := jsonschema.UnmarshalJSON(bytes.NewReader(first))
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(written); err != nil {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
}
