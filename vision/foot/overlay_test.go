package foot

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"holdfast/vision/plane"
)

// cloth is a picture of soft random spots that can be read anywhere: a sum of waves.
type cloth struct{ kx, ky, phase, height []float64 }

func newCloth(seed uint64) *cloth {
	rng := rand.New(rand.NewPCG(seed, 7))
	c := &cloth{}
	for range 16 {
		// Waves of 16 to 60 pixels.
		length, dir := 16+44*rng.Float64(), 2*math.Pi*rng.Float64()
		c.kx, c.ky = append(c.kx, 2*math.Pi/length*math.Cos(dir)), append(c.ky, 2*math.Pi/length*math.Sin(dir))
		c.phase, c.height = append(c.phase, 2*math.Pi*rng.Float64()), append(c.height, 14*rng.Float64())
	}
	return c
}

func (c *cloth) at(x, y float64) float64 {
	v := 128.0
	for i := range c.kx {
		v += c.height[i] * math.Sin(c.kx[i]*x+c.ky[i]*y+c.phase[i])
	}
	return v
}

// picture draws the cloth turned about a place of it, which comes to lie at a place of the
// picture, in another light and with noise.
func (c *cloth) picture(w, h int, about plane.XY, l lie, gain, bias, noise float64) []byte {
	rng := rand.New(rand.NewPCG(1, 2))
	sin, cos := math.Sincos(l.turnRad)
	grey := make([]byte, w*h)
	for i := range grey {
		dx, dy := float64(i%w)-l.at.X, float64(i/w)-l.at.Y
		v := gain*c.at(about.X+cos*dx+sin*dy, about.Y-sin*dx+cos*dy) + bias + noise*rng.NormFloat64()
		grey[i] = byte(max(0, min(255, math.Round(v))))
	}
	return grey
}

func inBox(x0, y0, x1, y1 float64) func(plane.XY) bool {
	return func(p plane.XY) bool { return p.X >= x0 && p.X <= x1 && p.Y >= y0 && p.Y <= y1 }
}

// A patch is found as it was turned and shifted, in another light, from a start that is a
// few degrees and pixels off.
func TestLayFindsTheTurn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newCloth(rapid.Uint64().Draw(t, "cloth"))
		truth := lie{rapid.Float64Range(-60, 60).Draw(t, "deg") * math.Pi / 180,
			plane.XY{X: 60 + rapid.Float64Range(-8, 8).Draw(t, "x"), Y: 45 + rapid.Float64Range(-8, 8).Draw(t, "y")}}
		about := plane.XY{X: 60, Y: 45}
		f, err := newField(c.picture(120, 90, about, lie{0, about}, 1, 0, 1), 120, 90, 1)
		if err != nil {
			t.Fatal(err)
		}
		gain, bias := rapid.Float64Range(0.6, 1.3).Draw(t, "gain"), rapid.Float64Range(-20, 20).Draw(t, "bias")
		g, err := newField(c.picture(120, 90, about, truth, gain, bias, 2), 120, 90, 1)
		if err != nil {
			t.Fatal(err)
		}
		p, ok := newPatch(&f, about, inBox(35, 33, 85, 57))
		if !ok {
			t.Fatal("nothing to see in the cloth")
		}
		start := lie{truth.turnRad + rapid.Float64Range(-3, 3).Draw(t, "start deg")*math.Pi/180,
			truth.at.Add(rapid.Float64Range(-1.5, 1.5).Draw(t, "start x"), 1)}
		got, ok := p.lay(&g, start)
		if !ok {
			t.Fatal("not found")
		}
		off := math.Abs(got.turnRad-truth.turnRad) * 180 / math.Pi
		if away := math.Hypot(got.at.X-truth.at.X, got.at.Y-truth.at.Y); off > 0.4 || away > 0.3 {
			t.Fatalf("lies at %v, turned %.2f degrees too far; want %v", got.at, off, truth.at)
		}
		if got.correlation < 0.97 || !(got.turnSD > 0) {
			t.Fatalf("correlation %g, spread %g", got.correlation, got.turnSD)
		}
	})
}

// A shadow over a part of it does not pull the rest.
func TestLayBearsAShadow(t *testing.T) {
	c := newCloth(3)
	about := plane.XY{X: 60, Y: 45}
	truth := lie{8 * math.Pi / 180, plane.XY{X: 62, Y: 46}}
	f, err := newField(c.picture(120, 90, about, lie{0, about}, 1, 0, 1), 120, 90, 1)
	if err != nil {
		t.Fatal(err)
	}
	grey := c.picture(120, 90, about, truth, 1, 0, 1)
	for y := 30; y < 62; y++ {
		for x := 34; x < 46; x++ {
			grey[y*120+x] /= 2
		}
	}
	g, err := newField(grey, 120, 90, 1)
	if err != nil {
		t.Fatal(err)
	}
	p, ok := newPatch(&f, about, inBox(35, 33, 85, 57))
	if !ok {
		t.Fatal("nothing to see in the cloth")
	}
	got, ok := p.lay(&g, lie{5 * math.Pi / 180, about})
	if off := math.Abs(got.turnRad-truth.turnRad) * 180 / math.Pi; !ok || off > 0.4 {
		t.Errorf("found %v, %.2f degrees off", ok, off)
	}
}

// Where there is nothing to see, or nothing of the patch, it says so and does not end the
// program.
func TestLayFindsNothing(t *testing.T) {
	plain := func(v byte) *field {
		grey := make([]byte, 120*90)
		for i := range grey {
			grey[i] = v
		}
		f, err := newField(grey, 120, 90, 1)
		if err != nil {
			t.Fatal(err)
		}
		return &f
	}
	about := plane.XY{X: 60, Y: 45}
	if _, ok := newPatch(plain(0), about, inBox(35, 33, 85, 57)); ok {
		t.Error("a patch of the dark")
	}
	f, err := newField(newCloth(5).picture(120, 90, about, lie{0, about}, 1, 0, 0), 120, 90, 1)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := newPatch(&f, about, inBox(3, 3, 9, 9)); ok {
		t.Error("a patch of a few pixels")
	}
	p, ok := newPatch(&f, about, inBox(35, 33, 85, 57))
	if !ok {
		t.Fatal("nothing to see in the cloth")
	}
	other, err := newField(newCloth(6).picture(120, 90, about, lie{0, about}, 1, 0, 0), 120, 90, 1)
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name string
		in   *field
		from lie
	}{
		{"dark", plain(0), lie{at: about}},
		{"white", plain(255), lie{at: about}},
		{"outside", &f, lie{at: plane.XY{X: -40, Y: 45}}},
		{"at no place", &f, lie{at: plane.XY{X: math.NaN(), Y: 45}}},
		{"other", &other, lie{at: about}},
	}
	for _, tt := range tests {
		if got, ok := p.lay(tt.in, tt.from); ok && got.correlation > leastAlike {
			t.Errorf("%s: found, correlation %g", tt.name, got.correlation)
		}
	}
}
