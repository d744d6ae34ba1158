package motion

// Stride is what one lunge backward aims at: what the leg in front does, and how far the other foot steps back.
type Stride struct {
	Squat
	BackM, LeanDeg float64
}

const (
	// The foot steps in this part of the way down, and its heel comes up; from the other part the front knee bends.
	stepPart, bendPart = 0.55, 0.12
	// stepOverM is how high the foot is carried, steppedPitchDeg how far its heel is up when it stands behind.
	stepOverM, steppedPitchDeg = 0.07, 58.0
)

// Lunges gives the performer a movement of lunges backward: a foot steps behind, the knee of the other leg bends, and
// back.
func (p *Performer) Lunges(kind Kind, stand Stand, reps []Stride, stepping Side, leadS float64) {
	squats := make([]Squat, len(reps))
	for i := range reps {
		squats[i] = reps[i].Squat
	}
	m := Squats(kind, stand, squats, leadS)
	bends := &m.curves[KneeFlexion]
	for i := range bends.Knots { // the step comes first
		if r := i % 4; r == 0 {
			bends.Knots[i].TimeS += bendPart * (bends.Knots[i+1].TimeS - bends.Knots[i].TimeS)
		} else if r == 3 {
			bends.Knots[i].TimeS -= bendPart * (bends.Knots[i].TimeS - bends.Knots[i-1].TimeS)
		}
	}
	m.steps = &stepping
	p.Motion = m
	var c Channels
	for i := range c {
		c[i] = m.curves[i].At(0)
	}
	_, _, upright := p.Balanced(&c)
	for i, r := range m.Reps {
		aim := &reps[i]
		there, back := r.StartS+stepPart*aim.DownS, r.EndS-stepPart*aim.UpS
		for _, k := range []struct {
			of                 channel
			before, over, then float64
		}{{stepBack, 0, aim.BackM / 2, aim.BackM}, {stepUp, 0, stepOverM, 0}, {stepPitch, 0, steppedPitchDeg / 2,
			steppedPitchDeg}} {
			m.curves[k.of].to(r.StartS, k.before)
			if k.of == stepUp {
				m.curves[k.of].to((r.StartS+there)/2, k.over)
			}
			m.curves[k.of].to(there, k.then)
			m.curves[k.of].to(back, k.then)
			if k.of == stepUp {
				m.curves[k.of].to((r.EndS+back)/2, k.over)
			}
			m.curves[k.of].to(r.EndS, k.before)
		}
		m.curves[lean].to(r.StartS, upright)
		m.curves[lean].to(r.BottomS, aim.LeanDeg)
		m.curves[lean].to(r.UpStartS, aim.LeanDeg)
		m.curves[lean].to(r.EndS, upright)
	}
}
