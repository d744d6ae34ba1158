package camera

import (
	"holdfast/vision/media"
	"holdfast/vision/plane"
)

// Placed is a frame on its way from the decoder to the tracker, with what is known of
// where it was filmed from.
type Placed struct {
	Frame  *media.Frame
	Err    error
	Camera plane.Similarity // from the frame to the first of its scene, in pixels of the clip
	Cut    bool             // the clip was cut before this frame
	Scene  int
}

// Close frees the frame.
func (d *Placed) Close() {
	if d.Frame != nil {
		d.Frame.Close()
	}
}
