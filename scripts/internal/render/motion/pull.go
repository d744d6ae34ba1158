package motion

import "holdfast/scripts/internal/render/space"

// Legs and trunk while the hands carry the body.
const (
	hangPitchDeg, hangKneeDeg, hangShankDeg = 34.0, 16.0, -6.0
	// hangClearM is how far the feet are off the floor at least.
	hangClearM = 0.12
	// Where the arms are in the hang; the forearm stays so far from upright.
	hangArmDeg, hangElbowDeg = 172.0, 5.0
)

// Pulls gives the performer a movement of pull-ups: the hands hold on and the body rises to them, a rep's bottom is its
// top. Of a rep the bend of the elbow counts; leanDeg is how far the trunk leans at the top.
func (p *Performer) Pulls(kind Kind, reps []Squat, leanDeg, leadS float64) {
	stand := Stand{KneeDeg: hangKneeDeg, DorsiDeg: hangShankDeg - hangPitchDeg, ArmDeg: hangArmDeg, ElbowDeg: hangElbowDeg}
	for i := range reps {
		r := &reps[i]
		r.KneeDeg, r.DorsiDeg, r.HeelPitchDeg = stand.KneeDeg, stand.DorsiDeg, 0
		r.ArmDeg = hangArmDeg + hangElbowDeg - r.ElbowDeg // the forearm stays upright
	}
	m := Squats(kind, stand, reps, leadS)
	m.curves[FootPitch].to(0, hangPitchDeg)
	m.curves[toesFollow].to(0, 1)
	for _, r := range m.Reps {
		m.curves[lean].to(r.StartS, 0)
		m.curves[lean].to(r.BottomS, leanDeg)
		m.curves[lean].to(r.UpStartS, leanDeg)
		m.curves[lean].to(r.EndS, 0)
	}
	p.Motion = m
	var c Channels
	for i := range c {
		c[i] = m.curves[i].At(0)
	}
	_, f := p.stand(&c, 0, space.Vec{})
	low := f.Sides[Left].Toe.Y
	for _, side := range BothSides {
		low = min(low, f.Sides[side].Toe.Y, f.Sides[side].Ball.Y)
	}
	m.hangs = hands(f).Y - low + hangClearM
}

// hands returns the middle between the wrists.
func hands(f *Figure) space.Vec { return f.Sides[Left].Wrist.Toward(f.Sides[Right].Wrist, 0.5) }

// hanging returns the pose of a body that hangs from its hands.
func (p *Performer) hanging(c *Channels) (Pose, *Figure, float64) {
	_, f := p.stand(c, c[lean], space.Vec{})
	at := hands(f)
	shift := space.Vec{X: 0, Y: p.Motion.hangs - at.Y, Z: -at.Z}
	pose, f := p.stand(c, c[lean], shift)
	return pose, f, shift.Y
}
