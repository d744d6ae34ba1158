package models

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestParseCalibrationRefuses(t *testing.T) {
	text := string(mustRead(t, "heavy.calibration.json"))
	if _, err := ParseCalibration([]byte(text)); err != nil {
		t.Fatal(err)
	}
	lineOf := func(s string) string {
		before, _, found := strings.Cut(text, s)
		if !found {
			t.Fatalf("the calibration holds no %s", s)
		}
		return fmt.Sprintf("line %d: ", 1+strings.Count(before, "\n"))
	}
	const lag, offset, lifted = `"heel_lag": 0.33`, `"fwd": 0.0075`, `"lifted": 2.3`
	tests := []struct {
		name     string
		old, new string
		want     []string // parts of the message
	}{
		{"mistyped field", lag, `"heel_lagg": 0.33`, []string{lineOf(lag) + "heel_lagg: no such field", "heel_lag: missing"}},
		{"field of other letters", lag, `"Heel_Lag": 0.33`, []string{"Heel_Lag: no such field", "heel_lag: missing"}},
		{"field missing", lag + ",", "", []string{"heel_lag: missing"}},
		{"field twice", lag, lag + `, "heel_lag": 0.1`, []string{lineOf(lag) + "heel_lag: twice there"}},
		{"null", lag, `"heel_lag": null`, []string{lineOf(lag) + "heel_lag: null"}},
		{"text for a number", lag, `"heel_lag": "much"`, []string{lineOf(lag) + "heel_lag: want a float64"}},
		{"object for a number", lag, `"heel_lag": {}`, []string{lineOf(lag) + "heel_lag: want a float64"}},
		{"number for an object", `"confidence": {"good": 0.7, "low": 0.5, "lost": 0.3}`, `"confidence": 1`,
			[]string{"confidence.good: missing"}},
		{"out of range", lag, `"heel_lag": 33`, []string{lineOf(lag) + "heel_lag: 33 is out of range, want 0 to 0.9"}},
		{"offset out of range", offset, `"fwd": -7.5`, []string{lineOf(offset) +
			"point_offsets_legs.shoulder.mean.fwd: -7.5 is out of range"}},
		{"spread below nothing", `"sd": {"fwd": 0.010`, `"sd": {"fwd": -0.010`,
			[]string{"point_offsets_legs.shoulder.sd.fwd: -0.01 is out of range"}},
		{"error out of range", lifted, `"lifted": 330`, []string{lineOf(lifted) +
			"angle_errors_deg.body.ankle_dorsiflexion.lifted: 330"}},
		{"two at once", lag, `"heel_lag": -1, "heel_lag_to_deg": 1e9, "x": 1`, []string{"heel_lag_to_deg: twice there"}},
		{"confidence out of order", `"low": 0.5`, `"low": 0.2`, []string{"confidence.low: 0.2 is out of range"}},
		{"other schema", CalibrationSchema, "holdfast/calibration/2", []string{"line 2: schema"}},
		{"short sum", `"network_sha256": "`, `"network_sha256": "0`, []string{"line 4: network_sha256"}},
		{"name with a path", `"network": "heavy"`, `"network": "../heavy"`, []string{"line 3: network"}},
		{"no version", `"version": 2`, `"version": 0`, []string{"line 5: version: 0"}},
		{"half a version", `"version": 2`, `"version": 1.5`, []string{"line 5: version: want a int"}},
		{"no day", `"date": "`, `"date": "on `, []string{"line 6: date"}},
		{"measured on nothing", `"measured_on": "`, `"measured_on": " ", "x": "`, []string{"line 7: x: no such field"}},
		{"no comma", lag + ",", lag, []string{"line ", "invalid character"}},
		{"cut off", text[len(text)/2:], "", []string{"it ends too early"}},
		{"nothing", text, "", []string{"line 1: it ends too early"}},
		{"no object", text, "null", []string{"null"}},
		{"something behind", text, text + "{}", []string{"something follows its end"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			spoilt := strings.Replace(text, tt.old, tt.new, 1)
			_, err := ParseCalibration([]byte(spoilt))
			for _, want := range tt.want {
				if err == nil || !strings.Contains(err.Error(), want) {
					t.Errorf("got the error %v, want one with %q", err, want)
				}
			}
		})
	}
}

// Every built-in calibration is that of the network beside it.
func TestBuiltInCalibrations(t *testing.T) {
	t.Setenv(FolderEnv, "")
	for _, name := range []string{"heavy", "full"} {
		m, err := parseManifest(mustRead(t, name+".json"))
		if err != nil {
			t.Fatal(err)
		}
		c, err := CalibrationOf(name, m.SHA256)
		if err != nil || c == nil || c.Network != name || c.Version < 1 {
			t.Errorf("%s: got %+v, %v", name, c, err)
		}
	}
}

// A calibration holds for the network that was measured, never for another one.
func TestCalibrationOfAnotherNetwork(t *testing.T) {
	heavy, err := parseManifest(mustRead(t, "heavy.json"))
	if err != nil {
		t.Fatal(err)
	}
	other := strings.Repeat("ab", 32)
	text := string(mustRead(t, "heavy.calibration.json"))
	ofOther := strings.NewReplacer(heavy.SHA256, other, `"version": 2`, `"version": 7`).Replace(text)
	tests := []struct {
		name      string
		files     map[string]string
		network   string
		sum       string
		version   int // 0: none
		corrupt   bool
		wantError string
	}{
		{"built in", nil, "heavy", heavy.SHA256, 2, false, ""},
		{"unknown", nil, "tiny", other, 0, false, ""},
		{"the person detector", nil, "detector", other, 0, false, ""},
		{"no name", nil, "", "", 0, false, ""},
		{"path", nil, "../models/heavy", heavy.SHA256, 0, false, ""},
		{"other file of the name", nil, "heavy", other, 0, false, ""},
		{"other file with its own", map[string]string{"heavy.calibration.json": ofOther}, "heavy", other, 7, false, ""},
		{"built in beside another's", map[string]string{"heavy.calibration.json": ofOther}, "heavy", heavy.SHA256, 2, false,
			""},
		{"renewed", map[string]string{"heavy.calibration.json": strings.Replace(text, `"version": 2`, `"version": 3`, 1)},
			"heavy", heavy.SHA256, 3, false, ""},
		{"of another name", map[string]string{"mine.calibration.json": text}, "mine", heavy.SHA256, 0, true,
			`that of "heavy"`},
		{"damaged", map[string]string{"heavy.calibration.json": "{"}, "heavy", heavy.SHA256, 0, true,
			"heavy.calibration.json: line 1"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			folder := t.TempDir()
			for name, content := range tt.files {
				if err := os.WriteFile(filepath.Join(folder, name), []byte(content), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			t.Setenv(FolderEnv, folder)
			c, err := CalibrationOf(tt.network, tt.sum)
			if errors.Is(err, ErrCorrupt) != tt.corrupt || tt.corrupt && !strings.Contains(err.Error(), tt.wantError) ||
				err != nil && !tt.corrupt {
				t.Fatalf("got the error %v", err)
			}
			version := 0
			if c != nil {
				version = c.Version
			}
			if version != tt.version {
				t.Errorf("got version %d, want %d", version, tt.version)
			}
			// A calibration is no network.
			if names, err := Names(); err != nil || slices.ContainsFunc(names, func(n string) bool {
				return strings.Contains(n,
					"calib")
			}) {
				t.Errorf("the networks are %v, %v", names, err)
			}
		})
	}
}

// FuzzParseCalibration: whatever a file holds, it is either refused in one piece or holds
// numbers that can be; nothing panics.
func FuzzParseCalibration(f *testing.F) {
	text := mustRead(f, "heavy.calibration.json")
	f.Add(text)
	f.Add(text[:200])
	f.Add([]byte(`{"remarks":[[[{}]],null],"schema":{"a":1}}`))
	f.Add([]byte(`[`))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := ParseCalibration(data)
		if err != nil {
			return
		}
		if bad := c.check(); len(bad) > 0 || c.Version < 1 || !(c.ErrorTimeS > 0) {
			t.Errorf("accepted with %v", bad)
		}
	})
}
