package signal

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// LeastSquares returns the coefficients that bring a closest to y, the standard
// deviation of what is left, and the inverse of the normal matrix.
func LeastSquares(a *mat.Dense, y []float64) (coef []float64, noise float64, inv *mat.Dense, ok bool) {
	n, k := a.Dims()
	if n <= k {
		return nil, 0, nil, false
	}
	var c, fit, res mat.VecDense
	if err := c.SolveVec(a, mat.NewVecDense(n, y)); err != nil {
		return nil, 0, nil, false
	}
	fit.MulVec(a, &c)
	res.SubVec(mat.NewVecDense(n, y), &fit)
	var ata mat.Dense
	inv = &mat.Dense{}
	ata.Mul(a.T(), a)
	if err := inv.Inverse(&ata); err != nil {
		return nil, 0, nil, false
	}
	return c.RawVector().Data, mat.Norm(&res, 2) / math.Sqrt(float64(n-k)), inv, true
}
