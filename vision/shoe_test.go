package vision

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"
	"os"
	"testing"

	"holdfast/vision/media"
	"holdfast/vision/plane"
)

func TestShoeTilt(t *testing.T) {
	for _, tt := range []struct {
		name string
		toe  plane.XY
		want float64
	}{
		{"level, to the right", plane.XY{X: 1, Y: 0}, 0},
		{"level, to the left", plane.XY{X: -1, Y: 0}, 0},
		{"toe down, to the right", plane.XY{X: 1, Y: 1}, 45},
		{"toe down, to the left", plane.XY{X: -1, Y: 1}, -45},
		{"toe up, to the right", plane.XY{X: math.Sqrt(3), Y: -1}, -30},
	} {
		if got := (Shoe{Toe: tt.toe}).TiltDeg(); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%s: %g degrees, want %g", tt.name, got, tt.want)
		}
	}
	if got := (Shoe{}).TiltDeg(); got != 0 {
		t.Errorf("no shoe is turned by %g degrees", got)
	}
}

func TestShoeIsPlacedInThePicture(t *testing.T) {
	// A box of 40 x 20 pixels of the input, its near side 4 pixels lower than its far side.
	f := &ShoeFinder{middle: []int{0}, heel: []int{1, 3, 5, 7}, toe: []int{2, 4, 6, 8}}
	points := []float32{100, 110}
	for _, corner := range [][2]float32{{-20, -12}, {20, -12}, {-20, 8}, {20, 8}, {-20, -8}, {20, -8}, {-20, 12},
		{20, 12}} {
		points = append(points, 100+corner[0], 110+corner[1])
	}
	// The region is 400 pixels of the picture wide, twice the input, and turned by 90 degrees clockwise.
	s := f.decode(points, 200, Region{CX: 500, CY: 600, SizePx: 400, AngleRad: math.Pi / 2})
	for _, tt := range []struct {
		name      string
		got, want plane.XY
	}{{"middle", s.Middle, plane.XY{X: 480, Y: 600}}, {"heel", s.Heel, plane.XY{X: 480, Y: 560}},
		{"toe", s.Toe, plane.XY{X: 480, Y: 640}}} {
		if math.Hypot(tt.got.X-tt.want.X, tt.got.Y-tt.want.Y) > 1e-9 {
			t.Errorf("%s at %v, want %v", tt.name, tt.got, tt.want)
		}
	}
	if math.Abs(s.LengthPx()-80) > 1e-9 {
		t.Errorf("%g pixels long, want 80", s.LengthPx())
	}
}

// The foot of a rendered athlete stays flat through a slow squat; the ankle is the
// clip's own truth.
func TestShoeOfARenderedAthlete(t *testing.T) {
	if testing.Short() {
		t.Skip("a short run runs no network")
	}
	raw, err := os.ReadFile("../testdata/clips/slow_30.json")
	if err != nil {
		t.Fatal(err)
	}
	var truth struct {
		Frames []struct {
			Angles map[string]float64
			Points map[string][2]float64
		}
	}
	if err := json.Unmarshal(raw, &truth); err != nil {
		t.Fatal(err)
	}
	finder, err := NewShoeFinder(2)
	if err != nil {
		t.Fatal(err)
	}
	defer finder.Close()
	ctx := context.Background()
	clip, err := media.Open(ctx, "../testdata/clips/slow_30.mp4")
	if err != nil {
		t.Fatal(err)
	}
	frames, err := clip.Frames(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer frames.Close()
	const standing, last, every = 20, 120, 5 // frames: he stands, through the bottom, at these
	var stand []float64
	var shoe Shoe
	for {
		frame, err := frames.Next()
		if errors.Is(err, io.EOF) || err == nil && frame.Index > last {
			if frame != nil {
				frame.Close()
			}
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if frame.Index%every == 0 {
			p := truth.Frames[frame.Index].Points
			ankle, knee := p["right_ankle"], p["right_knee"]
			found := false
			shoe, found, err = finder.Find(frame.Mat, plane.XY{X: ankle[0], Y: ankle[1]},
				math.Hypot(knee[0]-ankle[0], knee[1]-ankle[1]), shoe)
			if err != nil {
				t.Fatal(err)
			}
			want := truth.Frames[frame.Index].Angles["foot_pitch"]
			if d := shoe.TiltDeg() - want; !found || math.Abs(d) > 12 {
				t.Errorf("frame %d: found %v, tilt %.1f degrees, want %.1f within 12", frame.Index, found, shoe.TiltDeg(), want)
			}
			if frame.Index <= standing {
				stand = append(stand, shoe.TiltDeg())
			} else if d := shoe.TiltDeg() - plane.Quantile(stand, 0.5) - want; math.Abs(d) > 3 {
				t.Errorf("frame %d: %.1f degrees from standing, want %.1f within 3", frame.Index, d+want, want)
			}
		}
		frame.Close()
	}
}
