package measure

import (
	"math"

	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
)

// flying is the parabola of the centre of mass in one flight, in pixels, upright
// axes, about a time in the middle of it:
//
//	up(t) = up + rise (t-mid) - fall (t-mid)^2/2     fwd(t) = fwd + go (t-mid)
type flying struct {
	midS                     float64
	upPx, risePxS, fallPxS2  float64
	fwdPx, goPxS             float64
	fallSEPxS2               float64
	noisePx                  float64 // standard error of one sample about the parabola
	pushFwdPxS2, pushFwdSE   float64 // acceleration forward, none in the air
	samples, apart           float64 // samples fitted, and how many of them are independent
	fromS, toS               float64
	massMidSE, massApexSESec float64
}

const (
	// flightEdge: this part of one over the cut-off frequency is left out at both
	// ends of a flight, where smoothing mixes it with the floor.
	flightEdge = 0.25
	minFlying  = 5 // samples
)

// flyingOf fits the parabola to the flight of a rep. ok is false without a flight
// that leaves enough samples.
func flyingOf(m *joints.Motion, c *CentreOfMass, r *events.RepTimes) (f flying, ok bool) {
	if !r.HasFlight() {
		return f, false
	}
	edge := 1 / m.RateHz
	if m.CutoffHz > 0 {
		edge = max(edge, min(flightEdge/m.CutoffHz, r.FlightS/6))
	}
	f.fromS, f.toS = r.TakeoffS+edge, r.ContactS-edge
	f.midS = (r.TakeoffS + r.ContactS) / 2
	var rows, ups, fwds []float64
	for i, t := range m.TimeS {
		if t < f.fromS || t > f.toS || math.IsNaN(c.UpPx[i]+c.FwdPx[i]) {
			continue
		}
		u := t - f.midS
		rows, ups, fwds = append(rows, 1, u, u*u), append(ups, c.UpPx[i]), append(fwds, c.FwdPx[i])
	}
	n := len(ups)
	if n < minFlying {
		return f, false
	}
	up, okUp := signal.LeastSquares(rows, ups)
	fwd, okFwd := signal.LeastSquares(rows, fwds)
	if !okUp || !okFwd {
		return f, false
	}
	f.samples = float64(n)
	// Smoothed samples are not independent: there are two to a cycle of the
	// cut-off frequency.
	f.apart = 1
	if m.CutoffHz > 0 {
		f.apart = max(1, m.RateHz/(2*m.CutoffHz))
	}
	apart := math.Sqrt(f.apart)
	f.noisePx = math.Hypot(up.Noise, 0.3)
	f.upPx, f.risePxS, f.fallPxS2 = up.Coef[0], up.Coef[1], -2*up.Coef[2]
	f.fwdPx, f.goPxS = fwd.Coef[0], fwd.Coef[1]
	f.pushFwdPxS2 = 2 * fwd.Coef[2]
	f.fallSEPxS2 = 2 * f.noisePx * apart * up.UnitSE(2)
	f.pushFwdSE = 2 * math.Hypot(fwd.Noise, 0.3) * apart * up.UnitSE(2)
	f.massMidSE = f.noisePx * apart * up.UnitSE(1)
	if f.fallPxS2 > 0 {
		f.massApexSESec = f.massMidSE / f.fallPxS2
	}
	return f, true
}

// apexS returns the time at which the parabola is highest when the body falls with
// the given acceleration. The middle of the fit's samples fixes the velocity there.
func (f *flying) apexS(fallPxS2 float64) float64 { return f.midS + f.risePxS/fallPxS2 }
