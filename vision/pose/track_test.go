package pose

import (
	"math"
	"slices"
	"testing"

	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

func TestTrackHeads(t *testing.T) {
	nan := Keypoint{X: math.NaN(), Y: math.NaN()}
	tr := &Track{KeypointNames: []string{"nose", "left_ear", "right_ear", "left_shoulder", "left_hip"}, Poses: []Pose{
		{TimeS: 0, Found: true, Keypoints: []Keypoint{{X: 120, Y: 60, Visibility: 1}, nan, {X: 100, Y: 60, Visibility: 0.9},
			{X: 98, Y: 100}, {X: 95, Y: 200}}},
		{TimeS: 0.5, Index: 1},
		{TimeS: 1, Index: 2, Found: true, Keypoints: []Keypoint{{X: 220, Y: 60, Visibility: 0.1}, nan,
			{X: 200, Y: 60, Visibility: 0.1}, {X: 198, Y: 100}, {X: 195, Y: 200}}},
		{TimeS: 1.5, Index: 3, Found: true, Keypoints: []Keypoint{{X: 220, Y: 60}}}, // too few points
	}}
	covers := func(d paint.Disc, p plane.XY) bool { return math.Hypot(p.X-d.At.X, p.Y-d.At.Y) <= d.RadiusPx }
	h := tr.Heads(640, 360)
	sure, unsure := h.At(0)[0], h.At(1)[0]
	if !covers(sure, plane.XY{X: 120, Y: 60}) || unsure.RadiusPx < 1.2*sure.RadiusPx {
		t.Errorf("a head that is seen %v, one that is not %v", sure, unsure)
	}
	for x := 100.0; x <= 200; x += 10 {
		if !slices.ContainsFunc(h.At(0.5), func(d paint.Disc) bool { return covers(d, plane.XY{X: x, Y: 60}) }) {
			t.Errorf("between two places, %v px is not covered", x)
		}
	}
}
