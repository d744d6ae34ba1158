package decode

import "math"

// Centred reads the points of the body in the middle of the picture from heat
// maps, as a manifest's centred rule says. All four hold rows*cols cells; heat has points values
// a cell, centre one, regress and offset two a point, y then x, in cells. A point's
// visibility is its heat; depth and spread are NaN, as these networks give none.
func Centred(heat, centre, regress, offset []float32, points, rows, cols int, softening float64) []Landmark {
	middle := 0
	for i, v := range centre {
		if v > centre[middle] {
			middle = i
		}
	}
	out := make([]Landmark, points)
	for k := range out {
		guess := 2 * (middle*points + k)
		y, x := float64(middle/cols)+float64(regress[guess]), float64(middle%cols)+float64(regress[guess+1])
		best, most := 0, math.Inf(-1)
		for row := range rows {
			for col := range cols {
				cell := row*cols + col
				near := float64(heat[cell*points+k]) / (math.Hypot(float64(row)-y, float64(col)-x) + softening)
				if near > most {
					best, most = cell, near
				}
			}
		}
		within := 2 * (best*points + k)
		out[k] = Landmark{
			U: (float64(best%cols) + float64(offset[within+1])) / float64(cols),
			V: (float64(best/cols) + float64(offset[within])) / float64(rows),
			Z: math.NaN(), Spread: math.NaN(), Visibility: float64(heat[best*points+k]), Presence: 1,
		}
	}
	return out
}

// MeanVisibility returns the mean of the points' visibilities.
func MeanVisibility(points []Landmark) float64 {
	sum := 0.0
	for _, p := range points {
		sum += p.Visibility
	}
	return sum / float64(len(points))
}
