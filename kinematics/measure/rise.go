package measure

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
)

// Rise is how an athlete gets from lying, or from hands and feet, onto the feet.
type Rise struct {
	// ToFeetS is the time in seconds from when a foot begins to come under the body until it stands.
	ToFeetS stats.Estimate `json:"to_feet_s"`
	// StillS is the time from then until hip and knee are still for half a second, by the bounds of a landing; NaN when
	// that does not come before the next rep.
	StillS float64 `json:"still_s"`
}

const (
	// liesLegs is how far the shoulders are from the feet along the floor, in leg lengths, of a body that the feet do not
	// carry; leavesPart is the part of the farthest that tells that a foot has left. Common practice, no source.
	liesLegs, leavesPart = 0.8, 0.95
	// softEndS is how long before a rep is over a body may be still.
	softEndS = 0.3
	// upSDS and upSDPart are the error of the time to the feet, in seconds and as a part of it: a way up begins and
	// ends softly. Rendered ones of 0.9 to 2.1 s read 0.1 to 0.25 s short.
	upSDS, upSDPart = 0.08, 0.06
)

// RiseOf returns how the athlete got up in a rep; the next one begins at nextS.
func RiseOf(m *joints.Motion, r *events.RepTimes, nextS float64, sc Scale) *Rise {
	rise := &Rise{ToFeetS: stats.Unknown(), StillS: math.NaN()}
	if r.Partial && r.PartialWhy.Code == "ends_inside" {
		return rise
	}
	shoulder := m.Points[m.NearSide][body.Shoulder].X
	from, to := m.Index(r.StartS), m.Index(r.EndS)
	apart := make([]float64, to-from+1)
	for i := range apart {
		apart[i] = math.Inf(1)
		for side := range 2 {
			if d := math.Abs(m.Points[side][body.Ankle].X[from+i] - shoulder[from+i]); !math.IsNaN(d) {
				apart[i] = min(apart[i], d)
			}
		}
		if math.IsInf(apart[i], 1) {
			apart[i] = math.NaN()
		}
	}
	farthest := signal.Quantile(signal.Present(apart), 0.95)
	if !(farthest >= liesLegs*knownLegPx(m)) {
		return rise
	}
	leaves := from
	for i, d := range apart {
		if d >= leavesPart*farthest {
			leaves = from + i
		}
	}
	s := r.EndS - m.TimeS[leaves]
	rise.ToFeetS = stats.Estimate{Value: s, SD: math.Hypot(upSDS, upSDPart*s)}
	if still := settledFrom(m, sc, m.Index(r.EndS-softEndS), m.Index(nextS)); !math.IsNaN(still) {
		rise.StillS = still - m.TimeS[leaves]
	}
	return rise
}
