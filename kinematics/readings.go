package kinematics

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
)

// readings collects a number and the error that its reps share; reps that do not have
// the number are left out.
func readings(reps []Rep, get func(*Rep) (value, sd float64)) stats.Readings {
	var r stats.Readings
	var sds []float64
	for i := range reps {
		v, sd := get(&reps[i])
		if !math.IsNaN(v) {
			r.Values = append(r.Values, v)
			sds = append(sds, sd)
		}
	}
	r.NoiseSD = signal.Median(sds)
	if len(reps) > 0 {
		r.Occasion = reps[0].Occasion
	}
	return r
}

// ROMReadings returns the ranges of motion of an angle over the reps, with the error
// that they share.
func ROMReadings(reps []Rep, a body.Angle) stats.Readings {
	return readings(reps, func(r *Rep) (float64, float64) { return r.Angles[a].ROMDeg, r.Angles[a].SharedSDDeg() })
}

// meanOfROM returns the mean range of motion of an angle over some whole reps, in degrees:
// [stats.Readings.Mean] of their readings r with the part of the network's error counted in
// that every position of the athlete shares. That part cancels in a change, but a mean alone
// is no surer than it. The standard deviation is NaN where no rep has an interval.
func meanOfROM(reps []Rep, a body.Angle, r stats.Readings, opt stats.Options) stats.Estimate {
	r.ClipSD = readings(reps, func(rep *Rep) (float64, float64) {
		return rep.Angles[a].ROMDeg, rep.Angles[a].ClipSDDeg()
	}).NoiseSD
	return r.Mean(opt)
}

// Means are the means of the whole reps of one tempo in a clip, in degrees.
type Means struct {
	Tempo events.Tempo `json:"tempo"`
	Reps  int          `json:"reps"`
	// ROMDeg are those of the ranges of motion, AtBottomDeg of the angles at the bottom and AtLandingDeg of those at the
	// landing's bottom.
	ROMDeg       body.ByAngle[stats.Estimate] `json:"rom_deg"`
	AtBottomDeg  body.ByAngle[stats.Estimate] `json:"at_bottom_deg"`
	AtLandingDeg body.ByAngle[stats.Estimate] `json:"at_landing_deg"`
	// Flown says that they are jumps, ZeroKnown that the angles are counted from the athlete's own standing, Between that
	// the reps are neither slow nor fast, and count as the tempo.
	Flown     bool `json:"flown"`
	ZeroKnown bool `json:"zero_known"`
	Between   bool `json:"tempo_between"`
}

// MeansOf returns the means of the whole reps of a clip, tempo by tempo, the easiest first.
func MeansOf(reps []Rep) []Means {
	out := []Means{}
	for _, g := range ByTempo(slices.DeleteFunc(slices.Clone(reps), func(r Rep) bool { return !r.Counts() })) {
		m := Means{Tempo: g.Reps[0].Tempo, Reps: len(g.Reps), ZeroKnown: g.zeroKnown(body.KneeFlexion),
			Flown:   slices.ContainsFunc(g.Reps, func(r Rep) bool { return r.HasFlight() }),
			Between: !slices.ContainsFunc(g.Reps, func(r Rep) bool { return !r.Between })}
		for a := range body.NumAngles {
			opt := AngleQuantity(a).options()
			m.ROMDeg[a] = meanOfROM(g.Reps, a, ROMReadings(g.Reps, a), opt)
			m.AtBottomDeg[a] = atBottom(g.Reps, a).Mean(opt)
			m.AtLandingDeg[a] = atLanding(g.Reps, a).Mean(opt)
		}
		out = append(out, m)
	}
	return out
}

// spreadOfROM returns the standard deviation of an angle's range of motion between the
// reps, in degrees; NaN with fewer than two.
func spreadOfROM(reps []Rep, a body.Angle) float64 {
	v := ROMReadings(reps, a).Values
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
		mean[j] = stat.Mean(ROMReadings(reps, body.Joint(j).Angle()).Values, nil)
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

// typicalNumber returns the number of the most typical rep, 0 without reps.
func typicalNumber(reps []Rep) int {
	if i := TypicalRep(reps); i >= 0 {
		return reps[i].Number
	}
	return 0
}

// MeanROM returns the mean range of motion of each joint over the reps, 0 where it is
// not known.
func MeanROM(reps []Rep) body.ByJoint[float64] {
	var v body.ByJoint[float64]
	for j := range v {
		if known := ROMReadings(reps, body.Joint(j).Angle()).Values; len(known) > 0 {
			v[j] = stat.Mean(known, nil)
		}
	}
	return v
}
