package screening

import (
	"fmt"
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
	"holdfast/vision"
)

// pickScene returns the scene of a cut clip that shows the most whole reps, the longest
// among equals, and takes the points of all others out of the observations, in place: the
// athlete's size and how the camera looks at him hold for one scene only.
func pickScene(obs []trace.Observation, track *vision.Track, how kinematics.Options) int {
	frames := map[int]int{}
	last := 0
	for _, p := range track.Poses {
		last = max(last, p.Scene)
		if p.Found {
			frames[p.Scene]++
		}
	}
	best, most := 0, -1
	for scene := 0; scene <= last && last > 0; scene++ {
		whole := 0
		alone := keepScene(obs, track, scene)
		// A scene that cannot be measured has no reps.
		_, reps, _, err := kinematics.Analyze(alone, how)
		for i := range reps {
			if err == nil && reps[i].Counts() {
				whole++
			}
		}
		if whole > most || whole == most && frames[scene] > frames[best] {
			best, most = scene, whole
		}
	}
	copy(obs, keepScene(obs, track, best))
	return best
}

// keepScene returns the observations with the points of one scene only.
func keepScene(obs []trace.Observation, track *vision.Track, scene int) []trace.Observation {
	out := make([]trace.Observation, len(obs))
	copy(out, obs)
	for i := range out {
		if track.Poses[i].Scene == scene {
			continue
		}
		for side := range out[i].Points {
			for k := range body.NumLandmarks {
				out[i].Points[side][k] = body.MissingPoint()
			}
		}
		out[i].Corrections, out[i].FootPitch = nil, trace.FootPitch{}
	}
	return out
}

// leastRepeated is the part of a rep's frames that must show earlier pictures again.
const leastRepeated = 0.75

// markRepeats finds the reps that show the pictures of an earlier one again and sets their
// RepeatOf.
func markRepeats(reps []kinematics.Rep, track *vision.Track, slow float64) {
	first := map[int]int{} // rep by the frame that its bottom was first shown in
	for i := range reps {
		r := &reps[i]
		frames, again, bottom := 0, 0, -1
		for k, p := range track.Poses {
			t := p.TimeS / slow
			if t < r.StartS || t > r.EndS {
				continue
			}
			frames++
			if p.Repeats > 0 {
				again++
			}
			if t <= r.BottomS || bottom < 0 {
				bottom = k
			}
		}
		if bottom < 0 || r.Partial {
			continue
		}
		for track.Poses[bottom].Repeats > 0 && track.Poses[bottom].Repeats <= bottom {
			bottom -= track.Poses[bottom].Repeats
		}
		for k, of := range first {
			// The bottom of the same pictures is found within a few frames.
			if d := track.Poses[k].TimeS - track.Poses[bottom].TimeS; math.Abs(d)/slow < 0.15 && float64(again) >= leastRepeated*float64(frames) {
				r.RepeatOf = of
			}
		}
		if r.RepeatOf == 0 {
			first[bottom] = r.Number
		}
	}
}

// pieceWarnings tell of cuts and of pictures that are shown again; times are those of the
// movement.
func pieceWarnings(track *vision.Track, reps []kinematics.Rep, scene int, slow float64) []Warning {
	var out []Warning
	warn := func(code, format string, args ...any) {
		out = append(out, Warning{Code: code, Message: fmt.Sprintf(format, args...)})
	}
	frozen, firstFrozen, cuts, firstCut := 0, 0, 0, 0
	scenes := map[int]bool{}
	var from, to float64 // of the scene measured
	begun := false
	for i, p := range track.Poses {
		if p.Frozen {
			if frozen++; frozen == 1 {
				firstFrozen = i
			}
		}
		if p.Cut {
			if cuts++; cuts == 1 {
				firstCut = i
			}
		}
		scenes[p.Scene] = true
		if p.Scene == scene {
			if !begun {
				from, begun = p.TimeS/slow, true
			}
			to = p.TimeS / slow
		}
	}
	if frozen > 0 {
		warn("frozen_frames", "The picture stands still in the middle of a movement: %d of %d frames, the first at %.2f s, show an earlier one again and were left out.",
			frozen, len(track.Poses), track.Poses[firstFrozen].TimeS/slow)
	}
	if again := slices.DeleteFunc(slices.Clone(reps), func(r kinematics.Rep) bool { return r.RepeatOf == 0 }); len(again) > 0 {
		warn("clip_repeats", "The clip repeats itself: %d of its %d reps, the first of them rep %d, show the pictures of an earlier rep again. Each is counted once in means and intervals.",
			len(again), len(reps), again[0].Number)
	}
	switch at := track.Poses[firstCut].TimeS / slow; {
	case len(scenes) > 1:
		warn("clip_cut", "The clip is cut and shows %d different views: only the one from %.1f to %.1f s was measured. Film a set in one piece.", len(scenes), from, to)
	case cuts == 1:
		warn("clip_cut", "The clip is cut at %.2f s: what was filmed before and after it is not taken for one movement. Film a set in one piece.", at)
	case cuts > 1:
		warn("clip_cut", "The clip is cut %d times, first at %.2f s: what was filmed before and after a cut is not taken for one movement. Film a set in one piece.", cuts, at)
	}
	return out
}
