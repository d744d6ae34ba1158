package kinematics

import (
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
)

// Rep is one repetition. The angles of a damaged one are NaN.
type Rep struct {
	events.RepTimes
	joints.Measures
	// Occasion is when it was filmed, by any name; the caller sets it where clips of
	// several occasions are compared.
	Occasion string `json:"-"`
	// Jump is nil without a flight, Landing without one that has a landing.
	Jump    *measure.Jump    `json:"jump"`
	Landing *measure.Landing `json:"landing"`
	Foot    *measure.Foot    `json:"foot"`
	// Support is where the weight acted along the foot: the whole rep first, then each
	// phase but the flight, in order. Nil until it is measured, see [measure.SupportOf].
	Support []measure.SupportSpan `json:"support"`
	// Quality is how well the clip shows the rep.
	Quality joints.Quality `json:"quality"`
}
