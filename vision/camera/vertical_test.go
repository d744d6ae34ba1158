package camera

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"holdfast/internal/ffmpeg"

	"gocv.io/x/gocv"
	"pgregory.net/rapid"
)

// still returns one picture that ffmpeg makes of a clip.
func still(t *testing.T, clip, filter string) gocv.Mat {
	t.Helper()
	path := filepath.Join(t.TempDir(), "still.png")
	ffmpeg.Run(t, "-ss", "0.2", "-i", clip, "-frames:v", "1", "-vf", filter, path)
	m := gocv.IMRead(path, gocv.IMReadColor)
	if m.Empty() {
		t.Fatalf("no picture of %s", clip)
	}
	return m
}

// The phone is turned by known angles; the room has a door and a picture on the
// wall.
func TestVerticalOfTurnedClips(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it looks at fifteen pictures")
	}
	for _, clip := range []string{"fast", "slow", "jump"} {
		for _, deg := range []float64{-7, -3, 0, 3, 7} {
			t.Run(fmt.Sprint(clip, " ", deg), func(t *testing.T) {
				// The corners that turning leaves black are cut away.
				m := still(t, "../../testdata/clips/"+clip+".mp4", fmt.Sprintf(
					"rotate=%g*PI/180:bilinear=1,crop=iw-0.55*ih*sin(%[2]g*PI/180)-6:0.55*ih", deg, math.Abs(deg)))
				defer m.Close()
				w, h := float64(m.Cols()), float64(m.Rows())
				p := newPlumb()
				defer p.Close()
				// The athlete stands in the middle.
				if err := p.look(m, 1, []Figure{{w / 2, h / 2, 0.12 * math.Max(w, h), 0.55 * h}}, 0); err != nil {
					t.Fatal(err)
				}
				got, sd, ok := p.roll(1)
				t.Logf("roll %.2f, SD %.2f degrees", got, sd)
				if !ok || math.Abs(got-deg) > 0.5 {
					t.Errorf("got a roll of %.2f degrees (%v), want %g", got, ok, deg)
				}
			})
		}
	}
}

func TestVerticalUnknown(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it looks at pictures")
	}
	const clip = "../../testdata/clips/fast.mp4"
	tests := []struct{ name, filter string }{
		// Above and beside the athlete, between door and picture: plain wall.
		{"plain wall", "crop=200:300:380:20,scale=800:1200"},
		{"noise", "geq=random(1)*255:128:128"},
		{"floor", "crop=1280:200:0:520"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m := still(t, clip, tt.filter)
			defer m.Close()
			p := newPlumb()
			defer p.Close()
			if err := p.look(m, 1, nil, 0); err != nil {
				t.Fatal(err)
			}
			if roll, sd, ok := p.roll(1); ok {
				t.Errorf("got a roll of %.2f degrees (SD %.2f) of nothing", roll, sd)
			}
		})
	}
}

// Edges that converge as seen by a phone that is tipped still tell the roll, and
// a leaning thing among them does not bend it.
func TestRollOf(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		roll := rapid.Float64Range(-10, 10).Draw(t, "roll")
		converge := rapid.Float64Range(-3, 3).Draw(t, "converge")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		var found []edge
		for _, x := range []float64{-0.4, -0.3, 0.15, 0.35} {
			found = append(found, edge{roll + converge*x + 0.1*rng.NormFloat64(), x, 300 + 100*rng.Float64()})
		}
		found = append(found, edge{roll + 7, 0.05, 300}, edge{roll - 9, 0.2, 250})
		got, sd, ok := rollOf(found, 700)
		if math.Abs(roll) < mostTiltDeg-1 && (!ok || math.Abs(got-roll) > 0.5) {
			t.Fatalf("got %.2f (SD %.2f, %v), want %.2f", got, sd, ok, roll)
		}
	})
	for _, few := range [][]edge{nil, {{2, 0, 600}}, {{2, 0, 90}, {2, 0.3, 90}},
		{{-8, 0, 300}, {-3, 0.1, 300}, {3, 0.3, 300}, {9, 0.4, 300}}} {
		if roll, _, ok := rollOf(few, 700); ok {
			t.Errorf("%v: got a roll of %.2f degrees", few, roll)
		}
	}
}
