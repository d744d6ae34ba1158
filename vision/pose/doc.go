// Package pose holds what was seen of an athlete: a [Track] is one [Pose] a frame, a pose one [Keypoint] for each name
// of the network's. [WriteTrack] and [ReadTrack] keep it in a file.
//
// Points are in pixels of the upright picture with square pixels, with a standard deviation in pixels; angles are in
// degrees; times are the frames' own, in seconds.
package pose
