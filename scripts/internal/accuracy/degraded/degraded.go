// Package degraded looks whether movements are still named rightly where clips are worse than they were rendered:
// points that shake, frames that are lost, a clip cut off, hidden hands or feet. It changes stored tracks, which stand
// for what a network sees in such clips.
package degraded

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"holdfast/screening"
	"holdfast/scripts/internal/accuracy/figures"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// way is one way in which a clip is worse.
type way struct {
	name string
	make func(t *pose.Track, heightPx float64, random *rand.Rand)
}

var ways = []way{
	{"as rendered", func(*pose.Track, float64, *rand.Rand) {}},
	{"points shake by 1 % of the picture", func(t *pose.Track, heightPx float64, random *rand.Rand) {
		points(t, func(_ string, k *pose.Keypoint) {
			k.X += 0.01 * heightPx * random.NormFloat64()
			k.Y += 0.01 * heightPx * random.NormFloat64()
		})
	}},
	{"a third of the frames lost", func(t *pose.Track, _ float64, random *rand.Rand) {
		lose(t, func(float64) bool { return random.Float64() < 1.0/3 })
	}},
	{"begins and ends in a rep", func(t *pose.Track, _ float64, _ *rand.Rand) {
		lose(t, func(part float64) bool { return part < 0.2 || part > 0.8 })
	}},
	{"hands hidden", func(t *pose.Track, _ float64, _ *rand.Rand) { hide(t, "wrist", "elbow", "pinky", "thumb") }},
	{"feet hidden", func(t *pose.Track, _ float64, _ *rand.Rand) { hide(t, "ankle", "heel", "foot") }},
}

// points changes every point that was seen.
func points(t *pose.Track, change func(name string, k *pose.Keypoint)) {
	for i := range t.Poses {
		for k := range t.Poses[i].Keypoints {
			change(t.KeypointNames[k], &t.Poses[i].Keypoints[k])
		}
	}
}

// lose makes the athlete lost in frames, told by the part of the clip that is over.
func lose(t *pose.Track, lost func(part float64) bool) {
	for i := range t.Poses {
		if p := &t.Poses[i]; lost(float64(i) / float64(len(t.Poses))) {
			p.Found, p.Keypoints = false, nil
		}
	}
}

// hide makes points unseen whose names hold one of the words.
func hide(t *pose.Track, words ...string) {
	points(t, func(name string, k *pose.Keypoint) {
		for _, word := range words {
			if strings.Contains(name, word) {
				k.X, k.Y, k.Visibility, k.Presence = math.NaN(), math.NaN(), 0, 0
			}
		}
	})
}

// bins are how sure a naming may be, per cent, the least of each.
var bins = []float64{90, 80, 70, 0}

// Print prints how often clips are named rightly by how sure that is said to be: those of folders of clips, whose names
// say what they show, by shown; what is no repetition of anything is named rightly where it is refused.
func Print(ctx context.Context, w io.Writer, clips map[string]string, shown func(clip string) string) error {
	named, right := make([]int, len(bins)), make([]int, len(bins))
	wrong := map[string]int{}
	fmt.Fprintln(w, "Clips that are worse than rendered, by what was done to their tracks, and by how sure the name is.")
	t := figures.Table(w)
	fmt.Fprintln(t, "what was done\tclips\tnamed rightly\twrongly\trefused")
	for _, way := range ways {
		var good, bad, none int
		for _, path := range slices.Sorted(maps.Keys(clips)) {
			a, err := measured(ctx, path, clips[path], way)
			if err != nil {
				return err
			}
			if a == nil {
				none++
				continue
			}
			bin := 0
			for a.Movement.SurePct < bins[bin] && bin < len(bins)-1 {
				bin++
			}
			named[bin]++
			if a.Movement.Key == shown(path) {
				good++
				right[bin]++
			} else {
				bad++
				wrong[filepath.Base(path)+" as "+a.Movement.Key]++
			}
		}
		fmt.Fprintf(t, "%s\t%d\t%d\t%d\t%d\n", way.name, len(clips), good, bad, none)
	}
	_ = t.Flush()
	fmt.Fprintln(w)
	t = figures.Table(w)
	fmt.Fprintln(t, "said to be sure, %\tnamed\trightly\tshare, %")
	for i, least := range bins {
		share := "-"
		if named[i] > 0 {
			share = fmt.Sprintf("%.0f", 100*float64(right[i])/float64(named[i]))
		}
		sure := fmt.Sprintf("%.0f and more", least)
		if least == 0 {
			sure = "less"
		}
		fmt.Fprintf(t, "%s\t%d\t%d\t%s\n", sure, named[i], right[i], share)
	}
	_ = t.Flush()
	for _, what := range slices.Sorted(maps.Keys(wrong)) {
		fmt.Fprintf(w, "Named wrongly: %s (%d)\n", what, wrong[what])
	}
	fmt.Fprintln(w)
	return nil
}

// measured measures a clip from its track after it was made worse; nil: it is refused, or has no reps.
func measured(ctx context.Context, path, track string, by way) (*screening.Analysis, error) {
	clip, err := media.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	f, err := os.Open(track)
	if err != nil {
		return nil, fmt.Errorf("reading a stored track: %w", err)
	}
	defer f.Close()
	t, err := pose.ReadTrack(f)
	if err != nil {
		return nil, fmt.Errorf("reading the track in %s: %w", track, err)
	}
	by.make(t, float64(clip.HeightPx), rand.New(rand.NewPCG(uint64(len(path)), 7)))
	a, err := screening.Measure(clip, t, screening.Options{})
	if errors.Is(err, screening.ErrNoReps) || errors.Is(err, screening.ErrCannotMeasure) || err == nil && a.Plain != nil {
		return nil, nil
	}
	return a, err
}
