package render

import "math"

const (
	degree     = math.Pi / 180
	gravityMS2 = 9.81
)

// Vec is a place or a direction, metres.
type Vec struct{ X, Y, Z float64 }

func (a Vec) add(b Vec) Vec               { return Vec{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }
func (a Vec) sub(b Vec) Vec               { return Vec{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }
func (a Vec) scale(s float64) Vec         { return Vec{a.X * s, a.Y * s, a.Z * s} }
func (a Vec) dot(b Vec) float64           { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
func (a Vec) length() float64             { return math.Sqrt(a.dot(a)) }
func (a Vec) toward(b Vec, s float64) Vec { return a.add(b.sub(a).scale(s)) }

func (a Vec) cross(b Vec) Vec {
	return Vec{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X}
}

// unit returns the direction of a, or a itself when it has none.
func (a Vec) unit() Vec {
	if l := a.length(); l > 0 {
		return a.scale(1 / l)
	}
	return a
}

// turn is a rotation, rows of its matrix.
type turn [3]Vec

var noTurn = turn{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

func aboutX(deg float64) turn {
	s, c := math.Sincos(deg * degree)
	return turn{{1, 0, 0}, {0, c, -s}, {0, s, c}}
}

func aboutY(deg float64) turn {
	s, c := math.Sincos(deg * degree)
	return turn{{c, 0, s}, {0, 1, 0}, {-s, 0, c}}
}

func aboutZ(deg float64) turn {
	s, c := math.Sincos(deg * degree)
	return turn{{c, -s, 0}, {s, c, 0}, {0, 0, 1}}
}

func (t turn) of(v Vec) Vec { return Vec{t[0].dot(v), t[1].dot(v), t[2].dot(v)} }

func (t turn) inverse() turn {
	return turn{{t[0].X, t[1].X, t[2].X}, {t[0].Y, t[1].Y, t[2].Y}, {t[0].Z, t[1].Z, t[2].Z}}
}

// after returns the turn by u, then by t.
func (t turn) after(u turn) turn {
	c := u.inverse()
	return turn{c.of(t[0]), c.of(t[1]), c.of(t[2])}
}

// fromTo returns the shortest turn that takes direction a to direction b.
func fromTo(a, b Vec) turn {
	a, b = a.unit(), b.unit()
	c, axis := a.dot(b), a.cross(b)
	if c < -1+1e-9 {
		return aboutX(180) // opposite: any half turn across will do, and no limb gets here
	}
	k := 1 / (1 + c)
	x, y, z := axis.X, axis.Y, axis.Z
	return turn{
		{c + k*x*x, k*x*y - z, k*x*z + y},
		{k*x*y + z, c + k*y*y, k*y*z - x},
		{k*x*z - y, k*y*z + x, c + k*z*z},
	}
}

// quaternion returns t as w, x, y, z.
func (t turn) quaternion() [4]float64 {
	xx, yy, zz := t[0].X, t[1].Y, t[2].Z
	var q [4]float64
	switch trace := xx + yy + zz; {
	case trace > 0:
		q = [4]float64{1 + trace, t[2].Y - t[1].Z, t[0].Z - t[2].X, t[1].X - t[0].Y}
	case xx >= yy && xx >= zz:
		q = [4]float64{t[2].Y - t[1].Z, 1 + xx - yy - zz, t[0].Y + t[1].X, t[0].Z + t[2].X}
	case yy >= zz:
		q = [4]float64{t[0].Z - t[2].X, t[0].Y + t[1].X, 1 + yy - xx - zz, t[1].Z + t[2].Y}
	default:
		q = [4]float64{t[1].X - t[0].Y, t[0].Z + t[2].X, t[1].Z + t[2].Y, 1 + zz - xx - yy}
	}
	n := 1 / math.Sqrt(q[0]*q[0]+q[1]*q[1]+q[2]*q[2]+q[3]*q[3])
	for i := range q {
		q[i] *= n
	}
	return q
}

// rigid is where a segment of the body went: turned about Pivot, which came to At.
type rigid struct {
	turn      turn
	pivot, at Vec
}

func (r rigid) of(v Vec) Vec { return r.turn.of(v.sub(r.pivot)).add(r.at) }

func mix(a, b, s float64) float64 { return a + (b-a)*s }

func clamp(v, low, high float64) float64 { return math.Max(low, math.Min(high, v)) }
