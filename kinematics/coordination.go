package kinematics

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// Part names a part of a rep that curves are drawn over.
type Part string

// The parts, each from 0 to 100 per cent of its own time.
const (
	PartDescent Part = "descent" // start to bottom
	PartAscent  Part = "ascent"  // end of the dwell to the end, or to take-off
	PartLanding Part = "landing" // contact to landing bottom
)

// curvePoints is the number of values of a time-normalised curve: one a per cent,
// both ends included.
const curvePoints = 101

// spanOf returns the time of a part of a rep; ok is false when the rep has not got
// it.
func spanOf(r *Rep, p Part) (sp trace.Span, ok bool) {
	switch p {
	case PartDescent:
		sp = trace.Span{FromS: r.StartS, ToS: r.BottomS}
	case PartAscent:
		sp = trace.Span{FromS: r.BottomEndS, ToS: r.EndS}
		if r.HasFlight() {
			sp.ToS = r.TakeoffS
		}
	case PartLanding:
		sp = trace.Span{FromS: r.ContactS, ToS: r.LandingBottomS}
	}
	return sp, sp.DurationS() > 0
}

// timeNormalised returns x between two clip times as curvePoints values at equal
// steps, between samples by straight lines; NaN where x is.
func timeNormalised(s *joints.Angles, x []float64, sp trace.Span) []float64 {
	out := make([]float64, curvePoints)
	for i := range out {
		out[i] = signal.ValueAt(x, s.TimeS, s.RateHz, sp.FromS+sp.DurationS()*float64(i)/(curvePoints-1))
	}
	return out
}

// curveSet are the time-normalised curves of one angle in several reps.
type curveSet struct {
	deg     [][]float64  // one curve for each rep
	meanDeg []float64    // the mean curve
	bandDeg [][2]float64 // its 95 % interval
	// sharedSDDeg is the error that the reps share.
	sharedSDDeg float64
	occasion    string
}

// curvesOf returns the curves of one angle over one part of the reps that have it; ok is
// false when none has.
func curvesOf(s *joints.Angles, reps []Rep, a body.Angle, p Part) (c curveSet, ok bool) {
	var shared []float64
	for i := range reps {
		r := &reps[i]
		sp, ok := spanOf(r, p)
		if !ok {
			continue
		}
		c.deg = append(c.deg, timeNormalised(s, s.AnglesDeg[a], sp))
		shared = append(shared, r.Angles[a].SharedSDDeg())
		c.occasion = r.Occasion
	}
	if len(c.deg) == 0 {
		return c, false
	}
	c.sharedSDDeg = signal.Median(shared)
	for i := range curvePoints {
		mean := c.at(i).Mean(CompareOptions{}.ForAngle(a))
		c.meanDeg, c.bandDeg = append(c.meanDeg, mean.Value), append(c.bandDeg, mean.Interval95())
	}
	return c, true
}

func (c *curveSet) at(i int) stats.Readings {
	r := stats.Readings{NoiseSD: c.sharedSDDeg, Occasion: c.occasion}
	for _, d := range c.deg {
		if !math.IsNaN(d[i]) {
			r.Values = append(r.Values, d[i])
		}
	}
	return r
}

// CurvePair is one angle over one part of the movement in two conditions: the mean
// curves with their 95 % bands, 101 values from 0 to 100 % of the part's own time.
type CurvePair struct {
	Angle        body.Angle   `json:"angle"`
	Part         Part         `json:"part"`
	BaselineDeg  []float64    `json:"baseline_deg"`
	BaselineBand [][2]float64 `json:"baseline_band_deg"`
	// Nil when one of them has not got the part (no landing without a jump): then only
	// the other is drawn.
	ChallengeDeg  []float64    `json:"challenge_deg"`
	ChallengeBand [][2]float64 `json:"challenge_band_deg"`
	// LostFromPct is the first per cent from which the challenge is less flexed than
	// the baseline, by what matters and beyond its interval, and stays so for a
	// tenth of the part or to its end; nil: nowhere. GainedFromPct likewise.
	LostFromPct   *int `json:"lost_from_pct"`
	GainedFromPct *int `json:"gained_from_pct"`
}

// staysPct is for how many per cent a difference must last: single points will
// stray beyond a 95 % interval. Common practice, no source.
const staysPct = 10

// comparedAngles are the angles whose curves a comparison holds: those of the joints that the movement compares, and
// the trunk's.
func (o CompareOptions) comparedAngles() []body.Angle {
	var out []body.Angle
	for _, j := range body.FromGround(o.Movement.Joints) {
		out = append(out, j.Angle())
	}
	return append(out, body.TrunkLean)
}

// curvePairs compares two groups along the movement; none where a clip's angles are not
// there, as in an analysis of before an angle was kept.
func curvePairs(base, hard *Group, opt CompareOptions) []CurvePair {
	out := []CurvePair{}
	for _, a := range opt.comparedAngles() {
		if !base.hasAngle(a) || !hard.hasAngle(a) {
			continue
		}
		for _, part := range []Part{PartDescent, PartAscent, PartLanding} {
			if c, ok := compareCurves(base, hard, a, part, opt.ForAngle(a)); ok {
				out = append(out, c)
			}
		}
	}
	return out
}

func (g *Group) hasAngle(a body.Angle) bool {
	return g.Angles != nil && len(g.Angles.AnglesDeg[a]) == len(g.Angles.TimeS)
}

// compareCurves compares one angle over one part of the movement. A side whose reps have
// not got the part is left out; ok is false when neither has.
func compareCurves(base, hard *Group, a body.Angle, part Part, opt stats.Options) (p CurvePair, ok bool) {
	p.Angle, p.Part = a, part
	b, okB := curvesOf(base.Angles, base.Reps, a, part)
	c, okC := curvesOf(hard.Angles, hard.Reps, a, part)
	if okB {
		p.BaselineDeg, p.BaselineBand = b.meanDeg, b.bandDeg
	}
	if okC {
		p.ChallengeDeg, p.ChallengeBand = c.meanDeg, c.bandDeg
	}
	if okB && okC {
		p.LostFromPct, p.GainedFromPct = leaves(changesAlong(&b, &c, opt))
	}
	return p, okB || okC
}

// changesAlong compares two curves at each per cent.
func changesAlong(baseline, challenge *curveSet, opt stats.Options) []stats.Change {
	var out []stats.Change
	for i := range curvePoints {
		out = append(out, stats.Compare(baseline.at(i), challenge.at(i), opt))
	}
	return out
}

// leaves says where along a part of the movement the challenge leaves the baseline: the
// per cents from which it stays lost, and gained; nil: nowhere.
func leaves(along []stats.Change) (lostFromPct, gainedFromPct *int) {
	first := func(v stats.Verdict) *int {
		for _, r := range signal.Runs(curvePoints, func(i int) bool { return along[i].Verdict == v }) {
			if r.N() >= staysPct || (r.To == curvePoints && r.N() > 2) {
				return &r.From
			}
		}
		return nil
	}
	return first(stats.Lost), first(stats.Gained)
}

// AngleAngle is a plot of one angle over another through a part of the movement.
type AngleAngle struct {
	Over     body.Angle      `json:"over"` // across: the proximal joint, by custom
	Of       body.Angle      `json:"of"`   // up: the distal joint
	Part     Part            `json:"part"`
	Baseline AngleAngleCurve `json:"baseline"`
	// Challenge is nil when its reps have not got the part.
	Challenge *AngleAngleCurve `json:"challenge"`
}

// AngleAngleCurve is one condition's mean curve of such a plot.
type AngleAngleCurve struct {
	Condition string               `json:"tempo"` // its key
	OverDeg   []float64            `json:"over_deg"`
	OfDeg     []float64            `json:"of_deg"`
	Shares    stats.CouplingShares `json:"shares"`
	// VariabilityDeg is the coupling angle variability between reps, see
	// [stats.CouplingVariability]; NaN for one rep.
	VariabilityDeg float64 `json:"variability_deg"`
}

// coupled are the pairs of an angle-angle plot: the proximal joint across, the
// distal one up.
var coupled = [][2]body.Angle{
	{body.HipFlexion, body.KneeFlexion},
	{body.KneeFlexion, body.AnkleDorsiflexion},
	{body.ShoulderFlexion, body.ElbowFlexion},
}

// angleAngles plots the coupled angles of two groups; a part that the baseline has not got
// is left out.
func angleAngles(base, hard *Group, opt CompareOptions) []AngleAngle {
	out := []AngleAngle{}
	compared := opt.comparedAngles()
	for _, of := range coupled {
		if !slices.Contains(compared, of[0]) || !slices.Contains(compared, of[1]) {
			continue
		}
		for _, part := range []Part{PartDescent, PartAscent} {
			if b := angleAngle(base, of[0], of[1], part); b != nil {
				out = append(out, AngleAngle{of[0], of[1], part, *b, angleAngle(hard, of[0], of[1], part)})
			}
		}
	}
	return out
}

// angleAngle returns the curve of one angle (of) over another (over) in a group; nil where
// its reps have not got the part.
func angleAngle(g *Group, over, of body.Angle, p Part) *AngleAngleCurve {
	if !g.hasAngle(over) || !g.hasAngle(of) {
		return nil
	}
	x, okX := curvesOf(g.Angles, g.Reps, over, p)
	y, okY := curvesOf(g.Angles, g.Reps, of, p)
	if !okX || !okY {
		return nil
	}
	out := &AngleAngleCurve{Condition: g.Condition.Key, OverDeg: x.meanDeg, OfDeg: y.meanDeg,
		Shares: stats.SharesOf(stats.CouplingAngles(x.meanDeg, y.meanDeg))}
	var trials [][]float64
	for i := range x.deg {
		trials = append(trials, stats.CouplingAngles(x.deg[i], y.deg[i]))
	}
	out.VariabilityDeg = stats.CouplingVariability(trials)
	return out
}

// driftOfSet returns the drift of the joints' ranges of motion over reps; nil where one
// of them is known of fewer than three.
func driftOfSet(reps []Rep) *body.ByJoint[stats.Drift] {
	var out body.ByJoint[stats.Drift]
	for j := range out {
		var v []float64
		for _, r := range wholeReps(reps) {
			v = append(v, r.Angles[body.Joint(j).Angle()].ROMDeg)
		}
		var err error
		if out[j], err = stats.DriftOf(v); err != nil && body.Joint(j).OfArm() {
			nan := math.NaN() // the movement does not count it
			out[j] = stats.Drift{Total: nan, Interval95: [2]float64{nan, nan}}
		} else if err != nil {
			return nil
		}
	}
	return &out
}
