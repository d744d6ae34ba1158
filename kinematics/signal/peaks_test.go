package signal

import (
	"slices"
	"testing"
)

// Peaks of scipy 1.10.1's find_peaks for the same signal.
var threeHumps = []float64{4, 5, 9, 22, 48, 80, 102, 110, 108, 111, 96, 70, 41, 18, 7, 5, 6, 5, 12, 37, 66, 88, 95, 95,
	95, 81, 50, 24, 9, 6, 14, 29, 33, 27, 12, 5, 4}

func TestFindPeaks(t *testing.T) {
	sixty := 60.0
	negative := make([]float64, len(threeHumps))
	for i, v := range threeHumps {
		negative[i] = -v
	}
	for _, c := range []struct {
		name string
		x    []float64
		rule PeakRule
		want []int
		prom []float64
	}{
		{"all", threeHumps, PeakRule{}, []int{7, 9, 16, 23, 32}, []float64{2, 107, 1, 90, 27}},
		{"prominence 20", threeHumps, PeakRule{MinProminence: 20}, []int{9, 23, 32}, []float64{107, 90, 27}},
		{"prominence 50", threeHumps, PeakRule{MinProminence: 50}, []int{9, 23}, []float64{107, 90}},
		{"height and distance", threeHumps, PeakRule{MinHeight: &sixty, MinDistance: 8}, []int{9, 23}, []float64{107, 90}},
		{"small prominence and distance", threeHumps, PeakRule{MinProminence: 2, MinDistance: 3}, []int{9, 23, 32},
			[]float64{107, 90, 27}},
		{"width", threeHumps, PeakRule{MinProminence: 50, MinWidth: 3}, []int{9, 23}, []float64{107, 90}},
		{"valleys", negative, PeakRule{MinProminence: 20}, []int{15, 17, 29}, nil},
		{"nothing", nil, PeakRule{}, nil, nil},
		{"flat", []float64{1, 1, 1, 1}, PeakRule{}, nil, nil},
		{"rise to the end", []float64{1, 2, 3, 3}, PeakRule{}, nil, nil},
	} {
		var got []int
		for i, p := range FindPeaks(c.x, c.rule) {
			got = append(got, p.Index)
			if c.prom != nil {
				near(t, c.name+": prominence", p.Prominence, c.prom[i], 1e-12)
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
	all := FindPeaks(threeHumps, PeakRule{})
	for i, want := range [][2]int{{0, 8}, {0, 36}, {15, 17}, {17, 36}, {29, 36}} {
		if all[i].LeftBase != want[0] || all[i].RightBase != want[1] {
			t.Errorf("bases of peak %d: got %d %d, want %v", i, all[i].LeftBase, all[i].RightBase, want)
		}
	}
	wide := FindPeaks(threeHumps, PeakRule{MinProminence: 50, MinWidth: 3})
	near(t, "width 1", wide[0].Width, 7.1341594828, 1e-9)
	near(t, "width 2", wide[1].Width, 6.5517241379, 1e-9)
	near(t, "left", wide[0].LeftIP, 4.296875, 1e-9)
	near(t, "right", wide[0].RightIP, 11.4310344828, 1e-9)
}

func TestParabolaPeak(t *testing.T) {
	at, value := ParabolaPeak(113, 115, 112)
	near(t, "offset", at, -0.1, 1e-12)
	near(t, "value", value, 115.025, 1e-12)
}
