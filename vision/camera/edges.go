package camera

import (
	"fmt"
	"math"

	"gocv.io/x/gocv"

	"holdfast/vision/plane"
)

// Rooms have few corners but long edges: door frames, skirting boards, planks. A
// place on an edge tells the camera's motion across the edge, though not along it;
// edges of several directions together tell all of it.

// What an edge must be like; lengths are pixels of the small picture. Common
// practice, no source.
const (
	edgeCellPx    = 16  // one place of an edge in each such square
	mostEdges     = 260 // places of a key frame
	leastGradient = 8   // grey levels over two pixels
	profileReach  = 4   // pixels to both sides of the edge that are compared
	edgeAlike     = 0.85
	edgeMarginPx  = profileReach + 3
	widePx        = 9 // how far an edge is looked for when the points do not tell
	narrowPx      = 3
	edgesAgreeing = 0.75 // part of the places that must agree where no corners say where to look
	cornerNoisePx = 0.08
	edgeNoisePx   = 0.12
)

const profileSize = 2*profileReach + 1

// edgelet is a place on an edge of a key frame.
type edgelet struct {
	at      plane.XY
	nx, ny  float64 // unit vector across the edge
	profile [profileSize]float64
}

// greyPixels gives the pixels of a grey picture.
type greyPixels struct {
	pix  []uint8
	w, h int
}

func pixelsOf(m gocv.Mat) (greyPixels, error) {
	pix, err := m.DataPtrUint8()
	if err != nil {
		return greyPixels{}, fmt.Errorf("reading a grey picture: %w", err)
	}
	return greyPixels{pix, m.Cols(), m.Rows()}, nil
}

// at reads between pixels; the place must lie inside the picture.
func (g *greyPixels) at(x, y float64) float64 {
	ix, iy := int(x), int(y)
	fx, fy := x-float64(ix), y-float64(iy)
	p := g.pix[iy*g.w+ix:]
	return (float64(p[0])*(1-fx)+float64(p[1])*fx)*(1-fy) + (float64(p[g.w])*(1-fx)+float64(p[g.w+1])*fx)*fy
}

// read fills in the brightness along the line across an edge, v[i] at i-reach
// pixels from p; ok is false where the line leaves the picture.
func (g *greyPixels) read(v []float64, p plane.XY, nx, ny float64) bool {
	reach := float64(len(v)-1) / 2
	for _, s := range [2]float64{-reach, reach} {
		if x, y := p.X+s*nx, p.Y+s*ny; !(x >= 0 && y >= 0 && x < float64(g.w-1) && y < float64(g.h-1)) {
			return false
		}
	}
	for i := range v {
		s := float64(i) - reach
		v[i] = g.at(p.X+s*nx, p.Y+s*ny)
	}
	return true
}

// edgelets returns places on edges of the background: the steepest of each small
// square.
func edgelets(g greyPixels, open func(plane.XY) bool) []edgelet {
	var all []edgelet
	for y0 := edgeMarginPx; y0 < g.h-edgeMarginPx; y0 += edgeCellPx {
		for x0 := edgeMarginPx; x0 < g.w-edgeMarginPx; x0 += edgeCellPx {
			best := leastGradient * leastGradient
			bx, by, bdx, bdy := -1, -1, 0, 0
			for y := y0; y < min(y0+edgeCellPx, g.h-edgeMarginPx); y++ {
				for x := x0; x < min(x0+edgeCellPx, g.w-edgeMarginPx); x++ {
					i := y*g.w + x
					dx, dy := int(g.pix[i+1])-int(g.pix[i-1]), int(g.pix[i+g.w])-int(g.pix[i-g.w])
					if s := dx*dx + dy*dy; s > best {
						best, bx, by, bdx, bdy = s, x, y, dx, dy
					}
				}
			}
			p := plane.XY{X: float64(bx), Y: float64(by)}
			if bx < 0 || !open(p) {
				continue
			}
			l := math.Hypot(float64(bdx), float64(bdy))
			e := edgelet{at: p, nx: float64(bdx) / l, ny: float64(bdy) / l}
			if g.read(e.profile[:], p, e.nx, e.ny) {
				all = append(all, e)
			}
		}
	}
	if len(all) <= mostEdges {
		return all
	}
	out := make([]edgelet, 0, mostEdges)
	for i := range mostEdges { // evenly over the picture
		out = append(out, all[i*len(all)/mostEdges])
	}
	return out
}

// shift returns how far across the edge, in pixels, the profile is found in the
// picture about p, at most reach; ok is false where nothing there is like it.
func (e *edgelet) shift(g *greyPixels, p plane.XY, nx, ny float64, reach int) (float64, bool) {
	var buf [2*(widePx+profileReach) + 1]float64
	line := buf[:2*(reach+profileReach)+1]
	if !g.read(line, p, nx, ny) {
		return 0, false
	}
	var alike [2*widePx + 1]float64
	best := -1
	for s := range 2*reach + 1 {
		alike[s] = correlation(e.profile[:], line[s:s+profileSize])
		if best < 0 || alike[s] > alike[best] {
			best = s
		}
	}
	if alike[best] < edgeAlike || best == 0 || best == 2*reach {
		return 0, false
	}
	l, m, r := alike[best-1], alike[best], alike[best+1]
	d := 0.0
	if den := l - 2*m + r; den < 0 {
		d = 0.5 * (l - r) / den
	}
	return float64(best-reach) + d, true
}

// correlation returns the correlation of two equally long rows, 0 for level ones.
func correlation(a, b []float64) float64 {
	var sa, sb float64
	for i := range a {
		sa, sb = sa+a[i], sb+b[i]
	}
	n := float64(len(a))
	sa, sb = sa/n, sb/n
	var ab, aa, bb float64
	for i := range a {
		x, y := a[i]-sa, b[i]-sb
		ab, aa, bb = ab+x*y, aa+x*x, bb+y*y
	}
	if aa < n || bb < n {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}

// refine improves the map from a key frame to the picture at hand, by least
// squares over its corners, found at to, and its edges. Known says that most of
// them agree and that the map is sure in the middle; Inliers counts those that do.
func (k *keyframe) refine(start plane.Similarity, from, to []plane.XY, g greyPixels, open func(plane.XY) bool,
	reach int) plane.Similarity {
	m := start
	middle := plane.XY{X: float64(g.w) / 2, Y: float64(g.h) / 2}
	var inliers, tried int
	var ss, weight, sd float64
	for round := range 5 {
		var sum normal
		inliers, tried, ss, weight = 0, 0, 0, 0
		limit := consensusPx
		if round == 0 {
			limit = math.Max(consensusPx, float64(reach)/2)
		}
		for i, p := range from {
			q := m.Apply(p)
			ex, ey := to[i].X-q.X, to[i].Y-q.Y
			tried++
			if w := tukey(math.Hypot(ex, ey), limit); w > 0 {
				inliers++
				wn := w / sq(cornerNoisePx)
				sum.add(p, middle, 1, 0, to[i].X, wn)
				sum.add(p, middle, 0, 1, to[i].Y, wn)
				ss, weight = ss+w*(ex*ex+ey*ey)/2, weight+w
			}
		}
		sin, cos := math.Sincos(m.AngleDeg * math.Pi / 180)
		for i := range k.edges {
			e := &k.edges[i]
			q := m.Apply(e.at)
			if !open(q) {
				continue
			}
			nx, ny := cos*e.nx-sin*e.ny, sin*e.nx+cos*e.ny
			d, ok := e.shift(&g, q, nx, ny, reach)
			if !ok {
				if reach == narrowPx {
					tried++
				}
				continue
			}
			tried++
			if w := tukey(d, limit); w > 0 {
				inliers++
				sum.add(e.at, middle, nx, ny, nx*(q.X+d*nx)+ny*(q.Y+d*ny), w/sq(edgeNoisePx))
				ss, weight = ss+w*d*d, weight+w
			}
		}
		next, middleSD, ok := sum.solve(middle)
		if !ok {
			return plane.Similarity{Inliers: inliers}
		}
		m, sd = next, middleSD
		reach = narrowPx
	}
	m.Inliers = inliers
	m.RMSPx = math.Sqrt(ss / math.Max(weight, 1e-9))
	// Errors larger than expected make the map as much less sure.
	sd *= math.Max(1, m.RMSPx/edgeNoisePx)
	agreeing := leastAgreeing
	if len(from) == 0 {
		agreeing = edgesAgreeing
	}
	m.Known = inliers >= leastInliers && float64(inliers) >= agreeing*float64(tried) && sd < mostMiddleSD &&
		math.Abs(math.Log(m.Scale)) < 0.3
	return m
}

// tukey is the weight of an error, 1 for none and 0 from the limit on.
func tukey(off, limit float64) float64 {
	u := off / limit
	if u <= -1 || u >= 1 {
		return 0
	}
	return sq(1 - u*u)
}

// normal holds the sums of a least-squares fit of a similarity
//
//	x' = a x - b y + c,  y' = b x + a y + d
//
// to places of which some part, along (nx, ny), is known.
type normal struct {
	a [4][4]float64
	b [4]float64
}

func (s *normal) add(p, middle plane.XY, nx, ny, value, weight float64) {
	x, y := p.X-middle.X, p.Y-middle.Y
	row := [4]float64{nx*x + ny*y, ny*x - nx*y, nx, ny}
	for i := range 4 {
		s.b[i] += weight * row[i] * value
		for j := range 4 {
			s.a[i][j] += weight * row[i] * row[j]
		}
	}
}

// solve returns the map and the standard error of the place it gives the middle.
func (s *normal) solve(middle plane.XY) (plane.Similarity, float64, bool) {
	// A little doubt about turn and scale keeps a fit to few edges from
	// running away: both stay near 0 and 1 unless the picture says otherwise.
	a, b := s.a, s.b
	const loose = 100 // pixels squared: a turn or scale of 1 moves the picture's edge by hundreds
	a[0][0], b[0] = a[0][0]+loose, b[0]+loose
	a[1][1] += loose
	inv, ok := inverse4(a)
	if !ok {
		return plane.Similarity{}, 0, false
	}
	var v [4]float64
	for i := range 4 {
		for j := range 4 {
			v[i] += inv[i][j] * b[j]
		}
	}
	m := plane.Similarity{Scale: math.Hypot(v[0], v[1]), AngleDeg: math.Atan2(v[1], v[0]) * 180 / math.Pi}
	if m.Scale < 0.2 || m.Scale > 5 {
		return plane.Similarity{}, 0, false
	}
	at := m.Apply(middle)
	m.DXPx, m.DYPx = v[2]-at.X, v[3]-at.Y
	return m, math.Sqrt(math.Max(inv[2][2], inv[3][3])), true
}

// inverse4 inverts a symmetric positive matrix (Gauss & Jordan).
func inverse4(a [4][4]float64) (inv [4][4]float64, ok bool) {
	for i := range 4 {
		inv[i][i] = 1
	}
	for i := range 4 {
		p := i
		for r := i + 1; r < 4; r++ {
			if math.Abs(a[r][i]) > math.Abs(a[p][i]) {
				p = r
			}
		}
		if math.Abs(a[p][i]) < 1e-9 {
			return inv, false
		}
		a[i], a[p] = a[p], a[i]
		inv[i], inv[p] = inv[p], inv[i]
		d := a[i][i]
		for j := range 4 {
			a[i][j] /= d
			inv[i][j] /= d
		}
		for r := range 4 {
			if f := a[r][i]; r != i && f != 0 {
				for j := range 4 {
					a[r][j] -= f * a[i][j]
					inv[r][j] -= f * inv[i][j]
				}
			}
		}
	}
	return inv, true
}
