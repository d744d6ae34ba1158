package events

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/trace"
)

// mostDamaged is the part of a rep's frames that may be damaged; in its turns and in
// a flight it is none. Common practice, no source.
const mostDamaged = 0.02

// besideDamageS is how close to damage, in seconds, a rep begins or ends that it cuts
// off.
const besideDamageS = 0.1

// cutJumpLegs is how far a point of the body must jump at a cut, in leg lengths and beyond
// its way in the frame before, for the cut to part a movement: a loop or a piece left out
// of a stand does not. Common practice, no source.
const cutJumpLegs = 0.12

// cutReachFrames is how many frames on either side of a cut are looked through for a point.
const cutReachFrames = 4

// standingPart is the part of a rep's way under which the athlete still stands, or stands again.
const standingPart = 0.15

// MarkCut marks the reps inside which the clip is cut: what was filmed before it and after it is no one movement. A cut
// while the athlete stands parts no movement: the rep begins or ends there; nor does one at which the body does not
// jump.
func MarkCut(tr *trace.Trace, c *Course, reps []RepTimes, obs []trace.Observation) {
	for i := range reps {
		r := &reps[i]
		for k := range obs {
			t := obs[k].TimeS
			if !obs[k].Cut || t <= r.StartS-besideDamageS || t >= r.EndS+besideDamageS {
				continue
			}
			if at := max(1, tr.Index(t)); max(c.Quick[at-1], c.Quick[at]) < standingPart*c.Quick[tr.Index(r.BottomS)] {
				if t < r.BottomS {
					r.StartS = max(r.StartS, t)
				} else {
					r.EndS = min(r.EndS, t)
				}
				r.Order()
				continue
			}
			if jumpLegs(tr, obs, k) < cutJumpLegs {
				continue
			}
			r.Cut, r.Damaged = true, true
			if !r.LeftOut {
				r.Partial, r.PartialWhy = true, notice.New("cut_at", notice.Params{"at_s": t})
			}
			break
		}
	}
}

// seenAt is where a point was seen at a time.
type seenAt struct {
	timeS float64
	body.Point
}

// jumpLegs returns how far the body jumps from one frame to the next, beyond how far it
// would have gone at its speed before and dropped besides, in leg lengths; much where it is not seen on both sides.
func jumpLegs(tr *trace.Trace, obs []trace.Observation, k int) float64 {
	far := math.Inf(-1)
	for _, p := range []body.Landmark{body.Shoulder, body.Hip, body.Knee, body.Ankle} {
		var before, after []seenAt // the nearest first
		for d := range cutReachFrames {
			if i := k - 1 - d; i >= 0 && !obs[i].Points[tr.NearSide][p].Missing() {
				before = append(before, seenAt{obs[i].TimeS, obs[i].Points[tr.NearSide][p]})
			}
			if i := k + d; i < len(obs) && !obs[i].Points[tr.NearSide][p].Missing() {
				after = append(after, seenAt{obs[i].TimeS, obs[i].Points[tr.NearSide][p]})
			}
		}
		if len(before) < 2 || len(after) == 0 {
			continue
		}
		way := func(a, b seenAt) float64 { return math.Hypot(b.X-a.X, b.Y-a.Y) }
		gapS := after[0].timeS - before[0].timeS
		goesOn := way(before[1], before[0]) * gapS / (before[0].timeS - before[1].timeS)
		drops := trace.GravityMS2 * gapS * gapS / 2 / trace.UsualLegM
		far = max(far, (way(before[0], after[0])-goesOn)/tr.LegPx-drops)
	}
	if math.IsInf(far, -1) {
		return math.Inf(1)
	}
	return far
}

// MarkDamaged marks the reps that lack frames they cannot be measured without.
func MarkDamaged(tr *trace.Trace, c *Course, reps []RepTimes, obs []trace.Observation) {
	for i := range reps {
		r := &reps[i]
		spans := []trace.Span{turnSpan(tr, c, r, r.BottomS)}
		if r.HasFlight() {
			spans = append(spans, trace.Span{FromS: r.TakeoffS, ToS: r.ContactS}, turnSpan(tr, c, r, r.LandingBottomS))
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
			frames += 1 + obs[k].PassedBefore
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
			r.PartialWhy = notice.New("damaged_at", notice.Params{"at_s": firstS, "damaged": damaged, "n": frames})
		}
	}
}

// turnSpan returns the time over which the movement turns about the given time: that time
// alone when it is not known.
func turnSpan(tr *trace.Trace, c *Course, r *RepTimes, atS float64) trace.Span {
	from, to, ok := c.TurnAround(tr, r, atS)
	if !ok {
		return trace.Span{FromS: atS, ToS: atS}
	}
	half := 0.5 / tr.RateHz
	return trace.Span{FromS: tr.TimeS[from] - half, ToS: tr.TimeS[to] + half}
}

// turnPart is the part of the way of a rep that belongs to its turn.
const turnPart = 0.1

// TurnAround returns the first and the last sample about the given time of a rep in which the
// course is within a tenth of the rep's way of where it is there; ok is false when that is not known.
func (c *Course) TurnAround(tr *trace.Trace, r *RepTimes, atS float64) (from, to int, ok bool) {
	i := tr.Index(atS)
	if math.IsNaN(atS) || math.IsNaN(c.Quick[i]) {
		return 0, 0, false
	}
	least := c.Quick[i] - turnPart*c.Quick[tr.Index(r.BottomS)]
	inTurn := func(j int) bool { return j >= 0 && j < len(c.Quick) && c.Quick[j] > least }
	from, to = i, i
	for inTurn(from - 1) {
		from--
	}
	for inTurn(to + 1) {
		to++
	}
	return from, to, true
}
