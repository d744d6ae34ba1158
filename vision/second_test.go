package vision

import (
	"math"
	"slices"
	"testing"

	"holdfast/models"
	"holdfast/vision/decode"
	"holdfast/vision/media"
	"holdfast/vision/plane"
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

// What the second network adds goes an even way from one of its looks to the next, stays where none follows, and is
// asked for anew where the athlete is found anew.
func TestJoint(t *testing.T) {
	const stepS = 1.0 / 60
	type frame struct {
		found, again bool    // seen by the leading network, and for the first time since a loss
		adds         float64 // what the second one would add
		want         float64 // what is added
	}
	see := func(adds, want float64) frame { return frame{true, false, adds, want} }
	passed := frame{}
	tests := []struct {
		name   string
		frames []frame
		looks  []int
	}{
		{"each frame is seen", []frame{see(0, 0), see(9, 1), see(9, 2), see(9, 3), see(4, 4), see(9, 4)}, []int{0, 4}},
		{"seldom", []frame{see(1, 1), passed, passed, passed, passed, see(3, 3), passed, passed, passed, see(2, 2)},
			[]int{0, 5, 9}},
		{"between two looks", []frame{see(0, 0), passed, see(9, 4), passed, see(8, 8)}, []int{0, 4}},
		{"found anew", []frame{see(2, 2), see(9, 2), {true, true, 5, 5}, see(9, 5)}, []int{0, 2}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			j := joint{track: &pose.Track{}, gapS: leastAgainS, at: -1}
			var looks []int
			for i, f := range tt.frames {
				s := &sight{pose: pose.Pose{Found: f.found, Passed: !f.found, Redetected: f.again, TimeS: float64(i) * stepS}}
				s.Frame = &media.Frame{TimeS: s.pose.TimeS}
				if f.found {
					s.pose.Keypoints = []pose.Keypoint{{X: 100, Y: 50}}
				}
				if j.due(s) {
					looks = append(looks, i)
					s.pose.Keypoints[0].X += f.adds
					j.looked(s.pose.TimeS, []plane.XY{{X: f.adds}})
				}
				j.track.Poses = append(j.track.Poses, s.pose)
			}
			j.end()
			if !slices.Equal(looks, tt.looks) {
				t.Errorf("the second network looks at %v, want %v", looks, tt.looks)
			}
			for i, f := range tt.frames {
				if p := j.track.Poses[i]; f.found && math.Hypot(p.Keypoints[0].X-100-f.want, p.Keypoints[0].Y-50) > 1e-9 {
					t.Errorf("frame %d: %.3f is added, want %.3f", i, p.Keypoints[0].X-100, f.want)
				}
			}
		})
	}
	j := joint{track: &pose.Track{}, at: -1}
	lost := &sight{}
	lost.Frame = &media.Frame{}
	if j.due(lost) {
		t.Error("it is to look where the leading network saw nobody")
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
