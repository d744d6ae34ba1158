package kinematics

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
// It is solved by A = U'U and the Schur complement S = C - B' A^-1 B, at a cost
// of n (width^2 + p width + p^2): linear in the length of the clip.
type bordered struct {
	n, width, p int
	band        []float64 // row i holds A[i][i..i+width]
	border      []float64 // row i holds B[i][0..p-1]
	corner      []float64
	f, g        []float64
	// After factor: band holds U, border W = A^-1 B, schur the factor of S.
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

// add takes one residual into the sum of squares: its value now, its gradient,
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
	e.substitute(dx, 1)
	if e.p == 0 {
		return dx, nil, nil
	}
	// S = C - B' W and g - B' A^-1 f need B beside W = A^-1 B.
	b := mat.NewDense(e.n, e.p, append([]float64(nil), e.border...))
	e.substitute(e.border, e.p)
	w := mat.NewDense(e.n, e.p, e.border)
	var bw mat.Dense
	bw.Mul(b.T(), w)
	s := mat.NewSymDense(e.p, nil)
	for i := range e.p {
		for j := i; j < e.p; j++ {
			s.SetSym(i, j, (e.corner[i*e.p+j]+e.corner[j*e.p+i])/2-(bw.At(i, j)+bw.At(j, i))/2)
		}
	}
	if !e.schur.Factorize(s) {
		return nil, nil, errSingular
	}
	x := mat.NewVecDense(e.n, dx)
	var q, bx, wq mat.VecDense
	bx.MulVec(b.T(), x)
	q.SubVec(mat.NewVecDense(e.p, e.g), &bx)
	if err := e.schur.SolveVecTo(&q, &q); err != nil {
		var c mat.Condition
		if !errors.As(err, &c) || math.IsInf(float64(c), 1) {
			return nil, nil, errSingular
		}
	}
	wq.MulVec(w, &q)
	x.SubVec(x, &wq)
	return dx, q.RawVector().Data, nil
}

// substitute solves U'U x = b in place for m right-hand sides, b holding one row
// an unknown. LAPACK's solver takes the columns one by one, which for a border of
// some thirty costs four times as much as going through the band once.
func (e *bordered) substitute(b []float64, m int) {
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
