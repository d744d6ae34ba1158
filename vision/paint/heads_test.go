package paint

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"holdfast/vision/plane"
)

// covers says whether one of the discs holds the place.
func covers(discs []Disc, p plane.XY) bool {
	for _, d := range discs {
		if dist(p.X-d.At.X, p.Y-d.At.Y) <= d.RadiusPx {
			return true
		}
	}
	return false
}

// headOf is an upright athlete who looks to the right, with the ear at a place and
// the shoulder 40 pixels below it.
func headOf(timeS float64, ear plane.XY) HeadSample {
	return HeadSample{TimeS: timeS, Ears: []plane.XY{ear}, Face: []plane.XY{ear.Add(20, -2), ear.Add(14, -6),
		ear.Add(17, 9)},
		Shoulders: []plane.XY{ear.Add(-2, 40)}, Hips: []plane.XY{ear.Add(-4, 140)}}
}

func TestHeadsAt(t *testing.T) {
	walk := func(seen func(i int) bool) []HeadSample {
		var s []HeadSample
		for i := range 100 {
			h := HeadSample{TimeS: float64(i) / 30}
			if seen(i) {
				h = headOf(h.TimeS, plane.XY{X: 100 + 3*float64(i), Y: 90})
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
	spike[50] = headOf(spike[50].TimeS, plane.XY{X: 600, Y: 300})
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
		{"lost for a third of a second", walk(func(i int) bool { return i < 40 || i > 50 }),
			[]float64{41 / 30.0, 1.5, 50 / 30.0}, false},
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
				ear := plane.XY{X: 100 + 90*s, Y: 90}
				// Crown, chin, nose and the back of the head.
				for _, p := range []plane.XY{ear, ear.Add(2, -24), ear.Add(10, 18), ear.Add(22, 0), ear.Add(-18, 0)} {
					if !covers(discs, p) {
						t.Errorf("at %.2f s the head's %v is not covered by %v", s, p, discs)
					}
				}
				if all := covers(discs, plane.XY{X: 639, Y: 359}) && covers(discs, plane.XY{X: 1, Y: 359}); all != tc.whole {
					t.Errorf("at %.2f s the whole picture is covered: %v", s, all)
				}
			}
		})
	}
	if (*Heads)(nil).At(1) != nil {
		t.Error("no heads cover something")
	}
}

// Wherever the points lie, each point of the head is covered with room about it.
func TestHeadsCoverAllPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		place := rapid.Custom(func(t *rapid.T) plane.XY {
			return plane.XY{X: rapid.Float64Range(0, 1000).Draw(t, "x"), Y: rapid.Float64Range(0, 1000).Draw(t, "y")}
		})
		near := rapid.Custom(func(t *rapid.T) plane.XY {
			return plane.XY{X: rapid.Float64Range(-25, 25).Draw(t, "dx"), Y: rapid.Float64Range(-25, 25).Draw(t, "dy")}
		})
		ear := place.Draw(t, "ear")
		s := HeadSample{TimeS: 1, Ears: []plane.XY{ear}, Shoulders: []plane.XY{ear.Add(0, 50)},
			Hips: []plane.XY{ear.Add(0, 170)}}
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

func TestHeadsJoin(t *testing.T) {
	h := NewHeads([]HeadSample{headOf(0, plane.XY{X: 100, Y: 60})}, 640, 360)
	other := NewHeads([]HeadSample{headOf(0, plane.XY{X: 400, Y: 200})}, 640, 360)
	for _, both := range []*Heads{h.Join(other), other.Join(h)} {
		if discs := both.At(0); !covers(discs, plane.XY{X: 100, Y: 60}) || !covers(discs, plane.XY{X: 400, Y: 200}) {
			t.Errorf("joined heads cover %v", discs)
		}
	}
	if h.Join(nil) != h || (*Heads)(nil).Join(h) != h {
		t.Error("joining with none changes the heads")
	}
}
