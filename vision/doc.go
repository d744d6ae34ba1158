// Package vision turns the pictures of a clip into points: it finds the athlete and follows the body through the clip.
//
//	clip, err := media.Open(ctx, path)
//	tracker, err := vision.NewTracker(vision.TrackerOptions{})
//	track, err := tracker.Track(ctx, clip, nil)      // 33 points a frame
//
// Its rooms: media reads clips and writes videos, pose holds what was seen, camera tells how the camera moved, foot how
// the foot is pitched, decode reads a network's numbers, paint draws on pictures, and plane is about places in them.
//
// OpenCV's memory is freed by whoever made it, and its types stay in these rooms: pictures leave as a [paint.Canvas].
package vision
