package screening_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/vision/pose"
)

// frames returns copies of some poses of a track, for another clip to be put together
// from.
func frames(track *pose.Track, from, to int) []pose.Pose {
	out := slices.Clone(track.Poses[from:to])
	for i := range out {
		out[i].Keypoints = slices.Clone(out[i].Keypoints)
	}
	return out
}

// joined gives poses the times of a clip of 30 frames a second.
func joined(poses ...[]pose.Pose) []pose.Pose {
	out := slices.Concat(poses...)
	for i := range out {
		out[i].Index, out[i].TimeS = i, float64(i)/30
	}
	return out
}

func hasWarning(a *screening.Analysis, code, message string) bool {
	return slices.ContainsFunc(a.Warnings, func(w screening.Warning) bool {
		return w.Code == code && strings.Contains(screening.Say(w), message)
	})
}

// What a clip that was put together from pieces shows is measured as one movement only
// where it is one. The clip of three fast squats, the bottoms at 2.5, 5.4 and 8.4 s, at 30
// frames a second.
func TestPieces(t *testing.T) {
	clip, fast := tracks.Load(t, "fast_30")
	whole, _ := tracks.Analysis(t, "fast_30", screening.Options{})
	_, other := tracks.Load(t, "left_fast")
	const first, second = 105, 190 // frames of quiet standing before and after the second squat
	at := func(i int) int { return int(30 * whole.Reps[i].BottomS) }

	again := func(p []pose.Pose, lag int) []pose.Pose {
		for i := range p {
			p[i].Repeats = lag
		}
		return p
	}
	shaken := func(p []pose.Pose) []pose.Pose { // as compression makes the network tremble
		for i := range p {
			for k := range p[i].Keypoints {
				p[i].Keypoints[k].X += 0.6 * math.Sin(float64(31*i+17*k))
				p[i].Keypoints[k].Y += 0.6 * math.Cos(float64(23*i+11*k))
			}
		}
		return p
	}
	cut := func(p []pose.Pose) []pose.Pose { p[0].Cut = true; return p }
	inScene := func(p []pose.Pose, scene int) []pose.Pose {
		for i := range p {
			p[i].Scene = scene
		}
		return p
	}
	held := func(frame, n int) []pose.Pose {
		p := make([]pose.Pose, n)
		for i := range p {
			p[i].Frozen = true
		}
		return p
	}
	// The camera before the athlete: left and right lie beside each other, and neither leads.
	fromFront := func(p []pose.Pose) []pose.Pose {
		for i := range p {
			for k := range p[i].Keypoints {
				at := &p[i].Keypoints[k]
				side, part, _ := strings.Cut(fast.KeypointNames[k], "_")
				aside := -30.0
				if part == "shoulder" || part == "hip" {
					aside = -70
				}
				if side == "left" {
					aside *= -1
				}
				at.X, at.Z = 640+aside+0.1*(at.X-640), 0
			}
			p[i].FootPitch = nil
		}
		return p
	}
	// Every other frame of the clip of 60 a second, and the picture's other size.
	var half []pose.Pose
	for i := 0; i < len(other.Poses); i += 2 {
		half = append(half, other.Poses[i])
		for k := range other.Poses[i].Keypoints {
			p := &other.Poses[i].Keypoints[k]
			p.X, p.Y = 300+p.X/2, p.Y/2
		}
	}

	tests := []struct {
		name    string
		poses   []pose.Pose
		measure []int // the rep of the whole clip that each rep is, -1 for one that is not measured
		repeats []int // by rep
		code    string
		says    string
	}{
		{"as filmed", joined(frames(fast, 0, 289)), []int{0, 1, 2}, []int{0, 0, 0}, "", ""},
		{"looped", joined(frames(fast, 0, second), again(shaken(frames(fast, first, second)), second-first),
			again(shaken(frames(fast, first, second)), 2*(second-first))),
			[]int{0, 1, 1, 1}, []int{0, 0, 2, 2}, "clip_repeats", "2 of its 4 reps, the first of them rep 3"},
		{"a descent without its ascent", joined(frames(fast, 0, at(1)), cut(frames(fast, second, 289))),
			[]int{0, -1, 2}, []int{0, 0, 0}, "clip_cut", "cut at"},
		{"cut while standing", joined(frames(fast, 0, first), cut(frames(fast, second, 289))), []int{0, 2}, []int{0, 0},
			"clip_cut", "cut at 3.50 s"},
		{"cut while standing, the background is another",
			joined(frames(fast, 0, first), inScene(cut(frames(fast, second, 289)), 1)), []int{0, 2}, []int{0, 0},
			"clip_cut", "cut at 3.50 s"},
		{"cut in a descent that goes on", joined(frames(fast, 0, at(1)-4), cut(frames(fast, at(1)-4, 289))), []int{0, 1, 2},
			[]int{0, 0, 0}, "clip_cut", "cut at"},
		{"another room first", joined(inScene(frames(&pose.Track{Poses: half}, 0, 90), 0),
			inScene(cut(frames(fast, 0, 289)), 1)),
			[]int{0, 1, 2}, []int{0, 0, 0}, "clip_cut", "2 different views: only the one from 3.0 to 12.6 s"},
		{"from the front first, and for longer", joined(fromFront(frames(fast, 0, 289)), fromFront(frames(fast, 0, 30)),
			inScene(cut(frames(fast, 0, 289)), 1)),
			[]int{0, 1, 2}, []int{0, 0, 0}, "clip_cut", "2 different views: only the one from 10.6 to 20.2 s"},
		{"from the side first", joined(frames(fast, 0, 289), inScene(cut(fromFront(frames(fast, 0, 289))), 1)),
			[]int{0, 1, 2}, []int{0, 0, 0}, "clip_cut", "2 different views: only the one from 0.0 to 9.6 s"},
		{"held for a second in the ascent", joined(frames(fast, 0, at(1)+8), held(at(1)+7, 30), frames(fast, at(1)+8, 289)),
			[]int{0, -1, -1, 2}, []int{0, 0, 0, 0}, "frozen_frames", "30 of 319 frames"},
		{"every tenth picture shown again", func() []pose.Pose {
			p := frames(fast, 0, 289)
			for i := 9; i < len(p); i += 10 {
				p[i] = pose.Pose{Frozen: true}
			}
			return joined(p)
		}(), []int{0, 1, 2}, []int{0, 0, 0}, "frozen_frames", "28 of 289 frames"},
		{"begins in a descent", joined(frames(fast, at(0)-4, 289)), []int{-1, 1, 2}, []int{0, 0, 0}, "", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			track := *fast
			track.Poses = tt.poses
			a, err := screening.Measure(clip, &track, screening.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if len(a.Reps) != len(tt.measure) {
				t.Fatalf("%d reps, want %d", len(a.Reps), len(tt.measure))
			}
			for i, of := range tt.measure {
				r := &a.Reps[i]
				if r.RepeatOf != tt.repeats[i] || r.Counts() != (of >= 0 && tt.repeats[i] == 0) {
					t.Errorf("rep %d repeats %d, counts: %v (%v)", r.Number, r.RepeatOf, r.Counts(), r.PartialWhy)
				}
				if of < 0 {
					continue
				}
				const most = 3.5 // what is left of a track lies sparser about a cut than where the tracker meets one
				for _, j := range []body.Angle{body.KneeFlexion, body.HipFlexion, body.AnkleDorsiflexion} {
					if got, want := r.Angles[j].ROMDeg, whole.Reps[of].Angles[j].ROMDeg; !(math.Abs(float64(got-want)) < most) {
						t.Errorf("rep %d: %v moves by %.1f degrees, %.1f in the whole clip", r.Number, j, got, want)
					}
				}
			}
			if tt.code != "" && !hasWarning(a, tt.code, tt.says) {
				t.Errorf("warnings %v, want %s with %q", a.Warnings, tt.code, tt.says)
			}
			for _, code := range []string{"clip_cut", "frozen_frames", "clip_repeats"} {
				if code != tt.code && hasWarning(a, code, "") {
					t.Errorf("warns of %s: %v", code, a.Warnings)
				}
			}
			if tt.name == "begins in a descent" && !math.IsNaN(a.Reps[0].DescentS) {
				t.Errorf("a descent that was not filmed whole lasts %.2f s", a.Reps[0].DescentS)
			}
		})
	}
}

// A file that stores every picture twice gives the numbers of one that does not, says so, and has no more pictures a
// second than were filmed.
func TestEveryPictureStoredTwice(t *testing.T) {
	clip, once := tracks.Load(t, "fast_30")
	want, err := screening.Measure(clip, once, screening.Options{})
	if err != nil {
		t.Fatal(err)
	}
	twice := *once
	twice.Poses = nil
	for _, p := range once.Poses {
		shown := p
		shown.Index = len(twice.Poses)
		twice.Poses = append(twice.Poses, shown, pose.Pose{Index: len(twice.Poses) + 1,
			TimeS: p.TimeS + 1.0/60, Frozen: true})
	}
	file := *clip
	file.FrameRateHz = 60
	got, err := screening.Measure(&file, &twice, screening.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Reps) != len(want.Reps) {
		t.Fatalf("%d reps, want %d", len(got.Reps), len(want.Reps))
	}
	for i := range got.Reps {
		for a := range body.NumAngles {
			if g, w := got.Reps[i].Angles[a].ROMDeg, want.Reps[i].Angles[a].ROMDeg; g != w && !a.OfArm() {
				t.Errorf("rep %d: %v moves by %.2f degrees, stored once %.2f", i+1, a, g, w)
			}
		}
	}
	if !hasWarning(got, "stored_several_times", "stored 2 times") || hasWarning(got, "frozen_frames", "") {
		t.Errorf("warnings %v", got.Warnings)
	}
	if !hasWarning(got, "low_frame_rate", "30 frames a second") {
		t.Errorf("warnings %v, want that of few frames", got.Warnings)
	}
}
