package media

import (
	"fmt"

	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

// Canvas returns a canvas over the frame's own pixels: what is drawn on it is
// drawn on the frame. It is valid until the frame is closed and need not be
// closed itself. The error says that the frame holds no 8-bit BGR picture.
func (f *Frame) Canvas() (*paint.Canvas, error) {
	c, err := paint.Over(f.Mat)
	if err != nil {
		return nil, fmt.Errorf("drawing on frame %d: %w", f.Index, err)
	}
	return c, nil
}

// Hide takes all detail from the heads in the frame. The error says that the frame
// holds no picture.
func (f *Frame) Hide(heads *paint.Heads) error {
	if heads == nil {
		return nil
	}
	c, err := f.Canvas()
	if err != nil {
		return fmt.Errorf("hiding the face: %w", err)
	}
	k := f.ScalePx
	if !(k > 0) {
		k = 1
	}
	for _, d := range heads.At(f.TimeS) {
		c.Obscure(paint.Disc{At: plane.XY{X: d.At.X / k, Y: d.At.Y / k}, RadiusPx: d.RadiusPx / k})
	}
	return nil
}
