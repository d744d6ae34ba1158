package models_test

import (
	"bytes"
	"encoding/json"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	ort "github.com/yalue/onnxruntime_go"

	"holdfast/models"
	_ "holdfast/models/testruntime"
)

// The shipped ONNX files against the published files, run by a runner that shares
// nothing with ours (TensorFlow.js and its tfjs-tflite; scripts/record-reference). Both
// compute in 32 bits but add in another order, through up to 250 convolutions;
// the tolerances are three to ten times the largest differences seen, and far
// below anything that moves an angle.
const (
	tolPointPx    = 0.01  // x, y, z of a keypoint, of 256 px
	tolLogit      = 0.005 // raw visibility, presence, heat map
	tolPresence   = 3e-5  // probability
	tolWorldM     = 2e-4  // metres
	tolBoxPx      = 0.005 // of 224 px
	tolScoreLogit = 0.002
	tolHeat       = 2e-5 // probability
	tolCells      = 5e-4 // of 64 cells
)

type referenceFile struct {
	Cases []referenceCase `json:"cases"`
}

type referenceCase struct {
	Input string `json:"input"`
	// Landmark networks.
	Landmarks []float64    `json:"landmarks"`
	Presence  []float64    `json:"presence"`
	World     []float64    `json:"world"`
	Heatmap   [][4]float64 `json:"heatmap"` // row and column of the largest value, that value, mean of all
	// Heat maps round a body's middle: Heatmap, and Centre alike; Regress and Offset at
	// the recorded middle; Points as y, x, score.
	Centre  []float64   `json:"centre"`
	Regress []float64   `json:"regress"`
	Offset  []float64   `json:"offset"`
	Points  [][]float64 `json:"points"`
	// Box round a shoe: nine x, y, and the probability.
	Box   []float64 `json:"box"`
	Score []float64 `json:"score"`
	// Detector.
	Anchors []int       `json:"anchors"`
	Scores  []float64   `json:"scores"`
	Boxes   [][]float64 `json:"boxes"`
}

func TestSameAsPublishedNetwork(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	startRuntime(t)
	for _, name := range []string{"detector", "heavy", "full", "thunder", "shoe"} {
		t.Run(name, func(t *testing.T) {
			model, err := models.Load(name)
			if err != nil {
				t.Fatal(err)
			}
			data, err := os.ReadFile(filepath.Join("..", "testdata", "reference", "network_"+name+".json"))
			if err != nil {
				t.Fatal(err)
			}
			var reference referenceFile
			if err := json.Unmarshal(data, &reference); err != nil {
				t.Fatal(err)
			}
			if len(reference.Cases) < 2 {
				t.Fatalf("%d recorded cases, want a generated and a real picture", len(reference.Cases))
			}
			for _, want := range reference.Cases {
				t.Run(want.Input, func(t *testing.T) {
					if want.Input != "generated" && !seesPerson(want) {
						t.Error("the recording saw nobody in the real picture")
					}
					got := run(t, model, input(t, model.Manifest.Input, want.Input))
					switch model.Manifest.Decoder {
					case models.DecoderDetector:
						compareDetector(t, got, want)
					case models.DecoderCentred:
						compareCentred(t, got, want)
					case models.DecoderBox:
						near(t, "box", wide(got["box"]), want.Box, tolBoxPx)
						near(t, "score", wide(got["score"]), want.Score, tolPresence)
					default:
						compareLandmarks(t, got, want)
					}
				})
			}
		})
	}
}

func compareDetector(t *testing.T, got map[string][]float32, want referenceCase) {
	if len(want.Anchors) < 50 {
		t.Fatalf("%d recorded anchors", len(want.Anchors))
	}
	var scores, boxes, wantBoxes []float64
	for i, anchor := range want.Anchors {
		scores = append(scores, float64(got["scores"][anchor]))
		boxes = append(boxes, wide(got["boxes"][12*anchor:12*anchor+12])...)
		wantBoxes = append(wantBoxes, want.Boxes[i]...)
	}
	near(t, "scores", scores, want.Scores, tolScoreLogit)
	near(t, "boxes", boxes, wantBoxes, tolBoxPx)
}

func compareLandmarks(t *testing.T, got map[string][]float32, want referenceCase) {
	var points, wantPoints, logits, wantLogits []float64
	for k := range 39 {
		row, wantRow := wide(got["landmarks"][5*k:5*k+5]), want.Landmarks[5*k:5*k+5]
		points, wantPoints = append(points, row[:3]...), append(wantPoints, wantRow[:3]...)
		logits, wantLogits = append(logits, row[3:]...), append(wantLogits, wantRow[3:]...)
	}
	near(t, "keypoints", points, wantPoints, tolPointPx)
	near(t, "visibility and presence", logits, wantLogits, tolLogit)
	near(t, "person's presence", wide(got["presence"]), want.Presence, tolPresence)
	near(t, "world", wide(got["world"]), want.World, tolWorldM)

	compareMaps(t, "heat map", got["heatmap"], want.Heatmap, tolLogit)
}

func compareCentred(t *testing.T, got map[string][]float32, want referenceCase) {
	compareMaps(t, "heat map", got["heatmap"], want.Heatmap, tolHeat)
	compareMaps(t, "centre map", got["centre"], [][4]float64{[4]float64(want.Centre)}, tolHeat)
	middle := 64*int(want.Centre[0]) + int(want.Centre[1])
	near(t, "regress", wide(got["regress"][34*middle:34*middle+34]), want.Regress, tolCells)
	near(t, "offset", wide(got["offset"][34*middle:34*middle+34]), want.Offset, tolCells)
}

// compareMaps compares maps of 64 x 64 cells with what was recorded of each: row and
// column of the largest value, that value, mean of all.
func compareMaps(t *testing.T, what string, maps []float32, want [][4]float64, tolerance float64) {
	t.Helper()
	var values, wantValues []float64
	for k, peak := range want {
		largest, sum := math.Inf(-1), 0.0
		for i := range 64 * 64 {
			v := float64(maps[len(want)*i+k])
			largest, sum = math.Max(largest, v), sum+v
		}
		// The value at the recorded place shows a shift of the map, the largest
		// one a second peak; two equal peaks may change places.
		at := 64*int(peak[0]) + int(peak[1])
		values = append(values, float64(maps[len(want)*at+k]), largest, sum/(64*64))
		wantValues = append(wantValues, peak[2], peak[2], peak[3])
	}
	near(t, what, values, wantValues, tolerance)
}

// seesPerson says whether a recording holds a person, or a shoe, above the threshold
// of one half: a picture without one would prove little.
func seesPerson(c referenceCase) bool {
	if len(c.Scores) > 0 {
		return slices.Max(c.Scores) > 0
	}
	if len(c.Box) > 0 {
		return c.Score[0] > 0.5
	}
	if len(c.Points) > 0 {
		return !slices.ContainsFunc(c.Points, func(p []float64) bool { return p[2] < 0.2 })
	}
	return len(c.Presence) == 1 && c.Presence[0] > 0.5
}

func near(t *testing.T, what string, got, want []float64, tolerance float64) {
	t.Helper()
	if len(got) != len(want) || len(want) == 0 {
		t.Errorf("%s: %d values, want %d", what, len(got), len(want))
		return
	}
	worst, at := 0.0, 0
	for i := range got {
		// Written so that NaN is the worst of all.
		if d := math.Abs(got[i] - want[i]); !(d <= worst) {
			worst, at = d, i
		}
	}
	if !(worst <= tolerance) {
		t.Errorf("%s: value %d is %g, want %g within %g", what, at, got[at], want[at], tolerance)
	}
	t.Logf("%s: largest difference %.2g, allowed %g", what, worst, tolerance)
}

// input returns a picture as the manifest wants it: the generated pattern, or a
// PNG of testdata/reference that has the network's size.
func input(t *testing.T, in models.Input, name string) []float32 {
	t.Helper()
	at := func(x, y, c int) uint8 { return uint8((7*x + 13*y + 29*c + (x*y)%97) % 256) }
	if name != "generated" {
		data, err := os.ReadFile(filepath.Join("..", "testdata", "reference", name))
		if err != nil {
			t.Fatal(err)
		}
		picture, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if b := picture.Bounds(); b.Dx() != in.Width || b.Dy() != in.Height {
			t.Fatalf("%s is %v, want %d x %d", name, b, in.Width, in.Height)
		}
		at = func(x, y, c int) uint8 {
			r, g, b, _ := picture.At(x, y).RGBA()
			return uint8([]uint32{r, g, b}[c] >> 8)
		}
	}
	values := make([]float32, 0, 3*in.Width*in.Height)
	for c := range 3 {
		for y := range in.Height {
			for x := range in.Width {
				values = append(values, float32(in.Min+float64(at(x, y, c))/255*(in.Max-in.Min)))
			}
		}
	}
	return values
}

// run returns the outputs of a network by name, their shapes checked against
// the manifest.
func run(t *testing.T, model *models.Model, picture []float32) map[string][]float32 {
	t.Helper()
	m := model.Manifest
	names := make([]string, len(m.Outputs))
	for i, o := range m.Outputs {
		names[i] = o.Name
	}
	session, err := ort.NewDynamicAdvancedSessionWithONNXData(model.ONNX, []string{m.Input.Name}, names, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer destroy(t, session)
	in, err := ort.NewTensor(ort.NewShape(1, 3, int64(m.Input.Height), int64(m.Input.Width)), picture)
	if err != nil {
		t.Fatal(err)
	}
	defer destroy(t, in)
	out := make([]ort.Value, len(names))
	if err := session.Run([]ort.Value{in}, out); err != nil {
		t.Fatal(err)
	}
	results := map[string][]float32{}
	for i, value := range out {
		defer destroy(t, value)
		tensor, ok := value.(*ort.Tensor[float32])
		if !ok {
			t.Fatalf("%s is no tensor of 32-bit floats", names[i])
		}
		var shape []int
		for _, d := range tensor.GetShape() {
			shape = append(shape, int(d))
		}
		if !slices.Equal(shape, m.Outputs[i].Shape) {
			t.Fatalf("%s has the shape %v, the manifest says %v", names[i], shape, m.Outputs[i].Shape)
		}
		results[names[i]] = slices.Clone(tensor.GetData())
	}
	return results
}

// What is not in the library cannot be left on by mistake. The one that has a collector
// shows that it would be noticed.
func TestRuntimeInUseHasNoCollector(t *testing.T) {
	for folder, want := range map[string]bool{"onnxruntime": false, "onnxruntime-with-telemetry": true} {
		library := models.RuntimeIn(filepath.Join("..", ".runtime", folder))
		if library == "" {
			t.Fatalf("there is no library in .runtime/%s, run scripts/setup --test", folder)
		}
		code, err := os.ReadFile(library)
		if err != nil {
			t.Fatal(err)
		}
		for _, part := range []string{"ORT_DISABLE_TELEMETRY", "OneCollector", "getaddrinfo"} {
			if bytes.Contains(code, []byte(part)) != want {
				t.Errorf("%s: %s is there: %v", library, part, !want)
			}
		}
	}
}

func startRuntime(t *testing.T) {
	t.Helper()
	library, err := models.RuntimeLibrary()
	if err != nil {
		t.Fatal(err)
	}
	ort.SetSharedLibraryPath(library)
	if err := ort.InitializeEnvironment(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := ort.DestroyEnvironment(); err != nil {
			t.Error(err)
		}
	})
}

func destroy(t *testing.T, d interface{ Destroy() error }) {
	t.Helper()
	if err := d.Destroy(); err != nil {
		t.Error(err)
	}
}

func wide(values []float32) []float64 {
	result := make([]float64, len(values))
	for i, v := range values {
		result[i] = float64(v)
	}
	return result
}
