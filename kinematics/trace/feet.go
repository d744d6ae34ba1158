package trace

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// lifted is how far a point of a foot is over its own ground, in leg lengths, and by how much it must be for the foot
// to be up, for its noise.
type lifted struct {
	lift  []float64
	bound float64
}

// FeetUp returns what says of a sample whether heel and toe of both feet are off
// the floor. ok is false when no foot is seen well enough.
func FeetUp(tr *Trace) (up func(i int) bool, ok bool) {
	feet := liftsOf(tr)
	return func(i int) bool {
		for _, f := range feet {
			if f.lift[i] <= f.bound || math.IsNaN(f.lift[i]) {
				return false
			}
		}
		return true
	}, len(feet) > 0
}

// hipsInAirLegs is how high the hips are, over the ankle of standing, that no standing body brings there: on its toes
// it comes to 1.15 leg lengths. Common practice, no source.
const hipsInAirLegs = 1.2

// HighUp returns what says of a sample whether the hips are higher than those of any standing body, with no foot on
// the floor: then the points of a foot that the picture's edge cuts off, which shake, need no margin for that.
func HighUp(tr *Trace) func(i int) bool {
	feet := liftsOf(tr)
	return func(i int) bool {
		return tr.HipHeight[i] > hipsInAirLegs && !slices.ContainsFunc(feet, func(f lifted) bool {
			return f.lift[i] <= liftLegLengths
		})
	}
}

func liftsOf(tr *Trace) (feet []lifted) {
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
			feet = append(feet, lifted{lift, max(liftLegLengths, min(liftNoiseSDs*noise, 3*liftLegLengths))})
		}
	}
	return feet
}

const (
	// heldPart is the part of the hips' way up and down by which hands that hold on may move in it, aroundFlightS how
	// long before and after it is looked at, in seconds. Common practice, no source.
	heldPart      = 0.25
	aroundFlightS = 0.2
)

// HoldsOn says whether the near hand is over the shoulder and stays in place while the hips rise: the body hangs, and
// who flies takes the hands along.
func HoldsOn(tr *Trace, r signal.Range) bool {
	around := int(aroundFlightS * tr.RateHz)
	from, to := max(0, r.From-around), min(len(tr.TimeS), r.To+around)
	wrist, shoulder := tr.Quick[tr.NearSide][body.Wrist].Y[from:to], tr.Quick[tr.NearSide][body.Shoulder].Y[from:to]
	way := func(x []float64) float64 { return signal.Quantile(x, 0.95) - signal.Quantile(x, 0.05) }
	return signal.Median(wrist) < signal.Median(shoulder) && way(wrist) < heldPart*way(tr.HipHeight[from:to])*tr.LegPx
}
