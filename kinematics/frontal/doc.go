// Package frontal says what only a clip from the front shows, in the plane of the picture:
//
//	knee in     frontal plane projection angle: the turn of the line from knee to ankle against that from hip to
//	            knee, degrees, 0 in line, positive with the knee inside the line from hip to ankle
//	difference  the left knee's less the right one's
//	shift       how far the middle of the hips lies toward the athlete's left of the middle of the ankles, per cent of
//	            the ankles' distance
//	hip tilt    how far the left hip is higher than the right one, degrees
//
// The knee's angle is that of Willson & Davis 2008 and of Munro, Herrington & Carolan 2012 (both from memory), who read
// it in single-leg squats and drop landings; it is no angle of the joint: a thigh that turns inward moves it as well
// as a knee that gives way. The way of the hips over the ankles is common practice, no source.
//
// Shift and tilt are counted from the athlete's own quiet standing, whose line from the middle of the ankles to that of
// the hips is taken for upright: so a camera that is turned a little changes nothing. The knee's angle is the picture's
// own.
//
// A thigh that points at the camera is short in the picture, and its direction there means little. Where it is
// shorter than half of its length in standing at the bottom, a rep is read on the way down, at the last moment before.
package frontal
