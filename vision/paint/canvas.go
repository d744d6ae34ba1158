package paint

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"

	"gocv.io/x/gocv"

	"holdfast/vision/plane"
)

// Stroke says how a line is drawn. Dash holds the lengths of ink and gap in
// pixels by turns; empty for an unbroken line.
type Stroke struct {
	WidthPx float64
	Color   color.NRGBA
	Dash    []float64
}

// Canvas is a picture to draw on. It holds 8-bit BGR pixels, the layout that
// frames are decoded to and encoded from, so that drawing needs no conversion.
// Everything drawn is anti-aliased and cut off at the picture's edge; a place
// that is NaN draws nothing. A Canvas is not safe for use by two goroutines.
type Canvas struct {
	mat    gocv.Mat
	owned  bool
	pix    []byte
	stride int
	w, h   int
}

// NewCanvas returns a picture of the given size in one colour. The caller
// closes it. The error says that the size is not positive or that there is no
// memory for it.
func NewCanvas(widthPx, heightPx int, fill color.NRGBA) (*Canvas, error) {
	if widthPx <= 0 || heightPx <= 0 {
		return nil, fmt.Errorf("making a picture of %d × %d pixels: the size must be positive", widthPx, heightPx)
	}
	m := gocv.NewMatWithSize(heightPx, widthPx, gocv.MatTypeCV8UC3)
	c, err := Over(m)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("making a picture of %d × %d pixels: %w", widthPx, heightPx, err), m.Close())
	}
	c.owned = true
	c.Fill(fill)
	return c, nil
}

// Over returns a canvas over the pixels of an 8-bit BGR picture: what is drawn on it is
// drawn on them. It is valid as long as the picture and need not be closed itself. The
// error says that m is no such picture.
func Over(m gocv.Mat) (*Canvas, error) {
	if m.Empty() || m.Type() != gocv.MatTypeCV8UC3 {
		return nil, errors.New("no 8-bit colour picture")
	}
	pix, err := m.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	return &Canvas{mat: m, pix: pix, stride: m.Cols() * 3, w: m.Cols(), h: m.Rows()}, nil
}

// Close frees the picture. A second call does nothing.
func (c *Canvas) Close() error {
	if c == nil || !c.owned {
		return nil
	}
	c.owned = false
	c.pix = nil
	return c.mat.Close()
}

// WidthPx returns the picture's width in pixels.
func (c *Canvas) WidthPx() int { return c.w }

// HeightPx returns the picture's height in pixels.
func (c *Canvas) HeightPx() int { return c.h }

// At returns the colour of the pixel in column x and row y, and black outside
// the picture.
func (c *Canvas) At(x, y int) color.NRGBA {
	if x < 0 || y < 0 || x >= c.w || y >= c.h {
		return color.NRGBA{A: 255}
	}
	o := y*c.stride + x*3
	return color.NRGBA{R: c.pix[o+2], G: c.pix[o+1], B: c.pix[o], A: 255}
}

// Fill paints the whole picture, mixing by the colour's alpha.
func (c *Canvas) Fill(col color.NRGBA) { c.Rect(0, 0, c.w, c.h, col) }

// Rect paints a rectangle of whole pixels with its top-left corner at column x
// and row y, mixing by the colour's alpha.
func (c *Canvas) Rect(x, y, w, h int, col color.NRGBA) {
	r := image.Rect(x, y, x+w, y+h).Intersect(image.Rect(0, 0, c.w, c.h))
	if r.Empty() || col.A == 0 {
		return
	}
	first := c.pix[r.Min.Y*c.stride+r.Min.X*3 : r.Min.Y*c.stride+r.Max.X*3]
	if col.A == 255 {
		for o := 0; o < len(first); o += 3 {
			first[o], first[o+1], first[o+2] = col.B, col.G, col.R
		}
		for j := r.Min.Y + 1; j < r.Max.Y; j++ {
			copy(c.pix[j*c.stride+r.Min.X*3:], first)
		}
		return
	}
	a := uint32(col.A)
	b, g, rr, na := uint32(col.B)*a, uint32(col.G)*a, uint32(col.R)*a, 255-a
	for j := r.Min.Y; j < r.Max.Y; j++ {
		row := c.pix[j*c.stride+r.Min.X*3 : j*c.stride+r.Max.X*3]
		for o := 0; o+2 < len(row); o += 3 {
			row[o] = div255(uint32(row[o])*na + b)
			row[o+1] = div255(uint32(row[o+1])*na + g)
			row[o+2] = div255(uint32(row[o+2])*na + rr)
		}
	}
}

func div255(v uint32) uint8 { v += 128; return uint8((v + v>>8) >> 8) }

// mix paints the pixel at byte offset o with the given part (0 to 1) of the
// colour.
func (c *Canvas) mix(o int, col color.NRGBA, part float64) {
	a := uint32(part*float64(col.A) + 0.5)
	if a == 0 {
		return
	}
	if a >= 255 {
		c.pix[o], c.pix[o+1], c.pix[o+2] = col.B, col.G, col.R
		return
	}
	na := 255 - a
	c.pix[o] = div255(uint32(c.pix[o])*na + uint32(col.B)*a)
	c.pix[o+1] = div255(uint32(c.pix[o+1])*na + uint32(col.G)*a)
	c.pix[o+2] = div255(uint32(c.pix[o+2])*na + uint32(col.R)*a)
}

// shade paints every pixel of a box by a signed distance: pixels further than
// half a pixel inside (negative) are covered, further than half outside not.
func (c *Canvas) shade(x0, y0, x1, y1 float64, col color.NRGBA, distance func(x, y float64) float64) {
	if !finite(x0, y0, x1, y1) || col.A == 0 {
		return
	}
	ix0, iy0 := clampInt(x0-1, 0, c.w), clampInt(y0-1, 0, c.h)
	ix1, iy1 := clampInt(x1+2, 0, c.w), clampInt(y1+2, 0, c.h)
	for j := iy0; j < iy1; j++ {
		o := j*c.stride + ix0*3
		for i := ix0; i < ix1; i++ {
			if d := distance(float64(i)+0.5, float64(j)+0.5); d < 0.5 {
				c.mix(o, col, min(1, 0.5-d))
			}
			o += 3
		}
	}
}

// dist is math.Hypot without its care for numbers beyond 1e150, which shapes do
// not have; it is the innermost step of all drawing.
func dist(x, y float64) float64 { return math.Sqrt(x*x + y*y) }

func finite(vs ...float64) bool {
	for _, v := range vs {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// clampInt rounds down into lo to hi; what is not a number becomes lo.
func clampInt(v float64, lo, hi int) int {
	if math.IsNaN(v) {
		return lo
	}
	return int(math.Max(float64(lo), math.Min(float64(hi), math.Floor(v))))
}

// Line draws a straight line with round ends from a to b.
func (c *Canvas) Line(a, b plane.XY, s Stroke) { c.Polyline([]plane.XY{a, b}, s) }

// Polyline draws a line with round ends and corners through the places, with a
// gap where one is NaN. The dashes run on around the corners. Where the parts
// of a half-transparent line overlap at a corner, they add up.
func (c *Canvas) Polyline(pts []plane.XY, s Stroke) {
	period := 0.0
	for _, d := range s.Dash {
		if !(d > 0) {
			period = 0
			break
		}
		period += d
	}
	if period < 1 {
		period = 0 // finer than a pixel: nothing to see, and no end of it
	}
	along := 0.0
	for k := 1; k < len(pts); k++ {
		a, b := pts[k-1], pts[k]
		if !finite(a.X, a.Y, b.X, b.Y) {
			along = 0
			continue
		}
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		// A line far longer than the picture is a broken point, not a limb; its
		// dashes would take forever.
		if period == 0 || length > 64*float64(c.w+c.h) {
			c.capsule(a, b, s.WidthPx/2, s.Color)
			continue
		}
		at := func(d float64) plane.XY {
			if length == 0 {
				return a
			}
			return plane.XY{X: a.X + (b.X-a.X)*d/length, Y: a.Y + (b.Y-a.Y)*d/length}
		}
		for d := 0.0; d < length; {
			inPeriod := math.Mod(along+d, period)
			i, end := 0, s.Dash[0]
			for inPeriod >= end && i+1 < len(s.Dash) {
				i++
				end += s.Dash[i]
			}
			to := math.Min(length, d+math.Max(end-inPeriod, 0.01))
			if i%2 == 0 {
				c.capsule(at(d), at(to), s.WidthPx/2, s.Color)
			}
			d = to
		}
		along += length
	}
}

// capsule paints all pixels nearer than r to the line from a to b.
func (c *Canvas) capsule(a, b plane.XY, r float64, col color.NRGBA) {
	if !finite(a.X, a.Y, b.X, b.Y, r) || col.A == 0 || r <= 0 {
		return
	}
	dx, dy := b.X-a.X, b.Y-a.Y
	len2 := dx*dx + dy*dy
	if math.IsInf(len2, 0) {
		return // a point beyond all measure is a broken one
	}
	reach := r + 1
	loX, hiX := math.Min(a.X, b.X)-reach, math.Max(a.X, b.X)+reach
	iy0 := clampInt(math.Min(a.Y, b.Y)-reach, 0, c.h)
	iy1 := clampInt(math.Max(a.Y, b.Y)+reach+1, 0, c.h)
	in, out := math.Max(0, r-0.5), r+0.5
	in2, out2 := in*in, out*out
	weak := math.Min(1, 2*r) // a line thinner than a pixel is paler, not broken
	for j := iy0; j < iy1; j++ {
		y := float64(j) + 0.5
		x0, x1 := loX, hiX
		if math.Abs(dy) > 1e-6 {
			// Only the columns near the line in this row can be reached.
			mid := a.X + (y-a.Y)*dx/dy
			half := reach*math.Sqrt(len2)/math.Abs(dy) + 1
			x0, x1 = max(x0, mid-half), min(x1, mid+half)
		}
		ix0, ix1 := clampInt(x0, 0, c.w), clampInt(x1+1, 0, c.w)
		o := j*c.stride + ix0*3
		for i := ix0; i < ix1; i++ {
			px, py := float64(i)+0.5-a.X, y-a.Y
			t := 0.0
			if len2 > 0 {
				t = max(0, min(1, (px*dx+py*dy)/len2))
			}
			ex, ey := px-t*dx, py-t*dy
			if d2 := ex*ex + ey*ey; d2 < out2 {
				part := 1.0
				if d2 > in2 {
					part = min(1, out-math.Sqrt(d2))
				}
				c.mix(o, col, part*weak)
			}
			o += 3
		}
	}
}

// Disc paints a filled circle.
func (c *Canvas) Disc(at plane.XY, radiusPx float64, col color.NRGBA) {
	c.shade(at.X-radiusPx, at.Y-radiusPx, at.X+radiusPx, at.Y+radiusPx, col, func(x, y float64) float64 {
		return dist(x-at.X, y-at.Y) - radiusPx
	})
}

// Convex paints a filled polygon without dents; the corners may run either way
// around.
func (c *Canvas) Convex(pts []plane.XY, col color.NRGBA) {
	if len(pts) < 3 {
		return
	}
	area := 0.0
	box := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for i, p := range pts {
		if p.Missing() {
			return
		}
		q := pts[(i+1)%len(pts)]
		area += p.X*q.Y - q.X*p.Y
		box = [4]float64{min(box[0], p.X), min(box[1], p.Y), max(box[2], p.X), max(box[3], p.Y)}
	}
	turn := 1.0
	if area < 0 {
		turn = -1
	}
	c.shade(box[0], box[1], box[2], box[3], col, func(x, y float64) float64 {
		d := math.Inf(-1)
		for i, p := range pts {
			q := pts[(i+1)%len(pts)]
			ex, ey := q.X-p.X, q.Y-p.Y
			l := dist(ex, ey)
			if l == 0 {
				continue
			}
			d = max(d, turn*((x-p.X)*ey-(y-p.Y)*ex)/l)
		}
		return d
	})
}

// RoundRect paints a filled rectangle with round corners between two opposite
// corners.
func (c *Canvas) RoundRect(from, to plane.XY, radiusPx float64, col color.NRGBA) {
	cx, cy := (from.X+to.X)/2, (from.Y+to.Y)/2
	hw, hh := math.Abs(to.X-from.X)/2, math.Abs(to.Y-from.Y)/2
	r := min(radiusPx, min(hw, hh))
	c.shade(cx-hw, cy-hh, cx+hw, cy+hh, col, func(x, y float64) float64 {
		qx, qy := math.Abs(x-cx)-hw+r, math.Abs(y-cy)-hh+r
		if qx <= 0 || qy <= 0 {
			return max(qx, qy) - r
		}
		return dist(qx, qy) - r
	})
}

// Wedge paints the piece of a disc that an angle covers: it begins in the
// direction fromDeg and sweeps on by sweepDeg. Directions are in degrees from
// the picture's right, clockwise on the screen (y runs down); a negative sweep
// goes the other way.
func (c *Canvas) Wedge(at plane.XY, radiusPx, fromDeg, sweepDeg float64, col color.NRGBA) {
	inside := sector(at, fromDeg, sweepDeg)
	far2 := (radiusPx + 1) * (radiusPx + 1)
	c.shade(at.X-radiusPx, at.Y-radiusPx, at.X+radiusPx, at.Y+radiusPx, col, func(x, y float64) float64 {
		dx, dy := x-at.X, y-at.Y
		d2 := dx*dx + dy*dy
		if d2 > far2 {
			return 1
		}
		return max(math.Sqrt(d2)-radiusPx, inside(x, y))
	})
}

// Arc draws the rim of a Wedge.
func (c *Canvas) Arc(at plane.XY, radiusPx, fromDeg, sweepDeg float64, s Stroke) {
	inside := sector(at, fromDeg, sweepDeg)
	r := radiusPx + s.WidthPx/2
	near, far := math.Max(0, radiusPx-s.WidthPx/2-1), r+1
	near2, far2 := near*near, far*far
	c.shade(at.X-r, at.Y-r, at.X+r, at.Y+r, s.Color, func(x, y float64) float64 {
		// Most of the box lies off the rim: no root, no edges there.
		dx, dy := x-at.X, y-at.Y
		d2 := dx*dx + dy*dy
		if d2 < near2 || d2 > far2 {
			return 1
		}
		return max(math.Abs(math.Sqrt(d2)-radiusPx)-s.WidthPx/2, inside(x, y))
	})
}

// sector returns the signed distance to the edges of an angle's opening,
// negative inside.
func sector(at plane.XY, fromDeg, sweepDeg float64) func(x, y float64) float64 {
	if sweepDeg < 0 {
		fromDeg, sweepDeg = fromDeg+sweepDeg, -sweepDeg
	}
	if sweepDeg >= 360 {
		return func(x, y float64) float64 { return math.Inf(-1) }
	}
	s0, c0 := math.Sincos(fromDeg * math.Pi / 180)
	s1, c1 := math.Sincos((fromDeg + sweepDeg) * math.Pi / 180)
	return func(x, y float64) float64 {
		dx, dy := x-at.X, y-at.Y
		before := dx*s0 - dy*c0 // positive on the far side of the first edge
		after := dy*c1 - dx*s1  // positive beyond the last edge
		if sweepDeg <= 180 {
			return max(before, after)
		}
		return min(before, after)
	}
}

// Draw copies src with its top-left corner to column x and row y.
func (c *Canvas) Draw(src *Canvas, x, y int) {
	c.DrawPart(src, image.Rect(0, 0, src.w, src.h), x, y)
}

// DrawPart copies the part r of src with its top-left corner to column x and
// row y.
func (c *Canvas) DrawPart(src *Canvas, r image.Rectangle, x, y int) {
	r2 := r.Intersect(image.Rect(0, 0, src.w, src.h))
	x, y = x+r2.Min.X-r.Min.X, y+r2.Min.Y-r.Min.Y
	to := image.Rect(x, y, x+r2.Dx(), y+r2.Dy()).Intersect(image.Rect(0, 0, c.w, c.h))
	if to.Empty() {
		return
	}
	sx, sy := r2.Min.X+to.Min.X-x, r2.Min.Y+to.Min.Y-y
	for j := 0; j < to.Dy(); j++ {
		so := (sy+j)*src.stride + sx*3
		copy(c.pix[(to.Min.Y+j)*c.stride+to.Min.X*3:], src.pix[so:so+to.Dx()*3])
	}
}

// region returns the part of the picture that lies in r; the caller closes it.
func (c *Canvas) region(r image.Rectangle) (gocv.Mat, error) {
	if r.Empty() || !r.In(image.Rect(0, 0, c.w, c.h)) {
		return gocv.Mat{}, fmt.Errorf("the part %v lies outside the picture of %d × %d pixels", r, c.w, c.h)
	}
	return c.mat.Region(r), nil
}

// DrawScaled draws the whole of src into the part r of the picture, stretched
// to fit. The error says that r lies outside the picture.
func (c *Canvas) DrawScaled(src *Canvas, r image.Rectangle) error {
	if r.Dx() == src.w && r.Dy() == src.h {
		c.Draw(src, r.Min.X, r.Min.Y)
		return nil
	}
	to, err := c.region(r)
	if err != nil {
		return fmt.Errorf("scaling a picture: %w", err)
	}
	defer to.Close()
	how := gocv.InterpolationLinear
	if r.Dx() < src.w/2 {
		how = gocv.InterpolationArea // linear would leave out pixels
	}
	gocv.Resize(src.mat, &to, r.Size(), 0, 0, how)
	return nil
}

// DrawWarped draws src into the part r of the picture, each of its places moved
// by m; m maps to places of the whole picture, not of r. What src does not
// cover takes the colour behind. The error says that r lies outside the picture.
func (c *Canvas) DrawWarped(src *Canvas, m plane.Affine, r image.Rectangle, behind color.NRGBA) error {
	to, err := c.region(r)
	if err != nil {
		return fmt.Errorf("moving a picture: %w", err)
	}
	defer to.Close()
	k := gocv.NewMatWithSize(2, 3, gocv.MatTypeCV64F)
	defer k.Close()
	// OpenCV counts from pixel centres, this package from the corner.
	vals := [6]float64{m.A, m.B, m.A*0.5 + m.B*0.5 + m.C - 0.5 - float64(r.Min.X), m.D, m.E, m.D*0.5 + m.E*0.5 + m.F -
		0.5 - float64(r.Min.Y)}
	for i, v := range vals {
		if !finite(v) {
			return errors.New("moving a picture: the mapping is not a number")
		}
		k.SetDoubleAt(i/3, i%3, v)
	}
	gocv.WarpAffineWithParams(src.mat, &to, k, r.Size(), gocv.InterpolationLinear, gocv.BorderConstant,
		color.RGBA{R: behind.R, G: behind.G, B: behind.B, A: 255})
	return nil
}

// Blend mixes src, of the same size, over the picture: part 0 leaves it, 1
// replaces it. The error says that the sizes differ.
func (c *Canvas) Blend(src *Canvas, part float64) error {
	if src.w != c.w || src.h != c.h {
		return fmt.Errorf("mixing two pictures: %d × %d and %d × %d pixels", c.w, c.h, src.w, src.h)
	}
	gocv.AddWeighted(c.mat, 1-part, src.mat, part, 0, &c.mat)
	return nil
}

// PNG returns the picture as a PNG file.
func (c *Canvas) PNG() ([]byte, error) { return c.Still().PNG() }

// JPEG returns the picture as a JPEG file of the given quality, 1 to 100.
func (c *Canvas) JPEG(quality int) ([]byte, error) { return c.Still().JPEG(quality) }

// Still is a picture as it was on a canvas, which may be drawn on while the still is encoded.
type Still struct{ picture *image.RGBA }

// Still returns the picture as it is. Its pixels are in the order that Go's encoders take. OpenCV's own bring 120
// shared libraries along, for formats that nobody needs here, and every start of the program would wait for them.
func (c *Canvas) Still() Still {
	out := image.NewRGBA(image.Rect(0, 0, c.w, c.h))
	for y := range c.h {
		from, to := c.pix[y*c.stride:][:3*c.w], out.Pix[y*out.Stride:][:4*c.w]
		for x := range c.w {
			b, p := from[3*x:3*x+3], to[4*x:4*x+4]
			p[0], p[1], p[2], p[3] = b[2], b[1], b[0], 255
		}
	}
	return Still{out}
}

// PNG returns the picture as a PNG file.
func (s Still) PNG() ([]byte, error) {
	var out bytes.Buffer
	// Twice as quick as the default, and a twentieth larger.
	coder := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := coder.Encode(&out, s.picture); err != nil {
		return nil, fmt.Errorf("encoding a picture as PNG: %w", err)
	}
	return out.Bytes(), nil
}

// JPEG returns the picture as a JPEG file of the given quality, 1 to 100.
func (s Still) JPEG(quality int) ([]byte, error) {
	var out bytes.Buffer
	if err := jpeg.Encode(&out, s.picture, &jpeg.Options{Quality: quality}); err != nil {
		return nil, fmt.Errorf("encoding a picture as JPEG: %w", err)
	}
	return out.Bytes(), nil
}
