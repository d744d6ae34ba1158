package vision

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"gocv.io/x/gocv"
	"pgregory.net/rapid"

	"holdfast/models"
)

// maps are the four tensors of a network of two points on 4 x 5 cells, to be filled in.
type maps struct{ heat, centre, regress, offset []float32 }

const (
	mapRows, mapCols, mapPoints = 4, 5, 2
	softening                   = 1.8
)

func newMaps() *maps {
	cells := mapRows * mapCols
	return &maps{make([]float32, cells*mapPoints), make([]float32, cells), make([]float32, 2*cells*mapPoints),
		make([]float32, 2*cells*mapPoints)}
}

// set puts the value of a point into a cell of a map of so many values a point.
func set(m []float32, row, col, point int, values ...float32) {
	copy(m[((row*mapCols+col)*mapPoints+point)*len(values):], values)
}

func (m *maps) decode() []landmark {
	return decodeCentred(m.heat, m.centre, m.regress, m.offset, mapPoints, mapRows, mapCols, softening)
}

func TestDecodeCentred(t *testing.T) {
	tests := []struct {
		name       string
		fill       func(m *maps)
		u, v, heat float64 // of the second point
	}{
		{"one peak", func(m *maps) { set(m.heat, 3, 2, 1, 0.8) }, 2.0 / 5, 3.0 / 4, 0.8},
		{"within its cell", func(m *maps) {
			set(m.heat, 3, 2, 1, 0.8)
			set(m.offset, 3, 2, 1, 0.5, 0.25) // y, x
		}, 2.25 / 5, 3.5 / 4, 0.8},
		{"out of its cell", func(m *maps) {
			set(m.heat, 3, 2, 1, 0.8)
			set(m.offset, 3, 2, 1, -1.5, 2)
		}, 4.0 / 5, 1.5 / 4, 0.8},
		{"the other body's higher peak lies far from where this body's point should be", func(m *maps) {
			m.centre[1*mapCols+1] = 0.3
			set(m.regress, 1, 1, 1, 1, 0) // from row 1, column 1 to row 2, column 1
			set(m.heat, 2, 1, 1, 0.5)     // 0.5 / 1.8 = 0.28
			set(m.heat, 2, 4, 1, 0.9)     // 0.9 / (3 + 1.8) = 0.19
		}, 1.0 / 5, 2.0 / 4, 0.5},
		{"a much higher peak near by", func(m *maps) {
			m.centre[1*mapCols+1] = 0.3
			set(m.regress, 1, 1, 1, 1, 0)
			set(m.heat, 2, 1, 1, 0.3) // 0.3 / 1.8 = 0.17
			set(m.heat, 2, 2, 1, 0.9) // 0.9 / 2.8 = 0.32
		}, 2.0 / 5, 2.0 / 4, 0.9},
		{"the likelier middle counts", func(m *maps) {
			m.centre[0], m.centre[3*mapCols+4] = 0.2, 0.3
			set(m.regress, 0, 0, 1, 0, 0)
			set(m.regress, 3, 4, 1, 0, -1)
			set(m.heat, 0, 0, 1, 0.6)
			set(m.heat, 3, 3, 1, 0.6)
		}, 3.0 / 5, 3.0 / 4, 0.6},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m := newMaps()
			tt.fill(m)
			p := m.decode()[1]
			if math.Abs(p.u-tt.u) > 1e-6 || math.Abs(p.v-tt.v) > 1e-6 || math.Abs(p.visibility-tt.heat) > 1e-6 {
				t.Errorf("the point lies at %.3f, %.3f with %.2f, want %.3f, %.3f with %.2f", p.u, p.v, p.visibility, tt.u, tt.v,
					tt.heat)
			}
			if !math.IsNaN(p.z) || !math.IsNaN(p.spread) {
				t.Errorf("depth %g and spread %g of a network that gives none", p.z, p.spread)
			}
		})
	}
}

// A body that moves by whole cells moves its points by as much.
func TestDecodeCentredMovesWithTheBody(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := func(name string, most int) int { return rapid.IntRange(0, most).Draw(t, name) }
		row, col, down, right := at("row", 1), at("col", 2), at("down", 2), at("right", 2)
		dy, dx := rapid.Float32Range(-0.5, 1.5).Draw(t, "dy"), rapid.Float32Range(-0.5, 1.5).Draw(t, "dx")
		body := func(row, col int) landmark {
			m := newMaps()
			m.centre[row*mapCols+col] = 0.4
			for k := range mapPoints {
				set(m.regress, row, col, k, 1, 0)
				set(m.heat, row+1, col, k, 0.7)
				set(m.offset, row+1, col, k, dy, dx)
			}
			return m.decode()[1]
		}
		a, b := body(row, col), body(min(row+down, mapRows-2), min(col+right, mapCols-1))
		wantU, wantV := float64(min(col+right, mapCols-1)-col)/mapCols, float64(min(row+down, mapRows-2)-row)/mapRows
		if math.Abs(b.u-a.u-wantU) > 1e-9 || math.Abs(b.v-a.v-wantV) > 1e-9 {
			t.Fatalf("moved by %.3f, %.3f, want %.3f, %.3f", b.u-a.u, b.v-a.v, wantU, wantV)
		}
	})
}

func TestReach(t *testing.T) {
	// Hips at 0 and 1, shoulder at 2, ankle at 3, in parts of a region of 100 pixels.
	body := func(shoulderV, ankleV, ankleSeen float64) []landmark {
		return []landmark{
			{u: 0.48, v: 0.5, visibility: 0.9}, {u: 0.52, v: 0.5, visibility: 0.9},
			{u: 0.5, v: shoulderV, visibility: 0.9}, {u: 0.6, v: ankleV, visibility: ankleSeen},
		}
	}
	r := &reach{rule: &models.Reach{TorsoFactor: 1.9, BodyFactor: 1.2, MinScore: 0.2}, centre: []int{0, 1},
		torso: []int{2, 0, 1}}
	in := Region{CX: 200, CY: 300, SizePx: 100}
	for _, tt := range []struct {
		name   string
		points []landmark
		sizePx float64
	}{
		{"the legs decide", body(0.3, 0.9, 0.9), 2 * 1.2 * 40},
		{"the trunk decides", body(0.2, 0.9, 0.9), 2 * 1.9 * 30},
		{"an ankle that is not seen", body(0.4, 0.9, 0.1), 2 * 1.9 * 10},
	} {
		got := r.region(tt.points, in)
		if want := (Region{CX: 200, CY: 300, SizePx: tt.sizePx}); math.Hypot(got.CX-want.CX,
			got.CY-want.CY)+math.Abs(got.SizePx-want.SizePx) > 1e-9 || got.AngleRad != 0 {
			t.Errorf("%s: region %+v, want %+v", tt.name, got, want)
		}
	}
	for _, tt := range []struct {
		hips, shoulder float64
		want           bool
	}{{0.9, 0.9, true}, {0.1, 0.9, false}, {0.9, 0.1, false}} {
		points := body(0.3, 0.9, 0.9)
		points[0].visibility, points[1].visibility, points[2].visibility = tt.hips, tt.hips, tt.shoulder
		if got := r.seen(points); got != tt.want {
			t.Errorf("hips %.1f, shoulder %.1f: seen %v", tt.hips, tt.shoulder, got)
		}
	}
}

// The published network's own result for a picture, run by TensorFlow.js
// (testdata/reference/network_thunder.json, recorded by scripts/record-reference), against
// ours: crop, network and decoder together.
func TestThunderAgainstReferenceRunner(t *testing.T) {
	if testing.Short() {
		t.Skip("a short run runs no network")
	}
	raw, err := os.ReadFile("../testdata/reference/network_thunder.json")
	if err != nil {
		t.Fatal(err)
	}
	var reference struct {
		Cases []struct {
			Input  string
			Points [][3]float64 // y, x, score
		}
	}
	if err := json.Unmarshal(raw, &reference); err != nil {
		t.Fatal(err)
	}
	tracker, err := NewTracker(TrackerOptions{Model: "thunder"})
	if err != nil {
		t.Fatal(err)
	}
	defer tracker.Close()
	compared := 0
	for _, c := range reference.Cases {
		if c.Input == "generated" {
			continue
		}
		picture := gocv.IMRead("../testdata/reference/"+c.Input, gocv.IMReadColor)
		defer picture.Close()
		if picture.Empty() {
			t.Fatalf("%s cannot be read", c.Input)
		}
		size := float64(picture.Cols())
		pose, _, err := tracker.scout.see(picture, Region{CX: size / 2, CY: size / 2, SizePx: size}, 1)
		if err != nil {
			t.Fatal(err)
		}
		if !pose.Found || len(pose.Keypoints) != len(c.Points) {
			t.Fatalf("%s: found %v with %d points, want %d", c.Input, pose.Found, len(pose.Keypoints), len(c.Points))
		}
		for i, want := range c.Points {
			k := pose.Keypoints[i]
			// A hundredth of a pixel, as for the other networks.
			if d := math.Hypot(k.X-want[1]*size, k.Y-want[0]*size); !(d < 0.01) || math.Abs(k.Visibility-want[2]) > 2e-5 {
				t.Errorf("%s: %s is %.4f px off, score %.5f, want %.5f", c.Input, tracker.scout.keypoints[i], d,
					k.Visibility, want[2])
			}
			compared++
		}
	}
	if compared != 17 {
		t.Errorf("%d points compared, want 17", compared)
	}
}
