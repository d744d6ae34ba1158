package tracks_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/internal/golden"
	"holdfast/internal/tracks"
	"holdfast/screening"
	"holdfast/testdata/clips"
	shipped "holdfast/testdata/tracks"
)

// What the example shows without asking the network is what the program measures in its clips.
func TestExampleIsWhatIsMeasured(t *testing.T) {
	for _, file := range clips.Example {
		name := strings.TrimSuffix(file, ".mp4")
		want, _ := tracks.Analysis(t, name, screening.Options{})
		if golden.Update() {
			only := screening.Analysis{Schema: want.Schema, Clip: want.Clip}
			only.Clip.Path = ""
			text, err := json.Marshal(&only)
			if err != nil {
				t.Fatal(err)
			}
			var doc map[string]json.RawMessage
			if err := json.Unmarshal(text, &doc); err != nil {
				t.Fatal(err)
			}
			if text, err = json.Marshal(map[string]json.RawMessage{"schema": doc["schema"], "clip": doc["clip"]}); err != nil {
				t.Fatal(err)
			}
			to := filepath.Join("..", "..", "testdata", "tracks", name+".clip.json")
			if err := os.WriteFile(to, append(text, '\n'), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		info, track, err := shipped.Of(name)
		if err != nil {
			t.Fatal(err)
		}
		got, err := screening.MeasureAgain(info, track, screening.Options{})
		if err != nil {
			t.Fatal(err)
		}
		got.Clip, want.Clip.Path = info, ""
		a, err := json.Marshal(got)
		if err != nil {
			t.Fatal(err)
		}
		b, err := json.Marshal(want)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a, b) {
			t.Errorf("%s: what is shipped gives other numbers than the clip (%d and %d bytes)", name, len(a), len(b))
		}
	}
}
