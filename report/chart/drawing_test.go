package chart

import (
	"math"
	"strings"
	"testing"
)

func TestDegreeScale(t *testing.T) {
	n := math.NaN()
	for _, tc := range []struct {
		name         string
		in           []float64
		lo, hi, step float64
	}{
		{"knee", []float64{5, 107, n}, 0, 135, 45},
		{"ankle", []float64{4, 25}, 0, 30, 10},
		{"pointed foot", []float64{-46, 25}, -60, 30, 30},
		{"nothing", []float64{n}, 0, 90, 45},
		{"knee just below zero", []float64{-1, 93}, 0, 135, 45},
		{"still", []float64{40, 40}, 40, 70, 10},
	} {
		lo, hi, step := DegreeScale(tc.in)
		if lo != tc.lo || hi != tc.hi || step != tc.step {
			t.Errorf("%s: %v to %v by %v, want %v to %v by %v", tc.name, lo, hi, step, tc.lo, tc.hi, tc.step)
		}
	}
}

func TestCloseScale(t *testing.T) {
	for _, tc := range []struct{ lo, hi, from, to, step float64 }{
		{0, 100, 0, 100, 20}, {-3, 101, 0, 120, 30}, {-38, 33, -40, 40, 20}, {4, 5, 0, 10, 5}, {0, 0, 0, 10, 5},
		{-180, 180, -180, 180, 90},
	} {
		if from, to, step := CloseScale(tc.lo, tc.hi); from != tc.from || to != tc.to || step != tc.step {
			t.Errorf("%v to %v: %v to %v by %v", tc.lo, tc.hi, from, to, step)
		}
	}
}

// TestDrawingBreaks: lines and areas are broken where values are missing, and values
// beyond the panel run along its edge.
func TestDrawingBreaks(t *testing.T) {
	n := math.NaN()
	d := &Drawing{WidthPt: 260, HeightPt: 200, Alt: `a "chart" <b>`}
	a := NewAxes(d, "", 0, 4, 0, 10)
	a.Curve(SlowInk, 1, nil, []float64{0, 1, 2, 3, 4}, []float64{1, 2, n, 20, -5})
	a.Ribbon(SlowInk, 0.2, []float64{0, 1, 2, 3, 4}, []float64{1, 1, n, 1, 1}, []float64{2, 2, 2, 2, 2})
	if len(d.Marks) != 4 {
		t.Fatalf("%d marks", len(d.Marks))
	}
	for _, m := range d.Marks {
		for _, p := range m.Points {
			if p.Y < a.Top-1e-9 || p.Y > a.Bottom+1e-9 || p.X < a.Left-1e-9 || p.X > a.Right+1e-9 {
				t.Errorf("a place outside the panel: %v", p)
			}
		}
	}
	if s := string(d.SVG()); !strings.Contains(s, `aria-label="a &#34;chart&#34; &lt;b&gt;"`) ||
		strings.Contains(s, "NaN") {
		t.Error("the words of a chart are not escaped, or a number is missing")
	}
}
