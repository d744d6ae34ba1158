// Package trim measures a part of a clip. The clip, its track and its frames stay whole underneath: what lies outside
// is only not looked at.
package trim

import (
	"errors"
	"math"
	"slices"

	"holdfast/desk/refusal"
	"holdfast/kinematics/correct"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/pose"
	"holdfast/words"
)

// LeastS is the shortest part that is measured, in seconds of the file. Common practice, no source.
const LeastS = 1

// Part is what is measured of a clip, in seconds of the file; nil: from its beginning, to its end.
type Part struct{ FromS, ToS *float64 }

// Whole says whether nothing is left out.
func (p Part) Whole() bool { return p.FromS == nil && p.ToS == nil }

// ends are those of the part, 0 and infinity where nothing was said.
func (p Part) ends() (from, to float64) {
	to = math.Inf(1)
	if p.FromS != nil {
		from = *p.FromS
	}
	if p.ToS != nil {
		to = *p.ToS
	}
	return from, to
}

// Check refuses a part that is too short, or of which the clip, which lasts so many seconds, has nothing.
func (p Part) Check(durationS float64) error {
	from, to := p.ends()
	if from < 0 || !(min(to, durationS)-from >= LeastS) {
		return refusal.Wrong("trim_short", words.Params{"least": LeastS})
	}
	return nil
}

func (p Part) holds(timeS float64) bool {
	from, to := p.ends()
	return timeS >= from-1e-6 && timeS <= to+1e-6
}

// Track returns the track with nobody in the frames outside. Its frames keep their numbers and their times.
func (p Part) Track(t *pose.Track) *pose.Track {
	if p.Whole() {
		return t
	}
	out := *t // it is shared
	out.Poses = slices.Clone(t.Poses)
	last := 0
	for i := range out.Poses {
		last = max(last, out.Poses[i].Scene)
	}
	from, _ := p.ends()
	for i := range out.Poses {
		k := &out.Poses[i]
		if p.holds(k.TimeS) {
			continue
		}
		scene := last + 1 // of its own: nothing is said of what it shows
		if k.TimeS < from {
			scene = last + 2
		}
		*k = pose.Pose{Index: k.Index, TimeS: k.TimeS, Scene: scene, Camera: k.Camera, Outside: true}
	}
	return &out
}

// Tell says of what breaks off at an end of the part that the coach trimmed it there: the clip itself goes on.
func (p Part) Tell(a *screening.Analysis) {
	trimmed := func(code any) bool {
		return code == "begins_inside" && p.FromS != nil || code == "ends_inside" && p.ToS != nil
	}
	for i := range a.Reps {
		if r := &a.Reps[i]; trimmed(r.PartialWhy.Code) {
			r.PartialWhy.Code = Inside
		}
	}
	for i := range a.Warnings {
		if why, ok := a.Warnings[i].Params["why"].(words.Params); ok && trimmed(why["code"]) {
			a.Warnings[i].Params["why"] = words.Params{"code": Inside}
		}
	}
}

// Inside is the code of a rep that is not whole because the clip was trimmed inside it.
const Inside = "trimmed_inside"

// Refused says of a part that cannot be measured that it may be the trimming.
func (p Part) Refused(err error) error {
	var clip *media.ClipError
	if p.Whole() || !errors.As(err, &clip) {
		return err
	}
	return &refusal.Error{Kind: refusal.NotMeasurable, Text: refusal.Plain(clip.Err), Code: "trim_elsewhere", Err: err}
}

// Corrections returns those that lie within the part, which plays so many times slower than the movement was.
func (p Part) Corrections(c *screening.Corrections, t *pose.Track, slow float64) *screening.Corrections {
	if p.Whole() || c == nil {
		return c
	}
	if !(slow > 0) {
		slow = 1
	}
	out := *c
	out.Points = slices.DeleteFunc(slices.Clone(c.Points), func(q screening.PointCorrection) bool {
		return q.Frame < 0 || q.Frame >= len(t.Poses) || !p.holds(t.Poses[q.Frame].TimeS)
	})
	out.Reps = slices.DeleteFunc(slices.Clone(c.Reps), func(r correct.RepChange) bool { return !p.holds(r.AtS * slow) })
	return &out
}
