package kinematics

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// ErrTooFewReps: too few reps for what was asked.
var ErrTooFewReps = errors.New("too few reps")

// Part names a part of a rep that curves are drawn over.
type Part string

// The parts, each from 0 to 100 per cent of its own time.
const (
	PartDescent Part = "descent" // start to bottom
	PartAscent  Part = "ascent"  // end of the dwell to the end, or to take-off
	PartLanding Part = "landing" // contact to landing bottom
)

// CurvePoints is the number of values of a time-normalised curve: one a per cent,
// both ends included.
const CurvePoints = 101

// SpanOf returns the time of a part of a rep; ok is false when the rep has not got
// it.
func SpanOf(r *Rep, p Part) (sp trace.Span, ok bool) {
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

// TimeNormalised returns x between two clip times as CurvePoints values at equal
// steps, between samples by straight lines; NaN where x is.
func TimeNormalised(s *Series, x []float64, sp trace.Span) []float64 {
	out := make([]float64, CurvePoints)
	for i := range out {
		out[i] = signal.ValueAt(x, s.TimeS, s.RateHz, sp.FromS+sp.DurationS()*float64(i)/(CurvePoints-1))
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

// CurvesOf returns the curves of one angle over one part of the whole reps that have
// it. It returns ErrTooFewReps when none has.
func CurvesOf(s *Series, reps []Rep, a body.Angle, p Part) (Curves, error) {
	c := Curves{Angle: a, Part: p}
	var shared []float64
	for _, r := range wholeReps(reps) {
		sp, ok := SpanOf(&r, p)
		if !ok {
			continue
		}
		c.Deg = append(c.Deg, TimeNormalised(s, s.AnglesDeg[a], sp))
		c.RepNumbers = append(c.RepNumbers, r.Number)
		shared = append(shared, r.Angles[a].sharedSDDeg())
		c.occasion = r.Occasion
	}
	if len(c.Deg) == 0 {
		return c, fmt.Errorf("drawing the %s of %d reps: %w", p, len(reps), ErrTooFewReps)
	}
	c.systematicDeg = signal.Median(shared)
	c.MeanDeg, c.SDDeg, c.BandDeg = signal.NaNs(CurvePoints), signal.NaNs(CurvePoints), make([][2]float64, CurvePoints)
	var ss, m float64
	for i := range CurvePoints {
		at := c.at(i)
		if len(at.Deg) == 0 {
			c.BandDeg[i] = [2]float64{math.NaN(), math.NaN()}
			continue
		}
		mean := at.Mean(CompareOptions{})
		c.MeanDeg[i], c.BandDeg[i] = mean.Value, mean.Interval95()
		if n := len(at.Deg); n > 1 {
			c.SDDeg[i] = stat.StdDev(at.Deg, nil)
			ss, m = ss+sq(c.SDDeg[i]), m+1
		}
	}
	c.VariabilityDeg = math.Sqrt(ss / m)
	return c, nil
}

func (c *Curves) at(i int) Readings {
	r := Readings{NoiseSDDeg: c.systematicDeg, Occasion: c.occasion}
	for _, d := range c.Deg {
		if !math.IsNaN(d[i]) {
			r.Deg = append(r.Deg, d[i])
		}
	}
	return r
}

// CurveDifference compares the curves of two tempos.
type CurveDifference struct {
	// At holds the comparison at each per cent.
	At []Change
	// LostFromPct is the first per cent from which the challenge is less flexed than
	// the baseline, by what matters and beyond its interval, and stays so for a
	// tenth of the part or to its end; -1: nowhere. GainedFromPct likewise.
	LostFromPct, GainedFromPct int
}

// staysPct is for how many per cent a difference must last: single points will
// stray beyond a 95 % interval. Common practice, no source.
const staysPct = 10

// CompareCurves says where along a part of the movement the challenge leaves the
// baseline.
func CompareCurves(baseline, challenge *Curves, opt CompareOptions) CurveDifference {
	d := CurveDifference{LostFromPct: -1, GainedFromPct: -1}
	for i := range CurvePoints {
		d.At = append(d.At, CompareReadings(baseline.at(i), challenge.at(i), opt))
	}
	first := func(v Verdict) int {
		for _, r := range signal.Runs(CurvePoints, func(i int) bool { return d.At[i].Verdict == v }) {
			if r.N() >= staysPct || (r.To == CurvePoints && r.N() > 2) {
				return r.From
			}
		}
		return -1
	}
	d.LostFromPct, d.GainedFromPct = first(Lost), first(Gained)
	return d
}

// AngleAngle is the mean curve of one angle over that of another through a part of
// the movement: the points of an angle-angle plot.
type AngleAngle struct {
	Over, Of  body.Angle // horizontal and vertical axis
	Part      Part
	OverDeg   []float64
	OfDeg     []float64
	SharesPct CouplingShares
	// CouplingDeg is the coupling angle between the points, 0 to 360 degrees.
	CouplingDeg []float64
	// VariabilityDeg is the coupling angle variability between reps, see
	// [CouplingVariability]; NaN for one rep.
	VariabilityDeg float64
}

// AngleAngleOf returns the plot of one angle (of, the distal joint by custom) over
// another (over, the proximal joint).
func AngleAngleOf(s *Series, reps []Rep, over, of body.Angle, p Part) (AngleAngle, error) {
	x, err := CurvesOf(s, reps, over, p)
	if err != nil {
		return AngleAngle{}, err
	}
	y, err := CurvesOf(s, reps, of, p)
	if err != nil {
		return AngleAngle{}, err
	}
	out := AngleAngle{Over: over, Of: of, Part: p, OverDeg: x.MeanDeg, OfDeg: y.MeanDeg}
	out.CouplingDeg = CouplingAngles(x.MeanDeg, y.MeanDeg)
	out.SharesPct = SharesOf(out.CouplingDeg)
	var trials [][]float64
	for i := range x.Deg {
		trials = append(trials, CouplingAngles(x.Deg[i], y.Deg[i]))
	}
	out.VariabilityDeg = CouplingVariability(trials)
	return out, nil
}

// CouplingAngles returns the coupling angle between each two following points of an
// angle-angle plot, with the proximal angle across and the distal one up:
//
//	gamma = atan2(distal[i+1]-distal[i], proximal[i+1]-proximal[i]), 0 to 360 degrees
//
// It is NaN where neither angle changes. Source: Chang, Van Emmerik & Hamill 2008;
// Needham, Naemi & Chockalingam 2014 (from memory).
func CouplingAngles(proximalDeg, distalDeg []float64) []float64 {
	n := min(len(proximalDeg), len(distalDeg))
	if n < 2 {
		return nil
	}
	out := signal.NaNs(n - 1)
	for i := range out {
		dp, dd := proximalDeg[i+1]-proximalDeg[i], distalDeg[i+1]-distalDeg[i]
		if dp == 0 && dd == 0 || math.IsNaN(dp+dd) {
			continue
		}
		out[i] = math.Mod(math.Atan2(dd, dp)*body.DegPerRad+360, 360)
	}
	return out
}

// Coupling says how two joints share a movement.
type Coupling string

// The patterns of coupling.
const (
	InPhase       Coupling = "in_phase"       // both turn the same way
	AntiPhase     Coupling = "anti_phase"     // they turn against one another
	ProximalPhase Coupling = "proximal_phase" // the proximal joint alone
	DistalPhase   Coupling = "distal_phase"   // the distal joint alone
)

// CouplingOf returns the pattern of a coupling angle in degrees, by eighths of the
// circle about the axes and diagonals:
//
//	proximal  within 22.5 of 0 or 180      in phase    within 22.5 of 45 or 225
//	distal    within 22.5 of 90 or 270     anti phase  within 22.5 of 135 or 315
//
// A boundary belongs to the pattern that begins there. It is empty for NaN. Source:
// Chang, Van Emmerik & Hamill 2008 (from memory).
func CouplingOf(gammaDeg float64) Coupling {
	if math.IsNaN(gammaDeg) || math.IsInf(gammaDeg, 0) {
		return ""
	}
	g := math.Mod(math.Mod(gammaDeg, 180)+180+22.5, 180)
	return [...]Coupling{ProximalPhase, InPhase, DistalPhase, AntiPhase}[min(3, int(g/45))]
}

// CouplingShares are how much of a movement passes in each pattern, per cent.
type CouplingShares struct {
	InPhase   float64 `json:"in_phase_pct"`
	AntiPhase float64 `json:"anti_phase_pct"`
	Proximal  float64 `json:"proximal_pct"`
	Distal    float64 `json:"distal_pct"`
}

// SharesOf returns the shares of the patterns among coupling angles, those that are
// NaN left out; all NaN when there are none.
func SharesOf(gammaDeg []float64) CouplingShares {
	count := map[Coupling]float64{}
	n := 0.0
	for _, g := range gammaDeg {
		if c := CouplingOf(g); c != "" {
			count[c]++
			n++
		}
	}
	pct := func(c Coupling) float64 { return 100 * count[c] / n }
	return CouplingShares{pct(InPhase), pct(AntiPhase), pct(ProximalPhase), pct(DistalPhase)}
}

// CouplingVariability returns how far the coupling angle differs between trials, in
// degrees, the mean over the movement of the angular deviation at each point:
//
//	sqrt(2 (1 - r)) 180/pi,  r = length of the mean of the unit vectors
//
// 0 when all trials agree, 81 when they point everywhere. NaN with fewer than two
// trials. Source: Batschelet 1981 by Needham, Naemi & Chockalingam 2014 (from
// memory).
func CouplingVariability(trials [][]float64) float64 {
	if len(trials) < 2 {
		return math.NaN()
	}
	var sum, m float64
	for i := range trials[0] {
		var x, y, n float64
		for _, t := range trials {
			if i < len(t) && !math.IsNaN(t[i]) {
				sin, cos := math.Sincos(t[i] / body.DegPerRad)
				x, y, n = x+cos, y+sin, n+1
			}
		}
		if n < 2 {
			continue
		}
		sum += math.Sqrt(2*max(0, 1-math.Hypot(x, y)/n)) * body.DegPerRad
		m++
	}
	return sum / m
}

// SetDrift is how a number changes from rep to rep of a set.
type SetDrift struct {
	Reps          int
	First, Last   float64
	PerRep        Estimate
	Interval95    [2]float64 // of PerRep, by the t distribution
	TotalInSet    float64    // PerRep over the whole set
	BetweenRepsSD float64    // about the straight line
	// Drifts says that the interval leaves 0 out.
	Drifts bool
}

// DriftOver fits a straight line to a number over the reps of a set, in order: does
// it change from the first to the last, as with fatigue? NaNs are left out. It
// returns ErrTooFewReps with fewer than three.
func DriftOver(values []float64) (SetDrift, error) {
	var x, y []float64
	for i, v := range values {
		if !math.IsNaN(v) {
			x, y = append(x, float64(i)), append(y, v)
		}
	}
	n := len(y)
	if n < 3 {
		return SetDrift{}, fmt.Errorf("a drift over %d reps: %w", n, ErrTooFewReps)
	}
	level, slope := stat.LinearRegression(x, y, nil, false)
	mean := stat.Mean(x, nil)
	var sxx, ss float64
	for i := range x {
		sxx += sq(x[i] - mean)
		ss += sq(y[i] - level - slope*x[i])
	}
	d := SetDrift{Reps: n, First: y[0], Last: y[n-1], BetweenRepsSD: math.Sqrt(ss / float64(n-2))}
	se := d.BetweenRepsSD / math.Sqrt(sxx)
	d.PerRep = Estimate{slope, se}
	half := se * t95(float64(n-2))
	d.Interval95 = [2]float64{slope - half, slope + half}
	d.TotalInSet = slope * (x[n-1] - x[0])
	d.Drifts = d.Interval95[0] > 0 || d.Interval95[1] < 0
	return d, nil
}

// DriftOfSet returns the drift of one angle's range of motion over reps.
func DriftOfSet(reps []Rep, a body.Angle) (SetDrift, error) {
	var v []float64
	for _, r := range wholeReps(reps) {
		v = append(v, r.Angles[a].ROMDeg)
	}
	return DriftOver(v)
}
