package work

import (
	"context"

	"holdfast/vision/media"
)

// pageVideo makes the video that the page plays: H.264 without sound and without
// what the phone noted beside the picture, with a key frame often enough to jump to
// any frame at once.
func pageVideo(ctx context.Context, clip *media.Clip, path string, progress media.Progress) error {
	return media.Transcode(ctx, clip, path, media.TranscodeOptions{}, progress)
}
