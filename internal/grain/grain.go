// Package grain fills pictures with detail and tells how much of it is left, for tests of what hides faces.
package grain

import (
	"image/color"
	"math"
	"math/rand/v2"

	"holdfast/vision/paint"
)

// Fill fills a picture with what no encoder and no blur can keep by chance.
func Fill(c *paint.Canvas, seed uint64) {
	r := rand.New(rand.NewPCG(seed, 1))
	for y := 0; y < c.HeightPx(); y += 2 {
		for x := 0; x < c.WidthPx(); x += 2 {
			v := uint8(40 + r.IntN(176))
			c.Rect(x, y, 2, 2, color.NRGBA{v, v, v, 255})
		}
	}
}

// Roughness is the mean step between neighbours of a disc's pixels, grey levels.
func Roughness(c *paint.Canvas, d paint.Disc) float64 {
	sum, n := 0.0, 0.0
	for y := int(d.At.Y - d.RadiusPx); y < int(d.At.Y+d.RadiusPx); y++ {
		for x := int(d.At.X - d.RadiusPx); x < int(d.At.X+d.RadiusPx); x++ {
			if math.Hypot(float64(x)+1-d.At.X, float64(y)+1-d.At.Y) > d.RadiusPx-2 ||
				x < 0 || y < 0 || x+2 >= c.WidthPx() || y+2 >= c.HeightPx() {
				continue
			}
			here := float64(c.At(x, y).G)
			sum += math.Abs(float64(c.At(x+2, y).G)-here) + math.Abs(float64(c.At(x, y+2).G)-here)
			n += 2
		}
	}
	return sum / n
}
