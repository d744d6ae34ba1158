package stats

import (
	"errors"
	"fmt"
	"math"
)

// ErrBadTable: a table of repeated measurements is too small or not rectangular.
var ErrBadTable = errors.New("repeated measurements need a full table of two or more rows and columns")

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

// MDC95 returns the smallest difference between two single measurements that
// chance alone makes in no more than 5 % of cases: SEM * 1.96 * sqrt(2). Source:
// Weir 2005.
func MDC95(sem float64) float64 { return sem * 1.96 * math.Sqrt2 }
