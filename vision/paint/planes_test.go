package paint

import (
	"image/color"
	"testing"
)

// White, black and pure colours as the standard has them; a picture of odd size gets a black edge.
func TestPlanes(t *testing.T) {
	p := NewPlanes()
	defer p.Close()
	for _, tt := range []struct {
		name    string
		col     color.NRGBA
		w, h    int
		y, u, v byte
	}{
		{"white", color.NRGBA{255, 255, 255, 255}, 4, 2, 235, 128, 128},
		{"black", color.NRGBA{0, 0, 0, 255}, 4, 2, 16, 128, 128},
		{"red", color.NRGBA{255, 0, 0, 255}, 4, 6, 82, 90, 240},
		{"green", color.NRGBA{0, 255, 0, 255}, 5, 3, 145, 54, 34},
		{"blue", color.NRGBA{0, 0, 255, 255}, 2, 2, 41, 240, 110},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c, err := NewCanvas(tt.w, tt.h, tt.col)
			if err != nil {
				t.Fatal(err)
			}
			defer c.Close()
			got, err := p.Of(c)
			if err != nil {
				t.Fatal(err)
			}
			w, h := tt.w+tt.w%2, tt.h+tt.h%2
			if len(got) != w*h*3/2 {
				t.Fatalf("%d bytes", len(got))
			}
			near := func(a, b byte) bool { return int(a)-int(b) <= 1 && int(b)-int(a) <= 1 }
			if !near(got[0], tt.y) || !near(got[w*h], tt.u) || !near(got[w*h*5/4], tt.v) {
				t.Errorf("got %d %d %d, want %d %d %d", got[0], got[w*h], got[w*h*5/4], tt.y, tt.u, tt.v)
			}
			if tt.w%2 > 0 && got[w-1] != 16 {
				t.Errorf("the edge is %d", got[w-1])
			}
		})
	}
}
