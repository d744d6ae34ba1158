package kinematics

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/frontal"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/stats"
)

// errNothingToCompare: one of the sides has no rep that can be used.
var errNothingToCompare = errors.New("there are no reps to compare")

// CompareOptions are the coach's choices for a comparison.
type CompareOptions struct {
	// Movement says which joints and positions are compared.
	Movement movement.Movement
	// SmallestChangeDeg is the smallest change of an angle that matters, degrees; 0: that of
	// the table of angles.
	SmallestChangeDeg float64
	// MDC95Deg is the smallest change that this athlete's own repeated test can
	// tell from chance, by joint, see [RetestMDC]; 0 or NaN: not known. At its joint it is
	// the smallest that can be told, and over 1.96 sqrt(2) what differs from rep to rep.
	MDC95Deg body.ByJoint[float64]
	// SupportBandPct is the middle of the foot, which the ladder wants the support point
	// in; zero: 25 to 75 per cent.
	SupportBandPct [2]float64
	// TurnOnly compares positions at the turn and nothing else, as of two movements that share it.
	TurnOnly bool
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
			opt.RepSD = mdc / (1.96 * math.Sqrt2)
		}
	}
	return opt
}

// ForPosition returns the options for one position, in its own unit.
func (o CompareOptions) ForPosition(p Position) stats.Options {
	if a, ok := angleOf(p); ok {
		return o.ForAngle(a)
	}
	return PositionQuantity(p).options()
}

// Comparison is what was lost from an easy condition to hard ones. Conditions are named by
// their keys.
type Comparison struct {
	// Movement is the key of the one that is compared, Joints those whose ranges are, what is told first before the
	// others; in a comparison of before both are empty.
	Movement string `json:"movement"`
	// Turn is what its turn is called; empty: the bottom.
	Turn string `json:"turn,omitempty"`
	// TurnOnly says that positions at the turn are compared and nothing else, as of movements that share it.
	TurnOnly bool         `json:"turn_only,omitempty"`
	Joints   []body.Joint `json:"joints"`
	// Pairs holds every pair of conditions, the easier as the baseline.
	Pairs []Pair `json:"pairs"`
	// FirstLost names, by joint, the easiest condition in which range of motion was lost
	// against the easiest of all; nil when it was lost in none.
	FirstLost body.ByJoint[*string] `json:"first_lost"`
	Ladder    Ladder                `json:"ladder"`
	// Landing is nil when no rep has one.
	Landing *LandingComparison `json:"landing"`
}

// Pair compares two conditions. The clips are those of [Group.Clip], the rep numbers name
// the most typical one of each.
type Pair struct {
	Baseline      string                    `json:"baseline"`
	Challenge     string                    `json:"challenge"`
	BaselineClip  int                       `json:"baseline_clip"`
	ChallengeClip int                       `json:"challenge_clip"`
	BaselineRep   int                       `json:"baseline_rep"`
	ChallengeRep  int                       `json:"challenge_rep"`
	Joints        body.ByJoint[JointChange] `json:"joints"`
	Support       []SupportChange           `json:"support"`
	Curves        []CurvePair               `json:"curves"`
	AngleAngle    []AngleAngle              `json:"angle_angle"`
	// Front is what became of what the front shows; nil of clips from the side.
	Front []frontal.Change `json:"front,omitempty"`
}

// JointChange compares one joint in two conditions: its range of motion, and its angle at
// the bottom. See [stats.Change].
type JointChange struct {
	BaselineROMDeg  float64 `json:"baseline_rom_deg"`
	ChallengeROMDeg float64 `json:"challenge_rom_deg"`
	// BaselineInterval95Deg and ChallengeInterval95Deg are the intervals of the two means:
	// of a mean alone, which also has what all conditions of the athlete share. In a
	// comparison of before they were kept both ends are 0.
	BaselineInterval95Deg  [2]float64    `json:"baseline_interval95_deg"`
	ChallengeInterval95Deg [2]float64    `json:"challenge_interval95_deg"`
	LostDeg                float64       `json:"lost_deg"`
	Interval95Deg          [2]float64    `json:"interval95_deg"`
	RetainedPct            float64       `json:"retained_pct"`
	Verdict                stats.Verdict `json:"verdict"`

	BaselineBottomDeg   float64       `json:"baseline_bottom_deg"`
	ChallengeBottomDeg  float64       `json:"challenge_bottom_deg"`
	BottomLostDeg       float64       `json:"bottom_lost_deg"`
	BottomInterval95Deg [2]float64    `json:"bottom_interval95_deg"`
	BottomVerdict       stats.Verdict `json:"bottom_verdict"`
	// The angles at the bottom are counted from the athlete's own standing where these say so;
	// where only one is, the two cannot be compared and the verdict is unclear.
	BaselineZeroKnown  bool `json:"baseline_zero_known"`
	ChallengeZeroKnown bool `json:"challenge_zero_known"`
	// StartsApart says that one of the two ranges starts on the toes and the other on flat feet: they cannot be compared.
	StartsApart bool `json:"starts_apart,omitempty"`
	// BaselineReps and ChallengeReps count the reps that went into the means.
	BaselineReps  int `json:"baseline_reps"`
	ChallengeReps int `json:"challenge_reps"`
	// RepsToTell is how many reps of each would make an unclear change of the range clear, see [stats.RepsToTell].
	RepsToTell int `json:"reps_to_tell"`
}

// comparedPhases are the phases whose support points are compared. That of the bottom is a position, which the ladder
// follows.
var comparedPhases = []events.PhaseName{events.PhaseDescent, events.PhaseAscent, events.PhaseLanding}

// SupportChange compares the mean support point of one phase, in per cent of the foot: a
// loss is a support point that lies nearer to the heel in the challenge.
type SupportChange struct {
	Phase events.PhaseName `json:"phase"`
	stats.Change
}

// CompareGroups compares every pair of groups that hold reps, the easier with the harder,
// says in which condition each joint first lost range, and follows the positions through
// the conditions. The groups' conditions are of one axis. Partial reps are left out as long
// as a group has whole ones. It returns an error when fewer than two groups hold reps.
func CompareGroups(groups []Group, opt CompareOptions) (Comparison, error) {
	groups = slices.DeleteFunc(slices.Clone(groups), func(g Group) bool { return len(g.Reps) == 0 })
	slices.SortStableFunc(groups, func(a, b Group) int { return cmp.Compare(a.Condition.Rank, b.Condition.Rank) })
	c := Comparison{Movement: opt.Movement.Key, Turn: opt.Movement.Turn.Called,
		TurnOnly: opt.TurnOnly, Joints: append([]body.Joint{}, opt.Movement.Joints...)}
	for i := range groups {
		groups[i].Reps = wholeReps(groups[i].Reps)
	}
	for i := range groups {
		for k := i + 1; k < len(groups); k++ {
			p := comparePair(&groups[i], &groups[k], opt)
			c.Pairs = append(c.Pairs, p)
			for j, change := range p.Joints {
				if i == 0 && change.Verdict == stats.Lost && c.FirstLost[j] == nil {
					c.FirstLost[j] = &p.Challenge
				}
			}
		}
	}
	if len(c.Pairs) == 0 {
		return Comparison{}, fmt.Errorf("comparing conditions: %w", errNothingToCompare)
	}
	if c.Ladder = ladderOf(groups, opt); !opt.TurnOnly {
		c.Landing = compareLandings(groups, opt)
	}
	return c, nil
}

// Withhold takes out of the comparison all that it says of one condition against another, and leaves what was measured
// in each: for what may be looked at side by side but not compared, such as the left and the right leg.
func (c *Comparison) Withhold() {
	for i := range c.Pairs {
		p := &c.Pairs[i]
		nan := math.NaN()
		for j := range p.Joints {
			ch := &p.Joints[j]
			ch.LostDeg, ch.RetainedPct, ch.Interval95Deg, ch.Verdict = nan, nan, [2]float64{nan, nan}, stats.Unclear
			ch.BottomLostDeg, ch.BottomInterval95Deg, ch.BottomVerdict = nan, [2]float64{nan, nan}, stats.Unclear
			ch.RepsToTell = 0
		}
		for k := range p.Support {
			p.Support[k].Change = p.Support[k].NotComparable()
		}
		for k := range p.Curves {
			p.Curves[k].LostFromPct, p.Curves[k].GainedFromPct = nil, nil
		}
		for k := range p.Front {
			p.Front[k] = p.Front[k].Withheld()
		}
	}
	c.FirstLost = body.ByJoint[*string]{}
	for i := range c.Ladder.Rungs {
		r := &c.Ladder.Rungs[i]
		r.First, r.PointsTo = "", ""
		for k := range r.Cells {
			r.Cells[k].Change, r.Cells[k].RepsToTell = nil, 0
		}
	}
	if l := c.Landing; l != nil {
		l.AgainstSlow, l.AgainstFast = nil, nil
	}
}

// comparePair says, joint by joint and along the movement, what the challenge lost of the
// baseline.
func comparePair(base, hard *Group, opt CompareOptions) Pair {
	p := Pair{
		Baseline: base.Condition.Key, Challenge: hard.Condition.Key, BaselineClip: base.Clip, ChallengeClip: hard.Clip,
		BaselineRep: typicalNumber(base.Reps), ChallengeRep: typicalNumber(hard.Reps),
		Support: []SupportChange{}, Curves: []CurvePair{}, AngleAngle: []AngleAngle{},
	}
	if !opt.TurnOnly {
		p.Curves, p.AngleAngle = curvePairs(base, hard, opt), angleAngles(base, hard, opt)
	}
	for j := range p.Joints {
		p.Joints[j] = notCompared()
	}
	if FromFront(base.Reps) && FromFront(hard.Reps) {
		p.Curves, p.AngleAngle = []CurvePair{}, []AngleAngle{}
		p.Front = frontal.Compare(FrontsOf(base.Reps), FrontsOf(hard.Reps),
			[2]string{base.Reps[0].Occasion, hard.Reps[0].Occasion}, opt.SmallestChangeDeg)
		return p
	}
	for _, j := range opt.Movement.Joints {
		a := j.Angle()
		of := opt.ForAngle(a)
		b, c := ROMReadings(base.Reps, a), ROMReadings(hard.Reps, a)
		rom, bottom := stats.Compare(b, c, of), stats.Compare(atBottom(base.Reps, a), atBottom(hard.Reps, a), of)
		baseZero, hardZero := base.zeroKnown(a), hard.zeroKnown(a)
		if baseZero != hardZero {
			bottom = bottom.NotComparable()
		}
		apart := a == body.AnkleDorsiflexion && base.fromToes() != hard.fromToes()
		if apart {
			rom = rom.NotComparable()
		}
		// A joint that must be straight loses by bending.
		if q := PositionQuantity(PositionIn(opt.Movement.Positions, j)); q.Worse < 0 {
			bottom.Verdict = stats.Verdict(q.Look(bottom.Verdict))
		}
		p.Joints[j] = JointChange{
			BaselineROMDeg: rom.Baseline, ChallengeROMDeg: rom.Challenge,
			BaselineInterval95Deg:  meanOfROM(base.Reps, a, b.Against(c, of), of).Interval95(),
			ChallengeInterval95Deg: meanOfROM(hard.Reps, a, c.Against(b, of), of).Interval95(),
			LostDeg:                rom.Lost, Interval95Deg: rom.Interval95, RetainedPct: rom.RetainedPct, Verdict: rom.Verdict,
			BaselineBottomDeg: bottom.Baseline, ChallengeBottomDeg: bottom.Challenge,
			BottomLostDeg: bottom.Lost, BottomInterval95Deg: bottom.Interval95, BottomVerdict: bottom.Verdict,
			BaselineZeroKnown: baseZero, ChallengeZeroKnown: hardZero, StartsApart: apart,
			BaselineReps: len(b.Values), ChallengeReps: len(c.Values), RepsToTell: stats.RepsToTell(b, c, of),
		}
		if opt.TurnOnly {
			p.Joints[j].forgetRange()
		}
	}
	if opt.TurnOnly {
		return p
	}
	for _, phase := range comparedPhases {
		if c, ok := compareSupport(base.Reps, hard.Reps, phase); ok {
			p.Support = append(p.Support, SupportChange{phase, c})
		}
	}
	return p
}

// forgetRange leaves of a joint what is known at the turn.
func (c *JointChange) forgetRange() {
	none := notCompared()
	c.BaselineROMDeg, c.ChallengeROMDeg, c.LostDeg, c.RetainedPct = none.LostDeg, none.LostDeg, none.LostDeg, none.LostDeg
	c.BaselineInterval95Deg, c.ChallengeInterval95Deg = none.Interval95Deg, none.Interval95Deg
	c.Interval95Deg, c.Verdict, c.RepsToTell = none.Interval95Deg, none.Verdict, 0
}

// notCompared is the change of a joint that does not count in the movement.
func notCompared() JointChange {
	nan := math.NaN()
	none := [2]float64{nan, nan}
	return JointChange{
		BaselineROMDeg: nan, ChallengeROMDeg: nan, BaselineInterval95Deg: none, ChallengeInterval95Deg: none, LostDeg: nan,
		Interval95Deg: none, RetainedPct: nan, Verdict: stats.Unclear, BaselineBottomDeg: nan, ChallengeBottomDeg: nan,
		BottomLostDeg: nan, BottomInterval95Deg: none, BottomVerdict: stats.Unclear, BaselineZeroKnown: true,
		ChallengeZeroKnown: true,
	}
}

// zeroKnown says whether an angle of the group's reps is counted from the athlete's standing.
func (g *Group) zeroKnown(a body.Angle) bool {
	return !slices.ContainsFunc(g.Reps, func(r Rep) bool {
		return !r.Angles[a].ZeroKnown && !math.IsNaN(r.Angles[a].AtBottomDeg)
	})
}

func (g *Group) fromToes() bool {
	return g.Reps[TypicalRep(g.Reps)].Angles[body.AnkleDorsiflexion].FromToes()
}

// atBottom returns the angle at the bottom of the reps. A range is the difference of two
// readings, but its standing end is the same in both conditions and cancels.
func atBottom(reps []Rep, a body.Angle) stats.Readings {
	return readings(reps, func(r *Rep) (float64, float64) { return r.Angles[a].AtBottomDeg, r.Angles[a].SharedSDDeg() })
}

// atLanding returns the angle at the bottom of the reps' landings.
func atLanding(reps []Rep, a body.Angle) stats.Readings {
	return readings(reps, func(r *Rep) (float64, float64) {
		return r.Angles[a].AtLandingBottomDeg, r.Angles[a].SharedSDDeg()
	})
}

// wholeReps returns the reps that count, or all when none does.
func wholeReps(reps []Rep) []Rep {
	var whole []Rep
	for _, r := range reps {
		if r.Counts() {
			whole = append(whole, r)
		}
	}
	if len(whole) == 0 {
		return reps
	}
	return whole
}

// compareSupport compares the mean support point of a phase in two sets of reps. ok is
// false when a side does not know it.
func compareSupport(baseline, challenge []Rep, phase events.PhaseName) (c stats.Change, ok bool) {
	of := func(reps []Rep) stats.Readings {
		r := stats.Readings{NoiseSD: measure.SupportSEMPct}
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

// LandingComparison sets three bottoms side by side, joint by joint, in degrees: that of
// slow reps, that of the take-off, and that of the landing.
type LandingComparison struct {
	// SlowReps and Jumps count what went into the means.
	SlowReps int `json:"slow_reps"`
	Jumps    int `json:"jumps"`
	// The clips are those of [Group.Clip], the rep numbers name the most typical ones.
	SlowClip int `json:"slow_clip"` // -1: no slow reps
	SlowRep  int `json:"slow_rep"`
	JumpClip int `json:"jump_clip"`
	JumpRep  int `json:"jump_rep"`
	// AgainstSlow is the bottom of slow reps (baseline) and the landing's (challenge); nil
	// without slow reps. AgainstFast is the same of fast reps. AgainstTakeoff is the
	// take-off's bottom and the landing's of the same jumps.
	AgainstSlow    *body.ByJoint[stats.Change] `json:"against_slow"`
	AgainstFast    *body.ByJoint[stats.Change] `json:"against_fast"`
	AgainstTakeoff body.ByJoint[stats.Change]  `json:"against_takeoff"`
}

// compareLandings compares the landing bottoms of the jumps with their take-off bottoms
// and with the bottoms of slow and of fast reps, which may come from other clips of the athlete. It
// returns nil where it is not tempos that are compared, or when no rep has a landing.
func compareLandings(groups []Group, opt CompareOptions) *LandingComparison {
	of := func(t events.Tempo, flown bool) *Group {
		for _, g := range groups {
			if g.Condition != ConditionOf(t) {
				continue
			}
			g.Reps = slices.DeleteFunc(slices.Clone(g.Reps), func(r Rep) bool {
				return r.HasFlight() != flown || flown && math.IsNaN(r.Angles[body.KneeFlexion].AtLandingBottomDeg)
			})
			if len(g.Reps) > 0 {
				return &g
			}
		}
		return &Group{Clip: -1}
	}
	jumps, slow := of(events.TempoJump, true), of(events.TempoSlow, false)
	if len(jumps.Reps) == 0 {
		return nil
	}
	c := &LandingComparison{SlowReps: len(slow.Reps), Jumps: len(jumps.Reps), SlowClip: slow.Clip, JumpClip: jumps.Clip,
		SlowRep: typicalNumber(slow.Reps), JumpRep: typicalNumber(jumps.Reps)}
	against := func(easier *Group) *body.ByJoint[stats.Change] {
		if len(easier.Reps) == 0 {
			return nil
		}
		out := &body.ByJoint[stats.Change]{}
		for j := range body.NumJoints {
			a := j.Angle()
			out[j] = stats.Compare(atBottom(easier.Reps, a), atLanding(jumps.Reps, a), opt.ForAngle(a))
			if easier.zeroKnown(a) != jumps.zeroKnown(a) {
				out[j] = out[j].NotComparable()
			}
		}
		return out
	}
	c.AgainstSlow, c.AgainstFast = against(slow), against(of(events.TempoFast, false))
	for j := range body.NumJoints {
		a := j.Angle()
		c.AgainstTakeoff[j] = stats.Compare(atBottom(jumps.Reps, a), atLanding(jumps.Reps, a), opt.ForAngle(a))
	}
	return c
}
