package foot

import (
	"math"
	"testing"

	"holdfast/vision/plane"
)

// BenchmarkLay measures the laying of a shoe's rear over one picture, from a start that is 2 degrees and a pixel off.
func BenchmarkLay(b *testing.B) {
	c, about := newCloth(3), plane.XY{X: 60, Y: 45}
	truth := lie{8 * math.Pi / 180, plane.XY{X: 62, Y: 46}}
	picture := func(l lie) *field {
		f, err := newField(c.picture(120, 90, about, l, 1, 0, 1), 120, 90, 1)
		if err != nil {
			b.Fatal(err)
		}
		return &f
	}
	p, ok := newPatch(picture(lie{0, about}), about, inBox(35, 33, 85, 57))
	if !ok {
		b.Fatal("nothing to see in the cloth")
	}
	now, start := picture(truth), lie{6 * math.Pi / 180, truth.at.Add(1, 0)}
	for b.Loop() {
		if _, ok := p.lay(now, start); !ok {
			b.Fatal("not found")
		}
	}
}
