package paint

import (
	"image"
	"math"

	"gocv.io/x/gocv"
)

// obscuredCells is how many patches of colour are left across an obscured place: too
// few for a face to be known by. No patch is smaller than leastCellPx.
const (
	obscuredCells = 4
	leastCellPx   = 8
)

// Obscure takes all detail from a round place: what is left are a few patches of its
// mean colours that run into one another. Nothing of the old pixels can be got back.
func (c *Canvas) Obscure(d Disc) {
	if !finite(d.At.X, d.At.Y, d.RadiusPx) || !(d.RadiusPx > 0) {
		return
	}
	r := math.Max(d.RadiusPx, 4)
	box := image.Rect(clampInt(d.At.X-r, 0, c.w), clampInt(d.At.Y-r, 0, c.h), clampInt(d.At.X+r+1, 0, c.w),
		clampInt(d.At.Y+r+1, 0, c.h))
	if box.Empty() {
		return
	}
	from, err := c.region(box)
	if err != nil {
		return // the box lies in the picture
	}
	defer from.Close()
	// Patches have the same size at the picture's edge, where the place is cut off.
	cell := math.Max(2*r/obscuredCells, leastCellPx)
	across := func(px int) int { return max(1, int(math.Round(float64(px)/cell))) }
	small, large := gocv.NewMat(), gocv.NewMatWithSize(box.Dy(), box.Dx(), gocv.MatTypeCV8UC3)
	defer small.Close()
	defer large.Close()
	gocv.Resize(from, &small, image.Pt(across(box.Dx()), across(box.Dy())), 0, 0, gocv.InterpolationArea)
	gocv.Resize(small, &large, box.Size(), 0, 0, gocv.InterpolationLinear)
	pix, err := large.DataPtrUint8()
	if err != nil {
		return // a picture just made is there
	}
	stride := box.Dx() * 3
	for j := range box.Dy() {
		y := float64(box.Min.Y+j) + 0.5 - d.At.Y
		if math.Abs(y) >= r {
			continue
		}
		half := math.Sqrt(r*r - y*y)
		x0 := clampInt(d.At.X-half, box.Min.X, box.Max.X)
		x1 := clampInt(d.At.X+half+1, box.Min.X, box.Max.X)
		if x1 > x0 {
			o := j*stride + (x0-box.Min.X)*3
			copy(c.pix[(box.Min.Y+j)*c.stride+x0*3:], pix[o:o+(x1-x0)*3])
		}
	}
}
