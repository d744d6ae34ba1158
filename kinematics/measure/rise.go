package measure

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
)

// Rise is how an athlete gets from lying, from both knees, or from hands and feet, onto the feet.
type Rise struct {
	// ToFeetS is the time in seconds from when the body begins to come up over the feet until it stands.
	ToFeetS stats.Estimate `json:"to_feet_s"`
	// StillS is the time from then until hip and knee are still for half a second, by the bounds of a landing; NaN when
	// that does not come before the next rep.
	StillS float64 `json:"still_s"`
	// Steps is how often a foot, the near or the far one, was put down after the first one that came under the body until
	// both stay; nil where a foot is hidden, or the clip ends before.
	Steps *int `json:"steps,omitempty"`
}

const (
	// liesLegs is how far the hips are beyond the feet along the floor, in leg lengths, of a body that the feet do not
	// carry: a shin's length on both knees. leavesPart is the part of the farthest that tells that it comes back, and
	// stillS how long before that the hips may have been farther for a moment. Common practice, no source.
	liesLegs, leavesPart, stillS = 0.2, 0.95, 0.3
	// farPart is the part of the farthest that no rest on the way up has, as on both knees from lying.
	farPart = 0.75
	// softEndS is how long before a rep is over a body may be still.
	softEndS = 0.3
	// A way up begins and ends softly, and both ends are seen late and early: the time is longer by softPart of it and
	// softS than what is seen, with the errors upSDS, in seconds, and upSDPart. Set on four rendered ways from hands and
	// feet of 0.9 to 2.1 s, which read 0.1 to 0.2 s short.
	softS, softPart = 0.1, 0.05
	upSDS, upSDPart = 0.08, 0.08
)

// RiseOf returns how the athlete got up in a rep; the next one begins at nextS. The steps are not known where feet are
// hidden.
func RiseOf(m *joints.Motion, r *events.RepTimes, nextS float64, sc Scale, hidden bool) *Rise {
	rise := &Rise{ToFeetS: stats.Unknown(), StillS: math.NaN()}
	if r.Partial && r.PartialWhy.Code == "ends_inside" {
		return rise
	}
	from, to := m.Index(r.StartS), m.Index(r.EndS)
	ahead, behind := beyondFeet(m, from, to)
	apart := ahead
	if signal.Quantile(signal.Present(behind), 0.95) > signal.Quantile(signal.Present(ahead), 0.95) { // on the back
		apart = behind
	}
	farthest := signal.Quantile(signal.Present(apart), 0.95)
	if !(farthest >= liesLegs*knownLegPx(m)) {
		return rise
	}
	leaves := from + leavesFloor(apart, farthest, int(stillS*m.RateHz))
	seen := r.EndS - m.TimeS[leaves]
	soft := softS + softPart*seen
	rise.ToFeetS = stats.Estimate{Value: seen + soft, SD: math.Hypot(upSDS, upSDPart*seen)}
	if still := settledFrom(m, sc, m.Index(r.EndS-softEndS), m.Index(nextS)); !math.IsNaN(still) {
		rise.StillS = max(rise.ToFeetS.Value, still-m.TimeS[leaves]+soft/2)
	}
	if !hidden {
		rise.Steps = stepsUp(m, m.TimeS[leaves]-soft/2, r.EndS, nextS)
	}
	return rise
}

// beyondFeet returns how far the near hip is ahead of the foremost foot, and behind the rearmost one, in pixels along
// the floor, in some samples.
func beyondFeet(m *joints.Motion, from, to int) (ahead, behind []float64) {
	hip := m.Points[m.NearSide][body.Hip].X
	for i := from; i <= to; i++ {
		a, b := math.Inf(1), math.Inf(1)
		for side := range 2 {
			if d := m.Facing.Sign() * (hip[i] - m.Points[side][body.Ankle].X[i]); !math.IsNaN(d) {
				a, b = min(a, d), min(b, -d)
			}
		}
		if math.IsInf(a, 1) {
			a, b = math.NaN(), math.NaN()
		}
		ahead, behind = append(ahead, a), append(behind, b)
	}
	return ahead, behind
}

// leavesFloor returns the sample from which the hips come back over the feet for good: the last one in which they are
// nearly as far from them as they were before, with no more than so many samples between.
func leavesFloor(apart []float64, farthest float64, still int) int {
	last := 0
	for i, d := range apart {
		if d >= farPart*farthest {
			last = i
		}
	}
	top := last
	for i := last; i >= 0 && top-i <= still; i-- {
		if apart[i] > apart[top] {
			top = i
		}
	}
	leaves := top
	for i := top; i <= last; i++ {
		if apart[i] >= leavesPart*apart[top] {
			leaves = i
		}
	}
	return leaves
}
