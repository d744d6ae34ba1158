package frontal

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/stats"
)

// Legs are hip, knee and ankle of both sides in one picture.
type Legs [2]struct{ Hip, Knee, Ankle body.Point }

// legsAt returns the legs in sample i.
func legsAt(points *[2][body.NumLandmarks]body.Path, i int) (l Legs) {
	for side := range l {
		p := body.LimbAt(&points[side], i)
		l[side].Hip, l[side].Knee, l[side].Ankle = p[body.Hip], p[body.Knee], p[body.Ankle]
	}
	return l
}

// vec is a way in the picture, pixels, x right and y down.
type vec struct{ x, y float64 }

func from(a, b body.Point) vec { return vec{b.X - a.X, b.Y - a.Y} }

func (v vec) length() float64           { return math.Hypot(v.x, v.y) }
func (v vec) dot(w vec) float64         { return v.x*w.x + v.y*w.y }
func (v vec) cross(w vec) float64       { return v.x*w.y - v.y*w.x }
func middle(a, b body.Point) body.Point { return body.Point{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2} }

// KneeIn returns the frontal plane projection angle of a side in degrees and what the points' noise makes of it. With t
// the way from hip to knee and s that from knee to ankle
//
//	angle = atan2(t x s, t . s), positive with the knee on the side of the other hip
//
//	var = hip^2/|t|^2 + ankle^2/|s|^2 + knee^2 (1/|t|^2 + 1/|s|^2 + 2 cos(angle)/(|t| |s|))
//
// as a knee that moves turns both lines, against each other.
func (l *Legs) KneeIn(side body.Side) stats.Estimate {
	leg := &l[side]
	t, s := from(leg.Hip, leg.Knee), from(leg.Knee, leg.Ankle)
	turn := math.Atan2(t.cross(s), t.dot(s))
	across := from(leg.Hip, leg.Ankle).cross(from(leg.Hip, l[side.Opposite()].Hip))
	a, b := 1/t.length(), 1/s.length()
	variance := sq(leg.Hip.SDPx*a) + sq(leg.Ankle.SDPx*b) + sq(leg.Knee.SDPx)*(a*a+b*b+2*math.Cos(turn)*a*b)
	if across > 0 {
		turn = -turn
	}
	return estimate(turn*body.DegPerRad, math.Sqrt(variance)*body.DegPerRad)
}

// UprightDeg returns by how much the line from the middle of the ankles to the middle of the hips is turned clockwise
// against the picture's vertical, degrees.
func (l *Legs) UprightDeg() float64 {
	up := from(middle(l[body.Left].Ankle, l[body.Right].Ankle), middle(l[body.Left].Hip, l[body.Right].Hip))
	return math.Atan2(up.x, -up.y) * body.DegPerRad
}

// HipTilt returns how far the left hip is higher than the right one, degrees, in a picture turned clockwise by
// uprightDeg.
func (l *Legs) HipTilt(uprightDeg float64) stats.Estimate {
	line := from(l[body.Right].Hip, l[body.Left].Hip)
	left, up := l.axes(uprightDeg)
	sd := math.Hypot(l[body.Left].Hip.SDPx, l[body.Right].Hip.SDPx) / line.length()
	return estimate(math.Atan2(line.dot(up), line.dot(left))*body.DegPerRad, sd*body.DegPerRad)
}

// Shift returns how far the middle of the hips lies toward the athlete's left of the middle of the ankles, per cent of
// the ankles' distance d, in a picture turned clockwise by uprightDeg. With p the way between the middles
//
//	shift = 100 p . left / d,  var = 100^2 (sum of the four points' variances) / (4 d^2)
func (l *Legs) Shift(uprightDeg float64) stats.Estimate {
	p := from(middle(l[body.Left].Ankle, l[body.Right].Ankle), middle(l[body.Left].Hip, l[body.Right].Hip))
	d := from(l[body.Right].Ankle, l[body.Left].Ankle).length()
	left, _ := l.axes(uprightDeg)
	var variance float64
	for side := range l {
		variance += sq(l[side].Hip.SDPx) + sq(l[side].Ankle.SDPx)
	}
	return estimate(100*p.dot(left)/d, 100*math.Sqrt(variance)/(2*d))
}

// axes returns the directions to the athlete's left and up in a picture turned clockwise by deg.
func (l *Legs) axes(deg float64) (left, up vec) {
	sin, cos := math.Sincos(deg / body.DegPerRad)
	left, up = vec{cos, sin}, vec{sin, -cos}
	if from(l[body.Right].Hip, l[body.Left].Hip).dot(left) < 0 { // a mirrored picture
		left = vec{-cos, -sin}
	}
	return left, up
}

// thighPx returns the mean length of both thighs in the picture.
func (l *Legs) thighPx() float64 {
	return (from(l[body.Left].Hip, l[body.Left].Knee).length() + from(l[body.Right].Hip, l[body.Right].Knee).length()) / 2
}

// estimate returns an estimate, unknown where a part of it is.
func estimate(value, sd float64) stats.Estimate {
	if math.IsNaN(value) || math.IsInf(value, 0) || math.IsNaN(sd) || math.IsInf(sd, 0) {
		return stats.Unknown()
	}
	return stats.Estimate{Value: value, SD: sd}
}

func sq(x float64) float64 { return x * x }
