package vision

import (
	"testing"

	"gocv.io/x/gocv"
)

// BenchmarkCut measures the cutting out of a turned region for the landmark network.
func BenchmarkCut(b *testing.B) {
	n, err := newNetwork("full", 1)
	if err != nil {
		b.Fatal(err)
	}
	defer n.Close()
	picture := gocv.NewMatWithSize(720, 1280, gocv.MatTypeCV8UC3)
	defer picture.Close()
	for b.Loop() {
		if err := n.cut(picture, Region{CX: 640, CY: 400, SizePx: 700, AngleRad: 0.1}); err != nil {
			b.Fatal(err)
		}
	}
}
