package screening_test

import (
	"cmp"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"holdfast/internal/tracks"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/movements"
	"holdfast/screening"
)

// Every stored clip is named after what it shows, whatever else is looked for, and its reps are all found, and whole.
func TestMovementsAreRecognised(t *testing.T) {
	for _, name := range append(tracks.Movements(t), "slow_30", "fast_30", "jump_30", "left_fast") {
		t.Run(name, func(t *testing.T) {
			a, _ := tracks.Analysis(t, name, screening.Options{})
			want := name[:max(0, strings.LastIndex(name, "_"))]
			if _, known := movements.Known().Of(want); !known {
				want = "squat"
			}
			reps := cmp.Or(map[string]int{"hop": 6, "get_up": 2, "drop_landing": 1}[want], 3)
			if a.Movement.Key != want || a.Movement.Given || a.Movement.SurePct < 70 || len(a.Reps) != reps {
				t.Errorf("%+v with %d reps, want %s with %d", a.Movement, len(a.Reps), want, reps)
			}
			for i := range a.Reps {
				if !a.Reps[i].Counts() {
					t.Errorf("rep %d is not whole: %s", i+1, screening.Say(a.Reps[i].PartialWhy))
				}
			}
		})
	}
}

// Where points shake a knee seems to dip in a press: no name is said to be sure, and the clip says why.
func TestShakenNamesAreUnsure(t *testing.T) {
	for _, name := range []string{"press_slow", "hinge_fast"} {
		clip, track := tracks.Load(t, name)
		random := rand.New(rand.NewPCG(3, 1))
		for i := range track.Poses {
			for k := range track.Poses[i].Keypoints {
				p := &track.Poses[i].Keypoints[k]
				p.X += 0.01 * float64(clip.HeightPx) * random.NormFloat64()
				p.Y += 0.01 * float64(clip.HeightPx) * random.NormFloat64()
			}
		}
		a, err := screening.Measure(clip, track, screening.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if a.Movement.SurePct >= 70 || !slices.ContainsFunc(a.Warnings,
			func(w screening.Warning) bool { return w.Code == "movement_shaken" }) {
			t.Errorf("%s shaken: %+v, %v", name, a.Movement, a.Warnings)
		}
	}
}

// What people do between sets is no rep of anything: walking, sitting down on a chair, tying a shoe, loading a bar.
// What was seen instead is told, and the angles are measured all the same, see TestPlainAgainstTruth.
func TestNoReps(t *testing.T) {
	for name, want := range map[string]string{
		"no_rep_walk": "goes as far as a rep of a known", "no_rep_sit": "as on a seat", "no_rep_shoe": "legs are apart",
		"no_rep_bent": "the trunk bends over", "no_rep_plate": "lift something from the floor",
	} {
		clip, track := tracks.Load(t, name)
		a, err := screening.Measure(clip, track, screening.Options{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if a.Plain == nil || len(a.Reps) > 0 || a.Movement.Key != "" || len(a.Plain.Why) == 0 ||
			!strings.Contains(screening.Say(a.Plain.Why[0]), want) {
			t.Errorf("%s: %+v, %d reps; want none and %q", name, a.Plain, len(a.Reps), want)
		}
		if _, err := screening.Compare([]*screening.Analysis{a, a}, screening.CompareOptions{}); !errors.Is(err,
			screening.ErrNoReps) || !strings.Contains(err.Error(), "such clips are not compared; mark the same part") {
			t.Errorf("%s compared: %v", name, err)
		}
		if _, err := screening.Measure(clip, track, screening.Options{Movement: "squat"}); !errors.Is(err,
			screening.ErrNoReps) {
			t.Errorf("%s as a squat: %v", name, err)
		}
		track.PeopleSeen = 2
		if _, err := screening.Measure(clip, track, screening.Options{}); !errors.Is(err, screening.ErrNoReps) {
			t.Errorf("%s with two people: %v", name, err)
		}
	}
	if n := len(tracks.NoReps(t)); n != 5 {
		t.Errorf("%d clips without reps", n)
	}
}

// The same athlete hinges slowly and fast: what is lost is what the renderer took away, the joint that a hinge is about
// comes first where nothing is lost more, and nothing is said of a landing.
func TestHingeAgainstTruth(t *testing.T) {
	const clips = "../testdata/movements/"
	var analyses []*screening.Analysis
	var rom [][3]float64
	for _, tempo := range []events.Tempo{events.TempoSlow, events.TempoFast} {
		name := "hinge_" + string(tempo)
		a, _ := tracks.Analysis(t, name, screening.Options{Athlete: "Sam Example"})
		rom, analyses = append(rom, trueROM(t, clips+name+".json")), append(analyses, a)
		for _, r := range a.Reps {
			if r.Tempo != tempo || r.Partial || r.HasFlight() {
				t.Errorf("%s rep %d: %s, partial %v", name, r.Number, r.Tempo, r.Partial)
			}
			for _, j := range body.LegJoints {
				if d := r.Angles[j.Angle()].ROMDeg - rom[len(rom)-1][j]; math.Abs(d) > 10.5 { // a rep is up to 5 off the mean
					t.Errorf("%s rep %d %v: off by %.1f°", name, r.Number, j, d)
				}
			}
		}
	}
	c, err := screening.Compare(analyses, screening.CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, j := range []body.Joint{body.HipJoint, body.KneeJoint} {
		if got, want := c.Pairs[0].Joints[j].LostDeg, rom[0][j]-rom[1][j]; math.Abs(got-want) > 3 {
			t.Errorf("%v: %.1f° lost, truth %.1f°", j, got, want)
		}
	}
	if c.Movement != "hinge" || c.Landing != nil || len(c.Headlines) != 3 || c.Headlines[0].Joint != "hip" {
		t.Errorf("%s, landing %v, headlines %+v", c.Movement, c.Landing, c.Headlines)
	}
}

// trueLimbs reads the points of the near side in each frame of a rendered clip, and how tall the athlete is in pixels.
func trueLimbs(t *testing.T, path string) (limbs []body.Limb, heightPx float64) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var truth struct {
		HeightM float64 `json:"body_height_m"`
		Near    string  `json:"near_side"`
		Camera  struct {
			DistanceM float64 `json:"distance_m"`
			FocalPx   float64 `json:"focal_px"`
		} `json:"camera"`
		Frames []struct {
			Points map[string][2]float64 `json:"points"`
		} `json:"frames"`
	}
	if err := json.Unmarshal(text, &truth); err != nil {
		t.Fatal(err)
	}
	for _, f := range truth.Frames {
		var l body.Limb
		for k := range body.NumLandmarks {
			l[k] = body.MissingPoint()
			p, ok := f.Points[truth.Near+"_"+strings.Replace(k.String(), "toe", "big_toe", 1)]
			if ok {
				l[k] = body.Point{X: p[0], Y: p[1]}
			}
		}
		limbs = append(limbs, l)
	}
	return limbs, truth.HeightM / truth.Camera.DistanceM * truth.Camera.FocalPx
}

// What the arm does in presses is what the renderer made it do, as the picture shows it: ranges, positions at the
// lock-out and how the body is stacked over the foot, each within its interval.
func TestPressAgainstTruth(t *testing.T) {
	for _, name := range []string{"press_slow", "press_fast"} {
		a, _ := tracks.Analysis(t, name, screening.Options{})
		limbs, heightPx := trueLimbs(t, "../testdata/movements/"+name+".json")
		at := func(timeS float64) *body.Limb { return &limbs[min(len(limbs)-1, int(timeS*a.Clip.FrameRateHz+0.5))] }
		for i := range a.Reps {
			r := &a.Reps[i]
			l := at(r.BottomS)
			for _, j := range []body.Angle{body.ShoulderFlexion, body.ElbowFlexion} {
				lo, hi := math.Inf(1), math.Inf(-1)
				for s := r.StartS; s < r.EndS; s += 1 / a.Clip.FrameRateHz {
					v := body.AnglesOf(at(s), body.FacingLeft)[j]
					lo, hi = min(lo, v), max(hi, v)
				}
				m := &r.Angles[j]
				if in := m.ROMInterval95Deg; !(in[0] <= hi-lo && hi-lo <= in[1]) {
					t.Errorf("%s rep %d %v: range %.0f (%.0f to %.0f), truth %.0f", name, r.Number, j, m.ROMDeg, in[0], in[1],
						hi-lo)
				}
				if d := m.AtBottomDeg - body.AnglesOf(l, body.FacingLeft)[j]; !(math.Abs(d) <= 12) {
					t.Errorf("%s rep %d %v: at the lock-out off by %.1f", name, r.Number, j, d)
				}
			}
			for _, k := range []body.Landmark{body.Ankle, body.Hip, body.Shoulder, body.Wrist} {
				want := ((l[body.Heel].X+l[body.Toe].X)/2 - l[k].X) / heightPx * 100
				got := r.Stack.Of(k).ForwardPct
				if in := got.Interval95(); !(math.Abs(got.Value-want) <= 3 && in[0] <= want && want <= in[1]) {
					t.Errorf("%s rep %d: the %v is %.1f %% in front of the foot, truth %.1f", name, r.Number, k, got.Value,
						want)
				}
			}
		}
	}
}

// What a lunge loses of the leg in front, and a pull-up of elbow and shoulder, is lost in the truth as well.
func TestLossAgainstTruth(t *testing.T) {
	for _, tt := range []struct {
		movement  string
		joint     body.Joint
		withinDeg float64
	}{
		{"lunge", body.KneeJoint, 4}, {"lunge", body.HipJoint, 6}, {"lunge", body.AnkleJoint, 5},
		{"step_up", body.KneeJoint, 3}, {"step_up", body.HipJoint, 3}, {"step_up", body.AnkleJoint, 3},
		{"hop", body.KneeJoint, 4}, {"hop", body.AnkleJoint, 3},
		{"pull", body.ElbowJoint, 5}, {"pull", body.ShoulderJoint, 4},
		{"clean_pull", body.KneeJoint, 4}, {"clean_pull", body.HipJoint, 4},
	} {
		var analyses []*screening.Analysis
		var rom []float64
		for _, tempo := range []events.Tempo{events.TempoSlow, events.TempoFast} {
			name := tt.movement + "_" + string(tempo)
			a, _ := tracks.Analysis(t, name, screening.Options{Athlete: "Sam Example"})
			limbs, _ := trueLimbs(t, "../testdata/movements/"+name+".json")
			facing, sum := body.FacingRight, 0.0
			if a.Facing == "left" {
				facing = body.FacingLeft
			}
			for _, r := range a.Reps {
				if r.Tempo != tempo || r.Partial || r.Between {
					t.Errorf("%s rep %d: %s, partial %v", name, r.Number, r.TempoWord(), r.Partial)
				}
				lo, hi := math.Inf(1), math.Inf(-1)
				for i := int(r.StartS * a.Clip.FrameRateHz); i <= int(r.EndS*a.Clip.FrameRateHz); i++ {
					v := body.AnglesOf(&limbs[i], facing)[tt.joint.Angle()]
					lo, hi = min(lo, v), max(hi, v)
				}
				sum += (hi - lo) / float64(len(a.Reps))
			}
			analyses, rom = append(analyses, a), append(rom, sum)
		}
		c, err := screening.Compare(analyses, screening.CompareOptions{})
		if err != nil {
			t.Fatal(err)
		}
		ch := &c.Pairs[0].Joints[tt.joint]
		got, want := ch.LostDeg, rom[0]-rom[1]
		t.Logf("%s %v: %.1f° lost (%.0f to %.0f), truth %.1f°", tt.movement, tt.joint, got, ch.Interval95Deg[0],
			ch.Interval95Deg[1], want)
		if in := ch.Interval95Deg; !(math.Abs(got-want) <= tt.withinDeg && in[0] <= want && want <= in[1]) {
			t.Errorf("%s %v: %.1f° lost (%.0f to %.0f), truth %.1f°", tt.movement, tt.joint, got, in[0], in[1], want)
		}
	}
}

// Take-off and first contact of hops are within a frame (one of 24 is 1.1 frames off), and the interval of each time on
// the floor holds the truth.
func TestHopAgainstTruth(t *testing.T) {
	for _, name := range []string{"hop_slow", "hop_fast"} {
		a, _ := tracks.Analysis(t, name, screening.Options{})
		text, err := os.ReadFile("../testdata/movements/" + name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		var truth struct {
			Reps []struct{ Takeoff, Touchdown float64 }
		}
		if err := json.Unmarshal(text, &truth); err != nil || len(truth.Reps) != len(a.Reps) {
			t.Fatalf("%s: %d reps, %v", name, len(a.Reps), err)
		}
		frameS := 1 / a.Clip.FrameRateHz
		for i := range a.Reps {
			j, is := a.Reps[i].Jump, &truth.Reps[i]
			if off, on := j.TakeoffS.Value-is.Takeoff, j.ContactS.Value-is.Touchdown; !(math.Abs(off) <= frameS) ||
				!(math.Abs(on) <= 1.15*frameS) {
				t.Errorf("%s hop %d: take-off %+.3f s, contact %+.3f s off", name, i+1, off, on)
			}
			if i == 0 {
				continue
			}
			want, in := is.Takeoff-truth.Reps[i-1].Touchdown, j.ContactTimeS.Interval95()
			if !(in[0] <= want && want <= in[1]) || !(math.Abs(j.ContactTimeS.Value-want) <= 2*frameS) {
				t.Errorf("%s hop %d: %.3f s on the floor (%.3f to %.3f), truth %.3f", name, i+1, j.ContactTimeS.Value, in[0],
					in[1], want)
			}
		}
	}
}

// How long an athlete takes from the floor onto the feet, and in how many steps, is what the renderer made of it,
// slowly and fast: from hands and feet, from both knees and from lying. No foot of a get-up is measured, and no squat
// gets up.
func TestGetUpAgainstTruth(t *testing.T) {
	for _, name := range []string{"get_up_slow", "get_up_fast", "get_up_kneeling_slow", "get_up_kneeling_fast",
		"get_up_lying_slow", "get_up_lying_fast"} {
		a, _ := tracks.Analysis(t, name, screening.Options{})
		text, err := os.ReadFile("../testdata/movements/" + name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		var truth struct {
			Reps []struct {
				UpStart float64 `json:"up_start"`
				End     float64
				Steps   int
			}
		}
		if err := json.Unmarshal(text, &truth); err != nil || len(truth.Reps) != len(a.Reps) {
			t.Fatalf("%s: %d reps, %v", name, len(a.Reps), err)
		}
		for i := range a.Reps {
			r, want := &a.Reps[i], truth.Reps[i].End-truth.Reps[i].UpStart
			if r.TempoWord() != name[strings.LastIndex(name, "_")+1:] || r.Partial || r.Foot != nil || r.Rise == nil {
				t.Fatalf("%s rep %d: %s, %+v", name, i+1, r.TempoWord(), r)
			}
			got, in := r.Rise.ToFeetS, r.Rise.ToFeetS.Interval95()
			if !(math.Abs(got.Value-want) <= 0.35 && in[0] <= want && want <= in[1]) || r.Rise.StillS < got.Value {
				t.Errorf("%s rep %d: on the feet in %.2f s (%.2f to %.2f), truth %.2f, still after %.2f", name, i+1, got.Value,
					in[0], in[1], want, r.Rise.StillS)
			}
			if r.Rise.Steps == nil || *r.Rise.Steps != truth.Reps[i].Steps {
				t.Errorf("%s rep %d: %v steps, truth %d", name, i+1, r.Rise.Steps, truth.Reps[i].Steps)
			}
		}
	}
	a, _ := tracks.Analysis(t, "slow_30", screening.Options{})
	if a.Reps[0].Rise != nil {
		t.Errorf("a squat gets up from the floor: %+v", a.Reps[0].Rise)
	}
}

// Feet that are hidden take no steps that anybody knows of: neither on the way up nor after a landing.
func TestHiddenFeetTakeUnknownSteps(t *testing.T) {
	for _, name := range []string{"get_up_lying_fast", "drop_landing_low"} {
		clip, track := tracks.Load(t, name)
		for i := range track.Poses {
			for k := range track.Poses[i].Keypoints {
				if strings.Contains(track.KeypointNames[k], "ankle") {
					track.Poses[i].Keypoints[k].SDPx = math.NaN()
				}
			}
		}
		a, err := screening.Measure(clip, track, screening.Options{Movement: name[:strings.LastIndex(name, "_")]})
		if err != nil {
			t.Logf("%s: %v", name, err) // refused, which says no steps either
			continue
		}
		for i := range a.Reps {
			if u := a.Reps[i].Rise; u != nil && u.Steps != nil {
				t.Errorf("%s rep %d: %d steps", name, i+1, *u.Steps)
			}
			if d := a.Reps[i].Drop; d != nil && d.Steps != nil {
				t.Errorf("%s: %d steps", name, *d.Steps)
			}
		}
	}
}

// A body that is not over its feet, as of one who sits and lifts the hips on a hand, lands from no box.
func TestSittingIsNoDropLanding(t *testing.T) {
	clip, track := tracks.Load(t, "drop_landing_low")
	for i := range track.Poses {
		p := &track.Poses[i]
		if p.TimeS < 1.5 {
			continue
		}
		for k := range p.Keypoints {
			if n := track.KeypointNames[k]; !strings.Contains(n, "hip") && !strings.Contains(n, "knee") &&
				!strings.Contains(n, "ankle") && !strings.Contains(n, "heel") && !strings.Contains(n, "foot") {
				p.Keypoints[k].X -= 150 // over a leg length, and inside the picture
			}
		}
	}
	if a, err := screening.Measure(clip, track, screening.Options{}); err == nil && a.Movement.Key == "drop_landing" {
		t.Errorf("%d drop landings", len(a.Reps))
	}
	_, err := screening.Measure(clip, track, screening.Options{Movement: "drop_landing"})
	if err == nil || !strings.Contains(err.Error(), "the body lies on the floor, or is on its hands") {
		t.Error(err)
	}
}

// Of a drop landing the first contact, how high the box is and the position at the end are what the renderer made of
// them, and the athlete is still soon after; the higher box costs knee and ankle.
func TestDropLandingAgainstTruth(t *testing.T) {
	for _, name := range []string{"drop_landing_low", "drop_landing_high"} {
		text, err := os.ReadFile("../testdata/movements/" + name + ".json")
		if err != nil {
			t.Fatal(err)
		}
		var truth struct {
			HeightM float64 `json:"body_height_m"`
			BoxM    float64 `json:"box_m"`
			Frames  []struct{ Angles map[string]float64 }
			Reps    []struct {
				Touchdown float64
				Landing   map[string]struct{ Peak float64 }
			}
		}
		if err := json.Unmarshal(text, &truth); err != nil {
			t.Fatal(err)
		}
		a, _ := tracks.Analysis(t, name, screening.Options{HeightCm: 100 * truth.HeightM})
		if len(a.Reps) != 1 || a.Reps[0].Drop == nil || a.Reps[0].HasFlight() || a.Reps[0].Partial {
			t.Fatalf("%s: %d reps, %+v", name, len(a.Reps), a.Reps)
		}
		r, is := &a.Reps[0], &truth.Reps[0]
		d := r.Drop
		in := d.HeightM.Interval95()
		t.Logf("%s: %.3f m (%.3f to %.3f), truth %.3f; contact %.3f s, truth %.3f; still after %.2f s", name,
			d.HeightM.Value, in[0], in[1], truth.BoxM, d.ContactS, is.Touchdown, d.StillS)
		if !(in[0] <= truth.BoxM && truth.BoxM <= in[1]) || !(math.Abs(d.HeightM.Value-truth.BoxM) < 0.03) {
			t.Errorf("%s: dropped from %.3f m (%.3f to %.3f), truth %.3f", name, d.HeightM.Value, in[0], in[1], truth.BoxM)
		}
		if d.Steps == nil || *d.Steps != 0 { // the feet stay where they land
			t.Errorf("%s: %v steps", name, d.Steps)
		}
		if !(math.Abs(d.ContactS-is.Touchdown) <= 1/a.Clip.FrameRateHz) || !(d.StillS > 0 && d.StillS < 0.5) {
			t.Errorf("%s: contact %.3f s, truth %.3f; still after %.2f s", name, d.ContactS, is.Touchdown, d.StillS)
		}
		for _, j := range body.LegJoints {
			m, angle := &r.Angles[j.Angle()], j.Angle().String()
			want := is.Landing[angle].Peak - truth.Frames[0].Angles[angle]
			if in := m.ROMInterval95Deg; !(in[0] <= want && want <= in[1]) || !(math.Abs(m.AtBottomDeg-want) <= 8) {
				t.Errorf("%s %v: range %.1f° (%.1f to %.1f), at the landing %.1f°, truth %.1f°", name, j, m.ROMDeg, in[0], in[1],
					m.AtBottomDeg, want)
			}
		}
	}
}

// A movement that the coach names is the one that is looked for, also where the clip shows none of it.
func TestMovementGiven(t *testing.T) {
	clip, track := tracks.Load(t, "hinge_slow")
	a, err := screening.Measure(clip, track, screening.Options{Movement: "hinge"})
	if err != nil || a.Movement.Key != "hinge" || !a.Movement.Given {
		t.Errorf("%v, %+v", err, a)
	}
	if _, err := screening.Measure(clip, track, screening.Options{Movement: "squat"}); err == nil ||
		!strings.Contains(err.Error(), "the hips never sink") || !strings.Contains(err.Error(), "film squats or jumps") {
		t.Error(err)
	}
	clip, track = tracks.Load(t, "no_rep_walk")
	for key, want := range map[string]string{"squat": "the hips never sink far enough",
		"press": "the hands never rise far enough", "pull": "the shoulders never rise far enough",
		"jerk": "the hands never go far enough from the shoulders", "hinge": "the trunk lean never changes enough",
		"get_up": "the shoulders never sink far enough"} {
		_, err := screening.Measure(clip, track, screening.Options{Movement: key})
		if !errors.Is(err, screening.ErrNoReps) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", key, err, want)
		}
	}
	if _, err := screening.Measure(clip, track, screening.Options{Movement: "jig"}); err == nil ||
		!strings.Contains(err.Error(), `there is no movement "jig"; there are`) {
		t.Error(err)
	}
}

// Two movements are set side by side, and nothing is said of one against the other.
func TestDifferentMovementsAreNotCompared(t *testing.T) {
	squat, _ := tracks.Analysis(t, "slow_30", screening.Options{})
	hinge, _ := tracks.Analysis(t, "hinge_fast", screening.Options{})
	hinge.NearSide = squat.NearSide
	c, err := screening.Compare([]*screening.Analysis{squat, hinge}, screening.CompareOptions{})
	if err != nil || c.Withheld == nil || c.Withheld.Code != "why_movements" {
		t.Fatalf("%v, %+v", err, c)
	}
	for _, h := range c.Headlines {
		if h.Position.Code == "lost" || h.Range.Code == "lost" {
			t.Errorf("%s is said to be lost", h.Joint)
		}
	}
}

// useExample makes the example of the documentation known beside what is shipped.
func useExample(t *testing.T) {
	t.Helper()
	page, err := os.ReadFile("../docs/movements.md")
	if err != nil {
		t.Fatal(err)
	}
	_, after, _ := strings.Cut(string(page), "```toml\n")
	text, _, whole := strings.Cut(after, "```")
	known, err := movements.Known().With(fstest.MapFS{"kneeling.toml": {Data: []byte(text)}})
	if err != nil || !whole {
		t.Fatal(err)
	}
	t.Cleanup(movements.Use(known))
}

// A movement that is not shipped is recognised and measured by the file that the documentation shows, from clip to
// comparison, and the others are still told from it.
func TestMovementOfTheDocumentation(t *testing.T) {
	useExample(t)
	var analyses []*screening.Analysis
	for _, tempo := range []events.Tempo{events.TempoSlow, events.TempoFast} {
		name := "kneeling_press_" + string(tempo)
		a, _ := tracks.Analysis(t, name, screening.Options{})
		if a.Movement.Key != "kneeling_press" || a.Movement.Given || len(a.Reps) != 2 {
			t.Fatalf("%s: %+v with %d reps", name, a.Movement, len(a.Reps))
		}
		if slices.ContainsFunc(a.Warnings, func(w screening.Warning) bool { return w.Code == "no_stand" }) {
			t.Errorf("%s: who kneels is asked to stand", name)
		}
		limbs, _ := trueLimbs(t, "../testdata/kneeling/"+name+".json")
		ways := trueWaysS(t, "../testdata/kneeling/"+name+".json")
		for i := range a.Reps {
			r := &a.Reps[i]
			if r.Tempo != tempo || r.Between || r.Partial || r.Foot != nil || r.Stack != nil {
				t.Errorf("%s rep %d: %s, partial %v, foot %+v", name, r.Number, r.TempoWord(), r.Partial, r.Foot)
			}
			if d := r.DescentS - ways[i]; !(math.Abs(d) <= 0.3) { // looks may be 0.1 s apart
				t.Errorf("%s rep %d: %.2f s up, truth %.2f", name, r.Number, r.DescentS, ways[i])
			}
			want := body.AnglesOf(&limbs[int(r.BottomS*a.Clip.FrameRateHz+0.5)], body.FacingLeft)
			for _, j := range []body.Angle{body.ShoulderFlexion, body.ElbowFlexion} {
				got := r.Angles[j].AtBottomDeg
				t.Logf("%s rep %d %v: %.0f° at the lock-out, truth %.0f°", name, r.Number, j, got, want[j])
				if !(math.Abs(got-want[j]) <= 12) {
					t.Errorf("%s rep %d %v: %.1f° at the lock-out, truth %.1f°", name, r.Number, j, got, want[j])
				}
			}
		}
		analyses = append(analyses, a)
	}
	c, err := screening.Compare(analyses, screening.CompareOptions{})
	if err != nil || c.Movement != "kneeling_press" || len(c.Headlines) != 2 {
		t.Errorf("%v, %+v", err, c)
	}
	for name, want := range map[string]string{"hinge_slow": "hinge", "press_slow": "press", "press_fast": "press",
		"slow_30": "squat"} {
		if a, _ := tracks.Analysis(t, name, screening.Options{}); a.Movement.Key != want {
			t.Errorf("%s is taken for %+v", name, a.Movement)
		}
	}
}

// trueWaysS reads how long the way to the turn is in each rep of a rendered clip, in seconds.
func trueWaysS(t *testing.T, path string) (waysS []float64) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var truth struct {
		Reps []struct{ Start, Bottom float64 }
	}
	if err := json.Unmarshal(text, &truth); err != nil {
		t.Fatal(err)
	}
	for _, r := range truth.Reps {
		waysS = append(waysS, r.Bottom-r.Start)
	}
	return waysS
}
