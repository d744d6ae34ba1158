package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"holdfast/archive"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

const (
	program   = "bin/holdfast"
	longTimes = 6 // so often the usual clip is repeated for one of a minute
	runs      = 7
	steps     = 50
	maxBytes  = 1 << 30
	waitLimit = time.Minute
)

// A deskRow is what a coach waits for: milliseconds, how often it was measured.
type deskRow struct {
	what string
	ms   []float64
}

// at returns a percentile of the milliseconds: of n values the one of which so many
// per cent are no larger.
func (r *deskRow) at(percent float64) float64 {
	if len(r.ms) == 0 {
		return math.NaN()
	}
	sorted := slices.Sorted(slices.Values(r.ms))
	return sorted[max(0, int(math.Ceil(percent/100*float64(len(sorted))))-1)]
}

// subject is a clip with all that the page has of it.
type subject struct {
	name     string
	path     string // the clip
	video    string // the same for the browser
	clip     *media.Clip
	track    *pose.Track
	analysis *screening.Analysis
	id       string // in the archive
}

// measureDesk measures re-computation after a correction, and the page with a real
// browser: on a clip, and on one of a minute that repeats it. The minute's track is the
// clip's, repeated too, so that no minute of inference is needed.
func measureDesk(ctx context.Context, folder string, clip *media.Clip, track *pose.Track) (
	rows []deskRow, err error) {
	short := &subject{path: clip.Path, clip: clip, track: track, video: filepath.Join(folder, "web.mp4")}
	if err := media.Transcode(ctx, clip, short.video, media.TranscodeOptions{}, nil); err != nil {
		return nil, err
	}
	long := &subject{path: filepath.Join(folder, "minute.mp4"), video: filepath.Join(folder, "minute_web.mp4")}
	for from, to := range map[string]string{short.path: long.path, short.video: long.video} {
		if err := repeatVideo(ctx, from, to); err != nil {
			return nil, err
		}
	}
	if long.clip, err = media.Open(ctx, long.path); err != nil {
		return nil, err
	}
	if long.track, err = repeated(track, long.clip.TimesS); err != nil {
		return nil, err
	}
	for _, s := range []*subject{short, long} {
		s.name = fmt.Sprintf("%.0f s at %.0f/s", s.clip.DurationS, s.clip.FrameRateHz)
		if s.analysis, err = screening.Measure(s.clip, s.track, screening.Options{Model: model}); err != nil {
			return nil, err
		}
		info, half := s.analysis.Clip, *s.track
		info.FrameRateHz, info.CaptureRateHz, info.Frames = info.FrameRateHz/2, info.CaptureRateHz/2, 0
		half.Poses = everySecond(s.track.Poses)
		for _, v := range []struct {
			info  screening.ClipInfo
			track *pose.Track
		}{{info, &half}, {s.analysis.Clip, s.track}} {
			row, err := recompute(v.info, v.track)
			if err != nil {
				return nil, err
			}
			rows = append(rows, row)
		}
	}
	page, err := measurePage(ctx, folder, short, long)
	return append(rows, page...), err
}

func repeatVideo(ctx context.Context, from, to string) error {
	c := exec.CommandContext(ctx, "ffmpeg", "-v", "error", "-nostdin", "-stream_loop", fmt.Sprint(longTimes-1), "-i", from,
		"-an", "-c", "copy", "-y", to)
	if out, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("repeating the clip: %w: %s", err, out)
	}
	return nil
}

// repeated is a track as that of a clip that shows the same over and over, with the
// frame times of that clip.
func repeated(track *pose.Track, timesS []float64) (*pose.Track, error) {
	if len(timesS) != longTimes*len(track.Poses) {
		return nil, fmt.Errorf("repeating the clip: it has %d frames, want %d times %d", len(timesS), longTimes,
			len(track.Poses))
	}
	out := *track
	out.Poses = make([]pose.Pose, len(timesS))
	for i, t := range timesS {
		p := track.Poses[i%len(track.Poses)]
		p.Index, p.TimeS = i, t
		out.Poses[i] = p
	}
	return &out, nil
}

// everySecond halves the frame rate.
func everySecond(poses []pose.Pose) []pose.Pose {
	var out []pose.Pose
	for i := 0; i < len(poses); i += 2 {
		p := poses[i]
		p.Index = i / 2
		out = append(out, p)
	}
	return out
}

// correction moves the knee at the bottom of the first rep.
func correction(a *screening.Analysis, track *pose.Track, byPx float64) screening.Corrections {
	frame := 0
	for i := range track.Poses {
		if math.Abs(track.Poses[i].TimeS-a.Reps[0].BottomS) < math.Abs(track.Poses[frame].TimeS-a.Reps[0].BottomS) {
			frame = i
		}
	}
	k := slices.Index(track.KeypointNames, a.NearSide+"_knee")
	if p := track.Poses[frame]; k >= 0 && p.Found {
		at := p.Keypoints[k]
		return screening.Corrections{Points: []screening.PointCorrection{{Frame: frame, Point: "knee", Side: "near",
			XPx: at.X + byPx, YPx: at.Y}}}
	}
	return screening.Corrections{}
}

func recompute(info screening.ClipInfo, track *pose.Track) (deskRow, error) {
	row := deskRow{what: fmt.Sprintf("measuring again, %.0f s at %.0f/s", info.DurationS, info.FrameRateHz)}
	first, err := screening.MeasureAgain(info, track, screening.Options{Model: model})
	if err != nil {
		return row, err
	}
	for i := range runs {
		fix := correction(first, track, float64(5+i))
		if fix.Empty() {
			return row, errors.New("the clip shows no knee to correct")
		}
		spent, err := timed(func() error {
			_, err := screening.MeasureAgain(info, track, screening.Options{Model: model, Corrections: &fix})
			return err
		})
		if err != nil {
			return row, err
		}
		row.ms = append(row.ms, spent.Seconds()*1000)
	}
	return row, nil
}

// measurePage puts both clips into an archive as if they had been analysed, serves it
// and looks at it with a browser.
func measurePage(ctx context.Context, folder string, short, long *subject) (rows []deskRow, err error) {
	data := filepath.Join(folder, "data")
	if err := fillArchive(ctx, data, short, long); err != nil {
		return nil, err
	}
	base, tab, stop, err := look(ctx, folder, data)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, stop()) }()
	if _, err := chromedp.Call(tab, page.AddScriptToEvaluateOnNewDocument,
		page.AddScriptToEvaluateOnNewDocumentParams{Source: watchScript}); err != nil {
		return nil, fmt.Errorf("preparing the browser: %w", err)
	}
	if _, err := chromedp.Call(tab, emulation.SetDeviceMetricsOverride,
		emulation.SetDeviceMetricsOverrideParams{Width: 1280, Height: 800, DeviceScaleFactor: 1}); err != nil {
		return nil, fmt.Errorf("preparing the browser: %w", err)
	}
	for _, s := range []*subject{short, long} {
		loads, err := pageLoad(tab, base, s)
		if err != nil {
			return nil, err
		}
		scrubs, err := scrub(tab, s)
		if err != nil {
			return nil, err
		}
		rows = append(append(rows, loads...), scrubs...)
	}
	if err := chromedp.Do(tab, chromedp.Navigate("about:blank")); err != nil {
		return nil, err
	}
	for _, s := range []*subject{short, long} {
		row, err := correct(ctx, base, s)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// look serves a data folder and opens a browser before it; stop ends both.
func look(ctx context.Context, folder, data string) (base string, tab context.Context, stop func() error, err error) {
	path, err := findBrowser()
	if err != nil {
		return "", nil, nil, err
	}
	base, end, err := serve(ctx, data)
	if err != nil {
		return "", nil, nil, err
	}
	all, endAll := chromedp.NewExecAllocator(ctx, append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path),
		chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(filepath.Join(folder, "browser")), chromedp.Flag("disable-quic",
			true), chromedp.Flag("disable-component-update", true))...)
	tab, endTab := chromedp.NewContext(all)
	stop = func() error {
		endTab()
		endAll()
		return end()
	}
	if err := chromedp.Do(tab, chromedp.Navigate("about:blank")); err != nil {
		return "", nil, nil, errors.Join(fmt.Errorf("starting the browser: %w", err), stop())
	}
	return base, tab, stop, nil
}

func fillArchive(ctx context.Context, data string, subjects ...*subject) (err error) {
	a, err := archive.Open(ctx, data, archive.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	athlete, err := a.CreateAthlete(ctx, archive.Athlete{Name: "bench"})
	if err != nil {
		return err
	}
	visit, err := a.VisitFor(ctx, archive.Visit{AthleteID: athlete.ID, Date: time.Now().Format(time.DateOnly),
		Condition: archive.Fresh})
	if err != nil {
		return err
	}
	for _, s := range subjects {
		keep := func(name string, r io.Reader) (archive.File, error) {
			f, err := a.Put(ctx, r, maxBytes)
			f.Name = name
			return f, err
		}
		keepFile := func(name, path string) (archive.File, error) {
			r, err := os.Open(path)
			if err != nil {
				return archive.File{}, err
			}
			defer r.Close()
			return keep(name, r)
		}
		original, err := keepFile(filepath.Base(s.path), s.path)
		if err != nil {
			return err
		}
		clip, _, err := a.AddClip(ctx, archive.Clip{VisitID: visit.ID, AthleteID: athlete.ID, Name: original.Name,
			SHA256: original.SHA256, SizeBytes: original.SizeBytes})
		if err != nil {
			return err
		}
		s.id = clip.ID
		analysis := *s.analysis
		analysis.Clip.Path, analysis.Clip.SHA256 = "", original.SHA256
		text, err := json.Marshal(&analysis)
		if err != nil {
			return fmt.Errorf("writing the analysis: %w", err)
		}
		var track bytes.Buffer
		if err := pose.WriteTrack(&track, s.track); err != nil {
			return err
		}
		var files []archive.File
		for _, made := range []struct {
			name string
			r    io.Reader
		}{{"analysis.json", bytes.NewReader(text)}, {"track.json.gz", &track}} {
			f, err := keep(made.name, made.r)
			if err != nil {
				return err
			}
			files = append(files, f)
		}
		video, err := keepFile("web.mp4", s.video)
		if err != nil {
			return err
		}
		if _, err := a.SaveResult(ctx, clip.ID, append(files, video), 0); err != nil {
			return err
		}
	}
	return nil
}

// serve starts the program at a free port, and returns its address and how to end it.
func serve(ctx context.Context, data string) (base string, stop func() error, err error) {
	c := exec.CommandContext(ctx, program, "serve", "--data", data, "--listen", "127.0.0.1:0")
	var said bytes.Buffer
	c.Stderr = &said
	c.Cancel = func() error { return c.Process.Signal(syscall.SIGINT) }
	c.WaitDelay = waitLimit
	out, err := c.StdoutPipe()
	if err != nil {
		return "", nil, fmt.Errorf("starting the server: %w", err)
	}
	if err := c.Start(); err != nil {
		return "", nil, fmt.Errorf("starting the server: %w", err)
	}
	lines := bufio.NewReader(out)
	first, err := lines.ReadString('\n')
	address, ok := strings.CutPrefix(strings.TrimSpace(first), "Holdfast is at ")
	if err != nil || !ok {
		_ = c.Process.Kill()
		_ = c.Wait()
		return "", nil, fmt.Errorf("starting the server: it says %q", said.String())
	}
	go func() { _, _ = io.Copy(io.Discard, lines) }() // ends with the server
	return strings.TrimSuffix(address, "/"), func() error {
		if err := c.Process.Signal(syscall.SIGINT); err != nil {
			return fmt.Errorf("stopping the server: %w", err)
		}
		if err := c.Wait(); err != nil {
			return fmt.Errorf("stopping the server: %w: %s", err, said.String())
		}
		return nil
	}, nil
}

func findBrowser() (string, error) {
	names := []string{"chromium", "chromium-browser", "google-chrome"}
	for _, name := range names {
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	return "", fmt.Errorf("page load and scrubbing are measured in a browser: install Chromium (none of %s was found)",
		strings.Join(names, ", "))
}

// watchScript notes when the overlay is first drawn, and when first over a picture of
// the video.
const watchScript = `(() => {
	const stroke = CanvasRenderingContext2D.prototype.stroke;
	CanvasRenderingContext2D.prototype.stroke = function (...a) {
		if (this.canvas.id === "overlay") {
			window.drawnMS ??= performance.now();
			const video = document.querySelector("#video");
			if (video.readyState >= 2 && !video.seeking) window.overMS ??= performance.now();
		}
		return stroke.apply(this, a);
	};
})()`

// pageLoad opens the page of a clip again and again.
func pageLoad(tab context.Context, base string, s *subject) ([]deskRow, error) {
	rows := []deskRow{
		{what: "page, " + s.name + ": until the load event"},
		{what: "page, " + s.name + ": until the overlay is drawn"},
		{what: "page, " + s.name + ": until it is drawn over the video"},
	}
	for range runs {
		ctx, cancel := context.WithTimeout(tab, waitLimit)
		err := chromedp.Do(ctx, chromedp.Navigate("about:blank"), chromedp.Navigate(base+"/clips/"+s.id))
		var ms []float64
		if err == nil {
			ms, err = chromedp.Run(ctx, chromedp.Evaluate[[]float64](`new Promise((done) => { const look = () => {
				const load = performance.getEntriesByType("navigation")[0]?.loadEventEnd;
				if (load > 0 && window.overMS) done([load, window.drawnMS, window.overMS]);
				else setTimeout(look, 10); }; look(); })`, chromedp.EvalAwaitPromise))
		}
		cancel()
		if err != nil {
			return nil, fmt.Errorf("opening the page of %s: %w", s.name, err)
		}
		for i := range rows {
			rows[i].ms = append(rows[i].ms, ms[i])
		}
	}
	return rows, nil
}

// scrub presses keys on the open page, and takes the time from each to the new frame
// on the screen: the first picture after the video has sought and the overlay is drawn.
func scrub(tab context.Context, s *subject) ([]deskRow, error) {
	var rows []deskRow
	for _, way := range []struct {
		what string
		key  string
		mods []chromedp.Modifier
	}{
		{"a frame on", kb.ArrowRight, nil},
		{"a frame back", kb.ArrowLeft, nil},
		{"ten frames on", kb.ArrowRight, []chromedp.Modifier{chromedp.ModifierShift}},
	} {
		row := deskRow{what: "scrubbing, " + s.name + ": " + way.what}
		ctx, cancel := context.WithTimeout(tab, 2*waitLimit)
		for range steps {
			err := chromedp.Do(ctx, chromedp.Evaluate[chromedp.Void](`{
				const video = document.querySelector("#video");
				document.querySelector("#screen").focus({ preventScroll: true });
				window.took = new Promise((done) => {
					let began;
					addEventListener("keydown", () => { began = performance.now(); }, { capture: true, once: true });
					const sought = () => requestAnimationFrame(() => {
						if (video.seeking) { video.addEventListener("seeked", sought, { once: true }); return; }
						done(performance.now() - began);
					});
					video.addEventListener("seeked", sought, { once: true });
				});
			}`), chromedp.KeyEvent(way.key, chromedp.KeyModifiers(way.mods...)))
			var ms float64
			if err == nil {
				ms, err = chromedp.Run(ctx, chromedp.Evaluate[float64](`window.took`, chromedp.EvalAwaitPromise))
			}
			if err != nil {
				cancel()
				return nil, fmt.Errorf("scrubbing %s: %w", s.name, err)
			}
			row.ms = append(row.ms, ms)
		}
		cancel()
		rows = append(rows, row)
	}
	return rows, nil
}

// correct sends corrections to the server as the page does.
func correct(ctx context.Context, base string, s *subject) (deskRow, error) {
	row := deskRow{what: "server's answer to a correction, " + s.name}
	for i := range runs {
		fix := correction(s.analysis, s.track, float64(5+i))
		text, err := json.Marshal(fix)
		if err != nil {
			return row, err
		}
		spent, err := timed(func() error {
			r, err := http.NewRequestWithContext(ctx, http.MethodPost, base+"/api/clips/"+s.id+"/corrections",
				bytes.NewReader(text))
			if err != nil {
				return err
			}
			r.Header.Set("Content-Type", "application/json")
			r.Header.Set("X-Holdfast", "1")
			w, err := http.DefaultClient.Do(r)
			if err != nil {
				return err
			}
			defer w.Body.Close()
			said, err := io.ReadAll(io.LimitReader(w.Body, 1<<10))
			if err == nil && w.StatusCode != http.StatusOK {
				err = fmt.Errorf("the server answers %s: %s", w.Status, said)
			}
			return err
		})
		if err != nil {
			return row, fmt.Errorf("correcting %s: %w", s.name, err)
		}
		row.ms = append(row.ms, spent.Seconds()*1000)
	}
	return row, nil
}
