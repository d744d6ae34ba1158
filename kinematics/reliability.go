package kinematics

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// ErrBadTable: a table of repeated measurements is too small or not rectangular.
var ErrBadTable = errors.New("repeated measurements need a full table of two or more rows and columns")

// ICC holds the six intraclass correlations of Shrout & Fleiss 1979: how far
// repeated measurements of the same targets agree, 1 at best. Single is the
// reliability of one measurement, Average that of the mean of all k.
type ICC struct {
	// Single1, Single2 and Single3 are the forms (1,1), (2,1) and (3,1):
	// one-way random, two-way random (absolute agreement), two-way mixed
	// (consistency).
	Single1, Single2, Single3 float64
	// Average1, Average2 and Average3 are the forms (1,k), (2,k) and (3,k).
	Average1, Average2, Average3 float64
	// Interval1, Interval2 and Interval3 are the 95 % intervals of the single
	// forms.
	Interval1, Interval2, Interval3 [2]float64
	ANOVA                           ANOVA
}

// ANOVA holds the mean squares of a table of n targets (rows) by k measurements.
type ANOVA struct {
	N, K int
	// Between is the mean square of the targets, Within that inside them,
	// Columns that of the measurements and Error the rest.
	Between, Within, Columns, Error float64
}

// NewANOVA returns the mean squares of a table with one row for each target and
// one column for each measurement. It returns ErrBadTable for a ragged table or
// one with fewer than two rows or columns.
func NewANOVA(table [][]float64) (ANOVA, error) {
	n := len(table)
	if n < 2 || len(table[0]) < 2 {
		return ANOVA{}, fmt.Errorf("analysing %d targets: %w", n, ErrBadTable)
	}
	k := len(table[0])
	var grand float64
	row, col := make([]float64, n), make([]float64, k)
	for i, r := range table {
		if len(r) != k {
			return ANOVA{}, fmt.Errorf("row %d has %d values, not %d: %w", i+1, len(r), k, ErrBadTable)
		}
		for j, v := range r {
			if math.IsNaN(v) {
				return ANOVA{}, fmt.Errorf("row %d has a missing value: %w", i+1, ErrBadTable)
			}
			row[i] += v / float64(k)
			col[j] += v / float64(n)
			grand += v / float64(n*k)
		}
	}
	var ssRow, ssCol, ssIn float64
	for i, r := range table {
		ssRow += float64(k) * sq(row[i]-grand)
		for _, v := range r {
			ssIn += sq(v - row[i])
		}
	}
	for _, c := range col {
		ssCol += float64(n) * sq(c-grand)
	}
	return ANOVA{
		N: n, K: k,
		Between: ssRow / float64(n-1),
		Within:  ssIn / float64(n*(k-1)),
		Columns: ssCol / float64(k-1),
		Error:   (ssIn - ssCol) / float64((n-1)*(k-1)),
	}, nil
}

// NewICC returns the intraclass correlations of a table with one row for each
// target and one column for each measurement. With B, W, J, E the mean squares
// between targets, within targets, of measurements and of error:
//
//	(1,1) (B-W)/(B+(k-1)W)                  (1,k) (B-W)/B
//	(2,1) (B-E)/(B+(k-1)E+k(J-E)/n)         (2,k) (B-E)/(B+(J-E)/n)
//	(3,1) (B-E)/(B+(k-1)E)                  (3,k) (B-E)/B
//
// Source: Shrout & Fleiss 1979. Errors as [NewANOVA].
func NewICC(table [][]float64) (ICC, error) {
	a, err := NewANOVA(table)
	if err != nil {
		return ICC{}, fmt.Errorf("intraclass correlation: %w", err)
	}
	b, w, j, e := a.Between, a.Within, a.Columns, a.Error
	n, k := float64(a.N), float64(a.K)
	c := ICC{
		Single1:  (b - w) / (b + (k-1)*w),
		Single2:  (b - e) / (b + (k-1)*e + k*(j-e)/n),
		Single3:  (b - e) / (b + (k-1)*e),
		Average1: (b - w) / b,
		Average2: (b - e) / (b + (j-e)/n),
		Average3: (b - e) / b,
		ANOVA:    a,
	}
	quantile := func(d1, d2 float64) float64 { return distuv.F{D1: d1, D2: d2}.Quantile(0.975) }
	fromF := func(f, d1, d2 float64) [2]float64 {
		lo, hi := f/quantile(d1, d2), f*quantile(d2, d1)
		return [2]float64{(lo - 1) / (lo + k - 1), (hi - 1) / (hi + k - 1)}
	}
	c.Interval1 = fromF(b/w, n-1, n*(k-1))
	c.Interval3 = fromF(b/e, n-1, (n-1)*(k-1))
	// (2,1): degrees of freedom after Satterthwaite.
	f := j / e
	v := (k - 1) * (n - 1) * sq(k*c.Single2*f+n*(1+(k-1)*c.Single2)-k*c.Single2) /
		((n-1)*k*k*c.Single2*c.Single2*f*f + sq(n*(1+(k-1)*c.Single2)-k*c.Single2))
	up, down := quantile(n-1, v), quantile(v, n-1)
	c.Interval2 = [2]float64{
		n * (b - up*e) / (up*(k*j+(k*n-k-n)*e) + n*b),
		n * (down*b - e) / (k*j + (k*n-k-n)*e + n*down*b),
	}
	return c, nil
}

// SEM returns the standard error of measurement in the table's own unit: the
// spread of one measurement about the target's true value, the root of the error
// mean square (two-way). Source: Weir 2005.
func (a ANOVA) SEM() float64 { return math.Sqrt(a.Error) }

// MDC95 returns the smallest difference between two single measurements that
// chance alone makes in no more than 5 % of cases: SEM * 1.96 * sqrt(2). Source:
// Weir 2005.
func MDC95(sem float64) float64 { return sem * 1.96 * math.Sqrt2 }

// SEMFromICC returns SD * sqrt(1-ICC): the short way to the standard error of
// measurement, which depends on how different the people of the sample are.
func SEMFromICC(sd, icc float64) float64 { return sd * math.Sqrt(1-icc) }

// Agreement is how far two ways of measuring agree, after Bland & Altman 1986.
type Agreement struct {
	N int
	// Bias is the mean of first minus second, SD the standard deviation of that
	// difference.
	Bias, SD float64
	// Lower and Upper are the limits of agreement, Bias -/+ 1.96 SD.
	Lower, Upper float64
	// BiasSE and LimitSE are standard errors: SD/sqrt(n) and sqrt(3 SD^2/n).
	BiasSE, LimitSE float64
	// BiasInterval, LowerInterval and UpperInterval are 95 % t-intervals.
	BiasInterval, LowerInterval, UpperInterval [2]float64
}

// BlandAltman returns the agreement of paired measurements. It returns
// ErrBadTable when the two differ in length or have fewer than two pairs.
func BlandAltman(first, second []float64) (Agreement, error) {
	n := len(first)
	if n != len(second) || n < 2 {
		return Agreement{}, fmt.Errorf("agreement of %d and %d values: %w", n, len(second), ErrBadTable)
	}
	d := make([]float64, n)
	for i := range d {
		d[i] = first[i] - second[i]
	}
	mean, sd := stat.MeanStdDev(d, nil)
	a := Agreement{
		N: n, Bias: mean, SD: sd,
		Lower: mean - 1.96*sd, Upper: mean + 1.96*sd,
		BiasSE: sd / math.Sqrt(float64(n)), LimitSE: math.Sqrt(3 * sd * sd / float64(n)),
	}
	t := t95(float64(n - 1))
	about := func(x, se float64) [2]float64 { return [2]float64{x - t*se, x + t*se} }
	a.BiasInterval = about(a.Bias, a.BiasSE)
	a.LowerInterval, a.UpperInterval = about(a.Lower, a.LimitSE), about(a.Upper, a.LimitSE)
	return a, nil
}
