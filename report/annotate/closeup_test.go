package annotate

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"holdfast/internal/compared"
	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/vision/plane"
)

// Wherever the athlete stands, every point lies in the close-up, upright and not
// stretched, and where the clip has room for it no place outside the clip is shown.
func TestCloseUpHoldsTheAthlete(t *testing.T) {
	a, _ := compared.Analysis(t, "jump", "jump")
	rapid.Check(t, func(t *rapid.T) {
		scale := rapid.Float64Range(0.3, 4).Draw(t, "scale")
		dx, dy := rapid.Float64Range(-500, 2000).Draw(t, "dx"), rapid.Float64Range(-500, 2000).Draw(t, "dy")
		b := compared.MovedBy(a, scale, dx, dy)
		m := motion.New(b)
		ms := motion.Moments(b)
		w, h := rapid.Float64Range(200, 4000).Draw(t, "w"), rapid.Float64Range(200, 4000).Draw(t, "h")
		to, ok := frameAthlete(m, ms, w, h)
		if !ok {
			t.Fatal("the athlete was not found")
		}
		if to.A != to.E || to.B != 0 || to.D != 0 || !(to.A > 0) {
			t.Fatalf("%+v stretches or turns", to)
		}
		across, down := closeUpWidthPx/to.A, closeUpHeightPx/to.A
		left, top := -to.C/to.A, -to.F/to.A
		if across <= w && (left < -1e-6 || left+across > w+1e-6) || down <= h && (top < -1e-6 || top+down > h+1e-6) {
			t.Errorf("from %.1f, %.1f over %.1f × %.1f of a clip of %.1f × %.1f", left, top, across, down, w, h)
		}
		for _, mo := range ms {
			for name, p := range drawn.AthleteAt(m, mo.TimeS, plane.Affine{A: 1, E: 1}).Points {
				if p.X < 0 || p.Y < 0 || p.X > w || p.Y > h {
					continue // outside the clip itself
				}
				q := to.Apply(p)
				if q.X < -1e-6 || q.Y < -1e-6 || q.X > closeUpWidthPx+1e-6 || q.Y > closeUpHeightPx+1e-6 {
					t.Errorf("%s at %.1f s lies at %.1f, %.1f", name, mo.TimeS, q.X, q.Y)
				}
			}
		}
	})
}

func TestCloseUpWithoutAnAthlete(t *testing.T) {
	a, _ := compared.Analysis(t, "jump", "jump")
	m := motion.New(a)
	if _, ok := frameAthlete(m, nil, 640, 360); ok {
		t.Error("a close-up of nobody")
	}
	if _, ok := frameAthlete(m, []motion.Moment{{TimeS: math.NaN()}}, 640, 360); ok {
		t.Error("a close-up of no time")
	}
}
