package trace

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// FeetUp returns what says of a sample whether heel and toe of both feet are off
// the floor. ok is false when no foot is seen well enough.
func FeetUp(tr *Trace) (up func(i int) bool, ok bool) {
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
