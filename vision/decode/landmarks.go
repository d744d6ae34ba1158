package decode

import (
	"math"

	"holdfast/models"
)

// Landmark is a point of the body: U and V in parts of the region, 0 to 1; Z in the same unit; Spread in the same unit,
// NaN where the heat map says nothing.
type Landmark struct {
	U, V, Z, Visibility, Presence, Spread float64
}

// Landmarks turns the landmark network's raw output into points. raw holds
// five numbers a point (x, y, z in pixels of the input, visibility and presence
// as logits). heat holds rows*cols*points logits, point fastest; with refine set,
// the mean of the heat map around each regressed point replaces it, as in the
// weights' own pipeline. The rule names the square's side and the least peak in
// it for the heat map to be used.
func Landmarks(raw, heat []float32, points, inputPx, rows, cols int, rule *models.Landmarks,
	refine bool) []Landmark {
	out := make([]Landmark, points)
	n := float64(inputPx)
	half := (rule.HeatmapKernel - 1) / 2
	for i := range out {
		r := raw[i*5 : i*5+5]
		p := &out[i]
		p.U, p.V, p.Z = float64(r[0])/n, float64(r[1])/n, float64(r[2])/n
		p.Visibility, p.Presence = sigmoid(r[3]), sigmoid(r[4])
		p.Spread = math.NaN()
		if len(heat) < rows*cols*points {
			continue
		}
		col, row := int(p.U*float64(cols)), int(p.V*float64(rows))
		if col < 0 || col >= cols || row < 0 || row >= rows {
			continue
		}
		var sum, sumC, sumR, sumCC, sumRR, peak float64
		for y := max(0, row-half); y < min(rows, row+half+1); y++ {
			for x := max(0, col-half); x < min(cols, col+half+1); x++ {
				w := sigmoid(heat[(y*cols+x)*points+i])
				sum += w
				sumC += w * float64(x)
				sumR += w * float64(y)
				sumCC += w * float64(x*x)
				sumRR += w * float64(y*y)
				peak = math.Max(peak, w)
			}
		}
		if sum <= 0 || peak < rule.HeatmapMinConfidence {
			continue
		}
		mc, mr := sumC/sum, sumR/sum
		variance := (sumCC/sum - mc*mc) + (sumRR/sum - mr*mr)
		p.Spread = math.Sqrt(math.Max(0, variance/2)) / float64(cols)
		if refine {
			p.U, p.V = mc/float64(cols), mr/float64(rows)
		}
	}
	return out
}

func sigmoid(x float32) float64 { return 1 / (1 + math.Exp(-float64(x))) }
