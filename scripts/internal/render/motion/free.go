package motion

import (
	"math"

	"holdfast/scripts/internal/render/space"
)

// free is a movement that no planted feet hold to a form: the pelvis, the feet and the arms each go their own way, and
// the legs follow. Places are metres from those in standing at the origin; the pelvis' height is over the floor.
type free struct {
	pelvisUp, pelvisForward, lean Curve
	feet                          [2]struct{ forward, up, pitch Curve }
	arms                          [2]struct{ elevation, elbow Curve }
	// Where hold is 1 the hands are at handsForward and handsUp, and the pelvis follows from them.
	hold, handsForward, handsUp Curve
	// untilS is when the curves take over; 0: never.
	untilS float64
}

// at says whether the movement is free at a time.
func (f *free) at(timeS float64) bool { return f != nil && (f.untilS == 0 || timeS < f.untilS) }

// Thing is something beside the athlete: a box, or a disc that turns about the athlete's X or Z.
type Thing struct {
	SizeM space.Vec
	Disc  bool
	// Grey is its brightness, 0 to 1.
	Grey float64
	// At returns where its middle is.
	At func(now *Instant) space.Vec
}

// palmM is how far the palm is beyond the wrist, plateOutM how far a plate is from the middle of its bar, in metres.
const palmM, plateOutM = 0.07, 0.72

// Barbell puts a bar with two plates of a width into the hands of a movement.
func (p *Performer) Barbell(plateM float64) {
	inHands := func(x float64) func(*Instant) space.Vec {
		return func(now *Instant) space.Vec {
			var at space.Vec
			for _, side := range BothSides { // the middle of the palm, a little beyond the wrist
				l := &now.Figure.Sides[side]
				at = at.Add(l.Wrist.Add(l.Wrist.Sub(l.Elbow).Unit().Scale(palmM)).Scale(0.5))
			}
			return space.Vec{X: x, Y: at.Y, Z: at.Z}
		}
	}
	plate := space.Vec{X: 0.06, Y: plateM, Z: plateM}
	p.Motion.Things = []Thing{
		{SizeM: space.Vec{X: 1.9, Y: 0.03, Z: 0.03}, Grey: 0.45, At: inHands(0)},
		{SizeM: plate, Disc: true, Grey: 0.05, At: inHands(plateOutM)},
		{SizeM: plate, Disc: true, Grey: 0.05, At: inHands(-plateOutM)},
	}
}

// fixed keeps a thing in its place.
func fixed(x, y, z float64) func(*Instant) space.Vec {
	return func(*Instant) space.Vec { return space.Vec{X: x, Y: y, Z: z} }
}

// pose returns what a body does in a free movement.
func (f *free) pose(p *Performer, timeS float64) (Pose, *Figure) {
	m, s := &p.Manner, p.Skeleton
	leanDeg := f.lean.At(timeS) + m.TremorDeg*sum(m.Tremor[:], timeS)
	sway := m.SwayM * sum(m.Sway[:], timeS)
	pose := Pose{
		Pelvis:        space.Vec{X: 0, Y: f.pelvisUp.At(timeS) - math.Abs(sway), Z: f.pelvisForward.At(timeS) + sway},
		PelvisTiltDeg: leanDeg * m.PelvisShare, LumbarDeg: leanDeg * m.LumbarShare, ThoracicDeg: leanDeg * m.ThoracicShare,
		NeckDeg: -space.Clamp(0.75*leanDeg, -10, 38),
	}
	for _, side := range BothSides {
		arm := &f.arms[side]
		pose.Arms[side] = Arm{arm.elevation.At(timeS), m.ArmAbductionDeg[side], arm.elbow.At(timeS)}
		pose.Legs[side] = Leg{HipRotationDeg: 0.2 * m.KneeOutDeg[side], FootPitchDeg: f.feet[side].pitch.At(timeS)}
	}
	if hold := f.hold.At(timeS); hold > 0 {
		at := hands(s.Place(&pose))
		to := space.Vec{X: at.X, Y: f.handsUp.At(timeS), Z: f.handsForward.At(timeS)}
		pose.Pelvis = pose.Pelvis.Add(to.Sub(at).Scale(hold))
	}
	for range 3 {
		short := 0.0
		for _, side := range BothSides {
			foot := &f.feet[side]
			lacks, _ := s.Plant(&pose, side, s.Sides[side].Ball.Add(space.Vec{X: 0, Y: foot.up.At(timeS),
				Z: m.FootForwardM[side] + foot.forward.At(timeS)}))
			short = math.Max(short, lacks)
		}
		if short <= 0 {
			break
		}
		pose.Pelvis.Y -= short + 1e-6
	}
	return pose, s.Place(&pose)
}

// actor writes a free movement down.
type actor struct {
	*free
	p          *Performer
	stand      Stand
	upM, lean0 float64 // how high the pelvis is in standing, and how far the trunk leans
	forwardM   float64 // where the pelvis is then
	thigh      float64
}

// act begins a free movement in standing.
func (p *Performer) act(kind Kind, stand Stand) *actor {
	p.Motion = nil
	c := Channels{KneeFlexion: stand.KneeDeg, Dorsiflexion: stand.DorsiDeg, ArmElevation: stand.ArmDeg,
		ElbowFlexion: stand.ElbowDeg}
	pose, _, leanDeg := p.Balanced(&c)
	rest := p.reference()
	a := &actor{free: &free{}, p: p, stand: stand, upM: pose.Pelvis.Y, lean0: leanDeg, forwardM: pose.Pelvis.Z,
		thigh: Sagittal(rest.Hip, rest.Knee)}
	a.pelvisUp.to(0, a.upM)
	a.pelvisForward.to(0, a.forwardM)
	a.lean.to(0, leanDeg)
	for _, c := range []*Curve{&a.hold, &a.handsForward, &a.handsUp} {
		c.to(0, 0)
	}
	for _, side := range BothSides {
		foot, arm := &a.feet[side], &a.arms[side]
		foot.forward.to(0, 0)
		foot.up.to(0, 0)
		foot.pitch.to(0, 0)
		arm.elevation.to(0, stand.ArmDeg)
		arm.elbow.to(0, stand.ElbowDeg)
	}
	p.Motion = &Motion{Kind: kind, free: a.free}
	p.Motion.enter(0, "moves")
	return a
}

// end ends the movement.
func (a *actor) end(atS float64) { a.p.Motion.DurationS = atS }

// move takes a value from where it was to another one between two times.
func (c *Curve) move(fromS, toS, value float64) {
	c.to(fromS, c.last().Value)
	c.to(toS, value)
}

// body moves pelvis and trunk.
func (a *actor) body(fromS, toS, upM, forwardM, leanDeg float64) {
	a.pelvisUp.move(fromS, toS, upM)
	a.pelvisForward.move(fromS, toS, forwardM)
	a.lean.move(fromS, toS, leanDeg)
}

// reach moves both arms.
func (a *actor) reach(fromS, toS, armDeg, elbowDeg float64) {
	for i := range a.arms {
		a.arms[i].elevation.move(fromS, toS, armDeg)
		a.arms[i].elbow.move(fromS, toS, elbowDeg)
	}
}

// step moves a foot over the floor, lifted by overM on its way, its heel up by pitchDeg at the end.
func (a *actor) step(side Side, fromS, toS, forwardM, upM, overM, pitchDeg float64) {
	foot := &a.feet[side]
	foot.forward.move(fromS, toS, forwardM)
	foot.pitch.move(fromS, toS, pitchDeg)
	before := foot.up.last().Value
	foot.up.move(fromS, (fromS+toS)/2, max(before, upM)+overM)
	foot.up.move((fromS+toS)/2, toS, upM)
}
