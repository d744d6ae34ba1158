package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Estimate is a number with its standard deviation; 1.96 of them either way are
// its 95 % interval. Both are NaN when the number is not known.
type Estimate struct{ Value, SD float64 }

// Interval95 returns the 95 % interval.
func (e Estimate) Interval95() [2]float64 {
	return [2]float64{e.Value - Normal95*e.SD, e.Value + Normal95*e.SD}
}

// Known says whether there is a number.
func (e Estimate) Known() bool { return !math.IsNaN(e.Value) }

// Unknown returns an estimate that is not known.
func Unknown() Estimate { return Estimate{math.NaN(), math.NaN()} }

// Normal95 is the two-sided 95 % quantile of the normal distribution.
const Normal95 = 1.959963984540054

// normal90 is its two-sided 90 % quantile.
const normal90 = 1.6448536269514722

// manyDegreesOfFreedom is where the library's inverse begins to lose digits; at 1e14 degrees
// of freedom it is off by half of the quantile.
const manyDegreesOfFreedom = 1e6

// t95 returns the two-sided 95 % quantile of Student's distribution.
func t95(degreesOfFreedom float64) float64 { return student(degreesOfFreedom, 0.975, Normal95) }

// t90 returns the two-sided 90 % quantile of Student's distribution.
func t90(degreesOfFreedom float64) float64 { return student(degreesOfFreedom, 0.95, normal90) }

// student returns a quantile of Student's distribution. With very many degrees of freedom n it is that of the normal,
// z, and the first term of its expansion
//
//	t = z + (z^3 + z) / (4 n)
//
// Source: Abramowitz and Stegun 1964, 26.7.5 (from memory).
func student(degreesOfFreedom, p, z float64) float64 {
	if degreesOfFreedom > manyDegreesOfFreedom {
		return z + (z*z*z+z)/(4*degreesOfFreedom)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: degreesOfFreedom}.Quantile(p)
}
