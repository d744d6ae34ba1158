package screening_test

import (
	"errors"
	"strings"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/screening"
	"holdfast/screening/footage"
	"holdfast/vision/pose"
)

// A clip that cannot be measured is told what was seen in it, and what would help it.
func TestRefusalsNameWhatWasSeen(t *testing.T) {
	// each changes every point of a frame, x and y from the middle of the feet, by side.
	each := func(track *pose.Track, move func(frame int, left bool, x, y *float64)) {
		for i := range track.Poses {
			for k := range track.Poses[i].Keypoints {
				p := &track.Poses[i].Keypoints[k]
				move(i, strings.HasPrefix(track.KeypointNames[k], "left"), &p.X, &p.Y)
			}
		}
	}
	const middlePx = 620 // where the athlete of fast_30 stands
	tests := []struct {
		name   string
		change func(track *pose.Track)
		err    error
		says   []string
		not    string
	}{
		{"stands", func(track *pose.Track) {
			for i := range track.Poses {
				track.Poses[i].Keypoints = track.Poses[i%20].Keypoints
			}
		}, screening.ErrNoReps, []string{"nothing in it goes as far as a rep of a known movement",
			"film one of these movements"}, "people"},
		{"two stand", func(track *pose.Track) {
			for i := range track.Poses {
				track.Poses[i].Keypoints = track.Poses[i%20].Keypoints
			}
			track.PeopleSeen = 2
		}, screening.ErrNoReps, []string{"nothing in it goes as far as a rep of a known movement",
			"two people are in the picture"}, ""},
		{"walks", func(track *pose.Track) {
			each(track, func(i int, _ bool, x, y *float64) { *x += 2 * float64(i-140) })
			track.PeopleSeen = 2 // else its angles would be measured
		}, screening.ErrNoReps, []string{"the feet travel"}, "goes as far"},
		{"from the front", func(track *pose.Track) {
			each(track, func(_ int, left bool, x, y *float64) {
				*x = middlePx + 0.2*(*x-middlePx) - 60
				if left {
					*x += 120
				}
			})
		}, screening.ErrNoReps, []string{"filmed from the front", "square to the athlete's side"}, "legs"},
		{"two embrace", func(track *pose.Track) {
			each(track, func(_ int, left bool, x, _ *float64) {
				if left {
					*x += 120
				}
			})
			for i := range track.Poses {
				track.Poses[i].Keypoints = track.Poses[i%20].Keypoints
			}
			track.PeopleSeen = 2
		}, screening.ErrNoReps, []string{"two people are in the picture"}, "from the front"},
		{"from behind", func(track *pose.Track) {
			each(track, func(_ int, left bool, x, y *float64) {
				*x = middlePx + 0.2*(*x-middlePx) + 60
				if left {
					*x -= 120
				}
			})
		}, screening.ErrCannotMeasure, []string{"filmed from behind"}, "legs"}, // the feet look as in a lunge
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			clip, track := tracks.Load(t, "fast_30")
			tt.change(track)
			_, err := screening.Measure(clip, track, screening.Options{View: footage.ViewSide})
			if !errors.Is(err, tt.err) {
				t.Fatalf("error %v, want %v", err, tt.err)
			}
			for _, want := range tt.says {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("%q does not say %q", err, want)
				}
			}
			if tt.not != "" && strings.Contains(err.Error(), tt.not) {
				t.Errorf("%q says %q", err, tt.not)
			}
		})
	}
}
