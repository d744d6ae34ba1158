package kinematics

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

// The rendered clips with points like a network's: what 60 frames a second show
// well, 30 show less well when the movement is fast.
func TestQualityOfClips(t *testing.T) {
	for _, c := range []struct {
		name   string
		grade  Grade
		advice string // part of it
	}{
		{"slow", GradeGood, ""}, {"slow_30", GradeGood, ""}, {"fast", GradeGood, ""}, {"jump_120", GradeGood, ""},
		{"fast_30", GradeFair, "60 or 120 frames a second"},
		{"fast_vfr", GradeFair, "fixed frame rate"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, r := range analyze(t, loadClip(t, c.name).observations(networkLike), Options{Smoother: body.SmootherFilter}).reps {
				q := r.Quality
				if q.Grade != c.grade || !strings.Contains(q.Advice, c.advice) || (q.Advice == "") != (q.Grade == GradeGood) {
					t.Errorf("rep %d: %+v, want %s and advice with %q", r.Number, q, c.grade, c.advice)
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
			for _, k := range sidePoints {
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
		grade  Grade
		advice string
	}{
		{"as it is", func([]trace.Observation) {}, true, GradeGood, ""},
		{"toe out of the picture in a third of the frames", everyOf(body.Toe, 3, gone), false, GradeFair, "2 m further back"},
		{"toe never in the picture", everyOf(body.Toe, 1, gone), false, GradePoor, "in the picture, and the toe is not"},
		{"dark", all(unsure(0.45)), false, GradePoor, "film in more light"},
		{"dark with others", all(unsure(0.45)), true, GradePoor, "one person in the picture"},
		{"wide trousers", everyOf(body.Knee, 1, unsure(0.4)), false, GradeFair, "tight clothes: the knee is hard to see"},
		{"white shoes on a white floor", everyOf(body.Heel, 1, unsure(0.4)), false, GradeFair, "shoes that stand out from the floor: the heel"},
		{"lost in every eighth frame", lost, true, GradeFair, "one person"},
	} {
		t.Run(c.name, func(t *testing.T) {
			obs := loadClip(t, "slow").observations(networkLike)
			c.spoil(obs)
			for _, r := range analyze(t, obs, Options{SeveralPeople: c.people, Smoother: body.SmootherFilter}).reps {
				if q := r.Quality; q.Grade != c.grade || !strings.Contains(q.Advice, c.advice) || c.advice == "" && q.Advice != "" {
					t.Errorf("rep %d: %+v, want %s and advice with %q", r.Number, q, c.grade, c.advice)
				}
			}
		})
	}
}

func TestGradeOf(t *testing.T) {
	best := func() *[numAspects]float64 {
		return &[numAspects]float64{aspectConfidence: 0.95, aspectWeakest: 0.9, aspectTurn: 20}
	}
	if g, _ := gradeOf(best(), testNetwork().Confidence); g != GradeGood {
		t.Fatalf("the best is %s", g)
	}
	nothing := best()
	for i := range nothing {
		nothing[i] = math.NaN()
	}
	if g, _ := gradeOf(nothing, testNetwork().Confidence); g != GradeGood {
		t.Errorf("what is not known is graded %s", g)
	}
	v := best()
	v[aspectBlur], v[aspectConfidence] = 50, 0.65 // poor, and fair but more important
	if g, why := gradeOf(v, testNetwork().Confidence); g != GradePoor || why != aspectBlur {
		t.Errorf("%s because of %d, want poor because of the blur", g, why)
	}
	v[aspectView] = 25
	if g, why := gradeOf(v, testNetwork().Confidence); g != GradePoor || why != aspectView {
		t.Errorf("%s because of %d, want poor because of the view", g, why)
	}
	seen := map[qualityAspect]bool{}
	for _, l := range qualityLimits(testNetwork().Confidence) {
		seen[l.aspect] = true
	}
	if len(seen) != int(numAspects) {
		t.Errorf("%d aspects have limits, want %d", len(seen), numAspects)
	}
}

// A worse value never earns a better grade.
func TestGradeOfIsMonotone(t *testing.T) {
	rank := map[Grade]int{GradeGood: 0, GradeFair: 1, GradePoor: 2}
	rapid.Check(t, func(rt *rapid.T) {
		var v [numAspects]float64
		for i := range v {
			v[i] = rapid.Float64Range(0, 100).Draw(rt, "value")
		}
		before, _ := gradeOf(&v, testNetwork().Confidence)
		l := qualityLimits(testNetwork().Confidence)[rapid.IntRange(0, int(numAspects)-1).Draw(rt, "aspect")]
		by := rapid.Float64Range(0, 50).Draw(rt, "worse")
		if l.lessIsBad {
			by = -by
		}
		v[l.aspect] += by
		if after, _ := gradeOf(&v, testNetwork().Confidence); rank[after] < rank[before] {
			rt.Fatalf("from %s to %s", before, after)
		}
	})
}

func TestQualityOfARepNotSeen(t *testing.T) {
	q := Quality{}
	q.seen(body.Left, trace.Span{FromS: 1, ToS: 2}, []trace.Observation{{TimeS: 5}}, sidePoints)
	if q.HiddenPct != 100 || !math.IsNaN(q.Confidence) || !math.IsNaN(q.WeakestConfidence) {
		t.Errorf("%+v", q)
	}
}
