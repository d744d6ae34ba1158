package report

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	_ "image/jpeg"
	"image/png"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
	"holdfast/screening"
	"holdfast/vision"
)

// grainyClip writes a clip whose every picture is full of detail, with notes in the
// file that must not go along.
func grainyClip(t *testing.T, name string, w, h int, timesS []float64) string {
	t.Helper()
	dir := t.TempDir()
	bare, path := filepath.Join(dir, "bare.mp4"), filepath.Join(dir, name)
	c, err := vision.NewCanvas(w, h, line)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	r := rand.New(rand.NewPCG(3, 4))
	for y := 0; y < h; y += 2 {
		for x := 0; x < w; x += 2 {
			v := uint8(50 + r.IntN(156))
			c.Rect(x, y, 2, 2, color.NRGBA{v, v, v, 255})
		}
	}
	v, err := vision.NewVideoWriter(t.Context(), bare, w, h)
	if err != nil {
		t.Fatal(err)
	}
	defer v.Abort()
	for _, s := range timesS {
		if err := v.Write(c, s); err != nil {
			t.Fatal(err)
		}
	}
	if err := v.Close(); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("ffmpeg", "-v", "error", "-y", "-nostdin", "-i", bare, "-c", "copy", "-metadata", "location=+59.3293+018.0686/",
		"-metadata", "creation_time=2031-02-03T04:05:06Z", "-metadata", "model=SecretPhone 9", "-movflags", "use_metadata_tags", path).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return path
}

// grainyAnalysis is the truth of a clip, a quarter of its size, over pictures full of
// detail. Frames come at a varying rate, from fromS to toS.
func grainyAnalysis(t *testing.T, name, tempo string, fromS, toS float64) (*screening.Analysis, *vision.Track) {
	t.Helper()
	a, full := truthAnalysis(t, name, tempo)
	tr := *full
	tr.Poses = nil
	const k = 4
	var times []float64
	for i := 0; i < len(full.Poses) && full.Poses[i].TimeS <= toS; i += 3 + i%3 {
		p := full.Poses[i]
		if p.TimeS < fromS && i > 0 {
			continue
		}
		p.Index = len(tr.Poses)
		p.Keypoints = append([]vision.Keypoint{}, p.Keypoints...)
		for j := range p.Keypoints {
			p.Keypoints[j].X /= k
			p.Keypoints[j].Y /= k
		}
		tr.Poses = append(tr.Poses, p)
		times = append(times, p.TimeS)
	}
	for _, xy := range a.Series.PointsPx {
		for i := range xy.X {
			xy.X[i] /= k
			xy.Y[i] /= k
		}
	}
	a.Clip.WidthPx, a.Clip.HeightPx, a.Clip.VariableRate, a.Clip.Frames = a.Clip.WidthPx/k, a.Clip.HeightPx/k, true, len(times)
	a.Clip.Path = grainyClip(t, name+".mp4", a.Clip.WidthPx, a.Clip.HeightPx, times)
	withBody(a)
	return a, &tr
}

// withBody invents what a truth does not hold: centre of mass, support point, foot
// and jump.
func withBody(a *screening.Analysis) {
	s := &a.Series
	hip := s.PointsPx["hip"]
	for i := range s.TimeS {
		s.MassCentrePx.X = append(s.MassCentrePx.X, hip.X[i]+3)
		s.MassCentrePx.Y = append(s.MassCentrePx.Y, hip.Y[i]-4)
		s.SupportPct = append(s.SupportPct, 40+10*math.Sin(s.TimeS[i]))
		s.SupportSDPct = append(s.SupportSDPct, 5)
	}
	a.SupportBandPct = [2]float64{25, 75}
	nan := math.NaN()
	for i := range a.Reps {
		r := &a.Reps[i]
		r.Foot = &measure.Foot{Heel: measure.FootRise{MaxPctFoot: estimate(10, 2), MaxCm: estimate(2.8, 0.6), AtS: r.BottomS, Up: true, UpS: 0.2,
			Spans: []trace.Span{{FromS: r.BottomS - 0.1, ToS: r.BottomS + 0.1}}}}
		if r.FlightS > 0 {
			r.Jump = &measure.Jump{RiseM: 0.224, RiseInterval95M: [2]float64{0.184, 0.261}, HeightFromFlightM: 0.255,
				HeightFromFlightInterval95M: [2]float64{nan, nan}}
		}
	}
}

// sharp returns how far a pixel differs from the mean of those about it. The grains
// are 2 to 14 pixels wide where they are looked at.
func sharp(grey func(x, y int) float64, x, y int) float64 {
	const d = 6
	return grey(x, y) - (grey(x-d, y)+grey(x+d, y)+grey(x, y-d)+grey(x, y+d))/4
}

// shared returns how far the detail of two pictures agrees within a disc, 1 for the
// same and 0 for none, but for what lies near one of the lines.
func shared(a, b func(x, y int) float64, at vision.XY, r float64, clearPx float64, lines ...[2]vision.XY) float64 {
	var aa, bb, ab, n float64
	for y := int(at.Y - r); y < int(at.Y+r); y += 2 {
	pixel:
		for x := int(at.X - r); x < int(at.X+r); x += 2 {
			p := vision.XY{X: float64(x) + 0.5, Y: float64(y) + 0.5}
			if math.Hypot(p.X-at.X, p.Y-at.Y) > r {
				continue
			}
			for _, l := range lines {
				dx, dy := l[1].X-l[0].X, l[1].Y-l[0].Y
				f := math.Max(0, math.Min(1, ((p.X-l[0].X)*dx+(p.Y-l[0].Y)*dy)/(dx*dx+dy*dy)))
				if math.Hypot(p.X-l[0].X-f*dx, p.Y-l[0].Y-f*dy) < clearPx {
					continue pixel
				}
			}
			u, v := sharp(a, x, y), sharp(b, x, y)
			aa, bb, ab, n = aa+u*u, bb+v*v, ab+u*v, n+1
		}
	}
	if n < 20 || aa/n < 4 {
		return math.NaN() // nothing to compare
	}
	// Against the detail of the first: a picture with none shares none.
	return ab / aa
}

func greyOf(c *vision.Canvas) func(x, y int) float64 {
	return func(x, y int) float64 { return float64(c.At(x, y).G) }
}

func greyOfImage(t *testing.T, b []byte) func(x, y int) float64 {
	t.Helper()
	img, _, err := image.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return func(x, y int) float64 {
		_, g, _, _ := img.At(x, y).RGBA()
		return float64(g) / 257
	}
}

// eachFrame goes through a video.
func eachFrame(t *testing.T, path string, do func(fr *vision.Frame, c *vision.Canvas)) int {
	t.Helper()
	clip, err := vision.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	frames, err := clip.Frames(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer frames.Close()
	for n := 0; ; n++ {
		fr, err := frames.Next()
		if errors.Is(err, io.EOF) {
			return n
		}
		if err != nil {
			t.Fatal(err)
		}
		c, err := vision.CanvasOf(fr)
		if err != nil {
			t.Fatal(err)
		}
		do(fr, c)
		fr.Close()
	}
}

// headIn returns the ear, the shoulder and the radius of the head at a time, in a picture
// that the mapping leads to.
func headIn(m *motion, timeS float64, to vision.Affine) (ear, shoulder vision.XY, r float64) {
	ear, shoulder = to.Apply(m.point("ear", timeS)), to.Apply(m.point("shoulder", timeS))
	return ear, shoulder, 0.6 * math.Hypot(ear.X-shoulder.X, ear.Y-shoulder.Y)
}

func TestBlurFaceInAnAnalysis(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	a, tr := grainyAnalysis(t, "jump", "jump", 3.0, 3.5)
	m := newMotion(a)
	an, err := newAnnotator(m, a.Clip.WidthPx, a.Clip.HeightPx)
	if err != nil {
		t.Fatal(err)
	}
	defer an.close()
	// What the video would show without any drawing.
	var sources []*vision.Canvas
	eachFrame(t, a.Clip.Path, func(_ *vision.Frame, c *vision.Canvas) {
		s, err := vision.NewCanvas(an.canvas.WidthPx(), an.canvas.HeightPx(), ground)
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
		tr   *vision.Track
	}{{"shown", false, tr}, {"hidden", true, tr}, {"hidden, no track", true, nil}, {"hidden, track without a head", true, &headless}} {
		t.Run(tc.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "out")
			files, err := WriteAnalysis(t.Context(), dir, a, tc.tr, Options{Video: true, BlurFace: tc.blur})
			if err != nil {
				t.Fatal(err)
			}
			check := func(what string, picture func(x, y int) float64, frame int, timeS float64) {
				ear, shoulder, r := headIn(m, timeS, an.mapping())
				mass := an.mapping().Apply(m.massSeen(timeS, timeS))
				got := shared(greyOf(sources[frame]), picture, ear, r, 7*an.u, [2]vision.XY{ear, shoulder}, [2]vision.XY{mass.Add(0, -400), mass})
				if hidden := math.Abs(got) < 0.12; hidden != tc.blur || math.IsNaN(got) {
					t.Errorf("%s at %.2f s: %.2f of the face's detail is left", what, timeS, got)
				}
				// Beside the athlete all is as it was.
				wall := vision.XY{X: float64(an.picture.Max.X) - 30*an.u, Y: float64(an.picture.Max.Y) - 60*an.u}
				if tc.tr == &headless {
					return // the whole picture is covered
				}
				if got := shared(greyOf(sources[frame]), picture, wall, 15*an.u, 0); !(got > 0.6) {
					t.Errorf("%s at %.2f s: %.2f of the wall's detail is left", what, timeS, got)
				}
			}
			n := eachFrame(t, files.Video, func(fr *vision.Frame, c *vision.Canvas) { check("the video", greyOf(c), fr.Index, fr.TimeS) })
			if n != len(sources) {
				t.Errorf("%d frames, want %d", n, len(sources))
			}
			for _, path := range files.Frames {
				b, err := os.ReadFile(path)
				if err != nil {
					t.Fatal(err)
				}
				onlyPixels(t, path, b)
				for _, mo := range moments(a) {
					if !strings.HasSuffix(path, fmt.Sprintf("rep%02d_%d_%s_%s.png", mo.rep.Number, mo.order, mo.name, mo.rep.Tempo)) {
						continue
					}
					var times []float64
					for i := range tr.Poses {
						times = append(times, tr.Poses[i].TimeS)
					}
					i := nearest(times, mo.timeS)
					check(filepath.Base(path), greyOfImage(t, b), i, times[i])
				}
			}
			if len(files.Frames) < 3 || len(files.CloseUps) != len(files.Frames) {
				t.Errorf("only the stills %v and close-ups %v", files.Frames, files.CloseUps)
			}
			for _, path := range files.CloseUps {
				b, err := os.ReadFile(path)
				if err != nil {
					t.Fatal(err)
				}
				nothingBeside(t, path, b)
			}
			secretFree(t, files.Video)
		})
	}
}

// nothingBeside checks that a JPEG has no segment that says where or with what it was
// taken: of the application segments it may have the one of the file's format (ISO/IEC
// 10918-1, B.1.1.3: APP0 to APP15 are FFE0 to FFEF, a comment is FFFE).
func nothingBeside(t *testing.T, name string, b []byte) {
	t.Helper()
	if len(b) < 4 || b[0] != 0xff || b[1] != 0xd8 {
		t.Fatalf("%s is no JPEG", name)
	}
	for at := 2; at+4 <= len(b) && b[at] == 0xff; {
		kind := b[at+1]
		if kind == 0xda { // the pixels begin
			return
		}
		if kind > 0xe0 && kind <= 0xef || kind == 0xfe {
			t.Errorf("%s has a segment %x", name, kind)
		}
		at += 2 + int(b[at+2])<<8 + int(b[at+3])
	}
	t.Errorf("%s ends before its pixels", name)
}

// onlyPixels checks that a PNG holds its header, its pixels and its end, nothing else.
func onlyPixels(t *testing.T, name string, b []byte) {
	t.Helper()
	if _, err := png.DecodeConfig(bytes.NewReader(b)); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	for b = b[8:]; len(b) >= 12; {
		n := binary.BigEndian.Uint32(b)
		switch kind := string(b[4:8]); kind {
		case "IHDR", "IDAT", "IEND":
		default:
			t.Errorf("%s holds a chunk %q", filepath.Base(name), kind)
		}
		b = b[12+n:]
	}
}

// secretFree checks that a file holds nothing of its source's notes.
func secretFree(t *testing.T, path string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{"59.32", "Secret", "2031-02"} {
		if bytes.Contains(b, []byte(s)) {
			t.Errorf("%s holds %q", filepath.Base(path), s)
		}
	}
	if !strings.HasSuffix(path, ".mp4") {
		return
	}
	out, err := exec.Command("ffprobe", "-v", "error", "-show_entries", "format_tags:stream_tags", "-of", "default=nk=0:nw=1", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, tag := range []string{"location", "creation_time", "model", "date"} {
		if bytes.Contains(out, []byte(tag)) {
			t.Errorf("%s says %s", filepath.Base(path), out)
		}
	}
}

func TestBlurFaceInAComparison(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	slow, _ := grainyAnalysis(t, "fast", "slow", 0, 2)
	fast, _ := grainyAnalysis(t, "jump", "jump", 1.2, 2.5)
	slow.Reps, fast.Reps = slow.Reps[:1], fast.Reps[:1]
	// A short rep gives a short video.
	slow.Reps[0].StartS, slow.Reps[0].EndS = slow.Reps[0].BottomS-0.1, slow.Reps[0].BottomS+0.1
	fast.Reps[0].StartS, fast.Reps[0].EndS = fast.Reps[0].BottomS-0.1, fast.Reps[0].BottomS+0.1
	fast.Reps[0].FlightS, fast.Reps[0].TakeoffS, fast.Reps[0].ContactS = 0, math.NaN(), math.NaN()
	c := truthComparison(t)
	c.Analyses = []*screening.Analysis{slow, fast}
	c.Clips = c.Clips[:2]
	c.Pairs = c.Pairs[:1]
	p := &c.Pairs[0]
	p.Baseline, p.Challenge, p.BaselineClip, p.ChallengeClip, p.BaselineRep, p.ChallengeRep = "slow", "jump", 0, 1, 1, 1

	written := map[bool]Files{}
	for _, blur := range []bool{false, true} {
		files, err := WriteComparison(t.Context(), filepath.Join(t.TempDir(), "out"), c, Options{Video: true, BlurFace: blur})
		if err != nil {
			t.Fatal(err)
		}
		if len(files.SideBySide) != 1 || files.Overlay == "" || len(files.Warnings) != 0 {
			t.Fatalf("%+v", files)
		}
		for _, path := range append([]string{files.SideBySide[0], files.Overlay, files.Report}, files.PDFs...) {
			secretFree(t, path)
		}
		written[blur] = files
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
		onlyPixels(t, files.Overlay, read(files.Overlay))
		overlays[blur] = greyOfImage(t, read(files.Overlay))
	}
	// Both bodies' lines are on the overlay, and each head may lie on the other's body.
	var bones [][2]vision.XY
	var heads [2]vision.XY
	var radius float64
	for i := range d.sides {
		s := &d.sides[i]
		ear, shoulder, r := headIn(s.m, s.rep.BottomS, d.overlayMapping(i))
		b := s.m.bodyAt(s.rep.BottomS, d.overlayMapping(i))
		for _, bone := range [][2]string{{"shoulder", "elbow"}, {"elbow", "wrist"}, {"shoulder", "hip"}} {
			bones = append(bones, [2]vision.XY{b.points[bone[0]], b.points[bone[1]]})
		}
		bones = append(bones, [2]vision.XY{ear, shoulder})
		heads[i], radius = ear, r
	}
	for i, at := range heads {
		if got := shared(overlays[false], overlays[true], at, radius, 6*duelUnit, bones...); !(math.Abs(got) < 0.6) {
			t.Errorf("overlay: %.2f of the detail of head %d is left", got, i)
		}
	}
	// In the video, in its first picture: the baseline's lines are not yet on the other.
	var still [2]*vision.Canvas
	for k, blur := range []bool{false, true} {
		eachFrame(t, written[blur].SideBySide[0], func(fr *vision.Frame, c *vision.Canvas) {
			if still[k] == nil {
				if still[k], err = vision.NewCanvas(c.WidthPx(), c.HeightPx(), ground); err != nil {
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
		ear, shoulder, r := headIn(s.m, math.Max(s.rep.StartS, s.rep.BottomS+fromS), d.panelMapping(i))
		if got := shared(greyOf(still[0]), greyOf(still[1]), ear, r, 9*duelUnit, [2]vision.XY{ear, shoulder}); !(math.Abs(got) < 0.15) {
			t.Errorf("side by side: %.2f of the detail of head %d is left", got, i)
		}
	}
	// Every frame that any picture is made of, from whichever player it comes.
	for i := range d.sides {
		d.blurFace = true
		hidden, err := d.play(t.Context(), i)
		if err != nil {
			t.Fatal(err)
		}
		d.blurFace = false
		plain, err := d.play(t.Context(), i)
		if err != nil {
			t.Fatal(err)
		}
		s := &d.sides[i]
		for at := s.rep.StartS; at < s.rep.EndS; at += 1 / 60.0 {
			a, err1 := plain.at(at)
			b, err2 := hidden.at(at)
			if err := errors.Join(err1, err2); err != nil {
				t.Fatal(err)
			}
			x, err1 := vision.CanvasOf(a)
			y, err2 := vision.CanvasOf(b)
			if err := errors.Join(err1, err2); err != nil {
				t.Fatal(err)
			}
			ear, _, r := headIn(s.m, a.TimeS, vision.Affine{A: 1, E: 1})
			if got := shared(greyOf(x), greyOf(y), ear, r, 0); !(math.Abs(got) < 0.1) {
				t.Errorf("side %d at %.2f s: %.2f of the detail is left", i, at, got)
			}
		}
		plain.close()
		hidden.close()
	}
	shotsOf := func(blur bool) shots {
		out, _, err := takeShots(t.Context(), c, Options{BlurFace: blur})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	plain, hidden := shotsOf(false), shotsOf(true)
	if plain.easiest == nil || len(plain.easiest.bare) == 0 {
		t.Fatal("no shot was taken")
	}
	m := newMotion(slow)
	k := shotLegPx / m.legLengthPx(plain.easiest.rep)
	at := m.point("ankle", plain.easiest.timeS)
	to := vision.Affine{A: k, E: k, C: shotW*(0.5-0.03*m.forward) - k*at.X, F: 0.88*shotH - k*at.Y}
	ear, shoulder, r := headIn(m, plain.easiest.timeS, to)
	for _, pair := range [][2][]byte{{plain.easiest.bare, hidden.easiest.bare}, {plain.easiest.marked, hidden.easiest.marked}} {
		if got := shared(greyOfImage(t, pair[0]), greyOfImage(t, pair[1]), ear, r, 9*1.55, [2]vision.XY{ear, shoulder}); !(math.Abs(got) < 0.15) {
			t.Errorf("a page's picture: %.2f of the face's detail is left", got)
		}
	}
}

func TestHold(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	a, tr := grainyAnalysis(t, "jump", "jump", 1.4, 4.4)
	a.Reps = a.Reps[:1]
	m := newMotion(a)
	r := &a.Reps[0]
	var times []float64
	for i := range tr.Poses {
		times = append(times, tr.Poses[i].TimeS)
	}
	dir := t.TempDir()
	plain, err := WriteAnalysis(t.Context(), filepath.Join(dir, "plain"), a, tr, Options{Video: true})
	if err != nil {
		t.Fatal(err)
	}
	held, err := WriteAnalysis(t.Context(), filepath.Join(dir, "held"), a, tr, Options{Video: true, Hold: true})
	if err != nil {
		t.Fatal(err)
	}
	if got := videoTimes(t, plain.Video); len(got) != len(times) || math.Abs(got[len(got)-1]-times[len(times)-1]) > 0.001 {
		t.Errorf("without holds: %d pictures to %.3f s, the clip has %d to %.3f s", len(got), got[len(got)-1], len(times), times[len(times)-1])
	}
	bottom, landing := nearest(times, r.BottomS), nearest(times, r.LandingBottomS)
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
	got := videoTimes(t, held.Video)
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
	slow := newReel(newMotion(a), times, true)
	if len(slow.slow) != 0 || slow.shownS(20) != 20 {
		t.Errorf("a clip of 8 times slow motion is slowed further: %+v", slow)
	}
	a.Clip.SlowMotionFactor = 2
	var file []float64
	for _, s := range times {
		file = append(file, 2*s)
	}
	half := newReel(newMotion(a), file, true)
	if half.stretch != 2 || half.holds[bottom] == nil || !half.slowly(2*(lo+hi)/2) || half.slowly(2*lo-0.01) {
		t.Errorf("a clip of 2 times slow motion: %+v", half)
	}
	// The caption says what was measured.
	h := newReel(m, times, true).holds[landing]
	if h == nil || !h.landing {
		t.Fatal("nothing is held at the landing's bottom")
	}
	deg, iv := h.reading(knee)
	if deg != r.Angles[body.KneeFlexion].AtLandingBottomDeg || math.Abs((iv[1]-iv[0])-2*1.959964*1.2) > 1e-5 {
		t.Errorf("held: knee %v %v", deg, iv)
	}
	nan := math.NaN()
	a.Clip.SlowMotionFactor = 1
	r.BottomS, r.LandingBottomS, r.TakeoffS = nan, nan, nan
	if none := newReel(newMotion(a), times, true); len(none.holds) != 0 || len(none.slow) != 0 {
		t.Errorf("a rep without moments is held: %+v", none)
	}
	if none := newReel(newMotion(a), nil, true); len(none.holds) != 0 {
		t.Error("a clip without frames is held")
	}
}

func TestFootStrip(t *testing.T) {
	a, _ := truthAnalysis(t, "jump", "jump")
	withBody(a)
	r := &a.Reps[0]
	flight := (r.TakeoffS + r.ContactS) / 2
	// As the analysis does: no support point in the air, nor for a moment after it.
	for i, s := range a.Series.TimeS {
		if s > r.TakeoffS && s < r.ContactS+0.1 {
			a.Series.SupportPct[i], a.Series.SupportSDPct[i] = math.NaN(), math.NaN()
		}
	}
	m := newMotion(a)
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
		if got := m.jumpWords(tc.timeS); got != tc.jump {
			t.Errorf("%s: %q, want %q", tc.name, got, tc.jump)
		}
		if got := m.heelWords(tc.timeS); got != tc.heel && !(tc.heel != "" && math.IsNaN(m.value(a.Series.HeelRisePctFoot, tc.timeS))) && a.Series.HeelRisePctFoot[0] != 0 {
			t.Errorf("%s: %q, want %q", tc.name, got, tc.heel)
		}
		if pct, _ := m.support(tc.timeS); math.IsNaN(pct) == tc.known {
			t.Errorf("%s: support point %v", tc.name, pct)
		}
	}
	if got := m.lastSupport(r.ContactS + 0.05); !math.IsNaN(got) {
		t.Errorf("after the flight the last support point is %v, of before it", got)
	}
	r.Jump.RiseM = math.NaN()
	if got := m.jumpWords(flight); got != "Jump 26 cm, from flight time" {
		t.Errorf("without a rise: %q", got)
	}
	r.Jump = nil
	if got := m.jumpWords(flight); got != "" {
		t.Errorf("without a jump: %q", got)
	}

	t.Run("both facings", func(t *testing.T) {
		for _, facing := range []string{"right", "left"} {
			a.Facing = facing
			f, err := newFootStrip(newMotion(a), 720, 2, false)
			if err != nil {
				t.Fatal(err)
			}
			defer f.close()
			heel, toe := f.place(0), f.place(100)
			if (heel < toe) != (facing == "right") {
				t.Errorf("facing %s: heel at %.0f, toe at %.0f", facing, heel, toe)
			}
			c, err := vision.NewCanvas(720, f.height, ground)
			if err != nil {
				t.Fatal(err)
			}
			defer c.Close()
			f.draw(c, 0.1)
			pct, _ := f.m.support(0.1)
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
		f, err := newFootStrip(newMotion(a), 720, 2, false)
		if f != nil || err != nil {
			t.Errorf("a strip of nothing: %v, %v", f, err)
		}
		an, err := newAnnotator(newMotion(a), 360, 640)
		if err != nil {
			t.Fatal(err)
		}
		defer an.close()
		frame, err := vision.NewCanvas(360, 640, paper)
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

func TestHeelWords(t *testing.T) {
	n := func(vs ...float64) []float64 { return numbers(vs...) }
	a := &screening.Analysis{Facing: "right", Series: screening.Series{Angles: joints.Angles{RateHz: 10, TimeS: n(0, 0.1, 0.2, 0.3, 0.4)},
		HeelRisePctFoot: n(0, 10, 20, 5, 0), Missing: make([]bool, 5), Filled: make([]bool, 5)},
		Reps: []kinematics.Rep{{RepTimes: events.RepTimes{Number: 1, StartS: 0, EndS: 0.4}, Foot: &measure.Foot{}}}}
	h := &a.Reps[0].Foot.Heel
	nan := math.NaN()
	*h = measure.FootRise{MaxPctFoot: estimate(16, 2), MaxCm: stats.Estimate{Value: nan, SD: nan}, AtS: 0.2, Up: true,
		Spans: []trace.Span{{FromS: 0.1, ToS: 0.2}}}
	m := newMotion(a)
	for _, tc := range []struct {
		timeS float64
		want  string
	}{
		{0, ""}, {0.1, "Heel up 8 % of foot (4 to 12)"}, {0.2, "Heel up 16 % of foot (12 to 20)"}, {0.3, ""},
	} {
		if got := m.heelWords(tc.timeS); got != tc.want {
			t.Errorf("at %.1f s: %q, want %q", tc.timeS, got, tc.want)
		}
	}
	h.MaxCm = estimate(4, 0.5)
	if got := m.heelWords(0.2); got != "Heel up 4.0 cm (3.0 to 5.0)" {
		t.Errorf("with a scale: %q", got)
	}
	h.Up = false
	if got := m.heelWords(0.2); got != "" {
		t.Errorf("not clearly up: %q", got)
	}
}

// The centre of mass is drawn where it is in the picture of the moment, also when the
// camera has moved.
func TestMassFollowsTheCamera(t *testing.T) {
	n := func(vs ...float64) []float64 { return numbers(vs...) }
	a := &screening.Analysis{Facing: "left", Series: screening.Series{Angles: joints.Angles{RateHz: 10, TimeS: n(0, 0.1)}, Missing: make([]bool, 2), Filled: make([]bool, 2),
		MassCentrePx: body.Path{X: n(100, 110), Y: n(50, 40)},
		Camera:       []*vision.Similarity{{Scale: 1}, {Scale: 1, DXPx: 30, DYPx: -5}}}}
	m := newMotion(a)
	for _, tc := range []struct {
		timeS, pictureS float64
		want            vision.XY
	}{{0, 0, vision.XY{X: 100, Y: 50}}, {0.1, 0.1, vision.XY{X: 80, Y: 45}}, {0, 0.1, vision.XY{X: 70, Y: 55}}} {
		if got := m.massSeen(tc.timeS, tc.pictureS); math.Hypot(got.X-tc.want.X, got.Y-tc.want.Y) > 1e-9 {
			t.Errorf("at %v s in the picture of %v s: %v, want %v", tc.timeS, tc.pictureS, got, tc.want)
		}
	}
}

// Curves stand below a wide picture and beside a tall one, at a size that a screen shows whole; all of the picture is
// covered by its parts.
func TestAnnotatedSizes(t *testing.T) {
	a, _ := truthAnalysis(t, "slow_30", "slow")
	withBody(a)
	for _, c := range []struct {
		clipW, clipH, w, h int
		beside             bool
	}{
		{1280, 720, 1280, 0, false}, {608, 1080, 0, 1134, true}, {1080, 1920, 0, 1344, true}, {202, 360, 0, 0, true}, {720, 720, 720, 0, false},
	} {
		an, err := newAnnotator(newMotion(sized(a, float64(c.clipH)/720)), c.clipW, c.clipH)
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

// sized returns an analysis whose points lie k times as far from the corner of the picture.
func sized(a *screening.Analysis, k float64) *screening.Analysis {
	out := *a
	out.Series.PointsPx = map[string]body.Path{}
	for name, p := range a.Series.PointsPx {
		q := body.Path{SDPx: p.SDPx}
		for i := range p.X {
			q.X, q.Y = append(q.X, k*p.X[i]), append(q.Y, k*p.Y[i])
		}
		out.Series.PointsPx[name] = q
	}
	return &out
}

// An athlete who is small in the picture is shown without the rest of it, his whole way through
// the clip in it; one who is large in it is shown with all of it.
func TestSmallAthleteIsShownLarge(t *testing.T) {
	a, _ := truthAnalysis(t, "slow_30", "slow")
	withBody(a)
	whole, w, h := newMotion(a), a.Clip.WidthPx, a.Clip.HeightPx
	for _, c := range []struct {
		size  float64 // of the athlete, against the clip's picture
		small bool
	}{{1, false}, {0.5, true}, {0.25, true}} {
		m := newMotion(sized(a, c.size))
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
		for _, timeS := range whole.t {
			for name, p := range m.bodyAt(timeS, an.mapping()).points {
				if !image.Pt(int(p.X), int(p.Y)).In(an.picture) {
					t.Fatalf("%g times as large: the %s lies at %v, outside of %v", c.size, name, p, an.picture)
				}
			}
		}
		if leg := m.bodyAt(whole.t[0], an.mapping()).points; c.small && leg["ankle"].Y-leg["shoulder"].Y < 0.35*float64(an.picture.Dy()) {
			t.Errorf("%g times as large: it is shown %.0f pixels tall of %d", c.size, leg["ankle"].Y-leg["shoulder"].Y, an.picture.Dy())
		}
		an.close()
	}
}

// The middle of a long stretch that was filled in shows no skeleton, its ends and a short one do.
func TestNoSkeletonInALongGap(t *testing.T) {
	a, _ := truthAnalysis(t, "slow_30", "slow")
	m := newMotion(sized(a, 1))
	m.a.Series.Filled = make([]bool, len(m.t))
	at := func(timeS float64) int { i, _, _, _ := m.sample(timeS); return i }
	for i := at(1); i < at(1.4); i++ {
		m.a.Series.Filled[i] = true
	}
	m.a.Series.Filled[at(2)] = true
	for timeS, drawn := range map[float64]bool{0.5: true, 0.99: true, 1.2: false, 1.6: true, 2: true} {
		b := m.bodyAt(timeS, vision.Affine{A: 1, E: 1})
		if got := len(b.points) > 0; got != drawn || math.IsNaN(b.deg[knee]) == drawn {
			t.Errorf("at %.2f s: %d points, the knee at %.0f degrees", timeS, len(b.points), b.deg[knee])
		}
	}
}
