package signal

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/interp"
)

// MaxFillS is the longest gap in seconds that is filled: longer than that, the
// body may have turned round unseen. Common practice, no source.
const MaxFillS = 0.15

// RateHz returns the rate in samples a second of the uniform time base
// for frames at the given times: the inverse of the usual frame interval, which
// is the mean of the intervals within a fifth of their median (the median alone
// would carry the rounding of the container's time stamps).
func RateHz(timeS []float64) float64 {
	d := make([]float64, 0, len(timeS))
	for i := 1; i < len(timeS); i++ {
		d = append(d, timeS[i]-timeS[i-1])
	}
	m := Median(d)
	var sum float64
	n := 0
	for _, v := range d {
		if math.Abs(v-m) <= 0.2*m {
			sum += v
			n++
		}
	}
	if n == 0 || sum <= 0 {
		return math.NaN()
	}
	return float64(n) / sum
}

// UniformTimes returns the sample times from the first to the last frame.
func UniformTimes(timeS []float64, rateHz float64) []float64 {
	n := int(math.Floor((timeS[len(timeS)-1]-timeS[0])*rateHz+1e-3)) + 1
	t := make([]float64, n)
	for i := range t {
		t[i] = timeS[0] + float64(i)/rateHz
	}
	return t
}

// Resampled is one signal on the uniform time base.
type Resampled struct {
	Value  []float64
	Filled []bool // true where the value stands in a filled gap
}

// Resample carries the values x seen at timeS over to the times t. Between two
// observations it follows a cubic that keeps the data's own turns (Fritsch & Butland
// 1984). A gap is what lies between two observations more than one and a half frames
// apart; a gap whose missing part is longer than maxFillS stays NaN.
func Resample(timeS, x, t []float64, rateHz float64) Resampled {
	return ResamplePassed(timeS, x, make([]int, len(timeS)), t, rateHz)
}

// ResamplePassed is [Resample] where passed[i] frames before observation i were not looked at on
// purpose: they make no gap.
func ResamplePassed(timeS, x []float64, passed []int, t []float64, rateHz float64) Resampled {
	out := Resampled{Value: NaNs(len(t)), Filled: make([]bool, len(t))}
	var st, sx, spare []float64 // spare: how long a step may last beside a frame's time without being a gap
	dt, s := 1/rateHz, 0.0
	for i := range timeS {
		s += float64(passed[i]) * dt
		if !math.IsNaN(x[i]) {
			st, sx, spare = append(st, timeS[i]), append(sx, x[i]), append(spare, s)
			s = 0
		}
	}
	for from := 0; from < len(st); {
		to := from + 1
		for to < len(st) && st[to]-st[to-1]-spare[to]-dt <= MaxFillS {
			to++
		}
		resampleStretch(st[from:to], sx[from:to], spare[from:to], t, dt, &out)
		from = to
	}
	return out
}

func resampleStretch(st, sx, spare, t []float64, dt float64, out *Resampled) {
	last := len(st) - 1
	value := func(float64) float64 { return sx[0] }
	if last >= 1 {
		var c interp.FritschButland
		if err := c.Fit(st, sx); err != nil {
			return // times that do not increase: nothing to be had
		}
		value = c.Predict
	}
	i := sort.SearchFloat64s(t, st[0]-dt/2)
	for ; i < len(t) && t[i] <= st[last]+dt/2; i++ {
		out.Value[i] = value(max(st[0], min(st[last], t[i])))
		j := sort.SearchFloat64s(st, t[i])
		if j > 0 && j <= last {
			out.Filled[i] = st[j]-st[j-1]-spare[j] > 1.5*dt && t[i]-st[j-1] > dt/2 && st[j]-t[i] > dt/2
		}
	}
}

// ValueAt returns x, sampled at the times of a uniform time base, at a time between
// samples by a straight line; NaN for no samples.
func ValueAt(x, timesS []float64, rateHz, timeS float64) float64 {
	if len(x) == 0 || math.IsNaN(timeS) {
		return math.NaN()
	}
	u := (timeS - timesS[0]) * rateHz
	i := max(0, min(len(x)-1, int(math.Floor(u))))
	if i+1 >= len(x) || u <= float64(i) {
		return x[i]
	}
	return x[i] + (u-float64(i))*(x[i+1]-x[i])
}
