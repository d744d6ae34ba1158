package events

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// Other is a stretch that looks like a rep and is one of another movement; Code says by what.
type Other struct {
	Code string
	trace.Span
}

// PartOthers parts reps in those of the movement and those that are of another one by what they look like at their
// turn, such as one foot ahead of the other in a squat: the angles of the near leg are not those of one then. Reps that
// are kept are numbered anew.
func PartOthers(tr *trace.Trace, how *movement.Movement, reps []RepTimes) (kept []RepTimes, others []Other) {
	for _, look := range how.Unlike {
		kept = nil
		for _, r := range reps {
			if asked := !(look.OfJumps && !r.HasFlight()) && !(look.OnFloor && r.HasFlight()); asked && looksAll(tr, &look, &r) {
				others = append(others, Other{look.Code, trace.Span{FromS: r.StartS, ToS: r.EndS}})
				continue
			}
			r.Number = len(kept) + 1
			kept = append(kept, r)
		}
		reps = kept
	}
	return reps, others
}

// looksAll says whether the body looks so in a rep, and in all ways that are asked for besides.
func looksAll(tr *trace.Trace, look *movement.Unlike, r *RepTimes) bool {
	for ; look != nil; look = look.Also {
		if !looks(tr, look, r) {
			return false
		}
	}
	return true
}

// looks says whether the body looks so in a rep. What is not seen looks like nothing.
func looks(tr *trace.Trace, look *movement.Unlike, r *RepTimes) bool {
	atS := r.BottomS
	if look.Place != movement.NoPlace {
		legs, seen := placeOf(tr, look.Place, r)
		return seen && legs > look.Above && legs < look.Below
	}
	if look.Angle == body.TrunkLean && hidesShoulder(tr, atS) {
		return false
	}
	deg := angleAbout(tr, look.Angle, atS)
	switch {
	case look.Change:
		deg = changeOf(tr, look.Angle, r.StartS-beforeRepS, atS)
	case look.After:
		deg = changeOf(tr, look.Angle, r.BottomEndS, r.EndS+afterRepS)
	case look.Beside:
		deg = max(angleAbout(tr, look.Angle, r.StartS), angleAbout(tr, look.Angle, r.EndS)) - deg
	}
	return deg > look.Above && deg < look.Below &&
		(look.AboveAngle == body.NumAngles || deg > angleAbout(tr, look.AboveAngle, atS))
}

// aboutBottomS is the stretch to either side of a turn in which the body is looked at, in seconds.
const aboutBottomS = 0.1

// beforeRepS is how long before a rep begins what leads to it is looked at, in seconds: the dip of the legs before a
// press.
const beforeRepS = 0.6

// afterRepS is how long after a rep what follows from it is looked at, in seconds: heels that come up as a pull ends.
const afterRepS = 0.4

// placeOf returns what is asked of a place in a rep, in leg lengths, NaN or false where it is not seen.
func placeOf(tr *trace.Trace, look movement.PlaceLook, r *RepTimes) (legs float64, seen bool) {
	switch look {
	case movement.NearAbove:
		return nearAbove(tr, r)
	case movement.TrunkAhead:
		return trunkAhead(tr, r), true
	case movement.FeetFall:
		return feetFall(tr, r), true
	case movement.ShoulderFromFoot:
		return shoulderFromFoot(tr, r), true
	case movement.Taller:
		return taller(tr, r), true
	case movement.HipsAhead:
		return hipsAhead(tr, r), true
	case movement.ShoulderAbove:
		return shoulderAbove(tr, r), true
	case movement.HandAbove:
		return handAbove(tr, r), true
	default:
		return feetLegs(tr, look, r.BottomS)
	}
}

// changeOf returns how much an angle of the near side changes between two times, but for its outermost fiftieths.
func changeOf(tr *trace.Trace, a body.Angle, fromS, toS float64) float64 {
	var deg []float64
	for i := tr.Index(fromS); i <= tr.Index(toS); i++ {
		l := body.LimbAt(&tr.Quick[tr.NearSide], i)
		deg = append(deg, body.AnglesOf(&l, tr.Facing)[a])
	}
	deg = signal.Present(deg)
	return signal.Quantile(deg, 0.98) - signal.Quantile(deg, 0.02)
}

// angleAbout returns an angle of the near side about a time, in degrees.
func angleAbout(tr *trace.Trace, a body.Angle, atS float64) float64 {
	var deg []float64
	for i := tr.Index(atS - aboutBottomS); i <= tr.Index(atS+aboutBottomS); i++ {
		l := body.LimbAt(&tr.Quick[tr.NearSide], i)
		deg = append(deg, body.AnglesOf(&l, tr.Facing)[a])
	}
	return signal.Median(signal.Present(deg))
}

// leastBesideBox is how far the feet of one who stands on a box with one of them are apart along the floor at least, in
// leg lengths: the lower foot is beside the box, a foot's length away. Feet that seem to stand above each other are
// guessed, or exchanged.
const leastBesideBox = 0.2

// nearAbove returns how far the near ankle is above the far one at the turn, in leg lengths, more than at rest: for a
// camera that looks down the far foot is higher all the time. Where the feet are not apart along the floor it is 0;
// seen is false where one of them is not seen.
func nearAbove(tr *trace.Trace, r *RepTimes) (legs float64, seen bool) {
	apart, seen := feetLegs(tr, movement.FeetApart, r.BottomS)
	if !seen || apart < leastBesideBox {
		return 0, seen
	}
	restS := r.StartS
	if r.Partial && r.PartialWhy.Code == "begins_inside" {
		restS = r.EndS
	}
	at, seenAt := feetLegs(tr, movement.NearAbove, r.BottomS)
	before, seenBefore := feetLegs(tr, movement.NearAbove, restS)
	return at - before, seenAt && seenBefore
}

// feetLegs returns where the ankles are to each other about a time, in leg lengths; seen is false where one of them
// is not seen. How far they are apart is right also where a network exchanges the legs of a lunge.
func feetLegs(tr *trace.Trace, look movement.PlaceLook, atS float64) (legs float64, seen bool) {
	near, far := &tr.Raw[tr.NearSide][body.Ankle], &tr.Raw[tr.NearSide.Opposite()][body.Ankle]
	var gaps []float64
	for i := tr.Index(atS - aboutBottomS); i <= tr.Index(atS+aboutBottomS); i++ {
		gap := tr.Facing.Sign() * (near.X[i] - far.X[i]) / tr.LegPx
		switch look {
		case movement.FeetApart:
			gap = math.Abs(gap)
		case movement.NearAbove:
			gap = (far.Y[i] - near.Y[i]) / tr.LegPx
		}
		gaps = append(gaps, gap)
	}
	if gaps = signal.Present(gaps); len(gaps) == 0 {
		return 0, false
	}
	return signal.Median(gaps), true
}

// trunkAhead returns how far the middle of the trunk is ahead of the near ankle in a turn, in leg lengths, where it is
// farthest behind but for a tenth of the time; NaN where it is not seen.
func trunkAhead(tr *trace.Trace, r *RepTimes) float64 {
	var legs []float64
	near := &tr.Quick[tr.NearSide]
	for i := tr.Index(r.BottomS - aboutBottomS); i <= tr.Index(r.BottomEndS+aboutBottomS); i++ {
		middle := (near[body.Hip].X[i] + near[body.Shoulder].X[i]) / 2
		legs = append(legs, tr.Facing.Sign()*(middle-near[body.Ankle].X[i])/tr.LegPx)
	}
	return signal.Quantile(signal.Present(legs), 0.1)
}

// shoulderFromFoot returns how far the near shoulder gets from the near ankle along the floor in a rep, in leg lengths,
// but for a twentieth of the time: farther than in any stand where the body lies, or is carried by hands and feet.
func shoulderFromFoot(tr *trace.Trace, r *RepTimes) float64 {
	var legs []float64
	near := &tr.Quick[tr.NearSide]
	for i := tr.Index(r.StartS); i <= tr.Index(r.EndS); i++ {
		legs = append(legs, math.Abs(near[body.Shoulder].X[i]-near[body.Ankle].X[i])/tr.LegPx)
	}
	return signal.Quantile(signal.Present(legs), 0.95)
}

// hipsAhead returns how far the near hip gets ahead of the ankle that is farther ahead, along the floor, in leg
// lengths, but for a twentieth of the rep: over a foot that stands it never is, on both knees by a shin, and lying by
// a leg.
func hipsAhead(tr *trace.Trace, r *RepTimes) float64 {
	var legs []float64
	for i := tr.Index(r.StartS); i <= tr.Index(r.EndS); i++ {
		hip, ahead := tr.Quick[tr.NearSide][body.Hip].X[i], math.Inf(1)
		for side := range 2 {
			ahead = min(ahead, tr.Facing.Sign()*(hip-tr.Quick[side][body.Ankle].X[i])/tr.LegPx)
		}
		legs = append(legs, ahead)
	}
	return signal.Quantile(signal.Present(legs), 0.95)
}

// shoulderAbove returns how far the near shoulder is above the near ankle, in leg lengths, where it is lowest in a rep
// but for a twentieth of the time: not at all where the body lies.
func shoulderAbove(tr *trace.Trace, r *RepTimes) float64 {
	var legs []float64
	near := &tr.Quick[tr.NearSide]
	for i := tr.Index(r.StartS); i <= tr.Index(r.EndS); i++ {
		legs = append(legs, (near[body.Ankle].Y[i]-near[body.Shoulder].Y[i])/tr.LegPx)
	}
	return signal.Quantile(signal.Present(legs), 0.05)
}

// handAbove returns how far the near wrist is above the near ankle about the turn, in leg lengths; NaN where it is not
// seen.
func handAbove(tr *trace.Trace, r *RepTimes) float64 {
	var legs []float64
	near := &tr.Quick[tr.NearSide]
	for i := tr.Index(r.BottomS - aboutBottomS); i <= tr.Index(r.BottomS+aboutBottomS); i++ {
		legs = append(legs, (near[body.Ankle].Y[i]-near[body.Wrist].Y[i])/tr.LegPx)
	}
	return signal.Median(signal.Present(legs))
}

// taller returns how much higher the near shoulder comes between the turn of a rep and shortly after its end than it
// was before it, in leg lengths: as much as the heels come up, where the body is as straight. NaN where that was not
// filmed.
func taller(tr *trace.Trace, r *RepTimes) float64 {
	if r.Partial && r.PartialWhy.Code == "begins_inside" {
		return math.NaN()
	}
	y := tr.Quick[tr.NearSide][body.Shoulder].Y
	before := signal.Median(signal.Present(y[tr.Index(r.StartS-2*aboutBottomS) : tr.Index(r.StartS)+1]))
	after := signal.Quantile(signal.Present(y[tr.Index(r.BottomEndS):tr.Index(r.EndS+afterRepS)+1]), 0.02)
	return (before - after) / tr.LegPx
}

// leastTrunkPart is the part of the trunk's length in the clip that is there where the shoulder is seen: a plate in
// front of it made it half as long in a real clip, squats and hinges from the side 0.86 and more.
const leastTrunkPart = 0.7

// hidesShoulder says whether the trunk is so short about a time that the shoulder cannot be where it seems to be.
func hidesShoulder(tr *trace.Trace, atS float64) bool {
	near := &tr.Quick[tr.NearSide]
	length := func(from, to int) float64 {
		var px []float64
		for i := from; i <= to; i++ {
			px = append(px, body.Dist(&near[body.Hip], &near[body.Shoulder], i))
		}
		return signal.Median(signal.Present(px))
	}
	return length(tr.Index(atS-aboutBottomS), tr.Index(atS+aboutBottomS)) < leastTrunkPart*length(0, len(tr.TimeS)-1)
}

// risesWithBody is the part of a body's way up to its hands that its feet go at least, where it hangs: who bends the
// knees takes them higher, who stretches them at the top not as high. Common practice, no source.
const risesWithBody = 0.5

// feetStay says whether the feet stay where they are while the body goes up to the turn, as in standing up. Feet that
// are not seen are taken to go with it.
func feetStay(tr *trace.Trace, course *Course, r *RepTimes) bool {
	ankles := func(atS float64) float64 {
		var y []float64
		for i := tr.Index(atS - aboutBottomS); i <= tr.Index(atS+aboutBottomS); i++ {
			y = append(y, meanY(tr, &tr.Quick, body.Ankle, i))
		}
		return signal.Median(signal.Present(y))
	}
	way := course.Slow[tr.Index(r.BottomS)] - course.Slow[tr.Index(r.StartS)]
	return (ankles(r.StartS)-ankles(r.BottomS))/tr.LegPx < risesWithBody*way
}
