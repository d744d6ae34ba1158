// Package marked is what a coach marked by hand on frames of a clip: lines, angles and notes. They are kept with the
// clip and shown with it, and no number that is measured rests on them.
package marked

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"holdfast/printable"
	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
	"holdfast/words"
)

// The kinds of mark, and how many places each has.
const (
	Line  = "line"
	Angle = "angle"
	Note  = "note"
)

var places = map[string]int{Line: 2, Angle: 3, Note: 1}

// Mark is one mark on one frame. Its places are pixels of the upright frame; the second one of an angle is its corner.
type Mark struct {
	Frame  int          `json:"frame"`  // number of the frame, from 0
	TimeS  float64      `json:"time_s"` // of the frame, in the file
	Kind   string       `json:"kind"`   // line, angle or note
	Points [][2]float64 `json:"points_px"`
	Text   string       `json:"text"` // empty: none
}

// Document holds the marks of a clip.
type Document struct {
	Marks []Mark `json:"marks"`
}

// The bounds of what is taken; common practice, no source.
const (
	most     = 200
	maxRunes = 200
	edgePart = 0.05 // of the picture, by which a place may miss its edge
)

// ErrBad: marks make no sense for their clip.
var ErrBad error = words.Error("bad_marks")

// Check returns the marks in the order of their frames, each with the time of its frame, or an error that wraps ErrBad.
func (d Document) Check(track *pose.Track, widthPx, heightPx int) (Document, error) {
	if len(d.Marks) > most {
		return d, words.Because(ErrBad, "marks_many", words.Params{"most": most})
	}
	out := Document{Marks: slices.Clone(d.Marks)}
	for i := range out.Marks {
		m := &out.Marks[i]
		n, known := places[m.Kind]
		switch {
		case !known || len(m.Points) != n || m.Kind == Note && m.Text == "":
			return d, words.Because(ErrBad, "marks_kind", nil)
		case m.Frame < 0 || m.Frame >= len(track.Poses):
			return d, words.Because(ErrBad, "marks_frame", words.Params{"frame": m.Frame, "frames": len(track.Poses)})
		case len([]rune(m.Text)) > maxRunes:
			return d, words.Because(ErrBad, "marks_text", words.Params{"most": maxRunes})
		}
		for _, p := range m.Points {
			if !within(p[0], float64(widthPx)) || !within(p[1], float64(heightPx)) {
				return d, words.Because(ErrBad, "marks_outside", words.Params{"frame": m.Frame})
			}
		}
		m.TimeS = track.Poses[m.Frame].TimeS
	}
	slices.SortStableFunc(out.Marks, func(a, b Mark) int { return cmp.Compare(a.Frame, b.Frame) })
	return out, nil
}

func within(x, size float64) bool { return x >= -edgePart*size && x <= (1+edgePart)*size }

// Read reads marks as they are kept; of none, or of what cannot be read, there are none.
func Read(doc []byte) []Mark {
	var d Document
	if len(doc) == 0 || json.Unmarshal(doc, &d) != nil {
		return nil
	}
	return slices.DeleteFunc(d.Marks, func(m Mark) bool { return places[m.Kind] == 0 || len(m.Points) != places[m.Kind] })
}

// Deg is the angle that an angle marks, in degrees; NaN of other marks.
func (m *Mark) Deg() float64 {
	if m.Kind != Angle {
		return math.NaN()
	}
	p := func(i int) plane.XY { return plane.XY{X: m.Points[i][0], Y: m.Points[i][1]} }
	return plane.AngleDeg(p(0), p(1), p(2))
}

// label is what stands beside a mark: its angle and its text.
func (m *Mark) label() string {
	text := printable.Line(m.Text)
	switch deg := m.Deg(); {
	case math.IsNaN(deg):
		return text
	case text == "":
		return said.Degrees(deg)
	default:
		return said.Degrees(deg) + " " + text
	}
}

// Picture is a frame with its marks.
type Picture struct {
	Clip  string
	TimeS float64 // in the file
	Frame int
	Notes []string // what stands beside the marks
	JPEG  []byte
}

// shownFrames is how many frames of a clip a report shows at most: the first.
const shownFrames = 6

// Pictures draws the marked frames of a clip. A clip that is gone gives a warning and no pictures.
func Pictures(ctx context.Context, a *screening.Analysis, marks []Mark, blurFace bool) (
	out []Picture, gone *screening.Warning, err error) {
	if len(marks) == 0 {
		return nil, nil, nil
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	missing := func(err error) ([]Picture, *screening.Warning, error) {
		if ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
		w := motion.ClipGone(a, err)
		return nil, &w, nil
	}
	clip, err := motion.OpenClip(ctx, a)
	if err != nil {
		return missing(err)
	}
	frames, err := clip.FramesWithOptions(ctx, media.FrameOptions{MaxSidePx: drawn.LongestSidePx})
	if err != nil {
		return missing(err)
	}
	p := &motion.Player{Frames: frames}
	defer p.Close()
	if blurFace {
		p.Heads = motion.New(a).Heads(nil)
	}
	for len(marks) > 0 && len(out) < shownFrames {
		n := 1
		for n < len(marks) && marks[n].Frame == marks[0].Frame {
			n++
		}
		picture, err := draw(p, marks[:n])
		if err != nil {
			return nil, nil, fmt.Errorf("drawing the marks of %s: %w", a.Clip.Name, err)
		}
		picture.Clip = a.Clip.Name
		out, marks = append(out, picture), marks[n:]
	}
	return out, nil, nil
}

// draw draws the marks of one frame over it.
func draw(p *motion.Player, marks []Mark) (Picture, error) {
	out := Picture{TimeS: marks[0].TimeS, Frame: marks[0].Frame}
	fr, err := p.At(marks[0].TimeS)
	if err != nil {
		return out, err
	}
	picture, err := fr.Canvas()
	if err != nil {
		return out, err
	}
	c, err := paint.NewCanvas(picture.WidthPx(), picture.HeightPx(), drawn.Ground)
	if err != nil {
		return out, err
	}
	defer c.Close()
	c.Draw(picture, 0, 0)
	u := float64(max(c.WidthPx(), c.HeightPx())) / 640
	perPx := fr.ScalePx
	if !(perPx > 0) {
		perPx = 1
	}
	for i := range marks {
		m := &marks[i]
		var at []plane.XY
		for _, q := range m.Points {
			at = append(at, plane.XY{X: q[0] / perPx, Y: q[1] / perPx})
		}
		c.Polyline(at, paint.Stroke{WidthPx: 6 * u, Color: drawn.Ground})
		c.Polyline(at, paint.Stroke{WidthPx: 3 * u, Color: drawn.Orange})
		for _, q := range at {
			c.Disc(q, 4*u, drawn.Orange)
		}
		if text := m.label(); text != "" {
			out.Notes = append(out.Notes, text)
			beside := at[len(at)/2]
			c.Text(plane.XY{X: beside.X + 9*u, Y: beside.Y + 1.5*u}, text,
				paint.TextStyle{SizePx: 15 * u, Bold: true, Color: drawn.Ground, Middle: true})
			c.Text(plane.XY{X: beside.X + 8*u, Y: beside.Y}, text,
				paint.TextStyle{SizePx: 15 * u, Bold: true, Color: drawn.Paper, Middle: true})
		}
	}
	out.JPEG, err = c.JPEG(86)
	return out, err
}
