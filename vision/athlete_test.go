package vision

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"holdfast/models"
	"holdfast/vision/plane"
)

// person is somebody in the first pass: where the hips are at a time, in pixels,
// and the size of the circle that holds the body.
type person struct {
	at   func(timeS float64) (x, y float64)
	size float64
	from float64 // seconds in the picture
	to   float64
}

func look(people []person, timeS float64) []Detection {
	var out []Detection
	for _, p := range people {
		if timeS < p.from || timeS > p.to {
			continue
		}
		x, y := p.at(timeS)
		out = append(out, Detection{Score: 0.9, Hip: [2]float64{x, y}, Crown: [2]float64{x, y - p.size/2}})
	}
	return out
}

// squatting moves the hips down and up by a quarter of the body every 3 s.
func squatting(x, y, size float64) func(float64) (float64, float64) {
	return func(t float64) (float64, float64) {
		return x, y + size*0.25*(1-math.Cos(2*math.Pi*t/3))/2
	}
}

func standing(x, y float64) func(float64) (float64, float64) {
	return func(t float64) (float64, float64) { return x + 3*math.Sin(t), y + 2*math.Sin(1.7*t) }
}

func TestAthleteIsWhoMoves(t *testing.T) {
	athlete := person{squatting(400, 500, 700), 700, 0, 20}
	tests := []struct {
		name   string
		people []person // the athlete is the first
	}{
		{"alone", []person{athlete}},
		{"coach near, larger", []person{athlete, {standing(900, 480), 900, 0, 20}}},
		{"coach listed first by size and score", []person{athlete, {standing(650, 500), 1000, 0, 20}}},
		{"walks by behind", []person{athlete,
			{func(t float64) (float64, float64) { return -100 + 120*t, 470 + 10*math.Sin(9*t) }, 500, 0, 12}}},
		{"walks by in front", []person{athlete,
			{func(t float64) (float64, float64) { return 1400 - 150*t, 560 + 15*math.Sin(9*t) }, 950, 0, 10}}},
		{"athlete comes late", []person{{squatting(400, 500, 700), 700, 5, 20}, {standing(900, 480), 800, 0, 20}}},
		{"small far squatter in the background", []person{athlete, {squatting(1100, 300, 200), 200, 0, 4}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var paths [][]sighting
			looks := 0
			for i := range 120 {
				timeS := float64(i) / scanRateHz
				looks++
				found := look(tt.people, timeS)
				// Detections come by score, not by who they are.
				if i%2 == 1 {
					for a, b := 0, len(found)-1; a < b; a, b = a+1, b-1 {
						found[a], found[b] = found[b], found[a]
					}
				}
				paths = link(paths, timeS, found, 1)
			}
			got := chooseAthlete(paths, looks, 1280)
			want := tt.people[0]
			if len(got) == 0 {
				t.Fatal("nobody chosen")
			}
			off := 0
			for _, s := range got {
				if x, _ := want.at(s.timeS); math.Abs(s.x-x) > 30 || math.Abs(s.size-want.size) > 1 {
					off++
				}
			}
			if off > 0 || float64(len(got)) < 0.9*(want.to-want.from)*scanRateHz {
				t.Errorf("%d of %d sightings are not the athlete", off, len(got))
			}
		})
	}
}

func TestAthletePick(t *testing.T) {
	a := &athlete{seen: []sighting{{0, 400, 500, 700, 0}, {1, 410, 600, 700, 0}, {2, 400, 500, 700, 0}}}
	near := Detection{Hip: [2]float64{405, 540}, Crown: [2]float64{405, 190}}
	other := Detection{Hip: [2]float64{900, 500}, Crown: [2]float64{900, 100}}
	if d, ok := a.pick(0.5, []Detection{other, near}, 1); !ok || d != near {
		t.Errorf("picked %+v, %v", d, ok)
	}
	if _, ok := a.pick(0.5, []Detection{other}, 1); ok {
		t.Error("took the other person for the athlete")
	}
	if a.elsewhere(0.5, 420, 700) {
		t.Error("the athlete's own place counts as elsewhere")
	}
	if !a.elsewhere(0.5, 800, 700) || !a.elsewhere(0.5, 405, 200) {
		t.Error("another's place or size does not count as elsewhere")
	}
	// A picture at half size holds the same person at half the pixels.
	half := Detection{Hip: [2]float64{near.Hip[0] / 2, near.Hip[1] / 2},
		Crown: [2]float64{near.Crown[0] / 2, near.Crown[1] / 2}}
	if _, ok := a.pick(0.5, []Detection{half}, 2); !ok {
		t.Error("scale is not respected")
	}
}

func TestRegionFrom(t *testing.T) {
	r := regionFrom([2]float64{100, 200}, [2]float64{100, 120}, 1.25)
	if r.CX != 100 || r.CY != 200 || math.Abs(r.SizePx-200) > 1e-9 || math.Abs(r.AngleRad) > 1e-9 {
		t.Errorf("upright body: %+v", r)
	}
	// Lying with the head to the right: the square is turned a quarter clockwise.
	r = regionFrom([2]float64{100, 200}, [2]float64{180, 200}, 1.25)
	if math.Abs(r.AngleRad-math.Pi/2) > 1e-9 {
		t.Errorf("head to the right: angle %.3f", r.AngleRad)
	}
	x, y := r.toPicture(0.5, 0)
	if math.Abs(x-200) > 1e-9 || math.Abs(y-200) > 1e-9 {
		t.Errorf("the top of the region lies at %.1f, %.1f", x, y)
	}
}

// Nobody stands on his head in a clip that is upright: who hangs from his hands looks so to the detector. Who lies is
// left as he is.
func TestRegionHeadUp(t *testing.T) {
	for _, tt := range []struct{ deg, want float64 }{{0, 0}, {-30, -30}, {90, 90}, {-100, -100}, {180, 0}, {-170, 10},
		{150, -30}} {
		r := Region{AngleRad: tt.deg * math.Pi / 180}
		if got := r.headUp().AngleRad * 180 / math.Pi; math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("turned by %.0f degrees: %.1f, want %.0f", tt.deg, got, tt.want)
		}
	}
}

// Turning, moving and scaling the body turns, moves and scales its region.
func TestRegionFollowsBody(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coord := rapid.Float64Range(-2000, 2000)
		hip := [2]float64{coord.Draw(t, "hx"), coord.Draw(t, "hy")}
		angle, reach := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "angle"), rapid.Float64Range(5, 900).Draw(t, "reach")
		crown := [2]float64{hip[0] + reach*math.Sin(angle), hip[1] - reach*math.Cos(angle)}
		r := regionFrom(hip, crown, 1.25)
		if math.Abs(math.Remainder(r.AngleRad-angle, 2*math.Pi)) > 1e-6 || math.Abs(r.SizePx-2.5*reach) > 1e-6*reach {
			t.Fatalf("body at %.3f of %.1f px gives %+v", angle, reach, r)
		}
		// The crown lies straight above the middle, at 0.8 of the way to the edge.
		if x, y := r.toPicture(0.5, 0.1); math.Hypot(x-crown[0], y-crown[1]) > 1e-6*reach {
			t.Fatalf("crown at %v, region has it at %.2f, %.2f", crown, x, y)
		}
	})
}

func TestDecodeDetections(t *testing.T) {
	rule := &models.Detector{ScoreClip: 100, MinScore: 0.5, MaxOverlap: 0.3}
	centres := [][2]float64{{0.5, 0.5}, {0.5, 0.5}, {0.1, 0.1}, {0.9, 0.9}}
	boxes := make([]float32, 4*detectorCoords)
	set := func(i int, v ...float32) { copy(boxes[i*detectorCoords:], v) }
	// Boxes of 56 px at the anchors' centres, points 22.4 px up and down.
	set(0, 0, 0, 56, 56, 0, 22.4, 0, -22.4)
	set(1, 11.2, 0, 56, 56, 11.2, 22.4, 11.2, -22.4)
	set(2, 0, 0, 22, 22, 0, 5, 0, -5)
	set(3, 0, 0, 22, 22, 0, 5, 0, -5)
	scores := []float32{0, 0, 3, -3} // probabilities 0.5, 0.5, 0.95, 0.05
	got := decodeDetections(boxes, scores, centres, 224, rule, Region{CX: 112, CY: 112, SizePx: 224})
	if len(got) != 2 {
		t.Fatalf("%d people, want 2: %+v", len(got), got)
	}
	if math.Abs(got[0].Score-0.9526) > 1e-4 || math.Abs(got[0].Hip[0]-22.4) > 1e-4 || math.Abs(got[0].Hip[1]-27.4) > 1e-4 {
		t.Errorf("best: %+v", got[0])
	}
	// Two boxes of equal score that overlap by two thirds: their mean.
	if math.Abs(got[1].Hip[0]-117.6) > 1e-4 || math.Abs(got[1].Hip[1]-134.4) > 1e-4 ||
		math.Abs(got[1].SizePx()-89.6) > 1e-4 {
		t.Errorf("merged: %+v size %.2f", got[1], got[1].SizePx())
	}
}

func TestTurnOf(t *testing.T) {
	looks := func(counts map[float64]int) [][]sighting {
		var p []sighting
		for lean, n := range counts {
			for range n {
				p = append(p, sighting{leanDeg: lean})
			}
		}
		return [][]sighting{p}
	}
	tests := []struct {
		name  string
		leans map[float64]int
		want  int
	}{
		{"upright, squatting", map[float64]int{2: 20, 35: 10, 52: 15}, 0},
		{"upside down", map[float64]int{-179: 10, 178: 10, -135: 20}, 180},
		{"on the side, head right", map[float64]int{93: 12, 135: 20}, 270},
		{"on the side, head left", map[float64]int{-86: 12, -45: 20}, 90},
		{"on the floor for most of it", map[float64]int{88: 30, 2: 10}, 0},
		{"a handstand for most of it", map[float64]int{178: 30, 3: 8}, 0},
		{"a few looks", map[float64]int{90: 3}, 0},
		{"nobody", nil, 0},
	}
	for _, tt := range tests {
		if got := turnOf(looks(tt.leans)); got != tt.want {
			t.Errorf("%s: turned by %d degrees, want %d", tt.name, got, tt.want)
		}
	}
}

// One who is found twice in the same place is one; two who stand close are two.
// A picture is turned for a body that stands over its feet in it then: one that sits, bends over or lies does not.
func TestStands(t *testing.T) {
	tests := []struct {
		name                 string
		shoulder, hip, ankle plane.XY
		want                 bool
	}{
		{"standing", plane.XY{X: 100, Y: 100}, plane.XY{X: 98, Y: 200}, plane.XY{X: 100, Y: 360}, true},
		{"before a camera held askew", plane.XY{X: 130, Y: 100}, plane.XY{X: 120, Y: 200}, plane.XY{X: 90, Y: 350}, true},
		{"half way down in a squat", plane.XY{X: 110, Y: 140}, plane.XY{X: 70, Y: 230}, plane.XY{X: 100, Y: 360}, true},
		{"at the bottom of a squat", plane.XY{X: 110, Y: 230}, plane.XY{X: 20, Y: 310}, plane.XY{X: 100, Y: 360}, false},
		{"bent over", plane.XY{X: 210, Y: 200}, plane.XY{X: 80, Y: 200}, plane.XY{X: 100, Y: 360}, false},
		{"seen in a turned picture, sitting, lifted on a hand", plane.XY{X: 131, Y: 144}, plane.XY{X: 147, Y: 213},
			plane.XY{X: 221, Y: 288}, false},
		{"on its head", plane.XY{X: 100, Y: 360}, plane.XY{X: 100, Y: 260}, plane.XY{X: 100, Y: 100}, false},
	}
	for _, tt := range tests {
		if got := stands(tt.shoulder, tt.hip, tt.ankle); got != tt.want {
			t.Errorf("%s: stands %v", tt.name, got)
		}
	}
}

// Who is found twice in one place is one body, of which one path leads through the looks.
func TestOnce(t *testing.T) {
	at := func(x float64) Detection { return Detection{Hip: [2]float64{x, 110}, Crown: [2]float64{x, 10}} }
	for _, tt := range []struct {
		found []Detection
		want  int
	}{
		{nil, 0}, {[]Detection{at(300)}, 1}, {[]Detection{at(300), at(306)}, 1}, {[]Detection{at(300), at(320)}, 2},
		{[]Detection{at(300), at(306), at(100)}, 2},
	} {
		if got := len(once(tt.found)); got != tt.want {
			t.Errorf("%v: %d people, want %d", tt.found, got, tt.want)
		}
	}
	hanging, turned := at(300), at(301)
	turned.Crown[1] = 205 // upside down
	var paths [][]sighting
	for i, found := range [][]Detection{{turned}, {turned, hanging}, {hanging}, {hanging, turned}, {hanging}} {
		paths = link(paths, float64(i)/scanRateHz, once(found), 1)
	}
	if len(paths) != 1 || len(paths[0]) != 5 {
		t.Errorf("one who hangs is found on %d paths, want one: %v", len(paths), paths)
	}
}
