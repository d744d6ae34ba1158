package joints

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// What tells that a point is guessed: where something hides it, a network that shows where
// it looks for a point is sure of no place in many frames.
const (
	// mostlyPart: a rep whose hip is guessed in more of its frames tells nothing.
	mostlyPart = 0.5
	// bothPart: where the points of both sides together are guessed in more of the frames,
	// it does not matter which was taken for which.
	bothPart = 0.4
	// showsPart of all points of the clip must come with their spread for the network to be one that
	// tells.
	showsPart = 0.5
)

// Guessed holds, by point of the near side, the part of a rep's frames in which the
// network guessed it; 0 for a network that does not tell.
type Guessed [body.NumLandmarks]float64

// GuessedIn returns what was guessed in the frames of a span.
func GuessedIn(obs []trace.Observation, side body.Side, rep trace.Span) Guessed {
	var guessed, seen [2][body.NumLandmarks]float64
	all, told := 0, 0
	for i := range obs {
		inside := rep.Contains(obs[i].TimeS)
		for s := range 2 {
			for k := range body.NumLandmarks {
				p := &obs[i].Points[s][k]
				if p.Missing() {
					continue
				}
				all++
				unsure := math.IsNaN(p.SDPx)
				if !unsure {
					told++
				}
				if inside {
					seen[s][k]++
				}
				if inside && unsure {
					guessed[s][k]++
				}
			}
		}
	}
	var g Guessed
	if float64(told) < showsPart*float64(all) {
		return Guessed{}
	}
	for k := range g {
		g[k] = guessed[side][k] / max(1, seen[side][k])
		if both := (guessed[0][k] + guessed[1][k]) / max(1, seen[0][k]+seen[1][k]); both > bothPart {
			g[k] = max(g[k], both)
		}
	}
	return g
}

// guessedPart is the part of a rep's frames in which a point must be guessed for something
// to hide it. In reps that show the whole body it was 0.05 at most, also where the picture
// was small, dark or crushed; with a disc over the shoulder 0.4, over the hip 0.6 to 1. With a plate that passes the
// shoulder it was 0.18, and the hip's range read 8 degrees too large.
// Loose clothes blur a hip and more so a knee, and hide neither. Common practice, no
// source.
var guessedPart = map[body.Landmark]float64{body.Shoulder: 0.15, body.Hip: 0.3, body.Knee: 0.5, body.Ankle: 0.5,
	body.Elbow: 0.2, body.Wrist: 0.2}

// hides says whether something hides a point of the near side: one of the arm, the hip, the
// knee or the ankle.
func (g *Guessed) hides(k body.Landmark) bool {
	part, looked := guessedPart[k]
	return looked && g[k] > part
}

// HidesRep says whether so much is guessed that nothing of the rep can be measured.
func (g *Guessed) HidesRep() bool { return g[body.Hip] > mostlyPart }

// How much of a foot may be hidden for its ankle to be told: heel or toe out of the picture in footOutPart of the
// frames that show the athlete, or the heel guessed in footGuessedPart. Of reps whose feet were seen neither was in
// any frame; a plate that hid the body made it 0.06 and 0.4 of two reps, in which flat feet read as heels up. Common
// practice, no source.
const footOutPart, footGuessedPart = 0.2, 0.05

// A foot on the floor whose toe lies liftedLegs over where it mostly is, in leg lengths (5 cm), in more than liftedPart
// of the frames was taken for something else. Of reps whose feet were seen the toe did so in 0.01 of the frames at
// most, of those of a body behind a plate in 0.06 and 0.35. Common practice, no source.
const liftedLegs, liftedPart = 0.06, 0.03

// FootHidden says whether the foot of a side, on the floor in the spans, is hidden there too much for anything to be
// told of it.
func FootHidden(obs []trace.Observation, side body.Side, legPx float64, spans []trace.Span) bool {
	frames, out, unsure, all, told := 0.0, 0.0, 0.0, 0.0, 0.0
	var toeY []float64
	for i := range obs {
		p := &obs[i].Points[side]
		heel, toe := &p[body.Heel], &p[body.Toe]
		if p[body.Ankle].Missing() && heel.Missing() && toe.Missing() && p[body.Knee].Missing() {
			continue // nobody is seen
		}
		if all++; !math.IsNaN(p[body.Hip].SDPx) || !math.IsNaN(p[body.Knee].SDPx) {
			told++
		}
		if !slices.ContainsFunc(spans, func(s trace.Span) bool { return s.Contains(obs[i].TimeS) }) {
			continue
		}
		frames++
		switch {
		case heel.Missing() || toe.Missing():
			out++
		case math.IsNaN(heel.SDPx):
			unsure++
		}
		if !toe.Missing() {
			toeY = append(toeY, toe.Y)
		}
	}
	usual, lifted := signal.Median(toeY), 0.0
	for _, y := range toeY {
		if usual-y > liftedLegs*legPx {
			lifted++
		}
	}
	return lifted > liftedPart*frames || out > footOutPart*frames ||
		told >= showsPart*all && unsure > footGuessedPart*frames
}

// hiddenStepPart is the part of the frames in which an ankle must be guessed for a foot's steps not to be known. Common
// practice, no source.
const hiddenStepPart = 0.5

// HidesSteps says whether one of the feet is hidden too much in a span for its steps to be counted.
func HidesSteps(obs []trace.Observation, lasts trace.Span) bool {
	left, right := GuessedIn(obs, body.Left, lasts), GuessedIn(obs, body.Right, lasts)
	return max(left[body.Ankle], right[body.Ankle]) > hiddenStepPart
}

// anglesOf are the angles that a point belongs to.
var anglesOf = map[body.Landmark][]body.Angle{
	body.Shoulder: {body.HipFlexion, body.TrunkLean, body.ShoulderFlexion, body.ElbowFlexion},
	body.Elbow:    {body.ShoulderFlexion, body.ElbowFlexion},
	body.Wrist:    {body.ElbowFlexion},
	body.Hip:      {body.HipFlexion, body.KneeFlexion, body.TrunkLean, body.ThighAngle, body.ShoulderFlexion},
	body.Knee:     {body.HipFlexion, body.KneeFlexion, body.AnkleDorsiflexion, body.ThighAngle, body.ShankAngle},
	body.Ankle:    {body.KneeFlexion, body.AnkleDorsiflexion, body.ShankAngle},
}

// Forget makes the samples of angles from one to another unknown, in place.
func (m *Motion) Forget(angles []body.Angle, from, to int) {
	for _, a := range angles {
		for i := from; i <= to; i++ {
			m.AnglesDeg[a][i], m.SDDeg[a][i], m.VelocityDegS[a][i] = math.NaN(), math.NaN(), math.NaN()
		}
	}
}

// ForgetTurn makes the samples of the turn unknown of the angles that are told of the rep and not of its turn.
func (m *Motion) ForgetTurn(angles *body.ByAngle[AngleMeasure], from, to int) {
	for a := range angles {
		if math.IsNaN(angles[a].AtBottomDeg) && !math.IsNaN(angles[a].ROMDeg) {
			m.Forget([]body.Angle{body.Angle(a)}, from, to)
		}
	}
}

// LeaveOut takes the angles out of a rep's measures whose points are guessed, in place.
func (g *Guessed) LeaveOut(angles *body.ByAngle[AngleMeasure]) {
	nothing := NotMeasured()
	for k, of := range anglesOf {
		if g.hides(k) {
			for _, a := range of {
				angles[a] = nothing[a]
			}
		}
	}
}

// LeaveOutTurn makes the angles at a turn unknown, in place, whose points something hides at any moment of it: a point
// at the edge of what hides it is drawn there before and after. A shoulder at its lock-out, beside an elbow that a
// plate hid in three looks of it, read 13 degrees too small. arms: those of the arm count too, and where one is
// foreshortened its end may be anywhere.
func LeaveOutTurn(angles *body.ByAngle[AngleMeasure], obs []trace.Observation, near body.Side, turn trace.Span,
	arms bool) {
	var at []float64
	for i := range obs {
		if t := obs[i].TimeS; turn.Contains(t) {
			at = append(at, t)
		}
	}
	for k, of := range anglesOf {
		from, ofArm := armFrom[k]
		hidden := slices.Contains(GuessedAt(obs, near, k, at), true) ||
			ofArm && foreshortened(obs, near, [2]body.Landmark{from, k}, turn)
		if ofArm && !arms || !hidden {
			continue
		}
		for _, a := range of {
			angles[a].AtBottomDeg = math.NaN()
		}
	}
}

// armFrom are the points of the arm, and what each hangs from.
var armFrom = map[body.Landmark]body.Landmark{body.Elbow: body.Shoulder, body.Wrist: body.Elbow}

// An arm reads foreshortened at a turn where it is shorter than shortPart of what it is otherwise: the quantile
// usualLength of the frames. It then points half out of the picture, or its end is drawn to something else, and either
// way no angle is in it. Upper arms at the lock-outs of presses, push presses and jerks were 0.71 and more; with a
// plate behind the head 0.54 to 0.66, though no look was unsure of the elbow. Common practice, no source.
const shortPart, usualLength = 0.65, 0.9

func foreshortened(obs []trace.Observation, near body.Side, limb [2]body.Landmark, turn trace.Span) bool {
	var all, there []float64
	for i := range obs {
		p, q := &obs[i].Points[near][limb[0]], &obs[i].Points[near][limb[1]]
		px := math.Hypot(p.X-q.X, p.Y-q.Y)
		if all = append(all, px); turn.Contains(obs[i].TimeS) {
			there = append(there, px)
		}
	}
	return signal.Median(there) < shortPart*signal.Quantile(all, usualLength)
}

// LeaveOutRange makes the ranges of rep i unknown, in place, whose points are hidden or lost at both its ends and in
// all of the standing beside it, but for what the reps take of that: the smallest angle was then not seen. The hip of a
// hinge that began and ended behind a plate read 10 degrees too small a range. arms: those of the arm count too.
func LeaveOutRange(angles *body.ByAngle[AngleMeasure], obs []trace.Observation, tr *trace.Trace,
	reps []events.RepTimes, i int, arms bool) {
	within := func(t float64, spans []trace.Span) bool {
		return slices.ContainsFunc(spans, func(s trace.Span) bool { return s.Contains(t) })
	}
	at, lasts := []float64{reps[i].StartS, reps[i].EndS}, events.SpansOf(reps)
	for k := range obs {
		if t := obs[k].TimeS; within(t, reps[i].Beside) && !within(t, lasts) {
			at = append(at, t)
		}
	}
	slices.Sort(at)
	for k, of := range anglesOf {
		if _, ofArm := armFrom[k]; ofArm && !arms {
			continue
		}
		unseen := GuessedAt(obs, tr.NearSide, k, at)
		for i, t := range at {
			unseen[i] = unseen[i] || math.IsNaN(tr.Raw[tr.NearSide][k].X[tr.Index(t)])
		}
		if slices.Contains(unseen, false) {
			continue
		}
		for _, a := range of {
			angles[a].forgetRange()
		}
	}
}

// guessedWindowS is the time in seconds about a sample in which a point must be guessed in most frames for it to be
// hidden there, and not blurred in a frame or two.
const guessedWindowS = 0.3

// leastGuessed is in how many frames at least, where so many about a sample were looked at.
const leastGuessed = 3

// GuessedAt says of each of the times, in order, whether a point of a side is hidden there: a point that is
// guessed lies beside the body. Nothing is hidden for a network that does not tell.
func GuessedAt(obs []trace.Observation, side body.Side, k body.Landmark, timesS []float64) []bool {
	looks, told := 0, 0
	for i := range obs {
		if !obs[i].Passed {
			looks++
		}
		if p := &obs[i].Points[side]; !math.IsNaN(p[body.Hip].SDPx) || !math.IsNaN(p[body.Knee].SDPx) {
			told++
		}
	}
	if float64(told) < showsPart*float64(looks) {
		return make([]bool, len(timesS))
	}
	return mostlyAt(obs, timesS, func(o *trace.Observation) (seen, hidden bool) {
		p := &o.Points[side][k]
		return !p.Missing(), math.IsNaN(p.SDPx)
	})
}

// FootOutAt says of each of the times, in order, whether heel or toe of a side lie out of the picture there, though the
// rest of the leg is seen.
func FootOutAt(obs []trace.Observation, side body.Side, timesS []float64) []bool {
	return mostlyAt(obs, timesS, func(o *trace.Observation) (seen, hidden bool) {
		return trace.SeenLeg(o, side), o.Points[side][body.Heel].Missing() || o.Points[side][body.Toe].Missing()
	})
}

// mostlyAt says of each of the times, in order, whether something is hidden there in most of the frames about it that
// show it.
func mostlyAt(obs []trace.Observation, timesS []float64, look func(o *trace.Observation) (seen, hidden bool)) []bool {
	out, from := make([]bool, len(timesS)), 0
	for i, t := range timesS {
		for from < len(obs) && obs[from].TimeS < t-guessedWindowS/2 {
			from++
		}
		frames, unsure := 0, 0
		for j := from; j < len(obs) && obs[j].TimeS <= t+guessedWindowS/2; j++ {
			if seen, hidden := look(&obs[j]); seen {
				if frames++; hidden {
					unsure++
				}
			}
		}
		out[i] = 2*unsure > frames && unsure >= min(leastGuessed, frames)
	}
	return out
}

// LeaveOutGuessed makes unknown, in place, the samples of points that something hides and of the angles that they
// belong to, from the points of the near side as the network gave them. A foot that the picture's edge cuts off takes
// the ankle along, in reps and outside of them.
func (m *Motion) LeaveOutGuessed(obs []trace.Observation) {
	for i, out := range FootOutAt(obs, m.NearSide, m.TimeS) {
		if out {
			m.Forget(ofFoot, i, i)
		}
	}
	for k := range anglesOf {
		_, arm := armFrom[k]
		if arm && !m.Arms {
			continue
		}
		for i, hidden := range GuessedAt(obs, m.NearSide, k, m.TimeS) {
			if !hidden {
				continue
			}
			m.Hide([]body.Landmark{k}, i, i)
			if k != body.Shoulder && !arm {
				m.Missing[i] = true
			}
		}
	}
}

// Hide makes the samples of points of the near side, of what hangs on them and of the angles they belong to unknown, in
// place, from one to another.
func (m *Motion) Hide(points []body.Landmark, from, to int) {
	for _, k := range points {
		for _, l := range append(hangsOn[k], k) {
			p := &m.Points[m.NearSide][l]
			for i := from; i <= to; i++ {
				p.X[i], p.Y[i], p.SDPx[i] = math.NaN(), math.NaN(), math.NaN()
			}
		}
		m.Forget(anglesOf[k], from, to)
	}
}

// ofFoot are the angles that take heel and toe.
var ofFoot = []body.Angle{body.AnkleDorsiflexion, body.FootPitch}

// ForgetFootByFloor makes the samples of ankle and foot unknown, in place, where its pitch comes from how its points
// lie over the floor, and not from its picture: over a floor that moves in the picture a foot seems to turn.
func (m *Motion) ForgetFootByFloor() {
	for i := range m.TimeS {
		if !m.MeasuredPitch.KnownAt(i) {
			m.Forget(ofFoot, i, i)
		}
	}
}

// hangsOn are the points that are nowhere where another one is hidden.
var hangsOn = map[body.Landmark][]body.Landmark{
	body.Shoulder: {body.Elbow, body.Wrist},
	body.Elbow:    {body.Wrist},
	body.Ankle:    {body.Heel, body.Toe},
}

// HiddenPoints returns the points that something hides, from the shoulder down; those of the arm last, and only where
// it counts.
func (g *Guessed) HiddenPoints(arms bool) []body.Landmark {
	var out []body.Landmark
	for _, k := range []body.Landmark{body.Shoulder, body.Hip, body.Knee, body.Ankle, body.Elbow, body.Wrist} {
		if _, ofArm := armFrom[k]; g.hides(k) && (arms || !ofArm) {
			out = append(out, k)
		}
	}
	return out
}
