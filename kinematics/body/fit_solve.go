package body

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// errSingular: the measurements and the prior together do not fix the unknowns.
var errSingular = errors.New("the equations have no single solution")

// bordered is a set of normal equations with a banded block for unknowns that
// run in time (each coupled only to its neighbours within width) and a dense
// border for the few that hold for the whole clip:
//
//	| A   B | |dx|   |f|        A band, n by n
//	| B'  C | |dq| = |g|        C dense, p by p
//
// It is solved by A = U'U, V = U'^-1 B and the Schur complement S = C - V'V, at a
// cost of n (width^2 + p width + p^2): linear in the length of the clip.
type bordered struct {
	n, width, p int
	band        []float64 // row i holds A[i][i..i+width]
	border      []float64 // row i holds B[i][0..p-1]
	corner      []float64
	f, g        []float64
	// After solve: band holds U, border V, schur the factor of S.
	schur mat.Cholesky
}

func newBordered(n, width, p int) *bordered {
	return &bordered{
		n: n, width: width, p: p,
		band: make([]float64, n*(width+1)), border: make([]float64, n*p),
		corner: make([]float64, p*p), f: make([]float64, n), g: make([]float64, p),
	}
}

func (e *bordered) clear() {
	clear(e.band)
	clear(e.border)
	clear(e.corner)
	clear(e.f)
	clear(e.g)
}

// term is one entry of a row of the Jacobian. An unknown numbered n or more is
// one of the clip's.
type term struct {
	at int
	by float64
}

// Add takes one residual into the sum of squares: its value now, its gradient,
// and its weight (one over its variance).
func (e *bordered) add(row []term, residual, weight float64) {
	for i, a := range row {
		wa := weight * a.by
		if wa == 0 {
			continue
		}
		if a.at >= e.n {
			e.g[a.at-e.n] -= wa * residual
		} else {
			e.f[a.at] -= wa * residual
		}
		for _, b := range row[i:] {
			lo, hi := a.at, b.at
			if lo > hi {
				lo, hi = hi, lo
			}
			v := wa * b.by
			switch {
			case lo >= e.n:
				e.corner[(lo-e.n)*e.p+hi-e.n] += v
				if lo != hi {
					e.corner[(hi-e.n)*e.p+lo-e.n] += v
				}
			case hi >= e.n:
				e.border[lo*e.p+hi-e.n] += v
			default:
				e.band[lo*(e.width+1)+hi-lo] += v
			}
		}
	}
}

// solve returns the step that minimises the sum of squares. It uses up the
// equations: band, border and schur hold their factors afterwards.
func (e *bordered) solve() (dx, dq []float64, err error) {
	a := blas64.SymmetricBand{Uplo: blas.Upper, N: e.n, K: e.width, Stride: e.width + 1, Data: e.band}
	if _, ok := lapack64.Pbtrf(a); !ok {
		return nil, nil, errSingular
	}
	dx = e.f
	e.forward(dx, 1)
	if e.p == 0 {
		e.backward(dx, 1)
		return dx, nil, nil
	}
	e.forward(e.border, e.p)
	v := mat.NewDense(e.n, e.p, e.border)
	square := e.squares()
	s := mat.NewSymDense(e.p, nil)
	for i := range e.p {
		for j := i; j < e.p; j++ {
			s.SetSym(i, j, (e.corner[i*e.p+j]+e.corner[j*e.p+i])/2-square[i*e.p+j])
		}
	}
	if !e.schur.Factorize(s) {
		return nil, nil, errSingular
	}
	x := mat.NewVecDense(e.n, dx)
	var q, vx, vq mat.VecDense
	vx.MulVec(v.T(), x)
	q.SubVec(mat.NewVecDense(e.p, e.g), &vx)
	if err := e.schur.SolveVecTo(&q, &q); err != nil {
		var c mat.Condition
		if !errors.As(err, &c) || math.IsInf(float64(c), 1) {
			return nil, nil, errSingular
		}
	}
	vq.MulVec(v, &q)
	x.SubVec(x, &vq)
	e.backward(dx, 1)
	return dx, q.RawVector().Data, nil
}

// squares returns V'V, the upper triangle. Four rows at a time it is several times
// faster than BLAS, which goes through the result once for each of the many rows.
func (e *bordered) squares() []float64 {
	p := e.p
	out := make([]float64, p*p)
	rows := e.border
	for ; len(rows) >= 4*p; rows = rows[4*p:] {
		r0, r1, r2, r3 := rows[:p], rows[p:2*p], rows[2*p:3*p], rows[3*p:4*p]
		for i := range p {
			a0, a1, a2, a3 := r0[i], r1[i], r2[i], r3[i]
			to := out[i*p+i : i*p+p]
			b0, b1, b2, b3 := r0[i:][:len(to)], r1[i:][:len(to)], r2[i:][:len(to)], r3[i:][:len(to)]
			for j := range to {
				to[j] += a0*b0[j] + a1*b1[j] + a2*b2[j] + a3*b3[j]
			}
		}
	}
	for ; len(rows) >= p; rows = rows[p:] {
		for i := range p {
			for j := i; j < p; j++ {
				out[i*p+j] += rows[i] * rows[j]
			}
		}
	}
	return out
}

// following returns A^-1 B after solve: how the unknowns of the samples follow
// those of the clip, less the sign. It uses up V.
func (e *bordered) following() *mat.Dense {
	e.backward(e.border, e.p)
	return mat.NewDense(e.n, e.p, e.border)
}

// forward solves U'y = b in place for m right-hand sides, b holding one row an
// unknown. LAPACK's solver takes the columns one by one, which for a border of some
// thirty costs four times as much as going through the band once.
func (e *bordered) forward(b []float64, m int) {
	row := func(i int) []float64 { return b[i*m : (i+1)*m] }
	for i := range e.n {
		u := e.band[i*(e.width+1) : (i+1)*(e.width+1)]
		y := row(i)
		floats.Scale(1/u[0], y)
		for d := 1; d <= min(e.width, e.n-1-i); d++ {
			if u[d] != 0 {
				floats.AddScaled(row(i+d), -u[d], y)
			}
		}
	}
}

// backward solves U x = b likewise.
func (e *bordered) backward(b []float64, m int) {
	row := func(i int) []float64 { return b[i*m : (i+1)*m] }
	for i := e.n - 1; i >= 0; i-- {
		u := e.band[i*(e.width+1) : (i+1)*(e.width+1)]
		x := row(i)
		for d := 1; d <= min(e.width, e.n-1-i); d++ {
			if u[d] != 0 {
				floats.AddScaled(x, -u[d], row(i+d))
			}
		}
		floats.Scale(1/u[0], x)
	}
}

// bandOfInverse returns the part of A^-1 that lies in A's band, row i holding
// [i][i..i+width], without forming the rest: Takahashi's recursion from the last
// row up (Takahashi, Fagan & Chin 1973, from memory),
//
//	Z[i][j] = (d[i][j]/U[i][i] - sum over k of U[i][k] Z[k][j]) / U[i][i].
func (e *bordered) bandOfInverse() []float64 {
	w := e.width
	z := make([]float64, len(e.band))
	at := func(i, j int) float64 {
		if i > j {
			i, j = j, i
		}
		return z[i*(w+1)+j-i]
	}
	for i := e.n - 1; i >= 0; i-- {
		u := e.band[i*(w+1) : (i+1)*(w+1)]
		last := min(w, e.n-1-i)
		for d := last; d >= 0; d-- {
			var s float64
			if d == 0 {
				s = 1 / u[0]
			}
			for k := 1; k <= last; k++ {
				if u[k] != 0 {
					s -= u[k] * at(i+k, i+d)
				}
			}
			z[i*(w+1)+d] = s / u[0]
		}
	}
	return z
}

// clipCovariance returns the covariance of the clip's unknowns, S^-1.
func (e *bordered) clipCovariance() (*mat.SymDense, error) {
	var s mat.SymDense
	if err := e.schur.InverseTo(&s); err != nil {
		var c mat.Condition
		if !errors.As(err, &c) || math.IsInf(float64(c), 1) {
			return nil, errSingular
		}
	}
	return &s, nil
}
