package plane

import "math"

// Similarity maps places of one picture to places of another that is shifted,
// turned and scaled:
//
//	x' = Scale (cos(a) x - sin(a) y) + DXPx
//	y' = Scale (sin(a) x + cos(a) y) + DYPx
//
// with a = AngleDeg, positive clockwise as seen on the screen. Pose.Camera leads
// from the frame to the first frame of the clip. The zero value maps every place
// to itself.
type Similarity struct {
	Scale    float64 `json:"scale"`
	AngleDeg float64 `json:"angle_deg"`
	DXPx     float64 `json:"dx_px"`
	DYPx     float64 `json:"dy_px"`
	// Known says that the background gave enough to go by; when false, the
	// other numbers are the identity or the last that were known.
	Known bool `json:"-"`
	// Inliers is the number of background points that agree, RMSPx how well
	// they do, in pixels of the clip.
	Inliers int     `json:"-"`
	RMSPx   float64 `json:"-"`
}

// Apply maps a place.
func (s Similarity) Apply(p XY) XY {
	k := s.Scale
	if k == 0 {
		return p
	}
	sin, cos := math.Sincos(s.AngleDeg * math.Pi / 180)
	return XY{k*(cos*p.X-sin*p.Y) + s.DXPx, k*(sin*p.X+cos*p.Y) + s.DYPx}
}

// Place is Apply for a place that is x and y.
func (s Similarity) Place(p [2]float64) [2]float64 {
	q := s.Apply(XY{p[0], p[1]})
	return [2]float64{q.X, q.Y}
}

// Inverse returns the map that leads back.
func (s Similarity) Inverse() Similarity {
	if s.Scale == 0 {
		return s
	}
	out := Similarity{Scale: 1 / s.Scale, AngleDeg: -s.AngleDeg, Known: s.Known, Inliers: s.Inliers,
		RMSPx: s.RMSPx / s.Scale}
	back := out.Apply(XY{s.DXPx, s.DYPx})
	out.DXPx, out.DYPx = -back.X, -back.Y
	return out
}

// Then returns the map that applies s first and t after it.
func (s Similarity) Then(t Similarity) Similarity {
	if s.Scale == 0 {
		return t
	}
	if t.Scale == 0 {
		return s
	}
	at := t.Apply(XY{s.DXPx, s.DYPx})
	return Similarity{Scale: s.Scale * t.Scale, AngleDeg: math.Remainder(s.AngleDeg+t.AngleDeg, 360), DXPx: at.X,
		DYPx: at.Y}
}

// MovesPx returns how far the map moves the middle part of a picture of the
// given size: the largest of five places.
func (s Similarity) MovesPx(w, h float64) float64 {
	far := 0.0
	for _, p := range [5]XY{{w / 2, h / 2}, {w / 4, h / 4}, {3 * w / 4, h / 4}, {w / 4, 3 * h / 4},
		{3 * w / 4, 3 * h / 4}} {
		q := s.Apply(p)
		far = math.Max(far, math.Hypot(q.X-p.X, q.Y-p.Y))
	}
	return far
}

// Toward returns the map that lies a part of the way from s to t, which differ
// little; it is known when both are.
func (s Similarity) Toward(t Similarity, part float64) Similarity {
	mix := func(a, b float64) float64 { return a + part*(b-a) }
	return Similarity{
		Scale: mix(s.Scale, t.Scale), AngleDeg: s.AngleDeg + part*math.Remainder(t.AngleDeg-s.AngleDeg, 360),
		DXPx: mix(s.DXPx, t.DXPx), DYPx: mix(s.DYPx, t.DYPx), Known: s.Known && t.Known, Inliers: min(s.Inliers, t.Inliers),
		RMSPx: math.Max(s.RMSPx, t.RMSPx),
	}
}
