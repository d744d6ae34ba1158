package kinematics

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"holdfast/kinematics/body"
)

// DefaultSmallestChangeDeg is the smallest change of an angle that matters.
// Common practice, no source: of the size of the smallest change that repeated
// lunge measurements detect (4.6 degrees, Powden et al. 2015).
const DefaultSmallestChangeDeg = 5

// ErrNothingToCompare: one of the sides has no rep that can be used.
var ErrNothingToCompare = errors.New("there are no reps to compare")

// DefaultOccasionSDDeg is the standard deviation, in degrees, of what differs between two
// occasions though the athlete did not change: camera, clothes, time of day. From the
// smallest detectable change of 4.6 degrees that repeated weight-bearing lunge
// measurements of different testers show (Powden et al. 2015): 4.6 / (1.96 sqrt 2).
const DefaultOccasionSDDeg = 4.6 / (1.96 * math.Sqrt2)

const (
	// defaultSEMDeg is the standard error of one reading of a range of motion
	// that is assumed where too few reps show their own spread. Common practice,
	// no source: markerless studies report 4 to 8 degrees of error on a single
	// frame, the greater part of which is the same in both conditions and cancels.
	defaultSEMDeg = 3
	// minRepsForSpread is the smallest number of reps whose own spread is used:
	// two say next to nothing of it.
	minRepsForSpread = 3
)

// CompareOptions are the coach's choices for a comparison.
type CompareOptions struct {
	// SmallestChangeDeg is the smallest change that matters, degrees; 0: 5.
	SmallestChangeDeg float64
	// SEMDeg is the standard error of one reading that is used with fewer than
	// three reps on a side, degrees; 0: 3.
	SEMDeg float64
	// OccasionSDDeg is how far a reading of one occasion is off that of another, as a
	// standard deviation of each, degrees; 0: DefaultOccasionSDDeg. It counts where the
	// sides were filmed on different occasions.
	OccasionSDDeg float64
	// DetectableDeg is the smallest change that can be told from chance where that is
	// known apart from the interval, degrees; 0: not known. A smaller change is
	// neither lost nor gained; it does not make a change held.
	DetectableDeg float64
	// MDC95Deg is the smallest change that this athlete's own repeated test can
	// tell from chance, by joint, see [RetestMDC]; 0 or NaN: not known. At its joint
	// it takes the place of DetectableDeg and, over 1.96 sqrt(2), of SEMDeg.
	MDC95Deg [body.NumJoints]float64
}

// ForAngle returns the options for one angle: at a joint, its own MDC95 takes the place
// of the smallest detectable change and of the standard error; at another angle none does.
func (o CompareOptions) ForAngle(a body.Angle) CompareOptions {
	mdcs := o.MDC95Deg
	o.MDC95Deg = [body.NumJoints]float64{}
	for j := range body.NumJoints {
		if mdc := mdcs[j]; j.Angle() == a && mdc > 0 && !math.IsInf(mdc, 1) {
			o.DetectableDeg = mdc
			o.SEMDeg = mdc / (1.96 * math.Sqrt2)
		}
	}
	return o
}

func (o CompareOptions) smallest() float64 {
	if o.SmallestChangeDeg > 0 {
		return o.SmallestChangeDeg
	}
	return DefaultSmallestChangeDeg
}

func (o CompareOptions) occasionSD() float64 {
	if o.OccasionSDDeg > 0 {
		return o.OccasionSDDeg
	}
	return DefaultOccasionSDDeg
}

func (o CompareOptions) sem() float64 {
	if o.SEMDeg > 0 {
		return o.SEMDeg
	}
	return defaultSEMDeg
}

// Compare says, joint by joint, what the challenge lost of the baseline. Partial
// reps are left out as long as a side has whole ones. It returns ErrNothingToCompare
// when a side has no reps.
func Compare(baseline, challenge Group, opt CompareOptions) (Pair, error) {
	base, hard := wholeReps(baseline.Reps), wholeReps(challenge.Reps)
	if len(base) == 0 || len(hard) == 0 {
		return Pair{}, fmt.Errorf("comparing %d reps with %d: %w", len(base), len(hard), ErrNothingToCompare)
	}
	p := Pair{Baseline: baseline.Condition, Challenge: challenge.Condition}
	for j := range body.NumJoints {
		a := j.Angle()
		of := opt.ForAngle(a)
		// A range is the difference of two readings, but its standing end is the same in
		// both conditions and cancels.
		bottom := func(r *Rep) (float64, float64) { return r.Angles[a].AtBottomDeg, r.Angles[a].sharedSDDeg() }
		b, c := ROMReadings(base, a), ROMReadings(hard, a)
		p.Joints[j] = JointComparison{
			ROM:             CompareReadings(b, c, of),
			BaselineROMDeg:  meanOfROM(base, a, b.against(c, of), of),
			ChallengeROMDeg: meanOfROM(hard, a, c.against(b, of), of),
			Bottom:          CompareReadings(readings(base, bottom), readings(hard, bottom), of),
			BaselineReps:    len(b.Deg), ChallengeReps: len(c.Deg),
		}
	}
	return p, nil
}

// CompareGroups compares every pair of groups that hold reps, the easier with the harder,
// and says in which condition each joint first lost range. The groups' conditions are of
// one axis. It returns ErrNothingToCompare when fewer than two groups hold reps.
func CompareGroups(groups []Group, opt CompareOptions) (Comparison, error) {
	groups = byRank(groups, func(g Group) Condition { return g.Condition })
	groups = slices.DeleteFunc(groups, func(g Group) bool { return len(g.Reps) == 0 })
	var c Comparison
	for i, b := range groups {
		for _, h := range groups[i+1:] {
			p, err := Compare(b, h, opt)
			if err != nil {
				return Comparison{}, fmt.Errorf("comparing %s with %s: %w", b.Condition.Words, h.Condition.Words, err)
			}
			c.Pairs = append(c.Pairs, p)
		}
	}
	if len(c.Pairs) == 0 {
		return Comparison{}, fmt.Errorf("comparing conditions: %w", ErrNothingToCompare)
	}
	c.FirstLost = firstLost(c.Pairs)
	return c, nil
}

// firstLost returns, for each joint, the easiest challenge at which range of motion was
// lost against the easiest baseline of the pairs; not known where it was lost at none.
func firstLost(pairs []Pair) [body.NumJoints]Condition {
	var first [body.NumJoints]Condition
	easiest := pairs[0].Baseline
	for _, p := range pairs {
		if p.Baseline.Rank < easiest.Rank {
			easiest = p.Baseline
		}
	}
	for _, p := range pairs {
		if p.Baseline != easiest {
			continue
		}
		for j := range body.NumJoints {
			if p.Joints[j].ROM.Verdict == Lost && (!first[j].Known() || p.Challenge.Rank < first[j].Rank) {
				first[j] = p.Challenge
			}
		}
	}
	return first
}

// wholeReps returns the reps that are not partial, or all when none is whole.
func wholeReps(reps []Rep) []Rep {
	var whole []Rep
	for _, r := range reps {
		if !r.Partial {
			whole = append(whole, r)
		}
	}
	if len(whole) == 0 {
		return reps
	}
	return whole
}

// CompareReadings compares two sets of readings. With three or more on both
// sides the variance of each mean is
//
//	s^2/n + noise^2 + occasion^2
//
// (the last where the sides were filmed on different occasions)
// from the spread s between its n reps, which holds the noise of each reading, and
// what all of them share. The interval is Welch's: t has the degrees of freedom of
// Welch and Satterthwaite, what is shared counting as known. Without it, it is the
// plain Welch interval. With fewer reps s is taken to be at least so large that one
// reading has the assumed standard error of a reading, its noise counted in (see
// CompareOptions), and the interval is the normal one: one rep against one at 3
// degrees gives 8.3 degrees either way.
func CompareReadings(baseline, challenge Readings, opt CompareOptions) Change {
	c := Change{Baseline: math.NaN(), Challenge: math.NaN(), Lost: math.NaN(),
		RetainedPct: math.NaN(), Interval95: [2]float64{math.NaN(), math.NaN()}, Verdict: Unclear}
	nb, nc := float64(len(baseline.Deg)), float64(len(challenge.Deg))
	if nb > 0 {
		c.Baseline = stat.Mean(baseline.Deg, nil)
	}
	if nc > 0 {
		c.Challenge = stat.Mean(challenge.Deg, nil)
	}
	if nb == 0 || nc == 0 {
		return c
	}
	c.Lost = c.Baseline - c.Challenge
	if c.Baseline != 0 {
		c.RetainedPct = 100 * c.Challenge / c.Baseline
	}

	baseline, challenge = baseline.against(challenge, opt), challenge.against(baseline, opt)
	few := min(nb, nc) < minRepsForSpread
	ownB, sharedB := baseline.variances(few, opt)
	ownC, sharedC := challenge.variances(few, opt)
	v, quantile := ownB+ownC+sharedB+sharedC, noise95
	if d := ownB*ownB/(nb-1) + ownC*ownC/(nc-1); !few && d > 0 {
		quantile = t95(v * v / d)
	}
	half := quantile * math.Sqrt(v)
	c.Interval95 = [2]float64{c.Lost - half, c.Lost + half}
	c.Verdict = verdict(c.Lost, c.Interval95, opt)
	return c
}

// verdict applies the rule of [Verdict].
func verdict(lost float64, interval [2]float64, opt CompareOptions) Verdict {
	smallest := opt.smallest()
	clear := max(smallest, opt.DetectableDeg)
	switch lo, hi := interval[0], interval[1]; {
	case math.IsNaN(lost) || math.IsNaN(lo) || math.IsNaN(hi):
		return Unclear
	case lo > 0 && lost >= clear:
		return Lost
	case hi < 0 && lost <= -clear:
		return Gained
	case lo > -smallest && hi < smallest:
		return Held
	default:
		return Unclear
	}
}
