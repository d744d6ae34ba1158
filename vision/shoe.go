package vision

import (
	"fmt"
	"math"

	"gocv.io/x/gocv"

	"holdfast/models"
	"holdfast/vision/plane"
)

// Shoe is a shoe in a picture, in its pixels. The zero value is none.
type Shoe struct {
	// Middle is that of the box round the shoe, Heel and Toe are those of its ends.
	Middle, Heel, Toe plane.XY
	// Score is the probability that there is a shoe.
	Score float64
}

// LengthPx returns the length of the box, from end to end.
func (s Shoe) LengthPx() float64 { return math.Hypot(s.Toe.X-s.Heel.X, s.Toe.Y-s.Heel.Y) }

// TiltDeg returns how far the shoe is turned clockwise from level, in degrees from -90 to
// 90, whichever way it points.
func (s Shoe) TiltDeg() float64 {
	return math.Remainder(math.Atan2(s.Toe.Y-s.Heel.Y, s.Toe.X-s.Heel.X), math.Pi) * 180 / math.Pi
}

// ShoeFinder finds the shoe at an ankle. It holds native memory until Close, and is not
// safe for use by several goroutines.
//
// It is not yet used by the fit of the body; scripts/accuracy -shoe measures what it is
// worth. It may see a foot turned by up to 12 degrees throughout a clip: what counts is
// the change against the athlete's own standing.
type ShoeFinder struct {
	network           *network
	middle, heel, toe []int
}

// NewShoeFinder loads the network; threads is the number of cores that it may use.
func NewShoeFinder(threads int) (*ShoeFinder, error) {
	n, err := newNetwork("shoe", threads)
	if err != nil {
		return nil, err
	}
	m := &n.manifest
	if m.Decoder != models.DecoderBox {
		_ = n.Close() // native memory always closes
		return nil, fmt.Errorf("the network shoe finds no box: %w", models.ErrCorrupt)
	}
	return &ShoeFinder{
		network: n, middle: m.KeypointIndices([]string{m.Box.Middle}),
		heel: m.KeypointIndices(m.Box.Heel), toe: m.KeypointIndices(m.Box.Toe),
	}, nil
}

// Close frees the network.
func (f *ShoeFinder) Close() error { return f.network.Close() }

// Find looks for the shoe at an ankle in a picture; shankPx is the length of the shank
// there, last the shoe of the frame before, if it was found. It looks twice, the second
// time at what the first look found, turned so that the shoe is level: a shoe that hangs
// is lost otherwise. found says whether what is there can be that ankle's shoe: bare feet
// and slippers mostly cannot.
func (f *ShoeFinder) Find(picture gocv.Mat, ankle plane.XY, shankPx float64, last Shoe) (s Shoe, found bool,
	err error) {
	m := &f.network.manifest
	rule := m.Box
	r := Region{CX: ankle.X, CY: ankle.Y, SizePx: rule.RegionShanks * shankPx, AngleRad: last.TiltDeg() * math.Pi / 180}
	for range 2 {
		if err := f.network.run(picture, r); err != nil {
			return Shoe{}, false, err
		}
		s = f.decode(f.network.output(rule.Points), m.Input.Width, r)
		s.Score = float64(f.network.output(rule.Score)[0])
		r.CX, r.CY, r.AngleRad = s.Middle.X, s.Middle.Y, s.TiltDeg()*math.Pi/180
	}
	length, away := s.LengthPx()/shankPx, math.Hypot(s.Middle.X-ankle.X, s.Middle.Y-ankle.Y)/shankPx
	found = s.Score >= rule.MinScore && length >= rule.MinShanks && length <= rule.MaxShanks && away <= rule.AwayShanks
	return s, found, nil
}

// decode reads the box from the network's points, x and y in pixels of its input, and
// places it in the picture that the region cut out.
func (f *ShoeFinder) decode(points []float32, inputPx int, r Region) Shoe {
	middle := func(places []int) (mean plane.XY) {
		for _, i := range places {
			x, y := r.toPicture(float64(points[2*i])/float64(inputPx), float64(points[2*i+1])/float64(inputPx))
			mean = mean.Add(x/float64(len(places)), y/float64(len(places)))
		}
		return mean
	}
	return Shoe{Middle: middle(f.middle), Heel: middle(f.heel), Toe: middle(f.toe)}
}
