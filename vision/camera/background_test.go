package camera

import (
	"math"
	"testing"

	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// Before a plain wall the way that is followed from frame to frame may drift away, or end. Where the pictures of the
// first pass lie near the first one, the camera stays near it.
func TestBackgroundThatDrifts(t *testing.T) {
	const n = 100
	for _, tt := range []struct {
		name      string
		near      float64
		atPx      func(i int) float64 // negative: not known
		moved     bool
		lastKnown bool
		lastPx    float64
	}{
		{"drifts by half a picture", 2, func(i int) float64 { return float64(3 * i) }, false, false, 0},
		{"goes as far, and was seen to", 0, func(i int) float64 { return float64(3 * i) }, true, true, 297},
		{"sways", 2, func(i int) float64 { return float64(i % 5) }, true, true, 4},
		{"sways, and is lost", 2, func(i int) float64 {
			if i > 60 {
				return -1
			}
			return float64(i % 5)
		}, true, true, 0},
		{"is lost where it went far", 0, func(i int) float64 {
			if i > 60 {
				return -1
			}
			return float64(3 * i)
		}, true, false, 0},
	} {
		b := &Background{clip: &media.Clip{WidthPx: 640, HeightPx: 360}, near: tt.near, plumb: newPlumb()}
		track := &pose.Track{}
		for i := range n {
			p := pose.Pose{Index: i, TimeS: float64(i) / 30}
			if px := tt.atPx(i); px >= 0 {
				p.Camera = plane.Similarity{Scale: 1, DXPx: px, Known: true}
			}
			track.Poses = append(track.Poses, p)
		}
		b.Finish(track)
		last := track.Poses[n-1].Camera
		if !track.CameraKnown || track.CameraMoved != tt.moved || last.Known != tt.lastKnown || last.DXPx != tt.lastPx {
			t.Errorf("%s: known %v, moved %v, at last %+v", tt.name, track.CameraKnown, track.CameraMoved, last)
		}
		if err := b.plumb.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// Where the camera stays near its place, what is not known of it is what is known beside it in the same scene.
func TestBridgeNear(t *testing.T) {
	const unknown = -1
	for _, tt := range []struct {
		name         string
		near         bool
		scenes       []int
		atPx, wantPx []float64
	}{
		{"far", false, []int{0, 0, 0, 0}, []float64{unknown, 1, unknown, unknown}, []float64{unknown, 1, unknown, unknown}},
		{"ends", true, []int{0, 0, 0, 0}, []float64{unknown, 1, 3, unknown}, []float64{1, 1, 3, 3}},
		{"between", true, []int{0, 0, 0, 0}, []float64{1, unknown, unknown, 4}, []float64{1, 2, 3, 4}},
		{"a cut between", true, []int{0, 0, 1, 1}, []float64{1, unknown, unknown, 4}, []float64{1, 1, 4, 4}},
		{"nothing of a scene", true, []int{0, 1, 1, 2}, []float64{1, unknown, unknown, 4}, []float64{1, unknown, unknown, 4}},
	} {
		poses := make([]pose.Pose, len(tt.atPx))
		for i, px := range tt.atPx {
			poses[i] = pose.Pose{TimeS: float64(i), Scene: tt.scenes[i]} // a second each: longer than is bridged else
			if px != unknown {
				poses[i].Camera = plane.Similarity{Scale: 1, DXPx: px, Known: true}
			}
		}
		bridgeCamera(poses, tt.near)
		for i, want := range tt.wantPx {
			if c := poses[i].Camera; c.Known != (want != unknown) || c.Known && math.Abs(c.DXPx-want) > 1e-9 {
				t.Errorf("%s: pose %d is at %+v, want %g", tt.name, i, c, want)
			}
		}
	}
}

func TestGlanceWithin(t *testing.T) {
	for _, tt := range []struct {
		name         string
		looks, known int
		movesPx      []float64
		want         float64
	}{
		{"near", 5, 5, []float64{0, 1, 2, 1, 2}, 1280 * nearPart},
		{"far", 5, 5, []float64{0, 1, 2, 9, 12}, 0},
		{"hardly seen", 9, 4, []float64{0, 1, 1, 1}, 0},
	} {
		g := &Glance{looks: tt.looks, known: tt.known, movesPx: tt.movesPx, longerPx: 1280}
		if got := g.within(); got != tt.want {
			t.Errorf("%s: %g, want %g", tt.name, got, tt.want)
		}
	}
}
