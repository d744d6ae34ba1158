package screening_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/screening"
	"holdfast/vision/media"
)

// A lunge is turned away by what is seen of it. Two reps of a squat stay when only the third has its legs apart.
func TestLegsApartAreNotMeasured(t *testing.T) {
	whole, _ := tracks.Analysis(t, "fast_30", screening.Options{})
	spread := func(fromS float64) (*screening.Analysis, error) {
		clip, track := tracks.Load(t, "fast_30")
		for i := range track.Poses {
			p := &track.Poses[i]
			for k := range p.Keypoints {
				part := strings.TrimPrefix(track.KeypointNames[k], "left_") // the far side
				if p.TimeS >= fromS && slices.Contains([]string{"knee", "ankle", "heel", "foot_index"}, part) {
					p.Keypoints[k].X += 200
				}
			}
		}
		return screening.Measure(clip, track, screening.Options{Movement: "squat"})
	}
	var refused *media.ClipError
	if _, err := spread(0); !errors.Is(err, screening.ErrNoReps) || !errors.As(err, &refused) ||
		!strings.Contains(refused.Error(), "legs are apart") {
		t.Errorf("a lunge: %v", err)
	}
	got, err := spread((whole.Reps[1].EndS + whole.Reps[2].StartS) / 2)
	if err != nil {
		t.Fatal(err)
	}
	said := slices.ContainsFunc(got.Warnings, func(w screening.Warning) bool {
		return w.Code == "legs_apart"
	})
	if len(got.Reps) != len(whole.Reps)-1 || !said {
		t.Errorf("%d reps of %d; %v", len(got.Reps), len(whole.Reps), got.Warnings)
	}
}
