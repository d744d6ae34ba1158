package kinematics

import (
	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

// PhaseName names a part of a rep.
type PhaseName string

// The phases of a rep, in order. A rep without a flight goes descent, bottom,
// ascent, and the stand that follows on its end, half a second of it at most; one
// with a flight goes descent, bottom, take-off (the push), flight, landing
// (contact to landing bottom), recovery. A phase that does not last is left out.
const (
	PhaseStand    PhaseName = "stand"
	PhaseDescent  PhaseName = "descent"
	PhaseBottom   PhaseName = "bottom"
	PhaseAscent   PhaseName = "ascent"
	PhaseTakeoff  PhaseName = "take-off"
	PhaseFlight   PhaseName = "flight"
	PhaseLanding  PhaseName = "landing"
	PhaseRecovery PhaseName = "recovery"
)

// WholeRep stands in place of a phase's name for all of a rep but its flight.
const WholeRep PhaseName = "whole"

// Phase is a named part of a rep; clip times in seconds.
type Phase struct {
	Name   PhaseName `json:"name"`
	StartS float64   `json:"start_s"`
	EndS   float64   `json:"end_s"`
}

// Span returns the time that the phase lasts.
func (p Phase) Span() trace.Span { return trace.Span{FromS: p.StartS, ToS: p.EndS} }

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

// RepTimes says when a rep and its parts took place, and how it was done.
type RepTimes struct {
	Number int
	Tempo  Tempo
	// TempoGiven says the tempo was set by the coach and not found.
	TempoGiven bool
	// Partial says the clip begins or ends inside the rep, or that a gap in
	// the tracking hides part of it; PartialWhy says which.
	Partial    bool
	PartialWhy string
	// Damaged says that frames of the rep that it cannot be measured without could not
	// be read; it is then Partial as well, and is not measured.
	Damaged bool
	// LeftOut says that the coach left the rep out; it is then Partial as well.
	LeftOut bool
	// StartS, BottomS and EndS are clip times in seconds. The bottom is where
	// the descent ends: the lowest hip, and where the hip dwells at its lowest,
	// the start of the dwell. A jump from the position that the last jump landed
	// in begins with its push: start, bottom and end of the dwell are then the
	// same moment, and DescentS is NaN.
	StartS, BottomS, EndS float64
	// BottomEndS is the end of the dwell at the bottom.
	BottomEndS float64
	// TakeoffS, ContactS, LandingBottomS and FlightS are NaN without a flight.
	TakeoffS, ContactS, LandingBottomS, FlightS float64
	Phases                                      []Phase
	// Beside are the spans of standing beside the rep.
	Beside []trace.Span
	// DescentS and AscentS are the durations of those phases in seconds.
	DescentS, AscentS float64
	// PeakDescentSpeed is the fastest fall of the hip in leg lengths a second.
	PeakDescentSpeed float64
	// Depth is the hip's fall from stand to bottom as a part of leg length.
	Depth float64
}

// HasFlight says whether the feet left the floor in the rep.
func (r *RepTimes) HasFlight() bool { return r.FlightS > 0 }

// Measures are what the angles did in one rep.
type Measures struct {
	// TimeSDS holds the standard deviations of bottom, take-off and contact; 1.96
	// of them either way are a 95 % interval.
	TimeSDS TimeSDs
	// Loaded lists the spans over which minimum, maximum and ROM are taken:
	// the whole rep, without flight and without the heel-off of a push to
	// take-off or of a landing on the toes (a pointed foot is no ankle range).
	Loaded []trace.Span
	Angles [body.NumAngles]AngleMeasure
}

// Rep is one repetition. The angles of a damaged one are NaN.
type Rep struct {
	RepTimes
	Measures
	// Occasion is when it was filmed, by any name; the caller sets it where clips of
	// several occasions are compared.
	Occasion string
	// Support is where the weight acted along the foot: the whole rep first, then each
	// phase but the flight, in order. Nil until it is measured, see [SupportOf].
	Support []SupportSpan
	// Quality is how well the clip shows the rep.
	Quality Quality
}
