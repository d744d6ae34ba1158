package kinematics

import (
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/trace"
)

// The rendered clips with points like a network's: what 60 frames a second show
// well, 30 show less well when the movement is fast.
func TestQualityOfClips(t *testing.T) {
	for _, c := range []struct {
		name   string
		grade  joints.Grade
		advice string // its code
	}{
		{"slow", joints.GradeGood, ""}, {"slow_30", joints.GradeGood, ""}, {"fast", joints.GradeGood, ""},
		{"jump_120", joints.GradeGood, ""},
		{"fast_30", joints.GradeFair, "film_at_60_or_120"},
		{"fast_vfr", joints.GradeFair, "fix_frame_rate"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := analyze(t, loadClip(t, c.name).observations(networkLike), Options{Smoother: body.SmootherFilter})
			for _, r := range a.reps {
				q := r.Quality
				if q.Grade != c.grade || q.Advice.Code != c.advice {
					t.Errorf("rep %d: %+v, want %s and the advice %q", r.Number, q, c.grade, c.advice)
				}
				near(t, "confidence", q.Confidence, 0.9, 1e-9)
				near(t, "blur", q.BlurPx, q.FastestPxPerFrame/2, 1e-9)
			}
		})
	}
}

// Twice the frame rate means twice the frames in the turn and half the way a frame.
func TestQualityScalesWithTheRate(t *testing.T) {
	sixty := analyze(t, loadClip(t, "fast").observations(networkLike), Options{}).reps
	thirty := analyze(t, loadClip(t, "fast_30").observations(networkLike), Options{}).reps
	for i := range sixty {
		a, b := sixty[i].Quality, thirty[i].Quality
		near(t, "frames in the turn", float64(a.FramesInTurn)/float64(b.FramesInTurn), 2, 0.2)
		near(t, "pixels a frame", b.FastestPxPerFrame/a.FastestPxPerFrame, 2, 0.2)
	}
}

// What spoils a clip is named, the most important thing first.
func TestQualityAdvice(t *testing.T) {
	t.Parallel()
	everyOf := func(k body.Landmark, n int, p func(*body.Point)) func([]trace.Observation) {
		return func(obs []trace.Observation) {
			for i := range obs {
				if n > 0 && i%n == 0 {
					p(&obs[i].Points[body.Right][k])
				}
			}
		}
	}
	gone := func(p *body.Point) { *p = body.MissingPoint() }
	unsure := func(c float64) func(*body.Point) { return func(p *body.Point) { p.Confidence = c } }
	all := func(change func(*body.Point)) func([]trace.Observation) {
		return func(obs []trace.Observation) {
			for _, k := range joints.SidePoints {
				everyOf(k, 1, change)(obs)
			}
		}
	}
	lost := func(obs []trace.Observation) {
		for i := range obs {
			if i%8 == 0 {
				obs[i].Points = [2][body.NumLandmarks]body.Point{}
				for s := range obs[i].Points {
					for k := range obs[i].Points[s] {
						obs[i].Points[s][k] = body.MissingPoint()
					}
				}
			}
		}
	}
	for _, c := range []struct {
		name   string
		spoil  func([]trace.Observation)
		people bool
		grade  joints.Grade
		advice string
	}{
		{"as it is", func([]trace.Observation) {}, true, joints.GradeGood, ""},
		{"toe out of the picture in a third of the frames", everyOf(body.Toe, 3, gone), false, joints.GradeFair, "move_back"},
		{"toe never in the picture", everyOf(body.Toe, 1, gone), false, joints.GradePoor, "move_back"},
		{"dark", all(unsure(0.45)), false, joints.GradePoor, "film_in_more_light"},
		{"dark with others", all(unsure(0.45)), true, joints.GradePoor, "film_one_person"},
		{"wide trousers", everyOf(body.Knee, 1, unsure(0.4)), false, joints.GradeFair, "wear_tight_clothes"},
		{"white shoes on a white floor", everyOf(body.Heel, 1, unsure(0.4)), false, joints.GradeFair, "wear_other_shoes"},
		{"lost in every eighth frame", lost, true, joints.GradeFair, "film_one_person"},
	} {
		t.Run(c.name, func(t *testing.T) {
			obs := loadClip(t, "slow").observations(networkLike)
			c.spoil(obs)
			for _, r := range analyze(t, obs, Options{SeveralPeople: c.people, Smoother: body.SmootherFilter}).reps {
				if q := r.Quality; q.Grade != c.grade || q.Advice.Code != c.advice {
					t.Errorf("rep %d: %+v, want %s and the advice %q", r.Number, q, c.grade, c.advice)
				}
			}
		})
	}
}
