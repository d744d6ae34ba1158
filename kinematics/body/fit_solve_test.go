package body

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// The banded solution with its border is that of the same equations written out
// in full, and so are the inverse's band and the clip's covariance.
func TestBorderedAgainstDense(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	const n, width, p = 40, 7, 5
	e := newBordered(n, width, p)
	full := mat.NewSymDense(n+p, nil)
	rhs := mat.NewVecDense(n+p, nil)
	for range 400 {
		i := rng.IntN(n - width)
		row := []term{{i, rng.NormFloat64()}, {i + rng.IntN(width), rng.NormFloat64()}, {i + width, rng.NormFloat64()},
			{n + rng.IntN(p), rng.NormFloat64()}, {n + rng.IntN(p), rng.NormFloat64()}}
		if row[0].at == row[1].at || row[1].at == row[2].at || row[3].at == row[4].at {
			continue
		}
		r, w := rng.NormFloat64(), 1+rng.Float64()
		e.add(row, r, w)
		for _, a := range row {
			rhs.SetVec(a.at, rhs.AtVec(a.at)-w*a.by*r)
			for _, b := range row {
				if a.at <= b.at {
					full.SetSym(a.at, b.at, full.At(a.at, b.at)+w*a.by*b.by)
				}
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(full) {
		t.Fatal("the full equations are singular")
	}
	var want mat.VecDense
	if err := chol.SolveVecTo(&want, rhs); err != nil {
		t.Fatal(err)
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		t.Fatal(err)
	}
	dx, dq, err := e.solve()
	if err != nil {
		t.Fatal(err)
	}
	for i := range n {
		if d := math.Abs(dx[i] - want.AtVec(i)); d > 1e-9 {
			t.Errorf("unknown %d: off by %g", i, d)
		}
	}
	for i := range p {
		if d := math.Abs(dq[i] - want.AtVec(n+i)); d > 1e-9 {
			t.Errorf("unknown %d of the clip: off by %g", i, d)
		}
	}
	cov, err := e.clipCovariance()
	if err != nil {
		t.Fatal(err)
	}
	z := e.bandOfInverse()
	w := e.following()
	for i := range n {
		for j := i; j <= min(n-1, i+width); j++ {
			v := z[i*(width+1)+j-i] + mat.Inner(w.RowView(i), cov, w.RowView(j))
			if math.Abs(v-inv.At(i, j)) > 1e-9 {
				t.Errorf("covariance %d, %d: got %g, want %g", i, j, v, inv.At(i, j))
			}
		}
	}
}

// Equations that leave an unknown free are refused.
func TestBorderedSingular(t *testing.T) {
	e := newBordered(3, 1, 1)
	e.add([]term{{0, 1}, {1, -1}}, 1, 1)
	if _, _, err := e.solve(); err == nil {
		t.Error("solved")
	}
}
