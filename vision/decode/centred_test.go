package decode

import (
	"math"
	"testing"

	"pgregory.net/rapid"
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

func (m *maps) decode() []Landmark {
	return Centred(m.heat, m.centre, m.regress, m.offset, mapPoints, mapRows, mapCols, softening)
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
			if math.Abs(p.U-tt.u) > 1e-6 || math.Abs(p.V-tt.v) > 1e-6 || math.Abs(p.Visibility-tt.heat) > 1e-6 {
				t.Errorf("the point lies at %.3f, %.3f with %.2f, want %.3f, %.3f with %.2f", p.U, p.V, p.Visibility, tt.u, tt.v,
					tt.heat)
			}
			if !math.IsNaN(p.Z) || !math.IsNaN(p.Spread) {
				t.Errorf("depth %g and spread %g of a network that gives none", p.Z, p.Spread)
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
		body := func(row, col int) Landmark {
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
		if math.Abs(b.U-a.U-wantU) > 1e-9 || math.Abs(b.V-a.V-wantV) > 1e-9 {
			t.Fatalf("moved by %.3f, %.3f, want %.3f, %.3f", b.U-a.U, b.V-a.V, wantU, wantV)
		}
	})
}
