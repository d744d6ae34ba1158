package kinematics

import (
	"holdfast/kinematics/signal"
	"math"
)

// Smoother says how the near side's points are smoothed.
type Smoother int

// The smoothers. SmootherBody fits one body, of constant segment lengths and with
// feet that do not slide on the floor, to the whole clip; where it cannot, and for
// the far side and the arms, points are filtered. SmootherFilter filters every
// point by itself.
const (
	SmootherBody Smoother = iota
	SmootherFilter
)

// String returns "body" or "filter".
func (s Smoother) String() string {
	if s == SmootherFilter {
		return "filter"
	}
	return "body"
}

// bodyInputOf returns what the body is fitted to.
func bodyInputOf(tr *Trace, standing, airborne []bool, how smoothing) bodyInput {
	n := len(tr.TimeS)
	in := bodyInput{
		facing: tr.Facing, rateHz: tr.RateHz, legPx: tr.LegPx, cutoffHz: how.cutoffHz,
		standing: standing, airborne: airborne, offsets: how.network.bodyOffsets(), wander: how.network.WanderLegs,
		heelLag: how.network.HeelLag, heelLagToDeg: how.network.HeelLagToDeg, flatFootSDDeg: how.network.FlatFootSDDeg,
	}
	for p := range numBodyPoints {
		k := bodyLandmark[p]
		raw := &tr.Raw[tr.NearSide][k]
		in.points[p] = *raw
		in.share[p] = how.byHand.share[tr.NearSide][k]
		if at := how.byHand.at[tr.NearSide][k]; len(at) > 0 {
			in.held[p] = make([]bool, n)
			for _, i := range at {
				in.held[p][i] = !math.IsNaN(raw.X[i])
			}
			in.doubt[p] = doubtOf(&how.byHand.by[tr.NearSide][k], in.share[p], &in.offsets[p], tr.Facing, tr.LegPx)
		}
		if p == bodyHeel || p == bodyToe {
			continue
		}
		// What only fills a gap is no sight: the body bridges it by itself.
		in.points[p] = Path{signal.NaNs(n), signal.NaNs(n), raw.SDPx}
		for i := range n {
			if !tr.Filled[i] || in.held[p] != nil && in.held[p][i] {
				in.points[p].X[i], in.points[p].Y[i] = raw.X[i], raw.Y[i]
			}
		}
	}
	return in
}

// replace puts the fitted body in the place of the filtered points, the angles and
// their standard deviations, and returns the foot's motion with it. Where the filter
// knows nothing because tracking was lost for long, the body has a guess, but it is
// not reported.
func (b *bodyEstimate) replace(points *[NumLandmarks]Path, plain, sdDeg *[NumAngles][]float64, airborne []bool, legPx float64) footMotion {
	n := len(airborne)
	for p := range numBodyPoints {
		k := bodyLandmark[p]
		points[k] = b.points[p].where(points[k].X)
	}
	for _, a := range []Angle{KneeFlexion, HipFlexion, ShankAngle, TrunkLean, ThighAngle} {
		for i := range n {
			if math.IsNaN(plain[a][i]) {
				continue
			}
			plain[a][i], sdDeg[a][i] = b.anglesDeg[a][i], b.sdDeg[a][i]
		}
	}
	footPx := medianLength(&points[Heel], &points[Toe])
	foot := footMotion{signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)}
	for i := range n {
		if math.IsNaN(plain[ShankAngle][i]) || math.IsNaN(points[Heel].X[i]) {
			continue
		}
		foot.pitchDeg[i], foot.sdDeg[i] = b.anglesDeg[FootPitch][i], b.sdDeg[FootPitch][i]
		if !airborne[i] {
			foot.pitchDeg[i] = min(0, foot.pitchDeg[i])
		}
		foot.heelRise[i] = b.heelRise[i] * legPx / footPx
	}
	return foot
}

// doubtOf returns, one value a sample in leg lengths, the standard deviation of
// where a point that follows a correction really was. The network's mistake D at
// the correction is, a while later, w D, give or take what is not known of it:
//
//	|D| sqrt(w (1 - w))
//
// for the share w, nothing where the mistake still is or is over for sure. What the
// network always puts beside the joint is no mistake. by is the way that the
// correction moves the point, pixels.
func doubtOf(by *Path, share []float64, usual *bodyOffset, f Facing, legPx float64) []float64 {
	out := make([]float64, len(share))
	for i, w := range share {
		d := sagittal(by.X[i], by.Y[i], f).scale(1 / legPx).add(vec{usual.mean[offsetFwd], usual.mean[offsetUp]})
		out[i] = d.length() * math.Sqrt(max(0, w*(1-w)))
	}
	return out
}

// where returns the path with those samples missing that known misses.
func (p Path) where(known []float64) Path {
	for i, v := range known {
		if math.IsNaN(v) {
			p.X[i], p.Y[i], p.SDPx[i] = math.NaN(), math.NaN(), math.NaN()
		}
	}
	return p
}

func medianLength(a, b *Path) float64 {
	l := make([]float64, len(a.X))
	for i := range l {
		l[i] = dist(a, b, i)
	}
	return signal.Median(l)
}
