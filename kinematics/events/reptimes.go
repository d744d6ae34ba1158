package events

import "holdfast/kinematics/trace"

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

// LeftOutWhy is the RepTimes.PartialWhy of a rep that the coach left out.
const LeftOutWhy = "left out by the coach"
