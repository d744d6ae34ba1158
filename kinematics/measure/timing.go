package measure

import (
	"math"
	"slices"

	"holdfast/kinematics/stats"
)

// Timing names a time of a rep.
type Timing string

// The times, in the order in which they are told.
const (
	TimingFloor Timing = "floor" // on the floor between two jumps
	TimingAir   Timing = "air"   // from take-off to contact
	TimingFeet  Timing = "feet"  // from the floor onto the feet
	TimingStill Timing = "still" // until the body is still: after first contact, or after a foot began to come under it
	TimingStand Timing = "stand" // from first contact until the body stands again
)

// Timings are all of them.
var Timings = []Timing{TimingFloor, TimingAir, TimingFeet, TimingStill, TimingStand}

// MeanTime is the mean of one time over some reps, in seconds. That of reps whose error is not known has no standard
// deviation; From and To are then the shortest and the longest of them.
type MeanTime struct {
	Reps     int
	Mean     stats.Estimate
	From, To float64
}

// Timed is what of a rep has times; nil: nothing.
type Timed struct {
	Jump    *Jump
	Landing *Landing
	Rise    *Rise
	Drop    *Drop
}

// TimeOver returns the mean of a time over those reps that have it. Their errors are alike, as that of the frame rate
// is, so that more of them make the mean no surer.
func TimeOver(reps []Timed, of Timing) MeanTime {
	out := MeanTime{Mean: stats.Unknown(), From: math.NaN(), To: math.NaN()}
	var sum stats.Estimate
	var all []float64
	for i := range reps {
		if e := of.in(&reps[i]); !math.IsNaN(e.Value) {
			all = append(all, e.Value)
			sum.Value, sum.SD = sum.Value+e.Value, sum.SD+e.SD
		}
	}
	if n := float64(len(all)); n > 0 {
		out = MeanTime{Reps: len(all), Mean: stats.Estimate{Value: sum.Value / n, SD: sum.SD / n},
			From: slices.Min(all), To: slices.Max(all)}
	}
	return out
}

// in returns the time of a rep; NaN where it has none.
func (of Timing) in(r *Timed) stats.Estimate {
	nan := stats.Estimate{Value: math.NaN(), SD: math.NaN()}
	plain := func(s float64) stats.Estimate { return stats.Estimate{Value: s, SD: math.NaN()} }
	switch {
	case of == TimingFloor && r.Jump != nil && r.Jump.Kind == JumpRebound:
		return r.Jump.ContactTimeS
	case of == TimingAir && r.Jump != nil:
		width := r.Jump.FlightInterval95S[1] - r.Jump.FlightInterval95S[0]
		return stats.Estimate{Value: r.Jump.FlightS, SD: width / (2 * stats.Normal95)}
	case of == TimingFeet && r.Rise != nil:
		return r.Rise.ToFeetS
	case of == TimingStill && r.Rise != nil:
		return plain(r.Rise.StillS)
	case of == TimingStill && r.Drop != nil:
		return plain(r.Drop.StillS)
	case of == TimingStill && r.Landing != nil:
		return plain(r.Landing.SettleS)
	case of == TimingStand && r.Landing != nil:
		return plain(r.Landing.ToStandS)
	}
	return nan
}
