package footage

import (
	"maps"
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
	"holdfast/vision/pose"
)

// What tells that two scenes were filmed alike. Common practice, no source.
const (
	// sameSize is by how many times the leg may be longer in one of them, sameFeetLegs how
	// far apart, in leg lengths, the feet may be in the picture.
	sameSize     = 1.1
	sameFeetLegs = 0.4
	// sameAcross is how much further apart left and right shoulder and hip may lie across the picture, as a part of
	// how far they do in a body that faces the camera: half of it is a turn by 30 degrees.
	sameAcross = 0.5
)

// view is how the athlete is seen in a scene.
type view struct {
	legPx, feetX, feetY, across float64
	facing                      body.Facing
}

// viewOf returns how the athlete is seen in a scene; ok is false where he is not.
func viewOf(obs []trace.Observation, track *pose.Track, scene int) (v view, ok bool) {
	var alone []trace.Observation
	var x, y, across []float64
	for i := range obs {
		if track.Poses[i].Scene != scene {
			continue
		}
		alone = append(alone, obs[i])
		across = append(across, acrossTrunks(&obs[i]))
		for _, p := range obs[i].Points {
			x, y = append(x, p[body.Ankle].X), append(y, p[body.Ankle].Y)
		}
	}
	x, y = signal.Present(x), signal.Present(y)
	v = view{legPx: trace.RoughLegLengthPx(alone), feetX: signal.Median(x), feetY: signal.Median(y),
		across: signal.Median(signal.Present(across))}
	v.facing, _ = trace.FacingOf(alone, body.FacingAuto)
	return v, len(x) > 0 && v.legPx > 0
}

// acrossTrunks returns how far apart left and right shoulder and hip lie across the
// picture, together, in trunk lengths; NaN where one of them is not seen.
func acrossTrunks(o *trace.Observation) float64 {
	l, r := &o.Points[body.Left], &o.Points[body.Right]
	trunk := math.Hypot(l[body.Shoulder].X+r[body.Shoulder].X-l[body.Hip].X-r[body.Hip].X,
		l[body.Shoulder].Y+r[body.Shoulder].Y-l[body.Hip].Y-r[body.Hip].Y) / 2
	return (math.Abs(l[body.Shoulder].X-r[body.Shoulder].X) + math.Abs(l[body.Hip].X-r[body.Hip].X)) / trunk
}

// alike says whether two scenes can be measured as one: the athlete is as large, stands in
// the same place, looks the same way and is turned as far to the camera.
func (v view) alike(w view) bool {
	turned := math.Abs(v.across-w.across) > sameAcross*trace.ViewWidth
	return v.facing == w.facing && !turned && math.Abs(math.Log(v.legPx/w.legPx)) < math.Log(sameSize) &&
		math.Hypot(v.feetX-w.feetX, v.feetY-w.feetY) < sameFeetLegs*v.legPx
}

// PickView returns the scenes of a cut clip that are filmed alike and show the most whole
// reps, the longest among equals, and takes the points of all others out of the
// observations, in place: the athlete's size and how the camera looks at him hold for one
// view only. views is the number of views that show him.
func PickView(obs []trace.Observation, track *pose.Track, how kinematics.Options) (scenes map[int]bool, views int) {
	frames := map[int]int{} // by scene
	for _, p := range track.Poses {
		frames[p.Scene]++
	}
	var groups []map[int]bool
	var seen []view
	for _, scene := range slices.Sorted(maps.Keys(frames)) {
		v, ok := viewOf(obs, track, scene)
		switch g := slices.IndexFunc(seen, v.alike); {
		case !ok:
		case g >= 0:
			groups[g][scene] = true
		default:
			seen, groups = append(seen, v), append(groups, map[int]bool{scene: true})
		}
	}
	if len(groups) == 0 {
		groups = append(groups, map[int]bool{0: true})
	}
	best, most, longest := 0, -1, 0
	for g := range groups {
		if len(groups) == 1 {
			break
		}
		whole, long := 0, 0
		for scene := range groups[g] {
			long += frames[scene]
		}
		// A view that cannot be measured has no reps.
		s, reps, _, err := kinematics.Analyze(keepScenes(obs, track, groups[g]), how)
		for i := range reps {
			if err == nil && s.View.SurelyDeg() < trace.TooObliqueDeg && reps[i].Counts() {
				whole++
			}
		}
		if whole > most || whole == most && long > longest {
			best, most, longest = g, whole, long
		}
	}
	copy(obs, keepScenes(obs, track, groups[best]))
	return groups[best], len(groups)
}

// keepScenes returns the observations with the points of some scenes only.
func keepScenes(obs []trace.Observation, track *pose.Track, scenes map[int]bool) []trace.Observation {
	out := slices.Clone(obs)
	for i := range out {
		if scenes[track.Poses[i].Scene] {
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

// MarkRepeats finds the reps that show the pictures of an earlier one again and sets their
// RepeatOf.
func MarkRepeats(reps []kinematics.Rep, track *pose.Track, slow float64) {
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
			if d := track.Poses[k].TimeS - track.Poses[bottom].TimeS; math.Abs(d)/slow < 0.15 &&
				float64(again) >= leastRepeated*float64(frames) {
				r.RepeatOf = of
			}
		}
		if r.RepeatOf == 0 {
			first[bottom] = r.Number
		}
	}
}

// storedPart is the part of the pictures that may be missing where each is stored several times.
const storedPart = 0.1

// StoredTimes returns how many times the file stores each picture: 1, or more where all but one of so many frames
// show an earlier one again.
func StoredTimes(track *pose.Track) int {
	shown := 0
	for _, p := range track.Poses {
		if !p.Frozen {
			shown++
		}
	}
	ratio := float64(len(track.Poses)) / float64(max(1, shown))
	if times := math.Round(ratio); times > 1 && math.Abs(ratio-times) < storedPart*times {
		return int(times)
	}
	return 1
}

// PieceWarnings tell of cuts and of pictures that are shown again; times are those of the
// movement.
func PieceWarnings(track *pose.Track, reps []kinematics.Rep, scenes map[int]bool, views int,
	slow float64) []kinematics.Notice {
	var out []kinematics.Notice
	warn := func(code string, params notice.Params) { out = append(out, notice.New(code, params)) }
	frozen, firstFrozen, cuts, firstCut := 0, 0, 0, 0
	var from, to float64 // of the view measured
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
		if scenes[p.Scene] {
			if !begun {
				from, begun = p.TimeS/slow, true
			}
			to = p.TimeS / slow
		}
	}
	switch times := StoredTimes(track); {
	case times > 1:
		warn("stored_several_times", notice.Params{"times": times})
	case frozen > 0:
		warn("frozen_frames", notice.Params{"frozen": frozen, "frames": len(track.Poses),
			"first_s": track.Poses[firstFrozen].TimeS / slow})
	}
	again := slices.DeleteFunc(slices.Clone(reps), func(r kinematics.Rep) bool { return r.RepeatOf == 0 })
	if len(again) > 0 {
		warn("clip_repeats", notice.Params{"again": len(again), "reps": len(reps), "first": again[0].Number})
	}
	switch at := track.Poses[firstCut].TimeS / slow; {
	case views > 1:
		warn("clip_cut", notice.Params{"form": "views", "views": views, "from_s": from, "to_s": to})
	case cuts == 1:
		warn("clip_cut", notice.Params{"form": "once", "first_s": at})
	case cuts > 1:
		warn("clip_cut", notice.Params{"form": "often", "cuts": cuts, "first_s": at})
	}
	return out
}
