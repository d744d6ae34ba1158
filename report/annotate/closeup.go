package annotate

import (
	"fmt"
	"image"
	"math"

	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/report/said"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

// A close-up shows the athlete without the rest of the picture. All close-ups of a
// clip show the same part of the floor at the same size, so that positions can be
// compared across a contact sheet; the size is that of a list's thumbnail at twice
// its resolution.
const (
	closeUpWidthPx  = 480
	closeUpHeightPx = 600
	closeUpQuality  = 88
	closeUpEnd      = "_close.jpg"
)

// closeUps draws the close-ups of one clip.
type closeUps struct {
	m      *motion.Motion
	to     plane.Affine // from places of the clip to places of a close-up
	clipW  int
	canvas *paint.Canvas
}

// newCloseUps finds the part of the clip's picture that holds the athlete at all
// moments. It is nil when the athlete is known at none of them.
func newCloseUps(m *motion.Motion, ms []motion.Moment, clipW, clipH int) (*closeUps, error) {
	to, ok := frameAthlete(m, ms, float64(clipW), float64(clipH))
	if !ok {
		return nil, nil
	}
	canvas, err := paint.NewCanvas(closeUpWidthPx, closeUpHeightPx, drawn.Ground)
	if err != nil {
		return nil, fmt.Errorf("drawing the close-ups: %w", err)
	}
	return &closeUps{m: m, to: to, clipW: clipW, canvas: canvas}, nil
}

// frameAthlete returns the mapping that puts what the athlete covers at the moments
// into the middle of a close-up, with room for the head, which ends above the ear,
// and for the words. It stays inside the clip's picture where that is large enough.
func frameAthlete(m *motion.Motion, ms []motion.Moment, clipW, clipH float64) (plane.Affine, bool) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, mo := range ms {
		for _, p := range drawn.AthleteAt(m, mo.TimeS, plane.Affine{A: 1, E: 1}).Points {
			x0, x1 = math.Min(x0, p.X), math.Max(x1, p.X)
			y0, y1 = math.Min(y0, p.Y), math.Max(y1, p.Y)
		}
	}
	tall := y1 - y0
	if !(tall > 0) {
		return plane.Affine{}, false
	}
	y0, y1 = y0-0.16*tall, y1+0.08*tall
	x0, x1 = x0-0.12*tall, x1+0.12*tall
	h := math.Max(y1-y0, (x1-x0)*closeUpHeightPx/closeUpWidthPx)
	w := h * closeUpWidthPx / closeUpHeightPx
	left, top := inside((x0+x1-w)/2, w, clipW), inside(y1-h, h, clipH)
	k := closeUpHeightPx / h
	return plane.Affine{A: k, E: k, C: -k * left, F: -k * top}, true
}

// inside moves a stretch of the given length into 0 to whole, or to its middle when
// it is longer.
func inside(from, length, whole float64) float64 {
	if length >= whole {
		return (whole - length) / 2
	}
	return math.Min(math.Max(from, 0), whole-length)
}

func (c *closeUps) close() {
	if c != nil {
		_ = c.canvas.Close()
	}
}

// draw returns the close-up of a frame at a time of the clip.
func (c *closeUps) draw(frame *paint.Canvas, timeS float64) (*paint.Canvas, error) {
	// The frame may have been read smaller than the points were measured on.
	k := float64(c.clipW) / float64(frame.WidthPx())
	of := plane.Affine{A: c.to.A * k, E: c.to.E * k, C: c.to.C, F: c.to.F}
	whole := image.Rect(0, 0, c.canvas.WidthPx(), c.canvas.HeightPx())
	if err := c.canvas.DrawWarped(frame, of, whole, drawn.Ground); err != nil {
		return nil, err
	}
	const unit = 2 // so that the words can be read on a thumbnail
	b := drawn.AthleteAt(c.m, timeS, c.to)
	for _, j := range b.Joints {
		b.Arc(c.canvas, j, unit)
	}
	b.Skeleton(c.canvas, drawn.SkeletonStyle{Unit: unit, Color: drawn.Paper, Markers: true})
	box := [4]float64{0, 0, float64(whole.Max.X), float64(whole.Max.Y)}
	for _, l := range b.JointLabels(func(j said.Joint) (string, string) {
		if math.IsNaN(b.Deg[j]) {
			return "", ""
		}
		return j.Name() + " " + said.Degrees(b.Deg[j]), ""
	}, unit, box) {
		l.Draw(c.canvas, unit)
	}
	b.KneesIn(c.canvas, unit, box)
	return c.canvas, nil
}
