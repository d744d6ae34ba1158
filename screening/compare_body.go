package screening

import (
	"math"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
)

// comparedAngles are the angles whose curves a comparison holds.
var comparedAngles = []body.Angle{body.AnkleDorsiflexion, body.KneeFlexion, body.HipFlexion, body.TrunkLean}

// coupled are the pairs of an angle-angle plot: the proximal joint across, the
// distal one up.
var coupled = [][2]body.Angle{
	{body.HipFlexion, body.KneeFlexion},
	{body.KneeFlexion, body.AnkleDorsiflexion},
}

// addCurves compares two conditions along the movement: curves, couplings, and the
// support point phase by phase.
func addCurves(p *Pair, analyses []*Analysis, base, challenge *pool, how kinematics.CompareOptions) {
	p.Curves, p.AngleAngle, p.Support = []kinematics.CurvePair{}, []AngleAngle{}, []SupportChange{}
	sb, sc := &analyses[base.clip].Series.Angles, &analyses[challenge.clip].Series.Angles
	for _, a := range comparedAngles {
		if len(sb.AnglesDeg[a]) != len(sb.TimeS) || len(sc.AnglesDeg[a]) != len(sc.TimeS) {
			continue // an analysis of before this angle was kept
		}
		for _, part := range []kinematics.Part{kinematics.PartDescent, kinematics.PartAscent, kinematics.PartLanding} {
			if c, ok := kinematics.CompareCurves(sb, sc, base.Reps, challenge.Reps, a, part, how.ForAngle(a)); ok {
				p.Curves = append(p.Curves, c)
			}
		}
	}
	for _, pair := range coupled {
		for _, part := range []kinematics.Part{kinematics.PartDescent, kinematics.PartAscent} {
			b, err := kinematics.AngleAngleOf(sb, base.Reps, pair[0], pair[1], part)
			if err != nil {
				continue
			}
			out := AngleAngle{Over: pair[0], Of: pair[1], Part: part, Baseline: AngleAngleCurve{p.Baseline, b}}
			if c, err := kinematics.AngleAngleOf(sc, challenge.Reps, pair[0], pair[1], part); err == nil {
				out.Challenge = &AngleAngleCurve{p.Challenge, c}
			}
			p.AngleAngle = append(p.AngleAngle, out)
		}
	}
	for _, phase := range []events.PhaseName{events.PhaseDescent, events.PhaseBottom, events.PhaseAscent, events.PhaseLanding} {
		if c, ok := kinematics.CompareSupport(base.Reps, challenge.Reps, phase); ok {
			p.Support = append(p.Support, SupportChange{Phase: phase, Change: c})
		}
	}
}

// landingComparison sets the landing's bottom beside those of the take-off and of the
// slow reps; nil where it is not jumps that are compared, or when none has a landing.
func landingComparison(analyses []*Analysis, of map[string]*pool, how kinematics.CompareOptions) *LandingComparison {
	jumps := of[kinematics.ConditionOf(events.TempoJump).Key]
	if jumps == nil {
		return nil
	}
	out := &LandingComparison{SlowClip: -1, JumpClip: jumps.clip, JumpRep: typicalRep(jumps.Reps)}
	var slow []kinematics.Rep
	if p := of[kinematics.ConditionOf(events.TempoSlow).Key]; p != nil {
		slow = p.Reps
		out.SlowClip, out.SlowRep = p.clip, typicalRep(p.Reps)
	}
	c, err := kinematics.CompareLandings(slow, jumps.Reps, how)
	if err != nil {
		return nil
	}
	bottoms := func(v [body.NumJoints]stats.Change) JointBottoms {
		return JointBottoms{Knee: v[body.KneeJoint], Hip: v[body.HipJoint], Ankle: v[body.AnkleJoint]}
	}
	out.SlowReps, out.Jumps, out.AgainstTakeoff = c.SlowReps, c.Jumps, bottoms(c.AgainstTakeoff)
	if c.HasSlow {
		b := bottoms(c.AgainstSlow)
		out.AgainstSlow = &b
	}
	if !whollyJumped(analyses[jumps.clip], out.JumpRep) {
		out.JumpRep = firstLanding(analyses[jumps.clip])
	}
	return out
}

// whollyJumped says whether a rep has a landing.
func whollyJumped(a *Analysis, number int) bool {
	for i := range a.Reps {
		if r := &a.Reps[i]; r.Number == number {
			return r.FlightS > 0 && !math.IsNaN(r.LandingBottomS)
		}
	}
	return false
}

func firstLanding(a *Analysis) int {
	for i := range a.Reps {
		if r := &a.Reps[i]; !r.Partial && whollyJumped(a, r.Number) {
			return r.Number
		}
	}
	return 0
}

// ladderOf follows the positions through the conditions.
func ladderOf(analyses []*Analysis, pools []*pool, how kinematics.CompareOptions) Ladder {
	out := Ladder{Rungs: []Rung{}, Caution: kinematics.LadderCaution}
	var steps []kinematics.Step
	read := 0
	var band [2]float64
	for _, p := range pools {
		a := analyses[p.clip]
		band = a.SupportBandPct
		step := kinematics.Step{Condition: p.Condition}
		for _, set := range a.Sets {
			if set.Tempo != p.tempo {
				continue
			}
			read++
			for _, r := range set.Positions {
				if q, ok := kinematics.ParsePosition(r.Position); ok {
					step.Readings[q] = stats.Readings{Values: r.Values, NoiseSD: r.NoiseSD, Occasion: p.Reps[0].Occasion}
				}
			}
		}
		steps = append(steps, step)
	}
	if read < 2 {
		return out
	}
	for _, r := range kinematics.Ladder(steps, kinematics.LadderOptions{Compare: how, BandPct: band}) {
		rung := Rung{Position: r.Position.String(), Unit: string(kinematics.PositionQuantity(r.Position).Unit), First: r.FirstOutside.Key,
			PointsTo: string(r.PointsTo), Sentence: r.Sentence(), Cells: []LadderAt{}}
		for _, cell := range r.Cells {
			rung.Cells = append(rung.Cells, LadderAt{
				Tempo: cell.Condition.Key, Value: cell.Mean.Value, Interval95: cell.Mean.Interval95(), Change: cell.Change})
		}
		out.Rungs = append(out.Rungs, rung)
	}
	return out
}
