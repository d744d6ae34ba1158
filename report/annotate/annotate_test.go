package annotate

import (
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/internal/compared"
	"holdfast/internal/pixels"
	"holdfast/kinematics/body"
	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/report/resultdir"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// writeInto writes the pictures of an analysis and returns the paths of its stills, its close-ups and its video.
func writeInto(t testing.TB, a *screening.Analysis, tr *pose.Track,
	opt Options) (stills, closeUps []string, video string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "out")
	f, err := resultdir.Open(dir, func(string) bool { return true })
	if err != nil {
		t.Fatal(err)
	}
	defer f.Abort()
	written, err := Write(t.Context(), f, motion.New(a), tr, opt)
	if err == nil {
		err = f.Commit()
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range written.Stills {
		stills = append(stills, filepath.Join(dir, name))
	}
	for _, name := range written.CloseUps {
		closeUps = append(closeUps, filepath.Join(dir, name))
	}
	return stills, closeUps, filepath.Join(dir, written.Video)
}

func TestBlurFaceInAnAnalysis(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	a, tr := compared.Grainy(t, "jump", "jump", 3.0, 3.5)
	m := motion.New(a)
	an, err := newAnnotator(m, a.Clip.WidthPx, a.Clip.HeightPx)
	if err != nil {
		t.Fatal(err)
	}
	defer an.close()
	// What the video would show without any drawing.
	var sources []*paint.Canvas
	pixels.EachFrame(t, a.Clip.Path, func(_ *media.Frame, c *paint.Canvas) {
		s, err := paint.NewCanvas(an.canvas.WidthPx(), an.canvas.HeightPx(), drawn.Ground)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.DrawScaled(c, an.picture); err != nil {
			t.Fatal(err)
		}
		sources = append(sources, s)
	})
	defer func() {
		for _, s := range sources {
			_ = s.Close()
		}
	}()
	headless := *tr
	headless.KeypointNames = append([]string{}, tr.KeypointNames...)
	for i, n := range headless.KeypointNames {
		if strings.HasSuffix(n, "shoulder") || strings.HasSuffix(n, "hip") {
			headless.KeypointNames[i] = "unnamed" // nothing to find a head by
		}
	}
	for _, tc := range []struct {
		name string
		blur bool
		tr   *pose.Track
	}{{"shown", false, tr}, {"hidden", true, tr}, {"hidden, no track", true, nil},
		{"hidden, track without a head", true, &headless}} {
		t.Run(tc.name, func(t *testing.T) {
			stills, closeUps, video := writeInto(t, a, tc.tr, Options{Video: true, EveryFrame: true, BlurFace: tc.blur})
			check := func(what string, picture func(x, y int) float64, frame int, timeS float64) {
				ear, shoulder, r := pixels.HeadIn(m, timeS, an.mapping())
				mass := an.mapping().Apply(m.MassSeen(timeS, timeS))
				got := pixels.Shared(pixels.GreyOf(sources[frame]), picture, ear, r, 7*an.u, [2]plane.XY{ear, shoulder},
					[2]plane.XY{mass.Add(0, -400), mass})
				if hidden := math.Abs(got) < 0.12; hidden != tc.blur || math.IsNaN(got) {
					t.Errorf("%s at %.2f s: %.2f of the face's detail is left", what, timeS, got)
				}
				// Beside the athlete all is as it was.
				wall := plane.XY{X: float64(an.picture.Max.X) - 30*an.u, Y: float64(an.picture.Max.Y) - 60*an.u}
				if tc.tr == &headless {
					return // the whole picture is covered
				}
				if got := pixels.Shared(pixels.GreyOf(sources[frame]), picture, wall, 15*an.u, 0); !(got > 0.6) {
					t.Errorf("%s at %.2f s: %.2f of the wall's detail is left", what, timeS, got)
				}
			}
			n := pixels.EachFrame(t, video, func(fr *media.Frame, c *paint.Canvas) {
				check("the video", pixels.GreyOf(c), fr.Index, fr.TimeS)
			})
			if n != len(sources) {
				t.Errorf("%d frames, want %d", n, len(sources))
			}
			for _, path := range stills {
				b, err := os.ReadFile(path)
				if err != nil {
					t.Fatal(err)
				}
				pixels.OnlyPixels(t, path, b)
				for _, mo := range motion.Moments(a) {
					if !strings.HasSuffix(path, fmt.Sprintf("rep%02d_%d_%s_%s.png", mo.Rep.Number, mo.Order, mo.Name, mo.Rep.Tempo)) {
						continue
					}
					var times []float64
					for i := range tr.Poses {
						times = append(times, tr.Poses[i].TimeS)
					}
					i := motion.Nearest(times, mo.TimeS)
					check(filepath.Base(path), pixels.GreyOfImage(t, b), i, times[i])
				}
			}
			if len(stills) < 3 || len(closeUps) != len(stills) {
				t.Errorf("only the stills %v and close-ups %v", stills, closeUps)
			}
			for _, path := range closeUps {
				b, err := os.ReadFile(path)
				if err != nil {
					t.Fatal(err)
				}
				pixels.NothingBeside(t, path, b)
			}
			pixels.SecretFree(t, video)
		})
	}
}

// Without being asked for more, a video has 30 pictures a second, or those that the clip has.
func TestPicturesASecond(t *testing.T) {
	tests := []struct {
		rateHz float64
		every  bool
		want   int // in ten seconds
	}{{24, false, 240}, {30, false, 300}, {29.97, false, 300}, {50, false, 250}, {60, false, 300}, {120, false, 300},
		{60, true, 600}}
	for _, tt := range tests {
		r, shown := &reel{stretch: 1, everyFrame: tt.every}, 0
		for i := 0; float64(i)/tt.rateHz < 10-1e-9; i++ {
			timeS := math.Round(1000*float64(i)/tt.rateHz) / 1000 // as some containers count
			if r.shows(i, timeS) {
				r.lastS, r.begun, shown = timeS, true, shown+1
			}
		}
		if shown < tt.want-10 || shown > tt.want {
			t.Errorf("%v frames a second, every %v: %d pictures, want %d", tt.rateHz, tt.every, shown, tt.want)
		}
	}
}

func TestHold(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	a, tr := compared.Grainy(t, "jump", "jump", 1.4, 4.4)
	a.Reps = a.Reps[:1]
	m := motion.New(a)
	r := &a.Reps[0]
	var times []float64
	for i := range tr.Poses {
		times = append(times, tr.Poses[i].TimeS)
	}
	_, _, plain := writeInto(t, a, tr, Options{Video: true, EveryFrame: true})
	_, _, held := writeInto(t, a, tr, Options{Video: true, EveryFrame: true, Hold: true})
	if got := pixels.VideoTimes(t, plain); len(got) != len(times) ||
		math.Abs(got[len(got)-1]-times[len(times)-1]) > 0.001 {
		t.Errorf("without holds: %d pictures to %.3f s, the clip has %d to %.3f s", len(got), got[len(got)-1],
			len(times), times[len(times)-1])
	}
	bottom, landing := motion.Nearest(times, r.BottomS), motion.Nearest(times, r.LandingBottomS)
	lo, hi := r.TakeoffS-aroundFlightS, r.LandingBottomS+aroundFlightS
	var want []float64
	for i, s := range times {
		at := s
		if i > bottom {
			at += holdForS
		}
		if i > landing {
			at += holdForS
		}
		at += 3 * math.Max(0, math.Min(s, hi)-lo) // a quarter of the speed takes four times as long
		n := 0
		if i == bottom || i == landing {
			n = 10
		}
		for k := range n {
			want = append(want, at+0.1*float64(k))
		}
		want = append(want, at+0.1*float64(n))
	}
	got := pixels.VideoTimes(t, held)
	if len(got) != len(want) {
		t.Fatalf("%d pictures, want %d", len(got), len(want))
	}
	for i := range got {
		if math.Abs(got[i]-want[i]) > 0.001 {
			t.Errorf("picture %d at %.3f s, want %.3f s", i, got[i], want[i])
		}
	}
	// In a clip that is slow already, flight and landing pass as they do in the file.
	a.Clip.SlowMotionFactor = 8
	slow := newReel(motion.New(a), times, true)
	if len(slow.slow) != 0 || slow.shownS(20) != 20 {
		t.Errorf("a clip of 8 times slow motion is slowed further: %+v", slow)
	}
	a.Clip.SlowMotionFactor = 2
	var file []float64
	for _, s := range times {
		file = append(file, 2*s)
	}
	half := newReel(motion.New(a), file, true)
	if half.stretch != 2 || half.holds[bottom] == nil || !half.slowly(2*(lo+hi)/2) || half.slowly(2*lo-0.01) {
		t.Errorf("a clip of 2 times slow motion: %+v", half)
	}
	// The caption says what was measured.
	h := newReel(m, times, true).holds[landing]
	if h == nil || !h.landing {
		t.Fatal("nothing is held at the landing's bottom")
	}
	deg, iv := h.reading(said.Knee)
	if deg != r.Angles[body.KneeFlexion].AtLandingBottomDeg || math.Abs((iv[1]-iv[0])-2*1.959964*1.2) > 1e-5 {
		t.Errorf("held: knee %v %v", deg, iv)
	}
	nan := math.NaN()
	a.Clip.SlowMotionFactor = 1
	r.BottomS, r.LandingBottomS, r.TakeoffS = nan, nan, nan
	if none := newReel(motion.New(a), times, true); len(none.holds) != 0 || len(none.slow) != 0 {
		t.Errorf("a rep without moments is held: %+v", none)
	}
	if none := newReel(motion.New(a), nil, true); len(none.holds) != 0 {
		t.Error("a clip without frames is held")
	}
}

func TestFootStrip(t *testing.T) {
	a, _ := compared.Analysis(t, "jump", "jump")
	compared.WithBody(a)
	r := &a.Reps[0]
	flight := (r.TakeoffS + r.ContactS) / 2
	// As the analysis does: no support point in the air, nor for a moment after it.
	for i, s := range a.Series.TimeS {
		if s > r.TakeoffS && s < r.ContactS+0.1 {
			a.Series.SupportPct[i], a.Series.SupportSDPct[i] = math.NaN(), math.NaN()
		}
	}
	m := motion.New(a)
	for _, tc := range []struct {
		name       string
		timeS      float64
		jump, heel string
		known      bool
	}{
		{"standing", 0.1, "", "", true},
		{"bottom", r.BottomS, "", "Heel up 2.8 cm (1.6 to 4.0)", true},
		{"flight", flight, "Jump 22 cm (18 to 26), the body's rise", "", false},
		{"after it", r.ContactS + 0.5, "Jump 22 cm (18 to 26), the body's rise", "", true},
	} {
		if got := m.JumpWords(tc.timeS); got != tc.jump {
			t.Errorf("%s: %q, want %q", tc.name, got, tc.jump)
		}
		if got := m.HeelWords(tc.timeS); got != tc.heel &&
			!(tc.heel != "" && math.IsNaN(m.Value(a.Series.HeelRisePctFoot, tc.timeS))) && a.Series.HeelRisePctFoot[0] != 0 {
			t.Errorf("%s: %q, want %q", tc.name, got, tc.heel)
		}
		if pct, _ := m.Support(tc.timeS); math.IsNaN(pct) == tc.known {
			t.Errorf("%s: support point %v", tc.name, pct)
		}
	}
	if got := m.LastSupport(r.ContactS + 0.05); !math.IsNaN(got) {
		t.Errorf("after the flight the last support point is %v, of before it", got)
	}
	r.Jump.RiseM = math.NaN()
	if got := m.JumpWords(flight); got != "Jump 26 cm, from flight time" {
		t.Errorf("without a rise: %q", got)
	}
	r.Jump = nil
	if got := m.JumpWords(flight); got != "" {
		t.Errorf("without a jump: %q", got)
	}

	t.Run("both facings", func(t *testing.T) {
		for _, facing := range []string{"right", "left"} {
			a.Facing = facing
			f, err := newFootStrip(motion.New(a), 720, 2, false)
			if err != nil {
				t.Fatal(err)
			}
			defer f.close()
			heel, toe := f.place(0), f.place(100)
			if (heel < toe) != (facing == "right") {
				t.Errorf("facing %s: heel at %.0f, toe at %.0f", facing, heel, toe)
			}
			c, err := paint.NewCanvas(720, f.height, drawn.Ground)
			if err != nil {
				t.Fatal(err)
			}
			defer c.Close()
			f.draw(c, 0.1)
			pct, _ := f.m.Support(0.1)
			y := (f.bar.Min.Y + f.bar.Max.Y) / 2
			at := c.At(int(f.place(pct)), y)
			if at.G < 200 {
				t.Errorf("facing %s: no marker at %.0f %%, but %v", facing, pct, at)
			}
			// Grey alone must do: bar, its middle and the marker differ in brightness.
			end, mid := c.At(int(f.place(10)), y), c.At(int(f.place(68)), y)
			if !(int(mid.G)-int(end.G) > 25 && int(at.G)-int(mid.G) > 80) || mid.R > mid.B || end.R > end.B {
				t.Errorf("facing %s: bar %v, middle %v, marker %v", facing, end, mid, at)
			}
			f.draw(c, r.ContactS+0.05)
			if hollow := c.At(int(f.place(pct)), y); hollow.G > 150 {
				t.Errorf("facing %s: a marker where nothing is known: %v", facing, hollow)
			}
		}
	})
	t.Run("old analysis", func(t *testing.T) {
		a.Series.SupportPct, a.Series.SupportSDPct, a.Series.MassCentrePx = nil, nil, body.Path{}
		a.Reps[0].Foot = nil
		f, err := newFootStrip(motion.New(a), 720, 2, false)
		if f != nil || err != nil {
			t.Errorf("a strip of nothing: %v, %v", f, err)
		}
		an, err := newAnnotator(motion.New(a), 360, 640)
		if err != nil {
			t.Fatal(err)
		}
		defer an.close()
		frame, err := paint.NewCanvas(360, 640, drawn.Paper)
		if err != nil {
			t.Fatal(err)
		}
		defer frame.Close()
		for s := -1.0; s < 12; s += 0.37 {
			if _, err := an.draw(frame, s, shown{}); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// Curves stand below a wide picture and beside a tall one, at a size that a screen shows whole; all of the picture is
// covered by its parts.
func TestAnnotatedSizes(t *testing.T) {
	a, _ := compared.Analysis(t, "slow_30", "slow")
	compared.WithBody(a)
	for _, c := range []struct {
		clipW, clipH, w, h int
		beside             bool
	}{
		{1280, 720, 1280, 0, false}, {608, 1080, 0, 1134, true}, {1080, 1920, 0, 1344, true}, {202, 360, 0, 0, true},
		{720, 720, 720, 0, false},
	} {
		an, err := newAnnotator(motion.New(compared.Sized(a, float64(c.clipH)/720)), c.clipW, c.clipH)
		if err != nil {
			t.Fatal(err)
		}
		w, h := an.canvas.WidthPx(), an.canvas.HeightPx()
		if c.w != 0 && w != c.w || c.h != 0 && h != c.h || max(w, h) > 1920+500 {
			t.Errorf("a clip of %d x %d is shown as %d x %d", c.clipW, c.clipH, w, h)
		}
		at := an.strip.at
		if beside := at.X == an.picture.Max.X && at.Y >= an.picture.Min.Y; beside != c.beside {
			t.Errorf("a clip of %d x %d has its curves at %v", c.clipW, c.clipH, at)
		}
		if at.X+an.strip.width != w || at.Y+an.strip.height != h || an.foot.at.X != at.X {
			t.Errorf("a clip of %d x %d: the curves at %v leave a gap", c.clipW, c.clipH, at)
		}
		an.close()
	}
}

// An athlete who is small in the picture is shown without the rest of it, his whole way through
// the clip in it; one who is large in it is shown with all of it.
func TestSmallAthleteIsShownLarge(t *testing.T) {
	a, _ := compared.Analysis(t, "slow_30", "slow")
	compared.WithBody(a)
	whole, w, h := motion.New(a), a.Clip.WidthPx, a.Clip.HeightPx
	for _, c := range []struct {
		size  float64 // of the athlete, against the clip's picture
		small bool
	}{{1, false}, {0.5, true}, {0.25, true}} {
		m := motion.New(compared.Sized(a, c.size))
		of := partOf(m, float64(w), float64(h))
		if small := of != (part{0, 0, float64(w), float64(h)}); small != c.small {
			t.Errorf("%g times as large: %+v of the picture is shown", c.size, of)
		}
		if of.x < 0 || of.y < 0 || of.x+of.w > float64(w)+1e-9 || of.y+of.h > float64(h)+1e-9 {
			t.Errorf("%g times as large: %+v lies outside of the picture", c.size, of)
		}
		an, err := newAnnotator(m, w, h)
		if err != nil {
			t.Fatal(err)
		}
		for _, timeS := range whole.TimesS {
			for name, p := range drawn.AthleteAt(m, timeS, an.mapping()).Points {
				if !image.Pt(int(p.X), int(p.Y)).In(an.picture) {
					t.Fatalf("%g times as large: the %s lies at %v, outside of %v", c.size, name, p, an.picture)
				}
			}
		}
		leg := drawn.AthleteAt(m, whole.TimesS[0], an.mapping()).Points
		if c.small && leg["ankle"].Y-leg["shoulder"].Y < 0.35*float64(an.picture.Dy()) {
			t.Errorf("%g times as large: it is shown %.0f pixels tall of %d", c.size,
				leg["ankle"].Y-leg["shoulder"].Y, an.picture.Dy())
		}
		an.close()
	}
}

// The middle of a long stretch that was filled in shows no skeleton, its ends and a short one do.
func TestNoSkeletonInALongGap(t *testing.T) {
	a, _ := compared.Analysis(t, "slow_30", "slow")
	m := motion.New(compared.Sized(a, 1))
	m.Analysis.Series.Filled = make([]bool, len(m.TimesS))
	at := func(timeS float64) int { i, _, _, _ := m.Sample(timeS); return i }
	for i := at(1); i < at(1.4); i++ {
		m.Analysis.Series.Filled[i] = true
	}
	m.Analysis.Series.Filled[at(2)] = true
	for timeS, seen := range map[float64]bool{0.5: true, 0.99: true, 1.2: false, 1.6: true, 2: true} {
		b := drawn.AthleteAt(m, timeS, plane.Affine{A: 1, E: 1})
		if got := len(b.Points) > 0; got != seen || math.IsNaN(b.Deg[said.Knee]) == seen {
			t.Errorf("at %.2f s: %d points, the knee at %.0f degrees", timeS, len(b.Points), b.Deg[said.Knee])
		}
	}
}
