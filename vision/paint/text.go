package paint

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"holdfast/vision/plane"
)

// TextStyle says how text is drawn. AlignX 0 begins at the given place, 0.5
// centres on it, 1 ends at it; the place is the height of the base line, or the
// middle of the capital letters when Middle is set.
type TextStyle struct {
	SizePx float64
	Bold   bool
	Color  color.NRGBA
	AlignX float64
	Middle bool
}

// capHeight is the height of a capital letter of the Go fonts in parts of the
// font size.
const capHeight = 0.72

// typeface is one font at one size. Faces of the font library are not safe for
// use by two goroutines and slow to ask, so each glyph's picture is kept.
type typeface struct {
	mu     sync.Mutex
	face   font.Face
	glyphs map[rune]glyph
}

type glyph struct {
	mask    []byte
	box     image.Rectangle // relative to the dot
	advance float64
}

type faceKey struct {
	tenthsPx int
	bold     bool
}

var typefaces = struct {
	sync.Mutex
	byKey map[faceKey]*typeface
}{byKey: map[faceKey]*typeface{}}

func openTypeface(sizePx float64, bold bool) (*typeface, error) {
	if !(sizePx > 0) || sizePx > 2000 {
		return nil, fmt.Errorf("a font of %v pixels", sizePx)
	}
	key := faceKey{int(math.Round(sizePx * 10)), bold}
	typefaces.Lock()
	defer typefaces.Unlock()
	if t := typefaces.byKey[key]; t != nil {
		return t, nil
	}
	data := goregular.TTF
	if bold {
		data = gobold.TTF
	}
	f, err := opentype.Parse(data)
	if err != nil {
		return nil, fmt.Errorf("reading the font: %w", err)
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: sizePx, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		return nil, fmt.Errorf("reading the font: %w", err)
	}
	t := &typeface{face: face, glyphs: map[rune]glyph{}}
	typefaces.byKey[key] = t
	return t, nil
}

// glyph returns the picture of a letter.
func (t *typeface) glyph(r rune) glyph {
	t.mu.Lock()
	defer t.mu.Unlock()
	if g, ok := t.glyphs[r]; ok {
		return g
	}
	var g glyph
	box, mask, maskAt, advance, ok := t.face.Glyph(fixed.Point26_6{}, r)
	if alpha, isAlpha := mask.(*image.Alpha); ok && isAlpha {
		g = glyph{box: box, advance: float64(advance) / 64, mask: make([]byte, box.Dx()*box.Dy())}
		for j := 0; j < box.Dy(); j++ {
			for i := 0; i < box.Dx(); i++ {
				g.mask[j*box.Dx()+i] = alpha.AlphaAt(maskAt.X+i, maskAt.Y+j).A
			}
		}
	}
	t.glyphs[r] = g
	return g
}

// MeanSidePx returns the side of the square that is as large as a picture of this size, in
// pixels: what grows with it looks equally large in upright and wide pictures.
func MeanSidePx(widthPx, heightPx int) float64 {
	return math.Sqrt(float64(widthPx) * float64(heightPx))
}

// TextWidth returns the width of text in pixels, and 0 when the size is not
// positive.
func TextWidth(s string, st TextStyle) float64 {
	t, err := openTypeface(st.SizePx, st.Bold)
	if err != nil {
		return 0
	}
	w := 0.0
	for _, r := range s {
		w += t.glyph(r).advance
	}
	return w
}

// Fit writes a line in the room that there is, in pixels, smaller where it is scarce.
func (c *Canvas) Fit(at plane.XY, text string, st TextStyle, room float64) {
	if w := TextWidth(text, st); w > room {
		st.SizePx *= room / w
	}
	c.Text(at, text, st)
}

// Text draws one line of text in the Go fonts (Latin, Greek, Cyrillic, ° – × ·)
// and returns its width in pixels.
func (c *Canvas) Text(at plane.XY, s string, st TextStyle) float64 {
	t, err := openTypeface(st.SizePx, st.Bold)
	if err != nil || at.Missing() {
		return 0
	}
	width := TextWidth(s, st)
	x, y := at.X-st.AlignX*width, at.Y
	if st.Middle {
		y += st.SizePx * capHeight / 2
	}
	bottom := int(math.Round(y))
	for _, r := range s {
		g := t.glyph(r)
		left := int(math.Round(x)) + g.box.Min.X
		for j := 0; j < g.box.Dy(); j++ {
			row := bottom + g.box.Min.Y + j
			if row < 0 || row >= c.h {
				continue
			}
			for i := 0; i < g.box.Dx(); i++ {
				col := left + i
				a := g.mask[j*g.box.Dx()+i]
				if a == 0 || col < 0 || col >= c.w {
					continue
				}
				c.mix(row*c.stride+col*3, st.Color, float64(a)/255)
			}
		}
		x += g.advance
	}
	return width
}
