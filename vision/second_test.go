package vision

import (
	"math"
	"testing"

	"holdfast/models"
	"holdfast/vision/decode"
	"holdfast/vision/pose"
)

// A point that both networks see lies in the middle, one that only the first sees where that put it, and one of which
// they think quite differently as well.
func TestSecondLookSettles(t *testing.T) {
	names := []string{"nose", "left_hip", "right_hip", "left_heel"}
	s := &secondLook{at: []int{0, 1, 2}, mirrored: []int{0, 2, 1}, reach: &reach{rule: &models.Reach{MinScore: 0.3}}}
	region := Region{CX: 100, CY: 100, SizePx: 200} // its parts are pixels over 200
	const near, between, far = 200 * agreedPart, 200 * (agreedPart + disputedPart) / 2, 200 * disputedPart
	points := func(right float64) []pose.Keypoint {
		return []pose.Keypoint{{X: 100, Y: 20}, {X: 60, Y: 100}, {X: 140 + right, Y: 100}, {X: 60, Y: 180}}
	}
	type place struct{ x, y, visibility float64 }
	tests := []struct {
		name  string
		again []place
		want  []pose.Keypoint
	}{
		{"alike", []place{{100, 20, 1}, {60, 100, 1}, {140, 100, 1}}, points(0)},
		{"a little apart", []place{{100, 20, 1}, {60, 100, 1}, {140 + near, 100, 1}}, points(near / 2)},
		{"half disputed", []place{{100, 20, 1}, {60, 100, 1}, {140 + between, 100, 1}}, points(between / 4)},
		{"disputed", []place{{100, 20, 1}, {60, 100, 1}, {140 + far, 100, 1}}, points(0)},
		{"not seen", []place{{100, 20, 1}, {60, 100, 1}, {140 + near, 100, 0.2}}, points(0)},
		{"other sides", []place{{100, 20, 1}, {140 + near, 100, 1}, {60, 100, 1}}, points(near / 2)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			again := make([]decode.Landmark, len(tt.again))
			for i, p := range tt.again {
				again[i] = decode.Landmark{U: p.x / 200, V: p.y / 200, Visibility: p.visibility}
			}
			got := points(0)
			s.settle(got, again, region)
			for i, w := range tt.want {
				if math.Hypot(got[i].X-w.X, got[i].Y-w.Y) > 1e-9 {
					t.Errorf("%s lies at %g, %g, want %g, %g", names[i], got[i].X, got[i].Y, w.X, w.Y)
				}
			}
		})
	}
}

// What the second network adds never jumps: its share changes evenly with how far apart both put the point.
func TestSecondShareIsEven(t *testing.T) {
	moved := func(apart float64) float64 { return apart * secondShare(apart) }
	const step = 1e-4
	for apart := 0.0; apart < 2*disputedPart; apart += step {
		if by := math.Abs(moved(apart+step) - moved(apart)); by > 1.01*step {
			t.Errorf("from %g to %g apart the point moves by %g", apart, apart+step, by)
		}
	}
	if secondShare(0) != 0.5 || secondShare(2*disputedPart) != 0 {
		t.Errorf("got a share of %g in one place, of %g far away", secondShare(0), secondShare(2*disputedPart))
	}
}

func TestSecondLookNeedsKnownPoints(t *testing.T) {
	for _, model := range []string{"thunder+heavy", "heavy+shoe", "heavy+detector", "heavy+thunder+full"} {
		tracker, err := NewTracker(TrackerOptions{Model: model})
		if err == nil {
			t.Errorf("%s was taken", model)
			_ = tracker.Close()
		}
	}
}
