package vision

import (
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// covers says whether one of the discs holds the place.
func covers(discs []Disc, p XY) bool {
	for _, d := range discs {
		if dist(p.X-d.At.X, p.Y-d.At.Y) <= d.RadiusPx {
			return true
		}
	}
	return false
}

// headOf is an upright athlete who looks to the right, with the ear at a place and
// the shoulder 40 pixels below it.
func headOf(timeS float64, ear XY) HeadSample {
	return HeadSample{TimeS: timeS, Ears: []XY{ear}, Face: []XY{ear.Add(20, -2), ear.Add(14, -6), ear.Add(17, 9)},
		Shoulders: []XY{ear.Add(-2, 40)}, Hips: []XY{ear.Add(-4, 140)}}
}

func TestHeadsAt(t *testing.T) {
	walk := func(seen func(i int) bool) []HeadSample {
		var s []HeadSample
		for i := range 100 {
			h := HeadSample{TimeS: float64(i) / 30}
			if seen(i) {
				h = headOf(h.TimeS, XY{100 + 3*float64(i), 90})
			}
			s = append(s, h)
		}
		return s
	}
	always := func(int) bool { return true }
	shoulderOnly := walk(always)
	for i := range shoulderOnly {
		shoulderOnly[i].Ears, shoulderOnly[i].Face = nil, nil
	}
	faceOnly := walk(always)
	for i := range faceOnly {
		faceOnly[i].Ears = nil
	}
	spike := walk(always)
	spike[50] = headOf(spike[50].TimeS, XY{600, 300})
	for _, tc := range []struct {
		name    string
		samples []HeadSample
		timesS  []float64
		whole   bool // the whole picture is covered
	}{
		{"seen", walk(always), []float64{0, 1, 1.51, 3.3}, false},
		{"only the shoulders", shoulderOnly, []float64{0, 1, 2}, false},
		{"no ear", faceOnly, []float64{0, 1, 2}, false},
		{"one wrong frame", spike, []float64{50 / 30.0}, false},
		{"lost for a third of a second", walk(func(i int) bool { return i < 40 || i > 50 }), []float64{41 / 30.0, 1.5, 50 / 30.0}, false},
		{"lost for two seconds", walk(func(i int) bool { return i < 20 || i > 80 }), []float64{0.7, 1.5, 2.6}, false},
		{"lost at the end", walk(func(i int) bool { return i < 97 }), []float64{97 / 30.0, 99 / 30.0}, false},
		{"not yet found", walk(func(i int) bool { return i > 3 }), []float64{0, 0.1}, false},
		{"never seen", walk(func(int) bool { return false }), []float64{0, 2}, true},
		{"no samples", nil, []float64{0, 2}, true},
	} {
		t.Run(tc.name, func(t *testing.T) {
			h := NewHeads(tc.samples, 640, 360)
			for _, s := range tc.timesS {
				discs := h.At(s)
				ear := XY{100 + 90*s, 90}
				// Crown, chin, nose and the back of the head.
				for _, p := range []XY{ear, ear.Add(2, -24), ear.Add(10, 18), ear.Add(22, 0), ear.Add(-18, 0)} {
					if !covers(discs, p) {
						t.Errorf("at %.2f s the head's %v is not covered by %v", s, p, discs)
					}
				}
				if all := covers(discs, XY{639, 359}) && covers(discs, XY{1, 359}); all != tc.whole {
					t.Errorf("at %.2f s the whole picture is covered: %v", s, all)
				}
			}
		})
	}
	if (*Heads)(nil).At(1) != nil || (*Heads)(nil).Hide(&Frame{}) != nil {
		t.Error("no heads hide something")
	}
}

// Wherever the points lie, each point of the head is covered with room about it.
func TestHeadsCoverAllPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		place := rapid.Custom(func(t *rapid.T) XY {
			return XY{rapid.Float64Range(0, 1000).Draw(t, "x"), rapid.Float64Range(0, 1000).Draw(t, "y")}
		})
		near := rapid.Custom(func(t *rapid.T) XY {
			return XY{rapid.Float64Range(-25, 25).Draw(t, "dx"), rapid.Float64Range(-25, 25).Draw(t, "dy")}
		})
		ear := place.Draw(t, "ear")
		s := HeadSample{TimeS: 1, Ears: []XY{ear}, Shoulders: []XY{ear.Add(0, 50)}, Hips: []XY{ear.Add(0, 170)}}
		for range rapid.IntRange(0, 9).Draw(t, "points") {
			d := near.Draw(t, "face")
			s.Face = append(s.Face, ear.Add(d.X, d.Y))
		}
		turned := s
		turned.TimeS = 1.02
		discs := NewHeads([]HeadSample{s, turned}, 1000, 1000).At(1)
		for _, p := range append(s.Face, ear) {
			for a := 0.0; a < 6; a += 0.5 {
				if q := p.Add(12*math.Cos(a), 12*math.Sin(a)); !covers(discs, q) {
					t.Fatalf("%v, 12 px beside %v, is not covered by %v", q, p, discs)
				}
			}
		}
	})
}

func TestTrackHeads(t *testing.T) {
	nan := Keypoint{X: math.NaN(), Y: math.NaN()}
	tr := &Track{KeypointNames: []string{"nose", "left_ear", "right_ear", "left_shoulder", "left_hip"}, Poses: []Pose{
		{TimeS: 0, Found: true, Keypoints: []Keypoint{{X: 120, Y: 60, Visibility: 1}, nan, {X: 100, Y: 60, Visibility: 0.9}, {X: 98, Y: 100}, {X: 95, Y: 200}}},
		{TimeS: 0.5, Index: 1},
		{TimeS: 1, Index: 2, Found: true, Keypoints: []Keypoint{{X: 220, Y: 60, Visibility: 0.1}, nan, {X: 200, Y: 60, Visibility: 0.1}, {X: 198, Y: 100}, {X: 195, Y: 200}}},
		{TimeS: 1.5, Index: 3, Found: true, Keypoints: []Keypoint{{X: 220, Y: 60}}}, // too few points
	}}
	h := tr.Heads(640, 360)
	sure, unsure := h.At(0)[0], h.At(1)[0]
	if !covers([]Disc{sure}, XY{120, 60}) || unsure.RadiusPx < 1.2*sure.RadiusPx {
		t.Errorf("a head that is seen %v, one that is not %v", sure, unsure)
	}
	for x := 100.0; x <= 200; x += 10 {
		if !covers(h.At(0.5), XY{x, 60}) {
			t.Errorf("between two places, %v px is not covered", x)
		}
	}
	other := NewHeads([]HeadSample{headOf(0, XY{400, 200})}, 640, 360)
	for _, both := range []*Heads{h.Join(other), other.Join(h)} {
		if discs := both.At(0); !covers(discs, XY{100, 60}) || !covers(discs, XY{400, 200}) {
			t.Errorf("joined heads cover %v", discs)
		}
	}
	if h.Join(nil) != h || (*Heads)(nil).Join(h) != h {
		t.Error("joining with none changes the heads")
	}
}

// noise fills a picture with what no encoder and no blur can keep by chance.
func noise(c *Canvas, seed uint64) {
	r := rand.New(rand.NewPCG(seed, 1))
	for y := 0; y < c.h; y += 2 {
		for x := 0; x < c.w; x += 2 {
			v := uint8(40 + r.IntN(176))
			c.Rect(x, y, 2, 2, color.NRGBA{v, v, v, 255})
		}
	}
}

// roughness is the mean step between neighbours of a disc's pixels, grey levels.
func roughness(c *Canvas, d Disc) float64 {
	sum, n := 0.0, 0.0
	for y := int(d.At.Y - d.RadiusPx); y < int(d.At.Y+d.RadiusPx); y++ {
		for x := int(d.At.X - d.RadiusPx); x < int(d.At.X+d.RadiusPx); x++ {
			if dist(float64(x)+1-d.At.X, float64(y)+1-d.At.Y) > d.RadiusPx-2 || x < 0 || y < 0 || x+2 >= c.w || y+2 >= c.h {
				continue
			}
			here := float64(c.At(x, y).G)
			sum += math.Abs(float64(c.At(x+2, y).G)-here) + math.Abs(float64(c.At(x, y+2).G)-here)
			n += 2
		}
	}
	return sum / n
}

func TestObscure(t *testing.T) {
	for _, d := range []Disc{{XY{100, 80}, 40}, {XY{100, 80}, 7}, {XY{3, 80}, 30}, {XY{199, 159}, 50}, {XY{100, 80}, 500}} {
		c, was := newCanvas(t, 200, 160), newCanvas(t, 200, 160)
		noise(c, 7)
		was.Draw(c, 0, 0)
		before := roughness(c, d)
		c.Obscure(d)
		if after := roughness(c, d); !(before > 30) || after > 0.15*before {
			t.Errorf("%v: a step of %.1f before, %.1f after", d, before, after)
		}
		for y := range c.h {
			for x := range c.w {
				if dist(float64(x)+0.5-d.At.X, float64(y)+0.5-d.At.Y) > d.RadiusPx+2 && c.At(x, y) != was.At(x, y) {
					t.Fatalf("%v: the pixel at %d, %d outside has changed", d, x, y)
				}
			}
		}
		_, _ = c.Close(), was.Close()
	}
	c := newCanvas(t, 20, 10)
	defer c.Close()
	for _, d := range []Disc{{}, {XY{math.NaN(), 1}, 5}, {XY{1, 1}, math.Inf(1)}, {XY{1, 1}, -3}, {XY{500, 500}, 20}, {XY{-1e300, 5}, 10}, {XY{5, 5}, 1e300}} {
		c.Obscure(d)
	}
}
