package sidebyside

import (
	"bytes"
	"errors"
	"image"
	_ "image/jpeg" // the sizes of photos
	"math"
	"os"
	"path/filepath"
	"testing"

	"holdfast/internal/compared"
	"holdfast/internal/pixels"
	"holdfast/kinematics"
	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/report/resultdir"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

// write writes the pictures of a comparison into a folder.
func write(t *testing.T, dir string, c *screening.Comparison, opt Options) Written {
	t.Helper()
	f, err := resultdir.Open(dir, func(string) bool { return true })
	if err != nil {
		t.Fatal(err)
	}
	defer f.Abort()
	written, err := Write(t.Context(), f, c, opt)
	if err == nil {
		err = f.Commit()
	}
	if err != nil {
		t.Fatal(err)
	}
	return written
}

// TestShots: a shot shows the moment in the athlete's own size, and mirrored clips
// face the same way.
func TestShots(t *testing.T) {
	a, _, _ := compared.Short(t)
	b := *a
	b.Facing = "left"
	a.Reps[0].Tempo = "slow"
	c := &screening.Comparison{Analyses: []*screening.Analysis{a, &b},
		Comparison: kinematics.Comparison{Pairs: []kinematics.Pair{{Baseline: "slow", Challenge: "fast", BaselineClip: 0,
			ChallengeClip: 1, BaselineRep: 1, ChallengeRep: 1}}}}
	written := write(t, filepath.Join(t.TempDir(), "out"), c, Options{})
	s := written.Shots
	if len(written.Warnings) != 0 || written.Pairs[0].Warning != nil {
		t.Fatal(written.Warnings, written.Pairs[0].Warning)
	}
	if s.Easiest == nil || s.Second == nil || s.Landing != nil || s.Takeoff != nil {
		t.Fatalf("%+v", s)
	}
	for _, q := range []*Shot{s.Easiest, s.Second} {
		for _, jpeg := range [][]byte{q.Marked, q.Bare} {
			if size, _, err := image.DecodeConfig(bytes.NewReader(jpeg)); err != nil ||
				size.Width != shotW || size.Height != shotH {
				t.Errorf("a picture of %d x %d: %v", size.Width, size.Height, err)
			}
		}
		if bytes.Equal(q.Marked, q.Bare) {
			t.Error("the marked picture has no marks")
		}
	}
}

// TestJumpIsShownInItsLanding: where the headlines speak of the landing, the pictures show it, with its numbers.
func TestJumpIsShownInItsLanding(t *testing.T) {
	c := compared.Full(t)
	c.Conclude()
	for i := range c.Pairs {
		p := &c.Pairs[i]
		d, err := newDuel(c, p)
		if err != nil {
			t.Fatal(err)
		}
		defer d.close()
		base, challenge := &d.sides[0], &d.sides[1]
		jump := p.Challenge == "jump"
		if base.landing || base.lowS != base.rep.BottomS || challenge.landing != jump {
			t.Errorf("%s to %s: landing %v and %v", p.Baseline, p.Challenge, base.landing, challenge.landing)
		}
		if jump && challenge.lowS != challenge.rep.LandingBottomS {
			t.Errorf("%s to jump: shown at %v, the landing is lowest at %v", p.Baseline, challenge.lowS,
				challenge.rep.LandingBottomS)
		}
		if !jump {
			continue
		}
		for _, j := range said.JointsIn(c) {
			// The landing lost something of the fast reps' bottoms too.
			if of := c.Landing.AgainstFast[j]; p.Baseline == "fast" {
				want := said.Difference("difference_label", of.Lost, of.Interval95)
				if want == "" || d.shown[j].difference != want {
					t.Errorf("%s, fast to jump: the picture says %q, want %q", j.Name(), d.shown[j].difference, want)
				}
				continue
			}
			h := stepOf(c, j, "jump")
			want := said.BottomDegrees(stepOf(c, j, "slow").Deg, true) + " → " + said.BottomDegrees(h.Deg, true)
			if d.shown[j].positions != want || (d.shown[j].difference == "") != math.IsNaN(h.LostDeg) {
				t.Errorf("%s: the picture says %+v, the headline %q", j.Name(), d.shown[j], want)
			}
		}
	}
}

// Where movements share a turn and nothing else, the table under the pictures tells of it, and where a range is not
// compared, it says so.
func TestTableUnderThePictures(t *testing.T) {
	c := compared.Truth(t)
	p := &c.Pairs[0]
	d := &duel{pair: p, joints: said.JointsIn(c), shown: changesOf(c, p, false)}
	p.Joints[d.joints[0]].LostDeg = math.NaN()
	title, rows := d.table()
	if title != "Range of motion" || len(rows) != len(d.joints) || rows[0].change != "not compared" ||
		rows[1].change != said.ChangeWords(&p.Joints[d.joints[1]]) {
		t.Errorf("%s: %+v", title, rows)
	}
	d.turnAlone = "at the lock-out"
	if title, rows = d.table(); title != "At the lock-out" || rows[1].change != d.shown[d.joints[1]].difference ||
		rows[1].easier+" → "+rows[1].harder != d.shown[d.joints[1]].positions {
		t.Errorf("%s: %+v", title, rows)
	}
}

func TestBlurFaceInAComparison(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	slow, _ := compared.Grainy(t, "fast", "slow", 0, 2)
	fast, _ := compared.Grainy(t, "jump", "jump", 1.2, 2.5)
	slow.Reps, fast.Reps = slow.Reps[:1], fast.Reps[:1]
	// A short rep gives a short video.
	slow.Reps[0].StartS, slow.Reps[0].EndS = slow.Reps[0].BottomS-0.1, slow.Reps[0].BottomS+0.1
	fast.Reps[0].StartS, fast.Reps[0].EndS = fast.Reps[0].BottomS-0.1, fast.Reps[0].BottomS+0.1
	fast.Reps[0].FlightS, fast.Reps[0].TakeoffS, fast.Reps[0].ContactS = 0, math.NaN(), math.NaN()
	c := compared.Truth(t)
	c.Analyses = []*screening.Analysis{slow, fast}
	c.Clips = c.Clips[:2]
	c.Pairs = c.Pairs[:1]
	p := &c.Pairs[0]
	p.Baseline, p.Challenge, p.BaselineClip, p.ChallengeClip, p.BaselineRep, p.ChallengeRep = "slow", "jump", 0, 1, 1, 1

	type paths struct{ overlay, video string }
	written, shots := map[bool]paths{}, map[bool]Shots{}
	for _, blur := range []bool{false, true} {
		dir := filepath.Join(t.TempDir(), "out")
		made := write(t, dir, c, Options{Video: true, BlurFace: blur})
		files := made.Pairs[0]
		if len(files.SideBySide) != 1 || len(files.Overlays) != 1 || files.Warning != nil {
			t.Fatalf("%+v", files)
		}
		at := paths{filepath.Join(dir, files.Overlays[0]), filepath.Join(dir, files.SideBySide[0])}
		pixels.SecretFree(t, at.overlay)
		pixels.SecretFree(t, at.video)
		written[blur], shots[blur] = at, made.Shots
	}
	d, err := newDuel(c, p)
	if err != nil {
		t.Fatal(err)
	}
	defer d.close()
	read := func(path string) []byte {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	overlays := map[bool]func(x, y int) float64{}
	for blur, files := range written {
		pixels.OnlyPixels(t, files.overlay, read(files.overlay))
		overlays[blur] = pixels.GreyOfImage(t, read(files.overlay))
	}
	// Both bodies' lines are on the overlay, and each head may lie on the other's body.
	var bones [][2]plane.XY
	var heads [2]plane.XY
	var radius float64
	for i := range d.sides {
		s := &d.sides[i]
		ear, shoulder, r := pixels.HeadIn(s.m, s.rep.BottomS, d.overlayMapping(i))
		b := drawn.AthleteAt(s.m, s.rep.BottomS, d.overlayMapping(i))
		for _, bone := range [][2]string{{"shoulder", "elbow"}, {"elbow", "wrist"}, {"shoulder", "hip"}} {
			bones = append(bones, [2]plane.XY{b.Points[bone[0]], b.Points[bone[1]]})
		}
		bones = append(bones, [2]plane.XY{ear, shoulder})
		heads[i], radius = ear, r
	}
	for i, at := range heads {
		if got := pixels.Shared(overlays[false], overlays[true], at, radius, 6*duelUnit, bones...); !(math.Abs(got) < 0.6) {
			t.Errorf("overlay: %.2f of the detail of head %d is left", got, i)
		}
	}
	// In the video, in its first picture: the baseline's lines are not yet on the other.
	var still [2]*paint.Canvas
	for k, blur := range []bool{false, true} {
		pixels.EachFrame(t, written[blur].video, func(fr *media.Frame, c *paint.Canvas) {
			if still[k] == nil {
				if still[k], err = paint.NewCanvas(c.WidthPx(), c.HeightPx(), drawn.Ground); err != nil {
					t.Fatal(err)
				}
				still[k].Draw(c, 0, 0)
			}
		})
		defer still[k].Close()
	}
	for i := range d.sides {
		s := &d.sides[i]
		fromS, _, _ := d.timing()
		ear, shoulder, r := pixels.HeadIn(s.m, math.Max(s.rep.StartS, s.rep.BottomS+fromS), d.panelMapping(i))
		got := pixels.Shared(pixels.GreyOf(still[0]), pixels.GreyOf(still[1]), ear, r, 9*duelUnit,
			[2]plane.XY{ear, shoulder})
		if !(math.Abs(got) < 0.15) {
			t.Errorf("side by side: %.2f of the detail of head %d is left", got, i)
		}
	}
	// Every frame that any picture is made of, from whichever player it comes.
	for i := range d.sides {
		var players [2]*motion.Player
		for k, blur := range []bool{false, true} {
			r := &reading{c: c, blurFace: blur}
			from := r.of(i, d.sides[i].m, d.sides[i].rep, 0)
			if players[k], err = r.play(t.Context(), from); err != nil {
				t.Fatal(err)
			}
		}
		plain, hidden := players[0], players[1]
		s := &d.sides[i]
		for at := s.rep.StartS; at < s.rep.EndS; at += 1 / 60.0 {
			a, err1 := plain.At(at)
			b, err2 := hidden.At(at)
			if err := errors.Join(err1, err2); err != nil {
				t.Fatal(err)
			}
			x, err1 := a.Canvas()
			y, err2 := b.Canvas()
			if err := errors.Join(err1, err2); err != nil {
				t.Fatal(err)
			}
			ear, _, r := pixels.HeadIn(s.m, a.TimeS, plane.Affine{A: 1, E: 1})
			if got := pixels.Shared(pixels.GreyOf(x), pixels.GreyOf(y), ear, r, 0); !(math.Abs(got) < 0.1) {
				t.Errorf("side %d at %.2f s: %.2f of the detail is left", i, at, got)
			}
		}
		plain.Close()
		hidden.Close()
	}
	plain, hidden := shots[false], shots[true]
	if plain.Easiest == nil || len(plain.Easiest.Bare) == 0 {
		t.Fatal("no shot was taken")
	}
	m := motion.New(slow)
	k := shotLegPx / m.LegLengthPx(plain.Easiest.rep)
	at := m.Point("ankle", plain.Easiest.TimeS)
	to := plane.Affine{A: k, E: k, C: shotW*(0.5-0.03*m.Forward) - k*at.X, F: 0.88*shotH - k*at.Y}
	ear, shoulder, r := pixels.HeadIn(m, plain.Easiest.TimeS, to)
	for _, pair := range [][2][]byte{{plain.Easiest.Bare, hidden.Easiest.Bare},
		{plain.Easiest.Marked, hidden.Easiest.Marked}} {
		got := pixels.Shared(pixels.GreyOfImage(t, pair[0]), pixels.GreyOfImage(t, pair[1]), ear, r, 9*1.55,
			[2]plane.XY{ear, shoulder})
		if !(math.Abs(got) < 0.15) {
			t.Errorf("a page's picture: %.2f of the face's detail is left", got)
		}
	}
}

// A video of two reps shows as many pictures as their clips hold, and a few of those that stand still.
func TestPicturesOfADuel(t *testing.T) {
	for _, tt := range []struct{ easierHz, harderHz, slowdown, speed, want float64 }{
		{30, 30, 1, 0.25, 10}, {30, 30, 1, 0.5, 15}, {60, 30, 1, 0.25, 15}, {60, 60, 1, 0.5, 30}, {30, 24, 8, 0.25, 30},
	} {
		d := &duel{}
		for i, hz := range []float64{tt.easierHz, tt.harderHz} {
			d.sides[i].m = &motion.Motion{Analysis: &screening.Analysis{Clip: screening.ClipInfo{FrameRateHz: hz}},
				Slowdown: tt.slowdown}
		}
		if got := d.rate(tt.speed); got != tt.want {
			t.Errorf("%+v: %.0f pictures a second", tt, got)
		}
	}
}
