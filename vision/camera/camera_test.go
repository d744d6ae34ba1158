package camera

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"gocv.io/x/gocv"

	"holdfast/vision/plane"
)

// room is a large picture with detail, as a background.
func room(t *testing.T, w, h int, seed uint64) gocv.Mat {
	t.Helper()
	m := gocv.NewMatWithSize(h, w, gocv.MatTypeCV8UC3)
	rng := rand.New(rand.NewPCG(seed, 1))
	pix, err := m.DataPtrUint8()
	if err != nil {
		t.Fatal(err)
	}
	for i := range pix {
		pix[i] = uint8(90 + rng.IntN(70))
	}
	gocv.GaussianBlur(m, &m, image.Pt(0, 0), 3, 3, gocv.BorderReflect)
	for range 150 {
		x, y := rng.IntN(w), rng.IntN(h)
		gocv.Rectangle(&m, image.Rect(x, y, x+8+rng.IntN(60), y+8+rng.IntN(60)),
			color.RGBA{uint8(60 + rng.IntN(140)), uint8(60 + rng.IntN(140)), uint8(60 + rng.IntN(140)), 0}, -1)
	}
	gocv.GaussianBlur(m, &m, image.Pt(0, 0), 0.8, 0.8, gocv.BorderReflect)
	return m
}

// seen returns what a camera sees of a room: the place p of the picture shows
// the room's place toFirst(p) + corner.
func seen(room gocv.Mat, toFirst plane.Similarity, corner plane.XY, w, h int, noise *rand.Rand) gocv.Mat {
	m := gocv.NewMatWithSize(2, 3, gocv.MatTypeCV64F)
	defer m.Close()
	half := plane.XY{X: 0.5, Y: 0.5}
	o, x, y := toFirst.Apply(half), toFirst.Apply(plane.XY{X: 1.5, Y: 0.5}), toFirst.Apply(plane.XY{X: 0.5, Y: 1.5})
	for i, v := range [6]float64{x.X - o.X, y.X - o.X, o.X + corner.X - 0.5, x.Y - o.Y, y.Y - o.Y, o.Y + corner.Y - 0.5} {
		m.SetDoubleAt(i/3, i%3, v)
	}
	out := gocv.NewMat()
	gocv.WarpAffineWithParams(room, &out, m, image.Pt(w, h), gocv.InterpolationCubic|gocv.InterpolationFlags(16),
		gocv.BorderReflect, color.RGBA{})
	if noise != nil {
		if pix, err := out.DataPtrUint8(); err == nil {
			for i := range pix {
				pix[i] = uint8(max(0, min(255, int(pix[i])+noise.IntN(9)-4)))
			}
		}
	}
	return out
}

// worstPx returns how far two maps differ in the middle part of a picture.
func worstPx(got, want plane.Similarity, w, h float64) float64 {
	far := 0.0
	for _, p := range []plane.XY{{X: w / 2, Y: h / 2}, {X: w / 4, Y: h / 4}, {X: 3 * w / 4, Y: h / 4},
		{X: w / 4, Y: 3 * h / 4}, {X: 3 * w / 4, Y: 3 * h / 4}} {
		a, b := got.Apply(p), want.Apply(p)
		far = math.Max(far, math.Hypot(a.X-b.X, a.Y-b.Y))
	}
	return far
}

// about returns the map that turns and scales about the middle and then shifts.
func about(scale, angleDeg, dx, dy, w, h float64) plane.Similarity {
	s := plane.Similarity{Scale: scale, AngleDeg: angleDeg}
	at := s.Apply(plane.XY{X: w / 2, Y: h / 2})
	s.DXPx, s.DYPx = w/2-at.X+dx, h/2-at.Y+dy
	return s
}

func TestCameraMotion(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it renders and follows two hundred pictures")
	}
	const w, h = 1280, 720
	wall := room(t, 2600, 1300, 3)
	defer wall.Close()
	other := room(t, 900, 900, 9)
	defer other.Close()
	hand := func(i int) plane.Similarity { // as a hand trembles and sways
		s := float64(i) / 30
		return about(1+0.004*math.Sin(2.1*s), 0.8*math.Sin(5*s)+0.2*math.Sin(31*s), 14*math.Sin(3*s)+2.5*math.Sin(40*s),
			9*math.Sin(4.3*s+1)-9*math.Sin(1)+2*math.Sin(47*s), w, h)
	}
	tests := []struct {
		name       string
		at         func(i int) plane.Similarity
		frames     int
		foreground int // width of what moves by itself, pixels; 0: nothing does
		masked     bool
		tolPx      float64
	}{
		{"still", func(int) plane.Similarity { return plane.Similarity{Scale: 1} }, 5, 0, false, 0.1},
		{"shift", func(i int) plane.Similarity { return about(1, 0, 3.3*float64(i), -2.7*float64(i), w, h) }, 6, 0, false,
			0.1},
		{"turn", func(i int) plane.Similarity { return about(1, 0.6*float64(i), 0, 0, w, h) }, 6, 0, false, 0.1},
		{"zoom", func(i int) plane.Similarity { return about(1+0.01*float64(i), 0, 0, 0, w, h) }, 6, 0, false, 0.1},
		{"jerk", func(i int) plane.Similarity { return about(1, 0, 45*float64(i%2), 30*float64(i%2), w, h) }, 4, 0, false,
			0.1},
		{"hand", hand, 45, 0, false, 0.1},
		{"hand, person behind a mask", hand, 20, 430, true, 0.1},
		{"hand, person not known of", hand, 20, 215, false, 0.1},
		{"slow pan there and back", func(i int) plane.Similarity {
			return about(1, 0, 420*math.Sin(math.Pi*float64(i)/80), 15*math.Sin(float64(i)/9), w, h)
		}, 81, 0, false, 0.25},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := newCamera()
			defer c.Close()
			noise := rand.New(rand.NewPCG(5, 5))
			worst, mean := 0.0, 0.0
			for i := range tt.frames {
				want := tt.at(i)
				m := seen(wall, want, plane.XY{X: 300, Y: 290}, w, h, noise)
				var people []Figure
				if fw := tt.foreground; fw > 0 {
					// 430 pixels make three tenths of the picture.
					x, y := 420+3*i, 20+4*(i%15)
					patch := other.Region(image.Rect(0, 0, fw, 640))
					hole := m.Region(image.Rect(x, y, x+fw, y+640))
					patch.CopyTo(&hole)
					_ = hole.Close()
					_ = patch.Close()
					if tt.masked {
						people = []Figure{{float64(x) + 215, float64(y) + 320, 300, 430}}
					}
				}
				got, err := c.step(m, 1, people)
				_ = m.Close()
				if err != nil {
					t.Fatal(err)
				}
				if !got.Known {
					t.Fatalf("frame %d: not known (%d points)", i, got.Inliers)
				}
				off := worstPx(got, want, w, h)
				worst, mean = math.Max(worst, off), mean+off/float64(tt.frames)
			}
			t.Logf("error: worst %.3f, mean %.3f pixels; %d key frames", worst, mean, len(c.keys))
			if worst > tt.tolPx {
				t.Errorf("error of %.3f pixels, want at most %.2f", worst, tt.tolPx)
			}
		})
	}
}

// What the phone sees drifts out of focus while it moves: hardly a corner of the key frame is found again, but those of
// the frame before are.
func TestCameraOutOfFocus(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it renders and follows thirty pictures")
	}
	const w, h, frames = 1280, 720, 30
	wall := room(t, 2600, 1300, 3)
	defer wall.Close()
	noise := rand.New(rand.NewPCG(5, 5))
	c := newCamera()
	defer c.Close()
	for i := range frames {
		want := about(1, 0, 3*float64(i), -2*float64(i), w, h)
		m := seen(wall, want, plane.XY{X: 300, Y: 290}, w, h, noise)
		if sigma := 0.5 * float64(min(i, 20)); sigma > 0 {
			gocv.GaussianBlur(m, &m, image.Pt(0, 0), sigma, sigma, gocv.BorderDefault)
		}
		got, err := c.step(m, 1, nil)
		_ = m.Close()
		if err != nil {
			t.Fatal(err)
		}
		if off := worstPx(got, want, w, h); !got.Known || off > 3 {
			t.Fatalf("frame %d: known %v, off by %.2f pixels (%d points)", i, got.Known, off, got.Inliers)
		}
	}
}

// A wall without detail, or one whose only detail is the noise of the picture,
// says nothing.
func TestCameraPlainWall(t *testing.T) {
	for _, noisy := range []bool{false, true} {
		t.Run(fmt.Sprint("noise ", noisy), func(t *testing.T) {
			c := newCamera()
			defer c.Close()
			wall := gocv.NewMatWithSize(1300, 1600, gocv.MatTypeCV8UC3)
			defer wall.Close()
			wall.SetTo(gocv.NewScalar(170, 172, 168, 0))
			var noise *rand.Rand
			if noisy {
				noise = rand.New(rand.NewPCG(2, 2))
			}
			for i := range 6 {
				m := seen(wall, about(1, 0, 4*float64(i), 0, 1280, 720), plane.XY{X: 100, Y: 100}, 1280, 720, noise)
				got, err := c.step(m, 1, nil)
				_ = m.Close()
				if err != nil {
					t.Fatal(err)
				}
				if i > 0 && got.Known {
					t.Errorf("frame %d: %d points agree on a plain wall", i, got.Inliers)
				}
				if p := got.Apply(plane.XY{X: 7, Y: 7}); math.Hypot(p.X-7, p.Y-7) > 1e-9 {
					t.Errorf("frame %d: moved to %v", i, p)
				}
			}
		})
	}
}

func BenchmarkCamera(b *testing.B) {
	t := &testing.T{}
	wall := room(t, 1900, 1300, 3)
	defer wall.Close()
	var frames []gocv.Mat
	for i := range 16 {
		s := float64(i) / 30
		frames = append(frames, seen(wall, about(1, math.Sin(5*s), 9*math.Sin(3*s), 5*math.Sin(4*s), 1280, 720),
			plane.XY{X: 300, Y: 290}, 1280, 720, nil))
	}
	c := newCamera()
	defer c.Close()
	for b.Loop() {
		for i := range frames {
			if _, err := c.step(frames[i], 1, nil); err != nil {
				b.Fatal(err)
			}
		}
	}
	for i := range frames {
		_ = frames[i].Close()
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/float64(len(frames)), "µs/frame")
}
