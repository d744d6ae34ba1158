package render

import (
	"math"

	"holdfast/scripts/internal/render/body"
	"holdfast/scripts/internal/render/space"
)

// fine is how many samples a pixel has in each direction.
const fine = 2

// box is a part of the picture, pixels; the upper bounds are outside.
type box struct{ x0, y0, x1, y1 int }

func (b box) width() int  { return b.x1 - b.x0 }
func (b box) height() int { return b.y1 - b.y0 }
func (b box) empty() bool { return b.x1 <= b.x0 || b.y1 <= b.y0 }

func (b box) with(o box) box {
	if b.empty() {
		return o
	}
	if o.empty() {
		return b
	}
	return box{min(b.x0, o.x0), min(b.y0, o.y0), max(b.x1, o.x1), max(b.y1, o.y1)}
}

// layer is the athlete alone: colour in linear light times how much of the pixel is covered, and that.
type layer struct {
	in     box
	pixels [][4]float32
}

// rasteriser draws bent bodies; its memory is used again for every frame.
type rasteriser struct {
	view          view
	width, height int
	samples       [][3]float32
	depth         []float32
}

// draw adds a bent and lit body to a layer that covers the whole picture, with a weight, and returns where it is.
func (r *rasteriser) draw(pieces []*body.Bent, out *layer, weight float32) box {
	at := r.project(pieces)
	if at.empty() {
		return at
	}
	w, h := fine*at.width(), fine*at.height()
	if cap(r.depth) < w*h {
		r.depth, r.samples = make([]float32, w*h), make([][3]float32, w*h)
	}
	r.depth, r.samples = r.depth[:w*h], r.samples[:w*h]
	clear(r.depth)
	for _, b := range pieces { // hair last: it is see-through
		if !b.Of.Hair {
			r.fill(b, at, w, h)
		}
	}
	for _, b := range pieces {
		if b.Of.Hair {
			r.fill(b, at, w, h)
		}
	}
	part := weight / (fine * fine)
	for y := range at.height() {
		row := out.pixels[(at.y0+y)*r.width+at.x0:]
		for x := range at.width() {
			px := &row[x]
			for k := range fine * fine {
				n := (fine*y+k/fine)*w + fine*x + k%fine
				if r.depth[n] > 0 {
					c := &r.samples[n]
					px[0] += part * c[0]
					px[1] += part * c[1]
					px[2] += part * c[2]
					px[3] += part
				}
			}
		}
	}
	return at
}

// project finds every vertex on the screen and the box that holds them.
func (r *rasteriser) project(pieces []*body.Bent) box {
	v := &r.view
	lowX, lowY, highX, highY := float32(math.Inf(1)), float32(math.Inf(1)), float32(math.Inf(-1)), float32(math.Inf(-1))
	axis := func(a space.Vec) [4]float32 {
		return [4]float32{float32(a.X), float32(a.Y), float32(a.Z), float32(-a.Dot(v.at))}
	}
	ahead, right, up := axis(v.ahead), axis(v.right), axis(v.up)
	dot := func(a *[4]float32, p *[3]float32) float32 { return a[0]*p[0] + a[1]*p[1] + a[2]*p[2] + a[3] }
	focal, midX, midY := float32(v.focal), float32(v.midX), float32(v.midY)
	for _, b := range pieces {
		for i := range b.At {
			p := &b.At[i]
			near := 1 / max(dot(&ahead, p), 0.1)
			x, y := midX+focal*dot(&right, p)*near, midY-focal*dot(&up, p)*near
			b.Screen[i] = [3]float32{fine * x, fine * y, near}
			lowX, lowY, highX, highY = min(lowX, x), min(lowY, y), max(highX, x), max(highY, y)
		}
	}
	whole := func(v float32, most int) int { return min(max(int(math.Floor(float64(v))), 0), most) }
	return box{whole(lowX, r.width), whole(lowY, r.height), whole(highX+1, r.width), whole(highY+1, r.height)}
}

// fill draws the triangles of a piece into the samples of a box.
func (r *rasteriser) fill(b *body.Bent, at box, w, h int) {
	t := b.Of.Texture
	tw, th := float32(t.Width), float32(t.Height)
	left, top := fine*at.x0, fine*at.y0
	for n := range b.Of.Triangles {
		tri := &b.Of.Triangles[n]
		p, q, s := &b.Screen[tri.Vertex[0]], &b.Screen[tri.Vertex[1]], &b.Screen[tri.Vertex[2]]
		px, py, qx, qy, sx, sy := p[0], p[1], q[0], q[1], s[0], s[1]
		area := (qx-px)*(sy-py) - (sx-px)*(qy-py)
		if area >= 0 && !b.Of.Hair || area == 0 { // seen from behind: Y points down in the picture
			continue
		}
		x0, x1 := max(left, ceil(min(px, qx, sx)-0.5)), min(left+w, ceil(max(px, qx, sx)-0.5))
		y0, y1 := max(top, ceil(min(py, qy, sy)-0.5)), min(top+h, ceil(max(py, qy, sy)-0.5))
		if x0 >= x1 || y0 >= y1 {
			continue
		}
		// The share of each corner at a sample is linear in x and y.
		over := 1 / area
		qdx, qdy := (sy-py)*over, -(sx-px)*over
		sdx, sdy := -(qy-py)*over, (qx-px)*over
		ut, uq, us := b.Of.Uvs[tri.Uv[0]], b.Of.Uvs[tri.Uv[1]], b.Of.Uvs[tri.Uv[2]]
		lp, lq, ls := b.Light[tri.Vertex[0]], b.Light[tri.Vertex[1]], b.Light[tri.Vertex[2]]
		for y := y0; y < y1; y++ {
			fy := float32(y) + 0.5 - py
			fx := float32(x0) + 0.5 - px
			cq, cs := qdx*fx+qdy*fy, sdx*fx+sdy*fy
			row, entered := (y-top)*w-left, false
			for x := x0; x < x1; x, cq, cs = x+1, cq+qdx, cs+sdx {
				cp := 1 - cq - cs
				if cp < 0 || cq < 0 || cs < 0 {
					if entered {
						break // a triangle is left once
					}
					continue
				}
				entered = true
				near := cp*p[2] + cq*q[2] + cs*s[2]
				k := row + x
				if near <= r.depth[k] {
					continue
				}
				u := (cp*ut[0] + cq*uq[0] + cs*us[0]) * tw
				v := (cp*ut[1] + cq*uq[1] + cs*us[1]) * th
				c := &t.Pixels[inside(int(v), t.Height)*t.Width+inside(int(u), t.Width)]
				if b.Of.Hair && c[3] < 0.2+0.2*float32((y&1)*2+(x&1)) {
					continue
				}
				r.depth[k] = near
				light := cp*lp + cq*lq + cs*ls
				r.samples[k] = [3]float32{c[0] * light, c[1] * light, c[2] * light}
			}
		}
	}
}

func ceil(v float32) int {
	i := int(v)
	if float32(i) < v {
		i++
	}
	return i
}

// inside repeats a texture beyond its edges.
func inside(i, n int) int {
	if uint(i) < uint(n) {
		return i
	}
	if i %= n; i < 0 {
		i += n
	}
	return i
}
