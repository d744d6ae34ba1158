package events

import (
	"fmt"
	"math"

	"holdfast/kinematics/trace"
)

// mostDamaged is the part of a rep's frames that may be damaged; in its turns and in
// a flight it is none. Common practice, no source.
const mostDamaged = 0.02

// besideDamageS is how close to damage, in seconds, a rep begins or ends that it cuts
// off.
const besideDamageS = 0.1

// standingPart is the part of a rep's depth under which the athlete still stands, or stands again.
const standingPart = 0.15

// MarkCut marks the reps inside which the clip is cut: what was filmed before it and after it is no one movement. A cut
// while the athlete stands parts no movement: the rep begins or ends there. Heights are leg lengths.
func MarkCut(tr *trace.Trace, standHeight float64, reps []RepTimes, obs []trace.Observation) {
	for i := range reps {
		r := &reps[i]
		for k := range obs {
			t := obs[k].TimeS
			if !obs[k].Cut || t <= r.StartS-besideDamageS || t >= r.EndS+besideDamageS {
				continue
			}
			if at := max(1, tr.Index(t)); standHeight-min(tr.HipHeight[at-1], tr.HipHeight[at]) < standingPart*r.Depth {
				if t < r.BottomS {
					r.StartS = max(r.StartS, t)
				} else {
					r.EndS = min(r.EndS, t)
				}
				r.Order()
				continue
			}
			r.Cut, r.Damaged = true, true
			if !r.LeftOut {
				r.Partial, r.PartialWhy = true, fmt.Sprintf("the clip is cut at %.2f s", t)
			}
			break
		}
	}
}

// MarkDamaged marks the reps that lack frames they cannot be measured without.
func MarkDamaged(tr *trace.Trace, reps []RepTimes, obs []trace.Observation) {
	for i := range reps {
		r := &reps[i]
		spans := []trace.Span{turnSpan(tr, r.BottomS, r.Depth)}
		if r.HasFlight() {
			spans = append(spans, trace.Span{FromS: r.TakeoffS, ToS: r.ContactS}, turnSpan(tr, r.LandingBottomS, r.Depth))
		}
		fromS, toS := r.StartS, r.EndS
		if r.Partial { // what cut it off may be the damage
			fromS, toS = fromS-besideDamageS, toS+besideDamageS
		}
		spans[0].FromS, spans[0].ToS = min(spans[0].FromS, r.BottomS), max(spans[0].ToS, r.BottomEndS)
		frames, damaged := 0, 0
		vital := false
		firstS := math.NaN()
		for k := range obs {
			t := obs[k].TimeS
			if t < fromS || t > toS {
				continue
			}
			frames++
			if !obs[k].Damaged {
				continue
			}
			if damaged++; damaged == 1 {
				firstS = t
			}
			for _, s := range spans {
				vital = vital || s.Contains(t)
			}
		}
		if !vital && float64(damaged) <= mostDamaged*float64(frames) {
			continue
		}
		r.Damaged = true
		if !r.LeftOut {
			r.Partial = true
			r.PartialWhy = fmt.Sprintf("the clip is damaged at %.2f s, in %d of its %d frames", firstS, damaged, frames)
		}
	}
}

// turnSpan returns the time over which the hips are within a tenth of the depth of
// where they are at the given time: that time alone when it is not known.
func turnSpan(tr *trace.Trace, atS, depth float64) trace.Span {
	i := tr.Index(atS)
	if math.IsNaN(atS) || math.IsNaN(tr.HipHeight[i]) {
		return trace.Span{FromS: atS, ToS: atS}
	}
	from, to := TurnAround(tr.HipHeight, i, depth)
	half := 0.5 / tr.RateHz
	return trace.Span{FromS: tr.TimeS[from] - half, ToS: tr.TimeS[to] + half}
}

// turnPart is the part of the depth that belongs to the turn.
const turnPart = 0.1

// TurnAround returns the first and the last sample about the given one in which the
// hips are within a tenth of the depth of where they are there.
func TurnAround(hip []float64, i int, depth float64) (from, to int) {
	inTurn := func(j int) bool { return j >= 0 && j < len(hip) && hip[j] < hip[i]+turnPart*depth }
	from, to = i, i
	for inTurn(from - 1) {
		from--
	}
	for inTurn(to + 1) {
		to++
	}
	return from, to
}
