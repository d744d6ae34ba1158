package measure

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// What tells a step; common practice, no source.
const (
	stepLegS    = 0.35 // a foot that is faster, in leg lengths a second, is on its way
	stepLegs    = 0.10 // a foot that goes further has stepped
	underLegs   = 0.25 // the first foot of a way up goes at least so far to come under the body
	feetStayS   = 0.5  // feet that rest for so long stay
	feetSeenS   = 0.3  // the clip must show them for so long after the last step
	stepUnknown = 0.1  // the part of the time in which an ankle may be missing
)

// footMove is a way of a foot along the floor from one place to another.
type footMove struct {
	trace.Span
	legs float64 // how far it goes, in leg lengths
}

// footMoves returns how the feet moved between two times, in order. Ways without a moment between in which both feet
// stand are one: they jump, or a network exchanges the legs as they pass each other. Known is false where a foot is
// not seen.
func footMoves(m *joints.Motion, fromS, toS float64) (moves []footMove, known bool) {
	from, to := m.Index(fromS), min(m.Index(toS)+1, len(m.TimeS))
	if to <= from {
		return nil, false
	}
	for side := range 2 {
		x := m.Points[side][body.Ankle].X
		if float64(len(signal.Present(x[from:to]))) < (1-stepUnknown)*float64(to-from) {
			return nil, false
		}
		v := signal.Velocity(x, m.RateHz)
		for _, dir := range []float64{-1, 1} {
			for _, r := range signal.Runs(to-from, func(i int) bool { return dir*v[from+i] > stepLegS*knownLegPx(m) }) {
				a, b := from+r.From, min(from+r.To, len(x)-1)
				if legs := math.Abs(x[b]-x[a]) / knownLegPx(m); legs > stepLegs {
					moves = append(moves, footMove{trace.Span{FromS: m.TimeS[a], ToS: m.TimeS[b]}, legs})
				}
			}
		}
	}
	slices.SortFunc(moves, func(a, b footMove) int { return int(math.Copysign(1, a.FromS-b.FromS)) })
	var apart []footMove
	for _, next := range moves {
		if n := len(apart); n > 0 {
			if last := &apart[n-1]; next.FromS <= last.ToS {
				last.ToS, last.legs = max(last.ToS, next.ToS), max(last.legs, next.legs)
				continue
			}
		}
		apart = append(apart, next)
	}
	return apart, true
}

// stepsOf counts the moves of feet up to the first rest that is long enough for them to stay; before uprightS none is.
func stepsOf(moves []footMove, uprightS float64) (n int, lastS float64) {
	lastS = uprightS
	for _, s := range moves {
		if s.FromS-lastS >= feetStayS {
			break
		}
		n, lastS = n+1, max(lastS, s.ToS)
	}
	return n, lastS
}

// stepsUp returns how often a foot was put down on a way up between two times, after the first one that came under the
// body and until both stay; nil where that was not seen. The next rep begins at nextS.
func stepsUp(m *joints.Motion, fromS, uprightS, nextS float64) *int {
	moves, known := footMoves(m, fromS, nextS)
	first := slices.IndexFunc(moves, func(s footMove) bool { return s.legs > underLegs })
	if !known || first < 0 {
		return nil
	}
	n, lastS := stepsOf(moves[first+1:], uprightS)
	if m.TimeS[len(m.TimeS)-1] < lastS+feetSeenS {
		return nil
	}
	return &n
}

// stepsDown returns how often a foot was put down elsewhere between a landing and the end of its rep; nil where that
// was not seen. A slide of the impact itself is no step.
func stepsDown(m *joints.Motion, contactS, endS float64) *int {
	moves, known := footMoves(m, contactS+stepAfterS, endS)
	if !known {
		return nil
	}
	n := len(moves)
	return &n
}
