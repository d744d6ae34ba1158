package measure

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// Drop is what a rep shows in which the athlete drops from a box and lands.
type Drop struct {
	// HeightM is how much higher the feet stood on the box than after the landing, metres; unknown without a scale.
	HeightM stats.Estimate `json:"height_m"`
	// ContactS is the clip time of the first contact with the floor.
	ContactS float64 `json:"contact_s"`
	// StillS is the time in seconds from then until hip and knee are still for half a second, by the bounds of a landing;
	// NaN when that does not come before the athlete stands up.
	StillS float64 `json:"still_s"`
	// Steps is how often a foot was put down elsewhere after the landing; nil where a foot is hidden.
	Steps *int `json:"steps,omitempty"`
}

// placeSDLegs is the error of how high feet stand, in leg lengths: on a box a foot is seen from another height. Common
// practice, no source.
const placeSDLegs = 0.015

// DropOf returns the drop of a rep, which ends at the first contact; nil where none of those that were found is in it.
// The steps are not known where feet are hidden.
func DropOf(m *joints.Motion, r *events.RepTimes, drops []trace.Span, sc Scale, hidden bool) *Drop {
	for _, d := range drops {
		if d.FromS < r.StartS || d.ToS > r.EndS {
			continue
		}
		out := &Drop{HeightM: stats.Unknown(), ContactS: d.ToS, StillS: math.NaN()}
		at := func(fromS, toS float64) float64 { // of both feet: one is nearer to the camera
			var y []float64
			for side := range 2 {
				toe := m.Points[side][body.Toe].Y[m.Index(fromS) : m.Index(toS)+1]
				y = append(y, signal.Median(signal.Present(toe)))
			}
			return signal.Median(signal.Present(y))
		}
		fall := at(r.BottomS, r.BottomS+stepWindowS) - at(r.StartS-2*stepWindowS, r.StartS)
		if sc.Known && !math.IsNaN(fall) {
			out.HeightM = sc.metres(fall, placeSDLegs*knownLegPx(m))
		}
		if t := settledFrom(m, sc, m.Index(d.ToS), m.Index(r.EndS)); !math.IsNaN(t) {
			out.StillS = t - d.ToS
		}
		if !hidden {
			out.Steps = stepsDown(m, d.ToS, r.EndS)
		}
		return out
	}
	return nil
}
