package events

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

// Upright turns the frames upright, in place, and returns their trace, the flights in it
// and those doubted ([FindFlights]). The vertical is the one that is given; where none is
// (an empty Source), that of the flights, if they tell of a turn that is larger than twice
// its standard deviation.
func Upright(
	frames []trace.Observation, near body.Side, facing body.Facing, given trace.Roll, masses body.MassModel,
) (tr *trace.Trace, flights, doubted []trace.Span, roll trace.Roll) {
	roll = given
	trace.TurnUpright(frames, roll.Deg)
	tr = trace.New(frames, near, facing)
	flights, doubted = FindFlights(tr)
	if roll.Source != "" {
		return tr, flights, doubted, roll
	}
	deg, sdDeg, ok := trace.RollFromFlights(tr, flights, masses)
	if !ok {
		return tr, flights, doubted, roll
	}
	roll.Source = trace.RollFlight
	if math.Abs(deg) > 2*sdDeg { // a turn that may be none is left alone
		roll.Deg = deg
		trace.TurnUpright(frames, roll.Deg)
		tr = trace.New(frames, near, facing)
		flights, doubted = FindFlights(tr)
	}
	return tr, flights, doubted, roll
}
