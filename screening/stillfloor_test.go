package screening_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/screening"
	"holdfast/vision/plane"
)

// A phone that is panned before a wall that shows nothing moves the feet in the picture:
// that is said, and what rests on a still floor is not given. One that stands keeps its
// numbers.
func TestPannedBeforeAPlainWall(t *testing.T) {
	for _, clip := range []string{"fast_30", "jump_30"} {
		for _, tt := range []struct {
			name    string
			known   bool // the background tells
			panPxS  float64
			floorOK bool
		}{
			{"stands", true, 0, true},
			{"stands before a wall", false, 0, true},
			{"panned before a wall", false, 4, false},
		} {
			t.Run(clip+" "+tt.name, func(t *testing.T) {
				c, track := tracks.Load(t, clip)
				track.CameraKnown = tt.known
				for i := range track.Poses {
					p := &track.Poses[i]
					for k := range p.Keypoints {
						p.Keypoints[k].X += tt.panPxS * p.TimeS
					}
				}
				a, err := screening.Measure(c, track, screening.Options{HeightCm: 180})
				if err != nil {
					t.Fatal(err)
				}
				if hasWarning(a, "camera_not_held", "") == tt.floorOK {
					t.Errorf("warnings %v", a.Warnings)
				}
				if len(a.Reps) != 3 {
					t.Fatalf("%d reps", len(a.Reps))
				}
				for i := range a.Reps {
					r := &a.Reps[i]
					if r.Support[0].MeanPct.Known() != tt.floorOK || r.Foot.Heel.MaxPctFoot.Known() != tt.floorOK {
						t.Errorf("rep %d: support point %v, heel %v", r.Number, r.Support[0].MeanPct, r.Foot.Heel.MaxPctFoot)
					}
					if r.Jump != nil && (math.IsNaN(r.Jump.RiseM) == tt.floorOK || math.IsNaN(r.Jump.HeightFromFlightM)) {
						t.Errorf("rep %d: rises %.2f m, %.2f by its flight", r.Number, r.Jump.RiseM, r.Jump.HeightFromFlightM)
					}
				}
			})
		}
	}
}

// Where a phone is carried the feet come off the floor in its picture though the wall behind stays, and the athlete
// does not fall. One that is turned, or stands, is not carried.
func TestCarriedPhone(t *testing.T) {
	for _, tt := range []struct {
		name    string
		moved   bool
		bobPx   float64
		carried bool
	}{{"stands", false, 0, false}, {"turned", true, 0, false}, {"carried", true, 40, true}} {
		c, track := tracks.Load(t, "slow")
		track.CameraMoved = tt.moved
		// A picture that goes up and down is looked at in every frame.
		seen := slices.Clone(track.Poses)
		for i := range seen {
			if points := track.PointsAt(i); points != nil {
				seen[i].Keypoints, seen[i].Found, seen[i].Passed = slices.Clone(points), true, false
			}
		}
		track.Poses = seen
		for i := range track.Poses {
			p := &track.Poses[i]
			p.Camera = plane.Similarity{Scale: 1, Known: true}
			for k := range p.Keypoints {
				p.Keypoints[k].Y -= tt.bobPx * max(0, math.Sin(2*math.Pi*p.TimeS/1.2))
			}
		}
		a, err := screening.Measure(c, track, screening.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if hasWarning(a, "camera_carried", "") != tt.carried || hasWarning(a, "flight_doubted", "") {
			t.Errorf("%s: warnings %v", tt.name, a.Warnings)
		}
		for i := range a.Reps {
			if r := &a.Reps[i]; r.Support[0].MeanPct.Known() == tt.carried || r.Foot.Heel.MaxPctFoot.Known() == tt.carried {
				t.Errorf("%s: rep %d: support point %v, heel %v", tt.name, r.Number, r.Support[0].MeanPct, r.Foot.Heel.MaxPctFoot)
			}
		}
	}
}

// Feet that seem to leave the floor, as those that a plate hides do, are a jump in doubt where a rep may be a jump; a
// deadlift has none.
func TestNoFlightIsDoubtedWhereNoneIsLookedFor(t *testing.T) {
	for _, tt := range []struct {
		name    string
		doubted bool
	}{{"slow_30", true}, {"hinge_slow", false}, {"lunge_slow", false}} {
		c, track := tracks.Load(t, tt.name)
		for i := range track.Poses {
			p := &track.Poses[i]
			for k := range p.Keypoints {
				if at := track.KeypointNames[k]; strings.HasSuffix(at, "ankle") || strings.HasSuffix(at, "heel") ||
					strings.HasSuffix(at, "foot_index") {
					p.Keypoints[k].Y -= 60 * max(0, math.Sin(2*math.Pi*p.TimeS/0.7))
				}
			}
		}
		a, err := screening.Measure(c, track, screening.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(a.Reps) == 0 || hasWarning(a, "flight_doubted", "") != tt.doubted {
			t.Errorf("%s: %d reps of %q, warnings %v", tt.name, len(a.Reps), a.Movement.Key, a.Warnings)
		}
	}
}
