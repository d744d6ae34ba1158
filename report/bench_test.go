package report

import (
	"path/filepath"
	"testing"

	"holdfast/vision"
)

// BenchmarkDraw measures the drawing of one annotated frame of 1280 × 720
// pixels, without decoding and encoding.
func BenchmarkDraw(b *testing.B) {
	a, _ := truthAnalysis(b, "fast", "fast")
	withBody(a)
	an, err := newAnnotator(newMotion(a), 1280, 720)
	if err != nil {
		b.Fatal(err)
	}
	defer an.close()
	frame, err := vision.NewCanvas(1280, 720, paper)
	if err != nil {
		b.Fatal(err)
	}
	defer frame.Close()
	i := 0
	for b.Loop() {
		if _, err := an.draw(frame, 4+float64(i%60)/60, shown{}); err != nil {
			b.Fatal(err)
		}
		i++
	}
}

// BenchmarkAnnotate measures a whole annotated video of 1280 × 720 pixels:
// decoding, drawing and encoding, in milliseconds a frame.
func BenchmarkAnnotate(b *testing.B) {
	a, tr := truthAnalysis(b, "fast", "fast")
	withBody(a)
	for b.Loop() {
		if _, err := WriteAnalysis(b.Context(), filepath.Join(b.TempDir(), "out"), a, tr, Options{Video: true}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N*len(tr.Poses)), "ms/frame")
}
