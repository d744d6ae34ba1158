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

// fitBody puts the fitted body in the place of the filtered points and angles of
// the near side, and returns the foot's motion with it. ok is false, and nothing
// changes, when no body can be fitted. Where the filter knows nothing because
// tracking was lost for long, the body has a guess, but it is not reported.
func (m *motion) fitBody(plain *[NumAngles][]float64) (foot footMotion, ok bool) {
	s, n := m.s, len(m.timeS)
	in := bodyInput{
		facing: s.Facing, rateHz: m.rateHz, legPx: m.legPx, cutoffHz: s.CutoffHz,
		standing: m.standing, airborne: m.airborne, offsets: s.Calibration.bodyOffsets(), wander: s.Calibration.WanderLegs,
		heelLag: s.Calibration.HeelLag, heelLagToDeg: s.Calibration.HeelLagToDeg, flatFootSDDeg: s.Calibration.FlatFootSDDeg,
	}
	for p := range numBodyPoints {
		raw := &m.raw[s.NearSide][bodyLandmark[p]]
		in.points[p] = *raw
		in.share[p] = m.byHand.share[s.NearSide][bodyLandmark[p]]
		if at := m.byHand.at[s.NearSide][bodyLandmark[p]]; len(at) > 0 {
			in.held[p] = make([]bool, n)
			for _, i := range at {
				in.held[p][i] = !math.IsNaN(raw.X[i])
			}
			in.doubt[p] = m.doubtOf(p, &in.offsets[p])
		}
		if p == bodyHeel || p == bodyToe {
			continue
		}
		// What only fills a gap is no sight: the body bridges it by itself.
		in.points[p] = Path{signal.NaNs(n), signal.NaNs(n), raw.SDPx}
		for i := range n {
			if !s.Filled[i] || in.held[p] != nil && in.held[p][i] {
				in.points[p].X[i], in.points[p].Y[i] = raw.X[i], raw.Y[i]
			}
		}
	}
	body, err := smoothBody(in)
	if err != nil {
		return foot, false
	}
	points := &s.Points[s.NearSide]
	for p := range numBodyPoints {
		k := bodyLandmark[p]
		points[k] = body.points[p].where(points[k].X)
	}
	for _, a := range []Angle{KneeFlexion, HipFlexion, ShankAngle, TrunkLean, ThighAngle} {
		for i := range n {
			if math.IsNaN(plain[a][i]) {
				continue
			}
			plain[a][i], s.SDDeg[a][i] = body.anglesDeg[a][i], body.sdDeg[a][i]
		}
	}
	footPx := medianLength(&points[Heel], &points[Toe])
	foot = footMotion{signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)}
	for i := range n {
		if math.IsNaN(plain[ShankAngle][i]) || math.IsNaN(points[Heel].X[i]) {
			continue
		}
		foot.pitchDeg[i], foot.sdDeg[i] = body.anglesDeg[FootPitch][i], body.sdDeg[FootPitch][i]
		if !m.airborne[i] {
			foot.pitchDeg[i] = min(0, foot.pitchDeg[i])
		}
		foot.heelRise[i] = body.heelRise[i] * m.legPx / footPx
	}
	return foot, true
}

// doubtOf returns, one value a sample in leg lengths, the standard deviation of
// where a point that follows a correction really was. The network's mistake D at
// the correction is, a while later, w D, give or take what is not known of it:
//
//	|D| sqrt(w (1 - w))
//
// for the share w, nothing where the mistake still is or is over for sure. What the
// network always puts beside the joint is no mistake.
func (m *motion) doubtOf(p bodyPoint, usual *bodyOffset) []float64 {
	side, k := m.s.NearSide, bodyLandmark[p]
	by, out := &m.byHand.by[side][k], make([]float64, len(m.timeS))
	for i, w := range m.byHand.share[side][k] {
		d := sagittal(by.X[i], by.Y[i], m.s.Facing).scale(1 / m.legPx).add(vec{usual.mean[offsetFwd], usual.mean[offsetUp]})
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
