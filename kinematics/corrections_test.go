package kinematics

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"holdfast/kinematics/body"
	"holdfast/kinematics/trace"
)

// What a correction moves is whole where the coach put the point, no more beside it,
// and nothing beyond the time that it reaches to.
func TestCorrectionsFade(t *testing.T) {
	times := make([]float64, 400)
	for i := range times {
		times[i] = float64(i) / 100
	}
	rapid.Check(t, func(rt *rapid.T) {
		at := rapid.SliceOfNDistinct(rapid.IntRange(0, 399), 1, 6, rapid.ID).Draw(rt, "frames")
		slices.Sort(at)
		by := make([]body.Vec, len(at))
		for i := range by {
			by[i] = body.Vec{Fwd: rapid.Float64Range(-40, 40).Draw(rt, "x"), Up: rapid.Float64Range(-40, 40).Draw(rt, "y")}
		}
		most := 0.0
		for _, d := range by {
			most = max(most, d.Length())
		}
		for i, s := range times {
			d, part := fadedAt(times, at, by, s)
			away := math.Inf(1)
			for a, k := range at {
				away = min(away, math.Abs(times[k]-s))
				if k == i && (part != 1 || d != by[a]) {
					rt.Fatalf("at the correction itself: %v by %v", part, d)
				}
			}
			if part < 0 || part > 1 || away > joinS/2 && part != 0 {
				rt.Fatalf("%v of a correction, %v s away from the nearest", part, away)
			}
			if now := d.Scale(part); now.Length() > most+1e-9 {
				rt.Fatalf("moved by %v, the corrections by %v at most", now.Length(), most)
			}
		}
	})
}

// A network that is off for a few frames is followed there and left alone beside.
func TestCorrectionFollowsTheMistake(t *testing.T) {
	c := loadClip(t, "fast_30")
	const frame = 40
	for _, tt := range []struct {
		name      string
		from, to  int // frames with the mistake
		missing   bool
		near, far float64 // most that may be left in frames with the mistake, and beside
	}{
		{"one frame", frame, frame, false, 1, 4},
		{"five frames", frame - 2, frame + 2, false, 6, 4},
		{"the point is not there", frame, frame, true, 1, 3},
	} {
		obs := c.observations(rough{})
		want := make([]body.Point, len(obs))
		for i := range obs {
			p := &obs[i].Points[body.Right][body.Knee]
			want[i] = *p
			if i >= tt.from && i <= tt.to {
				p.X, p.Y = p.X+40, p.Y-20
				if tt.missing {
					*p = body.MissingPoint()
				}
			}
		}
		obs[frame].Corrections = []trace.Correction{{Near: true, Landmark: body.Knee, X: want[frame].X, Y: want[frame].Y}}
		got := carryOut(obs, body.Right)
		for i := range obs {
			p := obs[i].Points[body.Right][body.Knee]
			off, most := math.Hypot(p.X-want[i].X, p.Y-want[i].Y), tt.far
			if i >= tt.from && i <= tt.to {
				most = tt.near
			}
			if !(off <= most) {
				t.Errorf("%s: frame %d is off by %.1f pixels", tt.name, i, off)
			}
			if w := got.share[body.Right][body.Knee][i]; math.Abs(obs[i].TimeS-obs[frame].TimeS) > followS && w != 0 {
				t.Errorf("%s: frame %d follows by %v", tt.name, i, w)
			}
		}
		if got.share[body.Left][body.Knee] != nil || got.share[body.Right][body.Hip] != nil {
			t.Errorf("%s: other points follow", tt.name)
		}
	}
}

// The coach's word is no spike, and no leg is exchanged because of it.
func TestCorrectionIsNoSpike(t *testing.T) {
	c := loadClip(t, "fast_30")
	plain := analyze(t, c.observations(networkLike), Options{Smoother: body.SmootherFilter})
	obs := c.observations(networkLike)
	for _, k := range trace.LegLandmarks {
		p := obs[50].Points[body.Left][k]
		obs[50].Corrections = append(obs[50].Corrections, trace.Correction{Near: true, Landmark: k, X: p.X + 60, Y: p.Y})
	}
	got := analyze(t, obs, Options{Smoother: body.SmootherFilter})
	if got.series.SwappedFrames != plain.series.SwappedFrames || got.series.Spikes != plain.series.Spikes {
		t.Errorf("%d frames exchanged, %d spikes; %d and %d without the correction", got.series.SwappedFrames, got.series.Spikes,
			plain.series.SwappedFrames, plain.series.Spikes)
	}
	for _, k := range trace.LegLandmarks {
		want := obs[50].Corrections[slices.Index(trace.LegLandmarks, k)]
		p := got.series.Points[got.series.NearSide][k]
		i := got.series.Index(obs[50].TimeS)
		if math.Hypot(p.X[i]-want.X, p.Y[i]-want.Y) > 1 {
			t.Errorf("the %s is at %.0f, %.0f, put at %.0f, %.0f", k, p.X[i], p.Y[i], want.X, want.Y)
		}
	}
	if len(obs[50].Corrections) != len(trace.LegLandmarks) {
		t.Error("the caller's observations were changed")
	}
}

func TestRepChangesRefused(t *testing.T) {
	obs := loadClip(t, "fast_30").observations(networkLike)
	nan := math.NaN()
	for _, ch := range []RepChange{
		{AtS: -1, StartS: nan, BottomS: nan, EndS: nan},
		{AtS: nan, StartS: nan, BottomS: nan, EndS: nan},
		{AtS: 1.2, StartS: 5, BottomS: nan, EndS: nan},
		{AtS: 1.2, StartS: nan, BottomS: nan, EndS: 100},
	} {
		if _, _, _, err := Analyze(obs, Options{RepChanges: []RepChange{ch}, Smoother: body.SmootherFilter}); !errors.Is(err, ErrRepChange) {
			t.Errorf("%+v: %v", ch, err)
		}
	}
}

// A frame whose time lies far off must not fill the memory.
func TestTimesFarApart(t *testing.T) {
	obs := loadClip(t, "fast_30").observations(rough{})
	obs[len(obs)-1].TimeS = 1e12
	if _, _, _, err := Analyze(obs, Options{}); !errors.Is(err, trace.ErrTooFewFrames) {
		t.Errorf("got %v", err)
	}
}
