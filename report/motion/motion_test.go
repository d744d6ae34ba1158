package motion

import (
	"math"
	"testing"

	"holdfast/internal/compared"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
	"holdfast/screening"
	"holdfast/vision/plane"
)

func TestMotionReadsBetweenSamples(t *testing.T) {
	n := math.NaN()
	a := &screening.Analysis{Facing: "left", Series: screening.Series{
		Angles: joints.Angles{RateHz: 10, TimeS: []float64{0, 0.1, 0.2, 0.3},
			AnglesDeg: body.AngleSeries{body.KneeFlexion: {0, 10, n, 30}}},
		PointsPx: map[string]body.Path{"knee": {X: []float64{1, 2, 3, 4}, Y: []float64{5, 6, 7, 8}}},
		Filled:   []bool{false, true, false, false}, Missing: []bool{false, false, false, true}}}
	m := New(a)
	for _, tc := range []struct{ timeS, want float64 }{
		{0, 0}, {0.05, 5}, {0.1, 10}, {0.12, math.NaN()}, {0.2, math.NaN()}, {0.3, 30}, {-0.05, 0}, {-5, math.NaN()},
		{0.35, 30}, {9, math.NaN()}, {math.NaN(), math.NaN()},
	} {
		got := m.Value(a.Series.AnglesDeg[body.KneeFlexion], tc.timeS)
		if math.Abs(got-tc.want) > 1e-9 || math.IsNaN(got) != math.IsNaN(tc.want) {
			t.Errorf("at %v s: %v, want %v", tc.timeS, got, tc.want)
		}
	}
	if p := m.Point("knee", 0.05); math.Abs(p.X-1.5) > 1e-9 || !m.Point("knee", 0.3).Missing() ||
		!m.Point("toe", 0.1).Missing() {
		t.Errorf("points: %v", p)
	}
	// The picture of the second sample lies 10 pixels to the left of the first
	// one: what is in the first at 2 is in it at -8.
	a.Series.Camera = []*plane.Similarity{{Scale: 1}, {Scale: 1, DXPx: 10}, nil, nil}
	if p, q := m.Point("knee", 0.1), m.PointSeen("knee", 0, 0.1); math.Abs(p.X+8) > 1e-9 || math.Abs(q.X+9) > 1e-9 {
		t.Errorf("points with a moving camera: %v and %v, want -8 and -9", p, q)
	}
	if p := m.Point("knee", 0.2); math.Abs(p.X-3) > 1e-9 {
		t.Errorf("point without a place of the camera: %v", p)
	}
	a.Series.Camera = nil
	if m.Filled(0.04) || !m.Filled(0.06) || !m.Missing(0.29) || m.Missing(0.1) || !m.Missing(7) {
		t.Error("the flags of the nearest sample do not hold")
	}
	if New(&screening.Analysis{}).Rep(1) != nil || !New(&screening.Analysis{}).Missing(0) {
		t.Error("an empty analysis knows something")
	}
}

func TestHeelWords(t *testing.T) {
	n := func(vs ...float64) []float64 { return compared.Numbers(vs...) }
	a := &screening.Analysis{Facing: "right",
		Series: screening.Series{Angles: joints.Angles{RateHz: 10, TimeS: n(0, 0.1, 0.2, 0.3, 0.4)},
			HeelRisePctFoot: n(0, 10, 20, 5, 0), Missing: make([]bool, 5), Filled: make([]bool, 5)},
		Reps: []kinematics.Rep{{RepTimes: events.RepTimes{Number: 1, StartS: 0, EndS: 0.4}, Foot: &measure.Foot{}}}}
	h := &a.Reps[0].Foot.Heel
	nan := math.NaN()
	*h = measure.FootRise{MaxPctFoot: compared.Estimate(16, 2),
		MaxCm: stats.Estimate{Value: nan, SD: nan}, AtS: 0.2, Up: true, Spans: []trace.Span{{FromS: 0.1, ToS: 0.2}}}
	m := New(a)
	for _, tc := range []struct {
		timeS float64
		want  string
	}{
		{0, ""}, {0.1, "Heel up 8 % of foot (4 to 12)"}, {0.2, "Heel up 16 % of foot (12 to 20)"}, {0.3, ""},
	} {
		if got := m.HeelWords(tc.timeS); got != tc.want {
			t.Errorf("at %.1f s: %q, want %q", tc.timeS, got, tc.want)
		}
	}
	h.MaxCm = compared.Estimate(4, 0.5)
	if got := m.HeelWords(0.2); got != "Heel up 4.0 cm (3.0 to 5.0)" {
		t.Errorf("with a scale: %q", got)
	}
	h.Up = false
	if got := m.HeelWords(0.2); got != "" {
		t.Errorf("not clearly up: %q", got)
	}
}

// The centre of mass is drawn where it is in the picture of the moment, also when the
// camera has moved.
func TestMassFollowsTheCamera(t *testing.T) {
	n := func(vs ...float64) []float64 { return compared.Numbers(vs...) }
	a := &screening.Analysis{Facing: "left", Series: screening.Series{Angles: joints.Angles{RateHz: 10, TimeS: n(0, 0.1)},
		Missing: make([]bool, 2), Filled: make([]bool, 2), MassCentrePx: body.Path{X: n(100, 110), Y: n(50, 40)},
		Camera: []*plane.Similarity{{Scale: 1}, {Scale: 1, DXPx: 30, DYPx: -5}}}}
	m := New(a)
	for _, tc := range []struct {
		timeS, pictureS float64
		want            plane.XY
	}{{0, 0, plane.XY{X: 100, Y: 50}}, {0.1, 0.1, plane.XY{X: 80, Y: 45}}, {0, 0.1, plane.XY{X: 70, Y: 55}}} {
		if got := m.MassSeen(tc.timeS, tc.pictureS); math.Hypot(got.X-tc.want.X, got.Y-tc.want.Y) > 1e-9 {
			t.Errorf("at %v s in the picture of %v s: %v, want %v", tc.timeS, tc.pictureS, got, tc.want)
		}
	}
}
