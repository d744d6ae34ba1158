package decode

import (
	"math"
	"testing"

	"holdfast/models"
)

func TestDecodeLandmarksHeatMap(t *testing.T) {
	rule := &models.Landmarks{HeatmapKernel: 7, HeatmapMinConfidence: 0.5}
	const rows, cols = 64, 64
	raw := []float32{128, 64, -10, 2, 2, 300, 64, 0, -2, -2}
	heat := make([]float32, rows*cols*2)
	for i := range heat {
		heat[i] = -20
	}
	heat[(16*cols+33)*2] = 8 // one cell right of the first point
	p := Landmarks(raw, heat, 2, 256, rows, cols, rule, true)
	if math.Abs(p[0].U-33.0/64) > 1e-6 || math.Abs(p[0].V-16.0/64) > 1e-6 {
		t.Errorf("refined to %.4f, %.4f", p[0].U, p[0].V)
	}
	if math.Abs(p[0].Visibility-0.8808) > 1e-4 || p[1].U != 300.0/256 || !math.IsNaN(p[1].Spread) {
		t.Errorf("got %+v", p)
	}
	if q := Landmarks(raw, heat, 2, 256, rows, cols, rule, false); q[0].U != 0.5 {
		t.Errorf("regression moved to %.4f", q[0].U)
	}
}
