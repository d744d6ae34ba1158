package render

import "math"

// Camera is where a phone stands and how it looks. It looks at the vertical line through (0, ForwardM).
type Camera struct {
	Width, Height int
	FocalPx       float64
	// Near is the athlete's side toward the camera.
	Near Side
	// DistanceM is from that line, HeightM above the floor.
	DistanceM, HeightM, ForwardM float64
	// YawDeg is how far the camera stands toward the athlete's front, 0 exactly side-on; PitchDeg how far it looks
	// up; RollDeg how far the horizon is turned clockwise in the picture.
	YawDeg, PitchDeg, RollDeg float64
}

// view is a camera's place and axes.
type view struct {
	at, ahead, right, up Vec
	focal, midX, midY    float64
}

func (c *Camera) view() view {
	sin, cos := math.Sincos(c.YawDeg * degree)
	away := Vec{c.Near.out() * cos, 0, sin}
	v := view{focal: c.FocalPx, midX: float64(c.Width) / 2, midY: float64(c.Height) / 2}
	v.at = Vec{0, c.HeightM, c.ForwardM}.add(away.scale(c.DistanceM))
	up := Vec{0, 1, 0}
	level := away.scale(-1)
	right := level.cross(up)
	sin, cos = math.Sincos(c.PitchDeg * degree)
	v.ahead = level.scale(cos).add(up.scale(sin))
	up = up.scale(cos).sub(level.scale(sin))
	sin, cos = math.Sincos(c.RollDeg * degree)
	v.right = right.scale(cos).add(up.scale(sin))
	v.up = up.scale(cos).sub(right.scale(sin))
	return v
}

// project returns where a point is in the picture, pixels from its top left corner, and how far away.
func (v *view) project(p Vec) (x, y, distance float64) {
	d := p.sub(v.at)
	distance = d.dot(v.ahead)
	return v.midX + v.focal*d.dot(v.right)/distance, v.midY - v.focal*d.dot(v.up)/distance, distance
}

// ray returns the direction that a point of the picture looks in; 1 long along the camera's axis.
func (v *view) ray(x, y float64) Vec {
	return v.ahead.add(v.right.scale((x - v.midX) / v.focal)).sub(v.up.scale((y - v.midY) / v.focal))
}

// Facing is the direction in the picture that the athlete looks in.
func (c *Camera) Facing() string {
	if c.Near == Left {
		return "left"
	}
	return "right"
}
