package vision

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The parts cover the picture, stay inside it and overlap, so that a figure of half a part
// lies whole in one.
func TestPartsOfAPicture(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.Float64Range(200, 1280).Draw(t, "width"), rapid.Float64Range(200, 1280).Draw(t, "height")
		parts := partsOf(w, h)
		size := parts[0].SizePx
		reach := size / 4
		x, y := rapid.Float64Range(reach, w-reach).Draw(t, "x"), rapid.Float64Range(reach, h-reach).Draw(t, "y")
		held := false
		for _, p := range parts {
			if p.CX-size/2 < -1e-9 || p.CY-size/2 < -1e-9 || p.CX+size/2 > w+1e-9 || p.CY+size/2 > h+1e-9 {
				t.Fatalf("%gx%g: part %+v reaches out of the picture", w, h, p)
			}
			held = held || p.holds(Detection{Hip: [2]float64{x, y}, Crown: [2]float64{x, y - reach}})
		}
		if !held {
			t.Fatalf("%gx%g: no part of %d holds a figure at %.0f, %.0f", w, h, len(parts), x, y)
		}
	})
}

// One figure that two parts show counts once, with its better score.
func TestAddFigure(t *testing.T) {
	at := func(x, score float64) Detection {
		return Detection{Score: score, Hip: [2]float64{x, 100}, Crown: [2]float64{x, 30}}
	}
	var found []Detection
	for _, d := range []Detection{at(100, 0.6), at(300, 0.9), at(108, 0.8), at(295, 0.5)} {
		found = addFigure(found, d)
	}
	if len(found) != 2 || found[0].Score != 0.8 || math.Abs(found[1].Hip[0]-300) > 1e-9 {
		t.Errorf("found %+v", found)
	}
}
