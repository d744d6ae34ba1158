package signal

import (
	"errors"
	"fmt"
	"math"
)

// errBadCutoff: a cut-off frequency is not between 0 and half the sample rate.
var errBadCutoff = errors.New("the cut-off frequency does not fit the sample rate")

// dualPassFactor lowers the cut-off of one pass so that two passes together
// have the wanted one: (sqrt(2)-1)^(1/4), Winter, Biomechanics and Motor Control
// of Human Movement (from memory).
var dualPassFactor = math.Pow(math.Sqrt2-1, 0.25)

// filterPad is the number of samples that the ends are lengthened by.
const filterPad = 9

// Lowpass is a second-order Butterworth low-pass filter that is run forward and
// backward, which leaves events where they are in time.
//
//	y[i] = b0 x[i] + b1 x[i-1] + b2 x[i-2] - a1 y[i-1] - a2 y[i-2]
type Lowpass struct {
	b0, b1, b2, a1, a2 float64
}

// NewLowpass returns a filter whose forward and backward pass together lower a
// sine of cutoffHz to 1/sqrt(2). The cut-off of one pass is raised for that in
// the tangent form, which is exact at any sample rate:
//
//	f' = (fs/pi) atan( tan(pi fc/fs) / (sqrt(2)-1)^(1/4) )
//
// It returns errBadCutoff unless 0 < cutoffHz and f' < rateHz/2.
func NewLowpass(rateHz, cutoffHz float64) (*Lowpass, error) {
	f := correctedCutoffHz(rateHz, cutoffHz)
	if !(cutoffHz > 0) || !(cutoffHz < rateHz/2) || !(f < rateHz/2) {
		return nil, fmt.Errorf("low-pass at %.3g Hz of %.3g samples a second: %w", cutoffHz, rateHz, errBadCutoff)
	}
	k := math.Tan(math.Pi * f / rateHz)
	d := 1 + math.Sqrt2*k + k*k
	return &Lowpass{
		b0: k * k / d,
		b1: 2 * k * k / d,
		b2: k * k / d,
		a1: 2 * (k*k - 1) / d,
		a2: (1 - math.Sqrt2*k + k*k) / d,
	}, nil
}

// correctedCutoffHz returns the cut-off in hertz that each of the two passes
// needs so that both together have the cut-off cutoffHz; see [NewLowpass].
func correctedCutoffHz(rateHz, cutoffHz float64) float64 {
	return rateHz / math.Pi * math.Atan(math.Tan(math.Pi*cutoffHz/rateHz)/dualPassFactor)
}

// Gain returns what is left of a sine of freqHz after both passes, 0 to 1, for a
// filter of the given rate and cut-off:
//
//	1 / (1 + (sqrt(2)-1) (tan(pi f/fs) / tan(pi fc/fs))^4)
func Gain(rateHz, cutoffHz, freqHz float64) float64 {
	r := math.Tan(math.Pi*freqHz/rateHz) / math.Tan(math.Pi*cutoffHz/rateHz)
	return 1 / (1 + (math.Sqrt2-1)*r*r*r*r)
}

// Smooth returns x filtered forward and backward. The ends are lengthened by
// their own reflection through the end point, so that they are not pulled to
// zero. Each stretch between NaNs is filtered by itself; a stretch of fewer than
// four samples is returned as it is.
func (f *Lowpass) Smooth(x []float64) []float64 {
	y := make([]float64, len(x))
	copy(y, x)
	for _, r := range stretches(x) {
		if r.N() >= 4 {
			f.smoothStretch(y[r.From:r.To])
		}
	}
	return y
}

func (f *Lowpass) smoothStretch(x []float64) {
	n := len(x)
	pad := min(filterPad, n-1)
	ext := make([]float64, n+2*pad)
	for i := range pad {
		ext[i] = 2*x[0] - x[pad-i]
		ext[pad+n+i] = 2*x[n-1] - x[n-2-i]
	}
	copy(ext[pad:], x)
	f.pass(ext)
	reverse(ext)
	f.pass(ext)
	reverse(ext)
	copy(x, ext[pad:pad+n])
}

// pass filters in place, starting from the state that a constant input of the
// first sample's value would have left behind.
func (f *Lowpass) pass(x []float64) {
	// Steady state of the transposed direct form II for a unit input and output.
	z1, z2 := (1-f.b0)*x[0], (f.b2-f.a2)*x[0]
	for i, v := range x {
		y := f.b0*v + z1
		z1 = f.b1*v - f.a1*y + z2
		z2 = f.b2*v - f.a2*y
		x[i] = y
	}
}

func reverse(x []float64) {
	for i, j := 0, len(x)-1; i < j; i, j = i+1, j-1 {
		x[i], x[j] = x[j], x[i]
	}
}

// Range is a half-open range of samples.
type Range struct{ From, To int }

// N returns the number of its samples.
func (r Range) N() int { return r.To - r.From }

// stretches returns the runs of x that hold no NaN.
func stretches(x []float64) []Range {
	return Runs(len(x), func(i int) bool { return !math.IsNaN(x[i]) })
}

// Runs returns the longest ranges of 0..n-1 over which ok holds.
func Runs(n int, ok func(int) bool) []Range {
	var out []Range
	start := -1
	for i := 0; i <= n; i++ {
		if i < n && ok(i) {
			if start < 0 {
				start = i
			}
			continue
		}
		if start >= 0 {
			out = append(out, Range{start, i})
			start = -1
		}
	}
	return out
}

// residualMaxHz is the highest trial cut-off of the residual analysis; the trials
// are whole hertz.
const residualMaxHz = 20

// residualNoiseFromHz is where the straight noise part of the curve begins.
const residualNoiseFromHz = 10

// ResidualCutoffHz returns the cut-off in hertz that residual analysis proposes
// for x: the lowest at which what the filter takes away is no more than the
// noise. The root mean square of x minus its smoothed self is drawn against the
// cut-off; the straight line through the part above 10 Hz, carried back to
// 0 Hz, is the noise. Source: Winter, and Wells & Winter 1980 (from memory).
// It returns NaN for fewer than 30 samples, or where the rate is too low to see
// the noise part.
func ResidualCutoffHz(x []float64, rateHz float64) float64 {
	var cut, res []float64
	for fc := 1.0; fc <= residualMaxHz && fc <= 0.4*rateHz; fc++ {
		f, err := NewLowpass(rateHz, fc)
		if err != nil {
			break
		}
		r := rmsDifference(x, f.Smooth(x))
		if math.IsNaN(r) {
			return math.NaN()
		}
		cut, res = append(cut, fc), append(res, r)
	}
	// At low frame rates the noise part begins lower: half the highest trial.
	from := residualNoiseFromHz + 0.0
	if n := len(cut); n < 5 {
		return math.NaN()
	} else if cut[n-1] < 1.5*from {
		from = cut[n-1] / 2
	}
	var beyond Line
	for i := range cut {
		if cut[i] >= from {
			beyond.Add(1, cut[i], res[i])
		}
	}
	if beyond.Weight() < 2 {
		return math.NaN()
	}
	noise := beyond.Level(beyond.Slope())
	for i := range cut {
		if res[i] > noise {
			continue
		}
		if i == 0 {
			return cut[0]
		}
		return cut[i-1] + (cut[i]-cut[i-1])*(res[i-1]-noise)/(res[i-1]-res[i])
	}
	return cut[len(cut)-1]
}

// rmsDifference returns the root mean square of a-b over samples present in
// both, NaN for fewer than 30.
func rmsDifference(a, b []float64) float64 {
	var ss float64
	n := 0
	for i := range a {
		if d := a[i] - b[i]; !math.IsNaN(d) {
			ss += d * d
			n++
		}
	}
	if n < 30 {
		return math.NaN()
	}
	return math.Sqrt(ss / float64(n))
}

// Velocity returns the rate of change of x a second by central differences, NaN
// beside gaps. A central difference reads a sine of f hertz low by
// sin(2 pi f/fs)/(2 pi f/fs).
func Velocity(x []float64, rateHz float64) []float64 {
	v := make([]float64, len(x))
	for i := range x {
		switch {
		case len(x) < 2 || math.IsNaN(x[i]):
			v[i] = math.NaN()
		case i == 0 || math.IsNaN(x[i-1]):
			if i+1 < len(x) {
				v[i] = (x[i+1] - x[i]) * rateHz
			} else {
				v[i] = math.NaN()
			}
		case i == len(x)-1 || math.IsNaN(x[i+1]):
			v[i] = (x[i] - x[i-1]) * rateHz
		default:
			v[i] = (x[i+1] - x[i-1]) * rateHz / 2
		}
	}
	return v
}

// MaxCutoffOfRate is the highest cut-off as a part of the sample rate: above a
// quarter of it too few samples carry the shape. Common practice, no source.
const MaxCutoffOfRate = 0.25
