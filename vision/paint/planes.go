package paint

import (
	"errors"
	"fmt"
	"image/color"

	"gocv.io/x/gocv"
)

// Planes turns pictures into the colours of videos: a plane of brightness, and two of colour at half the width and
// height, by ITU-R BT.601 with black at 16 (8-bit I420). A picture with an odd number of columns or rows gets a black
// one more. It holds native memory until Close, and is not safe for use by several goroutines.
type Planes struct{ padded, yuv gocv.Mat }

// NewPlanes returns one for pictures of any size.
func NewPlanes() *Planes { return &Planes{gocv.NewMat(), gocv.NewMat()} }

// Of returns the three planes of a picture, one after the other; they hold until the next call.
func (p *Planes) Of(c *Canvas) ([]byte, error) {
	from := c.mat
	if c.w%2+c.h%2 > 0 {
		gocv.CopyMakeBorder(c.mat, &p.padded, 0, c.h%2, 0, c.w%2, gocv.BorderConstant, color.RGBA{})
		from = p.padded
	}
	gocv.CvtColor(from, &p.yuv, gocv.ColorBGRToYUVI420)
	pix, err := p.yuv.DataPtrUint8()
	if err != nil {
		return nil, fmt.Errorf("turning a picture into the colours of videos: %w", err)
	}
	return pix, nil
}

// Close frees the memory. A second call does nothing.
func (p *Planes) Close() error {
	if p.yuv.Ptr() == nil {
		return nil
	}
	err := errors.Join(p.padded.Close(), p.yuv.Close())
	p.padded, p.yuv = gocv.Mat{}, gocv.Mat{}
	return err
}
