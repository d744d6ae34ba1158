// Package vision turns the pictures of a clip into points: it decodes frames with their own timestamps, finds the
// athlete, follows the body through the clip, and reads how the camera moved and how the foot is pitched. It also
// draws on frames and encodes them again.
//
//	clip, err := vision.Open(ctx, path)              // what the container says; no frame is decoded yet
//	tracker, err := vision.NewTracker(vision.TrackerOptions{})
//	track, err := tracker.Track(ctx, clip, nil)      // 33 points a frame
//
// Points are in pixels of the upright picture with square pixels, x to the right and y down, with a standard deviation
// in pixels; angles are in degrees; times are the frames' own, in seconds. What others wrote is not believed: files are
// looked through before a decoder sees them ([CheckContainer]), and decoders reach nothing else (package confine).
//
// OpenCV's memory is freed by whoever made it, and its types stay inside: pictures leave as a [Canvas].
package vision
