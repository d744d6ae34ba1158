// Package events finds what happens in a clip, and when, in a [trace.Trace]:
//
//	FindFlights   both feet off the floor, and a body that falls as it must
//	FindStand     quiet upright standing, which the angles are counted from
//	FindReps      from standing to standing with feet in place: the reps, each parted
//	              where its descent, dwell, ascent, push, landing and recovery begin
//	MarkDamaged   reps that lack frames they cannot be measured without
//	SetTempos     slow, fast or jump
//
// A moment is read from a whole movement and not from where it passes a threshold: a
// body that comes to rest does so too softly for that. The ways down and up are fitted
// by minimum-jerk movements, take-off and contact by the break in the way of the toes.
//
// Times are seconds of the clip; heights are leg lengths (thigh plus shank) over the
// standing ankle.
package events
