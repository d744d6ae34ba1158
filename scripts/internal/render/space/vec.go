package space

import "math"

const (
	Degree     = math.Pi / 180
	GravityMS2 = 9.81
)

// Vec is a place or a direction, metres.
type Vec struct{ X, Y, Z float64 }

func (a Vec) Add(b Vec) Vec               { return Vec{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }
func (a Vec) Sub(b Vec) Vec               { return Vec{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }
func (a Vec) Scale(s float64) Vec         { return Vec{a.X * s, a.Y * s, a.Z * s} }
func (a Vec) Dot(b Vec) float64           { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
func (a Vec) Length() float64             { return math.Sqrt(a.Dot(a)) }
func (a Vec) Toward(b Vec, s float64) Vec { return a.Add(b.Sub(a).Scale(s)) }

func (a Vec) Cross(b Vec) Vec {
	return Vec{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X}
}

// Unit returns the direction of a, or a itself when it has none.
func (a Vec) Unit() Vec {
	if l := a.Length(); l > 0 {
		return a.Scale(1 / l)
	}
	return a
}

// Turn is a rotation, rows of its matrix.
type Turn [3]Vec

var noTurn = Turn{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

func AboutX(deg float64) Turn {
	s, c := math.Sincos(deg * Degree)
	return Turn{{1, 0, 0}, {0, c, -s}, {0, s, c}}
}

func AboutY(deg float64) Turn {
	s, c := math.Sincos(deg * Degree)
	return Turn{{c, 0, s}, {0, 1, 0}, {-s, 0, c}}
}

func AboutZ(deg float64) Turn {
	s, c := math.Sincos(deg * Degree)
	return Turn{{c, -s, 0}, {s, c, 0}, {0, 0, 1}}
}

func (t Turn) Of(v Vec) Vec { return Vec{t[0].Dot(v), t[1].Dot(v), t[2].Dot(v)} }

func (t Turn) Inverse() Turn {
	return Turn{{t[0].X, t[1].X, t[2].X}, {t[0].Y, t[1].Y, t[2].Y}, {t[0].Z, t[1].Z, t[2].Z}}
}

// After returns the turn by u, then by t.
func (t Turn) After(u Turn) Turn {
	c := u.Inverse()
	return Turn{c.Of(t[0]), c.Of(t[1]), c.Of(t[2])}
}

// FromTo returns the shortest turn that takes direction a to direction b.
func FromTo(a, b Vec) Turn {
	a, b = a.Unit(), b.Unit()
	c, axis := a.Dot(b), a.Cross(b)
	if c < -1+1e-9 {
		return AboutX(180) // opposite: any half turn across will do, and no limb gets here
	}
	k := 1 / (1 + c)
	x, y, z := axis.X, axis.Y, axis.Z
	return Turn{
		{c + k*x*x, k*x*y - z, k*x*z + y},
		{k*x*y + z, c + k*y*y, k*y*z - x},
		{k*x*z - y, k*y*z + x, c + k*z*z},
	}
}

// Quaternion returns t as w, x, y, z.
func (t Turn) Quaternion() [4]float64 {
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

// Rigid is where a segment of the body went: turned about Pivot, which came to At.
type Rigid struct {
	Turn      Turn
	Pivot, At Vec
}

func (r Rigid) Of(v Vec) Vec { return r.Turn.Of(v.Sub(r.Pivot)).Add(r.At) }

func Mix(a, b, s float64) float64 { return a + (b-a)*s }

func Clamp(v, low, high float64) float64 { return math.Max(low, math.Min(high, v)) }
