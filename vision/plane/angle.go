package plane

import "math"

// AngleDeg returns the angle at a corner between the ways to two other places, 0 to 180 degrees; NaN where one of them
// is the corner itself.
func AngleDeg(a, corner, b XY) float64 {
	ax, ay, bx, by := a.X-corner.X, a.Y-corner.Y, b.X-corner.X, b.Y-corner.Y
	if math.Hypot(ax, ay) == 0 || math.Hypot(bx, by) == 0 {
		return math.NaN()
	}
	return math.Abs(math.Atan2(ax*by-ay*bx, ax*bx+ay*by)) * 180 / math.Pi
}
