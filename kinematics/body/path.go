package body

import (
	"math"

	"holdfast/kinematics/signal"
)

// Path is the way of one body point: pixels of the picture, x right, y down, one
// value a sample, NaN where it is not known.
type Path struct {
	X []float64 `json:"x"`
	Y []float64 `json:"y"`
	// SDPx is the standard deviation of the smoothed point in pixels.
	SDPx []float64 `json:"-"`
}

// MeasuredPitch is the pitch of the near foot where something else than its points told
// it, with the sign of [FootPitch]: degrees, one value a sample, NaN where nothing did. The
// zero value: nothing ever did.
type MeasuredPitch struct{ Deg, SDDeg []float64 }

// KnownAt says whether the pitch of sample i was told.
func (p *MeasuredPitch) KnownAt(i int) bool { return i < len(p.Deg) && p.SDDeg[i] > 0 }

// Dist returns how far two points lie apart in sample i.
func Dist(a, b *Path, i int) float64 { return math.Hypot(a.X[i]-b.X[i], a.Y[i]-b.Y[i]) }

// LimbAt returns the points of one side in sample i.
func LimbAt(p *[NumLandmarks]Path, i int) Limb {
	var l Limb
	for k := range p {
		l[k] = Point{X: p[k].X[i], Y: p[k].Y[i], SDPx: p[k].SDPx[i]}
	}
	return l
}

// Filtered returns a path smoothed at cutoffHz.
func (p Path) Filtered(rateHz, cutoffHz float64) Path {
	f, err := signal.NewLowpass(rateHz, cutoffHz)
	if err != nil {
		return p // too slow a clip to smooth: the points stay as they are
	}
	return Path{f.Smooth(p.X), f.Smooth(p.Y), p.SDPx}
}

// Where returns the path with those samples missing that known misses.
func (p Path) Where(known []float64) Path {
	for i, v := range known {
		if math.IsNaN(v) {
			p.X[i], p.Y[i], p.SDPx[i] = math.NaN(), math.NaN(), math.NaN()
		}
	}
	return p
}

// MedianLength returns the median distance of two points.
func MedianLength(a, b *Path) float64 {
	l := make([]float64, len(a.X))
	for i := range l {
		l[i] = Dist(a, b, i)
	}
	return signal.Median(l)
}

// WithSDs returns the limb with other standard deviations of its points.
func (l *Limb) WithSDs(sdPx *[NumLandmarks]float64) Limb {
	out := *l
	for k := range out {
		out[k].SDPx = sdPx[k]
	}
	return out
}

// Turned returns the path turned back by an angle that it is turned clockwise by.
func (p Path) Turned(deg float64) Path {
	if deg == 0 {
		return p
	}
	sin, cos := math.Sincos(deg / DegPerRad)
	out := Path{X: make([]float64, len(p.X)), Y: make([]float64, len(p.X)), SDPx: p.SDPx}
	for i := range p.X {
		out.X[i], out.Y[i] = cos*p.X[i]+sin*p.Y[i], cos*p.Y[i]-sin*p.X[i]
	}
	return out
}

func sq(x float64) float64 { return x * x }
