package paint_test

import (
	"image/color"
	"math"
	"testing"

	"holdfast/internal/grain"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

func black(t *testing.T, w, h int) *paint.Canvas {
	t.Helper()
	c, err := paint.NewCanvas(w, h, color.NRGBA{A: 255})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestObscure(t *testing.T) {
	for _, d := range []paint.Disc{{At: plane.XY{X: 100, Y: 80}, RadiusPx: 40}, {At: plane.XY{X: 100, Y: 80}, RadiusPx: 7},
		{At: plane.XY{X: 3, Y: 80}, RadiusPx: 30}, {At: plane.XY{X: 199, Y: 159}, RadiusPx: 50},
		{At: plane.XY{X: 100, Y: 80}, RadiusPx: 500}} {
		c, was := black(t, 200, 160), black(t, 200, 160)
		grain.Fill(c, 7)
		was.Draw(c, 0, 0)
		before := grain.Roughness(c, d)
		c.Obscure(d)
		if after := grain.Roughness(c, d); !(before > 30) || after > 0.15*before {
			t.Errorf("%v: a step of %.1f before, %.1f after", d, before, after)
		}
		for y := range c.HeightPx() {
			for x := range c.WidthPx() {
				if math.Hypot(float64(x)+0.5-d.At.X, float64(y)+0.5-d.At.Y) > d.RadiusPx+2 && c.At(x, y) != was.At(x, y) {
					t.Fatalf("%v: the pixel at %d, %d outside has changed", d, x, y)
				}
			}
		}
		_, _ = c.Close(), was.Close()
	}
	c := black(t, 20, 10)
	defer c.Close()
	for _, d := range []paint.Disc{{}, {At: plane.XY{X: math.NaN(), Y: 1}, RadiusPx: 5},
		{At: plane.XY{X: 1, Y: 1}, RadiusPx: math.Inf(1)}, {At: plane.XY{X: 1, Y: 1}, RadiusPx: -3},
		{At: plane.XY{X: 500, Y: 500}, RadiusPx: 20}, {At: plane.XY{X: -1e300, Y: 5}, RadiusPx: 10},
		{At: plane.XY{X: 5, Y: 5}, RadiusPx: 1e300}} {
		c.Obscure(d)
	}
}
