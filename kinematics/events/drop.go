package events

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// What tells a drop from something raised; common practice, no source.
const (
	leastRaised = 0.10 // leg lengths that the feet stand higher before it than after
	offRaised   = 0.04 // leg lengths that a toe is off its raised place once it has left it
	longestDrop = 0.6  // seconds in the air, from a height of almost two metres
)

// DropsOf returns those of a movement that drops from something; none of another one.
func DropsOf(tr *trace.Trace, how *movement.Movement) []trace.Span {
	if how.Feet.Stance != movement.FromBox {
		return nil
	}
	return FindDrops(tr)
}

// FindDrops returns the stretches in which the body falls from something it stood on, such as a box, from when the last
// foot leaves that to the first contact with the floor. Feet that are off the floor for longer than any jump stand on
// something.
func FindDrops(tr *trace.Trace) (drops []trace.Span) {
	up, ok := trace.FeetUp(tr)
	if !ok {
		return nil
	}
	for _, r := range signal.Runs(len(tr.TimeS), up) {
		if float64(r.N())/tr.RateHz <= maxFlightS || r.To == len(tr.TimeS) {
			continue
		}
		last := -1 // the last sample with a foot on it
		for side := range 2 {
			toe := &tr.Quick[side][body.Toe]
			x, y := signal.Median(signal.Present(toe.X[r.From:r.To])), signal.Median(signal.Present(toe.Y[r.From:r.To]))
			if !(signal.Quantile(toe.Y, 0.6)-y > leastRaised*tr.LegPx) {
				continue
			}
			for i := r.From; i < r.To; i++ {
				if math.Hypot(toe.X[i]-x, toe.Y[i]-y) < offRaised*tr.LegPx {
					last = max(last, i)
				}
			}
		}
		air := signal.Range{From: last + 1, To: r.To}
		lasts := float64(air.N()) / tr.RateHz
		if last < 0 || lasts < trace.MinFlightS || lasts > longestDrop || !fallsFreely(tr, air) {
			continue
		}
		drops = append(drops, trace.Span{FromS: tr.TimeS[air.From],
			ToS: tr.TimeS[air.To-1] + toeLeavesS(tr, air.To-1, -1) + earlyContactS})
	}
	return drops
}

// feetFall returns how much lower the near toe is at the turn of a rep than before the rep, in leg lengths; NaN where
// it is not seen.
func feetFall(tr *trace.Trace, r *RepTimes) float64 {
	toe := tr.Quick[tr.NearSide][body.Toe].Y
	about := func(fromS, toS float64) float64 {
		return signal.Median(signal.Present(toe[tr.Index(fromS) : tr.Index(toS)+1]))
	}
	return (about(r.BottomS-aboutBottomS, r.BottomS+aboutBottomS) - about(r.StartS-2*aboutBottomS, r.StartS)) / tr.LegPx
}
