package body

import (
	"math"

	"holdfast/scripts/internal/render/space"
)

const (
	discCorners = 40
	// solidStepM is how closely the sides of a box have corners: light is set at corners.
	solidStepM = 0.08
)

// Solid returns a thing that does not bend, a box or a disc about its thinnest direction of X and Z, of one grey.
func Solid(sizeM space.Vec, disc bool, grey float64) *Bent {
	g := float32(grey)
	p := &piece{Name: "thing", Texture: &texture{Width: 1, Height: 1, Pixels: [][4]float32{{g, g, g, 1}}},
		Uvs: [][2]float32{{0, 0}}}
	if disc {
		p.disc(sizeM)
	} else {
		p.box(sizeM)
	}
	n := len(p.rest)
	b := &Bent{Of: p, At: make([][3]float32, n), Normals: make([][3]float32, n), Light: make([]float32, n),
		Screen: make([][3]float32, n)}
	for i, v := range p.normals {
		b.Normals[i] = [3]float32{float32(v.X), float32(v.Y), float32(v.Z)}
	}
	return b
}

// Put moves a solid's middle to a place.
func (b *Bent) Put(at space.Vec) {
	for i, v := range b.Of.rest {
		v = v.Add(at)
		b.At[i] = [3]float32{float32(v.X), float32(v.Y), float32(v.Z)}
	}
}

// add adds a corner and returns its number.
func (p *piece) add(at, normal space.Vec) int {
	p.rest, p.normals = append(p.rest, at), append(p.normals, normal)
	return len(p.rest) - 1
}

// face adds a triangle that is seen from where its normal points.
func (p *piece) face(a, b, c int) {
	normal := p.rest[b].Sub(p.rest[a]).Cross(p.rest[c].Sub(p.rest[a]))
	if normal.Dot(p.normals[a].Add(p.normals[b]).Add(p.normals[c])) < 0 {
		b, c = c, b
	}
	t := triangle{}
	t.Vertex = [3]int32{int32(a), int32(b), int32(c)}
	p.Triangles = append(p.Triangles, t)
}

// side adds a flat side that spans u and v about a middle.
func (p *piece) side(middle, u, v space.Vec) {
	normal := middle.Unit()
	steps := func(along space.Vec) int { return 1 + int(2*along.Length()/solidStepM) }
	nu, nv := steps(u), steps(v)
	for i := range nu + 1 {
		for j := range nv + 1 {
			a, b := 2*float64(i)/float64(nu)-1, 2*float64(j)/float64(nv)-1
			n := p.add(middle.Add(u.Scale(a)).Add(v.Scale(b)), normal)
			if i > 0 && j > 0 {
				p.face(n, n-1, n-nv-2)
				p.face(n, n-nv-2, n-nv-1)
			}
		}
	}
}

func (p *piece) box(sizeM space.Vec) {
	x, y, z := space.Vec{X: sizeM.X / 2}, space.Vec{Y: sizeM.Y / 2}, space.Vec{Z: sizeM.Z / 2}
	for _, sign := range []float64{1, -1} {
		p.side(x.Scale(sign), y, z)
		p.side(y.Scale(sign), x, z)
		p.side(z.Scale(sign), x, y)
	}
}

func (p *piece) disc(sizeM space.Vec) {
	axis, u, v := space.Vec{Z: sizeM.Z / 2}, space.Vec{X: sizeM.X / 2}, space.Vec{Y: sizeM.Y / 2}
	if sizeM.X < sizeM.Z {
		axis, u = space.Vec{X: sizeM.X / 2}, space.Vec{Z: sizeM.Z / 2}
	}
	rim := func(k int) space.Vec {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / discCorners)
		return u.Scale(cos).Add(v.Scale(sin))
	}
	for _, sign := range []float64{1, -1} {
		flat := axis.Scale(sign)
		middle := p.add(flat, flat.Unit())
		for k := range discCorners {
			a, b := p.add(flat.Add(rim(k)), flat.Unit()), p.add(flat.Add(rim(k+1)), flat.Unit())
			p.face(middle, a, b)
		}
	}
	for k := range discCorners {
		var n [4]int
		for i, at := range []int{k, k + 1} {
			n[2*i] = p.add(axis.Add(rim(at)), rim(at).Unit())
			n[2*i+1] = p.add(rim(at).Sub(axis), rim(at).Unit())
		}
		p.face(n[0], n[1], n[2])
		p.face(n[1], n[2], n[3])
	}
}
