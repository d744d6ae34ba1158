// Package kinematics turns the body points of a side-on clip into numbers a
// coach can use: joint angles, repetitions, and the range of motion that speed
// takes away. It knows nothing of pictures, files or the clock: points and
// times go in, numbers come out.
//
// Points are pixels of the upright picture; the angles, their signs and their zeros are
// those of package body.
//
// # The athlete's own zero
//
// A pose network does not put its points on the joint centres, and nobody
// stands with every joint at zero. Where the clip shows the athlete standing
// still, the standing knee, hip, shank and trunk angles are taken off, so that
// this athlete's standing reads 0 (Series.AnglesDeg), and the angles as they
// were are kept beside them (Series.RawAnglesDeg). Trunk lean is therefore the
// lean beyond the athlete's own standing. The thigh angle is not corrected: its
// zero is the horizontal.
//
// # From points to angles
//
//	repair   left and right exchanged are put back, single-frame spikes left out
//	resample to a uniform time base from the frames' own times, short gaps filled
//	smooth   one body of constant segment lengths fitted to the whole clip
//	         (near leg and trunk); zero-lag Butterworth with one cut-off for the
//	         rest, for finding the events, and for all when asked
//	angles   from smoothed points; foot pitch from how the heel and the ankle rise
//	reps     from the height of the hips and the floor contact of the feet
//
// A missing value is NaN everywhere. Times are seconds of the clip, lengths
// pixels, or leg lengths where a name says so. The leg length is thigh plus
// shank of the standing athlete.
package kinematics
