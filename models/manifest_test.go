package models

import (
	"encoding/json"
	"os"
	"strings"
	"testing"
)

// read returns a built-in manifest as loose JSON, to be spoiled by a test.
func read(t *testing.T, name string) map[string]any {
	t.Helper()
	data, err := os.ReadFile(name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	var loose map[string]any
	if err := json.Unmarshal(data, &loose); err != nil {
		t.Fatal(err)
	}
	return loose
}

func TestParseManifestRefuses(t *testing.T) {
	part := func(m map[string]any, name string) map[string]any { return m[name].(map[string]any) }
	tests := []struct {
		name  string
		model string
		spoil func(m map[string]any)
		want  string // part of the message
	}{
		{"mistyped field", "heavy", func(m map[string]any) { m["licnce"] = "x" }, "licnce"},
		{"name with a path", "heavy", func(m map[string]any) { m["name"] = "../heavy" }, "name"},
		{"file outside", "heavy", func(m map[string]any) { m["file"] = "../heavy.onnx" }, "file"},
		{"file on another system's path", "heavy", func(m map[string]any) { m["file"] = `..\heavy.onnx` }, "file"},
		{"short sum", "heavy", func(m map[string]any) { m["sha256"] = "abcd" }, "sha256"},
		{"upper-case sum", "heavy", func(m map[string]any) { m["sha256"] = strings.Repeat("AB", 32) }, "sha256"},
		{"no licence", "heavy", func(m map[string]any) { m["licence"] = "" }, "licence"},
		{"empty picture", "heavy", func(m map[string]any) { part(m, "input")["width"] = 0 }, "size"},
		{"absurd picture", "heavy", func(m map[string]any) { part(m, "input")["height"] = 1 << 40 }, "size"},
		{"other layout", "heavy", func(m map[string]any) { part(m, "input")["layout"] = "NHWC" }, "layout"},
		{"other colour", "heavy", func(m map[string]any) { part(m, "input")["colour"] = "BGR" }, "colour"},
		{"empty range", "heavy", func(m map[string]any) { part(m, "input")["max"] = 0 }, "range"},
		{"unknown border", "heavy", func(m map[string]any) { part(m, "input")["border"] = "white" }, "border"},
		{"unknown decoder", "heavy", func(m map[string]any) { m["decoder"] = "other" }, "decoder"},
		{"wrong part", "heavy", func(m map[string]any) { m["decoder"] = DecoderDetector }, "decoder"},
		{"no keypoints", "heavy", func(m map[string]any) { m["keypoints"] = []any{} }, "keypoints"},
		{"keypoint twice", "heavy", func(m map[string]any) {
			k := m["keypoints"].([]any)
			k[1] = k[0]
		}, "twice"},
		{"keypoint too few", "heavy", func(m map[string]any) {
			k := m["keypoints"].([]any)
			m["keypoints"] = append(k[:5:5], k[6:]...)
		}, "values"},
		{"region without its point", "heavy", func(m map[string]any) { part(m, "region")["centre"] = "navel" }, "navel"},
		{"region of no size", "heavy", func(m map[string]any) { part(m, "region")["scale_factor"] = 0 }, "scale factor"},
		{"smoothing without a cutoff", "heavy", func(m map[string]any) {
			part(part(m, "region"), "smoothing")["min_cutoff_hz"] = 0
		}, "smoothing"},
		{"even kernel", "heavy", func(m map[string]any) { part(m, "landmarks")["heatmap_kernel"] = 6 }, "kernel"},
		{"presence over 1", "heavy", func(m map[string]any) { part(m, "landmarks")["min_presence"] = 1.5 }, "presence"},
		{"heat map missing", "heavy", func(m map[string]any) { part(m, "landmarks")["heatmap"] = "warmth" }, "warmth"},
		{"negative shape", "heavy", func(m map[string]any) {
			m["outputs"].([]any)[0].(map[string]any)["shape"] = []any{-1, -195}
		}, "shape"},
		{"anchors too few", "detector", func(m map[string]any) {
			a := part(part(m, "detector"), "anchors")
			a["layers"] = a["layers"].([]any)[:2]
		}, "values"},
		{"stride of nothing", "detector", func(m map[string]any) {
			part(part(m, "detector"), "anchors")["layers"] = []any{map[string]any{"stride_px": 0, "per_cell": 1}}
		}, "stride"},
		{"part of another decoder", "thunder", func(m map[string]any) { m["detector"] = read(t, "detector")["detector"] },
			"needs nothing"},
		{"part missing", "thunder", func(m map[string]any) { delete(m, "centred") }, "missing"},
		{"both rules of a region", "thunder", func(m map[string]any) { part(m, "region")["scale_factor"] = 1 }, "either"},
		{"reach without a torso", "thunder", func(m map[string]any) { part(part(m, "region"), "reach")["torso"] = []any{} },
			"without points"},
		{"reach of no size", "thunder", func(m map[string]any) { part(part(m, "region"), "reach")["body_factor"] = 0 },
			"factors"},
		{"reach of another network's point", "thunder", func(m map[string]any) {
			part(part(m, "region"), "reach")["centre"] = []any{"navel"}
		}, "navel"},
		{"heat maps round no region by reach", "thunder", func(m map[string]any) {
			m["region"] = map[string]any{"centre": "nose", "scale": "left_hip", "scale_factor": 1}
		}, "by reach"},
		{"no softening", "thunder", func(m map[string]any) { part(m, "centred")["softening_cells"] = 0 }, "softening"},
		{"centre map missing", "thunder", func(m map[string]any) { part(m, "centred")["centre"] = "heatmap" }, "centre map"},
		{"regress of one value a point", "thunder", func(m map[string]any) { part(m, "centred")["regress"] = "heatmap" },
			"values"},
		{"box with a region", "shoe", func(m map[string]any) {
			m["region"] = map[string]any{"centre": "middle", "scale": "toe_1", "scale_factor": 1}
		}, "want none"},
		{"box without a heel", "shoe", func(m map[string]any) { part(m, "box")["heel"] = []any{} }, "corners"},
		{"box of a corner that is not there", "shoe", func(m map[string]any) { part(m, "box")["middle"] = "navel" }, "navel"},
		{"box of two values too few", "shoe", func(m map[string]any) {
			k := m["keypoints"].([]any)
			m["keypoints"] = k[:8]
		}, "values"},
		{"box longest below shortest", "shoe", func(m map[string]any) { part(m, "box")["max_shanks"] = 0.1 }, "out of range"},
		{"overlap over 1", "detector", func(m map[string]any) { part(m, "detector")["max_overlap"] = 2 }, "overlap"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			loose := read(t, tt.model)
			tt.spoil(loose)
			data, err := json.Marshal(loose)
			if err != nil {
				t.Fatal(err)
			}
			_, err = parseManifest(data)
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got the error %v, want one with %q", err, tt.want)
			}
		})
	}
	data, err := json.Marshal(read(t, "heavy"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := parseManifest(append(data, "{}"...)); err == nil {
		t.Error("something behind the manifest was accepted")
	}
}

func TestAnchorCentres(t *testing.T) {
	m, err := parseManifest(mustRead(t, "detector.json"))
	if err != nil {
		t.Fatal(err)
	}
	a := m.Detector.Anchors
	centres := a.Centres(m.Input.Width, m.Input.Height)
	// 28 x 28 cells of 2, 14 x 14 of 2, 7 x 7 of 6.
	if want := 28*28*2 + 14*14*2 + 7*7*6; len(centres) != want || a.Count(m.Input.Width, m.Input.Height) != want {
		t.Fatalf("%d anchors, counted %d, want %d", len(centres), a.Count(m.Input.Width, m.Input.Height), want)
	}
	tests := []struct {
		index int
		x, y  float64
	}{
		{0, 0.5 / 28, 0.5 / 28},
		{1, 0.5 / 28, 0.5 / 28},
		{2, 1.5 / 28, 0.5 / 28},
		{56, 0.5 / 28, 1.5 / 28}, // second row
		{1568, 0.5 / 14, 0.5 / 14},
		{1960, 0.5 / 7, 0.5 / 7},
		{2253, 6.5 / 7, 6.5 / 7},
	}
	for _, tt := range tests {
		if c := centres[tt.index]; c != [2]float64{tt.x, tt.y} {
			t.Errorf("anchor %d lies at %v, want %v, %v", tt.index, c, tt.x, tt.y)
		}
	}
}

// FuzzParseManifest: whatever a file holds, it is either refused or described
// by a manifest whose numbers fit together; nothing panics.
func FuzzParseManifest(f *testing.F) {
	for _, name := range []string{"detector", "heavy", "full", "thunder", "shoe"} {
		f.Add(mustRead(f, name+".json"))
	}
	f.Add([]byte(`{"name":"x"}`))
	f.Add([]byte(`{"decoder":"blazepose_detector","detector":{"anchors":{"layers":[{"stride_px":1,"per_cell":9}]}}}`))
	f.Add([]byte(`null`))
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := parseManifest(data)
		if err != nil {
			return
		}
		if m.Box == nil && m.Region.Reach == nil && (m.KeypointIndex(m.Region.Centre) < 0 ||
			m.KeypointIndex(m.Region.Scale) < 0) {
			t.Error("the region's points are no keypoints")
		}
		if m.Detector != nil {
			anchors := len(m.Detector.Anchors.Centres(m.Input.Width, m.Input.Height))
			if got := elements(m.Output(m.Detector.Scores).Shape); got != anchors {
				t.Errorf("%d scores for %d anchors", got, anchors)
			}
		}
		if m.Landmarks != nil && elements(m.Output(m.Landmarks.Points).Shape) != 5*len(m.Keypoints) {
			t.Error("points and keypoints differ in number")
		}
		if m.Centred != nil {
			if cells := elements(m.Output(m.Centred.Centre).Shape); elements(m.Output(m.Centred.Heatmap).Shape) !=
				cells*len(m.Keypoints) || m.Region.Reach == nil {
				t.Error("maps and keypoints do not fit together")
			}
		}
	})
}

func mustRead(tb testing.TB, file string) []byte {
	tb.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		tb.Fatal(err)
	}
	return data
}
