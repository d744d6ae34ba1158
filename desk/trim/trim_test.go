package trim

import (
	"errors"
	"strings"
	"testing"

	"holdfast/desk/refusal"
	"holdfast/kinematics"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/notice"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// TestPart: outside of the part nobody is seen and nothing is corrected, and the track that was given stays whole.
func TestPart(t *testing.T) {
	track := &pose.Track{}
	for i := range 10 {
		track.Poses = append(track.Poses, pose.Pose{Index: i, TimeS: float64(i), Found: true, Scene: i / 5, Frozen: i == 1})
	}
	from, to := 2.0, 6.0
	for name, c := range map[string]struct {
		part        Part
		first, last int
	}{"whole": {Part{}, 0, 9}, "from": {Part{FromS: &from}, 2, 9}, "to": {Part{ToS: &to}, 0, 6},
		"both": {Part{&from, &to}, 2, 6}} {
		got := c.part.Track(track)
		for i, p := range got.Poses {
			in := i >= c.first && i <= c.last
			if p.Found != in || p.Outside == in || p.TimeS != float64(i) || p.Index != i || in != (p.Scene <= 1) ||
				!in && p.Frozen {
				t.Errorf("%s: frame %d is %+v", name, i, p)
			}
			if !track.Poses[i].Found {
				t.Fatalf("%s: the track itself was cut", name)
			}
		}
	}
	both := Part{&from, &to}
	c := &screening.Corrections{Points: []screening.PointCorrection{{Frame: 1}, {Frame: 3}, {Frame: 99}},
		Reps: []correct.RepChange{{AtS: 0.5}, {AtS: 2}}}
	got := both.Corrections(c, track, 2) // a movement of 2 s is 4 s of the file
	if len(got.Points) != 1 || got.Points[0].Frame != 3 || len(got.Reps) != 1 || got.Reps[0].AtS != 2 ||
		len(c.Points) != 3 {
		t.Errorf("corrected is %+v", got)
	}
	for at, good := range map[float64]bool{10: true, 2.5: false} {
		if err := both.Check(at); (err == nil) != good {
			t.Errorf("of a clip of %v s: %v", at, err)
		}
	}
}

// TestTold: what breaks off at the end of a part was trimmed there, and what breaks off at the end of the clip was not.
func TestTold(t *testing.T) {
	to := 6.0
	a := &screening.Analysis{}
	for _, code := range []string{"begins_inside", "ends_inside", "lost_at"} {
		why := notice.New(code, nil)
		rep := kinematics.Rep{}
		rep.Partial, rep.PartialWhy = true, why
		a.Reps = append(a.Reps, rep)
		a.Warnings = append(a.Warnings, notice.New("partial_rep", notice.Params{"rep": 1, "why": why.Plain()}))
	}
	Part{ToS: &to}.Tell(a)
	for i, want := range []string{"begins_inside", Inside, "lost_at"} {
		why, _ := a.Warnings[i].Params["why"].(notice.Params)
		if a.Reps[i].PartialWhy.Code != want || why["code"] != want {
			t.Errorf("rep %d: %v, %v, want %s", i, a.Reps[i].PartialWhy, why, want)
		}
	}
	none := &media.ClipError{Path: "x.mp4", Err: screening.ErrNoReps, Hint: "film the whole rep"}
	if err := (Part{}).Refused(none); err != none {
		t.Errorf("of the whole clip is said %v", err)
	}
	if r := refusal.Of(Part{ToS: &to}.Refused(none)); !strings.Contains(r.Hint, "measure the whole clip") ||
		!errors.Is(r, screening.ErrNoReps) {
		t.Errorf("of a part is said %+v", r)
	}
}
