package media

import (
	"image"

	"gocv.io/x/gocv"
)

// Shrink makes a small grey picture of src in dst, a whole number of times
// smaller, which is quick and keeps pixel places exact, and returns that number.
func Shrink(src gocv.Mat, small, dst *gocv.Mat, longestPx int) int {
	w, h := src.Cols(), src.Rows()
	f := max(1, (max(w, h)+longestPx-1)/longestPx)
	sw, sh := max(1, w/f), max(1, h/f)
	if f == 1 {
		gocv.CvtColor(src, dst, gocv.ColorBGRToGray)
		return 1
	}
	whole := src.Region(image.Rect(0, 0, min(w, sw*f), min(h, sh*f)))
	defer whole.Close()
	gocv.Resize(whole, small, image.Pt(sw, sh), 0, 0, gocv.InterpolationArea)
	gocv.CvtColor(*small, dst, gocv.ColorBGRToGray)
	return f
}
