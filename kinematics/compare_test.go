package kinematics

import (
	"errors"
	"math"
	"slices"
	"testing"

	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
)

func repWith(tempo events.Tempo, romDeg float64) Rep {
	r := Rep{RepTimes: events.RepTimes{Tempo: tempo}}
	for a := range body.NumAngles {
		r.Angles[a] = joints.AngleMeasure{ROMDeg: romDeg, AtBottomDeg: romDeg, SDDeg: 1}
	}
	return r
}

// pairOf compares two lots of reps.
func pairOf(t *testing.T, baseline, challenge []Rep, opt CompareOptions) Pair {
	t.Helper()
	if opt.Movement.Key == "" {
		opt.Movement = ofSquats().Movement
	}
	c, err := CompareGroups([]Group{{Condition: ConditionOf(events.TempoSlow), Reps: baseline},
		{Condition: ConditionOf(events.TempoFast), Reps: challenge}}, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c.Pairs[0]
}

// ofSquats are the options of a comparison of squats.
func ofSquats() CompareOptions { return CompareOptions{Movement: *shipped.Squat()} }

func TestCompareGroupsFirstLost(t *testing.T) {
	var reps []Rep
	for _, d := range []float64{-1, 0, 1} {
		reps = append(reps, repWith(events.TempoSlow, 100+d), repWith(events.TempoFast, 98+d),
			repWith(events.TempoJump, 80+d))
	}
	partial := repWith(events.TempoJump, 10)
	partial.Partial = true
	reps = append(reps, partial)
	c, err := CompareGroups(ByTempo(reps), ofSquats())
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Pairs) != 3 {
		t.Fatalf("%d pairs, want 3", len(c.Pairs))
	}
	for _, j := range body.LegJoints {
		if first := c.FirstLost[j]; first == nil || *first != "jump" {
			t.Errorf("%v first lost at %v, want jump", j, first)
		}
	}
	if n := c.Pairs[1].Joints[body.KneeJoint].ChallengeReps; n != 3 {
		t.Errorf("the partial rep was counted: %d reps", n)
	}
	if _, err := CompareGroups(ByTempo(reps[:1]), ofSquats()); !errors.Is(err, errNothingToCompare) {
		t.Errorf("one tempo: got %v", err)
	}
	if _, err := CompareGroups([]Group{{}, {Reps: reps}}, ofSquats()); !errors.Is(err, errNothingToCompare) {
		t.Errorf("no baseline: got %v", err)
	}
}

// Groups of any axis and number are compared, the easier with the harder.
func TestCompareGroupsOfDays(t *testing.T) {
	var groups []Group
	days := []string{"2025-01-02", "2025-01-09", "2025-01-16", "2025-01-23"}
	for i, day := range days {
		g := Group{Condition: Condition{Key: day, Axis: AxisDay, Rank: i + 1, Words: day}}
		for _, d := range []float64{-1, 0, 1} {
			g.Reps = append(g.Reps, repWith(events.TempoFast, 100+d-8*float64(i)))
		}
		groups = append(groups, g)
	}
	slices.Reverse(groups)
	c, err := CompareGroups(append(groups, Group{Condition: Condition{Key: "none", Rank: 9}}), ofSquats())
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Pairs) != 6 {
		t.Fatalf("%d pairs of four days, want 6", len(c.Pairs))
	}
	for _, p := range c.Pairs {
		lost := 8 * float64(slices.Index(days, p.Challenge)-slices.Index(days, p.Baseline))
		if !(lost > 0) || math.Abs(p.Joints[body.KneeJoint].LostDeg-lost) > 1e-9 {
			t.Errorf("%s against %s: %g lost, want %g", p.Baseline, p.Challenge, p.Joints[body.KneeJoint].LostDeg, lost)
		}
	}
	if got := c.FirstLost[body.HipJoint]; got == nil || *got != "2025-01-09" {
		t.Errorf("first lost at %v, want the second day", got)
	}
}

func TestCompareSupport(t *testing.T) {
	reps := func(pct ...float64) (out []Rep) {
		for i, v := range pct {
			out = append(out, Rep{RepTimes: events.RepTimes{Number: i + 1}, Support: []measure.SupportSpan{
				{Phase: events.PhaseDescent, MeanPct: stats.Estimate{Value: v, SD: 5}},
				{Phase: events.PhaseBottom, MeanPct: stats.Unknown()},
			}})
		}
		return out
	}
	c, ok := compareSupport(reps(50, 51, 49), reps(75, 76, 74), events.PhaseDescent)
	if !ok || c.Lost != -25 || c.Verdict != stats.Gained {
		t.Errorf("%+v, %v", c, ok)
	}
	if c, ok := compareSupport(reps(50, 51, 49), reps(60, 61, 59), events.PhaseDescent); !ok || c.Verdict == stats.Gained {
		t.Errorf("a tenth of the foot is within what the clips can tell: %+v", c)
	}
	if c, ok := compareSupport(reps(50), reps(60), events.PhaseBottom); ok || c.Verdict != stats.Unclear {
		t.Errorf("not known, yet %+v", c)
	}
}

func TestCompareLandings(t *testing.T) {
	nan := math.NaN()
	rep := func(n int, flight, bottom, landing float64) Rep {
		r := Rep{RepTimes: events.RepTimes{Number: n, FlightS: flight}}
		for a := range body.NumAngles {
			r.Angles[a] = joints.AngleMeasure{AtBottomDeg: bottom, AtLandingBottomDeg: landing, SDDeg: 1, SystematicSDDeg: 1}
		}
		return r
	}
	slow := []Rep{rep(1, nan, 120, nan), rep(2, nan, 122, nan), rep(3, nan, 121, nan)}
	jumps := []Rep{rep(1, 0.4, 100, 98), rep(2, 0.4, 101, 99), rep(3, 0.4, 99, 97)}
	group := func(t events.Tempo, clip int, reps []Rep) Group {
		return Group{Condition: ConditionOf(t), Clip: clip, Reps: reps}
	}
	fast := []Rep{rep(1, nan, 107, nan), rep(2, nan, 108, nan), rep(3, nan, 109, nan)}
	c := compareLandings([]Group{group(events.TempoSlow, 0, slow), group(events.TempoFast, 1, fast),
		group(events.TempoJump, 2, append(jumps, rep(4, 0.4, 50, nan)))}, ofSquats())
	if c == nil || c.SlowReps != 3 || c.Jumps != 3 || c.SlowClip != 0 || c.SlowRep != 1 ||
		c.JumpClip != 2 || c.JumpRep != 1 {
		t.Fatalf("%+v", c)
	}
	for _, j := range body.LegJoints {
		if v := c.AgainstSlow[j]; v.Lost != 23 || v.Verdict != stats.Lost {
			t.Errorf("%v against slow: %+v", j, v)
		}
		if v := c.AgainstFast[j]; v.Lost != 10 || v.Verdict != stats.Lost {
			t.Errorf("%v against fast: %+v", j, v)
		}
		if v := c.AgainstTakeoff[j]; v.Lost != 2 || v.Verdict == stats.Lost {
			t.Errorf("%v against take-off: %+v", j, v)
		}
	}
	c = compareLandings([]Group{group(events.TempoJump, 2, jumps)}, ofSquats())
	if c == nil || c.AgainstSlow != nil || c.AgainstFast != nil || c.SlowClip != -1 || c.SlowRep != 0 {
		t.Errorf("without slow reps: %+v", c)
	}
	c = compareLandings([]Group{group(events.TempoSlow, 0, slow), group(events.TempoFast, 1, jumps)}, ofSquats())
	if c != nil {
		t.Errorf("without jumps: %+v", c)
	}
}
