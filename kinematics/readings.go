package kinematics

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// Readings is one number of several reps.
type Readings struct {
	Deg []float64
	// NoiseSDDeg is the standard deviation of the network's error in the position
	// that was read; NaN or 0 when unknown. The error is much the same in every
	// rep that reaches the same position: more reps do not average it out.
	NoiseSDDeg float64
	// Occasion is when they were filmed, by any name: readings of two occasions differ
	// by more than those of one (see CompareOptions.OccasionSDDeg).
	Occasion string
	// OccasionSDDeg is the same for one side alone, for the mean of an occasion that is
	// to be held against others; 0: not counted.
	OccasionSDDeg float64
	// clipSDDeg is the part of the network's error that all positions of an athlete
	// share. It cancels in a change, so that only [MeanROM] counts it.
	clipSDDeg float64
}

// readings collects a number and the error that its reps share; reps that do not have
// the number are left out.
func readings(reps []Rep, get func(*Rep) (deg, sd float64)) Readings {
	var r Readings
	var sds []float64
	for i := range reps {
		v, sd := get(&reps[i])
		if !math.IsNaN(v) {
			r.Deg = append(r.Deg, v)
			sds = append(sds, sd)
		}
	}
	r.NoiseSDDeg = signal.Median(sds)
	if len(reps) > 0 {
		r.Occasion = reps[0].Occasion
	}
	return r
}

// ROMReadings returns the ranges of motion of an angle over the reps, with the error
// that they share.
func ROMReadings(reps []Rep, a body.Angle) Readings {
	return readings(reps, func(r *Rep) (float64, float64) { return r.Angles[a].ROMDeg, r.Angles[a].sharedSDDeg() })
}

// sharedSDDeg returns the standard deviation of what all reps share that reach the
// position; where that part is not known, all of the error is taken for it.
func (m *AngleMeasure) sharedSDDeg() float64 {
	if m.SystematicSDDeg > 0 {
		return m.SystematicSDDeg
	}
	return m.SDDeg
}

// clipSDDeg returns the standard deviation of what every position of the athlete shares,
// which the interval of the range holds and SDDeg does not; NaN where there is no interval.
func (m *AngleMeasure) clipSDDeg() float64 {
	lo, hi := m.ROMInterval95Deg[0], m.ROMInterval95Deg[1]
	if !(lo < hi) {
		return math.NaN()
	}
	half := m.ROMDeg - lo // the upper end also holds what a peak may be higher
	if lo <= 0 {
		half = hi - m.ROMDeg // the lower end was cut off
	}
	return math.Sqrt(max(0, sq(half/noise95)-sq(m.SDDeg)))
}

// MeanROM returns the mean range of motion of an angle over the whole reps, in degrees:
// [Readings.Mean] with the part of the network's error counted in that every position
// of the athlete shares. That part cancels in a change, but a mean alone is no surer
// than it. The standard deviation is NaN where no rep has an interval.
func MeanROM(reps []Rep, a body.Angle, opt CompareOptions) Estimate {
	reps = wholeReps(reps)
	return meanOfROM(reps, a, ROMReadings(reps, a), opt.ForAngle(a))
}

// meanOfROM is [MeanROM] of the readings of these reps.
func meanOfROM(reps []Rep, a body.Angle, r Readings, opt CompareOptions) Estimate {
	r.clipSDDeg = readings(reps, func(rep *Rep) (float64, float64) {
		return rep.Angles[a].ROMDeg, rep.Angles[a].clipSDDeg()
	}).NoiseSDDeg
	return r.Mean(opt)
}

// against returns the readings as a side that is held against another: what one occasion
// has and another has not counts where the two were filmed on different ones.
func (r Readings) against(other Readings, opt CompareOptions) Readings {
	if r.Occasion != other.Occasion {
		r.OccasionSDDeg = math.Hypot(r.OccasionSDDeg, opt.occasionSD())
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
// least the assumed standard error (see [CompareOptions]).
func (r Readings) Mean(opt CompareOptions) Estimate {
	if len(r.Deg) == 0 {
		return unknown()
	}
	own, shared := r.variances(len(r.Deg) < minRepsForSpread, opt)
	return Estimate{stat.Mean(r.Deg, nil), math.Sqrt(own + shared)}
}

// variances returns the two parts of the variance of the mean: what differs between the
// readings, which more of them lower, and what they share, which more do not. few says
// that there are too few to go by their spread alone: then one reading differs by at
// least what its assumed error has over the noise.
func (r Readings) variances(few bool, opt CompareOptions) (own, shared float64) {
	noise := sq(r.NoiseSDDeg)
	if math.IsNaN(noise) {
		noise = 0
	}
	if len(r.Deg) >= 2 {
		own = stat.Variance(r.Deg, nil)
	}
	if few {
		own = max(own, sq(opt.sem())-noise)
	}
	return own / float64(len(r.Deg)), noise + sq(r.OccasionSDDeg) + sq(r.clipSDDeg)
}

// noise95 is the two-sided 95 % quantile of the normal distribution.
const noise95 = 1.959963984540054

// manyDegreesOfFreedom is where the library's inverse begins to lose digits; at 1e14 degrees
// of freedom it is off by half of the quantile.
const manyDegreesOfFreedom = 1e6

// t95 returns the two-sided 95 % quantile of Student's distribution. With very many
// degrees of freedom n it is that of the normal, z, and the first term of its expansion
//
//	t = z + (z^3 + z) / (4 n)
//
// Source: Abramowitz and Stegun 1964, 26.7.5 (from memory).
func t95(degreesOfFreedom float64) float64 {
	if degreesOfFreedom > manyDegreesOfFreedom {
		return noise95 + (noise95*noise95*noise95+noise95)/(4*degreesOfFreedom)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: degreesOfFreedom}.Quantile(0.975)
}

// SpreadOfROM returns the standard deviation of an angle's range of motion between the
// reps, in degrees; NaN with fewer than two.
func SpreadOfROM(reps []Rep, a body.Angle) float64 {
	v := ROMReadings(reps, a).Deg
	if len(v) < 2 {
		return math.NaN()
	}
	return stat.StdDev(v, nil)
}

// TypicalRep returns the index of the rep that lies nearest to the mean of all in the
// ranges of motion of the three joints, of two as near the first; -1 without reps. A
// joint that no rep has does not count, and a rep that lacks another is not typical.
func TypicalRep(reps []Rep) int {
	best, least := min(0, len(reps)-1), math.Inf(1)
	var mean [body.NumJoints]float64
	for j := range mean {
		mean[j] = stat.Mean(ROMReadings(reps, body.Joint(j).Angle()).Deg, nil)
	}
	for i := range reps {
		d := 0.0
		for j := range mean {
			if !math.IsNaN(mean[j]) {
				d += math.Abs(reps[i].Angles[body.Joint(j).Angle()].ROMDeg - mean[j])
			}
		}
		if d < least {
			best, least = i, d
		}
	}
	return best
}
