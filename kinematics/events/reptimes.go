package events

import (
	"math"

	"holdfast/kinematics/notice"
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

// Given says whether a coach gave what was said of a rep; else it was found.
type Given bool

// MarshalText returns "given" or "found".
func (g Given) MarshalText() ([]byte, error) {
	if g {
		return []byte("given"), nil
	}
	return []byte("found"), nil
}

// UnmarshalText sets it by the same words.
func (g *Given) UnmarshalText(word []byte) error {
	*g = string(word) == "given"
	return nil
}

// TimeSDs are the standard deviations in seconds of the times of a rep; a time
// that is not known has NaN.
type TimeSDs struct {
	BottomS  float64 `json:"bottom_sd_s"`
	TakeoffS float64 `json:"takeoff_sd_s"`
	ContactS float64 `json:"contact_sd_s"`
}

// UnknownSDs are those of times of which nothing is known.
func UnknownSDs() TimeSDs { return TimeSDs{math.NaN(), math.NaN(), math.NaN()} }

// RepTimes says when a rep and its parts took place, and how it was done. Times are clip
// times in seconds.
type RepTimes struct {
	Number int   `json:"number"`
	Tempo  Tempo `json:"tempo"`
	// TempoGiven says the tempo was set by the coach and not found.
	TempoGiven Given `json:"tempo_source"`
	// Between says that the set lies between slow and fast, and by what the tempo was found:
	// it then counts as slow.
	Between bool `json:"tempo_between"`
	// Partial says the clip begins or ends inside the rep, or that a gap in
	// the tracking hides part of it; PartialWhy says which.
	Partial    bool          `json:"partial"`
	PartialWhy notice.Notice `json:"partial_reason,omitzero"`
	// Cut says that the clip is cut inside the rep; it is then Damaged as well.
	Cut bool `json:"-"`
	// Damaged says that frames of the rep that it cannot be measured without could not
	// be read; it is then Partial as well, and is not measured.
	Damaged bool `json:"-"`
	// RepeatOf is the number of the rep whose pictures this one shows again, as in a
	// looped clip; 0: none.
	RepeatOf int `json:"repeat_of,omitempty"`
	// LeftOut says that the coach left the rep out; it is then Partial as well.
	LeftOut bool `json:"-"`
	// The bottom is where the descent ends: the lowest hip, and where the hip dwells at
	// its lowest, the start of the dwell; BottomEndS is the end of the dwell. A jump from
	// the position that the last jump landed in begins with its push: start, bottom and
	// end of the dwell are then the same moment, and DescentS is NaN.
	StartS     float64 `json:"start_s"`
	BottomS    float64 `json:"bottom_s"`
	BottomEndS float64 `json:"bottom_end_s"`
	EndS       float64 `json:"end_s"`
	// FlightS is how long the feet are off the floor, 0 without a flight; TakeoffS,
	// ContactS and LandingBottomS are then NaN.
	FlightS        float64 `json:"flight_s"`
	TakeoffS       float64 `json:"takeoff_s"`
	ContactS       float64 `json:"contact_s"`
	LandingBottomS float64 `json:"landing_bottom_s"`
	// TimeSDS holds the standard deviations of bottom, take-off and contact; 1.96 of
	// them either way are a 95 % interval. They are known once the motion is smoothed.
	TimeSDS TimeSDs `json:",inline"`
	// DescentS and AscentS are the durations of those phases in seconds.
	DescentS float64 `json:"descent_s"`
	AscentS  float64 `json:"ascent_s"`
	// Depth is the hip's fall from stand to bottom as a part of leg length.
	Depth  float64 `json:"depth_leg_lengths"`
	Phases []Phase `json:"phases"`
	// Beside are the spans of standing beside the rep.
	Beside []trace.Span `json:"-"`
	// NeverUp says of a jump that it begins in the landing of the last one and ends in its
	// own, in a clip that shows no standing: how straight the athlete gets in it is an
	// accident of where the push and the landing are cut.
	NeverUp bool `json:"-"`
	// PeakSpeed is how fast the movement goes toward its turn at most, in the unit of its signal a second; NaN where the
	// points that tell it are hidden.
	PeakSpeed float64 `json:"-"`
}

// HasFlight says whether the feet left the floor in the rep.
func (r *RepTimes) HasFlight() bool { return r.FlightS > 0 }

// Counts says whether means and comparisons rest on the rep: it is whole and shows no
// earlier one again.
func (r *RepTimes) Counts() bool { return !r.Partial && r.RepeatOf == 0 }

// LeftOut is the code of why a rep is partial that the coach left out.
const LeftOut = "left_out"

// SpansOf returns the spans of the reps that the coach did not leave out.
func SpansOf(reps []RepTimes) []trace.Span {
	var spans []trace.Span
	for i := range reps {
		if !reps[i].LeftOut {
			spans = append(spans, trace.Span{FromS: reps[i].StartS, ToS: reps[i].EndS})
		}
	}
	return spans
}

// BottomsS returns when the bottoms of the reps are.
func BottomsS(reps []RepTimes) []float64 {
	atS := make([]float64, len(reps))
	for i := range reps {
		atS[i] = reps[i].BottomS
	}
	return atS
}
