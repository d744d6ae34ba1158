package kinematics

import (
	"errors"
	"math"
	"slices"
	"testing"

	"holdfast/kinematics/body"
)

func TestCompareReadingsWelch(t *testing.T) {
	// Worked with scipy 1.10.1 (ttest_ind, equal_var False).
	c := CompareReadings(
		Readings{Deg: []float64{118.2, 116.9, 119.4, 117.5, 118.0}},
		Readings{Deg: []float64{108.4, 104.9, 110.1, 106.6, 107.0}}, CompareOptions{})
	near(t, "baseline", c.Baseline, 118.0, 1e-9)
	near(t, "challenge", c.Challenge, 107.4, 1e-9)
	near(t, "lost", c.Lost, 10.6, 1e-9)
	near(t, "low", c.Interval95[0], 8.198879611, 1e-6)
	near(t, "high", c.Interval95[1], 13.001120389, 1e-6)
	near(t, "retained", c.RetainedPct, 91.01694915, 1e-6)
	if c.Verdict != Lost {
		t.Errorf("verdict %v, want lost", c.Verdict)
	}
}

func TestCompareReadingsFewReps(t *testing.T) {
	one := CompareReadings(Readings{Deg: []float64{100}, NoiseSDDeg: math.NaN()}, Readings{Deg: []float64{92}, NoiseSDDeg: 1}, CompareOptions{})
	// 1.96 sqrt(2) 3
	near(t, "half width of one against one", one.Lost-one.Interval95[0], 8.3155755768, 1e-3)
	if one.Verdict != Unclear {
		t.Errorf("8 degrees between single reps: %v, want unclear", one.Verdict)
	}
	// Two occasions differ by more than the reps of one: 3 reps of no spread with 2 degrees
	// each way give 1.96 sqrt(2) 2 degrees, and fewer reps never less than more.
	for n := 1; n <= 4; n++ {
		var b, c Readings
		b.OccasionSDDeg, c.OccasionSDDeg = 2, 2
		b.NoiseSDDeg, c.NoiseSDDeg = 2.5, 2.5
		for range n {
			b.Deg, c.Deg = append(b.Deg, 100), append(c.Deg, 92)
		}
		got := CompareReadings(b, c, CompareOptions{})
		floor := 3*3 - 2.5*2.5
		if n >= 3 {
			floor = 0
		}
		near(t, "two occasions", got.Lost-got.Interval95[0], 1.9599639845*math.Sqrt(2*(floor/float64(n)+2.5*2.5+2*2)), 1e-6)
	}
	// The same said by the occasion's name, on both sides at once; one occasion adds nothing.
	for name, want := range map[string]float64{"May": 1.9599639845 * 2.5 * math.Sqrt2, "June": 1.9599639845 * math.Sqrt(2*(2.5*2.5+DefaultOccasionSDDeg*DefaultOccasionSDDeg))} {
		b := Readings{Deg: []float64{100, 100, 100}, NoiseSDDeg: 2.5, Occasion: "May"}
		c := Readings{Deg: []float64{92, 92, 92}, NoiseSDDeg: 2.5, Occasion: name}
		got := CompareReadings(b, c, CompareOptions{})
		near(t, "May against "+name, got.Lost-got.Interval95[0], want, 1e-6)
	}
	near(t, "the published smallest change of two occasions", 1.96*math.Sqrt2*DefaultOccasionSDDeg, 4.6, 1e-9) // Powden et al. 2015
	noisy := CompareReadings(Readings{Deg: []float64{100}, NoiseSDDeg: 6}, Readings{Deg: []float64{92}, NoiseSDDeg: 6}, CompareOptions{})
	near(t, "twice the noise", noisy.Lost-noisy.Interval95[0], 2*8.3155755768, 2e-3)
	none := CompareReadings(Readings{}, Readings{Deg: []float64{92}}, CompareOptions{})
	if none.Verdict != Unclear || !math.IsNaN(none.Lost) {
		t.Errorf("nothing against something: %+v", none)
	}
	// Three reps that agree by chance still carry the network's error.
	same := CompareReadings(Readings{Deg: []float64{90, 90, 90}, NoiseSDDeg: 1.5}, Readings{Deg: []float64{90, 90, 90}, NoiseSDDeg: 1.5}, CompareOptions{})
	near(t, "noise alone", same.Interval95[1], 1.959964*1.5*math.Sqrt2, 1e-4)
	if same.Verdict != Held {
		t.Errorf("equal reps: %v, want held", same.Verdict)
	}
}

func TestVerdict(t *testing.T) {
	for _, c := range []struct {
		lost, lo, hi float64
		want         Verdict
	}{
		{10, 8, 12, Lost}, {5, 0.1, 9.9, Lost}, {5, -0.1, 10, Unclear}, {4.9, 1, 8, Unclear},
		{2, 1, 3, Held}, {0, -4.9, 4.9, Held}, {0, -6, 6, Unclear}, {-7, -10, -4, Gained}, {-4, -7, -1, Unclear},
		{math.NaN(), 1, 2, Unclear},
	} {
		if got := verdict(c.lost, [2]float64{c.lo, c.hi}, CompareOptions{SmallestChangeDeg: 5}); got != c.want {
			t.Errorf("lost %g (%g to %g): %v, want %v", c.lost, c.lo, c.hi, got, c.want)
		}
	}
}

func repWith(tempo Tempo, romDeg float64) Rep {
	r := Rep{RepTimes: RepTimes{Tempo: tempo, FlightS: math.NaN()}}
	for a := range body.NumAngles {
		r.Angles[a] = AngleMeasure{ROMDeg: romDeg, AtBottomDeg: romDeg, SDDeg: 1}
	}
	return r
}

func TestCompareGroupsFirstLost(t *testing.T) {
	var reps []Rep
	for _, d := range []float64{-1, 0, 1} {
		reps = append(reps, repWith(TempoSlow, 100+d), repWith(TempoFast, 98+d), repWith(TempoJump, 80+d))
	}
	partial := repWith(TempoJump, 10)
	partial.Partial = true
	reps = append(reps, partial)
	c, err := CompareGroups(ByTempo(reps), CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Pairs) != 3 {
		t.Fatalf("%d pairs, want 3", len(c.Pairs))
	}
	for j := range body.NumJoints {
		if c.FirstLost[j] != TempoJump.Condition() {
			t.Errorf("%v first lost at %v, want jump", j, c.FirstLost[j])
		}
	}
	if n := c.Pairs[1].Joints[body.KneeJoint].ChallengeReps; n != 3 {
		t.Errorf("the partial rep was counted: %d reps", n)
	}
	if _, err := CompareGroups(ByTempo(reps[:1]), CompareOptions{}); !errors.Is(err, ErrNothingToCompare) {
		t.Errorf("one tempo: got %v", err)
	}
	if _, err := Compare(Group{}, Group{Reps: reps}, CompareOptions{}); !errors.Is(err, ErrNothingToCompare) {
		t.Errorf("no baseline: got %v", err)
	}
}

// Groups of any axis and number are compared, the easier with the harder.
func TestCompareGroupsOfDays(t *testing.T) {
	var groups []Group
	for i, day := range []string{"2025-01-02", "2025-01-09", "2025-01-16", "2025-01-23"} {
		g := Group{Condition: Condition{Key: day, Axis: AxisDay, Rank: i + 1, Words: day}}
		for _, d := range []float64{-1, 0, 1} {
			g.Reps = append(g.Reps, repWith(TempoFast, 100+d-8*float64(i)))
		}
		groups = append(groups, g)
	}
	slices.Reverse(groups)
	c, err := CompareGroups(append(groups, Group{Condition: Condition{Key: "none", Rank: 9}}), CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Pairs) != 6 {
		t.Fatalf("%d pairs of four days, want 6", len(c.Pairs))
	}
	for _, p := range c.Pairs {
		if lost := 8 * float64(p.Challenge.Rank-p.Baseline.Rank); !(lost > 0) || math.Abs(p.Joints[body.KneeJoint].ROM.Lost-lost) > 1e-9 {
			t.Errorf("%s against %s: %g lost, want %g", p.Baseline.Key, p.Challenge.Key, p.Joints[body.KneeJoint].ROM.Lost, lost)
		}
	}
	if got := c.FirstLost[body.HipJoint].Key; got != "2025-01-09" {
		t.Errorf("first lost at %q, want the second day", got)
	}
}
