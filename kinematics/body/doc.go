// Package body knows how an athlete is built: the points of the body that a side-on
// picture shows, the angles between them and what the points' noise makes of those, the
// masses of the segments, and what a pose network does to the points ([Calibration]).
// [Fit] puts one body, of constant lengths and with feet that do not slide, through all
// points of a clip.
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
//	arm     u   angle of shoulder->elbow from the trunk's way down, + elbow in front
//
//	KneeFlexion       = t + s   0 straight, + flexed, - hyperextended
//	HipFlexion        = t + l   0 trunk and thigh in line, + flexed; it holds
//	                            the bend of the lower back as well
//	AnkleDorsiflexion = s + p   0 shank square to the foot, + dorsiflexed
//	ShankAngle        = s
//	TrunkLean         = l
//	ThighAngle        = t - 90  0 thigh level, - hip still above the knee
//	FootPitch         = p
//	ShoulderFlexion   = u       0 arm beside the trunk, 180 overhead and in line with it,
//	                            more behind the head, - behind the back
//	ElbowFlexion                0 straight, + flexed: the forearm turned on the way that
//	                            flexion turns the upper arm
//
// Flexion of the elbow counts from straight, as the joint coordinate systems of the
// International Society of Biomechanics do (Wu et al. 2005, J Biomech 38:981-992; from
// memory). For the shoulder they have the plane of elevation and the elevation, and no
// flexion: what is called so here is the clinic's, in the plane of the picture.
//
// The zero positions are those of the clinic (neutral-zero method: upright
// standing is 0 for every joint, the foot square to the leg). Angles keep their
// sign until after smoothing: the unsigned included angle of noisy points can
// never read fully straight: it falls short of 180 by sd sqrt(2/pi) on average.
package body
