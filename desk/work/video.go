package work

import (
	"context"

	"holdfast/vision"
)

// pageVideo makes the video that the page plays: H.264 without sound and without
// what the phone noted beside the picture, with a key frame often enough to jump to
// any frame at once.
func pageVideo(ctx context.Context, clip *vision.Clip, path string, progress vision.Progress) error {
	return vision.Transcode(ctx, clip, path, vision.TranscodeOptions{}, progress)
}
