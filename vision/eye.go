package vision

import (
	"errors"
	"fmt"
	"math"

	"gocv.io/x/gocv"

	"holdfast/models"
	"holdfast/vision/decode"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// eye is a landmark network that looks at regions of pictures, one after the other.
type eye struct {
	net       *network
	keypoints []string // names of the points that are passed on
	passed    []int    // and their places in the network's output
	regress   bool     // the regressed points stay as they are

	regionCentre, regionScale int    // points that tell where the athlete is,
	reach                     *reach // or a rule on all of them
}

// newEye loads a network; threads is the number of cores one look may use.
func newEye(name string, threads int, regress bool) (*eye, error) {
	net, err := newNetwork(name, threads)
	if err != nil {
		return nil, err
	}
	m := &net.manifest
	if m.Decoder != models.DecoderLandmarks && m.Decoder != models.DecoderCentred {
		err = fmt.Errorf("the network %s finds no body points: %w", name, models.ErrUnknown)
		return nil, errors.Join(err, net.Close())
	}
	e := &eye{net: net, keypoints: m.KeypointNames(), regress: regress}
	for i, k := range m.Keypoints {
		if !k.Auxiliary {
			e.passed = append(e.passed, i)
		}
	}
	if m.Region.Reach != nil {
		e.reach = newReach(m)
	} else {
		e.regionCentre, e.regionScale = m.KeypointIndex(m.Region.Centre), m.KeypointIndex(m.Region.Scale)
	}
	return e, nil
}

// see looks at a region of a picture, of which one pixel spans so many of the clip. The pose, in pixels of the clip,
// says whether a person fills the region; the points are in parts of it.
func (e *eye) see(picture gocv.Mat, r Region, scalePx float64) (seen pose.Pose, points []decode.Landmark, err error) {
	if err := e.net.run(picture, r); err != nil {
		return seen, nil, err
	}
	points, score, world := e.points()
	seen.Score = score
	if points == nil {
		return seen, nil, nil
	}
	seen.Found = true
	seen.Keypoints = make([]pose.Keypoint, len(e.keypoints))
	if world != nil {
		seen.World = make([][3]float64, len(e.keypoints))
	}
	sin, cos := math.Sincos(r.AngleRad)
	for i, from := range e.passed {
		p := points[from]
		x, y := r.toPicture(p.U, p.V)
		seen.Keypoints[i] = pose.Keypoint{X: x, Y: y, Z: p.Z * r.SizePx,
			Visibility: p.Visibility, Presence: p.Presence, SDPx: p.Spread * r.SizePx}
		if world == nil {
			continue
		}
		// The network sees the body upright in its region; the turn puts it back.
		wx, wy, wz := float64(world[3*from]), float64(world[3*from+1]), float64(world[3*from+2])
		seen.World[i] = [3]float64{cos*wx - sin*wy, sin*wx + cos*wy, wz}
	}
	for i := range seen.Keypoints {
		k := &seen.Keypoints[i]
		k.X, k.Y, k.Z, k.SDPx = k.X*scalePx, k.Y*scalePx, k.Z*scalePx, k.SDPx*scalePx
	}
	return seen, points, nil
}

// points decodes what the network said of the region it was run on: its points, nil when
// nobody fills the region, the score of a person being there, and the metric guess of the
// points, nil where the network makes none.
func (e *eye) points() (points []decode.Landmark, score float64, world []float32) {
	m := &e.net.manifest
	if m.Centred != nil {
		points = e.net.centred()
		if !e.reach.seen(points) {
			return nil, decode.MeanVisibility(points), nil
		}
		return points, decode.MeanVisibility(points), nil
	}
	rule := m.Landmarks
	score = float64(e.net.output(rule.Presence)[0])
	if score < rule.MinPresence {
		return nil, score, nil
	}
	shape := m.Output(rule.Heatmap).Shape
	points = decode.Landmarks(e.net.output(rule.Points), e.net.output(rule.Heatmap), len(m.Keypoints),
		m.Input.Width, shape[1], shape[2], rule, !e.regress)
	return points, score, e.net.output(rule.World)
}

// regionOf returns the region in which the athlete is, from the points seen in another one.
func (e *eye) regionOf(points []decode.Landmark, in Region) Region {
	if e.reach != nil {
		return e.reach.region(points, in)
	}
	centre, scale := points[e.regionCentre], points[e.regionScale]
	var hip, crown [2]float64
	hip[0], hip[1] = in.toPicture(centre.U, centre.V)
	crown[0], crown[1] = in.toPicture(scale.U, scale.V)
	return regionFrom(hip, crown, e.net.manifest.Region.ScaleFactor)
}

// bodySizePx returns the side of the square round the hips that holds the body, for
// comparison with [Detection.SizePx].
func (e *eye) bodySizePx(r Region) float64 {
	if e.reach != nil {
		return r.SizePx / e.reach.rule.BodyFactor
	}
	return r.SizePx / e.net.manifest.Region.ScaleFactor
}

// steady smooths regions from frame to frame as the manifest says: a region that trembles
// makes the points in it tremble.
type steady struct {
	rule   *models.Smoothing // nil: not at all
	factor float64           // of the side of a region to the body's circle
	along  [4]oneEuro        // of hip and crown, x and y
}

func newSteady(m *models.Manifest) steady {
	return steady{rule: m.Region.Smoothing, factor: m.Region.ScaleFactor}
}

// next returns the smoothed region.
func (s *steady) next(timeS float64, r Region) Region {
	if s.rule == nil {
		return r
	}
	length := r.SizePx / s.factor
	sin, cos := math.Sincos(r.AngleRad)
	at := [4]float64{r.CX, r.CY, r.CX + length/2*sin, r.CY - length/2*cos}
	for i := range at {
		at[i] = s.along[i].next(s.rule, timeS, at[i], length)
	}
	return regionFrom([2]float64{at[0], at[1]}, [2]float64{at[2], at[3]}, s.factor)
}

// moved returns the region as the map leads it to another picture.
func (r Region) moved(s plane.Similarity) Region {
	if s.Scale == 0 {
		return r
	}
	p := s.Apply(plane.XY{X: r.CX, Y: r.CY})
	return Region{CX: p.X, CY: p.Y, SizePx: r.SizePx * s.Scale,
		AngleRad: math.Remainder(r.AngleRad+s.AngleDeg*math.Pi/180, 2*math.Pi)}
}

// times returns the region in pixels that are so many times smaller.
func (r Region) times(k float64) Region {
	return Region{CX: k * r.CX, CY: k * r.CY, SizePx: k * r.SizePx, AngleRad: r.AngleRad}
}
