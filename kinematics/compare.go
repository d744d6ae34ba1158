package kinematics

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
)

// ErrNothingToCompare: one of the sides has no rep that can be used.
var ErrNothingToCompare = errors.New("there are no reps to compare")

// CompareOptions are the coach's choices for a comparison.
type CompareOptions struct {
	// Movement says which joints and positions are compared; without a key: those of the
	// squat.
	Movement Movement
	// SmallestChangeDeg is the smallest change of an angle that matters, degrees; 0: that of
	// the table of angles.
	SmallestChangeDeg float64
	// MDC95Deg is the smallest change that this athlete's own repeated test can
	// tell from chance, by joint, see [RetestMDC]; 0 or NaN: not known. At its joint it is
	// the smallest that can be told, and over 1.96 sqrt(2) the standard error of a reading.
	MDC95Deg body.ByJoint[float64]
}

// ForAngle returns the options for one angle, in degrees.
func (o CompareOptions) ForAngle(a body.Angle) stats.Options {
	opt := AngleQuantity(a).options()
	if o.SmallestChangeDeg > 0 {
		opt.SmallestChange = o.SmallestChangeDeg
	}
	for j := range body.NumJoints {
		if mdc := o.MDC95Deg[j]; j.Angle() == a && mdc > 0 && !math.IsInf(mdc, 1) {
			opt.Detectable = mdc
			opt.SEM = mdc / (1.96 * math.Sqrt2)
		}
	}
	return opt
}

// ForPosition returns the options for one position, in its own unit.
func (o CompareOptions) ForPosition(p Position) stats.Options {
	if a, ok := p.angle(); ok {
		return o.ForAngle(a)
	}
	return PositionQuantity(p).options()
}

func (o CompareOptions) movement() Movement {
	if o.Movement.Key == "" {
		return Squat()
	}
	return o.Movement
}

// JointComparison compares one joint in two conditions.
type JointComparison struct {
	ROM    stats.Change
	Bottom stats.Change
	// BaselineROMDeg and ChallengeROMDeg are the means of the two ranges, each with its
	// own interval: that of a mean alone, which also has what all tempos of the athlete share.
	BaselineROMDeg, ChallengeROMDeg stats.Estimate
	// BaselineReps and ChallengeReps count the reps that went into the means.
	BaselineReps, ChallengeReps int
}

// Pair compares two conditions.
type Pair struct {
	Baseline, Challenge Condition
	Joints              body.ByJoint[JointComparison]
}

// Comparison holds every pair of conditions that was compared and, for each joint, the
// easiest condition in which range of motion was lost against the easiest of all (not
// known: in none).
type Comparison struct {
	Pairs     []Pair
	FirstLost body.ByJoint[Condition]
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
	for _, j := range opt.movement().Joints {
		a := j.Angle()
		of := opt.ForAngle(a)
		// A range is the difference of two readings, but its standing end is the same in
		// both conditions and cancels.
		bottom := func(r *Rep) (float64, float64) { return r.Angles[a].AtBottomDeg, r.Angles[a].SharedSDDeg() }
		b, c := ROMReadings(base, a), ROMReadings(hard, a)
		p.Joints[j] = JointComparison{
			ROM:             stats.Compare(b, c, of),
			BaselineROMDeg:  meanOfROM(base, a, b.Against(c, of), of),
			ChallengeROMDeg: meanOfROM(hard, a, c.Against(b, of), of),
			Bottom:          stats.Compare(readings(base, bottom), readings(hard, bottom), of),
			BaselineReps:    len(b.Values), ChallengeReps: len(c.Values),
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
func firstLost(pairs []Pair) body.ByJoint[Condition] {
	var first body.ByJoint[Condition]
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
			if p.Joints[j].ROM.Verdict == stats.Lost && (!first[j].Known() || p.Challenge.Rank < first[j].Rank) {
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

// CompareSupport compares the mean support point of a phase in two sets of reps, in
// per cent of the foot: a loss is a support point that lies nearer to the heel in the
// challenge. ok is false when a side does not know it.
func CompareSupport(baseline, challenge []Rep, phase events.PhaseName) (c stats.Change, ok bool) {
	of := func(reps []Rep) stats.Readings {
		r := stats.Readings{NoiseSD: PositionQuantity(PositionSupport).SEM.Value}
		for i := range reps {
			r.Occasion = reps[i].Occasion
			for _, p := range reps[i].Support {
				if p.Phase == phase && p.MeanPct.Known() {
					r.Values = append(r.Values, p.MeanPct.Value)
				}
			}
		}
		return r
	}
	b, h := of(baseline), of(challenge)
	c = stats.Compare(b, h, CompareOptions{}.ForPosition(PositionSupport))
	return c, len(b.Values) > 0 && len(h.Values) > 0
}

// LandingComparison sets three bottoms side by side, joint by joint: that of slow
// reps, that of the take-off, and that of the landing.
type LandingComparison struct {
	// AgainstTakeoff is the take-off's bottom (baseline) and the landing's
	// (challenge) of the same jumps; AgainstSlow the bottom of slow reps and the
	// landing's. HasSlow is false when there are no slow reps.
	AgainstTakeoff, AgainstSlow [body.NumJoints]stats.Change
	HasSlow                     bool
	// SlowReps and Jumps count what went into the means.
	SlowReps, Jumps int
}

// CompareLandings compares the landing bottoms of the jumps with their take-off
// bottoms and with the bottoms of slow reps, which may come from another clip of
// the athlete. It returns ErrNothingToCompare when no rep has a landing.
func CompareLandings(slow, jumps []Rep, opt CompareOptions) (LandingComparison, error) {
	var flown []Rep
	for _, r := range wholeReps(jumps) {
		if r.HasFlight() && !math.IsNaN(r.Angles[body.KneeFlexion].AtLandingBottomDeg) {
			flown = append(flown, r)
		}
	}
	var c LandingComparison
	if len(flown) == 0 {
		return c, ErrNothingToCompare
	}
	var slows []Rep
	for _, r := range wholeReps(slow) {
		if !r.HasFlight() {
			slows = append(slows, r)
		}
	}
	c.Jumps, c.SlowReps, c.HasSlow = len(flown), len(slows), len(slows) > 0
	for j := range body.NumJoints {
		a := j.Angle()
		of := opt.ForAngle(a)
		landing := readings(flown, func(r *Rep) (float64, float64) { return r.Angles[a].AtLandingBottomDeg, r.Angles[a].SharedSDDeg() })
		bottom := func(r *Rep) (float64, float64) { return r.Angles[a].AtBottomDeg, r.Angles[a].SharedSDDeg() }
		c.AgainstTakeoff[j] = stats.Compare(readings(flown, bottom), landing, of)
		if c.HasSlow {
			c.AgainstSlow[j] = stats.Compare(readings(slows, bottom), landing, of)
		}
	}
	return c, nil
}
