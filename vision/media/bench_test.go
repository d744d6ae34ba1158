package media

import (
	"errors"
	"io"
	"testing"
)

// BenchmarkNext measures the decoding of one frame of 1280 × 720 of a clip that is read again and again.
func BenchmarkNext(b *testing.B) {
	clip, err := Open(b.Context(), "../../testdata/clips/fast_30.mp4")
	if err != nil {
		b.Fatal(err)
	}
	open := func() *Frames {
		frames, err := clip.Frames(b.Context())
		if err != nil {
			b.Fatal(err)
		}
		return frames
	}
	frames := open()
	defer func() { _ = frames.Close() }()
	for b.Loop() {
		frame, err := frames.Next()
		if errors.Is(err, io.EOF) {
			_ = frames.Close()
			frames = open()
			continue
		}
		if err != nil {
			b.Fatal(err)
		}
		frame.Close()
	}
}
