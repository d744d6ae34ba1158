package footage

import (
	"errors"

	"holdfast/kinematics"
	"holdfast/kinematics/frontal"
	"holdfast/kinematics/trace"
)

// ViewChoice is from where a clip is said to be filmed.
type ViewChoice string

// The choices; ViewAuto asks for it to be found.
const (
	ViewAuto  ViewChoice = "auto"
	ViewSide  ViewChoice = "side"
	ViewFront ViewChoice = "front"
)

// FromWhere measures the observations from the side, or where the clip is said or found to be filmed from the front,
// from there. What is found to be from the front but shows no rep is refused as a clip from the side; one whose athlete
// turns is refused for that.
func FromWhere(obs []trace.Observation, how kinematics.Options, said ViewChoice, people int) (
	s *kinematics.Series, reps []kinematics.Rep, notices []kinematics.Notice, front bool, err error) {
	if said == ViewFront {
		s, reps, notices, err = kinematics.AnalyzeFront(obs, how)
		return s, reps, notices, true, err
	}
	s, reps, notices, err = kinematics.Analyze(obs, how)
	found := err == nil || errors.Is(err, kinematics.ErrNoReps) && people <= 1
	if said == ViewSide || !found || s.View.From != trace.ViewFront || s.View.SurelyDeg() < trace.TooObliqueDeg {
		return s, reps, notices, false, err
	}
	fs, freps, fnotices, ferr := kinematics.AnalyzeFront(obs, how)
	if errors.Is(ferr, frontal.ErrTurns) {
		return fs, nil, fnotices, true, ferr
	}
	if ferr != nil {
		return s, reps, notices, false, err
	}
	return fs, freps, fnotices, true, nil
}
