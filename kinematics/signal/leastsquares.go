package signal

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Fit is the least-squares fit of some columns to a signal; a straight line that is fitted
// many times over in a search is a [Line].
type Fit struct {
	// Coef is the coefficient of each column.
	Coef []float64
	// RMS is the root mean square of what is left, Noise the standard deviation of the
	// signal about the fit that it speaks for; NaN with no more values than columns.
	RMS, Noise float64
	columns    *mat.Dense
}

// LeastSquares returns the fit of k columns to y (QR factorisation). columns holds them row
// by row: k values for each value of y. ok is false where there are fewer values than
// columns, or the columns are not independent.
func LeastSquares(columns, y []float64) (f Fit, ok bool) {
	n := len(y)
	if n == 0 || len(columns)%n != 0 || len(columns)/n > n || len(columns) == 0 {
		return Fit{}, false
	}
	k := len(columns) / n
	f.columns = mat.NewDense(n, k, columns)
	var coef, left mat.VecDense
	if err := coef.SolveVec(f.columns, mat.NewVecDense(n, y)); err != nil {
		return Fit{}, false
	}
	left.MulVec(f.columns, &coef)
	left.SubVec(mat.NewVecDense(n, y), &left)
	f.Coef, f.RMS, f.Noise = coef.RawVector().Data, mat.Norm(&left, 2)/math.Sqrt(float64(n)), math.NaN()
	if n > k {
		f.Noise = mat.Norm(&left, 2) / math.Sqrt(float64(n-k))
	}
	return f, true
}

// UnitSE returns the standard error of coefficient j where the values of the signal are
// independent with a standard deviation of 1: the root of that place of the inverse normal
// matrix; NaN where that has none.
func (f *Fit) UnitSE(j int) float64 {
	var normal, inverse mat.Dense
	normal.Mul(f.columns.T(), f.columns)
	if err := inverse.Inverse(&normal); err != nil {
		return math.NaN()
	}
	return math.Sqrt(inverse.At(j, j))
}
