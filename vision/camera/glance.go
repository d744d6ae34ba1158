package camera

import (
	"math"

	"holdfast/vision/media"
	"holdfast/vision/plane"
)

// Glance is what the first pass sees of the camera: how far each of its
// pictures lies from the first, in pixels of the clip. It holds native memory until close.
type Glance struct {
	camera       *camera
	looks, known int
	movesPx      []float64
	longerPx     float64
}

// NewGlance returns one that has seen nothing.
func NewGlance() *Glance { return &Glance{camera: newCamera()} }

// Close frees the memory; what was seen stays known.
func (g *Glance) Close() error { return g.camera.Close() }

// Look compares one picture of the first pass with the earlier ones; people are the
// figures in it.
func (g *Glance) Look(frame *media.Frame, people []Figure) error {
	k := frame.ScalePx
	s, err := g.camera.step(frame.Mat, k, people)
	if err != nil {
		return err
	}
	w, h := float64(frame.Mat.Cols())*k, float64(frame.Mat.Rows())*k
	g.longerPx = math.Max(w, h)
	g.looks++
	if s.Known {
		g.known++
		g.movesPx = append(g.movesPx, s.MovesPx(w, h))
	}
	return nil
}

// told says whether the background was good enough to say whether the camera
// moved.
func (g *Glance) told() bool { return g.known >= 3 && 2*g.known >= g.looks }

// stood says whether the camera stood still for certain: but for a few odd
// pictures it is where it was.
func (g *Glance) stood() bool { return g.told() && stoodStill(g.movesPx, g.longerPx, stillPart) }

// nearPart of the longer side is how far from where it began a camera may be to have stayed near it, 4 pixels of 1280.
const nearPart = 3e-3

// within returns within how many pixels of the clip of where it began the camera stayed, but for a few odd pictures;
// 0 where that is far, or the background was not good enough to say.
func (g *Glance) within() float64 {
	if near := nearPart * g.longerPx; g.told() && plane.Quantile(g.movesPx, 0.9) < near {
		return near
	}
	return 0
}
