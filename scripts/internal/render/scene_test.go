package render

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/scripts/internal/render/body"
	"holdfast/scripts/internal/render/motion"
	"holdfast/scripts/internal/render/space"
)

func newTestScene(t *testing.T, seed uint64, kind motion.Kind) *Scene {
	t.Helper()
	s, err := NewScene(seed, kind)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// shrunk makes the pictures of a scene so many lines high.
func shrunk(s *Scene, lines int) *Scene {
	c := &s.Camera
	by := float64(lines) / float64(c.Height)
	c.Width, c.Height, c.FocalPx = int(float64(c.Width)*by)&^1, lines, c.FocalPx*by
	return s
}

// mirrored returns the scene as a mirror shows it.
func mirrored(s Scene) *Scene {
	s.Camera.Near = 1 - s.Camera.Near
	s.Camera.RollDeg = -s.Camera.RollDeg
	s.Light.Toward.X = -s.Light.Toward.X
	m := &s.Performer.Manner
	m.YawDeg, m.ListDeg = -m.YawDeg, -m.ListDeg
	for _, sides := range []*[2]float64{&m.FootForwardM, &m.PitchScale, &m.KneeOutDeg, &m.ArmAbductionDeg} {
		sides[motion.Left], sides[motion.Right] = sides[motion.Right], sides[motion.Left]
	}
	return &s
}

// clipSeeds are the seeds that tests look at: a few with -short.
func clipSeeds() []uint64 {
	if testing.Short() {
		return []uint64{9}
	}
	return []uint64{1, 2, 9, 14, 1003, 1017}
}

func TestCurve(t *testing.T) {
	c := motion.Curve{Knots: []motion.Knot{{TimeS: 1, Value: 10}, {TimeS: 2, Value: 20}, {TimeS: 2, Value: 20},
		{TimeS: 4, Value: 0}}}
	for _, at := range []struct{ timeS, want float64 }{{0, 10}, {1, 10}, {1.5, 15}, {2, 20}, {3, 10}, {9, 0}} {
		if got := c.At(at.timeS); math.Abs(got-at.want) > 1e-12 {
			t.Errorf("at %g s %g, want %g", at.timeS, got, at.want)
		}
	}
	if v := (&motion.Curve{}).At(3); v != 0 {
		t.Errorf("a curve of nothing is %g", v)
	}
}

// The balls of the feet do not slide, and no shoe goes into the floor or leaves it.
func TestFeetOnTheFloor(t *testing.T) {
	for _, seed := range clipSeeds() {
		for _, kind := range []motion.Kind{motion.Slow, motion.Fast, motion.CalfRaise} {
			s := newTestScene(t, seed, kind)
			pieces := s.Body.Bendable()
			rest := s.Performer.At(0)
			for at := 0.0; at < s.Performer.Motion.DurationS; at += 0.273 {
				now := s.Performer.At(at)
				for _, side := range motion.BothSides {
					if b := now.Figure.Sides[side].Ball; !near(b, rest.Figure.Sides[side].Ball, 1e-6) {
						t.Fatalf("seed %d, %s, %.2f s: the %v ball slid to %.5f", seed, kind, at, side, b)
					}
				}
				body.Bend(pieces, now.Figure)
				lowest := math.Inf(1)
				for _, p := range pieces {
					if p.Of.Name == "shoes" {
						for _, v := range p.At {
							lowest = math.Min(lowest, float64(v[1]))
						}
					}
				}
				if lowest < -0.012 || lowest > 0.012 {
					t.Errorf("seed %d, %s, %.2f s: the lowest point of the shoes is at %.3f m", seed, kind, at, lowest)
				}
			}
		}
	}
}

// In the air the centre of mass falls with g; feet leave the floor and come back; nothing jumps at the ends of it.
func TestFlight(t *testing.T) {
	s := newTestScene(t, 4, motion.Jump)
	for _, r := range s.Performer.Motion.Reps {
		const step = 0.01
		for at := r.TakeoffS + 2*step; at < r.TouchdownS-2*step; at += 3 * step {
			a, b, c := s.Performer.At(at-step), s.Performer.At(at), s.Performer.At(at+step)
			if fall := (a.Mass.Y - 2*b.Mass.Y + c.Mass.Y) / step / step; math.Abs(fall+space.GravityMS2) > 1e-3 {
				t.Errorf("at %.2f s the mass is accelerated by %.4f m/s^2", at, fall)
			}
		}
		if middle := s.Performer.At((r.TakeoffS + r.TouchdownS) / 2); middle.ClearanceM < 0.05 {
			t.Errorf("in the middle of a flight of %.2f s the feet are %.3f m up", r.FlightS, middle.ClearanceM)
		}
		for _, end := range []float64{r.TakeoffS, r.TouchdownS} {
			before, after := s.Performer.At(end-1e-4), s.Performer.At(end+1e-4)
			if d := after.Mass.Sub(before.Mass).Length(); d > 2e-3 {
				t.Errorf("at %.3f s the mass jumps by %.5f m", end, d)
			}
			if math.Abs(before.ClearanceM-after.ClearanceM) > 4e-3 {
				t.Errorf("at %.3f s the feet jump from %.4f to %.4f m", end, before.ClearanceM, after.ClearanceM)
			}
		}
	}
}

// Heels come up as far as was ordered, to 45 degrees.
func TestHeelRise(t *testing.T) {
	s := newTestScene(t, 1, motion.CalfRaise)
	stand := motion.Stand{KneeDeg: 6, DorsiDeg: 4}
	s.Performer.Manner.PitchScale = [2]float64{1, 0.9}
	s.Performer.Motion = motion.CalfRaises(stand,
		[]motion.Squat{{HeelPitchDeg: 45, UpS: 0.5, HoldS: 0.3, DownS: 0.5, RestS: 0.4}}, 0.5)
	now := s.Performer.At(s.Performer.Motion.Reps[0].BottomS + 0.1)
	left, right := anglesOf(&now, motion.Left), anglesOf(&now, motion.Right)
	if math.Abs(left["foot_pitch"]-45) > 1e-9 || math.Abs(right["foot_pitch"]-40.5) > 1e-9 {
		t.Errorf("pitches of %.2f and %.2f, want 45 and 40.5", left["foot_pitch"], right["foot_pitch"])
	}
	rest := &s.Body.Skeleton.Sides[motion.Left]
	arm := rest.Heel.Sub(rest.Ball)
	if want, got := space.AboutX(45).Of(arm).Y-arm.Y, s.heelRiseM(&now, motion.Left); math.Abs(got-want) > 1e-9 {
		t.Errorf("the heel is %.4f m up, want %.4f", got, want)
	}
	if z, ball := now.Mass.Z, now.Figure.Sides[motion.Left].Ball.Z; z < ball-0.04 || z > ball+0.04 {
		t.Errorf("on the toes the mass is carried at %.3f m, the ball is at %.3f", z, ball)
	}
}

// Seen exactly from the side and from far away, the picture's angles are the athlete's.
func TestAnglesInThePicture(t *testing.T) {
	for _, seed := range clipSeeds() {
		s := newTestScene(t, seed, motion.Fast)
		c := &s.Camera
		c.YawDeg, c.PitchDeg, c.RollDeg, c.HeightM = 0, 0, 0, 0.9
		c.DistanceM, c.FocalPx = 2000, c.FocalPx*2000/c.DistanceM
		v := c.view()
		for at := 0.3; at < s.Performer.Motion.DurationS; at += 0.37 {
			now := s.Performer.At(at)
			truth, seen := anglesOf(&now, c.Near), s.inPicture(&now, &v)
			truth["foot_pitch"] = truth["shank_tilt"] - truth["ankle_dorsiflexion_heel_toe_line"]
			truth["ankle_dorsiflexion"] = truth["ankle_dorsiflexion_heel_toe_line"]
			for name, got := range seen {
				if math.Abs(got-truth[name]) > 0.05 {
					t.Errorf("seed %d, %.2f s: %s is %.3f, in the picture %.3f", seed, at, name, truth[name], got)
				}
			}
		}
	}
}

// A camera that looks askew shows the same points turned about the middle of the picture.
func TestCameraRoll(t *testing.T) {
	level := Camera{Width: 200, Height: 100, FocalPx: 300, Near: motion.Right, DistanceM: 3, HeightM: 1}
	turned := level
	turned.RollDeg = 90
	a, b := level.view(), turned.view()
	for _, p := range []space.Vec{{X: 0, Y: 1.2, Z: 0}, {X: 0.1, Y: 0.5, Z: 0.3}, {X: -0.2, Y: 1.1, Z: -0.4}} {
		x0, y0, _ := a.project(p)
		x1, y1, _ := b.project(p)
		if math.Abs(x1-100+y0-50) > 1e-9 || math.Abs(y1-50-(x0-100)) > 1e-9 { // what was right is below
			t.Errorf("%v is at %.2f, %.2f level and at %.2f, %.2f turned", p, x0, y0, x1, y1)
		}
	}
	if x, y, far := a.project(space.Vec{X: 0, Y: 1, Z: 0}); x != 100 || y != 50 || far != 3 {
		t.Errorf("the middle is at %g, %g, %g m away", x, y, far)
	}
	if x, _, _ := a.project(space.Vec{X: 0, Y: 1, Z: 0.5}); x <= 100 {
		t.Error("an athlete seen from the right does not face right")
	}
}

func TestMirror(t *testing.T) {
	for _, seed := range clipSeeds() {
		s := newTestScene(t, seed, motion.Fast)
		m := mirrored(*s)
		if s.Camera.Facing() == m.Camera.Facing() {
			t.Fatalf("a mirrored athlete still faces %s", m.Camera.Facing())
		}
		for _, at := range []float64{0, 1.2, 2.9} {
			a, b := s.frameAt(0, at), m.frameAt(0, at)
			for name, p := range a.Points {
				other := strings.Replace(name, "left_", "right_", 1)
				if other == name {
					other = strings.Replace(name, "right_", "left_", 1)
				}
				q := b.Points[other]
				if math.Abs(float64(s.Camera.Width)-p[0]-q[0]) > 0.021 || math.Abs(p[1]-q[1]) > 0.021 {
					t.Errorf("seed %d, %.1f s: %s at %v, mirrored %s at %v", seed, at, name, p, other, q)
				}
			}
			for name, v := range a.Angles {
				if math.Abs(v-b.Angles[name]) > 2e-3 {
					t.Errorf("seed %d, %.1f s: %s %.3f, mirrored %.3f", seed, at, name, v, b.Angles[name])
				}
			}
		}
	}
}

func TestSameSeedSameFrames(t *testing.T) {
	frames := func() [][]byte {
		s := shrunk(newTestScene(t, 5, motion.Fast), 120)
		p := newPainter(s)
		var out [][]byte
		for i, at := range []float64{0, 1, 1.1} {
			f := p.at(i, at)
			out = append(out, slices.Concat(f.Y, f.Cb, f.Cr))
		}
		return out
	}
	a, b := frames(), frames()
	for i := range a {
		if !bytes.Equal(a[i], b[i]) {
			t.Errorf("frame %d differs between two runs", i)
		}
	}
	if bytes.Equal(a[0], a[1]) || bytes.Equal(a[1], a[2]) {
		t.Error("frames of a movement are all the same")
	}
}

// A frame does not remember the one before it: what was drawn is taken away again.
func TestFramesAreIndependent(t *testing.T) {
	s := shrunk(newTestScene(t, 2, motion.Fast), 120)
	fresh, used := newPainter(s), newPainter(s)
	used.at(0, 0.1)
	used.at(1, 1.1)
	a, b := fresh.at(7, 2.0), used.at(7, 2.0)
	if !bytes.Equal(a.Y, b.Y) || !bytes.Equal(a.Cb, b.Cb) || !bytes.Equal(a.Cr, b.Cr) {
		t.Error("a frame differs when others were drawn before it")
	}
}

// The truth's joints lie on the athlete: where they are, the picture differs from the room.
func TestJointsOnTheAthlete(t *testing.T) {
	for _, seed := range clipSeeds() {
		s := newTestScene(t, seed, motion.Slow)
		s.Picture.Noise = 0
		p := newPainter(s)
		p.at(0, 2)
		near := s.Camera.Near.String()
		f := s.frameAt(0, 2)
		for _, joint := range []string{"hip", "knee", "ankle", "shoulder", "elbow", "heel", "big_toe"} {
			at := f.Points[near+"_"+joint]
			if cover := p.layer.pixels[int(at[1])*s.Camera.Width+int(at[0])][3]; cover < 0.5 {
				t.Errorf("seed %d: the %s at %.0f covers %.2f of its pixel", seed, joint, at, cover)
			}
		}
	}
}

func TestSeeds(t *testing.T) {
	calibrate, err := Seeds("calibrate")
	if err != nil {
		t.Fatal(err)
	}
	check, err := Seeds("check")
	if err != nil {
		t.Fatal(err)
	}
	ends := []uint64{calibrate[0], calibrate[29], check[0], check[29]}
	if len(calibrate) != 30 || len(check) != 30 || !slices.Equal(ends, []uint64{1, 30, 1001, 1030}) {
		t.Errorf("sets %v and %v", calibrate, check)
	}
	if _, err := Seeds("train"); err == nil {
		t.Error("a set that is not there has seeds")
	}
	if _, err := NewScene(1, "handstand"); err == nil {
		t.Error("a movement that is not there was made")
	}
	if _, err := body.Dress(body.Build{}, body.Clothes{Suit: "none"}); err == nil {
		t.Error("a body without clothes was dressed")
	}
}

// What is drawn stays within what a phone films, for every seed of both sets; with -short for some.
func TestScenesArePlausible(t *testing.T) {
	pitches, yaws := []float64{}, []float64{}
	for _, set := range []string{"calibrate", "check"} {
		seeds, err := Seeds(set)
		if err != nil {
			t.Fatal(err)
		}
		for i, seed := range seeds {
			if testing.Short() && i%10 != 3 {
				continue
			}
			var slow *Scene
			for _, kind := range []motion.Kind{motion.Slow, motion.Fast} {
				s := newTestScene(t, seed, kind)
				m, c := s.Performer.Motion, &s.Camera
				if len(m.Reps) != 3 || m.DurationS < 5.5 || m.DurationS > 10 {
					t.Errorf("seed %d, %s: %d reps in %.2f s", seed, kind, len(m.Reps), m.DurationS)
				}
				lines, even := min(c.Width, c.Height), c.Width%2+c.Height%2 == 0
				if lines < 360 || lines > 540 || !even || s.RateHz < 24 || s.RateHz > 120 {
					t.Errorf("seed %d: %d x %d at %d a second", seed, c.Width, c.Height, s.RateHz)
				}
				if s.Build.HeightM < 1.5 || s.Build.HeightM > 2 || math.Abs(c.YawDeg) > 12 || !s.inside() {
					t.Errorf("seed %d: %.2f m high, yaw %.1f, inside the picture: %v", seed, s.Build.HeightM, c.YawDeg, s.inside())
				}
				for _, r := range m.Reps {
					now := s.Performer.At((r.BottomS + r.UpStartS) / 2)
					a := anglesOf(&now, c.Near)
					if a["knee_flexion"] < 55 || a["knee_flexion"] > 135 || a["trunk_lean"] > 70 || a["trunk_lean"] < -10 ||
						a["foot_pitch"] < 0 || a["foot_pitch"] > 51 || a["ankle_dorsiflexion"] > 42 || a["shank_tilt"] > 65 {
						t.Errorf("seed %d, %s: at the bottom %v", seed, kind, a)
					}
					pitches = append(pitches, a["foot_pitch"])
				}
				yaws = append(yaws, c.YawDeg)
				if kind == motion.Slow {
					slow = s
				} else if slow.Camera != s.Camera || slow.Build != s.Build {
					t.Errorf("seed %d: slow and fast were filmed by two cameras or are two athletes", seed)
				}
			}
		}
	}
	if !testing.Short() && (slices.Max(pitches) < 40 || slices.Min(yaws) > -10 || slices.Max(yaws) < 10) {
		t.Errorf("heels up to %.1f, yaw from %.1f to %.1f: the sets leave out a part",
			slices.Max(pitches), slices.Min(yaws), slices.Max(yaws))
	}
}

// The document has every field that the shipped clips' truth has.
func TestTruthHasTheFieldsOfTheShippedClips(t *testing.T) {
	for _, c := range []struct {
		shipped string
		kind    motion.Kind
	}{{"slow", motion.Slow}, {"jump", motion.Jump}} {
		data, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "clips", c.shipped+".json"))
		if err != nil {
			t.Fatal(err)
		}
		s := newTestScene(t, 6, c.kind)
		ours, err := json.Marshal(s.Truth("clip.mp4"))
		if err != nil {
			t.Fatal(err)
		}
		var want, got map[string]any
		if err := json.Unmarshal(data, &want); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(ours, &got); err != nil {
			t.Fatal(err)
		}
		delete(want, "expected_peak_per_rep_note")
		compareFields(t, c.shipped, want, got)
	}
}

func compareFields(t *testing.T, path string, want, got any) {
	t.Helper()
	switch w := want.(type) {
	case map[string]any:
		g, ok := got.(map[string]any)
		if !ok {
			t.Errorf("%s is no object", path)
			return
		}
		for name, v := range w {
			if g[name] == nil {
				t.Errorf("%s has no %s", path, name)
				continue
			}
			compareFields(t, path+"."+name, v, g[name])
		}
	case []any:
		if g, ok := got.([]any); !ok || len(g) == 0 {
			t.Errorf("%s is no list", path)
		} else if len(w) > 0 {
			compareFields(t, path+"[0]", w[0], g[0])
		}
	}
}

func TestWriteClip(t *testing.T) {
	s := shrunk(newTestScene(t, 8, motion.Fast), 120)
	s.RateHz = 4
	dir := t.TempDir()
	if err := s.WriteClip(context.Background(), dir, "clip"); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil || len(files) != 2 {
		t.Fatalf("%v, %v: want a clip and its truth alone", files, err)
	}
	for _, f := range files {
		if info, err := os.Stat(f); err != nil || info.Size() < 1000 {
			t.Errorf("%s: %v, %v", f, info, err)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if err := s.WriteClip(ctx, dir, "other"); err == nil {
		t.Error("a clip was written after the end was called for")
	}
	err = s.WriteClip(context.Background(), filepath.Join(dir, "nowhere"), "clip")
	if err == nil || !strings.Contains(err.Error(), "clip") {
		t.Errorf("a clip for a folder that is not there: %v", err)
	}
}

// What an athlete usually does lies about the repetitions of the clip; movements without a peak to speak of have none.
func TestUsualROM(t *testing.T) {
	for _, seed := range clipSeeds()[:1] {
		s := newTestScene(t, seed, motion.Fast)
		usual := s.usualROM()
		standing := s.Performer.At(0)
		rest := anglesOf(&standing, s.Camera.Near)
		for name, within := range map[string]float64{"knee_flexion": 5, "ankle_dorsiflexion": 4, "shank_tilt": 5} {
			for i := range s.Performer.Motion.Reps {
				r := &s.Performer.Motion.Reps[i]
				if rom := s.peaks(r.StartS, r.EndS)[name].Peak - rest[name]; math.Abs(rom-usual[name]) > within {
					t.Errorf("seed %d, rep %d: %s %.1f, usually %.1f", seed, i+1, name, rom, usual[name])
				}
			}
		}
	}
	if usual := newTestScene(t, 9, motion.CalfRaise).usualROM(); usual != nil {
		t.Errorf("calf raises usually have %v", usual)
	}
}
