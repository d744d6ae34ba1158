package vision

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"holdfast/models"
)

// Detection is one person found in a picture, in pixels of that picture.
type Detection struct {
	Score float64
	// Box is the face and shoulders' box: left, top, right, bottom.
	Box [4]float64
	// Hip is the middle of the hips; Crown is a point on the circle round the
	// hips that holds the whole body, in the direction of the head.
	Hip, Crown [2]float64
}

// SizePx returns the side of the square round the hips that holds the body.
func (d Detection) SizePx() float64 {
	return 2 * math.Hypot(d.Crown[0]-d.Hip[0], d.Crown[1]-d.Hip[1])
}

// leanDeg returns how far the body is turned clockwise from head up, in degrees from
// -180 to 180.
func (d Detection) leanDeg() float64 {
	return math.Atan2(d.Crown[0]-d.Hip[0], d.Hip[1]-d.Crown[1]) * 180 / math.Pi
}

// Region is a rotated square of the picture that the landmark network looks at:
// centre and side in pixels, and the angle in radians by which the square is
// turned clockwise as seen on the screen.
type Region struct {
	CX, CY, SizePx, AngleRad float64
}

// regionFrom returns the square round the hips whose upward direction points to
// the crown, scale times as large as the circle that holds the body: the input
// that the landmark network was trained on.
func regionFrom(hip, crown [2]float64, scale float64) Region {
	dx, dy := crown[0]-hip[0], crown[1]-hip[1]
	return Region{
		CX: hip[0], CY: hip[1],
		SizePx: 2 * math.Hypot(dx, dy) * scale,
		// An upright body has its crown straight above the hips: angle 0.
		AngleRad: math.Remainder(math.Pi/2-math.Atan2(-dy, dx), 2*math.Pi),
	}
}

// headDownRad is the turn from which on a body would stand on its head.
const headDownRad = 2 * math.Pi / 3

// headUp returns the same square turned round where a body in it would stand on its head: the pictures of a clip are
// upright, and the detector takes one that hangs from its hands for one upside down. A body that does stand on its head
// is found in the square all the same, and turns the next one.
func (r Region) headUp() Region {
	if math.Abs(r.AngleRad) > headDownRad {
		r.AngleRad = math.Remainder(r.AngleRad+math.Pi, 2*math.Pi)
	}
	return r
}

// toPicture maps a place in the region, 0 to 1 from its left and top edge, to
// the picture.
func (r Region) toPicture(u, v float64) (x, y float64) {
	s, c := math.Sincos(r.AngleRad)
	du, dv := (u-0.5)*r.SizePx, (v-0.5)*r.SizePx
	return r.CX + c*du - s*dv, r.CY + s*du + c*dv
}

// finder finds people in pictures, one after the other.
type finder struct {
	net     *network
	centres [][2]float64
}

// newFinder loads the network, for one core.
func newFinder() (*finder, error) {
	net, err := newNetwork("detector", 1)
	if err != nil {
		return nil, err
	}
	m := &net.manifest
	if m.Decoder != models.DecoderDetector || len(m.Keypoints) != (detectorCoords-4)/2 {
		err = fmt.Errorf("the network detector is no person detector with four points: %w", models.ErrCorrupt)
		return nil, errors.Join(err, net.Close())
	}
	return &finder{net, m.Detector.Anchors.Centres(m.Input.Width, m.Input.Height)}, nil
}

// all finds the people in a picture, best first.
func (f *finder) all(picture gocv.Mat) ([]Detection, error) {
	w, h := float64(picture.Cols()), float64(picture.Rows())
	return f.in(picture, Region{CX: w / 2, CY: h / 2, SizePx: math.Max(w, h)})
}

// in finds the people in a square of a picture, best first.
func (f *finder) in(picture gocv.Mat, part Region) ([]Detection, error) {
	if err := f.net.run(picture, part); err != nil {
		return nil, err
	}
	rule := f.net.manifest.Detector
	return decodeDetections(f.net.output(rule.Boxes), f.net.output(rule.Scores), f.centres, f.net.manifest.Input.Width,
		rule, part), nil
}

// detectorCoords is how many numbers the detector gives a place: box centre and
// size, then four points.
const detectorCoords = 12

// decodeDetections turns the detector's raw output into people, best first.
// boxes holds detectorCoords numbers an anchor in pixels of the network's input,
// relative to the anchor; scores one logit an anchor. The result is in pixels of
// the picture that region cut out.
func decodeDetections(boxes, scores []float32, centres [][2]float64, inputPx int, rule *models.Detector,
	region Region) []Detection {
	type candidate struct {
		score float64
		// box corners and points in parts of the input, 0 to 1
		v [detectorCoords]float64
	}
	var found []candidate
	n := float64(inputPx)
	for i, c := range centres {
		if (i+1)*detectorCoords > len(boxes) || i >= len(scores) {
			break
		}
		logit := math.Max(-rule.ScoreClip, math.Min(rule.ScoreClip, float64(scores[i])))
		score := 1 / (1 + math.Exp(-logit))
		if score < rule.MinScore {
			continue
		}
		raw := boxes[i*detectorCoords : (i+1)*detectorCoords]
		k := candidate{score: score}
		cx, cy := float64(raw[0])/n+c[0], float64(raw[1])/n+c[1]
		w, h := float64(raw[2])/n, float64(raw[3])/n
		k.v = [detectorCoords]float64{cx - w/2, cy - h/2, cx + w/2, cy + h/2}
		for p := 4; p < detectorCoords; p += 2 {
			k.v[p] = float64(raw[p])/n + c[0]
			k.v[p+1] = float64(raw[p+1])/n + c[1]
		}
		found = append(found, k)
	}
	slices.SortStableFunc(found, func(a, b candidate) int { return cmp.Compare(b.score, a.score) })
	var people []Detection
	for len(found) > 0 {
		// Weighted suppression: what overlaps the best box is averaged into it,
		// each weighing its score, which steadies the box from frame to frame.
		best := found[0]
		var sum [detectorCoords]float64
		var weight float64
		rest := found[:0:0]
		for i, k := range found {
			if i == 0 || overlap(best.v, k.v) > rule.MaxOverlap {
				weight += k.score
				for j := range sum {
					sum[j] += k.score * k.v[j]
				}
			} else {
				rest = append(rest, k)
			}
		}
		for j := range sum {
			sum[j] /= weight
		}
		d := Detection{Score: best.score}
		d.Box[0], d.Box[1] = region.toPicture(sum[0], sum[1])
		d.Box[2], d.Box[3] = region.toPicture(sum[2], sum[3])
		d.Hip[0], d.Hip[1] = region.toPicture(sum[4], sum[5])
		d.Crown[0], d.Crown[1] = region.toPicture(sum[6], sum[7])
		people = append(people, d)
		found = rest
	}
	return people
}

// overlap returns the intersection over the union of two boxes, each given as
// left, top, right, bottom in its first four numbers.
func overlap(a, b [detectorCoords]float64) float64 {
	w := math.Min(a[2], b[2]) - math.Max(a[0], b[0])
	h := math.Min(a[3], b[3]) - math.Max(a[1], b[1])
	if w <= 0 || h <= 0 {
		return 0
	}
	both := w * h
	return both / ((a[2]-a[0])*(a[3]-a[1]) + (b[2]-b[0])*(b[3]-b[1]) - both)
}
