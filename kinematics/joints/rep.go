package joints

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// AngleMeasure is what one angle did in one rep, in degrees. A value that could
// not be had is NaN.
type AngleMeasure struct {
	// MinDeg, MaxDeg and ROMDeg (maximum minus minimum) are taken over the
	// loaded part of the rep, see Rep.Loaded.
	MinDeg             float64 `json:"min_deg"`
	MaxDeg             float64 `json:"max_deg"`
	ROMDeg             float64 `json:"rom_deg"`
	AtStandDeg         float64 `json:"at_stand_deg"`
	AtBottomDeg        float64 `json:"at_bottom_deg"`
	AtLandingBottomDeg float64 `json:"at_landing_bottom_deg"` // NaN unless the rep has a flight
	// ZeroKnown says that positions are counted from the athlete's own standing. Where none was
	// seen, those of bent joints read 12 to 19 degrees too high; a range does not.
	ZeroKnown bool `json:"zero_known"`
	// SDDeg is the standard deviation of a reading of MaxDeg or ROMDeg: the noise
	// of the points over this rep, the error of the network that differs between
	// positions, what is known of the view, and the doubt of a corrected peak. It
	// is what does not cancel in a loss.
	SDDeg float64 `json:"sd_deg"`
	// SystematicSDDeg is the part of SDDeg that is the same in every rep that
	// reaches the position, so that more reps do not average it out.
	SystematicSDDeg float64 `json:"systematic_sd_deg"`
	// ROMInterval95Deg is the 95 % interval of ROMDeg in this rep: SDDeg and what
	// every rep of the athlete shares, which cancels in a loss.
	ROMInterval95Deg [2]float64 `json:"rom_interval95_deg"`
	// PeakVelocityDegS is the largest rate of flexion in the descent or the
	// landing, degrees a second.
	PeakVelocityDegS float64 `json:"peak_velocity_deg_s"`
}

// toesDeg is how far an ankle points down beyond standing on the toes, in degrees. Common practice, no source.
const toesDeg = 10

// FromToes says of an ankle that the low end of its range is that of one who stands on the toes, not on flat feet.
func (am *AngleMeasure) FromToes() bool { return am.AtStandDeg-am.MinDeg > toesDeg }

// Measures are what the angles did in one rep.
type Measures struct {
	// Loaded lists the spans over which minimum, maximum and ROM are taken:
	// the whole rep, without flight and without the heel-off of a push to
	// take-off or of a landing on the toes (a pointed foot is no ankle range).
	Loaded []trace.Span               `json:"loaded"`
	Angles body.ByAngle[AngleMeasure] `json:"joints"`
}

// SharedSDDeg returns the standard deviation of what all reps share that reach the
// position; where that part is not known, all of the error is taken for it.
func (am *AngleMeasure) SharedSDDeg() float64 {
	if am.SystematicSDDeg > 0 {
		return am.SystematicSDDeg
	}
	return am.SDDeg
}

// ClipSDDeg returns the standard deviation of what every position of the athlete shares,
// which the interval of the range holds and SDDeg does not; NaN where there is no interval.
func (am *AngleMeasure) ClipSDDeg() float64 {
	lo, hi := am.ROMInterval95Deg[0], am.ROMInterval95Deg[1]
	if !(lo < hi) {
		return math.NaN()
	}
	half := am.ROMDeg - lo // the upper end also holds what a peak may be higher
	if lo <= 0 {
		half = hi - am.ROMDeg // the lower end was cut off
	}
	return math.Sqrt(max(0, sq(half/stats.Normal95)-sq(am.SDDeg)))
}
