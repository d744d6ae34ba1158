package render

import "math"

// bent is a piece of a body in a pose.
type bent struct {
	of      *piece
	at      [][3]float32
	normals [][3]float32
	light   []float32
	screen  [][3]float32 // samples from the picture's corner, and one over the distance
}

func (b *Body) bendable() []*bent {
	var out []*bent
	for _, p := range b.pieces {
		n := len(p.rest)
		out = append(out, &bent{
			of: p, at: make([][3]float32, n), normals: make([][3]float32, n), light: make([]float32, n),
			screen: make([][3]float32, n),
		})
	}
	return out
}

// dual is a rigid movement as a dual quaternion, which blends without collapsing a bent knee.
// Source: Kavan et al, ACM Trans Graph 2008;27:105.
type dual struct{ turn, move [4]float32 }

func dualOf(r rigid) dual {
	q := r.turn.quaternion()
	t := r.at.sub(r.turn.of(r.pivot)).scale(0.5)
	move := [4]float64{
		-t.X*q[1] - t.Y*q[2] - t.Z*q[3],
		t.X*q[0] + t.Y*q[3] - t.Z*q[2],
		-t.X*q[3] + t.Y*q[0] + t.Z*q[1],
		t.X*q[2] - t.Y*q[1] + t.Z*q[0],
	}
	var d dual
	for i := range 4 {
		d.turn[i], d.move[i] = float32(q[i]), float32(move[i])
	}
	return d
}

// bend moves every vertex with the segments of a figure.
func bend(pieces []*bent, f *Figure) {
	var duals [segmentCount]dual
	for i := range duals {
		duals[i] = dualOf(f.segments[i])
	}
	for _, b := range pieces {
		for i, rest := range b.of.rest {
			in := b.of.influences[i]
			d := duals[in[0].segment]
			if len(in) > 1 {
				d = blend(&duals, in)
			}
			b.at[i], b.normals[i] = d.of(rest, b.of.normals[i])
		}
	}
}

func blend(duals *[segmentCount]dual, in []influence) dual {
	var sum dual
	first := &duals[in[0].segment].turn
	for _, w := range in {
		d, k := &duals[w.segment], float32(w.weight)
		if d.turn[0]*first[0]+d.turn[1]*first[1]+d.turn[2]*first[2]+d.turn[3]*first[3] < 0 {
			k = -k
		}
		for c := range 4 {
			sum.turn[c] += k * d.turn[c]
			sum.move[c] += k * d.move[c]
		}
	}
	q := &sum.turn
	k := 1 / float32(math.Sqrt(float64(q[0]*q[0]+q[1]*q[1]+q[2]*q[2]+q[3]*q[3])))
	for c := range 4 {
		sum.turn[c] *= k
		sum.move[c] *= k
	}
	return sum
}

// of moves a vertex and turns its normal.
func (d *dual) of(v, normal Vec) (at, turned [3]float32) {
	w, x, y, z := d.turn[0], d.turn[1], d.turn[2], d.turn[3]
	xx, yy, zz, xy, xz, yz, wx, wy, wz := x*x, y*y, z*z, x*y, x*z, y*z, w*x, w*y, w*z
	rows := [3][3]float32{
		{1 - 2*(yy+zz), 2 * (xy - wz), 2 * (xz + wy)},
		{2 * (xy + wz), 1 - 2*(xx+zz), 2 * (yz - wx)},
		{2 * (xz - wy), 2 * (yz + wx), 1 - 2*(xx+yy)},
	}
	m := &d.move
	by := [3]float32{
		2 * (w*m[1] - m[0]*x - m[2]*z + m[3]*y),
		2 * (w*m[2] - m[0]*y - m[3]*x + m[1]*z),
		2 * (w*m[3] - m[0]*z - m[1]*y + m[2]*x),
	}
	vx, vy, vz := float32(v.X), float32(v.Y), float32(v.Z)
	nx, ny, nz := float32(normal.X), float32(normal.Y), float32(normal.Z)
	for k := range 3 {
		r := &rows[k]
		at[k] = r[0]*vx + r[1]*vy + r[2]*vz + by[k]
		turned[k] = r[0]*nx + r[1]*ny + r[2]*nz
	}
	return at, turned
}
