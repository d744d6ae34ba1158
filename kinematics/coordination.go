package kinematics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

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

// Curves are the time-normalised curves of one angle in several reps.
type Curves struct {
	Angle body.Angle
	Part  Part
	// Deg holds one curve for each rep, RepNumbers whose they are.
	Deg        [][]float64
	RepNumbers []int
	// MeanDeg is the mean curve, SDDeg the spread between reps at each per cent (NaN
	// for one rep), BandDeg the 95 % interval of the mean.
	MeanDeg, SDDeg []float64
	BandDeg        [][2]float64
	// VariabilityDeg is the spread between reps over the whole part: the root mean
	// square of SDDeg.
	VariabilityDeg float64
	systematicDeg  float64
	occasion       string
}

// curvesOf returns the curves of one angle over one part of the whole reps that have
// it. It returns stats.ErrTooFewReps when none has.
func curvesOf(s *joints.Angles, reps []Rep, a body.Angle, p Part) (Curves, error) {
	c := Curves{Angle: a, Part: p}
	var shared []float64
	for _, r := range wholeReps(reps) {
		sp, ok := spanOf(&r, p)
		if !ok {
			continue
		}
		c.Deg = append(c.Deg, timeNormalised(s, s.AnglesDeg[a], sp))
		c.RepNumbers = append(c.RepNumbers, r.Number)
		shared = append(shared, r.Angles[a].SharedSDDeg())
		c.occasion = r.Occasion
	}
	if len(c.Deg) == 0 {
		return c, fmt.Errorf("drawing the %s of %d reps: %w", p, len(reps), stats.ErrTooFewReps)
	}
	c.systematicDeg = signal.Median(shared)
	c.MeanDeg, c.SDDeg, c.BandDeg = signal.NaNs(curvePoints), signal.NaNs(curvePoints), make([][2]float64, curvePoints)
	var ss, m float64
	for i := range curvePoints {
		at := c.at(i)
		if len(at.Values) == 0 {
			c.BandDeg[i] = [2]float64{math.NaN(), math.NaN()}
			continue
		}
		mean := at.Mean(CompareOptions{}.ForAngle(a))
		c.MeanDeg[i], c.BandDeg[i] = mean.Value, mean.Interval95()
		if n := len(at.Values); n > 1 {
			c.SDDeg[i] = stat.StdDev(at.Values, nil)
			ss, m = ss+sq(c.SDDeg[i]), m+1
		}
	}
	c.VariabilityDeg = math.Sqrt(ss / m)
	return c, nil
}

func (c *Curves) at(i int) stats.Readings {
	r := stats.Readings{NoiseSD: c.systematicDeg, Occasion: c.occasion}
	for _, d := range c.Deg {
		if !math.IsNaN(d[i]) {
			r.Values = append(r.Values, d[i])
		}
	}
	return r
}

// CurvePair is one angle over one part of the movement in two tempos: the mean curves
// with their 95 % bands, 101 values from 0 to 100 % of the part's own time.
type CurvePair struct {
	Angle        body.Angle   `json:"angle"`
	Part         Part         `json:"part"`
	BaselineDeg  []float64    `json:"baseline_deg"`
	BaselineBand [][2]float64 `json:"baseline_band_deg"`
	// Nil when one tempo has not got the part (no landing without a jump): then only
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

// CompareCurves compares one angle over one part of the movement in the reps of two
// series. A side whose reps have not got the part is left out; ok is false when neither
// has.
func CompareCurves(of, with *joints.Angles, baseline, challenge []Rep, a body.Angle, part Part, opt stats.Options) (p CurvePair, ok bool) {
	p.Angle, p.Part = a, part
	b, errB := curvesOf(of, baseline, a, part)
	c, errC := curvesOf(with, challenge, a, part)
	if errB == nil {
		p.BaselineDeg, p.BaselineBand = b.MeanDeg, b.BandDeg
	}
	if errC == nil {
		p.ChallengeDeg, p.ChallengeBand = c.MeanDeg, c.BandDeg
	}
	if errB == nil && errC == nil {
		p.LostFromPct, p.GainedFromPct = leaves(changesAlong(&b, &c, opt))
	}
	return p, errB == nil || errC == nil
}

// changesAlong compares two curves at each per cent.
func changesAlong(baseline, challenge *Curves, opt stats.Options) []stats.Change {
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

// AngleAngle is the mean curve of one angle over that of another through a part of
// the movement: the points of an angle-angle plot.
type AngleAngle struct {
	OverDeg []float64            `json:"over_deg"` // across: the proximal joint
	OfDeg   []float64            `json:"of_deg"`   // up: the distal joint
	Shares  stats.CouplingShares `json:"shares"`
	// VariabilityDeg is the coupling angle variability between reps, see
	// [stats.CouplingVariability]; NaN for one rep.
	VariabilityDeg float64 `json:"variability_deg"`
}

// AngleAngleOf returns the plot of one angle (of, the distal joint by custom) over
// another (over, the proximal joint).
func AngleAngleOf(s *joints.Angles, reps []Rep, over, of body.Angle, p Part) (AngleAngle, error) {
	x, err := curvesOf(s, reps, over, p)
	if err != nil {
		return AngleAngle{}, err
	}
	y, err := curvesOf(s, reps, of, p)
	if err != nil {
		return AngleAngle{}, err
	}
	out := AngleAngle{OverDeg: x.MeanDeg, OfDeg: y.MeanDeg, Shares: stats.SharesOf(stats.CouplingAngles(x.MeanDeg, y.MeanDeg))}
	var trials [][]float64
	for i := range x.Deg {
		trials = append(trials, stats.CouplingAngles(x.Deg[i], y.Deg[i]))
	}
	out.VariabilityDeg = stats.CouplingVariability(trials)
	return out, nil
}

// DriftOfSet returns the drift of the joints' ranges of motion over reps; nil where one
// of them is known of fewer than three.
func DriftOfSet(reps []Rep) *body.ByJoint[stats.Drift] {
	var out body.ByJoint[stats.Drift]
	for j := range out {
		var v []float64
		for _, r := range wholeReps(reps) {
			v = append(v, r.Angles[body.Joint(j).Angle()].ROMDeg)
		}
		var err error
		if out[j], err = stats.DriftOf(v); err != nil {
			return nil
		}
	}
	return &out
}
