package kinematics

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

const (
	gravityMS2 = 9.81

	// liftLegLengths is how far a foot point must rise over its own ground level
	// to be off the floor: 2 cm on a leg of 0.8 to 0.9 m. Common practice, no
	// source; the noise bound below may raise it.
	liftLegLengths = 0.025
	liftNoiseSDs   = 3
	// minFlightS and minFlightSamples bound the shortest flight; maxFlightS the
	// longest, a rise of more than a metre.
	minFlightS       = 0.08
	maxFlightS       = 1.0
	minFlightSamples = 2
	// A leg is 0.45 to 0.53 of a stature of 1.4 to 2.1 m (segment lengths after
	// Drillis & Contini, from memory), widened by a fifth because the hip is not
	// the centre of mass.
	minLegM = 0.45 * 1.4 / 1.2
	maxLegM = 0.53 * 2.1 * 1.2
)

// findFlights returns the stretches, from take-off to contact, in which heel and toe
// of both feet are off the floor and the hips fall as a body in the air does. doubted are those in
// which they do not: the fall in pixels a second squared, taken as gravity,
// would give the athlete an impossible leg length.
func findFlights(tr *Trace) (found, doubted []Span) {
	up, ok := feetUp(tr)
	if !ok {
		return nil, nil
	}
	for _, r := range signal.Runs(len(tr.TimeS), up) {
		if d := float64(r.N()) / tr.RateHz; r.N() < minFlightSamples || d < minFlightS || d > maxFlightS {
			continue
		}
		fl := Span{
			FromS: tr.TimeS[r.From] - toeLeavesS(tr, r.From, +1) - lateTakeoffS,
			ToS:   tr.TimeS[r.To-1] + toeLeavesS(tr, r.To-1, -1) + earlyContactS,
		}
		if fallsFreely(tr, r) {
			found = append(found, fl)
		} else {
			doubted = append(doubted, fl)
		}
	}
	return found, doubted
}

// feetUp returns what says of a sample whether heel and toe of both feet are off
// the floor. ok is false when no foot is seen well enough.
func feetUp(tr *Trace) (up func(i int) bool, ok bool) {
	type foot struct {
		lift  []float64
		bound float64
	}
	var feet []foot
	for side := range 2 {
		for _, k := range []body.Landmark{body.Heel, body.Toe} {
			y := tr.Quick[side][k].Y
			if len(signal.Present(y)) < len(y)/2 {
				continue
			}
			ground := signal.Quantile(y, 0.6)
			lift := make([]float64, len(y))
			for i := range y {
				lift[i] = (ground - y[i]) / tr.LegPx
			}
			// The spread of the lower half, so that the flights themselves do
			// not widen it.
			noise := (signal.Quantile(lift, 0.4) - signal.Quantile(lift, 0.1)) / 1.03
			feet = append(feet, foot{lift, max(liftLegLengths, min(liftNoiseSDs*noise, 3*liftLegLengths))})
		}
	}
	return func(i int) bool {
		for _, f := range feet {
			if f.lift[i] <= f.bound || math.IsNaN(f.lift[i]) {
				return false
			}
		}
		return true
	}, len(feet) > 0
}

// The window of samples about the edge of a flight in which the toe's way is
// fitted, in seconds on the floor's side and on the air's.
const (
	toeFloorS = 0.12
	toeAirS   = 0.08
)

// toeLeavesS returns by how many seconds sample i, the first (dir +1) or last
// (dir -1) with the feet well off the floor, lies after the last or before the
// first contact of the toes, which leave last and come down first. The toe goes
// from rest to the body's speed at once and then falls as the body does, so its way is
// fitted by a level that breaks into a parabola,
//
//	lift = level + speed u - g u^2/2,  u = max(0, t - T)
//
// with g by the usual length of a leg. The near toe says; where it is missing, the
// far one.
func toeLeavesS(tr *Trace, i, dir int) float64 {
	toe := tr.Raw[tr.NearSide][body.Toe].Y
	if math.IsNaN(toe[i]) {
		toe = tr.Raw[tr.NearSide.Opposite()][body.Toe].Y
	}
	var ts, up []float64
	for j := -int(math.Ceil(toeFloorS * tr.RateHz)); j <= int(math.Ceil(toeAirS*tr.RateHz)); j++ {
		k := i + j*dir
		if k >= 0 && k < len(toe) && !math.IsNaN(toe[k]) {
			ts, up = append(ts, float64(j)/tr.RateHz), append(up, -toe[k]/tr.LegPx)
		}
	}
	const fall = gravityMS2 / usualLegM
	best, at := math.Inf(1), 0.0
	for c := -toeFloorS + 0.02; c <= toeAirS/2; c += 0.001 {
		var s, sb, sbb, sx, sbx, sxx float64
		for j, t := range ts {
			u := max(0, t-c)
			y := up[j] + fall/2*u*u
			s, sb, sbb = s+1, sb+u, sbb+u*u
			sx, sbx, sxx = sx+y, sbx+u*y, sxx+y*y
		}
		det := s*sbb - sb*sb
		if det < 1e-9 {
			continue
		}
		slope := (s*sbx - sb*sx) / det
		level := (sx - slope*sb) / s
		if ss := sxx - level*sx - slope*sbx; slope > 0 && ss < best {
			best, at = ss, c
		}
	}
	return -at
}

// fallsFreely says whether the hips move as a body in the air over the samples:
// a parabola whose acceleration, taken as gravity, gives a possible leg length
// within twice its standard error.
func fallsFreely(tr *Trace, r signal.Range) bool {
	fall, se, _, ok := fallOf(tr, r)
	if !ok {
		return true // nothing speaks against it
	}
	// leg length in metres = g / fall
	lo, hi := fall-2*se, fall+2*se
	return hi >= gravityMS2/maxLegM && lo <= gravityMS2/minLegM && fall > 0
}
