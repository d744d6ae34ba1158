package annotate

import (
	"testing"

	"holdfast/internal/compared"
	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/vision/paint"
)

// BenchmarkDraw measures the drawing of one annotated frame of 1280 × 720
// pixels, without decoding and encoding.
func BenchmarkDraw(b *testing.B) {
	a, _ := compared.Analysis(b, "fast", "fast")
	compared.WithBody(a)
	an, err := newAnnotator(motion.New(a), 1280, 720)
	if err != nil {
		b.Fatal(err)
	}
	defer an.close()
	frame, err := paint.NewCanvas(1280, 720, drawn.Paper)
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
	a, tr := compared.Analysis(b, "fast", "fast")
	compared.WithBody(a)
	for b.Loop() {
		writeInto(b, a, tr, Options{Video: true})
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N*len(tr.Poses)), "ms/frame")
}
