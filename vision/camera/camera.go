package camera

import (
	"errors"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"slices"

	"gocv.io/x/gocv"

	"holdfast/vision/media"
	"holdfast/vision/plane"
)

// Figure is the part of a picture that a person may cover: an upright ellipse
// in pixels of the clip.
type Figure struct{ x, y, rx, ry float64 }

// FigureOf returns the part that a person covers whose hips are at (x, y) and
// whose whole body lies in a circle of diameter size about them. Arms held
// forward may reach out of it; the fit to the background bears that.
func FigureOf(x, y, size float64) Figure { return Figure{x, y, 0.36 * size, 0.55 * size} }

func (f Figure) covers(x, y float64) bool {
	dx, dy := (x-f.x)/f.rx, (y-f.y)/f.ry
	return dx*dx+dy*dy < 1
}

func covered(figures []Figure, x, y float64) bool {
	for _, f := range figures {
		if f.covers(x, y) {
			return true
		}
	}
	return false
}

// What the background's points must be like; common practice, no source, but
// where said. Lengths are pixels of the small picture that is searched.
const (
	cameraSidePx = 640 // longer side of the small picture

	mostFeatures   = 90
	featureCells   = 8     // the picture's longer side in cells, each with its share of the points
	featureQuality = 0.002 // of the strongest corner's strength
	featureGapPx   = 7
	flowWindowPx   = 15
	flowLevels     = 2
	lostLevels     = 5    // when the points are not where they were expected
	flowMinEigen   = 1e-3 // of the structure in a window: noise on a plain wall has less
	edgePx         = 8    // no point closer to the picture's edge
	consensusPx    = 0.8  // points that agree with a map lie this close
	leastNoisePx   = 0.03 // of a point, however well the others agree
	leastInliers   = 6    // points
	leastAgreeing  = 0.4  // part of the points found again
	fewInliers     = 12   // points; so few must all but agree
	fewAgreeing    = 0.75
	fewCorners     = 45
	surelyEdges    = 40     // places on edges that need no corners beside them
	mostMiddleSD   = 0.2    // standard error of the map in the middle of the picture
	keptPart       = 0.5    // of a key frame's points; fewer, and a new one is made
	visiblePart    = 0.6    // of a key frame's points expected in the picture
	turnedDeg      = 5      // from a key frame
	grownPart      = 0.08   // from a key frame
	mostKeyframes  = 64     // each holds a small grey picture
	stillPart      = 2.4e-4 // of the longer side: 0.3 pixels of 1280
	noiseOnlyPart  = 4e-4   // of it: less, in a close look, is noise before a wall with little on it
)

// keyframe is a frame whose points the later ones are matched to. Matching each
// frame to the one before would add up the errors of all; matched to a key
// frame they stay as small as one match's.
type keyframe struct {
	grey    gocv.Mat
	points  []plane.XY
	edges   []edgelet
	toFirst plane.Similarity
	best    int // most places that were found again in one frame
}

// size is the number of places that later frames are matched to.
func (k *keyframe) size() int { return len(k.points) + len(k.edges) }

// camera follows the background from frame to frame. It holds native memory
// until Close and is not safe for use by several goroutines. Sums are in pixels
// of the small picture whose pixel centres lie at whole numbers.
type camera struct {
	small, grey  gocv.Mat
	before       gocv.Mat // the picture before, grey, where openBefore is not nil
	openBefore   func(plane.XY) bool
	corners      gocv.Mat
	from, to     gocv.Mat
	status, lost gocv.Mat
	keys         []keyframe
	last         plane.Similarity // of the frame before, to the first frame
	speed        plane.Similarity // from the frame before that to the frame before
	blind        int              // frames since the last that was known
}

func newCamera() *camera {
	return &camera{small: gocv.NewMat(), grey: gocv.NewMat(), before: gocv.NewMat(), corners: gocv.NewMat(),
		from: gocv.NewMat(), to: gocv.NewMat(),
		status: gocv.NewMat(), lost: gocv.NewMat(), last: plane.Similarity{Scale: 1}, speed: plane.Similarity{Scale: 1}}
}

// Close frees the memory.
func (c *camera) Close() error {
	var errs []error
	for _, m := range []*gocv.Mat{&c.small, &c.grey, &c.before, &c.corners, &c.from, &c.to, &c.status, &c.lost} {
		errs = append(errs, m.Close())
	}
	for i := range c.keys {
		errs = append(errs, c.keys[i].grey.Close())
	}
	return errors.Join(errs...)
}

// step returns the map from a frame to the first one. figures are the people in
// the frame, whose pixels say nothing of the camera; scalePx is the number of
// clip pixels that a pixel of the picture spans.
func (c *camera) step(picture gocv.Mat, scalePx float64, figures []Figure) (plane.Similarity, error) {
	c.grey, c.before = c.before, c.grey
	k := scalePx * float64(media.Shrink(picture, &c.small, &c.grey, cameraSidePx))
	open := func(p plane.XY) bool {
		return p.X > edgePx && p.Y > edgePx && p.X < float64(c.grey.Cols()-edgePx) && p.Y < float64(c.grey.Rows()-edgePx) &&
			!covered(figures, (p.X+0.5)*k, (p.Y+0.5)*k)
	}
	openBefore := c.openBefore
	c.openBefore = nil
	if len(c.keys) == 0 {
		first := plane.Similarity{Scale: 1, Known: true}
		if err := c.addKeyframe(c.grey, first, open); err != nil {
			return plane.Similarity{}, err
		}
		c.last = first
		c.last.Inliers = c.keys[0].size()
		c.last.Known = c.last.Inliers >= leastInliers
		return inClip(c.last, k), nil
	}
	expected := c.speed.Then(c.last)
	if c.blind > 0 {
		expected = c.last
	}
	key := c.chooseKeyframe(expected)
	fit, err := c.match(key, expected, flowLevels, open)
	if err == nil && !fit.Known {
		// The camera jerked, or the picture is blurred: look wider.
		fit, err = c.match(key, c.last, lostLevels, open)
	}
	if err == nil && !fit.Known && openBefore != nil {
		// What lies near has moved against what lies far since the key frame; hardly so since the frame before.
		if err = c.addKeyframe(c.before, c.last, openBefore); err == nil {
			key = len(c.keys) - 1
			fit, err = c.match(key, c.last, lostLevels, open)
		}
	}
	if err != nil {
		return plane.Similarity{}, err
	}
	if !fit.Known {
		c.blind++
		c.last.Known, c.last.Inliers = false, fit.Inliers
		c.speed = plane.Similarity{Scale: 1}
		if c.keys[len(c.keys)-1].size() < leastInliers {
			// The newest key frame shows nothing to go by: this frame may.
			err = c.addKeyframe(c.grey, c.last, open)
		}
		return inClip(c.last, k), err
	}
	now := fit.Then(c.keys[key].toFirst)
	now.Known, now.Inliers, now.RMSPx = true, fit.Inliers, fit.RMSPx
	c.speed = plane.Similarity{Scale: 1}
	if c.blind == 0 {
		c.speed = capped(now.Then(c.last.Inverse()))
	}
	c.last, c.blind = now, 0
	c.keys[key].best = max(c.keys[key].best, fit.Inliers)
	if newest := key == len(c.keys)-1; newest && (float64(fit.Inliers) < keptPart*float64(c.keys[key].best) ||
		c.keys[key].visible(c.toKey(key, now), float64(c.grey.Cols()), float64(c.grey.Rows())) < visiblePart ||
		math.Abs(fit.AngleDeg) > turnedDeg || math.Abs(math.Log(fit.Scale)) > grownPart) {
		return inClip(now, k), c.addKeyframe(c.grey, now, open)
	}
	c.openBefore = open
	return inClip(now, k), nil
}

// capped keeps the map that is expected to repeat from running away.
func capped(s plane.Similarity) plane.Similarity {
	if math.Hypot(s.DXPx, s.DYPx) > 60 || math.Abs(s.AngleDeg) > 3 || math.Abs(math.Log(s.Scale)) > 0.05 {
		return plane.Similarity{Scale: 1}
	}
	return s
}

// toKey returns the map from a key frame to a frame that lies at now.
func (c *camera) toKey(key int, now plane.Similarity) plane.Similarity {
	return c.keys[key].toFirst.Then(now.Inverse())
}

// visible returns which part of the key frame's places lies in a picture of the
// given size, mapped.
func (k *keyframe) visible(by plane.Similarity, w, h float64) float64 {
	seen := 0
	count := func(p plane.XY) {
		if q := by.Apply(p); q.X > edgePx && q.Y > edgePx && q.X < w-edgePx && q.Y < h-edgePx {
			seen++
		}
	}
	for _, p := range k.points {
		count(p)
	}
	for i := range k.edges {
		count(k.edges[i].at)
	}
	return float64(seen) / float64(max(1, k.size()))
}

// chooseKeyframe returns the earliest key frame that shows enough of what the
// frame is expected to show: so a camera that comes back is matched to where it
// began.
func (c *camera) chooseKeyframe(expected plane.Similarity) int {
	for i := range c.keys {
		key := &c.keys[i]
		to := c.toKey(i, expected)
		if math.Abs(to.AngleDeg) <= turnedDeg && math.Abs(math.Log(to.Scale)) <= grownPart && key.size() >= leastInliers &&
			key.visible(to, float64(c.grey.Cols()), float64(c.grey.Rows())) > visiblePart+0.1 {
			return i
		}
	}
	return len(c.keys) - 1
}

// addKeyframe makes a grey picture a key frame.
func (c *camera) addKeyframe(grey gocv.Mat, toFirst plane.Similarity, open func(plane.XY) bool) error {
	points, err := c.features(grey, open)
	if err != nil {
		return err
	}
	g, err := pixelsOf(grey)
	if err != nil {
		return err
	}
	if n := len(c.keys); n > 0 && (n == mostKeyframes || c.keys[n-1].size() < leastInliers) {
		_ = c.keys[n-1].grey.Close() // a matrix always closes
		c.keys = c.keys[:n-1]
	}
	c.keys = append(c.keys, keyframe{grey: grey.Clone(), points: points, edges: edgelets(g, open), toFirst: toFirst})
	return nil
}

// features returns corners of the background, spread over the picture: the
// strongest of each cell.
func (c *camera) features(grey gocv.Mat, open func(plane.XY) bool) ([]plane.XY, error) {
	gocv.GoodFeaturesToTrack(grey, &c.corners, 12*mostFeatures, featureQuality, featureGapPx)
	if c.corners.Empty() {
		return nil, nil
	}
	v, err := c.corners.DataPtrFloat32()
	if err != nil {
		return nil, fmt.Errorf("reading the background's corners: %w", err)
	}
	cell := float64(max(grey.Cols(), grey.Rows())) / featureCells
	inCell := map[[2]int][]plane.XY{}
	most := 0
	for i := 0; i+1 < len(v); i += 2 {
		p := plane.XY{X: float64(v[i]), Y: float64(v[i+1])}
		if open(p) {
			at := [2]int{int(p.X / cell), int(p.Y / cell)}
			inCell[at] = append(inCell[at], p) // strongest first
			most = max(most, len(inCell[at]))
		}
	}
	cells := make([][2]int, 0, len(inCell))
	for at := range inCell {
		cells = append(cells, at)
	}
	slices.SortFunc(cells, func(a, b [2]int) int {
		if a[0] != b[0] {
			return a[0] - b[0]
		}
		return a[1] - b[1]
	})
	// A share for each cell, so that one rich in detail, which may be a person
	// nobody knew of, does not outvote the others.
	most = min(most, 1+mostFeatures/max(1, len(cells)))
	var out []plane.XY
	for rank := 0; rank < most && len(out) < mostFeatures; rank++ {
		for _, at := range cells {
			if rank < len(inCell[at]) && len(out) < mostFeatures {
				out = append(out, inCell[at][rank])
			}
		}
	}
	return out, nil
}

// match finds a key frame's corners and edges in the picture at hand and returns
// the map from this picture to the key frame. expected is where the picture is
// thought to be.
func (c *camera) match(key int, expected plane.Similarity, levels int, open func(plane.XY) bool) (plane.Similarity,
	error) {
	k := &c.keys[key]
	if k.size() < leastInliers {
		return plane.Similarity{}, nil
	}
	g, err := pixelsOf(c.grey)
	if err != nil {
		return plane.Similarity{}, err
	}
	start, reach := c.toKey(key, expected), widePx
	// Where there are few corners, a camera that moves on as it did is found by
	// the edges alone, which costs half as much.
	if len(k.points) < fewCorners {
		if fit := k.refine(start, nil, nil, g, open, narrowPx); fit.Known && fit.Inliers >= surelyEdges {
			return fit.Inverse(), nil
		}
	}
	from, to, err := c.flow(k, start, levels, open)
	if err != nil {
		return plane.Similarity{}, err
	}
	if fit := fitSimilarity(from, to, plane.XY{X: float64(c.grey.Cols()) / 2, Y: float64(c.grey.Rows()) / 2}); fit.Known {
		start, reach = fit, narrowPx
	}
	return k.refine(start, from, to, g, open, reach).Inverse(), nil
}

// flow follows a key frame's corners into the picture at hand, from where start
// puts them. It returns those found: in the key frame and here.
func (c *camera) flow(k *keyframe, start plane.Similarity, levels int, open func(plane.XY) bool) (from, to []plane.XY,
	err error) {
	if len(k.points) == 0 {
		return nil, nil, nil
	}
	if err := points(&c.from, k.points, plane.Similarity{}); err != nil {
		return nil, nil, err
	}
	if err := points(&c.to, k.points, start); err != nil {
		return nil, nil, err
	}
	const useGuess = 4 // OPTFLOW_USE_INITIAL_FLOW
	gocv.CalcOpticalFlowPyrLKWithParams(k.grey, c.grey, c.from, c.to, &c.status, &c.lost,
		image.Pt(flowWindowPx, flowWindowPx), levels,
		gocv.NewTermCriteria(gocv.Count|gocv.EPS, 15, 0.01), useGuess, flowMinEigen)
	there, err := c.to.DataPtrFloat32()
	if err != nil {
		return nil, nil, fmt.Errorf("reading the background's way: %w", err)
	}
	ok, err := c.status.DataPtrUint8()
	if err != nil {
		return nil, nil, fmt.Errorf("reading the background's way: %w", err)
	}
	for i, p := range k.points {
		if q := (plane.XY{X: float64(there[2*i]), Y: float64(there[2*i+1])}); ok[i] != 0 && open(q) {
			from, to = append(from, p), append(to, q)
		}
	}
	return from, to, nil
}

// points writes places, mapped, into a matrix as the flow wants them.
func points(m *gocv.Mat, from []plane.XY, by plane.Similarity) error {
	if m.Rows() != len(from) || m.Cols() != 1 {
		if err := m.Close(); err != nil {
			return err
		}
		*m = gocv.NewMatWithSize(len(from), 1, gocv.MatTypeCV32FC2)
	}
	v, err := m.DataPtrFloat32()
	if err != nil {
		return fmt.Errorf("handing over the background's corners: %w", err)
	}
	for i, p := range from {
		q := by.Apply(p)
		v[2*i], v[2*i+1] = float32(q.X), float32(q.Y)
	}
	return nil
}

// fitSimilarity returns the map from the places a to the places b that most of
// the pairs agree on: the best of many maps through two pairs (RANSAC, Fischler
// & Bolles 1981), then least squares in which a pair that lies off counts little
// (Tukey's weights). Known is false where too few pairs agree, or where they lie
// so close together that the map is not sure in the middle.
func fitSimilarity(a, b []plane.XY, middle plane.XY) plane.Similarity {
	n := len(a)
	if n < leastInliers {
		return plane.Similarity{Inliers: n}
	}
	// The same pairs give the same map, always.
	rng := rand.New(rand.NewPCG(uint64(n), 20))
	best, bestCost := plane.Similarity{}, math.Inf(1)
	for range 80 {
		i, j := rng.IntN(n), rng.IntN(n)
		m, ok := throughTwo(a[i], a[j], b[i], b[j])
		if !ok {
			continue
		}
		cost := 0.0
		for p := range a {
			q := m.Apply(a[p])
			cost += math.Min(1, (sq(q.X-b[p].X)+sq(q.Y-b[p].Y))/sq(consensusPx))
		}
		if cost < bestCost {
			best, bestCost = m, cost
		}
	}
	if math.IsInf(bestCost, 1) {
		return plane.Similarity{}
	}
	m := best
	off := make([]float64, n)
	weight := make([]float64, n)
	noise := consensusPx / 2.5
	for range 6 {
		var close []float64
		for p := range a {
			q := m.Apply(a[p])
			off[p] = math.Hypot(q.X-b[p].X, q.Y-b[p].Y)
			if off[p] < consensusPx {
				close = append(close, off[p])
			}
		}
		if len(close) < leastInliers {
			return plane.Similarity{Inliers: len(close)}
		}
		// The median length of a two-dimensional error is 1.18 standard
		// deviations of one coordinate.
		noise = math.Max(leastNoisePx, plane.Quantile(close, 0.5)/1.18)
		for p := range off {
			weight[p] = 0
			if u := off[p] / (4.7 * noise); u < 1 && off[p] < consensusPx {
				weight[p] = sq(1 - u*u)
			}
		}
		var ok bool
		if m, ok = leastSquares(a, b, weight); !ok {
			return plane.Similarity{}
		}
	}
	var sum, ss, cx, cy float64
	for p, w := range weight {
		if w > 0 {
			m.Inliers++
		}
		sum, ss = sum+w, ss+w*sq(off[p])
		cx, cy = cx+w*a[p].X, cy+w*a[p].Y
	}
	cx, cy = cx/sum, cy/sum
	spread := 0.0
	for p, w := range weight {
		spread += w * (sq(a[p].X-cx) + sq(a[p].Y-cy))
	}
	m.RMSPx = math.Sqrt(ss / sum)
	sd := noise * math.Sqrt(1/sum+(sq(middle.X-cx)+sq(middle.Y-cy))/math.Max(spread, 1e-9))
	agreeing := leastAgreeing
	if m.Inliers < fewInliers {
		agreeing = fewAgreeing
	}
	m.Known = m.Inliers >= leastInliers && float64(m.Inliers) >= agreeing*float64(n) && sd < mostMiddleSD
	return m
}

func sq(x float64) float64 { return x * x }

// throughTwo returns the map that leads a1 to b1 and a2 to b2.
func throughTwo(a1, a2, b1, b2 plane.XY) (plane.Similarity, bool) {
	ax, ay, bx, by := a2.X-a1.X, a2.Y-a1.Y, b2.X-b1.X, b2.Y-b1.Y
	la := math.Hypot(ax, ay)
	if la < 3*featureGapPx {
		return plane.Similarity{}, false
	}
	s := plane.Similarity{Scale: math.Hypot(bx, by) / la, AngleDeg: math.Atan2(ax*by-ay*bx, ax*bx+ay*by) * 180 / math.Pi}
	if s.Scale < 0.5 || s.Scale > 2 {
		return plane.Similarity{}, false
	}
	at := s.Apply(a1)
	s.DXPx, s.DYPx = b1.X-at.X, b1.Y-at.Y
	return s, true
}

// leastSquares returns the map from a to b with the smallest weighted sum of
// squared errors, in closed form.
func leastSquares(a, b []plane.XY, weight []float64) (plane.Similarity, bool) {
	var w, ax, ay, bx, by float64
	for i, k := range weight {
		w, ax, ay, bx, by = w+k, ax+k*a[i].X, ay+k*a[i].Y, bx+k*b[i].X, by+k*b[i].Y
	}
	if w <= 0 {
		return plane.Similarity{}, false
	}
	ax, ay, bx, by = ax/w, ay/w, bx/w, by/w
	var dot, cross, spread float64
	for i, k := range weight {
		px, py, qx, qy := a[i].X-ax, a[i].Y-ay, b[i].X-bx, b[i].Y-by
		dot, cross, spread = dot+k*(px*qx+py*qy), cross+k*(px*qy-py*qx), spread+k*(px*px+py*py)
	}
	if spread <= 0 || (dot == 0 && cross == 0) {
		return plane.Similarity{}, false
	}
	s := plane.Similarity{Scale: math.Hypot(dot, cross) / spread, AngleDeg: math.Atan2(cross, dot) * 180 / math.Pi}
	at := s.Apply(plane.XY{X: ax, Y: ay})
	s.DXPx, s.DYPx = bx-at.X, by-at.Y
	return s, true
}

// inClip returns the map of the small picture as one of the clip, of which a
// small pixel spans k.
func inClip(s plane.Similarity, k float64) plane.Similarity {
	half := plane.Similarity{Scale: s.Scale, AngleDeg: s.AngleDeg}.Apply(plane.XY{X: 0.5, Y: 0.5})
	s.DXPx, s.DYPx = k*(s.DXPx+0.5-half.X), k*(s.DYPx+0.5-half.Y)
	s.RMSPx *= k
	return s
}
