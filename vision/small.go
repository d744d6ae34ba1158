package vision

import (
	"math"

	"gocv.io/x/gocv"
)

// People who are small in the picture are looked for in parts of it. Common practice, no
// source, but where said.
const (
	// smallScanSidePx is the longer side of the pictures that are searched in parts.
	smallScanSidePx = 1280
	// smallParts of the longer side is a part as long; neighbours overlap by half. A figure
	// of 140 pixels in 1280 is then a third of a part.
	smallParts = 3
	// hardlySeen is the part of the looks in which the athlete was found, under which
	// people are looked for in parts.
	hardlySeen = 0.5
	// closeLook is the square, in parts of the body's circle, in which a small athlete is
	// looked for again.
	closeLook = 2.5
	// sameFigure is how near to another, in parts of the body's circle, a figure found in
	// a second part is the same.
	sameFigure = 0.3
)

// small finds people who are small in a picture, best first within each part: those
// who are whole in a part of it.
func (f *finder) small(picture gocv.Mat) ([]Detection, error) {
	var found []Detection
	for _, part := range partsOf(float64(picture.Cols()), float64(picture.Rows())) {
		people, err := f.in(picture, part)
		if err != nil {
			return nil, err
		}
		for _, d := range people {
			if part.holds(d) {
				found = addFigure(found, d)
			}
		}
	}
	return found, nil
}

// partsOf returns overlapping squares that cover a picture of the given size.
func partsOf(w, h float64) []Region {
	side := math.Min(math.Max(w, h)/smallParts, math.Min(w, h))
	places := func(length float64) []float64 {
		n := int(math.Ceil((length - side) / (side / 2)))
		out := []float64{side / 2}
		for i := 1; i <= n; i++ {
			out = append(out, math.Min(side/2+float64(i)*side/2, length-side/2))
		}
		return out
	}
	var parts []Region
	for _, y := range places(h) {
		for _, x := range places(w) {
			parts = append(parts, Region{CX: x, CY: y, SizePx: side})
		}
	}
	return parts
}

// holds says whether a figure lies whole in a square that is not turned.
func (r Region) holds(d Detection) bool {
	half, reach := r.SizePx/2, d.SizePx()/2
	for _, p := range [2][2]float64{d.Hip, d.Crown} {
		if math.Abs(p[0]-r.CX) > half || math.Abs(p[1]-r.CY) > half {
			return false
		}
	}
	// The feet lie as far below the hips as the head above.
	return d.Hip[1]+reach <= r.CY+half*1.05
}

// addFigure adds a figure, or puts it in place of the same one found with a lower score.
func addFigure(found []Detection, d Detection) []Detection {
	for i, f := range found {
		if math.Hypot(f.Hip[0]-d.Hip[0], f.Hip[1]-d.Hip[1]) < sameFigure*math.Max(f.SizePx(), d.SizePx()) {
			if d.Score > f.Score {
				found[i] = d
			}
			return found
		}
	}
	return append(found, d)
}
