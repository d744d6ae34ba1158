package trace

import (
	"fmt"
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// Clean returns the observations ready to be worked on, as a copy: exchanged legs put back
// in so many frames (swapped), so many points (spikes) that jump away for one frame left
// out, and foot pitches that do the same. It returns ErrTooFewFrames when there is too
// little to go by.
func Clean(obs []Observation) (frames []Observation, swapped, spikes int, err error) {
	if frames, err = usable(obs); err != nil {
		return nil, 0, 0, fmt.Errorf("reading %d observations: %w", len(obs), err)
	}
	rejectGuesses(frames, FindNearSide(frames))
	swapped, spikes = RepairSwaps(frames), RejectSpikes(frames)
	rejectPitchSpikes(frames)
	return frames, swapped, spikes, nil
}

// A limb is guessed where its lower end was and its length is off by more than guessedOff of what it is in the frames
// in which neither end was: a body that is seen keeps its lengths, but for what turns out of the picture.
// guessTellsPart of the frames must tell the two apart. Thighs of who gets up and shanks behind a plate were off by
// 0.41 and more. Common practice, no source.
const guessedOff, guessTellsPart = 0.4, 0.5

// rejectGuesses leaves out, in place, the points of the near leg that the network guessed and put where no leg is, as
// something hides them: a plate in the hands takes knee and foot along. What hangs on such a point goes with it. The
// far leg is often guessed where the near one hides it, and helps to tell the two apart all the same. A hip that alone
// is guessed hides nothing below: those of quick squats are, their thighs off by up to 0.7.
func rejectGuesses(obs []Observation, near body.Side) {
	for i, limb := range [][2]body.Landmark{{body.Hip, body.Knee}, {body.Knee, body.Ankle}} {
		var sure []float64
		read := func(o *Observation) (lengthPx float64, upper, lower bool) {
			p, q := &o.Points[near][limb[0]], &o.Points[near][limb[1]]
			return math.Hypot(p.X-q.X, p.Y-q.Y), math.IsNaN(p.SDPx), math.IsNaN(q.SDPx)
		}
		seen := 0
		for k := range obs {
			if l, upper, lower := read(&obs[k]); !math.IsNaN(l) {
				if seen++; !upper && !lower {
					sure = append(sure, l)
				}
			}
		}
		if float64(len(sure)) < guessTellsPart*float64(seen) {
			continue
		}
		usual := signal.Median(sure)
		for k := range obs {
			if l, _, guessed := read(&obs[k]); guessed && math.Abs(l-usual) > guessedOff*usual {
				for _, p := range LegLandmarks[i+1:] {
					obs[k].Points[near][p] = body.MissingPoint()
				}
			}
		}
	}
}

// The points of a leg, which overlap in a side view and may be exchanged.
var LegLandmarks = []body.Landmark{body.Hip, body.Knee, body.Ankle, body.Heel, body.Toe}

const (
	// swapStayCost is what it costs, in leg lengths a frame, to believe that
	// left and right are exchanged: just enough to decide where the legs cover
	// each other and either reading is as smooth as the other.
	swapStayCost = 0.0005
	// swapTurnCost is what it costs, in leg lengths, to begin or end such a
	// stretch: noise alone must not do it.
	swapTurnCost = 0.08
	// swapLimbCost weighs a limb's change of length against its points' way.
	swapLimbCost = 1.0
)

// RepairSwaps exchanges the left and right leg back in the frames in which the
// network mixed them up, in place, and returns how many frames those were. It
// chooses, for the whole clip at once (Viterbi search over "as given" and
// "exchanged"), the reading in which the points of both legs go the shortest
// way and the thighs and shanks keep their lengths. What the majority of the
// frames says stays.
func RepairSwaps(obs []Observation) int {
	leg := RoughLegLengthPx(obs)
	if len(obs) < 2 || math.IsNaN(leg) {
		return 0
	}
	n := len(obs)
	from := make([][2]int8, n)
	cost := [2]float64{0, swapStayCost}
	// Only whether two frames are read the same way changes the cost of the step.
	for i := 1; i < n; i++ {
		same, crossed := stepCosts(&obs[i-1], &obs[i])
		same, crossed = same/leg, crossed/leg+swapTurnCost
		var next [2]float64
		for s := range 2 {
			stay, turn := cost[s]+same, cost[1-s]+crossed
			if stay <= turn {
				next[s], from[i][s] = stay, int8(s)
			} else {
				next[s], from[i][s] = turn, int8(1-s)
			}
			next[s] += float64(s) * swapStayCost
		}
		cost = next
	}
	state := make([]bool, n)
	s := 0
	if cost[1] < cost[0] {
		s = 1
	}
	count := 0
	for i := n - 1; i >= 0; i-- {
		state[i] = s == 1
		count += s
		if i > 0 {
			s = int(from[i][s])
		}
	}
	flip := count > n/2
	if flip {
		count = n - count
	}
	for i := range obs {
		if obs[i].Exchanged = state[i] != flip; obs[i].Exchanged {
			for _, k := range LegLandmarks {
				p := &obs[i].Points
				p[body.Left][k], p[body.Right][k] = p[body.Right][k], p[body.Left][k]
			}
		}
	}
	return count
}

// stepCosts returns how far the points of both legs go from one frame to the
// next, in pixels, when both frames are read the same way and when they are not.
func stepCosts(a, b *Observation) (same, crossed float64) {
	for _, k := range LegLandmarks {
		d := func(s, t body.Side) float64 {
			p, q := a.Points[s][k], b.Points[t][k]
			return math.Hypot(p.X-q.X, p.Y-q.Y)
		}
		addStep(&same, &crossed, d)
	}
	for _, limb := range [][2]body.Landmark{{body.Hip, body.Knee}, {body.Knee, body.Ankle}} {
		length := func(o *Observation, s body.Side) float64 {
			p, q := o.Points[s][limb[0]], o.Points[s][limb[1]]
			return math.Hypot(p.X-q.X, p.Y-q.Y)
		}
		d := func(s, t body.Side) float64 { return swapLimbCost * math.Abs(length(a, s)-length(b, t)) }
		addStep(&same, &crossed, d)
	}
	return same, crossed
}

// addStep adds one point's or limb's step. Where a side is missing, nothing can
// be said about an exchange, and both readings cost the same.
func addStep(same, crossed *float64, d func(a, b body.Side) float64) {
	ll, rr, lr, rl := d(body.Left, body.Left), d(body.Right, body.Right), d(body.Left, body.Right),
		d(body.Right, body.Left)
	if math.IsNaN(ll + rr + lr + rl) {
		for _, v := range []float64{ll, rr} {
			if !math.IsNaN(v) {
				*same += v
				*crossed += v
			}
		}
		return
	}
	*same += ll + rr
	*crossed += lr + rl
}

// RoughLegLengthPx returns the upper range of thigh plus shank over all frames
// and both sides, NaN when no leg was seen.
func RoughLegLengthPx(obs []Observation) float64 {
	var l []float64
	for i := range obs {
		for s := range 2 {
			p := &obs[i].Points[s]
			l = append(l, math.Hypot(p[body.Hip].X-p[body.Knee].X, p[body.Hip].Y-p[body.Knee].Y)+
				math.Hypot(p[body.Knee].X-p[body.Ankle].X, p[body.Knee].Y-p[body.Ankle].Y))
		}
	}
	return signal.Quantile(l, 0.8)
}

const (
	// spikeSDs and spikeLegLengths: a point is a spike when it lies further from
	// what its neighbours in time say than both bounds. The second is larger
	// than the corner that a foot's contact with the floor makes at 24 frames a
	// second.
	spikeSDs        = 6
	spikeLegLengths = 0.06
)

// RejectSpikes marks single frames in which a point jumps away and comes back
// as missing, in place, and returns how many points those were. The expected
// place is the cubic through the two frames before and the two after, at the
// frames' own times.
func RejectSpikes(obs []Observation) int {
	leg := RoughLegLengthPx(obs)
	if math.IsNaN(leg) {
		return 0
	}
	count := 0
	off := make([]float64, len(obs))
	weights, slack := make([][4]float64, len(obs)), make([]float64, len(obs))
	for i := 2; i+2 < len(obs); i++ {
		weights[i] = cubicWeights(obs, i)
		slack[i] = slackOf(obs, i, weights[i])
	}
	for s := range 2 {
		for k := range body.NumLandmarks {
			at := func(i int) body.Point { return obs[i].Points[s][k] }
			for range 3 { // a taken spike lets its neighbours be judged anew
				for i := range obs {
					off[i] = math.NaN()
					if i < 2 || i+2 >= len(obs) {
						continue
					}
					var px, py float64
					for j, d := range cubicNeighbours {
						px += weights[i][j] * at(i+d).X
						py += weights[i][j] * at(i+d).Y
					}
					off[i] = math.Hypot(at(i).X-px, at(i).Y-py)
				}
				bound := max(spikeSDs*signal.Median(off)/1.18, spikeLegLengths*leg)
				found := 0
				for i, d := range off {
					// The largest of its neighbourhood only: a spike also spoils
					// what is expected of the frames beside it.
					if d > bound*slack[i] && !exceeded(off, i, 2) {
						obs[i].Points[s][k] = body.MissingPoint()
						found++
					}
				}
				count += found
				if found == 0 {
					break
				}
			}
		}
	}
	return count
}

// spikePitchDeg is how far, in degrees, a foot's pitch must lie beside what its
// neighbours say to be a spike; spikeSDs of its own standard deviation where that is more.
const spikePitchDeg = 3

// rejectPitchSpikes takes out, in place, a foot's pitch that stands alone beyond those of
// the frames before and after. One between the two is none, however far it lies from
// their cubic: a foot that meets the floor makes such a corner.
func rejectPitchSpikes(obs []Observation) {
	off := make([]float64, len(obs))
	for i := 2; i+2 < len(obs); i++ {
		p, expected, known := obs[i].FootPitch, 0.0, obs[i].FootPitch.Known()
		weights := cubicWeights(obs, i)
		for j, w := range weights {
			q := obs[i+cubicNeighbours[j]].FootPitch
			expected, known = expected+w*q.Deg, known && q.Known()
		}
		before, after := obs[i-1].FootPitch.Deg, obs[i+1].FootPitch.Deg
		alone := p.Deg > max(before, after) || p.Deg < min(before, after)
		bound := max(spikePitchDeg, spikeSDs*p.SDDeg) * slackOf(obs, i, weights)
		if d := math.Abs(p.Deg - expected); known && alone && d > bound {
			off[i] = d
		}
	}
	for i, d := range off {
		if d > 0 && !exceeded(off, i, 2) {
			obs[i].FootPitch = FootPitch{}
		}
	}
}

// cubicNeighbours are the frames, counted from the one judged, that say where it
// should be.
var cubicNeighbours = [4]int{-2, -1, 1, 2}

// cubicWeights returns the weights of the four neighbours of frame i in the
// cubic through them (Lagrange); (-1, 4, 4, -1)/6 for an even frame rate.
func cubicWeights(obs []Observation, i int) [4]float64 {
	var w [4]float64
	for j, d := range cubicNeighbours {
		w[j] = 1
		for k, e := range cubicNeighbours {
			if k != j {
				w[j] *= (obs[i].TimeS - obs[i+e].TimeS) / (obs[i+d].TimeS - obs[i+e].TimeS)
			}
		}
	}
	return w
}

// slackOf returns how many times further than beside four frames in a row the cubic may miss frame i where frames
// were passed over: the noise of the four has more weight in it where they lie unevenly, and the longer the way, the
// less a cubic is true.
func slackOf(obs []Observation, i int, weights [4]float64) float64 {
	passed, gain, even := 0, 1.0, 1+34.0/36
	for j := i - 1; j <= i+2; j++ {
		passed += obs[j].PassedBefore
	}
	if passed == 0 {
		return 1
	}
	for _, w := range weights {
		gain += w * w
	}
	return math.Sqrt(gain / even * (1 + float64(passed)/4))
}

// exceeded says whether some value within reach of i is larger than x[i].
func exceeded(x []float64, i, reach int) bool {
	for j := max(0, i-reach); j <= min(len(x)-1, i+reach); j++ {
		if x[j] > x[i] {
			return true
		}
	}
	return false
}

// FindNearSide returns the side of the body nearer to the camera: the side that
// the network's depth puts in front in most frames, and where it gives no depth,
// the side whose points it trusts more.
func FindNearSide(obs []Observation) body.Side {
	var byDepth, byTrust float64
	for i := range obs {
		o := &obs[i]
		if d := o.Depth[body.Right] - o.Depth[body.Left]; !math.IsNaN(d) && d != 0 {
			byDepth += math.Copysign(1, d) // positive: left is nearer
		}
		var c float64
		for k := range body.NumLandmarks {
			if !o.Points[body.Left][k].Missing() && !o.Points[body.Right][k].Missing() {
				c += o.Points[body.Left][k].Confidence - o.Points[body.Right][k].Confidence
			}
		}
		if math.Abs(c) > 1e-9 {
			byTrust += math.Copysign(1, c)
		}
	}
	vote := byDepth
	if math.Abs(byDepth) < 0.2*float64(len(obs)) {
		vote += byTrust
	}
	if vote > 0 {
		return body.Left
	}
	return body.Right
}

// FacingOf returns the given facing, surely; for FacingAuto the one that [findFacing] finds.
func FacingOf(obs []Observation, given body.Facing) (f body.Facing, sure float64) {
	if given != body.FacingAuto {
		return given, 1
	}
	return findFacing(obs)
}

// findFacing returns the direction that the athlete looks in: toes lie in front
// of heels, and a bent knee lies in front of the line from hip to ankle. Each
// frame has one vote. sure is the part of the frames that agree.
func findFacing(obs []Observation) (f body.Facing, sure float64) {
	right, votes := 0, 0
	for i := range obs {
		var v float64
		for s := range 2 {
			p := &obs[i].Points[s]
			if d := p[body.Toe].X - p[body.Heel].X; !math.IsNaN(d) {
				v += d
			}
			if d := p[body.Knee].X - (p[body.Hip].X+p[body.Ankle].X)/2; !math.IsNaN(d) {
				v += d
			}
		}
		if v != 0 {
			votes++
			if v > 0 {
				right++
			}
		}
	}
	if 2*right >= votes {
		return body.FacingRight, float64(right) / float64(max(votes, 1))
	}
	return body.FacingLeft, 1 - float64(right)/float64(votes)
}
