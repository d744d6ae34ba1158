package render

import (
	"math"

	"holdfast/scripts/internal/render/motion"
	"holdfast/scripts/internal/render/space"
)

// Camera is where a phone stands and how it looks. It looks at the vertical line through (0, ForwardM).
type Camera struct {
	Width, Height int
	FocalPx       float64
	// Near is the athlete's side toward the camera.
	Near motion.Side
	// DistanceM is from that line, HeightM above the floor.
	DistanceM, HeightM, ForwardM float64
	// YawDeg is how far the camera stands toward the athlete's front, 0 exactly side-on; PitchDeg how far it looks
	// up; RollDeg how far the horizon is turned clockwise in the picture.
	YawDeg, PitchDeg, RollDeg float64
}

// view is a camera's place and axes.
type view struct {
	at, ahead, right, up space.Vec
	focal, midX, midY    float64
}

func (c *Camera) view() view {
	sin, cos := math.Sincos(c.YawDeg * space.Degree)
	away := space.Vec{X: c.Near.Out() * cos, Y: 0, Z: sin}
	v := view{focal: c.FocalPx, midX: float64(c.Width) / 2, midY: float64(c.Height) / 2}
	v.at = space.Vec{X: 0, Y: c.HeightM, Z: c.ForwardM}.Add(away.Scale(c.DistanceM))
	up := space.Vec{X: 0, Y: 1, Z: 0}
	level := away.Scale(-1)
	right := level.Cross(up)
	sin, cos = math.Sincos(c.PitchDeg * space.Degree)
	v.ahead = level.Scale(cos).Add(up.Scale(sin))
	up = up.Scale(cos).Sub(level.Scale(sin))
	sin, cos = math.Sincos(c.RollDeg * space.Degree)
	v.right = right.Scale(cos).Add(up.Scale(sin))
	v.up = up.Scale(cos).Sub(right.Scale(sin))
	return v
}

// project returns where a point is in the picture, pixels from its top left corner, and how far away.
func (v *view) project(p space.Vec) (x, y, distance float64) {
	d := p.Sub(v.at)
	distance = d.Dot(v.ahead)
	return v.midX + v.focal*d.Dot(v.right)/distance, v.midY - v.focal*d.Dot(v.up)/distance, distance
}

// ray returns the direction that a point of the picture looks in; 1 long along the camera's axis.
func (v *view) ray(x, y float64) space.Vec {
	return v.ahead.Add(v.right.Scale((x - v.midX) / v.focal)).Sub(v.up.Scale((y - v.midY) / v.focal))
}

// Facing is the direction in the picture that the athlete looks in.
func (c *Camera) Facing() string {
	if c.Near == motion.Left {
		return "left"
	}
	return "right"
}
