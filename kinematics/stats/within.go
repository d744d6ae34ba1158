package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// fewestForThirds is how many reps a set has whose thirds are compared.
const fewestForThirds = 6

// Within is how one number goes over the reps of a set, in order.
type Within struct {
	// PerRep is the slope of a straight line through the readings, over the number of the rep, and PerRepInterval95 its
	// 95 % interval, see [Line].
	PerRep           float64    `json:"per_rep"`
	PerRepInterval95 [2]float64 `json:"per_rep_interval95"`
	// Drifts says that the interval leaves 0 out, and that the line changes over the set by what matters.
	Drifts bool `json:"drifts"`
	// Thirds compares the first third of the reps with the last; nil with fewer than six.
	Thirds *Change `json:"thirds"`
	// Usual is where 95 % of single reps would lie if all were like the first third; NaN where that is not known.
	Usual [2]float64 `json:"usual95"`
	// Stays is the index of the first rep from which on all lie outside of Usual, and on the same side of it: Above or
	// below; -1 where the last two do not.
	Stays int  `json:"-"`
	Above bool `json:"above"`
}

// Line fits a straight line y = a + b x by least squares and returns b with its 95 % interval:
//
//	b ± t(0.975, n-2) s / sqrt(sum (x - mean x)^2)
//
// with s the standard deviation about the line, of n-2 degrees of freedom. Source: NIST/SEMATECH e-Handbook of
// Statistical Methods, 4.1.4.1 and 4.4; any book on linear regression has it. It is NaN with fewer than three points,
// or where all x are one.
func Line(x, y []float64) (slope float64, interval95 [2]float64) {
	nan := math.NaN()
	n := float64(len(x))
	if n < 3 {
		return nan, [2]float64{nan, nan}
	}
	mean := stat.Mean(x, nil)
	a, b := stat.LinearRegression(x, y, nil, false)
	var about, along float64
	for i := range x {
		about += sq(y[i] - a - b*x[i])
		along += sq(x[i] - mean)
	}
	if along == 0 {
		return nan, [2]float64{nan, nan}
	}
	half := t95(n-2) * math.Sqrt(about/(n-2)/along)
	return b, [2]float64{b - half, b + half}
}

// WithinSet reads how a number goes over the reps of a set; NaN where it was not read in a rep. ok is false with fewer
// than three readings.
//
// Where the last reps lie is asked of the first third of the reps: one more rep of them lies, with 95 %, within
//
//	mean ± t(0.975, f) s sqrt(1 + 1/n)
//
// with s the spread of readings as [Readings.spread] has it and f its degrees of freedom. What the readings share
// cancels. Source: e-Handbook, 4.5.1 (prediction intervals), with one constant.
func WithinSet(values []float64, opt Options) (w Within, ok bool) {
	var x, y []float64
	for i, v := range values {
		if !math.IsNaN(v) {
			x, y = append(x, float64(i)), append(y, v)
		}
	}
	if len(y) < 3 {
		return w, false
	}
	w.PerRep, w.PerRepInterval95 = Line(x, y)
	over := math.Abs(w.PerRep) * (x[len(x)-1] - x[0])
	w.Drifts = (w.PerRepInterval95[0] > 0 || w.PerRepInterval95[1] < 0) && over >= opt.SmallestChange
	w.Stays, w.Usual = -1, [2]float64{math.NaN(), math.NaN()}
	if len(y) < fewestForThirds {
		return w, true
	}
	third := len(y) / 3
	first, last := Readings{Values: y[:third]}, Readings{Values: y[len(y)-third:]}
	c := Compare(first, last, opt)
	w.Thirds = &c
	variance, freedom := first.spread(opt)
	half := t95(freedom) * math.Sqrt(variance*(1+1/float64(third)))
	mean := stat.Mean(first.Values, nil)
	w.Usual = [2]float64{mean - half, mean + half}
	w.Above = y[len(y)-1] > w.Usual[1]
	from := len(y)
	for from > third && (w.Above && y[from-1] > w.Usual[1] || !w.Above && y[from-1] < w.Usual[0]) {
		from--
	}
	if from <= len(y)-2 { // one rep alone does not stay
		w.Stays = int(x[from])
	}
	return w, true
}
