package screening

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/events"
	"holdfast/kinematics/trace"
	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// rendered is a clip whose truth is known, as a network would show it: the true
// points with a wandering noise of 1.5 pixels.
type rendered struct {
	info  ClipInfo
	track *pose.Track
	truth []map[string][2]float64 // by frame, names as left_hip
	near  string
}

// loadRendered makes a track of the truth of a clip, no network asked.
func loadRendered(t testing.TB, name string, noisePx float64) *rendered {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "testdata", "clips", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var c struct {
		Width, Height int
		FPS           float64
		Near          string `json:"near_side"`
		Frames        []struct {
			T      float64
			Points map[string][2]float64
		}
	}
	if err := json.Unmarshal(b, &c); err != nil {
		t.Fatal(err)
	}
	r := &rendered{near: c.Near, track: &pose.Track{
		ModelName: "heavy", ModelSHA256: heavySHA256(t), CameraKnown: true, PeopleSeen: 1,
		RollDeg: math.NaN(), RollSDDeg: math.NaN(),
	}}
	var from []string
	for _, side := range []string{"left", "right"} {
		for _, p := range []string{"ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "foot_index"} {
			r.track.KeypointNames = append(r.track.KeypointNames, side+"_"+p)
			from = append(from, side+"_"+map[string]string{"ear": "shoulder", "foot_index": "big_toe"}[p])
			if k := len(from) - 1; strings.HasSuffix(from[k], "_") {
				from[k] += p
			}
		}
	}
	rng := rand.New(rand.NewPCG(1, 7))
	wander := make([][2]float64, len(from))
	for i, f := range c.Frames {
		seen := pose.Pose{Index: i, TimeS: f.T, Found: true, Score: 1}
		for k, n := range from {
			at := f.Points[n]
			if strings.HasSuffix(r.track.KeypointNames[k], "ear") {
				at[1] -= 80
			}
			for d := range 2 {
				wander[k][d] = 0.7*wander[k][d] + math.Sqrt(1-0.49)*noisePx*rng.NormFloat64()
				at[d] += wander[k][d]
			}
			depth, sure := 30.0, 0.6
			if strings.HasPrefix(n, c.Near) {
				depth, sure = -30, 0.9
			}
			seen.Keypoints = append(seen.Keypoints, pose.Keypoint{X: at[0], Y: at[1], Z: depth,
				Visibility: sure, Presence: 1, SDPx: 12})
		}
		r.track.Poses = append(r.track.Poses, seen)
		r.truth = append(r.truth, f.Points)
	}
	r.info = ClipInfo{
		Name: name + ".mp4", Frames: len(c.Frames), DurationS: float64(len(c.Frames)) / c.FPS,
		WidthPx: c.Width, HeightPx: c.Height,
		FrameRateHz: c.FPS, CaptureRateHz: c.FPS, SlowMotionFactor: 1,
	}
	return r
}

// until returns the first frames of it.
func (r *rendered) until(frames int) *rendered {
	out, track := *r, *r.track
	track.Poses = track.Poses[:frames]
	out.track, out.info.Frames, out.info.DurationS = &track, frames, float64(frames)/r.info.FrameRateHz
	return &out
}

// oneRep is a fast squat of three seconds.
func oneRep(t testing.TB) *rendered { return loadRendered(t, "fast_30", 1.5).until(100) }

// spoiled returns the track with one point of the near side put elsewhere in some
// frames.
func (r *rendered) spoiled(point string, from, to int, dx, dy float64) *pose.Track {
	t := *r.track
	t.Poses = append([]pose.Pose(nil), r.track.Poses...)
	k := t.KeypointIndex(r.near + "_" + strings.Replace(point, "toe", "foot_index", 1))
	for i := from; i <= to; i++ {
		p := append([]pose.Keypoint(nil), t.Poses[i].Keypoints...)
		p[k].X, p[k].Y = p[k].X+dx, p[k].Y+dy
		t.Poses[i].Keypoints = p
	}
	return &t
}

func (r *rendered) measure(t testing.TB, track *pose.Track, opt Options) *Analysis {
	t.Helper()
	a, err := MeasureAgain(r.info, track, opt)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func asJSON(t testing.TB, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// at returns a smoothed point of the near side at the sample nearest to a time.
func (a *Analysis) at(point string, timeS float64) (x, y float64) {
	i := int(math.Round((timeS - a.Series.TimeS[0]) * a.Series.RateHz))
	p := a.Series.PointsPx[point]
	return p.X[i], p.Y[i]
}

// apart returns the largest distance between the points of two analyses of a clip,
// pixels, and between their knee, hip and ankle angles, degrees.
func apart(a, b *Analysis) (px, deg float64) {
	for name, p := range a.Series.PointsPx {
		q := b.Series.PointsPx[name]
		for i := range p.X {
			px = math.Max(px, math.Hypot(p.X[i]-q.X[i], p.Y[i]-q.Y[i]))
		}
	}
	x, y := &a.Series.AnglesDeg, &b.Series.AnglesDeg
	for _, j := range body.LegJoints {
		for i := range x[j.Angle()] {
			deg = math.Max(deg, math.Abs(x[j.Angle()][i]-y[j.Angle()][i]))
		}
	}
	return px, deg
}

var smoothers = []body.Smoother{body.SmootherBody, body.SmootherFilter}

// Nothing corrected is nothing changed, to the last bit, and a stored result
// measured again is the same result.
func TestNoCorrectionChangesNothing(t *testing.T) {
	r := loadRendered(t, "fast_30", 1.5)
	clip := &media.Clip{Path: "fast_30.mp4", WidthPx: r.info.WidthPx, HeightPx: r.info.HeightPx,
		DurationS: r.info.DurationS, FrameRateHz: 30}
	for _, s := range smoothers {
		first, err := Measure(clip, r.track, Options{Smoother: s})
		if err != nil {
			t.Fatal(err)
		}
		first.Clip.SHA256 = "ab12"
		want := asJSON(t, first)
		var stored Analysis
		if err := json.Unmarshal(want, &stored); err != nil {
			t.Fatal(err)
		}
		for _, c := range []*Corrections{nil, {}} {
			again, err := MeasureAgain(stored.Clip, r.track, Options{Smoother: s, Corrections: c})
			if err != nil {
				t.Fatal(err)
			}
			if again.Corrections != nil {
				t.Error("an empty correction is kept")
			}
			if !bytes.Equal(asJSON(t, again), want) {
				t.Errorf("%v: measured again with %+v it is not the same", s, c)
			}
		}
	}
}

// A point ends where the coach put it, whichever point, whichever phase; and the
// network's own angles stay as they were.
func TestPointsEndWhereTheyWerePut(t *testing.T) {
	r := oneRep(t)
	for _, s := range smoothers {
		before := r.measure(t, r.track, Options{Smoother: s})
		rep := before.Reps[0]
		for k, point := range []string{"ear", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe"} {
			when := []float64{0.3, rep.BottomS, (rep.StartS + rep.BottomS) / 2}[k%3]
			frame := int(math.Round(when * 30))
			x, y := before.at(point, when)
			x, y = x+15, y-10
			c := &Corrections{Points: []PointCorrection{
				{Frame: frame, Point: point, Side: "near", XPx: 1, YPx: 1}, // the later word counts
				{Frame: frame, Point: point, Side: r.near, XPx: x, YPx: y},
			}}
			after := r.measure(t, r.track, Options{Smoother: s, Corrections: c})
			gx, gy := after.at(point, when)
			if d := math.Hypot(gx-x, gy-y); d > 2 {
				t.Errorf("%v: the %s ends %.1f pixels from where it was put", s, point, d)
			}
			if !bytes.Equal(asJSON(t, before.Series.RawAnglesDeg), asJSON(t, after.Series.RawAnglesDeg)) {
				t.Errorf("%v: correcting the %s changed the network's own angles", s, point)
			}
			for i, touched := range after.Series.Corrected {
				near := math.Abs(after.Series.TimeS[i]-when) < 0.15-0.5/30
				far := math.Abs(after.Series.TimeS[i]-when) > 0.15
				if touched && far || i == frame && !touched {
					t.Errorf("%v: %s: sample %d marked %v (near %v)", s, point, i, touched, near)
				}
			}
			if after.Corrections == nil || len(after.Corrections.Points) != 2 {
				t.Error("the result does not carry its corrections")
			}
		}
	}
}

// Putting a point where it is already changes next to nothing: less than the
// points' own noise.
func TestCorrectingToWhereItIs(t *testing.T) {
	r := oneRep(t)
	points := []string{"shoulder", "hip", "knee", "ankle", "heel", "toe", "wrist"}
	for _, s := range smoothers {
		before := r.measure(t, r.track, Options{Smoother: s})
		for k, frame := range []int{8, 20, 27, 33, 60, 81, 90} {
			point := points[k]
			x, y := before.at(point, float64(frame)/30)
			c := &Corrections{Points: []PointCorrection{{Frame: frame, Point: point, Side: "near", XPx: x, YPx: y}}}
			px, deg := apart(before, r.measure(t, r.track, Options{Smoother: s, Corrections: c}))
			t.Logf("%v: %s of frame %d: %.2f pixels, %.2f degrees", s, point, frame, px, deg)
			if px > 3 || deg > 2 {
				t.Errorf("%v: %s of frame %d put where it was moves something by %.1f pixels, %.1f degrees",
					s, point, frame, px, deg)
			}
		}
	}
}

// A network that is off by 40 pixels for three frames is put right with one drag,
// and the frames beside the mistake, which were right, stay so.
func TestOneDragMendsAMistake(t *testing.T) {
	r := oneRep(t)
	for _, s := range smoothers {
		good := r.measure(t, r.track, Options{Smoother: s})
		for k, point := range []string{"knee", "ankle", "hip"} {
			for _, frame := range []int{15, 33, 60}[k/2:] {
				bad := r.spoiled(point, frame-1, frame+1, 32, 24)
				was, wasDeg := apart(good, r.measure(t, bad, Options{Smoother: s}))
				true_ := r.truth[frame][r.near+"_"+point]
				c := &Corrections{Points: []PointCorrection{{Frame: frame, Point: point, Side: "near",
					XPx: true_[0], YPx: true_[1]}}}
				now, nowDeg := apart(good, r.measure(t, bad, Options{Smoother: s, Corrections: c}))
				t.Logf("%v: %s of frame %d: %.1f pixels, %.1f degrees; corrected %.1f pixels, %.1f degrees", s, point, frame,
					was, wasDeg, now, nowDeg)
				if now > 8 || nowDeg > 5 {
					t.Errorf("%v: %s of frame %d is still off by %.1f pixels, %.1f degrees", s, point, frame, now, nowDeg)
				}
			}
		}
	}
}

// Two corrections of a point mend the frames between them.
func TestTwoDragsMendWhatLiesBetween(t *testing.T) {
	r := loadRendered(t, "slow_30", 1.5)
	for _, s := range smoothers {
		good := r.measure(t, r.track, Options{Smoother: s})
		// The knee drifts 25 pixels away for 0.4 s of a slow descent.
		bad := r.spoiled("knee", 44, 56, 25, 0)
		fix := func(frames ...int) float64 {
			c := &Corrections{}
			for _, f := range frames {
				p := r.truth[f][r.near+"_knee"]
				c.Points = append(c.Points, PointCorrection{Frame: f, Point: "knee", Side: "near", XPx: p[0], YPx: p[1]})
			}
			px, _ := apart(good, r.measure(t, bad, Options{Smoother: s, Corrections: c}))
			return px
		}
		if two := fix(44, 56); two > 6 {
			t.Errorf("%v: two corrections leave %.1f pixels", s, two)
		}
	}
}

// With a moving camera a correction is a place of its own frame's picture.
func TestCorrectionWithMovingCamera(t *testing.T) {
	r := loadRendered(t, "fast_30", 0.5)
	still := r.measure(t, r.track, Options{Smoother: body.SmootherFilter})
	moved := *r.track
	moved.CameraMoved = true
	moved.Poses = append([]pose.Pose(nil), r.track.Poses...)
	for i := range moved.Poses {
		p := &moved.Poses[i]
		p.Camera = plane.Similarity{Scale: 1, DXPx: 0.5 * float64(i), DYPx: 3, Known: true}
		p.Keypoints = append([]pose.Keypoint(nil), p.Keypoints...)
		for k := range p.Keypoints {
			p.Keypoints[k].X -= 0.5 * float64(i)
			p.Keypoints[k].Y -= 3
		}
	}
	const frame = 33
	x, y := still.at("knee", frame/30.0)
	correct := func() *Analysis {
		c := &Corrections{Points: []PointCorrection{{Frame: frame, Point: "knee", Side: "near",
			XPx: x + 20 - 0.5*frame, YPx: y - 3}}}
		return r.measure(t, &moved, Options{Smoother: body.SmootherFilter, Corrections: c})
	}
	check := func(a *Analysis) {
		t.Helper()
		if gx, gy := a.at("knee", frame/30.0); math.Hypot(gx-x-20, gy-y) > 2 {
			t.Errorf("the knee lies at %.1f, %.1f, put at %.1f, %.1f of the first picture", gx, gy, x+20, y)
		}
	}
	check(correct())
	// Where the camera's place is not known, it is taken from the frames beside it;
	// where those are unknown as well, the reader is told.
	for i := frame - 2; i <= frame+2; i++ {
		moved.Poses[i].Camera = plane.Similarity{}
	}
	check(correct())
	for i := frame - 15; i <= frame+15; i++ {
		moved.Poses[i].Camera = plane.Similarity{}
	}
	if codes := fmt.Sprint(correct().Warnings); !strings.Contains(codes, "correction_not_placed") {
		t.Errorf("no word of a correction that could not be placed: %s", codes)
	}
}

func ptr(x float64) *float64 { return &x }

func TestRepCorrections(t *testing.T) {
	r := loadRendered(t, "fast_30", 1.5)
	before := r.measure(t, r.track, Options{})
	if len(before.Reps) != 3 {
		t.Fatalf("%d reps", len(before.Reps))
	}
	first, second := before.Reps[0], before.Reps[1]
	at := second.BottomS
	tests := []struct {
		name  string
		fix   correct.RepChange
		want  string // of an error
		check func(t *testing.T, r kinematics.Rep, a *Analysis)
	}{
		{"tempo", correct.RepChange{AtS: at, Tempo: "slow"}, "", func(t *testing.T, r kinematics.Rep, a *Analysis) {
			if r.Tempo != "slow" || !r.TempoGiven || a.Reps[0].Tempo != "fast" {
				t.Errorf("tempo %s (given: %v), the rep before %s", r.Tempo, r.TempoGiven, a.Reps[0].Tempo)
			}
		}},
		{"left out", correct.RepChange{AtS: at, LeftOut: true}, "", func(t *testing.T, r kinematics.Rep, a *Analysis) {
			if !r.Partial || r.PartialWhy.Code != events.LeftOut || r.Tempo != "fast" || len(a.Reps) != 3 {
				t.Errorf("%d reps, partial %v %v, tempo %s", len(a.Reps), r.Partial, r.PartialWhy, r.Tempo)
			}
			if a.Sets[0].Reps != 2 {
				t.Errorf("the set counts %d reps", a.Sets[0].Reps)
			}
			for _, w := range a.Warnings {
				if strings.Contains(Say(w), "not whole") {
					t.Errorf("warned of %q", Say(w))
				}
			}
		}},
		{"start", correct.RepChange{AtS: at, StartS: ptr(second.StartS - 0.2)}, "",
			func(t *testing.T, r kinematics.Rep, a *Analysis) {
				if d := r.DescentS - second.DescentS; math.Abs(d-0.2) > 1e-3 {
					t.Errorf("the descent grew by %.3f s, want 0.2", d)
				}
				if r.Phases[0].Name != "descent" || r.Phases[0].StartS != r.StartS || r.Loaded[0].FromS != r.StartS {
					t.Errorf("phases %v, loaded %v", r.Phases, r.Loaded)
				}
			}},
		{"bottom", correct.RepChange{AtS: at, BottomS: ptr(at - 0.2)}, "", func(t *testing.T, r kinematics.Rep, a *Analysis) {
			if math.Abs(r.BottomS-at+0.2) > 1e-3 ||
				r.Angles[body.KneeFlexion].AtBottomDeg > second.Angles[body.KneeFlexion].AtBottomDeg-5 {
				t.Errorf("bottom at %.2f s, knee %.1f, before %.1f", r.BottomS, r.Angles[body.KneeFlexion].AtBottomDeg,
					second.Angles[body.KneeFlexion].AtBottomDeg)
			}
			if !(r.Depth < second.Depth) {
				t.Errorf("depth %.3f, before %.3f", r.Depth, second.Depth)
			}
		}},
		{"end", correct.RepChange{AtS: at, EndS: ptr(second.EndS + 0.3)}, "",
			func(t *testing.T, r kinematics.Rep, a *Analysis) {
				if d := r.AscentS - second.AscentS; math.Abs(d-0.3) > 1e-3 {
					t.Errorf("the ascent grew by %.3f s, want 0.3", d)
				}
			}},
		{"no rep there", correct.RepChange{AtS: 0.05, Tempo: "slow"}, "no rep at 0.05 s", nil},
		{"start after the bottom found", correct.RepChange{AtS: at, StartS: ptr(at + 0.01)},
			"must come before its bottom", nil},
		{"end before the bottom found", correct.RepChange{AtS: at, EndS: ptr(at - 0.01)}, "must come before its end", nil},
		{"into the rep before", correct.RepChange{AtS: at, StartS: ptr(first.BottomS)}, "rep 1 would end", nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a, err := MeasureAgain(r.info, r.track, Options{Corrections: &Corrections{Reps: []correct.RepChange{tt.fix}}})
			if tt.want != "" {
				if !errors.Is(err, ErrBadCorrection) || !strings.Contains(err.Error(), tt.want) ||
					strings.Contains(err.Error(), "\n") {
					t.Fatalf("got %v, want %q", err, tt.want)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			tt.check(t, a.Reps[1], a)
			if a.Reps[0].StartS != first.StartS {
				t.Errorf("the rep before starts at %.3f s, was %.3f", a.Reps[0].StartS, first.StartS)
			}
		})
	}
}

// A rep that was left out stays the one left out when the rate of filming turns out to
// be another, and the file's own rate comes back when the coach takes theirs away.
func TestRateOfFilmingMovesCorrections(t *testing.T) {
	r := loadRendered(t, "fast_30", 1.5)
	nan := math.NaN()
	for _, tt := range []struct {
		name string
		file float64 // what the file says of its rate
		back float64
	}{{"the file says nothing", nan, 1}, {"the file says twice", r.info.FrameRateHz * 2, 2}} {
		info := r.info
		info.FileCaptureRateHz = tt.file
		found, err := MeasureAgain(info, r.track, Options{})
		if err != nil {
			t.Fatal(err)
		}
		out := &Corrections{SlowMotionFactor: found.Clip.SlowMotionFactor,
			Reps: []correct.RepChange{{AtS: found.Reps[1].BottomS, LeftOut: true}}}
		for _, fps := range []float64{60, 120, 0} {
			a, err := MeasureAgain(found.Clip, r.track, Options{CaptureFPS: fps, Corrections: out})
			if err != nil {
				t.Fatalf("%s, filmed at %v: %v", tt.name, fps, err)
			}
			var gone []int
			for _, rep := range a.Reps {
				if rep.Partial {
					gone = append(gone, rep.Number)
				}
			}
			if len(gone) != 1 || gone[0] != 2 {
				t.Errorf("%s, filmed at %v: reps %v are left out, want the second", tt.name, fps, gone)
			}
			if want := tt.back; fps == 0 && math.Abs(a.Clip.SlowMotionFactor-want) > 1e-9 {
				t.Errorf("%s: the factor is %v after the given rate was taken away, want %v", tt.name,
					a.Clip.SlowMotionFactor, want)
			}
			found = a
		}
	}
}

func TestJumpRepCorrections(t *testing.T) {
	r := loadRendered(t, "jump_30", 1.5)
	rep := r.measure(t, r.track, Options{}).Reps[0]
	if !(rep.FlightS > 0) {
		t.Fatal("no flight")
	}
	change := func(c correct.RepChange) (*Analysis, error) {
		c.AtS = rep.TakeoffS
		return MeasureAgain(r.info, r.track, Options{Corrections: &Corrections{Reps: []correct.RepChange{c}}})
	}
	if _, err := change(correct.RepChange{BottomS: ptr(rep.ContactS + 0.05)}); !errors.Is(err, ErrBadCorrection) ||
		!strings.Contains(err.Error(), "take-off") {
		t.Errorf("a bottom after the take-off: %v", err)
	}
	if _, err := change(correct.RepChange{EndS: ptr(rep.ContactS + 0.01)}); !errors.Is(err, ErrBadCorrection) ||
		!strings.Contains(err.Error(), "landing") {
		t.Errorf("an end before the landing's bottom: %v", err)
	}
	a, err := change(correct.RepChange{StartS: ptr(rep.StartS - 0.1), EndS: ptr(rep.EndS - 0.01), Tempo: "fast"})
	if err != nil {
		t.Fatal(err)
	}
	got := a.Reps[0]
	if got.Tempo != "fast" || math.Abs((got.DescentS-rep.DescentS)-0.1) > 1e-3 || got.TakeoffS != rep.TakeoffS ||
		got.FlightS != rep.FlightS {
		t.Errorf("got %+v", got)
	}
}

// The vertical, the floor and the facing.
func TestViewCorrections(t *testing.T) {
	r := loadRendered(t, "fast_30", 1.5)
	before := r.measure(t, r.track, Options{})
	lean := func(a *Analysis) float64 { return a.Reps[0].Angles[body.TrunkLean].MaxDeg }
	stand := func(a *Analysis) float64 { return a.Series.StandOffsetsDeg[body.TrunkLean] }
	heel := r.truth[0][r.near+"_heel"]
	line := func(dyPx, deg float64) *correct.Floor {
		dy := 400 * math.Tan(deg*math.Pi/180) / 2
		return &correct.Floor{X1: heel[0] - 200, Y1: heel[1] + dyPx - dy, X2: heel[0] + 200, Y2: heel[1] + dyPx + dy}
	}
	given := -1.0
	for _, tt := range []struct {
		name  string
		fix   Corrections
		opt   Options
		roll  float64
		heels float64 // by how many per cent of the foot the heels rise more than before
	}{
		{"vertical", Corrections{VerticalDeg: ptr(3)}, Options{VerticalDeg: &given}, 3, 0},
		{"a floor where the feet stand", Corrections{Floor: line(15, 0)}, Options{}, 0, 0},
		{"a floor drawn from the right to the left",
			Corrections{Floor: &correct.Floor{X1: heel[0] + 200, Y1: heel[1] + 15, X2: heel[0] - 200, Y2: heel[1] + 15}},
			Options{}, 0, 0},
		{"a sloping floor tells the vertical", Corrections{Floor: line(15, 4)}, Options{}, 4, 0},
		{"a known vertical is kept", Corrections{Floor: line(15, 4)}, Options{VerticalDeg: &given}, -1, 0},
		{"the heels never come down", Corrections{Floor: line(50, 0)}, Options{}, 0, 50},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tt.opt.Corrections = &tt.fix
			a := r.measure(t, r.track, tt.opt)
			if math.Abs(a.View.RollDeg-tt.roll) > 0.01 || a.View.RollSource != trace.RollGiven {
				t.Errorf("turned by %.2f (%s), want %.2f", a.View.RollDeg, a.View.RollSource, tt.roll)
			}
			// The lean in standing is off by the turn, the lean against standing is not.
			if d := stand(a) - stand(before); math.Abs(math.Abs(d)-math.Abs(tt.roll)) > 0.2 {
				t.Errorf("standing leans by %.2f more, want %.2f", d, tt.roll)
			}
			if d := lean(a) - lean(before); math.Abs(d) > 0.5 {
				t.Errorf("the trunk leans by %.2f more at most", d)
			}
			var more float64
			for i, h := range a.Series.HeelRisePctFoot {
				more = math.Max(more, h-before.Series.HeelRisePctFoot[i])
			}
			if more > tt.heels+3 || more < tt.heels-12 {
				t.Errorf("the heels rise by %.1f %% of the foot more, want about %.0f", more, tt.heels)
			}
		})
	}
	a := r.measure(t, r.track, Options{Corrections: &Corrections{Facing: "left"}})
	if a.Facing != "left" || before.Facing != "right" {
		t.Errorf("faces %s, before %s", a.Facing, before.Facing)
	}
}

func TestBadCorrections(t *testing.T) {
	info := ClipInfo{WidthPx: 1280, HeightPx: 720, DurationS: 8, FrameRateHz: 30, SlowMotionFactor: 2}
	point := PointCorrection{Frame: 3, Point: "knee", Side: "near", XPx: 640, YPx: 360}
	with := func(change func(p *PointCorrection)) Corrections {
		p := point
		change(&p)
		return Corrections{Points: []PointCorrection{p}}
	}
	rep := func(r correct.RepChange) Corrections { return Corrections{Reps: []correct.RepChange{r}} }
	nan, inf := math.NaN(), math.Inf(1)
	for _, tt := range []struct {
		name string
		c    Corrections
		want string
	}{
		{"fine", Corrections{Points: []PointCorrection{point},
			Reps: []correct.RepChange{{AtS: 3.9, StartS: ptr(1), BottomS: ptr(2), EndS: ptr(3)}}, Facing: "left"}, ""},
		{"frame before the clip", with(func(p *PointCorrection) { p.Frame = -1 }), "frame -1"},
		{"frame after the clip", with(func(p *PointCorrection) { p.Frame = 240 }), "frame 240"},
		{"no such point", with(func(p *PointCorrection) { p.Point = "tail" }), "no point"},
		{"no such side", with(func(p *PointCorrection) { p.Side = "upper" }), "no point"},
		{"long name", with(func(p *PointCorrection) { p.Point = strings.Repeat("x", 1e6) }), "no point"},
		{"not a number", with(func(p *PointCorrection) { p.XPx = nan }), "outside of the picture"},
		{"endless", with(func(p *PointCorrection) { p.YPx = -inf }), "outside of the picture"},
		{"beside the picture", with(func(p *PointCorrection) { p.XPx = 1400 }), "outside of the picture"},
		{"very many", Corrections{Points: make([]PointCorrection, 30000)}, "more than"},
		{"very many reps", Corrections{Reps: make([]correct.RepChange, 3000)}, "more than"},
		{"tempo", rep(correct.RepChange{AtS: 1, Tempo: "brisk"}), "no tempo"},
		{"after the clip", rep(correct.RepChange{AtS: 4.1}), "outside of the clip"}, // 8 s at half speed
		{"time not a number", rep(correct.RepChange{AtS: nan}), "outside of the clip"},
		{"start endless", rep(correct.RepChange{AtS: 1, StartS: ptr(-inf)}), "outside of the clip"},
		{"start after end", rep(correct.RepChange{AtS: 1, StartS: ptr(2), EndS: ptr(1)}), "start before"},
		{"start at bottom", rep(correct.RepChange{AtS: 1, StartS: ptr(2), BottomS: ptr(2)}), "start before"},
		{"vertical", Corrections{VerticalDeg: ptr(80)}, "turned by 45"},
		{"vertical not a number", Corrections{VerticalDeg: &nan}, "turned by 45"},
		{"steep floor", Corrections{Floor: &correct.Floor{X1: 100, Y1: 100, X2: 200, Y2: 200}}, "slopes"},
		{"upright floor", Corrections{Floor: &correct.Floor{X1: 100, Y1: 100, X2: 100, Y2: 500}}, "slopes"},
		{"short floor", Corrections{Floor: &correct.Floor{X1: 100, Y1: 100, X2: 110, Y2: 100}}, "too short"},
		{"floor elsewhere", Corrections{Floor: &correct.Floor{X1: 100, Y1: nan, X2: 400, Y2: 100}}, "inside the picture"},
		{"facing", Corrections{Facing: "up"}, "faces left or right"},
	} {
		err := tt.c.Validate(info, 240)
		if tt.want == "" {
			if err != nil {
				t.Errorf("%s: %v", tt.name, err)
			}
			continue
		}
		if !errors.Is(err, ErrBadCorrection) || !strings.Contains(err.Error(), tt.want) || len(err.Error()) > 200 {
			t.Errorf("%s: got %v, want %q", tt.name, err, tt.want)
		}
	}
	if err := (*Corrections)(nil).Validate(ClipInfo{}, 0); err != nil {
		t.Errorf("none at all: %v", err)
	}
}

func TestMeasureAgainRefuses(t *testing.T) {
	r := loadRendered(t, "fast_30", 1.5)
	for _, tt := range []struct {
		name  string
		info  ClipInfo
		track *pose.Track
	}{
		{"no track", r.info, nil},
		{"no frames", r.info, &pose.Track{}},
		{"no size", ClipInfo{FrameRateHz: 30}, r.track},
		{"no rate", ClipInfo{WidthPx: 1280, HeightPx: 720, FrameRateHz: math.NaN()}, r.track},
		{"another clip's", func() ClipInfo { i := r.info; i.Frames++; return i }(), r.track},
	} {
		_, err := MeasureAgain(tt.info, tt.track, Options{})
		var ce *media.ClipError
		if !errors.Is(err, ErrCannotMeasure) || !errors.As(err, &ce) || ce.Hint == "" {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
}

// Whatever points are dragged wherever, there is a result or a plain error.
func TestAnyCorrection(t *testing.T) {
	r := oneRep(t)
	rapid.Check(t, func(rt *rapid.T) {
		c := &Corrections{}
		for range rapid.IntRange(0, 5).Draw(rt, "points") {
			c.Points = append(c.Points, PointCorrection{
				Frame: rapid.IntRange(0, 99).Draw(rt, "frame"),
				Point: body.Landmark(rapid.IntRange(0, int(body.NumLandmarks)-1).Draw(rt, "point")).String(),
				Side:  rapid.SampledFrom([]string{"near", "left", "right"}).Draw(rt, "side"),
				XPx:   rapid.Float64Range(0, 1280).Draw(rt, "x"), YPx: rapid.Float64Range(0, 720).Draw(rt, "y"),
			})
		}
		smoother := body.SmootherFilter
		if rapid.IntRange(0, 5).Draw(rt, "smoother") == 0 {
			smoother = body.SmootherBody
		}
		a, err := MeasureAgain(r.info, r.track, Options{Smoother: smoother, Corrections: c})
		var ce *media.ClipError
		if err != nil && !errors.Is(err, ErrBadCorrection) && !errors.As(err, &ce) {
			rt.Fatalf("%v", err)
		}
		if err == nil && len(a.Reps) == 0 && a.Plain == nil {
			rt.Fatal("neither reps, nor plain angles, nor an error")
		}
	})
}

// FuzzCorrections: no JSON ends in anything but a result or a plain error.
func FuzzCorrections(f *testing.F) {
	r := oneRep(f)
	for _, s := range []string{
		`{}`, `{"points":[{"frame":33,"point":"knee","side":"near","x_px":640,"y_px":400}]}`,
		`{"points":[{"frame":33,"point":"hip","side":"left","x_px":600,"y_px":400},` +
			`{"frame":36,"point":"hip","side":"left","x_px":605,"y_px":400}]}`,
		`{"reps":[{"at_s":1,"tempo":"slow","start_s":0.5,"bottom_s":1.2,"end_s":2.5}]}`,
		`{"reps":[{"at_s":1,"left_out":true}]}`,
		`{"vertical_deg":-4,"facing":"left"}`, `{"floor":{"x1_px":100,"y1_px":600,"x2_px":1000,"y2_px":610}}`,
		`{"points":[{"frame":1e9,"x_px":1e308}]}`, `{"reps":[{"at_s":-1e308,"end_s":1e308}]}`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var c Corrections
		if len(data) > 1<<16 || json.Unmarshal(data, &c) != nil {
			return
		}
		bad := c.Validate(r.info, len(r.track.Poses))
		a, err := MeasureAgain(r.info, r.track, Options{Smoother: body.SmootherFilter, Corrections: &c})
		var ce *media.ClipError
		switch {
		case bad != nil && !errors.Is(err, ErrBadCorrection):
			t.Fatalf("refused (%v), and measured all the same: %v", bad, err)
		case err != nil && !errors.Is(err, ErrBadCorrection) && !errors.As(err, &ce):
			t.Fatal(err)
		case err == nil:
			asJSON(t, a)
		}
	})
}

// FuzzMeasureTrack: whatever the file of a track holds, for instance one of a backup, is
// measured or refused.
func FuzzMeasureTrack(f *testing.F) {
	r := oneRep(f)
	packed := func(data []byte) io.Reader {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		_, _ = z.Write(data) // a buffer takes everything
		_ = z.Close()
		return &b
	}
	var b bytes.Buffer
	if err := pose.WriteTrack(&b, r.track); err != nil {
		f.Fatal(err)
	}
	z, err := gzip.NewReader(&b)
	if err != nil {
		f.Fatal(err)
	}
	whole, err := io.ReadAll(z)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Fuzz(func(t *testing.T, data []byte) {
		track, err := pose.ReadTrack(packed(data))
		if err != nil {
			return
		}
		info := r.info
		info.Frames = len(track.Poses)
		a, err := MeasureAgain(info, track, Options{Smoother: body.SmootherFilter})
		var ce *media.ClipError
		switch {
		case err == nil:
			asJSON(t, a)
		case !errors.As(err, &ce):
			t.Fatal(err)
		}
	})
}

// BenchmarkMeasureAgain measures a clip of a minute again after a drag of the knee.
func BenchmarkMeasureAgain(b *testing.B) {
	for _, name := range []string{"fast_30", "fast"} {
		r := loadRendered(b, name, 1.5)
		const lastS = 60.0
		track, n := *r.track, len(r.track.Poses)
		track.Poses = nil
		for k := 0; ; k++ {
			shiftS := float64(k*n) / r.info.FrameRateHz
			if shiftS > lastS {
				break
			}
			for _, p := range r.track.Poses {
				p.TimeS += shiftS
				p.Index += k * n
				if p.TimeS < lastS {
					track.Poses = append(track.Poses, p)
				}
			}
		}
		r.info.Frames, r.info.DurationS = len(track.Poses), lastS
		b.Run(fmt.Sprintf("%.0f_s_at_%.0f_Hz", lastS, r.info.FrameRateHz), func(b *testing.B) {
			c := &Corrections{Points: []PointCorrection{{Frame: 70, Point: "knee", Side: "near", XPx: 700, YPx: 450}}}
			for b.Loop() {
				r.measure(b, &track, Options{Corrections: c})
			}
		})
	}
}
