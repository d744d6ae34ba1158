package paint

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"testing"

	"gocv.io/x/gocv"
	"pgregory.net/rapid"

	"holdfast/vision/plane"
)

var (
	black = color.NRGBA{A: 255}
	white = color.NRGBA{R: 255, G: 255, B: 255, A: 255}
	red   = color.NRGBA{R: 255, A: 255}
)

func newCanvas(t interface{ Fatal(...any) }, w, h int) *Canvas {
	c, err := NewCanvas(w, h, black)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// ink adds up how much white lies on a black canvas, in pixels.
func ink(c *Canvas) float64 {
	sum := 0.0
	for y := 0; y < c.HeightPx(); y++ {
		for x := 0; x < c.WidthPx(); x++ {
			sum += float64(c.At(x, y).G) / 255
		}
	}
	return sum
}

// TestShapesCoverTheirArea checks each shape against the area that school
// geometry gives it; a signed-distance edge is exact to a few per cent.
func TestShapesCoverTheirArea(t *testing.T) {
	centre := plane.XY{X: 50, Y: 50}
	for _, tc := range []struct {
		name string
		draw func(*Canvas)
		want float64
	}{
		{"disc", func(c *Canvas) { c.Disc(centre, 20, white) }, math.Pi * 400},
		{"line", func(c *Canvas) {
			c.Line(plane.XY{X: 20, Y: 30}, plane.XY{X: 80, Y: 70}, Stroke{WidthPx: 6, Color: white})
		}, math.Hypot(60, 40)*6 + math.Pi*9},
		{"level line", func(c *Canvas) {
			c.Line(plane.XY{X: 20, Y: 50}, plane.XY{X: 80, Y: 50}, Stroke{WidthPx: 6, Color: white})
		}, 60*6 + math.Pi*9},
		{"upright line", func(c *Canvas) {
			c.Line(plane.XY{X: 50, Y: 80}, plane.XY{X: 50, Y: 20}, Stroke{WidthPx: 6, Color: white})
		}, 60*6 + math.Pi*9},
		{"quarter wedge", func(c *Canvas) { c.Wedge(centre, 30, 10, 90, white) }, math.Pi * 900 / 4},
		{"wedge backwards", func(c *Canvas) { c.Wedge(centre, 30, 10, -90, white) }, math.Pi * 900 / 4},
		{"wide wedge", func(c *Canvas) { c.Wedge(centre, 30, -50, 270, white) }, math.Pi * 900 * 0.75},
		{"whole wedge", func(c *Canvas) { c.Wedge(centre, 30, 0, 360, white) }, math.Pi * 900},
		{"arc", func(c *Canvas) { c.Arc(centre, 30, 0, 90, Stroke{WidthPx: 4, Color: white}) }, math.Pi * 15 * 4},
		{"triangle", func(c *Canvas) { c.Convex([]plane.XY{{X: 20, Y: 20}, {X: 80, Y: 20}, {X: 50, Y: 80}}, white) }, 1800},
		{"triangle turned", func(c *Canvas) { c.Convex([]plane.XY{{X: 50, Y: 80}, {X: 80, Y: 20}, {X: 20, Y: 20}}, white) },
			1800},
		{"round rectangle", func(c *Canvas) { c.RoundRect(plane.XY{X: 20, Y: 30}, plane.XY{X: 80, Y: 70}, 10, white) },
			2400 - (4-math.Pi)*100},
		{"rectangle", func(c *Canvas) { c.Rect(90, 90, 30, 30, white) }, 100},
		{"half-clear rectangle", func(c *Canvas) { c.Rect(10, 10, 20, 20, color.NRGBA{R: 255, G: 255, B: 255, A: 128}) },
			400 * 128 / 255.0},
		{"nothing at NaN", func(c *Canvas) {
			nan := plane.XY{X: math.NaN(), Y: 3}
			c.Line(plane.XY{X: 1e300, Y: -1e300}, centre, Stroke{WidthPx: 5, Color: white})
			c.Line(nan, centre, Stroke{WidthPx: 5, Color: white})
			c.Disc(nan, 5, white)
			c.Wedge(nan, 5, 0, 90, white)
			c.Wedge(centre, 5, math.NaN(), 90, white)
			c.Convex([]plane.XY{nan, centre, {X: 1, Y: 2}}, white)
			c.Text(nan, "5°", TextStyle{SizePx: 12, Color: white})
			c.Text(centre, "5°", TextStyle{SizePx: math.NaN(), Color: white})
			c.RoundRect(nan, centre, 2, white)
		}, 0},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := newCanvas(t, 100, 100)
			defer c.Close()
			tc.draw(c)
			if got := ink(c); math.Abs(got-tc.want) > 0.03*tc.want+0.5 {
				t.Errorf("covers %.1f pixels, want %.1f", got, tc.want)
			}
		})
	}
}

// TestWedgeOpensClockwise: 0 is to the right and a positive sweep goes down the
// screen, because y does.
func TestWedgeOpensClockwise(t *testing.T) {
	c := newCanvas(t, 40, 40)
	defer c.Close()
	c.Wedge(plane.XY{X: 20, Y: 20}, 15, 0, 90, white)
	if c.At(26, 26) != white || c.At(13, 26) != black || c.At(26, 13) != black {
		t.Errorf("lower right %v, lower left %v, upper right %v", c.At(26, 26), c.At(13, 26), c.At(26, 13))
	}
}

func TestDashesKeepTheirShare(t *testing.T) {
	c := newCanvas(t, 200, 20)
	defer c.Close()
	c.Line(plane.XY{X: 10, Y: 10}, plane.XY{X: 190, Y: 10}, Stroke{WidthPx: 2, Color: white, Dash: []float64{6, 6}})
	// 15 dashes of 6 with round ends of radius 1.
	if got, want := ink(c), 15*(6*2+math.Pi); math.Abs(got-want) > 0.06*want {
		t.Errorf("covers %.1f pixels, want %.1f", got, want)
	}
}

// TestFineDashesMakeALine: a pattern finer than a pixel would take forever.
func TestFineDashesMakeALine(t *testing.T) {
	c := newCanvas(t, 200, 20)
	defer c.Close()
	c.Line(plane.XY{X: 10, Y: 10}, plane.XY{X: 190, Y: 10},
		Stroke{WidthPx: 1e300, Color: white, Dash: []float64{1e-300, 1e-9}})
	if got := ink(c); got != 200*20 {
		t.Errorf("covers %.1f pixels, want all", got)
	}
}

// TestDrawingNeverPanics throws shapes of every size and place at a small
// canvas.
func TestDrawingNeverPanics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newCanvas(t, 30, 20)
		defer c.Close()
		num := rapid.OneOf(rapid.Float64Range(-100, 100),
			rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300, -1e300, 0}))
		p := func() plane.XY { return plane.XY{X: num.Draw(t, "x"), Y: num.Draw(t, "y")} }
		col := color.NRGBA{R: 9, G: 200, B: 7, A: uint8(rapid.IntRange(0, 255).Draw(t, "alpha"))}
		s := Stroke{WidthPx: num.Draw(t, "width"), Color: col, Dash: []float64{num.Draw(t, "ink"), num.Draw(t, "gap")}}
		c.Polyline([]plane.XY{p(), p(), p()}, s)
		c.Disc(p(), num.Draw(t, "r"), col)
		c.Wedge(p(), num.Draw(t, "r"), num.Draw(t, "from"), num.Draw(t, "sweep"), col)
		c.Arc(p(), num.Draw(t, "r"), num.Draw(t, "from"), num.Draw(t, "sweep"), s)
		c.Convex([]plane.XY{p(), p(), p()}, col)
		c.RoundRect(p(), p(), num.Draw(t, "r"), col)
		c.Text(p(), rapid.String().Draw(t, "text"), TextStyle{SizePx: rapid.Float64Range(-5, 60).Draw(t, "size"), Color: col})
		i := rapid.IntRange(-60, 60)
		c.Rect(i.Draw(t, "x"), i.Draw(t, "y"), i.Draw(t, "w"), i.Draw(t, "h"), col)
		c.DrawPart(c, image.Rect(i.Draw(t, "x"), i.Draw(t, "y"), i.Draw(t, "x"), i.Draw(t, "y")), i.Draw(t, "x"),
			i.Draw(t, "y"))
	})
}

func TestText(t *testing.T) {
	for _, s := range []string{"104°", "6–12", "1/4 ×", "Rep 2 of 3 · fast", "−9°"} {
		for _, bold := range []bool{false, true} {
			st := TextStyle{SizePx: 20, Bold: bold, Color: white}
			c := newCanvas(t, 300, 40)
			w := c.Text(plane.XY{X: 10, Y: 28}, s, st)
			if w < 20 || w > 200 || ink(c) < 30 {
				t.Errorf("%q bold %v: %.0f pixels wide, %.0f inked", s, bold, w, ink(c))
			}
			_ = c.Close()
		}
	}
	// The degree sign must be a glyph of its own, not the box of a missing one.
	deg, box := newCanvas(t, 40, 40), newCanvas(t, 40, 40)
	defer deg.Close()
	defer box.Close()
	deg.Text(plane.XY{X: 5, Y: 30}, "°", TextStyle{SizePx: 30, Color: white})
	box.Text(plane.XY{X: 5, Y: 30}, "\U0010fffd", TextStyle{SizePx: 30, Color: white})
	if ink(deg) > 0.8*ink(box) && ink(box) > 0 {
		t.Errorf("the degree sign inks %.0f pixels, the missing glyph %.0f", ink(deg), ink(box))
	}
	// Text centred on the middle leaves as much above as below.
	c := newCanvas(t, 60, 60)
	defer c.Close()
	c.Text(plane.XY{X: 30, Y: 30}, "H", TextStyle{SizePx: 40, Color: white, AlignX: 0.5, Middle: true})
	top, bottom := -1, -1
	for y := 0; y < 60; y++ {
		for x := 0; x < 60; x++ {
			if c.At(x, y).G > 128 {
				if top < 0 {
					top = y
				}
				bottom = y
			}
		}
	}
	if math.Abs(float64(top+bottom)/2-29.5) > 1.5 {
		t.Errorf("the letter spans rows %d to %d, which is not centred on 30", top, bottom)
	}
}

// A line that is longer than its room is written smaller, on whatever side it ends, and a short one as it is.
func TestFit(t *testing.T) {
	const room = 60
	beside := func(fit bool, text string, alignX float64) float64 {
		c := newCanvas(t, 500, 40)
		defer c.Close()
		st := TextStyle{SizePx: 20, Color: white, AlignX: alignX}
		if at := (plane.XY{X: 200 + alignX*room, Y: 28}); fit {
			c.Fit(at, text, st, room)
		} else {
			c.Text(at, text, st)
		}
		if len(text) > 2 {
			c.Rect(199, 0, room+2, 40, black)
		}
		return ink(c)
	}
	for _, alignX := range []float64{0, 1} {
		const long = "a name that is much too long"
		if plain, fits := beside(false, long, alignX), beside(true, long, alignX); plain < 30 || fits > 1 {
			t.Errorf("%v: %.0f pixels beside the room, and %.0f fitted", alignX, plain, fits)
		}
	}
	if plain, fits := beside(false, "ok", 0), beside(true, "ok", 0); plain != fits {
		t.Errorf("a short line has %.0f of ink, fitted %.0f", plain, fits)
	}
}

func TestPicturesOnPictures(t *testing.T) {
	small := newCanvas(t, 10, 10)
	defer small.Close()
	small.Rect(0, 0, 10, 10, red)

	c := newCanvas(t, 40, 40)
	defer c.Close()
	c.Draw(small, 35, -5) // over the edge on two sides
	if c.At(39, 4) != red || c.At(39, 5) != black || c.At(34, 0) != black {
		t.Error("a picture laid over the edge is in the wrong place")
	}
	if err := c.DrawScaled(small, image.Rect(0, 20, 20, 40)); err != nil {
		t.Fatal(err)
	}
	if c.At(10, 30) != red || c.At(21, 30) != black {
		t.Error("a scaled picture is in the wrong place")
	}
	if err := c.DrawScaled(small, image.Rect(30, 30, 50, 50)); err == nil {
		t.Error("no error for a place outside the picture")
	}
	if err := c.Blend(small, 0.5); err == nil {
		t.Error("no error for mixing pictures of two sizes")
	}
	over := newCanvas(t, 40, 40)
	defer over.Close()
	over.Fill(white)
	if err := c.Blend(over, 0.5); err != nil {
		t.Fatal(err)
	}
	if got := c.At(10, 30); got.R != 255 || math.Abs(float64(got.G)-128) > 1 {
		t.Errorf("half red, half white is %v", got)
	}
}

// TestWarpPutsPlacesWhereTheMappingSays: a dot drawn at p shows up at m.Apply(p).
func TestWarpPutsPlacesWhereTheMappingSays(t *testing.T) {
	src := newCanvas(t, 60, 60)
	defer src.Close()
	p := plane.XY{X: 20, Y: 35}
	src.Disc(p, 4, white)
	for _, m := range []plane.Affine{
		{A: 1, E: 1, C: 7, F: -3},
		{A: 1.5, E: 1.5, C: -10, F: 5},
		{A: -1, E: 1, C: 60}, // mirrored
	} {
		dst := newCanvas(t, 90, 90)
		if err := dst.DrawWarped(src, m, image.Rect(0, 0, 90, 90), black); err != nil {
			t.Fatal(err)
		}
		var sx, sy, n float64
		for y := 0; y < 90; y++ {
			for x := 0; x < 90; x++ {
				g := float64(dst.At(x, y).G)
				sx, sy, n = sx+g*(float64(x)+0.5), sy+g*(float64(y)+0.5), n+g
			}
		}
		want := m.Apply(p)
		if math.Hypot(sx/n-want.X, sy/n-want.Y) > 0.15 {
			t.Errorf("%+v: the dot is at %.2f, %.2f, want %.2f, %.2f", m, sx/n, sy/n, want.X, want.Y)
		}
		_ = dst.Close()
	}
}

func TestPictureFiles(t *testing.T) {
	c := newCanvas(t, 31, 17)
	defer c.Close()
	c.Rect(0, 0, 31, 17, red)
	b, err := c.PNG()
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if r, g, _, _ := img.At(3, 3).RGBA(); img.Bounds().Dx() != 31 || r>>8 != 255 || g != 0 {
		t.Error("the PNG file holds another picture")
	}
	if b, err = c.JPEG(85); err != nil {
		t.Fatal(err)
	}
	if img, err = jpeg.Decode(bytes.NewReader(b)); err != nil || img.Bounds().Dy() != 17 {
		t.Errorf("the JPEG file holds another picture: %v", err)
	}
}

func TestCanvasErrors(t *testing.T) {
	if _, err := NewCanvas(0, 5, black); err == nil {
		t.Error("no error for a picture without width")
	}
	grey := gocv.NewMatWithSize(4, 4, gocv.MatTypeCV8UC1)
	defer grey.Close()
	if _, err := Over(grey); err == nil {
		t.Error("no error for a grey picture")
	}
	c := newCanvas(t, 3, 3)
	if err := errors.Join(c.Close(), c.Close()); err != nil {
		t.Error(err)
	}
}

func BenchmarkLimb(b *testing.B) {
	c := newCanvas(b, 1280, 720)
	defer c.Close()
	for b.Loop() {
		c.Line(plane.XY{X: 300, Y: 100}, plane.XY{X: 420, Y: 260}, Stroke{WidthPx: 8, Color: white})
	}
}
