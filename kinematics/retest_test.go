package kinematics

import (
	"errors"
	"math"
	"testing"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
)

func repsWithROM(deg ...float64) []Rep {
	var reps []Rep
	for _, d := range deg {
		reps = append(reps, repWith(events.TempoSlow, d))
	}
	return reps
}

func TestRetestMDC(t *testing.T) {
	// Worked by hand: differences -3, 1, -3, their squares add up to 19; mean
	// square within pairs 19/(2*3) = 3.16667, SEM 1.77951, times 1.96 sqrt(2).
	mdc, err := RetestMDC(repsWithROM(112, 114, 113), repsWithROM(115, 113, 116))
	if err != nil {
		t.Fatal(err)
	}
	for j := range body.NumJoints {
		near(t, j.String(), mdc[j], 4.932558, 1e-5)
	}
	// A shift of all reps counts: differences 4, 4.
	mdc, err = RetestMDC(repsWithROM(100, 102), repsWithROM(104, 106))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "shift", mdc[body.KneeJoint], 1.96*4, 1e-9)
}

func TestRetestMDCLeavesOut(t *testing.T) {
	first, second := repsWithROM(112, 50, 114, 113, 99), repsWithROM(115, 113, 116)
	first[1].Partial = true // then 112, 114, 113, 99: the last has no partner
	mdc, err := RetestMDC(first, second)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "whole reps in pairs", mdc[body.KneeJoint], 4.932558, 1e-5)

	second[1].Angles[body.AnkleDorsiflexion].ROMDeg = math.NaN()
	second[2].Angles[body.AnkleDorsiflexion].ROMDeg = math.NaN()
	mdc, err = RetestMDC(first, second)
	if err != nil || !math.IsNaN(mdc[body.AnkleJoint]) || math.IsNaN(mdc[body.HipJoint]) {
		t.Errorf("one ankle pair: %v, error %v; want no ankle and a hip", mdc, err)
	}
	for name, c := range map[string][2][]Rep{
		"none": {nil, nil}, "one pair": {repsWithROM(100), repsWithROM(101)}, "one side": {repsWithROM(1, 2, 3), nil},
	} {
		if _, err := RetestMDC(c[0], c[1]); !errors.Is(err, stats.ErrBadTable) {
			t.Errorf("%s: error %v, want ErrBadTable", name, err)
		}
	}
}

// The athlete's own smallest change takes the place of the usual one.
func TestCompareWithMDC(t *testing.T) {
	slow, fast := repsWithROM(100, 100.5, 99.5), repsWithROM(93, 93.5, 92.5)
	for _, c := range []struct {
		name string
		opt  CompareOptions
		want stats.Verdict
	}{
		{"usual", CompareOptions{}, stats.Lost},
		{"unsteady athlete", CompareOptions{MDC95Deg: body.ByJoint[float64]{body.KneeJoint: 9}}, stats.Unclear},
		{"steady athlete", CompareOptions{MDC95Deg: body.ByJoint[float64]{body.KneeJoint: 3}}, stats.Lost},
		{"coach wants more", CompareOptions{SmallestChangeDeg: 8, MDC95Deg: body.ByJoint[float64]{body.KneeJoint: 3}},
			stats.Unclear},
		{"not known", CompareOptions{MDC95Deg: body.ByJoint[float64]{body.KneeJoint: math.NaN()}}, stats.Lost},
	} {
		p := pairOf(t, slow, fast, c.opt)
		if got := p.Joints[body.KneeJoint].Verdict; got != c.want {
			t.Errorf("%s: 7 degrees are %v, want %v", c.name, got, c.want)
		}
	}
	// One rep against one: reps differ by the MDC over 1.96 sqrt(2), known to six degrees of
	// freedom (t 2.44691), beside the network's error.
	p := pairOf(t, slow[:1], fast[:1], CompareOptions{MDC95Deg: body.ByJoint[float64]{body.KneeJoint: 4}})
	c := p.Joints[body.KneeJoint]
	if least := 4 * 2.44691 / stats.Normal95; !(c.LostDeg-c.Interval95Deg[0] >= least-1e-3) || c.Verdict != stats.Lost {
		t.Errorf("7 degrees with a smallest change of 4: %+v, want lost and at least %.2f either way", c, least)
	}
}
