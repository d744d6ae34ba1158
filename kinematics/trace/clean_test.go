package trace

import (
	"errors"
	"math"
	"slices"
	"testing"

	"holdfast/kinematics/body"
)

func TestCubicWeights(t *testing.T) {
	obs := make([]Observation, 5)
	for i := range obs {
		obs[i].TimeS = float64(i) / 30
	}
	w := cubicWeights(obs, 2)
	for i, want := range []float64{-1.0 / 6, 4.0 / 6, 4.0 / 6, -1.0 / 6} {
		near(t, "weight", w[i], want, 1e-12)
	}
	// Uneven times: a cubic is met exactly.
	for i, s := range []float64{0, 0.02, 0.05, 0.06, 0.1} {
		obs[i].TimeS = s
	}
	cubic := func(s float64) float64 { return 2 - s + 30*s*s - 400*s*s*s }
	w = cubicWeights(obs, 2)
	var got float64
	for j, d := range cubicNeighbours {
		got += w[j] * cubic(obs[2+d].TimeS)
	}
	near(t, "cubic", got, cubic(0.05), 1e-12)
}

// A pitch that stands alone is taken out; the break of a foot that meets the floor, the top
// of a heel's rise and what the next frames confirm stay.
func TestRejectPitchSpikes(t *testing.T) {
	tests := []struct {
		name string
		deg  []float64
		out  []int
	}{
		{"flat", []float64{0, 0.3, -0.4, 0.2, 0, -0.1, 0.3, 0}, nil},
		{"lone", []float64{0, 0.3, -0.4, 12, 0, -0.1, 0.3, 0}, []int{3}},
		{"contact", []float64{-40, -41, -40, -40, -24, -8, 0, 0, 0}, nil},
		{"heel's rise", []float64{0, -2, -9, -13, -9, -2, 0, 0}, nil},
		{"confirmed", []float64{0, 0, 0, -12, -12, -12, 0, 0}, nil},
		{"two", []float64{0, 0, 8, 0, 0, 0, 0, 0, -9, 0, 0}, []int{2, 8}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			obs := make([]Observation, len(tt.deg))
			for i, deg := range tt.deg {
				obs[i] = Observation{TimeS: float64(i) / 30, FootPitch: FootPitch{Deg: deg, SDDeg: 0.3}}
			}
			rejectPitchSpikes(obs)
			var out []int
			for i := range obs {
				if !obs[i].FootPitch.Known() {
					out = append(out, i)
				}
			}
			if !slices.Equal(out, tt.out) {
				t.Errorf("took out %v, want %v", out, tt.out)
			}
		})
	}
}

// Exchanged legs are put back, a point that jumps away is left out, and what was handed in
// stays as it was.
func TestClean(t *testing.T) {
	obs := seen(40, 1, 0)
	for i := 10; i < 14; i++ {
		p := &obs[i].Points
		for _, k := range LegLandmarks {
			p[body.Left][k], p[body.Right][k] = p[body.Right][k], p[body.Left][k]
		}
	}
	obs[25].Points[body.Left][body.Wrist].X += 200
	before := slices.Clone(obs)
	frames, swapped, spikes, err := Clean(obs)
	if err != nil || swapped != 4 || spikes != 1 || !frames[25].Points[body.Left][body.Wrist].Missing() {
		t.Errorf("%d frames put back, %d spikes, %v", swapped, spikes, err)
	}
	if !slices.EqualFunc(obs, before, func(a, b Observation) bool { return a.Points == b.Points }) {
		t.Error("what was handed in was changed")
	}
	if _, _, _, err := Clean(obs[:5]); !errors.Is(err, ErrTooFewFrames) {
		t.Errorf("five frames: %v", err)
	}
	if f, sure := FacingOf(obs, body.FacingLeft); f != body.FacingLeft || sure != 1 {
		t.Errorf("the given facing became %v, %v sure", f, sure)
	}
}

// A point that was guessed where no leg can be is left out with what hangs on it; one that was guessed where the leg
// has its length stays, and so does a point that was seen, wherever it is, and all of a network that does not tell.
func TestRejectGuesses(t *testing.T) {
	leg := func(kneeY, ankleY float64) (o Observation) {
		for side := range 2 {
			for k := range body.NumLandmarks {
				o.Points[side][k] = body.MissingPoint()
			}
			for k, y := range map[body.Landmark]float64{body.Hip: 100, body.Knee: kneeY, body.Ankle: ankleY,
				body.Heel: ankleY + 10, body.Toe: ankleY + 12} {
				o.Points[side][k] = body.Point{X: 300, Y: y, SDPx: 2, Confidence: 1}
			}
		}
		return o
	}
	guess := func(o Observation, points ...body.Landmark) Observation {
		for _, k := range points {
			o.Points[body.Left][k].SDPx = math.NaN()
		}
		return o
	}
	seen := leg(200, 300)
	for _, tt := range []struct {
		name string
		at   Observation
		gone []body.Landmark
	}{
		{"seen", leg(200, 300), nil},
		{"seen, and short", leg(200, 250), nil},
		{"guessed in place", guess(leg(200, 310), body.Ankle), nil},
		{"guessed hip of a thigh that turns out", guess(leg(150, 250), body.Hip), nil},
		{"guessed ankle", guess(leg(200, 250), body.Ankle), []body.Landmark{body.Ankle, body.Heel, body.Toe}},
		{"guessed knee", guess(leg(140, 240), body.Knee),
			[]body.Landmark{body.Knee, body.Ankle, body.Heel, body.Toe}},
	} {
		obs := []Observation{seen, seen, seen, tt.at, seen}
		rejectGuesses(obs, body.Left)
		for k := range body.NumLandmarks {
			want := slices.Contains(tt.gone, k) || seen.Points[0][k].Missing()
			if got := obs[3].Points[body.Left][k].Missing(); got != want {
				t.Errorf("%s: %v missing %v, want %v", tt.name, k, got, want)
			}
		}
	}
	blind := guess(leg(200, 250), body.Ankle)
	obs := []Observation{blind, guess(leg(200, 300), body.Hip, body.Ankle), blind}
	if rejectGuesses(obs, body.Left); obs[0].Points[body.Left][body.Ankle].Missing() {
		t.Error("a network that does not tell lost a point")
	}
}
