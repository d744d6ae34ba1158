package kinematics

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
)

// A quick squat whose heels come up is the slow one's movement, and a rep whose joint is unknown has no part in the
// mean; a hinge is another movement.
func TestDifferentShares(t *testing.T) {
	mean := func(of ...[3]float64) body.ByJoint[float64] {
		reps := make([]Rep, len(of))
		for i := range of {
			for j, deg := range of[i] {
				reps[i].Angles[[]body.Angle{body.AnkleDorsiflexion, body.KneeFlexion, body.HipFlexion}[j]].ROMDeg = deg
			}
		}
		return MeanROM(reps)
	}
	slow, nan := mean([3]float64{31, 85, 69}), math.NaN()
	if joints.DifferentShares(slow, mean([3]float64{9, 75, 119}, [3]float64{9, nan, 119}, [3]float64{nan, 75, nan})) {
		t.Error("a quick squat is taken for another movement")
	}
	if !joints.DifferentShares(mean([3]float64{28, 113, 120}), mean([3]float64{4, 20, 90})) {
		t.Error("a hinge is taken for a squat")
	}
}

func TestMeanROM(t *testing.T) {
	rep := func(romDeg float64, in [2]float64) Rep {
		var r Rep
		r.Angles[body.KneeFlexion] = joints.AngleMeasure{ROMDeg: romDeg, SDDeg: 2, SystematicSDDeg: 1.5, ROMInterval95Deg: in}
		return r
	}
	// The athlete's own part is 2.5 degrees: each rep's interval is 1.96 root(2^2 + 2.5^2).
	half := stats.Normal95 * math.Hypot(2, 2.5)
	around := func(v float64) Rep { return rep(v, [2]float64{v - half, v + half}) }
	reps := []Rep{around(99), around(100), around(101)}
	got := wholeMeanROM(reps, body.KneeFlexion, CompareOptions{})
	// Between reps: six times the usual spread and twice that of these three.
	own := (repWorth*kneeRepDeg*kneeRepDeg + 2) / (repWorth + 2)
	if want := math.Sqrt(own/3 + 1.5*1.5 + 2.5*2.5); math.Abs(got.Value-100) > 1e-9 || math.Abs(got.SD-want) > 1e-9 {
		t.Errorf("mean %v, want 100 with %g", got, want)
	}
	p := pairOf(t, reps, reps, CompareOptions{})
	knee := &p.Joints[body.KneeJoint]
	if in := got.Interval95(); knee.BaselineROMDeg != got.Value || knee.BaselineInterval95Deg != in ||
		knee.ChallengeInterval95Deg != in {
		t.Errorf("a pair says %v and %v, want %v", knee.BaselineInterval95Deg, knee.ChallengeInterval95Deg, in)
	}
	// The athlete's part cancels in the change.
	v := 2 * (own/3 + 1.5*1.5)
	student := distuv.StudentsT{Sigma: 1, Nu: (repWorth + 2) * math.Pow(v/(2*own/3), 2)}
	near(t, "change", (knee.Interval95Deg[1]-knee.Interval95Deg[0])/2, student.Quantile(0.975)*math.Sqrt(v), 1e-9)
	// A lower end that was cut off at 0 says nothing of the error.
	cut := []Rep{rep(3, [2]float64{0, 3 + half})}
	near(t, "small range", wholeMeanROM(cut, body.KneeFlexion, CompareOptions{}).SD,
		math.Sqrt(kneeRepDeg*kneeRepDeg+1.5*1.5+2.5*2.5), 1e-9)
	// Results of before intervals were kept give none.
	for _, old := range [][2]float64{{0, 0}, {math.NaN(), math.NaN()}} {
		if got := wholeMeanROM([]Rep{rep(90, old), rep(92, old)}, body.KneeFlexion, CompareOptions{}); got.Value != 91 ||
			!math.IsNaN(got.SD) {
			t.Errorf("without intervals: %v", got)
		}
	}
	partial := around(50)
	partial.Partial = true
	if got := wholeMeanROM(append(reps, partial), body.KneeFlexion, CompareOptions{}); got.Value != 100 {
		t.Errorf("a rep that is not whole was counted: %v", got)
	}
}

func TestTypicalRep(t *testing.T) {
	nan := math.NaN()
	rep := func(knee, hip, ankle float64) (r Rep) {
		r.Angles[body.KneeFlexion].ROMDeg, r.Angles[body.HipFlexion].ROMDeg = knee, hip
		r.Angles[body.AnkleDorsiflexion].ROMDeg = ankle
		return r
	}
	for _, tc := range []struct {
		name string
		reps []Rep
		want int
	}{
		{"none", nil, -1},
		{"the middle one", []Rep{rep(90, 80, 20), rep(100, 90, 25), rep(110, 100, 30)}, 1},
		{"all joints count", []Rep{rep(100, 60, 20), rep(101, 90, 30), rep(99, 118, 40)}, 1},
		{"the first of two alike", []Rep{rep(90, 80, 20), rep(92, 80, 20)}, 0},
		{"a joint that no rep has", []Rep{rep(90, nan, 20), rep(100, nan, 25), rep(111, nan, 30)}, 1},
		{"a rep that lacks a joint", []Rep{rep(90, 80, 20), rep(100, nan, 25), rep(111, 100, 31)}, 0},
		{"nothing known", []Rep{rep(nan, nan, nan)}, 0},
	} {
		if got := TypicalRep(tc.reps); got != tc.want {
			t.Errorf("%s: %d, want %d", tc.name, got, tc.want)
		}
	}
}

// Whatever is compared at a joint is compared with the same options.
func TestOptionsAreOne(t *testing.T) {
	opt := CompareOptions{SmallestChangeDeg: 4}
	opt.MDC95Deg[body.KneeJoint] = 7
	knee := opt.ForAngle(body.KneeFlexion)
	if knee.Detectable != 7 || math.Abs(knee.RepSD-7/(1.96*math.Sqrt2)) > 1e-12 || knee.SmallestChange != 4 {
		t.Errorf("knee: %+v", knee)
	}
	// Powden et al. 2015
	near(t, "the published smallest change of two occasions", 1.96*math.Sqrt2*knee.OccasionSD, 4.6, 1e-9)
	if got := opt.ForPosition(PositionKnee); got != knee {
		t.Errorf("the knee's position: %+v, want %+v", got, knee)
	}
	want := stats.Options{SmallestChange: 4, RepWorth: repWorth, OccasionSD: knee.OccasionSD}
	for _, of := range []struct {
		got   stats.Options
		repSD float64
	}{{opt.ForAngle(body.HipFlexion), hipRepDeg}, {opt.ForAngle(body.TrunkLean), trunkRepDeg},
		{opt.ForPosition(PositionTrunk), trunkRepDeg}} {
		want.RepSD = of.repSD
		if of.got != want {
			t.Errorf("another angle: %+v, want %+v", of.got, want)
		}
	}
	if got, want := opt.ForPosition(PositionHeel),
		(stats.Options{SmallestChange: 7, RepSD: 1, RepWorth: repWorth, OccasionSD: 2}); got != want {
		t.Errorf("the heel: %+v, want %+v", got, want)
	}
}

// What differs from day to day counts wherever the sides were filmed on two days.
func TestDaysCountEverywhere(t *testing.T) {
	width := func(c stats.Change) float64 { return c.Interval95[1] - c.Interval95[0] }
	repsOn := func(day string) []Rep {
		var out []Rep
		for i := range 3 {
			out = append(out, Rep{RepTimes: events.RepTimes{Number: i + 1}, Occasion: day,
				Support: []measure.SupportSpan{{Phase: events.PhaseDescent,
					MeanPct: stats.Estimate{Value: 50 + float64(i), SD: 5}}}})
		}
		return out
	}
	curvesOn := func(day string) *curveSet {
		c := &curveSet{sharedSDDeg: 1, occasion: day}
		for i := range 3 {
			flat := make([]float64, curvePoints)
			for k := range flat {
				flat[k] = 90 + float64(i)
			}
			c.deg = append(c.deg, flat)
		}
		return c
	}
	ladder := func(day string) Rung {
		slow, fast := rungGroup(events.TempoSlow, PositionKnee, 100, 101, 102),
			rungGroup(events.TempoFast, PositionKnee, 100, 101, 102)
		slow.Reps, fast.Reps = repsOn("May"), repsOn(day)
		return ladderOf([]Group{slow, fast}, ofSquats()).Rungs[PositionKnee]
	}
	for name, of := range map[string]func(day string) float64{
		"support": func(day string) float64 {
			c, _ := compareSupport(repsOn("May"), repsOn(day), events.PhaseDescent)
			return width(c)
		},
		"curves": func(day string) float64 {
			return width(changesAlong(curvesOn("May"), curvesOn(day), CompareOptions{}.ForAngle(body.KneeFlexion))[50])
		},
		"ladder": func(day string) float64 { return width(*ladder(day).Cells[1].Change) },
		"mean of a rung": func(day string) float64 {
			iv := ladder(day).Cells[0].Interval95
			return iv[1] - iv[0]
		},
	} {
		if one, two := of("May"), of("June"); !(two > one+1) {
			t.Errorf("%s: %.2f wide within a day, %.2f between two", name, one, two)
		}
	}
}

// wholeMeanROM is the mean range of the whole ones among some reps.
func wholeMeanROM(reps []Rep, a body.Angle, opt CompareOptions) stats.Estimate {
	reps = wholeReps(reps)
	return meanOfROM(reps, a, ROMReadings(reps, a), opt.ForAngle(a))
}
