// Package kinematics turns the body points of a side-on clip into numbers a
// coach can use: joint angles, repetitions, and the range of motion that speed
// takes away. It knows nothing of pictures, files or the clock: points and
// times go in, numbers come out.
//
// # Axes and signs
//
// Points are pixels of the upright picture: x to the right, y down. Every sum is
// first turned into the athlete's own sagittal axes
//
//	forward = facing * dx      facing +1 looks right, -1 looks left
//	up      = -dy
//
// so that a mirrored clip gives the same angles. All angles are degrees in the
// plane of the picture. They are projections of the body on that plane and not
// the three-dimensional joint angles of a motion laboratory.
//
//	thigh   t   angle of hip->knee from straight down, + knee in front of hip
//	shank   s   angle of ankle->knee from straight up, + knee in front of ankle
//	trunk   l   angle of hip->shoulder from straight up, + shoulder in front
//	foot    p   angle of heel->toe from level, + toe up, - heel up
//
//	KneeFlexion       = t + s   0 straight, + flexed, - hyperextended
//	HipFlexion        = t + l   0 trunk and thigh in line, + flexed; it holds
//	                            the bend of the lower back as well
//	AnkleDorsiflexion = s + p   0 shank square to the foot, + dorsiflexed
//	ShankAngle        = s
//	TrunkLean         = l
//	ThighAngle        = t - 90  0 thigh level, - hip still above the knee
//	FootPitch         = p
//
// The zero positions are those of the clinic (neutral-zero method: upright
// standing is 0 for every joint, the foot square to the leg). Angles keep their
// sign until after smoothing: the unsigned included angle of noisy points can
// never read fully straight, see [UnsignedBiasDeg].
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
