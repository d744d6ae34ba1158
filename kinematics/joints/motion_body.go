package joints

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// bodyInputOf returns what the body is fitted to: what the network saw, and what the coach
// made of it.
func bodyInputOf(tr *trace.Trace, measured *body.MeasuredPitch, standing, airborne []bool,
	how Smoothing) body.FitInput {
	n := len(tr.TimeS)
	in := body.FitInput{
		Facing: tr.Facing, RateHz: tr.RateHz, LegPx: tr.LegPx, CutoffHz: how.CutoffHz,
		Standing: standing, Airborne: airborne, Offsets: how.Network.FitOffsets(), Wander: how.Network.WanderLegs,
		Pitch: *measured, HeelLag: how.Network.HeelLag, HeelLagToDeg: how.Network.HeelLagToDeg,
		FlatFootSDDeg: how.Network.FlatFootSDDeg, Between: how.Before.Between, Points: sightsOf(how.Before, nil),
	}
	hands := body.Hands{Touched: make([]bool, n), WayLegs: make([]float64, n)}
	for p := range body.NumFitPoints {
		k := body.FitLandmarks[p]
		at := how.ByHand.At[tr.NearSide][k]
		if len(at) == 0 {
			continue
		}
		hands.Share[p], hands.Held[p] = how.ByHand.Share[tr.NearSide][k], make([]bool, n)
		for _, i := range at {
			hands.Held[p][i] = !math.IsNaN(tr.Raw[tr.NearSide][k].X[i])
		}
		by := &how.ByHand.By[tr.NearSide][k]
		hands.Doubt[p] = doubtOf(by, hands.Share[p], &in.Offsets[p], tr.Facing, tr.LegPx)
		for i, touched := range how.ByHand.Touched[tr.NearSide][k] {
			hands.Touched[i] = hands.Touched[i] || touched
			hands.WayLegs[i] = max(hands.WayLegs[i], math.Hypot(by.X[i], by.Y[i])/tr.LegPx)
		}
		in.Hands = &hands
	}
	hands.Points = sightsOf(tr, &hands.Held)
	return in
}

// sightsOf returns the near side's points as far as they were seen. What only fills a gap is no
// observation, but where the coach put it: the body bridges it by itself.
func sightsOf(tr *trace.Trace, held *[body.NumFitPoints][]bool) (out [body.NumFitPoints]body.Path) {
	n := len(tr.TimeS)
	for p := range body.NumFitPoints {
		raw := &tr.Raw[tr.NearSide][body.FitLandmarks[p]]
		out[p] = *raw
		if p == body.FitHeel || p == body.FitToe {
			continue
		}
		out[p] = body.Path{X: signal.NaNs(n), Y: signal.NaNs(n), SDPx: raw.SDPx}
		for i := range n {
			if !tr.Filled[i] || held != nil && held[p] != nil && held[p][i] {
				out[p].X[i], out[p].Y[i] = raw.X[i], raw.Y[i]
			}
		}
	}
	return out
}

// replace puts the fitted body in the place of the filtered points, the angles and
// their standard deviations, and returns the foot's motion with it. Where the filter
// knows nothing because tracking was lost for long, the body has a guess, but it is
// not reported.
func replace(b *body.Fitted, points *[body.NumLandmarks]body.Path, plain, sdDeg *body.AngleSeries, airborne []bool,
	legPx float64) footMotion {
	n := len(airborne)
	for p := range body.NumFitPoints {
		k := body.FitLandmarks[p]
		points[k] = b.Points[p].Where(points[k].X)
	}
	for _, a := range []body.Angle{body.KneeFlexion, body.HipFlexion, body.ShankAngle, body.TrunkLean, body.ThighAngle} {
		for i := range n {
			if math.IsNaN(plain[a][i]) {
				continue
			}
			plain[a][i], sdDeg[a][i] = b.AnglesDeg[a][i], b.SDDeg[a][i]
		}
	}
	footPx := body.MedianLength(&points[body.Heel], &points[body.Toe])
	foot := footMotion{signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)}
	for i := range n {
		if math.IsNaN(plain[body.ShankAngle][i]) || math.IsNaN(points[body.Heel].X[i]) {
			continue
		}
		foot.pitchDeg[i], foot.sdDeg[i] = b.AnglesDeg[body.FootPitch][i], b.SDDeg[body.FootPitch][i]
		if !airborne[i] {
			foot.pitchDeg[i] = min(0, foot.pitchDeg[i])
		}
		foot.heelRise[i] = b.HeelRise[i] * legPx / footPx
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
// Network always puts beside the joint is no mistake. by is the way that the
// correction moves the point, pixels.
func doubtOf(by *body.Path, share []float64, usual *body.FitOffset, f body.Facing, legPx float64) []float64 {
	out := make([]float64, len(share))
	for i, w := range share {
		d := body.Sagittal(by.X[i], by.Y[i], f).Scale(1 / legPx).
			Add(body.Vec{Fwd: usual.Mean[body.OffsetFwd], Up: usual.Mean[body.OffsetUp]})
		out[i] = d.Length() * math.Sqrt(max(0, w*(1-w)))
	}
	return out
}
