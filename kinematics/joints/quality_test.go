package joints

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"holdfast/internal/handmade"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/trace"
)

func TestGradeOf(t *testing.T) {
	best := func() *[numAspects]float64 {
		return &[numAspects]float64{aspectConfidence: 0.95, aspectWeakest: 0.9, aspectTurn: 20}
	}
	if g, _ := gradeOf(best(), handmade.Network().Confidence); g != GradeGood {
		t.Fatalf("the best is %s", g)
	}
	nothing := best()
	for i := range nothing {
		nothing[i] = math.NaN()
	}
	if g, _ := gradeOf(nothing, handmade.Network().Confidence); g != GradeGood {
		t.Errorf("what is not known is graded %s", g)
	}
	v := best()
	v[aspectBlur], v[aspectConfidence] = 50, 0.65 // poor, and fair but more important
	if g, why := gradeOf(v, handmade.Network().Confidence); g != GradePoor || why != aspectBlur {
		t.Errorf("%s because of %d, want poor because of the blur", g, why)
	}
	v[aspectView] = 25
	if g, why := gradeOf(v, handmade.Network().Confidence); g != GradePoor || why != aspectView {
		t.Errorf("%s because of %d, want poor because of the view", g, why)
	}
	seen := map[qualityAspect]bool{}
	for _, l := range qualityLimits(handmade.Network().Confidence) {
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
		before, _ := gradeOf(&v, handmade.Network().Confidence)
		l := qualityLimits(handmade.Network().Confidence)[rapid.IntRange(0, int(numAspects)-1).Draw(rt, "aspect")]
		by := rapid.Float64Range(0, 50).Draw(rt, "worse")
		if l.lessIsBad {
			by = -by
		}
		v[l.aspect] += by
		if after, _ := gradeOf(&v, handmade.Network().Confidence); rank[after] < rank[before] {
			rt.Fatalf("from %s to %s", before, after)
		}
	})
}

func TestQualityOfARepNotSeen(t *testing.T) {
	q := Quality{}
	q.seen(body.Left, trace.Span{FromS: 1, ToS: 2}, []trace.Observation{{TimeS: 5}}, SidePoints)
	if q.HiddenPct != 100 || !math.IsNaN(q.Confidence) || !math.IsNaN(q.WeakestConfidence) {
		t.Errorf("%+v", q)
	}
}

// A turn that was looked at in every third frame shows as many frames as the camera took.
func TestFramesInTurn(t *testing.T) {
	const rateHz, n = 30, 61
	tr := &trace.Trace{RateHz: rateHz, NearSide: body.Left}
	course := &events.Course{}
	var every, third []trace.Observation
	for i := range n {
		timeS := float64(i) / rateHz
		tr.TimeS = append(tr.TimeS, timeS)
		course.Quick = append(course.Quick, math.Sin(math.Pi*timeS/2))
		o := trace.Observation{TimeS: timeS}
		for s := range 2 {
			for k := range body.NumLandmarks {
				o.Points[s][k] = body.Point{X: 1, Y: 1}
			}
		}
		every = append(every, o)
		if i%3 == 0 {
			o.PassedBefore = min(i, 2)
			third = append(third, o)
		}
	}
	rep := &events.RepTimes{BottomS: 1}
	a, b := framesInTurn(tr, course, rep, 1, every), framesInTurn(tr, course, rep, 1, third)
	if a < 10 || b > a || b < a-4 {
		t.Errorf("%d frames, %d where two of three were passed over", a, b)
	}
}
