package motion

import (
	"fmt"

	"holdfast/scripts/internal/render/space"
)

// Kind is a movement that can be rendered.
type Kind string

// The kinds of movement.
const (
	Slow      Kind = "slow"
	Fast      Kind = "fast"
	Jump      Kind = "jump"
	CalfRaise Kind = "calf"
	Hinge     Kind = "hinge"
	FastHinge Kind = "fast_hinge"
	Press     Kind = "press"
	FastPress Kind = "fast_press"
	Lunge     Kind = "lunge"
	FastLunge Kind = "fast_lunge"
	Pull      Kind = "pull"
	FastPull  Kind = "fast_pull"
	Hop       Kind = "hop"
	FastHop   Kind = "fast_hop"
	// With a push of the legs: the knees dip before it, and in a jerk they bend again under the lock-out.
	PushPress     Kind = "push_press"
	FastPushPress Kind = "fast_push_press"
	Jerk          Kind = "jerk"
	FastJerk      Kind = "fast_jerk"
	Rising        Kind = "rise"
	FastRising    Kind = "fast_rise"
	// With a bar in the hands and plates on it.
	BarHinge Kind = "bar_hinge"
	BarPress Kind = "bar_press"
	// What is no repetition of anything.
	Walk       Kind = "walk"
	Sit        Kind = "sit"
	TieShoe    Kind = "tie_shoe"
	LoadBar    Kind = "load_bar"
	BendToShoe Kind = "bend_to_shoe"
	// Squats filmed from the front, with knees that go in.
	Front     Kind = "front"
	FastFront Kind = "fast_front"
	// Presses on both knees.
	KneelingPress     Kind = "kneeling_press"
	FastKneelingPress Kind = "fast_kneeling_press"
	// With one foot on a box.
	StepUp     Kind = "step_up"
	FastStepUp Kind = "fast_step_up"
	// Off a box, low and high.
	DropLow  Kind = "drop_low"
	DropHigh Kind = "drop_high"
	// A hinge with a bell in the hands, whose hips snap, and a bar from low on the shins to full extension.
	Swing         Kind = "swing"
	CleanPull     Kind = "clean_pull"
	FastCleanPull Kind = "fast_clean_pull"
	// Presses once more, filmed as close as hands and feet allow.
	ClosePress     Kind = "close_press"
	FastClosePress Kind = "fast_close_press"
	// From tall on the toes into the bottom of a squat, and jumps out of a deep crouch with the hands on the floor.
	DropSquat Kind = "drop_squat"
	JumpUp    Kind = "jump_up"
	// From both knees, and from lying face down, onto the feet with one foot first.
	KneelingRise     Kind = "kneeling_rise"
	LyingRise        Kind = "lying_rise"
	FastLyingRise    Kind = "fast_lying_rise"
	FastKneelingRise Kind = "fast_kneeling_rise"
)

// Kinds are all of them. What chance draws for one goes by its place: new ones come last.
var Kinds = []Kind{Slow, Fast, Jump, CalfRaise, Hinge, FastHinge, Press, FastPress, Lunge, FastLunge, Pull, FastPull,
	Hop, FastHop, PushPress, FastPushPress, Jerk, FastJerk, Walk, Sit, TieShoe, LoadBar, BendToShoe,
	Rising, FastRising, Front, FastFront, KneelingPress, FastKneelingPress, StepUp, FastStepUp,
	BarHinge, BarPress, DropLow, DropHigh, Swing, CleanPull, FastCleanPull, ClosePress, FastClosePress,
	DropSquat, JumpUp, KneelingRise, LyingRise, FastLyingRise, FastKneelingRise}

// Bare returns the kind without the bar that is in its hands, or filmed from as far as others: the movement is the same
// to the last digit.
func (k Kind) Bare() Kind {
	switch k {
	case ClosePress:
		return Press
	case FastClosePress:
		return FastPress
	case BarHinge:
		return Hinge
	case BarPress:
		return Press
	}
	return k
}

// HasBar says whether a bar with plates is in the hands.
func (k Kind) HasBar() bool { return k == BarHinge || k == BarPress }

// Close says whether the camera is as close as hands and feet allow.
func (k Kind) Close() bool { return k == ClosePress || k == FastClosePress }

// FromFront says whether the kind is filmed from the front.
func (k Kind) FromFront() bool { return k == Front || k == FastFront }

// channel is one of the curves of a movement. The leg's are those of the leg that carries the pelvis: both feet stay
// planted, and what the other leg does follows.
type channel int

const (
	KneeFlexion channel = iota
	Dorsiflexion
	FootPitch
	toesFollow
	ArmElevation
	ElbowFlexion
	// ahead is how far the centre of mass is in front of where the athlete carries it with flat feet, metres; the
	// trunk leans as that asks for.
	ahead
	// lean is that of the trunk where nothing asks for balance: while the body flies, and in a lunge.
	lean
	// stepBack and stepUp are how far the foot that steps is behind its place and over the floor, metres; stepPitch how
	// far its heel is up, degrees.
	stepBack
	stepUp
	stepPitch
	// quiet is 1 where tremor and sway are held back.
	quiet
	channelCount
)

// Motion is a movement: joint curves over time, and what is known of it beforehand.
type Motion struct {
	Kind      Kind
	DurationS float64
	Reps      []Rep
	curves    [channelCount]Curve
	phases    []phase
	flights   []flight
	// steps is the side whose foot steps, while the other leg carries the pelvis; nil: both stay.
	steps *Side
	// hangs is how high over the floor the hands hold on; 0: the feet stand.
	hangs float64
	// free is a movement without a form; nil: the curves say all.
	free *free
	// Things are in the picture beside the athlete.
	Things []Thing
	// BoxM is how high the box is that a movement begins on; 0: there is none.
	BoxM float64
}

type phase struct {
	fromS float64
	name  string
}

// Rep is when the parts of a repetition happen, seconds. A jump has its own.
type Rep struct {
	StartS, BottomS, UpStartS, EndS                        float64
	PushStartS, TakeoffS, TouchdownS, LandBottomS, FlightS float64
	TakeoffSpeedMS                                         float64
	// Steps is how often a foot is put down after the first one on the way from the floor onto the feet, and StepsEndS
	// when the last one is.
	Steps     int
	StepsEndS float64
}

// flight is a time in which the centre of mass falls freely.
type flight struct {
	takeoffS, touchdownS float64
	up, speed            float64 // height and upward speed of the centre of mass at take-off
	fromForward, forward float64 // where it is at take-off and at touchdown
}

// at returns where the centre of mass is, metres up and forward.
func (f *flight) at(timeS float64) (up, forward float64) {
	t := timeS - f.takeoffS
	return f.up + f.speed*t - space.GravityMS2*t*t/2, space.Mix(f.fromForward, f.forward, t/(f.touchdownS-f.takeoffS))
}

// phaseAt returns the name of what happens at a time.
func (m *Motion) phaseAt(timeS float64) string {
	name := m.phases[0].name
	for _, p := range m.phases {
		if p.fromS <= timeS {
			name = p.name
		}
	}
	return name
}

func (m *Motion) flightAt(timeS float64) *flight {
	for i := range m.flights {
		if f := &m.flights[i]; f.takeoffS < timeS && timeS < f.touchdownS {
			return f
		}
	}
	return nil
}

// Stand is how an athlete stands before and after.
type Stand struct{ KneeDeg, DorsiDeg, ArmDeg, ElbowDeg float64 }

// Squat is what one repetition aims at.
type Squat struct {
	KneeDeg, DorsiDeg, ArmDeg, ElbowDeg float64
	// HeelPitchDeg is how far the heels come up about the bottom.
	HeelPitchDeg             float64
	DownS, HoldS, UpS, RestS float64
}

// Squats returns a movement of squats after a stand of leadS.
func Squats(kind Kind, stand Stand, reps []Squat, leadS float64) *Motion {
	m := &Motion{Kind: kind}
	t := leadS
	keep := func(c channel, atS, v float64) { m.curves[c].to(atS, v) }
	standing := func(atS float64) {
		keep(KneeFlexion, atS, stand.KneeDeg)
		keep(Dorsiflexion, atS, stand.DorsiDeg)
		keep(ArmElevation, atS, stand.ArmDeg)
		keep(ElbowFlexion, atS, stand.ElbowDeg)
	}
	m.enter(0, "stand")
	for _, r := range reps {
		bottom, up, end := t+r.DownS, t+r.DownS+r.HoldS, t+r.DownS+r.HoldS+r.UpS
		standing(t)
		for _, at := range []float64{bottom, up} {
			keep(KneeFlexion, at, r.KneeDeg)
			keep(Dorsiflexion, at, r.DorsiDeg)
			keep(ArmElevation, at, r.ArmDeg)
			keep(ElbowFlexion, at, r.ElbowDeg)
		}
		standing(end)
		if r.HeelPitchDeg > 0 { // heels leave the floor late and are back early
			keep(FootPitch, t+0.45*r.DownS, 0)
			keep(FootPitch, bottom, r.HeelPitchDeg)
			keep(FootPitch, up, r.HeelPitchDeg)
			keep(FootPitch, up+0.6*r.UpS, 0)
		}
		m.enter(t, "down")
		m.enter(bottom, "hold")
		m.enter(up, "up")
		m.enter(end, "stand")
		m.Reps = append(m.Reps, Rep{StartS: t, BottomS: bottom, UpStartS: up, EndS: end})
		t = end + r.RestS
	}
	m.DurationS = t
	return m
}

// Presses returns a movement of hands that go from the shoulders to overhead on legs that stand still: a rep's
// bottom is the lock-out.
func Presses(kind Kind, stand Stand, reps []Squat, leadS float64) *Motion {
	for i := range reps {
		reps[i].KneeDeg, reps[i].DorsiDeg = stand.KneeDeg, stand.DorsiDeg
	}
	stand.ArmDeg, stand.ElbowDeg = rackArmDeg, rackElbowDeg
	return Squats(kind, stand, reps, leadS)
}

// PushedPresses returns presses that a push of the legs begins: the knees bend by dipDeg in the first part of the way
// to the lock-out, and by caughtDeg under it. The hands leave the shoulders as the legs straighten.
func PushedPresses(kind Kind, stand Stand, reps []Squat, dipDeg, caughtDeg, leadS float64) *Motion {
	m := Presses(kind, stand, reps, leadS)
	const dip, leaves, straight = 0.38, 0.46, 0.62 // parts of the way
	const ankle = 0.42                             // degrees that it bends for each of the knee
	for _, c := range []channel{ArmElevation, ElbowFlexion} {
		for i := range m.curves[c].Knots {
			if k := m.curves[c].Knots; i%4 == 0 {
				k[i].TimeS += leaves * (k[i+1].TimeS - k[i].TimeS)
			}
		}
	}
	m.curves[KneeFlexion], m.curves[Dorsiflexion] = Curve{}, Curve{}
	bend := func(atS, deg float64) {
		m.curves[KneeFlexion].to(atS, stand.KneeDeg+deg)
		m.curves[Dorsiflexion].to(atS, stand.DorsiDeg+ankle*deg)
	}
	for _, r := range m.Reps {
		way := r.BottomS - r.StartS
		bend(r.StartS, 0)
		bend(r.StartS+dip*way, dipDeg)
		bend(r.StartS+straight*way, 0)
		bend(r.BottomS, caughtDeg)
		bend(r.BottomS+0.7*(r.UpStartS-r.BottomS), caughtDeg)
		bend(r.UpStartS+0.5*(r.EndS-r.UpStartS), 0)
	}
	return m
}

// Where the arms are while the hands are at the shoulders.
const rackArmDeg, rackElbowDeg = 38.0, 138.0

// ontoToesDeg is how far the whole body leans forward to stand on its toes.
const ontoToesDeg = 5.0

// CalfRaises returns a movement of heel rises with near straight knees: a rep's bottom is the top of the rise.
func CalfRaises(stand Stand, reps []Squat, leadS float64) *Motion {
	m := &Motion{Kind: CalfRaise}
	m.enter(0, "stand")
	t := leadS
	for _, c := range []struct {
		channel channel
		v       float64
	}{{KneeFlexion, stand.KneeDeg}, {ArmElevation, stand.ArmDeg}, {ElbowFlexion, stand.ElbowDeg}} {
		m.curves[c.channel].to(0, c.v)
	}
	for _, r := range reps {
		top, down, end := t+r.UpS, t+r.UpS+r.HoldS, t+r.UpS+r.HoldS+r.DownS
		for _, at := range []float64{t, top, down, end} {
			pitch, forward := 0.0, 0.0
			if at == top || at == down {
				pitch, forward = r.HeelPitchDeg, ontoToesDeg
			}
			m.curves[FootPitch].to(at, pitch)
			m.curves[Dorsiflexion].to(at, stand.DorsiDeg+forward-pitch)
		}
		m.enter(t, "up")
		m.enter(top, "hold")
		m.enter(down, "down")
		m.enter(end, "stand")
		m.Reps = append(m.Reps, Rep{StartS: t, BottomS: top, UpStartS: down, EndS: end})
		t = end + r.RestS
	}
	m.DurationS = t
	return m
}

func (m *Motion) enter(atS float64, name string) { m.phases = append(m.phases, phase{atS, name}) }

// Check returns an error for a movement that cannot be placed in time.
func (m *Motion) Check() error {
	if len(m.Reps) == 0 && m.free == nil || m.DurationS <= 0 {
		return fmt.Errorf("a movement without repetitions or length: %s", m.Kind)
	}
	for i := range m.curves {
		for k := 1; k < len(m.curves[i].Knots); k++ {
			if a, b := m.curves[i].Knots[k-1], m.curves[i].Knots[k]; b.TimeS < a.TimeS {
				return fmt.Errorf("the curves of %s go back in time at %.3f s", m.Kind, a.TimeS)
			}
		}
	}
	return nil
}
