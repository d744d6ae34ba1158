package stats

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// minReadings is the smallest number of readings whose own spread is used: two say next to
// nothing of it.
const minReadings = 3

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
	// SEM is the standard error of one reading that is used with fewer than three readings
	// on a side.
	SEM float64
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
// with s the spread between the readings. The parts are independent, so that their
// variances add: taking the larger of two instead forgets the other. Source: JCGM
// 100:2008 (Guide to the expression of uncertainty in measurement), 4.2.3 for s^2/n,
// 5.1.2 for the sum.
//
// What is shared counts as known and is mostly the larger part, hence the normal quantile
// (ibid., G.6.6): readings of 27, 29 and 31 with noise 1.6 have 17 effective degrees of
// freedom, and their interval, 25.1 to 32.9, would be 24.8 to 33.2 by Student's t.
//
// Fewer than three readings say next to nothing of their spread: one reading then has at
// least the assumed standard error (see [Options]).
func (r Readings) Mean(opt Options) Estimate {
	if len(r.Values) == 0 {
		return Unknown()
	}
	own, shared := r.variances(len(r.Values) < minReadings, opt)
	return Estimate{stat.Mean(r.Values, nil), math.Sqrt(own + shared)}
}

// variances returns the two parts of the variance of the mean: what differs between the
// readings, which more of them lower, and what they share, which more do not. few says
// that there are too few to go by their spread alone: then one reading differs by at
// least what its assumed error has over the noise.
func (r Readings) variances(few bool, opt Options) (own, shared float64) {
	noise := sq(r.NoiseSD)
	if math.IsNaN(noise) {
		noise = 0
	}
	if len(r.Values) >= 2 {
		own = stat.Variance(r.Values, nil)
	}
	if few {
		own = max(own, sq(opt.SEM)-noise)
	}
	return own / float64(len(r.Values)), noise + sq(r.OccasionSD) + sq(r.ClipSD)
}
