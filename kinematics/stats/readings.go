package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Readings is one number of several reps.
type Readings struct {
	Values []float64 `json:"values"`
	// NoiseSD is the standard deviation of the network's error in the position
	// that was read; NaN or 0 when unknown. The error is much the same in every
	// rep that reaches the same position: more reps do not average it out.
	NoiseSD float64 `json:"noise_sd"`
	// Occasion is when they were filmed, by any name: readings of two occasions differ
	// by more than those of one (see Options.OccasionSD).
	Occasion string `json:"-"`
	// OccasionSD is the same for one side alone, for the mean of an occasion that is
	// to be held against others; 0: not counted.
	OccasionSD float64 `json:"-"`
	// ClipSD is the part of the network's error that all positions of an athlete share. It
	// cancels in a change, so that only a mean that stands alone counts it.
	ClipSD float64 `json:"-"`
}

// Options say what counts as a change of one number, in its unit.
type Options struct {
	// SmallestChange is the smallest change that matters.
	SmallestChange float64
	// RepSD is how far the readings of an athlete usually differ from rep to rep, as a standard
	// deviation, and RepWorth how many degrees of freedom that is worth beside the readings'
	// own: of few reps their own spread says little. 0: nothing is known beforehand.
	RepSD, RepWorth float64
	// OccasionSD is how far a reading of one occasion is off that of another, as a standard
	// deviation of each. It counts where the sides were filmed on different occasions.
	OccasionSD float64
	// Detectable is the smallest change that can be told from chance where that is known
	// apart from the interval; 0: not known. A smaller change is neither lost nor gained;
	// it does not make a change held.
	Detectable float64
}

// Against returns the readings as a side that is held against another: what one occasion
// has and another has not counts where the two were filmed on different ones.
func (r Readings) Against(other Readings, opt Options) Readings {
	if r.Occasion != other.Occasion {
		r.OccasionSD = math.Hypot(r.OccasionSD, opt.OccasionSD)
	}
	return r
}

// Mean returns the mean of the readings with its standard deviation, whose
// [Estimate.Interval95] is the interval of a mean everywhere in the program; unknown
// without a reading. A reading is
//
//	y_i = m + shared + e_i
//
// with m what the athlete usually does, shared the error that is the same in all of
// them (noise, and what one occasion has and another has not), and e_i what differs from
// rep to rep, the random part of the error in it. Averaging n of them leaves all of the
// first error and an nth of the variance of the second:
//
//	Var(mean) = s^2/n + noise^2 + occasion^2
//
// with s the spread between the readings, see [Readings.spread]. The parts are independent,
// so that their variances add: taking the larger of two instead forgets the other. Source:
// JCGM 100:2008 (Guide to the expression of uncertainty in measurement), 4.2.3 for s^2/n,
// 5.1.2 for the sum.
//
// What is shared counts as known and is mostly the larger part, hence the normal quantile
// (ibid., G.6.6).
func (r Readings) Mean(opt Options) Estimate {
	if len(r.Values) == 0 {
		return Unknown()
	}
	variance, _ := r.spread(opt)
	return Estimate{stat.Mean(r.Values, nil), math.Sqrt(variance/float64(len(r.Values)) + r.shared())}
}

// spread returns the variance of one reading and its degrees of freedom, from the readings
// and from what is known beforehand (see [Options]), as if the latter were the spread of so
// many more readings:
//
//	s^2 = (worth RepSD^2 + (n-1) s0^2) / (worth + n-1)
//
// with s0^2 the variance of the n readings. It is the scale of the posterior of a variance
// whose prior is a scaled inverse chi-square; the mean then has Student's distribution with
// worth + n-1 degrees of freedom. Source: Gelman et al. 2013, Bayesian Data Analysis, 2.6 and
// 3.3. It is NaN for one reading of which nothing is known beforehand.
func (r Readings) spread(opt Options) (variance, freedom float64) {
	sum := opt.RepWorth * sq(opt.RepSD)
	if n := float64(len(r.Values)); n >= 2 {
		sum += (n - 1) * stat.Variance(r.Values, nil)
		freedom = n - 1
	}
	freedom += opt.RepWorth
	return sum / freedom, freedom
}

// shared returns the variance of what all readings share, which more of them do not lower.
func (r Readings) shared() float64 {
	noise := sq(r.NoiseSD)
	if math.IsNaN(noise) {
		noise = 0
	}
	return noise + sq(r.OccasionSD) + sq(r.ClipSD)
}
