package render

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"holdfast/scripts/internal/render/body"
	"holdfast/scripts/internal/render/motion"
	"holdfast/scripts/internal/render/space"
)

// Scene is everything that a clip shows.
type Scene struct {
	Seed      uint64
	Build     body.Build
	Clothes   body.Clothes
	Body      *body.Body
	Performer motion.Performer
	Camera    Camera
	Light     Light
	Room      Room
	Picture   Picture
	RateHz    int
	// habit is the movement with many more repetitions; nil where it was not drawn.
	habit *motion.Motion
}

// The streams of chance of a seed: what one draws does not change what another one does.
const (
	bodyStream = iota + 1
	mannerStream
	roomStream
	cameraStream
	noiseStream
	motionStream // and those after it: one for each kind
)

// Seeds returns the seeds of a set, "calibrate" for measuring a network or "check" for judging what that gave.
// They are fixed: a result names its set, and anybody can make the same clips.
func Seeds(set string) ([]uint64, error) {
	first, known := map[string]uint64{"calibrate": 1, "check": 1001}[set]
	if !known {
		return nil, fmt.Errorf("there is no set %q: calibrate and check are", set)
	}
	seeds := make([]uint64, 30)
	for i := range seeds {
		seeds[i] = first + uint64(i)
	}
	return seeds, nil
}

// drawer draws at random.
type drawer struct{ *rand.Rand }

func draw(seed uint64, stream int) drawer {
	return drawer{rand.New(rand.NewPCG(seed, uint64(stream)))}
}

func (d drawer) between(low, high float64) float64 { return low + (high-low)*d.Float64() }
func (d drawer) odds(of float64) bool              { return d.Float64() < of }

// about returns a normal number within two standard deviations.
func (d drawer) about(mean, sd float64) float64 { return mean + sd*space.Clamp(d.NormFloat64(), -2, 2) }

func oneOf[T any](d drawer, of ...T) T { return of[d.IntN(len(of))] }

// hue returns a colour between dark and light, as strong as saturation says.
func (d drawer) hue(dark, light, saturation float64) body.Colour {
	level, at := d.between(dark, light), d.between(0, 3)
	var c body.Colour
	for i := range c {
		away := math.Abs(math.Remainder(at-float64(i), 3)) // 0 at its own hue, 1.5 opposite
		c[i] = float32(math.Min(0.72, level*space.Mix(1, space.Clamp(1.5-1.3*away, 0.1, 1.5), saturation)))
	}
	return c
}

// plateM is how wide the plates of a bar are, in metres: those of 20 kg and more.
const plateM = 0.45

// NewScene returns the scene of a seed with a kind of movement: athlete, room and camera are the same in all of them.
func NewScene(seed uint64, kind motion.Kind) (*Scene, error) {
	s := &Scene{Seed: seed}
	s.drawBody(draw(seed, bodyStream))
	var err error
	if s.Body, err = body.Dress(s.Build, s.Clothes); err != nil {
		return nil, fmt.Errorf("making the athlete of seed %d: %w", seed, err)
	}
	s.Performer = motion.Performer{Skeleton: &s.Body.Skeleton, Manner: drawManner(draw(seed, mannerStream))}
	s.drawRoom(draw(seed, roomStream))
	s.drawCamera(draw(seed, cameraStream))
	if kind.FromFront() {
		s.faceCamera()
	}
	// one camera for all: squats first, so that it is that of both
	for _, k := range []motion.Kind{motion.Slow, motion.Fast, kind.Bare()} {
		if err := s.perform(k); err != nil {
			return nil, fmt.Errorf("making the movement of seed %d: %w", seed, err)
		}
		s.fit()
	}
	if kind.HasBar() {
		s.Performer.Barbell(plateM)
	}
	if kind.Close() {
		s.closeUp()
	}
	return s, nil
}

func (s *Scene) drawBody(d drawer) {
	woman := d.odds(0.5)
	s.Build = body.Build{
		Woman: woman, Typical: d.between(0.6, 1), Muscle: d.between(0, 0.7), Fat: d.between(-0.15, 0.35),
		Shank: d.between(0.94, 1.06), Thigh: d.between(0.94, 1.06), Trunk: d.between(0.95, 1.05), Foot: d.between(0.94, 1.06),
		HeightM: space.Clamp(d.about(1.80, 0.085), 1.6, 2),
	}
	if woman {
		s.Build.HeightM = space.Clamp(d.about(1.66, 0.075), 1.5, 1.85)
		s.Build.Muscle *= 0.7
	}
	// Skin from light to dark: darker skin is redder.
	dark := d.Float64()
	dark *= dark
	tone := body.Colour{float32(space.Mix(1, 0.26, dark)), float32(space.Mix(0.95, 0.17, dark)),
		float32(space.Mix(0.92, 0.13, dark))}
	cloth := func(dark, light float64) body.Dye {
		if d.odds(0.35) { // greys are worn most
			return body.Dye{Colour: d.hue(dark, light, 0.1), Keep: 0}
		}
		return body.Dye{Colour: d.hue(dark, light, d.between(0.4, 0.9)), Keep: 0}
	}
	s.Clothes = body.Clothes{
		Suit: oneOf(d, body.SuitA, body.SuitB), Hair: oneOf(d, body.ShortHair, body.CloseHair),
		Shirt:    body.Weave{Ground: cloth(0.04, 0.55).Colour, Stripe: cloth(0.04, 0.55).Colour},
		Trousers: cloth(0.02, 0.3), Shoes: cloth(0.03, 0.5), Heels: cloth(0.02, 0.5),
		Sock: body.Dye{Colour: d.hue(0.03, 0.6, 0.05), Keep: 0},
		Skin: body.Dye{Colour: tone, Keep: 1}, HairColour: oneOf(d,
			body.Dye{Colour: body.Colour{0.02, 0.018, 0.016}, Keep: 0}, body.Dye{Colour: body.Colour{0.06, 0.035, 0.02},
				Keep: 0},
			body.Dye{Colour: body.Colour{0.16, 0.09, 0.045}, Keep: 0}, body.Dye{Colour: body.Colour{0.34, 0.23, 0.11}, Keep: 0}),
		LooseM: d.between(0, 0.012),
	}
	if d.odds(0.25) {
		s.Clothes.Shirt.Stripes, s.Clothes.Shirt.Width = d.between(8, 30), d.between(0.2, 0.6)
	}
	if d.odds(0.5) {
		s.Clothes.Heels = s.Clothes.Shoes
	}
	if d.odds(0.3) {
		s.Clothes.Trousers = body.Dye{Colour: d.hue(0.4, 1, 0.1), Keep: 1} // jeans as they are
	}
	if d.odds(0.5) {
		s.Clothes.ShortsThigh = d.between(0.03, 0.35)
	}
}

func drawManner(d drawer) motion.Manner {
	m := motion.Manner{
		LumbarShare: d.between(0.1, 0.28), ThoracicShare: d.between(0.03, 0.14), AheadM: d.between(0.02, 0.05),
		YawDeg: d.about(0, 1.5), ListDeg: d.about(0, 0.7), TremorDeg: d.between(0.03, 0.15), SwayM: d.between(0.0005, 0.002),
	}
	m.PelvisShare = 1 - m.LumbarShare - m.ThoracicShare
	forward, pitch, out, arms := d.about(0, 0.008), d.about(0, 0.06), d.between(0, 12), d.between(3, 12)
	for _, side := range motion.BothSides {
		m.FootForwardM[side] = side.Out() * forward
		m.PitchScale[side] = 1 + side.Out()*pitch
		m.KneeOutDeg[side] = out + d.about(0, 1.5)
		m.ArmAbductionDeg[side] = arms + d.about(0, 1.5)
	}
	for i := range m.Tremor {
		m.Tremor[i] = motion.Wave{RateHz: d.between(4, 9), PhaseRad: d.between(0, 2*math.Pi)}
		m.Sway[i] = motion.Wave{RateHz: d.between(0.2, 0.9), PhaseRad: d.between(0, 2*math.Pi)}
	}
	return m
}

// perform draws the movement. What an athlete can do comes from the manner's stream and is the same in every kind.
func (s *Scene) perform(kind motion.Kind) error {
	can := draw(s.Seed, mannerStream+100)
	stand := motion.Stand{
		KneeDeg: can.between(6, 11), DorsiDeg: can.between(3, 7), ArmDeg: can.between(4, 18), ElbowDeg: can.between(8, 25),
	}
	deep := motion.Squat{
		KneeDeg: can.between(96, 126), DorsiDeg: can.between(23, 38), ArmDeg: can.between(35, 88),
		ElbowDeg: can.between(6, 40),
	}
	number := slices.Index(motion.Kinds, kind)
	if number < 0 {
		return fmt.Errorf("there is no movement %q", kind)
	}
	if kind.FromFront() { // they draw as the two kinds before them, as the clips that are kept did
		number -= 2
	}
	d := draw(s.Seed, motionStream+number)
	leadS := d.between(0.7, 0.8)
	s.habit = nil
	aim := aimOf(kind, can, d, stand, deep)
	if slices.Contains([]motion.Kind{motion.Slow, motion.Fast, motion.Jump, motion.DropSquat}, kind) {
		s.plausible(&aim)
	}
	reps := make([]motion.Squat, repsOfClip)
	for i := range reps {
		reps[i] = d.rep(kind, aim)
	}
	switch kind {
	case motion.Jump:
		s.jump(d, stand, aim, reps, leadS)
	case motion.CalfRaise:
		s.Performer.Motion = motion.CalfRaises(stand, reps, leadS)
	case motion.DropSquat:
		s.Performer.Motion = motion.DropSquats(kind, stand, reps, leadS)
	case motion.JumpUp:
		s.jumpUp(kind, d, stand, deep, leadS)
	case motion.Swing:
		s.Performer.Swings(kind, stand, reps, leadS)
	case motion.CleanPull, motion.FastCleanPull:
		leanDeg := can.between(54, 60)
		if kind == motion.FastCleanPull { // with hips that are higher at the start
			leanDeg += 12
		}
		s.Performer.CleanPulls(kind, stand, reps, leanDeg, leadS)
	case motion.Lunge, motion.FastLunge:
		s.lunge(kind, stand, reps, leadS)
	case motion.Hop, motion.FastHop:
		s.hop(kind, stand, leadS)
	case motion.Pull, motion.FastPull:
		s.Performer.Pulls(kind, reps, can.between(-14, -6), leadS)
	case motion.PushPress, motion.FastPushPress:
		s.Performer.Motion = motion.PushedPresses(kind, stand, reps, can.between(24, 32), 0, leadS)
	case motion.Jerk, motion.FastJerk:
		s.Performer.Motion = motion.PushedPresses(kind, stand, reps, can.between(24, 32), can.between(28, 38), leadS)
	case motion.Press, motion.FastPress:
		s.Performer.Motion = motion.Presses(kind, stand, reps, leadS)
	case motion.KneelingPress, motion.FastKneelingPress:
		s.Performer.KneelingPresses(kind, stand, reps[:kneelingOfClip], leadS)
	case motion.Rising, motion.FastRising, motion.KneelingRise, motion.FastKneelingRise, motion.LyingRise,
		motion.FastLyingRise:
		s.rise(kind, d, stand, leadS)
	case motion.StepUp, motion.FastStepUp:
		s.stepUp(kind, stand)
	case motion.DropLow, motion.DropHigh:
		s.drop(kind, stand, deep)
	case motion.Walk, motion.Sit, motion.TieShoe, motion.BendToShoe, motion.LoadBar:
		s.daily(kind, d, stand, leadS)
	case motion.Front, motion.FastFront:
		s.Performer.Motion = motion.Squats(kind, stand, reps, leadS)
		s.kneesIn(kind)
	default:
		s.Performer.Motion = motion.Squats(kind, stand, reps, leadS)
		others := make([]motion.Squat, repsOfHabit)
		for i := range others {
			others[i] = d.rep(kind, aim)
		}
		s.habit = motion.Squats(kind, stand, others, leadS)
	}
	return s.Performer.Motion.Check()
}

// jump gives the performer jumps from a squat into one.
func (s *Scene) jump(d drawer, stand motion.Stand, aim motion.Squat, reps []motion.Squat, leadS float64) {
	var leaps []motion.Leap
	for _, r := range reps {
		leaps = append(leaps, motion.Leap{
			Land: r, HoldS: r.HoldS, FlightS: d.between(0.36, 0.5), TakeoffPitchDeg: d.between(36, 45),
			TouchdownPitchDeg: d.between(15, 28),
		})
	}
	aim.HoldS = d.between(0.4, 0.8)
	s.Performer.Jumps(stand, aim, leaps, leadS)
}

// jumpUp gives the performer jumps out of a crouch, the hands near the floor.
func (s *Scene) jumpUp(kind motion.Kind, d drawer, stand motion.Stand, deep motion.Squat, leadS float64) {
	crouch := deep
	crouch.KneeDeg, crouch.ArmDeg, crouch.ElbowDeg = deep.KneeDeg+8, 14, 8
	s.plausible(&crouch)
	crouch.HoldS = d.between(0.5, 0.7)
	var leaps []motion.Leap
	for range repsOfClip {
		land := motion.Squat{KneeDeg: d.between(62, 70), DorsiDeg: d.between(16, 20), ArmDeg: 40, ElbowDeg: 30}
		leaps = append(leaps, motion.Leap{Land: land, HoldS: 0.3, FlightS: d.between(0.34, 0.42),
			TakeoffPitchDeg: d.between(36, 45), TouchdownPitchDeg: d.between(15, 28)})
	}
	s.Performer.JumpUps(kind, stand, crouch, leaps, leadS)
}

// daily gives the performer what is no repetition of anything.
func (s *Scene) daily(kind motion.Kind, d drawer, stand motion.Stand, leadS float64) {
	switch kind {
	case motion.Walk:
		s.Performer.Walk(stand, leadS)
	case motion.Sit:
		s.Performer.Sit(stand, leadS, d.between(1.8, 2.2))
	case motion.TieShoe:
		s.Performer.TieShoe(stand, s.Camera.Near, leadS, d.between(2, 2.6))
	case motion.BendToShoe:
		s.Performer.BendToShoe(stand, leadS, d.between(1.8, 2.2))
	case motion.LoadBar:
		s.Performer.LoadBar(stand, leadS)
	}
}

// aimOf returns what a repetition of a kind aims at: deep is the athlete's deepest squat, can and d draw what the
// athlete is able to do and what this clip shows.
func aimOf(kind motion.Kind, can, d drawer, stand motion.Stand, deep motion.Squat) motion.Squat {
	aim := deep
	switch kind {
	case motion.Slow:
		if d.odds(0.3) {
			aim.HeelPitchDeg = d.between(4, 28)
		}
	case motion.Fast, motion.Jump:
		aim.KneeDeg -= d.between(0, 18)
		aim.DorsiDeg -= d.between(0, 11)
		aim.ArmDeg *= d.between(0.6, 1)
		if kind == motion.Fast && d.odds(0.65) {
			aim.HeelPitchDeg = d.between(4, 45)
		}
	case motion.DropSquat: // caught less deep than it is squatted
		aim.KneeDeg -= d.between(10, 16)
		aim.DorsiDeg -= d.between(5, 9)
	case motion.CalfRaise:
		aim.HeelPitchDeg = d.between(25, 45)
	case motion.Front, motion.FastFront: // no deeper than thighs can be seen from the front
		aim.KneeDeg, aim.DorsiDeg = can.between(78, 84), can.between(24, 28)
	case motion.Hinge, motion.FastHinge, motion.Swing:
		aim = motion.Squat{KneeDeg: can.between(24, 34), DorsiDeg: can.between(0, 3), ArmDeg: can.between(0, 10),
			ElbowDeg: can.between(4, 12)}
		if kind != motion.Hinge { // hips that go back less far, and knees that help
			aim.KneeDeg += d.between(6, 12)
			aim.DorsiDeg += d.between(5, 9)
		}
	case motion.Press, motion.FastPress, motion.PushPress, motion.FastPushPress, motion.Jerk, motion.FastJerk,
		motion.KneelingPress, motion.FastKneelingPress:
		aim.ArmDeg, aim.ElbowDeg = can.between(168, 178), can.between(4, 10)
		if slices.Contains([]motion.Kind{motion.FastPress, motion.FastPushPress, motion.FastJerk,
			motion.FastKneelingPress}, kind) {
			// Hands that stop before the head.
			aim.ArmDeg -= d.between(10, 16)
			aim.ElbowDeg += d.between(6, 12)
		}
	case motion.Lunge, motion.FastLunge:
		aim = motion.Squat{KneeDeg: can.between(92, 104), DorsiDeg: can.between(8, 16), ArmDeg: stand.ArmDeg,
			ElbowDeg: stand.ElbowDeg}
		if kind == motion.FastLunge { // less deep, the shin more upright
			aim.KneeDeg -= d.between(10, 18)
			aim.DorsiDeg -= d.between(3, 6)
		}
	case motion.CleanPull, motion.FastCleanPull:
		aim.DorsiDeg = can.between(21, 26)
		if kind == motion.FastCleanPull {
			aim.DorsiDeg -= 6
		}
	case motion.Pull, motion.FastPull:
		aim.ElbowDeg = can.between(128, 140)
		if kind == motion.FastPull { // the chin stops before the hands
			aim.ElbowDeg -= d.between(14, 22)
		}
	}
	return aim
}

// lunge gives the performer lunges: the leg nearer to the camera stays in front.
func (s *Scene) lunge(kind motion.Kind, stand motion.Stand, reps []motion.Squat, leadS float64) {
	d := draw(s.Seed, mannerStream+101)
	leg := &s.Body.Skeleton.Sides[motion.Left]
	backM := d.between(0.9, 1) * (motion.Sagittal(leg.Ankle, leg.Knee) + motion.Sagittal(leg.Knee, leg.Hip))
	leanDeg := d.between(4, 12)
	strides := make([]motion.Stride, len(reps))
	for i := range reps {
		strides[i] = motion.Stride{Squat: reps[i], BackM: backM, LeanDeg: leanDeg + d.about(0, 1)}
		if kind == motion.FastLunge { // the trunk comes forward
			strides[i].LeanDeg += 8
		}
	}
	s.Performer.Lunges(kind, stand, strides, 1-s.Camera.Near, leadS)
}

// hop gives the performer hops, fast ones with shorter contacts and less of a bend.
func (s *Scene) hop(kind motion.Kind, stand motion.Stand, leadS float64) {
	d := draw(s.Seed, mannerStream+102)
	low := motion.Squat{KneeDeg: d.between(44, 50), DorsiDeg: d.between(18, 22), ArmDeg: stand.ArmDeg + 15,
		ElbowDeg: stand.ElbowDeg + 40}
	contactS := d.between(0.33, 0.36)
	if kind == motion.FastHop {
		low.KneeDeg -= 12
		low.DorsiDeg -= 6
		contactS -= 0.15
	}
	hops := make([]motion.Bounce, hopsOfClip)
	for i := range hops {
		hops[i] = motion.Bounce{FlightS: d.between(0.3, 0.34), ContactS: contactS + d.about(0, 0.008)}
	}
	s.Performer.Hops(kind, stand, low, hops, leadS)
}

// rise gives the performer ways to the floor and up again, those onto the hands with both feet at once where they are
// fast.
func (s *Scene) rise(kind motion.Kind, of drawer, stand motion.Stand, leadS float64) {
	if kind != motion.Rising && kind != motion.FastRising {
		s.getUp(kind, of, stand, leadS)
		return
	}
	d := draw(s.Seed, mannerStream+103)
	rises := make([]motion.Rise, risesOfClip)
	for i := range rises {
		r := motion.Rise{DownS: d.between(1.0, 1.1), BackS: d.between(1.0, 1.1), RestS: d.between(0.4, 0.6),
			ForthS: d.between(1.0, 1.1), UpS: d.between(0.95, 1.05), StandS: d.between(0.75, 0.85), ByStep: true,
			CrouchLeanDeg: 62 + d.about(0, 1)}
		if kind == motion.FastRising {
			r.ByStep = false
			r.DownS, r.BackS, r.RestS = d.between(0.5, 0.55), d.between(0.34, 0.38), d.between(0.15, 0.25)
			r.ForthS, r.UpS = d.between(0.36, 0.4), d.between(0.5, 0.55)
		}
		rises[i] = r
	}
	s.Performer.Rises(kind, stand, rises, leadS)
}

// getUp gives the performer ways up over one knee, each in another number of steps, and every second one with the far
// foot first.
func (s *Scene) getUp(kind motion.Kind, d drawer, stand motion.Stand, leadS float64) {
	ways := make([]motion.GetUp, repsOfClip)
	for i := range ways {
		way := motion.GetUp{
			Lies: kind == motion.LyingRise || kind == motion.FastLyingRise, Front: s.Camera.Near, Steps: i + 1,
			DownS: d.between(1.9, 2), RestS: d.between(0.45, 0.55), UpS: d.between(2.3, 2.4), StandS: d.between(0.8, 0.85),
		}
		switch kind {
		case motion.KneelingRise:
			way.DownS, way.UpS = d.between(1.7, 1.8), d.between(1.6, 1.7)
		case motion.FastKneelingRise:
			way.DownS, way.UpS = d.between(1.1, 1.2), d.between(0.9, 1)
		case motion.FastLyingRise:
			way.DownS, way.UpS = d.between(1.5, 1.6), d.between(1.35, 1.45)
		}
		if i%2 > 0 {
			way.Front = 1 - way.Front
		}
		ways[i] = way
	}
	s.Performer.GetUps(kind, stand, ways, leadS)
}

// risesOfClip is how many ways to the floor a clip shows.
const risesOfClip = 2

// kneelingOfClip is how many presses on both knees a clip shows.
const kneelingOfClip = 2

// hopsOfClip is how many hops a clip shows.
const hopsOfClip = 6

const (
	// repsOfClip is how many repetitions a clip shows, repsOfHabit how many others of the same movement are drawn
	// to know what the athlete usually does.
	repsOfClip, repsOfHabit = 3, 24
)

// rep draws one repetition that aims at a squat.
func (d drawer) rep(kind motion.Kind, aim motion.Squat) motion.Squat {
	r := aim
	r.KneeDeg += d.about(0, 1.5)
	r.DorsiDeg += d.about(0, 0.7)
	r.HeelPitchDeg = math.Min(45, r.HeelPitchDeg*d.about(1, 0.06))
	switch kind {
	case motion.Slow, motion.Hinge, motion.Press, motion.Lunge, motion.Pull, motion.Front,
		motion.KneelingPress:
		r.DownS, r.HoldS = d.between(1.1, 1.25), d.between(0.1, 0.3)
		r.UpS, r.RestS = d.between(0.9, 1.05), d.between(0.35, 0.42)
	case motion.PushPress, motion.Jerk:
		r.DownS, r.HoldS = d.between(1.5, 1.6), d.between(0.4, 0.6)
		r.UpS, r.RestS = d.between(1.0, 1.1), d.between(0.6, 0.7)
	case motion.FastPushPress, motion.FastJerk:
		r.DownS, r.HoldS = d.between(0.75, 0.85), d.between(0.3, 0.4)
		r.UpS, r.RestS = d.between(0.7, 0.8), d.between(0.6, 0.7)
	case motion.Swing:
		r.DownS, r.UpS = d.between(0.44, 0.5), d.between(0.4, 0.45)
	case motion.CleanPull, motion.FastCleanPull:
		r.DownS, r.HoldS = d.between(1.1, 1.3), d.between(0.5, 0.6)
		r.UpS, r.RestS = d.between(1.3, 1.5), d.between(0.7, 0.8)
		if kind == motion.FastCleanPull {
			r.UpS = d.between(0.6, 0.68)
		}
	case motion.FastLunge, motion.FastPull:
		r.DownS, r.HoldS = d.between(0.5, 0.62), d.between(0.05, 0.15)
		r.UpS, r.RestS = d.between(0.5, 0.7), d.between(0.4, 0.6)
	case motion.DropSquat:
		r.DownS, r.HoldS = d.between(0.36, 0.42), d.between(0.5, 0.7)
		r.UpS, r.RestS = d.between(0.9, 1), d.between(0.4, 0.5)
	case motion.Fast, motion.FastHinge, motion.FastPress, motion.FastFront, motion.FastKneelingPress:
		r.DownS, r.HoldS = d.between(0.33, 0.5), d.between(0.1, 0.6)
		r.UpS, r.RestS = d.between(0.4, 0.8), d.between(0.5, 0.8)
	default:
		r.DownS, r.HoldS = d.between(0.5, 0.9), d.between(0.2, 0.8)
		r.UpS, r.RestS = d.between(0.5, 0.9), d.between(0.4, 0.7)
	}
	return r
}

const (
	// What a trunk does in a squat: beyond it, people bring their shins further forward, or go less deep.
	mostSquatLeanDeg, leastSquatLeanDeg = 50.0, -2.0
	// How far ankles bend, and shins lean.
	mostDorsiDeg, mostShankDeg = 38.0, 58.0
	// dorsiPerPitch is how much less an ankle bends when its heel is up.
	dorsiPerPitch = 0.3
)

// plausible changes a squat until a body can be balanced in it without lying on its thighs or leaning back.
func (s *Scene) plausible(r *motion.Squat) {
	r.DorsiDeg = math.Min(r.DorsiDeg-dorsiPerPitch*r.HeelPitchDeg, mostShankDeg-r.HeelPitchDeg)
	for range 60 {
		c := motion.Channels{
			motion.KneeFlexion: r.KneeDeg, motion.Dorsiflexion: r.DorsiDeg, motion.FootPitch: r.HeelPitchDeg,
			motion.ArmElevation: r.ArmDeg, motion.ElbowFlexion: r.ElbowDeg,
		}
		switch _, _, leanDeg := s.Performer.Balanced(&c); {
		case leanDeg > mostSquatLeanDeg:
			r.KneeDeg--
			r.ArmDeg = math.Min(90, r.ArmDeg+1)
			r.DorsiDeg = math.Min(r.DorsiDeg+0.4, math.Min(mostDorsiDeg, mostShankDeg-r.HeelPitchDeg))
		case leanDeg < leastSquatLeanDeg:
			r.DorsiDeg -= 2
		default:
			return
		}
	}
}

func (s *Scene) drawRoom(d drawer) {
	r := &s.Room
	r.WallM = d.between(1.2, 4)
	r.Floor = oneOf(d, planks, planks, rubber, rubber, tiles, concrete, concrete, turf)
	r.Wall = oneOf(d, plaster, plaster, bricks, twoTone, boards, hedge)
	r.grain = d.Uint32() >> 8
	r.WallColour, r.Second = d.hue(0.25, 0.75, d.between(0, 0.3)), d.hue(0.1, 0.6, d.between(0, 0.5))
	switch r.Floor {
	case planks:
		k := float32(d.between(0.4, 1.3))
		r.FloorColour = body.Colour{0.36 * k, 0.23 * k, 0.13 * k}
	case rubber:
		r.FloorColour = d.hue(0.02, 0.12, d.between(0, 0.3))
	case turf:
		r.FloorColour = body.Colour{0.1, float32(d.between(0.13, 0.2)), 0.06}
	default:
		r.FloorColour = d.hue(0.15, 0.55, d.between(0, 0.2))
	}
	if r.Wall == hedge {
		r.Second = body.Colour{0.08, float32(d.between(0.12, 0.2)), 0.05}
	}
	for range d.IntN(5) {
		z, wide := d.between(-2.6, 2.6), d.between(0.3, 1)
		p := Panel{
			FromZ: z, ToZ: z + wide, Frame: d.hue(0.03, 0.7, 0.2), Inside: d.hue(0.05, 0.7, d.between(0, 0.8)),
			FrameM: d.between(0.02, 0.07), Mottled: d.odds(0.4),
		}
		switch {
		case d.odds(0.35): // something that stands on the floor
			p.ToY = d.between(0.3, 2.05)
		default:
			p.FromY = d.between(0.9, 1.7)
			p.ToY = p.FromY + d.between(0.3, 0.9)
		}
		r.Panels = append(r.Panels, p)
	}
}

func (s *Scene) drawCamera(d drawer) {
	c := &s.Camera
	c.Near = oneOf(d, motion.Left, motion.Right)
	short := oneOf(d, 360, 360, 360, 360, 400, 400, 432, 432, 480, 540)
	long := int(math.Round(float64(short)*oneOf(d, 16.0/9, 16.0/9, 16.0/9, 4.0/3)/2)) * 2
	c.Width, c.Height = short, long
	most := 0.72
	if d.odds(0.4) {
		c.Width, c.Height = long, short
		most = 0.85
	}
	c.DistanceM, c.HeightM, c.ForwardM = d.between(2.4, 4.6), d.between(0.45, 1.25), cameraForwardM
	c.YawDeg, c.RollDeg = d.between(-12, 12), d.about(0, 0.8)
	aim := math.Atan2(0.5*s.Build.HeightM-c.HeightM, c.DistanceM) / space.Degree
	c.PitchDeg = aim*d.between(0.4, 1) + d.about(0, 0.7)
	c.FocalPx = d.between(0.55, most) * float64(c.Height) * c.DistanceM / s.Build.HeightM

	rate := oneOf(d, 24, 25, 30, 30, 30, 30, 50, 60, 60, 60, 120)
	s.RateHz = rate
	s.Picture = Picture{
		BlurPx: d.between(0.3, 0.9), Noise: d.between(0.4, 3.2), CRF: 19 + d.IntN(12),
		ShutterS: math.Min(0.6/float64(rate), 1/d.between(60, 500)),
	}
	elevation, around := d.between(48, 80), d.between(-70, 70)
	sin, cos := math.Sincos(elevation * space.Degree)
	across, along := math.Sincos(around * space.Degree)
	s.Light = Light{
		Toward: space.Vec{X: c.Near.Out() * along * cos, Y: sin, Z: across * cos}, Key: d.between(0.3, 0.95),
		Sky: d.between(0.3, 0.55), Fill: d.between(0.08, 0.3),
		Exposure: d.between(0.75, 1.15), Warm: d.about(0, 0.06), SoftCells: 1 + d.IntN(4),
	}
}

// cameraForwardM is how far forward of the ankles at rest the camera's middle is: about the middle of the foot.
const cameraForwardM = 0.02

// edgePart is how much of the picture stays free about the athlete.
const edgePart = 0.035

// fit lowers the focal length until the athlete stays inside the picture.
func (s *Scene) fit() {
	c := &s.Camera
	for range 60 {
		if s.inside() {
			return
		}
		c.FocalPx *= 0.97
	}
}

// closeWidthPx and closeHeightPx are the size of the picture of a camera that is close.
const closeWidthPx, closeHeightPx = 540, 960

// closeUp fills an upright picture with the athlete.
func (s *Scene) closeUp() {
	c := &s.Camera
	c.Width, c.Height = closeWidthPx, closeHeightPx
	for s.inside() {
		c.FocalPx *= 1.01
	}
	for !s.inside() {
		c.FocalPx *= 0.99
	}
}

func (s *Scene) inside() bool {
	c := &s.Camera
	v := c.view()
	edge := edgePart * float64(min(c.Width, c.Height))
	for t := 0.0; t < s.Performer.Motion.DurationS; t += 0.1 {
		now := s.Performer.At(t)
		points := []space.Vec{now.Figure.Crown}
		for _, side := range motion.BothSides {
			l := &now.Figure.Sides[side]
			hand := l.Wrist.Add(l.Wrist.Sub(l.Elbow).Scale(0.8))
			points = append(points, hand, l.Toe, l.Heel, l.Hip, l.Elbow)
		}
		for _, p := range points {
			if x, y, _ := v.project(p); x < edge || y < edge || x > float64(c.Width)-edge || y > float64(c.Height)-edge {
				return false
			}
		}
	}
	return true
}
