package report

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"holdfast/internal/compared"
	"holdfast/internal/pdftext"
	"holdfast/printable"
	"holdfast/report/measures"
	"holdfast/screening"
)

// nasty is what a file's name or a clip's tags can hold: what works a terminal, begins a
// line, turns the direction of writing, is not seen, or is not UTF-8.
const nasty = "=a\x1b[2J\x07\nb\rc\td\u009b31m\u0085e\u202ef\u2066g\u200bh\u2028i\u2029j\x7fk\xff\ufeffl"

// inEveryText puts a text behind every text of a value that holds no number: those that
// choose what is done (tempos, sides, verdicts) keep what they are.
func inEveryText(v reflect.Value, keep func(field string) bool, text string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			inEveryText(v.Elem(), keep, text)
		}
	case reflect.Slice:
		for i := range v.Len() {
			inEveryText(v.Index(i), keep, text)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() && !keep(f.Name) {
				inEveryText(v.Field(i), keep, text)
			}
		}
	case reflect.String:
		v.SetString(text + v.String())
	}
}

// keys are the fields whose texts choose what is drawn, or name a file to open.
func keys(field string) bool {
	switch field {
	case "Schema", "Path", "Tempo", "Baseline", "Challenge", "Joint", "Position", "Phase", "Verdict", "Facing",
		"NearSide", "Side", "Key", "Keys", "Measure", "Angle", "Parent", "Kind", "Unit", "Tempos":
		return true
	}
	return false
}

// TestNothingHiddenInResults writes an analysis and a comparison that hold such texts
// wherever there is a text, and looks at every file.
func TestNothingHiddenInResults(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it draws whole folders of results")
	}
	a, track, _ := compared.Short(t)
	inEveryText(reflect.ValueOf(a), keys, nasty)
	a.Clip.Name, a.Athlete = nasty, nasty
	track.KeypointNames = append([]string{}, track.KeypointNames...)
	track.KeypointNames[0], track.ModelName = nasty, nasty
	dir := t.TempDir()
	one := filepath.Join(dir, "one")
	if _, err := WriteAnalysis(t.Context(), one, a, track, Options{}); err != nil {
		t.Fatal(err)
	}
	c := compared.Full(t)
	inEveryText(reflect.ValueOf(c), keys, nasty)
	for _, a := range c.Analyses {
		inEveryText(reflect.ValueOf(a), keys, nasty)
	}
	both := filepath.Join(dir, "both")
	if _, err := WriteComparison(t.Context(), both, c, Options{Date: nasty}); err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		kind := filepath.Ext(path)
		seen[kind]++
		text := string(b)
		switch kind {
		case ".pdf":
			text = pdftext.Of(t, b)
			if strings.Contains(text, "�") || !strings.Contains(text, `\x1b`) {
				t.Errorf("%s does not show what is hidden", path)
			}
		case ".html", ".svg": // a tab is a blank there
			text = strings.ReplaceAll(text, "\t", " ")
		case ".json", ".csv":
		default: // pictures
			return nil
		}
		if at := strings.IndexFunc(strings.ReplaceAll(text, "\n", " "), printable.Hidden); at >= 0 {
			t.Errorf("%s holds %q", path, text[max(0, at-40):min(at+10, len(text))])
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for kind, least := range map[string]int{".json": 3, ".csv": 1, ".html": 2, ".svg": 1, ".pdf": 2} {
		if seen[kind] < least {
			t.Errorf("%d files of %s, want %d", seen[kind], kind, least)
		}
	}

	// JSON keeps the value.
	var back screening.Analysis
	b, err := os.ReadFile(filepath.Join(one, "analysis.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &back); err != nil || back.Clip.Name != strings.ToValidUTF8(nasty, "\ufffd") {
		t.Errorf("the clip's name is read back as %q: %v", back.Clip.Name, err)
	}
	// A table holds no formula.
	b, err = os.ReadFile(filepath.Join(one, "series.csv"))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(b))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		for _, cell := range row {
			if _, err := strconv.ParseFloat(cell, 64); err != nil && strings.HasPrefix(cell+" ", "=") {
				t.Fatalf("the table holds %q", cell)
			}
		}
	}
	if !strings.HasPrefix(rows[0][3], "'=a\\x1b") {
		t.Errorf("the first point's column is called %q", rows[0][3])
	}
}

// Words that a spreadsheet would calculate are led by an apostrophe.
func TestTextCell(t *testing.T) {
	for in, want := range map[string]string{
		"": "", "slow": "slow", "=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@SUM(A1)": "'@SUM(A1)", "\t=1": `\t=1`,
		"\r=1": `\r=1`, "a=1": "a=1",
	} {
		if got := measures.Text(in); got != want {
			t.Errorf("Text(%q) = %q, want %q", in, got, want)
		}
	}
}
