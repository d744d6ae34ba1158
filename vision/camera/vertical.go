package camera

import (
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"holdfast/vision/media"
	"holdfast/vision/plane"
)

// What the edges of a background must be like to say where up is; common
// practice, no source, but where said. Lengths are pixels of the picture searched.
const (
	plumbSidePx   = 1280 // longer side of the picture searched
	plumbLooks    = 10   // frames of a clip that are searched
	cannyLow      = 30
	cannyHigh     = 90
	leastEdgePart = 0.1 // of the picture's height: shorter edges are no door frames
	mostTiltDeg   = 15  // a phone is turned less
	edgeReachPx   = 3   // how far from the line found its edge is looked for
	edgeOnPx      = 0.7 // how far from a straight line an edge's pixel may lie
	edgeWhole     = 0.7 // part of an edge's rows that must lie on it
	sameEdgePx    = 4   // edges closer together are one
	modeWidthDeg  = 2.5 // edges within this of each other vote together
	agreesDeg     = 0.8
	leastVotes    = 0.6 // part of the near-vertical edges' length that must agree
	leastEdges    = 3
	leastHeights  = 0.5 // length of the agreeing edges, in heights of the picture
	edgeSDDeg     = 0.2 // of a door frame's own plumb and the lens's bend
	mostRollSDDeg = 1.0
	// convergeDeg is how far a phone is usually tipped up or down. Then verticals
	// converge: they lean by about tan(tip) x/f, x being their way from the
	// middle and f the focal length, 0.85 of the longer side in a usual phone.
	convergeDeg  = 4.0
	usualFocalPx = 0.85
)

// edge is a long, nearly vertical edge of the background.
type edge struct {
	tiltDeg  float64 // from the picture's vertical, clockwise positive
	x        float64 // of its middle, from the middle of the picture, in parts of the longer side
	lengthPx float64 // rows that lie on it
}

// plumb reads from the edges of the background how far a picture is turned. It
// holds native memory until Close.
type plumb struct {
	small, grey, edges, lines gocv.Mat
	rolls, sds                []float64 // one a picture that told
}

func newPlumb() *plumb {
	return &plumb{small: gocv.NewMat(), grey: gocv.NewMat(), edges: gocv.NewMat(), lines: gocv.NewMat()}
}

// Close frees the memory.
func (p *plumb) Close() error {
	return errors.Join(p.small.Close(), p.grey.Close(), p.edges.Close(), p.lines.Close())
}

// look reads one picture. turnedDeg is how far the picture is turned against the
// clip's first frame, see Similarity.
func (p *plumb) look(picture gocv.Mat, scalePx float64, figures []Figure, turnedDeg float64) error {
	found, err := p.find(picture, scalePx, figures)
	if err != nil {
		return err
	}
	if roll, sd, ok := rollOf(found, float64(p.grey.Rows())); ok {
		p.rolls, p.sds = append(p.rolls, roll+turnedDeg), append(p.sds, sd)
	}
	return nil
}

// roll returns how far the first frame is turned clockwise against the true
// vertical: the median of the pictures that told, in degrees, and its standard
// deviation. ok is false when too few told, or when they differ.
func (p *plumb) roll(looks int) (rollDeg, sdDeg float64, ok bool) {
	if len(p.rolls) == 0 || 2*len(p.rolls) < looks {
		return math.NaN(), math.NaN(), false
	}
	rollDeg = plane.Quantile(p.rolls, 0.5)
	off := make([]float64, len(p.rolls))
	for i, r := range p.rolls {
		off[i] = math.Abs(r - rollDeg)
	}
	sdDeg = math.Max(plane.Quantile(p.sds, 0.5), 1.48*plane.Quantile(off, 0.5))
	return rollDeg, sdDeg, sdDeg < mostRollSDDeg
}

// find returns the long edges within mostTiltDeg of the picture's vertical that
// do not lie on a person.
func (p *plumb) find(picture gocv.Mat, scalePx float64, figures []Figure) ([]edge, error) {
	k := scalePx * float64(media.Shrink(picture, &p.small, &p.grey, plumbSidePx))
	gocv.GaussianBlur(p.grey, &p.grey, image.Pt(0, 0), 1, 1, gocv.BorderReflect)
	w, h := p.grey.Cols(), p.grey.Rows()
	grey, err := p.grey.DataPtrUint8()
	if err != nil {
		return nil, fmt.Errorf("reading the background: %w", err)
	}
	gocv.Canny(p.grey, &p.edges, cannyLow, cannyHigh)
	marked, err := p.edges.DataPtrUint8()
	if err != nil {
		return nil, fmt.Errorf("reading the background's edges: %w", err)
	}
	// Level edges, of which floors are full, only cost time.
	steep := math.Tan((mostTiltDeg + 10) * math.Pi / 180)
	for y := range h {
		for x := range w {
			i := y*w + x
			if marked[i] == 0 {
				continue
			}
			if x == 0 || y == 0 || x == w-1 || y == h-1 ||
				math.Abs(float64(int(grey[i+w])-int(grey[i-w]))) > steep*math.Abs(float64(int(grey[i+1])-int(grey[i-1]))) {
				marked[i] = 0
			}
		}
	}
	least := math.Max(30, leastEdgePart*float64(h))
	gocv.HoughLinesPWithParams(p.edges, &p.lines, 1, math.Pi/360, int(least*0.6), float32(least), 8)
	type candidate struct {
		edge
		top, bottom plane.XY
	}
	var all []candidate
	for i := range p.lines.Rows() {
		v := p.lines.GetVeciAt(i, 0)
		a, b := plane.XY{X: float64(v[0]), Y: float64(v[1])}, plane.XY{X: float64(v[2]), Y: float64(v[3])}
		if a.Y > b.Y {
			a, b = b, a
		}
		if math.Abs(math.Atan2(a.X-b.X, b.Y-a.Y))*180/math.Pi > mostTiltDeg+1 || b.Y-a.Y < least*0.9 {
			continue
		}
		onPerson := false
		for part := 0.0; part <= 1; part += 0.25 {
			onPerson = onPerson || covered(figures, (a.X+part*(b.X-a.X)+0.5)*k, (a.Y+part*(b.Y-a.Y)+0.5)*k)
		}
		if onPerson {
			continue
		}
		slope, x, rows, ok := straighten(grey, w, h, a, b)
		if !ok || rows < least*0.8 {
			continue
		}
		tilt := math.Atan(-slope) * 180 / math.Pi
		if math.Abs(tilt) > mostTiltDeg {
			continue
		}
		all = append(all, candidate{edge{tilt, (x - float64(w)/2) / float64(max(w, h)), rows}, a, b})
	}
	slices.SortStableFunc(all, func(a, b candidate) int { return int(math.Copysign(1, b.lengthPx-a.lengthPx)) })
	var kept []candidate
	for _, c := range all {
		again := false
		for _, o := range kept {
			// Where the longer edge is at the height of this one's middle.
			y := (c.top.Y + c.bottom.Y) / 2
			at := o.top.X + (y-o.top.Y)/(o.bottom.Y-o.top.Y)*(o.bottom.X-o.top.X)
			again = again || math.Abs(at-(c.top.X+c.bottom.X)/2) < sameEdgePx && y > o.top.Y-10 && y < o.bottom.Y+10
		}
		if !again {
			kept = append(kept, c)
		}
	}
	out := make([]edge, len(kept))
	for i, c := range kept {
		out[i] = c.edge
	}
	return out, nil
}

// straighten fits a line to the edge that runs from a down to b: in each row the
// steepest place near the line, to a fraction of a pixel, then least squares with
// those that lie off left out. It returns the line's slope dx/dy, its x half way,
// and the number of rows that lie on it.
func straighten(grey []uint8, w, h int, a, b plane.XY) (slope, x, rows float64, ok bool) {
	var ys, xs []float64
	line0, line1 := a.X, (b.X-a.X)/(b.Y-a.Y)
	y0, y1 := max(0, int(a.Y)), min(h-1, int(b.Y))
	for y := y0; y <= y1; y++ {
		mid := int(math.Round(line0 + line1*(float64(y)-a.Y)))
		best, at := 0.0, -1
		steep := func(x int) float64 { return math.Abs(float64(grey[y*w+x+1]) - float64(grey[y*w+x-1])) }
		for x := max(2, mid-edgeReachPx); x <= min(w-3, mid+edgeReachPx); x++ {
			if s := steep(x); s > best {
				best, at = s, x
			}
		}
		if at < 0 || best < 6 {
			continue
		}
		l, r := steep(at-1), steep(at+1)
		d := 0.0
		if den := l - 2*best + r; den < 0 {
			d = 0.5 * (l - r) / den
		}
		ys, xs = append(ys, float64(y)), append(xs, float64(at)+d)
	}
	whole := float64(y1 - y0 + 1)
	if float64(len(ys)) < edgeWhole*whole {
		return 0, 0, 0, false
	}
	line0 -= line1 * a.Y
	for range 6 {
		var n, sy, sx, syy, sxy float64
		reach := edgeOnPx
		if rows == 0 { // the first line is a rough one
			reach += 1.5
		}
		for i, y := range ys {
			if math.Abs(xs[i]-line0-line1*y) < reach {
				n, sy, sx, syy, sxy = n+1, sy+y, sx+xs[i], syy+y*y, sxy+y*xs[i]
			}
		}
		det := n*syy - sy*sy
		if n < 10 || det <= 0 {
			return 0, 0, 0, false
		}
		line1 = (n*sxy - sy*sx) / det
		line0 = (sx - line1*sy) / n
		rows = n
	}
	return line1, line0 + line1*(a.Y+b.Y)/2, rows, rows >= edgeWhole*whole
}

// rollOf returns by how many degrees the picture is turned clockwise, from its
// near-vertical edges: the tilt that most of their length agrees on, refined by
// least squares with the convergence of a phone that is tipped,
//
//	tilt = roll + c x,  c near 0
//
// ok is false when few edges agree.
func rollOf(found []edge, heightPx float64) (rollDeg, sdDeg float64, ok bool) {
	var total, best float64
	for _, e := range found {
		total += e.lengthPx
		votes := 0.0
		for _, o := range found {
			if u := (o.tiltDeg - e.tiltDeg) / modeWidthDeg; math.Abs(u) < 1 {
				votes += o.lengthPx * (1 - u*u)
			}
		}
		if votes > best {
			best, rollDeg = votes, e.tiltDeg
		}
	}
	if len(found) < leastEdges {
		return math.NaN(), math.NaN(), false
	}
	// The prior of c, in degrees a longer side.
	priorSD := convergeDeg / usualFocalPx
	converge, width := 0.0, modeWidthDeg
	var varRoll, agreed float64
	edges := 0
	for range 12 {
		var s, sx, sxx, st, sxt, ss float64
		agreed, edges = 0, 0
		for _, e := range found {
			off := e.tiltDeg - rollDeg - converge*e.x
			if math.Abs(off) < agreesDeg {
				agreed += e.lengthPx
				edges++
			}
			u := off / width
			if math.Abs(u) >= 1 {
				continue
			}
			wt := sq(1-u*u) * e.lengthPx / heightPx / sq(edgeSDDeg)
			s, sx, sxx, st, sxt = s+wt, sx+wt*e.x, sxx+wt*e.x*e.x, st+wt*e.tiltDeg, sxt+wt*e.x*e.tiltDeg
			ss += wt * off * off
		}
		sxx += 1 / sq(priorSD)
		det := s*sxx - sx*sx
		if s == 0 || det <= 0 {
			return math.NaN(), math.NaN(), false
		}
		rollDeg = (st*sxx - sx*sxt) / det
		converge = (s*sxt - sx*st) / det
		varRoll = sxx / det * math.Max(1, ss/math.Max(1, float64(edges-1)))
		width = math.Max(1.2*agreesDeg, width*0.85)
	}
	sdDeg = math.Sqrt(varRoll)
	ok = edges >= leastEdges && agreed >= leastVotes*total && agreed >= leastHeights*heightPx &&
		sdDeg < mostRollSDDeg && math.Abs(rollDeg) <= mostTiltDeg
	return rollDeg, sdDeg, ok
}
