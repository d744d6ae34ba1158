package body

import (
	"math"

	"holdfast/scripts/internal/render/motion"
	"holdfast/scripts/internal/render/space"
)

// Bent is a piece of a body in a pose.
type Bent struct {
	Of      *piece
	At      [][3]float32
	Normals [][3]float32
	Light   []float32
	Screen  [][3]float32 // samples from the picture's corner, and one over the distance
}

func (b *Body) Bendable() []*Bent {
	var out []*Bent
	for _, p := range b.pieces {
		n := len(p.rest)
		out = append(out, &Bent{
			Of: p, At: make([][3]float32, n), Normals: make([][3]float32, n), Light: make([]float32, n),
			Screen: make([][3]float32, n),
		})
	}
	return out
}

// dual is a rigid movement as a dual quaternion, which blends without collapsing a bent knee.
// Source: Kavan et al, ACM Trans Graph 2008;27:105.
type dual struct{ turn, move [4]float32 }

func DualOf(r space.Rigid) dual {
	q := r.Turn.Quaternion()
	t := r.At.Sub(r.Turn.Of(r.Pivot)).Scale(0.5)
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

// Bend moves every vertex with the segments of a figure.
func Bend(pieces []*Bent, f *motion.Figure) {
	var duals [motion.SegmentCount]dual
	for i := range duals {
		duals[i] = DualOf(f.Segments[i])
	}
	for _, b := range pieces {
		for i, rest := range b.Of.rest {
			in := b.Of.influences[i]
			d := duals[in[0].segment]
			if len(in) > 1 {
				d = blend(&duals, in)
			}
			b.At[i], b.Normals[i] = d.Of(rest, b.Of.normals[i])
		}
	}
}

func blend(duals *[motion.SegmentCount]dual, in []influence) dual {
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

// Of moves a vertex and turns its normal.
func (d *dual) Of(v, normal space.Vec) (at, turned [3]float32) {
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
