package main

import (
	"math"
	"path/filepath"
	"testing"

	"holdfast/vision/pose"
)

// Athletes are drawn, not readings: what one athlete's readings share widens the interval of a coverage.
func TestCoverage(t *testing.T) {
	some := func(athletes, each, missed int) (rs readings) {
		for a := range athletes {
			for range each {
				r := reading{athlete: a, found: 1, truly: 0, interval: [2]float64{-1, 3}}
				if a < missed {
					r.truly = 5
				}
				rs = append(rs, r)
			}
		}
		return rs
	}
	for _, c := range []struct {
		rs   readings
		want string
	}{
		{nil, "-"},
		{some(5, 3, 0), "100 % (100 to 100)"},
		{some(20, 1, 2), "90 % (75 to 100)"},
		{some(20, 6, 2), "90 % (75 to 100)"},
	} {
		if got := c.rs.coverage(heldTruth); got != c.want {
			t.Errorf("%d readings: %s, want %s", len(c.rs), got, c.want)
		}
	}
	rs := append(some(2, 1, 1), reading{found: math.NaN()})
	if is := rs.known(); len(is) != 2 || is.bias() != -1.5 || is.medianHalf() != 2 || is.percentile95() != 4 {
		t.Errorf("%+v", is)
	}
}

// A track is kept whole, under the network's name, and read again.
func TestKeptTrack(t *testing.T) {
	dir := t.TempDir()
	track := &pose.Track{ModelName: "heavy", ModelSHA256: "0", KeypointNames: []string{"left_hip"},
		Poses: []pose.Pose{{TimeS: 0}, {Index: 1, TimeS: 0.1}}}
	if err := keepTrack(filepath.Join(dir, "heavy"), "a", track); err != nil {
		t.Fatal(err)
	}
	got, err := keptTrack(t.Context(), nil, dir, "heavy", "a")
	if err != nil || len(got.Poses) != 2 || got.ModelName != "heavy" {
		t.Errorf("%+v, %v", got, err)
	}
}
