package vision

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"gocv.io/x/gocv"

	"holdfast/models"
	"holdfast/vision/decode"
)

func TestReach(t *testing.T) {
	// Hips at 0 and 1, shoulder at 2, ankle at 3, in parts of a region of 100 pixels.
	body := func(shoulderV, ankleV, ankleSeen float64) []decode.Landmark {
		return []decode.Landmark{
			{U: 0.48, V: 0.5, Visibility: 0.9}, {U: 0.52, V: 0.5, Visibility: 0.9},
			{U: 0.5, V: shoulderV, Visibility: 0.9}, {U: 0.6, V: ankleV, Visibility: ankleSeen},
		}
	}
	r := &reach{rule: &models.Reach{TorsoFactor: 1.9, BodyFactor: 1.2, MinScore: 0.2}, centre: []int{0, 1},
		torso: []int{2, 0, 1}}
	in := Region{CX: 200, CY: 300, SizePx: 100}
	for _, tt := range []struct {
		name   string
		points []decode.Landmark
		sizePx float64
	}{
		{"the legs decide", body(0.3, 0.9, 0.9), 2 * 1.2 * 40},
		{"the trunk decides", body(0.2, 0.9, 0.9), 2 * 1.9 * 30},
		{"an ankle that is not seen", body(0.4, 0.9, 0.1), 2 * 1.9 * 10},
	} {
		got := r.region(tt.points, in)
		if want := (Region{CX: 200, CY: 300, SizePx: tt.sizePx}); math.Hypot(got.CX-want.CX,
			got.CY-want.CY)+math.Abs(got.SizePx-want.SizePx) > 1e-9 || got.AngleRad != 0 {
			t.Errorf("%s: region %+v, want %+v", tt.name, got, want)
		}
	}
	for _, tt := range []struct {
		hips, shoulder float64
		want           bool
	}{{0.9, 0.9, true}, {0.1, 0.9, false}, {0.9, 0.1, false}} {
		points := body(0.3, 0.9, 0.9)
		points[0].Visibility, points[1].Visibility, points[2].Visibility = tt.hips, tt.hips, tt.shoulder
		if got := r.seen(points); got != tt.want {
			t.Errorf("hips %.1f, shoulder %.1f: seen %v", tt.hips, tt.shoulder, got)
		}
	}
}

// The published network's own result for a picture, run by TensorFlow.js
// (testdata/reference/network_thunder.json, recorded by scripts/record-reference), against
// ours: crop, network and decoder together.
func TestThunderAgainstReferenceRunner(t *testing.T) {
	if testing.Short() {
		t.Skip("a short run runs no network")
	}
	raw, err := os.ReadFile("../testdata/reference/network_thunder.json")
	if err != nil {
		t.Fatal(err)
	}
	var reference struct {
		Cases []struct {
			Input  string
			Points [][3]float64 // y, x, score
		}
	}
	if err := json.Unmarshal(raw, &reference); err != nil {
		t.Fatal(err)
	}
	tracker, err := NewTracker(TrackerOptions{Model: "thunder"})
	if err != nil {
		t.Fatal(err)
	}
	defer tracker.Close()
	compared := 0
	for _, c := range reference.Cases {
		if c.Input == "generated" {
			continue
		}
		picture := gocv.IMRead("../testdata/reference/"+c.Input, gocv.IMReadColor)
		defer picture.Close()
		if picture.Empty() {
			t.Fatalf("%s cannot be read", c.Input)
		}
		size := float64(picture.Cols())
		pose, _, err := tracker.scout.see(picture, Region{CX: size / 2, CY: size / 2, SizePx: size}, 1)
		if err != nil {
			t.Fatal(err)
		}
		if !pose.Found || len(pose.Keypoints) != len(c.Points) {
			t.Fatalf("%s: found %v with %d points, want %d", c.Input, pose.Found, len(pose.Keypoints), len(c.Points))
		}
		for i, want := range c.Points {
			k := pose.Keypoints[i]
			// A hundredth of a pixel, as for the other networks.
			if d := math.Hypot(k.X-want[1]*size, k.Y-want[0]*size); !(d < 0.01) || math.Abs(k.Visibility-want[2]) > 2e-5 {
				t.Errorf("%s: %s is %.4f px off, score %.5f, want %.5f", c.Input, tracker.scout.keypoints[i], d,
					k.Visibility, want[2])
			}
			compared++
		}
	}
	if compared != 17 {
		t.Errorf("%d points compared, want 17", compared)
	}
}
