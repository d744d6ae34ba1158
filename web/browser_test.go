package web_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	_ "holdfast/models/testruntime"
	"holdfast/screening"
	"holdfast/screening/history"
	"holdfast/web"
)

// The real program, and a real browser at its page: a coach's first day with it. The
// pictures of every page and state go to the folder that HOLDFAST_SCREENSHOTS names.
func TestBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	program := buildProgram(t)
	t.Run("desk", func(t *testing.T) { testDesk(t, program) })
	t.Run("password", func(t *testing.T) { testPassword(t, program) })
}

// Time limits. They end a test that hangs; no test waits for one to pass.
const (
	stepLimit    = 40 * time.Second
	measureLimit = 4 * time.Minute
)

// testDesk is one story. Without the clips of the second and third chapter there is
// nothing to tell.
func testDesk(t *testing.T, program string) {
	d := newCoach(t, program)
	for i, chapter := range []struct {
		name string
		test func(*coach, *testing.T)
	}{
		{"empty pages say what to do", (*coach).emptyPages},
		{"clips are dropped", (*coach).dropClips},
		{"progress is seen", (*coach).seeProgress},
		{"a clip that fails says why", (*coach).seeFailure},
		{"a clip is stepped through", (*coach).stepFrames},
		{"a point is dragged", (*coach).dragPoint},
		{"a tempo is changed", (*coach).changeTempo},
		{"tempos are compared", (*coach).compare},
		{"reports are downloaded", (*coach).download},
		{"the history is opened", (*coach).history},
		{"conditions are compared", (*coach).conditions},
		{"the example comes and goes", (*coach).example},
	} {
		if !t.Run(chapter.name, func(t *testing.T) {
			chapter.test(d, t)
			d.quiet(t)
		}) && i > 0 && len(d.clips) < len(shipped) {
			return
		}
	}
}

func (d *coach) emptyPages(t *testing.T) {
	d.open(t, "/")
	d.do(t, chromedp.WaitVisible(chromedp.CSS(`[data-testid=no-jobs]`)))
	for _, want := range []string{"Drop a clip", "Queue is empty", "No clips yet", "Drop your first clip",
		"Load the example athlete", "How to film"} {
		d.hasText(t, want)
	}
	d.audit(t)
	d.shoot(t, "home-empty")
	d.tabOrder(t, "skip", "brand", "nav-home", "nav-athletes", "nav-compare", "choose", "athlete", "athlete-name",
		"height", "date", "condition", "example-load")
	for _, p := range []struct{ path, name, text string }{
		{"/athletes", "athletes-empty", "athlete"},
		{"/compare", "compare-empty", "clip"},
		{"/about", "about", "coaching aid"},
	} {
		d.open(t, p.path)
		d.do(t, chromedp.WaitVisible(chromedp.CSS(`main h1`)))
		d.hasText(t, p.text)
		d.audit(t)
		d.shoot(t, p.name)
	}
	d.console.expect("404")
	d.open(t, "/clips/01a0d0aa-0000-7000-8000-000000000000")
	d.do(t, chromedp.WaitVisible(chromedp.CSS(`main h1`)))
	d.hasText(t, "Not found")
	d.audit(t)
	d.shoot(t, "not-found")
	d.console.expect("")
}

// shipped are the clips of the story: those with 30 frames a second, which take half
// as long as the 60 of slow.mp4, fast.mp4 and jump.mp4.
var shipped = []string{"slow_30.mp4", "fast_30.mp4", "jump_30.mp4"}

func clipPath(t *testing.T, name string) string {
	t.Helper()
	for _, folder := range []string{"clips", "movements", "front"} {
		path, err := filepath.Abs(filepath.Join("..", "testdata", folder, name))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := os.Stat(path); err == nil {
			return path
		}
	}
	t.Fatalf("no clip is called %s", name)
	return ""
}

func (d *coach) dropClips(t *testing.T) {
	d.open(t, "/")
	d.do(t,
		chromedp.WaitVisible(chromedp.CSS(`#athlete-name`)),
		chromedp.SetUploadFiles(chromedp.CSS(`#files`), []string{clipPath(t, shipped[0]), clipPath(t, shipped[1])}))
	d.until(t, stepLimit, `document.querySelectorAll("[data-testid=chosen-clip]").length === 2`)

	// Without a name nothing is sent, and the keyboard is led to where it is missing.
	d.do(t, chromedp.Click(chromedp.CSS(`#send`)))
	d.until(t, stepLimit, `document.activeElement.id === "athlete-name" &&
		document.querySelector("#name-error").textContent !== ""`)
	d.shoot(t, "home-name-missing")
	d.do(t, chromedp.SendKeys(chromedp.CSS(`#athlete-name`), "Robin <b>Example</b>"))

	// The third clip is dropped on the page.
	d.drop(t, "#drop", clipPath(t, shipped[2]))
	d.until(t, stepLimit, `document.querySelectorAll("[data-testid=chosen-clip]").length === 3`)
	d.audit(t)
	d.shoot(t, "home-chosen")
	d.do(t, chromedp.Click(chromedp.CSS(`#send`)))
	d.until(t, measureLimit, `document.querySelectorAll("[data-testid=job]").length >= 3 &&
		document.querySelectorAll("[data-testid=chosen-clip]").length === 0`)

	var jobs jobList
	d.get(t, "/api/jobs", &jobs)
	var names []string
	for _, j := range jobs.Jobs {
		names = append(names, j.ClipName)
		d.clips[j.ClipName] = j.ClipID
		d.athlete = j.AthleteID
		if j.AthleteName != "Robin <b>Example</b>" {
			t.Errorf("the athlete is %q", j.AthleteName)
		}
	}
	slices.Sort(names)
	want := slices.Sorted(slices.Values(shipped))
	if !slices.Equal(slices.Compact(names), want) {
		t.Fatalf("the queue has %q, want %q", names, want)
	}
	if n := eval[int](t, d, `document.querySelectorAll("main b").length`); n != 0 {
		t.Errorf("a name ran as markup: %d elements", n)
	}
}

type jobList struct {
	Jobs []struct {
		ClipID      string `json:"clip_id"`
		ClipName    string `json:"clip_name"`
		AthleteID   string `json:"athlete_id"`
		AthleteName string `json:"athlete_name"`
		Kind        string `json:"kind"`
		State       string `json:"state"`
		Done        int    `json:"done"`
		Total       int    `json:"total"`
		Error       string `json:"error"`
		Hint        string `json:"hint"`
		EndedAt     string `json:"ended_at"`
	} `json:"jobs"`
}

func (d *coach) seeProgress(t *testing.T) {
	const bar = `[data-testid=job][data-state=running] progress`
	type sight struct {
		Clip  string
		Done  float64
		Total float64
		Words string
	}
	look := `(() => { const p = document.querySelector("` + bar + `"); if (!p || !p.hasAttribute("value")) return null;
		const j = p.closest("[data-testid=job]");
		return { Clip: j.dataset.clip, Done: p.value, Total: p.max, Words: j.textContent }; })()`
	first := until[sight](t, d, measureLimit, `(() => { const s = `+look+`; return s && s.Done > 0 && s; })()`)
	if !regexp.MustCompile(`\d+ of \d+ frames`).MatchString(first.Words) {
		t.Errorf("the queue does not say how many frames are done: %q", first.Words)
	}
	d.shoot(t, "home-queue")
	later := until[sight](t, d, measureLimit,
		fmt.Sprintf(`(() => { const s = %s; return s && (s.Clip !== %q || s.Done > %g) && s; })()`,
			look, first.Clip, first.Done))
	if later.Clip == first.Clip && (later.Total != first.Total || later.Done > later.Total) {
		t.Errorf("progress went from %v to %v", first, later)
	}

	// A clip that waits has a page already.
	var jobs jobList
	d.get(t, "/api/jobs", &jobs)
	for _, j := range jobs.Jobs {
		if j.State != "waiting" || j.Kind != "analyze" {
			continue
		}
		d.open(t, "/clips/"+j.ClipID)
		d.do(t, chromedp.WaitVisible(chromedp.CSS(`#waiting [data-testid=job]`)))
		d.shoot(t, "clip-waiting")
		break
	}
	d.open(t, "/")
	for _, name := range shipped {
		d.until(t, measureLimit, fmt.Sprintf(`document.querySelector('[data-testid=job][data-state=done][data-clip=%q]')`,
			d.clips[name]))
	}
	d.until(t, stepLimit, `document.querySelector("#recent [data-compare]") &&
		document.querySelectorAll("#recent img").length === 3`)
	d.audit(t)
	d.shoot(t, "home-done")
}

func (d *coach) seeFailure(t *testing.T) {
	dir := t.TempDir()
	grey := filepath.Join(dir, "empty_room.mp4")
	ffmpeg(t, "-f", "lavfi", "-i", "color=c=gray:s=320x240:r=30:d=1", "-pix_fmt", "yuv420p", grey)
	text := filepath.Join(dir, "notes.mp4")
	if err := os.WriteFile(text, []byte(strings.Repeat("this is no film ", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	d.open(t, "/")
	d.do(t, chromedp.SetUploadFiles(chromedp.CSS(`#files`), []string{grey}),
		chromedp.SetValue(chromedp.CSS(`#athlete`), d.athlete), chromedp.Click(chromedp.CSS(`#send`)))
	d.until(t, measureLimit, `document.querySelector("[data-testid=job][data-state=failed]")`)
	words := eval[string](t, d, `document.querySelector("[data-testid=job][data-state=failed]").textContent`)
	if !strings.Contains(words, "What to do") {
		t.Errorf("a failed clip does not say what to do: %q", words)
	}
	d.keepsStill(t)
	d.open(t, "/?athlete="+d.athlete)
	d.console.expect("status of 4")
	d.do(t, chromedp.SetUploadFiles(chromedp.CSS(`#files`), []string{text}), chromedp.Click(chromedp.CSS(`#send`)))
	d.until(t, stepLimit, `document.querySelector("#toasts").textContent.trim()`)
	// One that did not come whole says how much of it came.
	cut := filepath.Join(dir, "cut.mp4")
	if err := os.WriteFile(cut, []byte("\x00\x00\x00\x10ftypmp42\x00\x00\x00\x00\x00\x4c\x4b\x40mdat"+
		strings.Repeat("x", 1_200_000)), 0o600); err != nil {
		t.Fatal(err)
	}
	d.do(t, chromedp.SetUploadFiles(chromedp.CSS(`#files`), []string{cut}), chromedp.Click(chromedp.CSS(`#send`)))
	d.until(t, stepLimit, `document.body.innerText.includes("1.2 of about 5.0 MB arrived")`)
	d.audit(t)
	d.shoot(t, "home-failed")
	d.console.expect("")
}

// frameList is the answer of /api/clips/ID/frames.
type frameList struct {
	TimeS  []float64     `json:"time_s"`
	Names  []string      `json:"names"`
	Points [][][]float64 `json:"points"`
}

func (d *coach) openClip(t *testing.T, name string) {
	t.Helper()
	d.open(t, "/clips/"+d.clips[name])
	d.until(t, measureLimit, `document.querySelector("#video").readyState >= 2 &&
		document.querySelector("#overlay").dataset.frame !== undefined`)
}

// atFrame waits until a frame is shown and compares what the page says of it with
// the times that the server knows.
func (d *coach) atFrame(t *testing.T, frames *frameList, want int) {
	t.Helper()
	d.until(t, stepLimit, fmt.Sprintf(`document.querySelector("#overlay").dataset.frame === "%d" &&
		!document.querySelector("#video").seeking`, want))
	type readout struct {
		Time, Frame, Scrub string
		VideoS             float64
	}
	got := eval[readout](t, d, `({ Time: document.querySelector("#r-time").textContent,
		Frame: document.querySelector("#r-frame").textContent,
		Scrub: document.querySelector("#scrub").value, VideoS: document.querySelector("#video").currentTime })`)
	if s := fmt.Sprintf("%.3f s", frames.TimeS[want]); got.Time != s {
		t.Errorf("frame %d: the page says %q, want %q", want, got.Time, s)
	}
	if s := fmt.Sprintf("frame %d of %d", want+1, len(frames.TimeS)); got.Frame != s {
		t.Errorf("frame %d: the page says %q, want %q", want, got.Frame, s)
	}
	if got.Scrub != fmt.Sprint(want) {
		t.Errorf("frame %d: the slider stands at %s", want, got.Scrub)
	}
	next := math.Inf(1)
	if want+1 < len(frames.TimeS) {
		next = frames.TimeS[want+1]
	}
	if first := frames.TimeS[0]; got.VideoS < frames.TimeS[want]-first-1e-3 || got.VideoS-1e-3 > next {
		t.Errorf("frame %d: the video stands at %.4f s, want %.4f to %.4f", want, got.VideoS, frames.TimeS[want], next)
	}
}

func (d *coach) stepFrames(t *testing.T) {
	d.open(t, "/")
	d.do(t, chromedp.Click(chromedp.CSS(fmt.Sprintf(`[data-testid=job][data-clip=%q] [data-testid=job-open]`,
		d.clips["fast_30.mp4"]))))
	d.until(t, measureLimit, `document.querySelector("#video")?.readyState >= 2 &&
		document.querySelector("#overlay").dataset.frame !== undefined`)
	var frames frameList
	d.get(t, "/api/clips/"+d.clips["fast_30.mp4"]+"/frames", &frames)
	var a screening.Analysis
	d.get(t, "/api/clips/"+d.clips["fast_30.mp4"]+"/analysis", &a)
	if got := eval[string](t, d, `document.querySelector("#clip-tempos").textContent`); got != "fast" {
		t.Errorf("the clip is called %q, want fast", got)
	}

	bottom := nearestFrame(frames.TimeS, a.Reps[0].BottomS)
	d.atFrame(t, &frames, bottom)
	d.audit(t)
	d.shoot(t, "clip")
	d.tabOrder(t, "brand", "correct-toggle", "compare-now", "clip-edit", "scrub", "back1", "play", "on1", "rep",
		"to-bottom_s")
	d.do(t, chromedp.Evaluate[chromedp.Void](
		`document.querySelector("#screen").focus({ preventScroll: true }); scrollTo(0, 0)`))
	for _, step := range []struct {
		keys string
		mods []chromedp.Modifier
		want int
	}{
		{kb.ArrowRight, nil, bottom + 1},
		{kb.ArrowRight, nil, bottom + 2},
		{kb.ArrowRight, nil, bottom + 3},
		{kb.ArrowLeft, nil, bottom + 2},
		{kb.ArrowRight, []chromedp.Modifier{chromedp.ModifierShift}, bottom + 12},
		{kb.ArrowLeft, []chromedp.Modifier{chromedp.ModifierShift}, bottom + 2},
		{kb.Home, nil, 0},
		{kb.End, nil, len(frames.TimeS) - 1},
		{"[", nil, -1},
	} {
		if step.want < 0 { // a rep back: to the bottom of one
			d.do(t, chromedp.KeyEvent(step.keys))
			break
		}
		d.do(t, chromedp.KeyEvent(step.keys, chromedp.KeyModifiers(step.mods...)))
		d.atFrame(t, &frames, step.want)
	}
	// The buttons of the reps lead to their bottoms, the slider and the curve anywhere.
	for i := range a.Reps {
		d.do(t, chromedp.Click(chromedp.CSS(fmt.Sprintf(`[data-testid=rep][data-rep="%d"]`, a.Reps[i].Number))))
		d.atFrame(t, &frames, nearestFrame(frames.TimeS, a.Reps[i].BottomS))
	}
	// The picture has the athlete drawn on it, and none when all is switched off.
	inked := func() int {
		return eval[int](t, d, `(() => { const c = document.querySelector("#overlay"),
			p = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
			let n = 0; for (let i = 3; i < p.length; i += 4) n += p[i] > 0; return n; })()`)
	}
	if inked() == 0 {
		t.Error("nothing is drawn over the video")
	}
	toggle := `for (const i of document.querySelectorAll("#switches input"))
		if (i.checked === %v && i.value !== "face") i.click()`
	d.do(t, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(toggle, true)))
	if n := inked(); n != 0 {
		t.Errorf("%d pixels are drawn though all is switched off", n)
	}
	d.do(t, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(toggle, false)))
	d.do(t, chromedp.Evaluate[chromedp.Void](`document.querySelector("#face-switch").click();
		document.querySelectorAll("details").forEach((x) => { x.open = true; }); scrollTo(0, 0)`))
	d.shoot(t, "clip-all-drawn")
	// A box that was clicked keeps the keys to itself.
	d.do(t, chromedp.Evaluate[chromedp.Void](`document.querySelector("#face-switch").click();
		document.querySelector("#screen").focus({ preventScroll: true })`))

	// It plays to the end and stops there, from the last frame asked for: keys are quicker than the video's seeks.
	d.do(t, chromedp.Evaluate[chromedp.Void](`for (const [key, shiftKey] of [["End"], ["ArrowLeft", true], [" "]])
		document.querySelector("#screen").dispatchEvent(new KeyboardEvent("keydown", { key, shiftKey, bubbles: true }));
		window.begun = false;
		document.querySelector("video").addEventListener("playing", () => { window.begun = true; })`))
	d.until(t, stepLimit, "window.begun")
	d.until(t, stepLimit, fmt.Sprintf(`document.querySelector("#play").textContent === "Play" &&
		Number(document.querySelector("#overlay").dataset.frame) >= %d`, len(frames.TimeS)-3))
}

func nearestFrame(timesS []float64, s float64) int {
	best := 0
	for i := range timesS {
		if math.Abs(timesS[i]-s) < math.Abs(timesS[best]-s) {
			best = i
		}
	}
	return best
}

// state is what a correction changes.
type state struct {
	revision int
	canUndo  bool
	canRedo  bool
	changes  int
	analysis map[string]any
	typed    screening.Analysis
}

func (d *coach) state(t *testing.T, clip string) state {
	t.Helper()
	var about struct {
		Clip struct {
			Result struct {
				Revision int `json:"revision"`
			} `json:"result"`
		} `json:"clip"`
		CanUndo     bool  `json:"can_undo"`
		CanRedo     bool  `json:"can_redo"`
		Corrections []any `json:"corrections"`
	}
	d.get(t, "/api/clips/"+clip, &about)
	s := state{revision: about.Clip.Result.Revision, canUndo: about.CanUndo, canRedo: about.CanRedo,
		changes: len(about.Corrections)}
	d.get(t, "/api/clips/"+clip+"/analysis", &s.analysis)
	d.get(t, "/api/clips/"+clip+"/analysis", &s.typed)
	return s
}

// revised waits until the page shows a result after the given one.
func (d *coach) revised(t *testing.T, after int) {
	t.Helper()
	d.until(t, stepLimit, fmt.Sprintf(`Number(document.querySelector("#took").dataset.revision) > %d`, after))
}

func (d *coach) dragPoint(t *testing.T) {
	const name = "slow_30.mp4"
	clip := d.clips[name]
	d.openClip(t, name)
	var frames frameList
	d.get(t, "/api/clips/"+clip+"/frames", &frames)
	before := d.state(t, clip)
	frame := nearestFrame(frames.TimeS, before.typed.Reps[0].BottomS)
	d.atFrame(t, &frames, frame)
	d.do(t, chromedp.Click(chromedp.CSS(`#correct-toggle`)), chromedp.WaitVisible(chromedp.CSS(`#correct`)))
	d.audit(t)
	d.shoot(t, "clip-correcting")

	knee := slices.Index(frames.Names, before.typed.NearSide+"_knee")
	if knee < 0 {
		t.Fatalf("no knee of side %q among %q", before.typed.NearSide, frames.Names)
	}
	at := frames.Points[frame][knee]
	d.do(t, chromedp.Evaluate[chromedp.Void](`document.querySelector("#screen").scrollIntoView({ block: "center" })`))
	x, y := d.on(t, at[0], at[1])
	mouse := func(kind input.DispatchMouseEventType, dx, dy float64) chromedp.Action[chromedp.Void] {
		return chromedp.MouseEvent(kind, x+dx, y+dy, chromedp.ButtonLeft, chromedp.ClickCount(1))
	}
	const moved = 14.0 // CSS pixels
	d.do(t, mouse(chromedp.MouseMoved, 0, 0), mouse(chromedp.MousePressed, 0, 0), mouse(chromedp.MouseMoved, moved/2, 2),
		mouse(chromedp.MouseMoved, moved, 4), mouse(chromedp.MouseReleased, moved, 4))
	d.revised(t, before.revision)
	after := d.state(t, clip)
	d.hasText(t, fmt.Sprintf("knee moved on frame %d", frame+1))
	switch c := after.typed.Corrections; {
	case after.revision != before.revision+1 || !after.canUndo:
		t.Errorf("revision %d after %d, can be undone: %v", after.revision, before.revision, after.canUndo)
	case c == nil || len(c.Points) != 1 || c.Points[0].Point != "knee" || c.Points[0].Frame != frame:
		t.Errorf("the analysis has the corrections %+v", c)
	case c.Points[0].XPx <= at[0]:
		t.Errorf("the knee is at %.1f px, from %.1f px", c.Points[0].XPx, at[0])
	}
	sample := 0
	for i, s := range after.typed.Series.TimeS {
		if math.Abs(s-frames.TimeS[frame]) < math.Abs(after.typed.Series.TimeS[sample]-frames.TimeS[frame]) {
			sample = i
		}
	}
	if !after.typed.Series.Corrected[sample] || slices.Contains(before.typed.Series.Corrected, true) {
		t.Error("the sample that was corrected is not marked as such, or others were before")
	}
	old, now := before.typed.Reps[0].Angles[body.KneeFlexion].MaxDeg, after.typed.Reps[0].Angles[body.KneeFlexion].MaxDeg
	if old == now {
		t.Errorf("the knee's largest flexion is still %.2f degrees", old)
	}
	took := eval[string](t, d, `document.querySelector("#took").textContent + ", on the page after " +
		document.querySelector("#took").dataset.pageMs + " ms"`)
	t.Logf("knee %.1f to %.1f degrees; %s", old, now, took)
	d.shoot(t, "clip-corrected")

	d.do(t, chromedp.Click(chromedp.CSS(`#undo`)))
	d.revised(t, after.revision)
	undone := d.state(t, clip)
	if undone.canUndo || !undone.canRedo || !reflect.DeepEqual(undone.analysis, before.analysis) {
		t.Errorf("undo does not bring back the old numbers: can undo %v, can redo %v", undone.canUndo, undone.canRedo)
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#redo`)))
	d.revised(t, undone.revision)
	redone := d.state(t, clip)
	if !reflect.DeepEqual(redone.analysis, after.analysis) {
		t.Error("redo does not bring back the corrected numbers")
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#undo`)))
	d.revised(t, redone.revision)

	// The same without a mouse: the point is moved by the arrow keys in its pad.
	now2 := d.state(t, clip)
	d.do(t, chromedp.Focus(chromedp.CSS(`#pad button`)),
		chromedp.KeyEvent(kb.ArrowRight, chromedp.KeyModifiers(chromedp.ModifierShift)))
	d.revised(t, now2.revision)
	keyed := d.state(t, clip)
	if c := keyed.typed.Corrections; c == nil || len(c.Points) != 1 || c.Points[0].Point != "knee" {
		t.Errorf("moved by keys, the analysis has the corrections %+v", c)
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#undo`)))
	d.revised(t, keyed.revision)
	if last := d.state(t, clip); !reflect.DeepEqual(last.analysis, before.analysis) {
		t.Error("the numbers are not those of the beginning")
	}
}

func (d *coach) changeTempo(t *testing.T) {
	const name = "slow_30.mp4"
	clip := d.clips[name]
	d.openClip(t, name)
	before := d.state(t, clip)
	if before.typed.Reps[0].Tempo != "slow" {
		t.Fatalf("the first rep is %q", before.typed.Reps[0].Tempo)
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#correct-toggle`)))
	choose := func(value string) {
		d.do(t, chromedp.WaitVisible(chromedp.CSS(`[data-testid=tempo-1]`)), chromedp.Evaluate[chromedp.Void](fmt.Sprintf(
			`(() => { const s = document.querySelector("[data-testid=tempo-1]"); s.value = %q;
				s.dispatchEvent(new Event("change", { bubbles: true })); })()`, value)))
	}
	choose("fast")
	d.revised(t, before.revision)
	after := d.state(t, clip)
	if r := after.typed.Reps[0]; r.Tempo != "fast" || !r.TempoGiven {
		t.Errorf("the first rep is %q, given: %v", r.Tempo, r.TempoGiven)
	}
	words := eval[string](t, d, `document.querySelector("[data-testid=rep]").textContent`)
	if !strings.Contains(words, "fast") {
		t.Errorf("the page calls the first rep %q", words)
	}
	d.shoot(t, "clip-tempo")
	choose("")
	d.revised(t, after.revision)
	back := d.state(t, clip)
	if !reflect.DeepEqual(back.analysis, before.analysis) {
		t.Error("the tempo as found does not bring back the old numbers")
	}
	d.do(t, chromedp.Evaluate[chromedp.Void](`scrollTo(0, 0)`), chromedp.Click(chromedp.CSS(`[data-testid=clip-edit]`)),
		chromedp.WaitVisible(chromedp.CSS(`#clip-dialog`)))
	d.audit(t)
	d.shoot(t, "clip-edit")
	d.do(t, chromedp.KeyEvent(kb.Escape), chromedp.WaitNotVisible(chromedp.CSS(`#clip-dialog`)))
}

// The page writes numbers as English readers do, with a real minus.
func numText(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	text := fmt.Sprintf("%.0f", math.Round(x))
	if text == "-0" {
		return "0"
	}
	return strings.Replace(text, "-", "−", 1)
}

func degText(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	return numText(x) + "°"
}

func rangeText(iv [2]float64) string {
	if math.IsNaN(iv[0]) || math.IsNaN(iv[1]) {
		return ""
	}
	return " " + numText(iv[0]) + " to " + numText(iv[1])
}

func (d *coach) compare(t *testing.T) {
	d.open(t, "/compare?athlete="+d.athlete)
	d.until(t, stepLimit, `document.querySelector("#go") && !document.querySelector("#go").disabled`)
	d.audit(t)
	d.shoot(t, "compare-choose")
	d.do(t, chromedp.Click(chromedp.CSS(`#go`)))
	d.until(t, measureLimit, `document.querySelector("#result")?.hidden === false`)
	id := eval[string](t, d, `document.querySelector("#comparison-page").dataset.comparison`)
	d.comparison = id
	var answer struct {
		Comparison screening.Comparison `json:"comparison"`
	}
	d.get(t, "/api/comparisons/"+id, &answer)
	c := &answer.Comparison
	if len(c.Pairs) < 2 {
		t.Fatalf("%d pairs of tempos were compared", len(c.Pairs))
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#table-h`)))
	for _, p := range c.Pairs {
		d.do(t, chromedp.Click(chromedp.CSS(fmt.Sprintf(`[data-testid=pair-%s-%s]`, p.Baseline, p.Challenge))))
		rows := eval[[][]string](t, d,
			`[...document.querySelectorAll("#table tr[data-row]")].slice(0, 6).map((r) =>
				[...r.children].map((c) => c.innerText.replace(/\s+/g, " ").trim()))`)
		var want [][]string
		joints := []struct {
			name string
			c    kinematics.JointChange
		}{{"Ankle", p.Joints[body.AnkleJoint]}, {"Knee", p.Joints[body.KneeJoint]}, {"Hip", p.Joints[body.HipJoint]}}
		for _, j := range joints {
			want = append(want, []string{j.name, degText(j.c.BaselineROMDeg), degText(j.c.ChallengeROMDeg),
				degText(j.c.LostDeg) + rangeText(j.c.Interval95Deg), numText(j.c.RetainedPct) + " %", string(j.c.Verdict)})
		}
		for _, j := range joints {
			kept := 100 * j.c.ChallengeBottomDeg / j.c.BaselineBottomDeg
			want = append(want, []string{j.name, degText(j.c.BaselineBottomDeg), degText(j.c.ChallengeBottomDeg),
				degText(j.c.BottomLostDeg) + rangeText(j.c.BottomInterval95Deg), numText(kept) + " %", string(j.c.BottomVerdict)})
		}
		if len(rows) != len(want) {
			t.Fatalf("%s against %s: the table has %d rows, want %d", p.Baseline, p.Challenge, len(rows), len(want))
		}
		for i := range want {
			for k := range want[i] {
				// A verdict has its mark before it.
				if got := strings.TrimLeft(rows[i][k], "=▼▲? "); got != want[i][k] {
					t.Errorf("%s against %s, %s: the table says %q, want %q", p.Baseline, p.Challenge, want[i][0], rows[i][k],
						want[i][k])
				}
			}
		}
	}
	// Both pictures run locked at the lowest point, the jump in its landing, by one scrubber.
	ready := `[...document.querySelectorAll("#videos video")].length >= 2 &&
		[...document.querySelectorAll("#videos video")].every((v) => v.readyState >= 2 && !v.seeking)`
	d.until(t, measureLimit, ready)
	at := func() string { return eval[string](t, d, `document.querySelector("#readout strong").textContent`) }
	if got := at(); got != "0.00 s from the landing bottom" {
		t.Errorf("the comparison begins %q", got)
	}
	d.keepsStill(t)
	d.shoot(t, "comparison")
	d.do(t, chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`), chromedp.KeyEvent(kb.ArrowRight))
	if got := at(); got != "0.00 s from the landing bottom" {
		t.Errorf("a key that nobody gave to the pictures moved them: %q", got)
	}
	d.do(t, chromedp.Evaluate[chromedp.Void](`document.querySelector("#duo").focus()`), chromedp.KeyEvent(kb.ArrowRight),
		chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowRight))
	d.until(t, stepLimit, ready)
	if got := at(); got != "+0.10 s from the landing bottom" {
		t.Errorf("three frames of 1/30 s on, the comparison stands %q", got)
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#view-over`)))
	d.until(t, stepLimit, ready)
	d.shoot(t, "comparison-laid-over")
	d.do(t, chromedp.Click(chromedp.CSS(`#view-side`)))
	d.tabOrder(t, "brand", "left-rep", "right-rep", "view-side", "view-over", "scrub", "back1", "play", "on1", "to-bottom")
}

func (d *coach) download(t *testing.T) {
	d.open(t, "/comparisons/"+d.comparison)
	d.until(t, measureLimit, `document.querySelector("#result")?.hidden === false`)
	coach := d.save(t, "get-coach.pdf")
	if !bytes.HasPrefix(coach, []byte("%PDF-")) || !bytes.Contains(coach[max(0, len(coach)-64):], []byte("%%EOF")) {
		t.Errorf("the coach's PDF is no whole PDF: %d bytes, %q", len(coach), coach[:min(16, len(coach))])
	}
	plain := d.save(t, "get-athlete.pdf")
	d.do(t, chromedp.Click(chromedp.CSS(`#share-blur`)))
	blurred := d.save(t, "get-athlete.pdf")
	for _, pdf := range [][]byte{plain, blurred} {
		if !bytes.HasPrefix(pdf, []byte("%PDF-")) {
			t.Errorf("the athlete's PDF begins with %q", pdf[:min(16, len(pdf))])
		}
	}
	if bytes.Equal(plain, blurred) {
		t.Error("the PDF with the face blurred is the one without")
	}
	d.shoot(t, "comparison-blurred")
}

func (d *coach) history(t *testing.T) {
	d.open(t, "/athletes")
	d.do(t, chromedp.WaitVisible(chromedp.CSS(`main h1`)))
	d.keepsStill(t)
	d.shoot(t, "athletes")
	d.do(t, chromedp.Click(chromedp.CSS(fmt.Sprintf(`main a[href="/athletes/%s"]`, d.athlete))))
	d.until(t, stepLimit, fmt.Sprintf(`location.pathname === "/athletes/%s" && document.querySelector("main h1")`,
		d.athlete))
	var h struct {
		History history.History `json:"history"`
	}
	d.get(t, "/api/athletes/"+d.athlete+"/history", &h)
	if len(h.History.Series) == 0 {
		t.Fatal("the athlete has no history")
	}
	for _, s := range h.History.Series {
		if s.Tempo == "slow" && s.Position == kinematics.PositionKnee {
			d.until(t, stepLimit, fmt.Sprintf(`document.querySelector("main").textContent.includes(%q)`,
				degText(s.Points[len(s.Points)-1].Value.Value)))
		}
	}
	d.hasText(t, "Robin <b>Example</b>")
	d.keepsStill(t)
	d.shoot(t, "athlete")
}

// conditions makes the fast clip a slow one under load, and compares it with the slow one.
func (d *coach) conditions(t *testing.T) {
	d.open(t, "/clips/"+d.clips["fast_30.mp4"])
	d.until(t, measureLimit, `!document.querySelector("#correct-toggle").disabled`)
	d.do(t, chromedp.Click(chromedp.CSS(`[data-testid=clip-edit]`)), chromedp.WaitVisible(chromedp.CSS(`#clip-dialog`)),
		chromedp.Evaluate[chromedp.Void](
			`for (const [id, value] of [["tempo", "slow"], ["condition", "loaded"], ["load", "62,5"]])
				document.querySelector("#edit-" + id).value = value;
			document.querySelector("#setting").open = true;
			document.querySelector("#setting-after_reps").value = "20";
			document.querySelector("#setting-footwear").value = "barefoot"`),
		chromedp.Click(chromedp.CSS(`[data-testid=clip-save]`)))
	d.until(t, measureLimit, `document.readyState === "complete" &&
		document.querySelector(".crumbs")?.textContent.includes("loaded")`)
	d.open(t, "/compare?athlete="+d.athlete)
	d.until(t, stepLimit, `document.querySelectorAll("input[name=clip]").length >= 3`)
	d.do(t, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(
		`for (const box of document.querySelectorAll("input[name=clip]"))
			if (box.checked !== [%q, %q].includes(box.value)) box.click()`, d.clips["slow_30.mp4"], d.clips["fast_30.mp4"])),
		chromedp.Click(chromedp.CSS(`#go`)))
	d.until(t, measureLimit, `document.querySelector("#result")?.hidden === false`)
	var answer struct {
		Comparison screening.Comparison `json:"comparison"`
	}
	d.get(t, "/api/comparisons/"+eval[string](t, d, `document.querySelector("#comparison-page").dataset.comparison`),
		&answer)
	c := &answer.Comparison
	if len(c.Pairs) != 1 || len(c.Sides) != 2 || c.Tempo != "slow" ||
		c.Word(c.Pairs[0].Challenge) != "loaded with 62.5 kg, after 20 reps, barefoot" {
		t.Fatalf("compared %+v of tempo %q", c.Sides, c.Tempo)
	}
	knee := c.Pairs[0].Joints[body.KneeJoint]
	want := fmt.Sprintf("Range of motion: %s fresh, %s loaded with 62.5 kg, after 20 reps, barefoot",
		degText(knee.BaselineROMDeg),
		degText(knee.ChallengeROMDeg))
	got := eval[string](t, d, `document.querySelector("#answers [data-joint=knee] .answer-range").textContent`)
	if !strings.HasPrefix(got, want) {
		t.Errorf("the sentence is %q, want %q", got, want)
	}
	if n := eval[int](t, d, `[...document.querySelectorAll("#answers .iv")]
		.filter((e) => e.scrollWidth > e.clientWidth).length`); n != 0 {
		t.Errorf("%d words beside the answers stick out of their place", n)
	}
	text := eval[string](t, d, `document.querySelector("main").innerText`)
	for _, wrong := range []string{"control at speed", "What did speed take", "slow →"} {
		if strings.Contains(text, wrong) {
			t.Errorf("a comparison of conditions speaks of %q", wrong)
		}
	}
	d.audit(t)
	d.shoot(t, "comparison-conditions")
}

func (d *coach) example(t *testing.T) {
	d.open(t, "/")
	// By the keyboard: what fills the page from above may move the button away from under a mouse.
	d.do(t, chromedp.SendKeys(chromedp.CSS(`#example-load`), kb.Enter))
	// The page is loaded anew: a click before its modules have run goes nowhere.
	d.until(t, stepLimit, `document.readyState === "complete" && document.querySelector("#example-remove")`)
	d.hasText(t, "example, invented")
	d.do(t, chromedp.Click(chromedp.CSS(`#example-remove`)), chromedp.WaitVisible(chromedp.CSS(`#example-yes`)),
		chromedp.Click(chromedp.CSS(`#example-yes`)))
	d.until(t, stepLimit, `document.querySelector("#example-load")`)
	var athletes struct {
		Athletes []struct {
			Example bool `json:"example"`
		} `json:"athletes"`
	}
	d.get(t, "/api/athletes", &athletes)
	if len(athletes.Athletes) != 1 || athletes.Athletes[0].Example {
		t.Errorf("after the example was removed there are %+v", athletes.Athletes)
	}
}

func testPassword(t *testing.T, program string) {
	const password = "correct horse"
	d := newCoach(t, program, "HOLDFAST_PASSWORD="+password)
	d.open(t, "/athletes")
	d.until(t, stepLimit, `location.pathname === "/login"`)
	d.do(t, chromedp.WaitVisible(chromedp.CSS(`input[type=password]`)))
	d.audit(t)
	d.shoot(t, "login")
	enter := func(text string) {
		d.do(t, chromedp.SendKeys(chromedp.CSS(`input[type=password]`), text+kb.Enter))
	}
	d.console.expect("status of 4")
	enter("wrong horse")
	d.until(t, stepLimit, `document.querySelector("main").textContent.includes("wrong")`)
	d.shoot(t, "login-wrong")
	d.console.expect("")
	enter(password)
	d.until(t, stepLimit, `location.pathname === "/" && document.readyState === "complete" &&
		document.querySelector("#drop-form")`)
	d.do(t, chromedp.Click(chromedp.CSS(`#logout`)))
	d.until(t, stepLimit, `location.pathname === "/login" && document.readyState === "complete" &&
		document.querySelector("input[type=password]")`)
	d.quiet(t)
}

// A coach is the running program and a browser tab.
type coach struct {
	base    string // address of the page, without a slash at the end
	tab     context.Context
	shots   string // where pictures of the pages go; empty: none are taken
	console *console
	files   string // where downloads go

	athlete, comparison string            // ids
	clips               map[string]string // id by name
}

// buildProgram builds the program as a user has it, without the race detector.
func buildProgram(t *testing.T) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "holdfast")
	build := exec.CommandContext(t.Context(), "go", "build", "-o", program, "holdfast/cmd/holdfast")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("building the program: %v\n%s", err, out)
	}
	return program
}

// newCoach starts the program with an empty data folder, and a browser. Both end with
// the test.
func newCoach(t *testing.T, program string, env ...string) *coach {
	t.Helper()
	d := &coach{clips: map[string]string{}, shots: shotsDir(t), files: t.TempDir(), console: &console{}}
	d.base = serve(t, program, env)
	d.tab = openBrowser(t)
	if err := chromedp.Listen(d.tab, d.console.hear); err != nil {
		t.Fatal("starting the browser: ", err)
	}
	d.do(t, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		yes := true
		_, err := chromedp.CallBrowser(ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
			Behavior: browser.SetDownloadBehaviorBehaviorAllowAndName, DownloadPath: d.files, EventsEnabled: &yes})
		return err
	}))
	d.look(t, 1280, "light")
	return d
}

// serve starts the server at a free port of this computer, with the quicker network, and
// returns its address.
// At the end of the test it is asked to stop, and has to do so without an error.
func serve(t *testing.T, program string, env []string) string {
	t.Helper()
	data := filepath.Join(t.TempDir(), "data")
	c := exec.Command(program, "serve", "--data", data, "--listen", "127.0.0.1:0", "--model", "full")
	c.Env = append(append(os.Environ(), "HOLDFAST_PASSWORD="), env...)
	var said bytes.Buffer
	c.Stderr = &said
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := c.Process.Signal(syscall.SIGINT); err != nil {
			t.Error("stopping the server: ", err)
		}
		end := time.AfterFunc(stepLimit, func() { _ = c.Process.Kill() })
		defer end.Stop()
		if err := c.Wait(); err != nil {
			t.Error("the server ended with: ", err)
		}
		if text := said.String(); t.Failed() || strings.Contains(text, "level=ERROR") {
			t.Errorf("the server said:\n%s", text)
		}
		check := exec.Command(program, "archive", "check", "--data", data)
		if text, err := check.CombinedOutput(); err != nil {
			t.Errorf("archive check: %v\n%s", err, text)
		}
	})
	lines := bufio.NewReader(out)
	first, err := lines.ReadString('\n')
	address, ok := strings.CutPrefix(strings.TrimSpace(first), "Holdfast is at ")
	if err != nil || !ok {
		t.Fatalf("the server begins with %q (%v)", first, err)
	}
	// Until the server ends and closes its end of the pipe.
	go func() { _, _ = io.Copy(io.Discard, lines) }()
	return strings.TrimSuffix(address, "/")
}

var browserNames = []string{"chromium", "chromium-browser", "google-chrome"}

// openDesk serves the archive in dir, made when there is none, from this process, with a fake program that works on
// clips, and opens a browser on its page; all of it ends with the test.
func openDesk(t *testing.T, dir string) (*coach, *archive.Archive) {
	t.Helper()
	kept, err := archive.Open(t.Context(), dir, archive.Options{Serving: true})
	if err != nil {
		t.Fatal(err)
	}
	return serveArchive(t, kept, dir, "work", "heavy"), kept // heavy tracked the clips that 0.1 left behind
}

// serveArchive serves an archive whose clips are worked on by this binary in a mode of [fakeVariable], and opens a
// browser before it; change may set options before. All end with the test.
func serveArchive(t *testing.T, kept *archive.Archive, dir, mode, model string,
	change ...func(*web.Options)) *coach {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	opt := web.Options{Desk: desk.Options{
		Archive: kept, WorkDir: filepath.Join(dir, "tmp", "work"), Program: []string{os.Args[0]},
		Env: []string{"HOLDFAST_TEST_WORK=" + mode}, Model: model,
	}, Address: l.Addr()}
	for _, c := range change {
		c(&opt)
	}
	s, err := web.NewServer(opt)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, l) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		if err := kept.Close(); err != nil {
			t.Error(err)
		}
	})
	d := &coach{base: "http://" + l.Addr().String(), clips: map[string]string{}, shots: shotsDir(t), console: &console{}}
	d.tab = openBrowser(t)
	if err := chromedp.Listen(d.tab, d.console.hear); err != nil {
		t.Fatal(err)
	}
	d.look(t, 1280, "light")
	return d
}

// shotsDir returns the folder that HOLDFAST_SCREENSHOTS names, made when it is not there; empty: none is named.
func shotsDir(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("HOLDFAST_SCREENSHOTS")
	if dir != "" {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// openBrowser starts a browser without a window, and returns the context of its tab.
func openBrowser(t *testing.T) context.Context {
	t.Helper()
	var path string
	for _, name := range browserNames {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		t.Fatalf("these tests need a browser: install Chromium (none of %s was found)", strings.Join(browserNames, ", "))
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()), chromedp.WindowSize(1280, 800),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("lang", "en-GB"),
		chromedp.Flag("hide-scrollbars", false))
	all, end := chromedp.NewExecAllocator(context.Background(), options...)
	tab, closeTab := chromedp.NewContext(all)
	t.Cleanup(func() {
		if err := chromedp.Cancel(tab); err != nil {
			t.Log("closing the browser: ", err)
		}
		closeTab()
		end()
	})
	// With the tab's own context: the browser lives as long as the one it is started with.
	if err := chromedp.Do(tab, chromedp.Navigate("about:blank")); err != nil {
		t.Fatal("starting the browser: ", err)
	}
	return tab
}

// do runs steps in the tab, all of them within stepLimit.
func (d *coach) do(t *testing.T, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, cancel := context.WithTimeout(d.tab, stepLimit)
	defer cancel()
	for i, step := range steps {
		err := chromedp.Do(ctx, step)
		for tries := 0; tries < 3 && err != nil && strings.Contains(err.Error(), "Could not find node"); tries++ {
			err = chromedp.Do(ctx, step) // the page drew it anew between finding and using it
		}
		if err != nil {
			d.shoot(t, "failed-step")
			t.Fatalf("step %d of %d: %v", i+1, len(steps), err)
		}
	}
}

func (d *coach) open(t *testing.T, path string) {
	t.Helper()
	d.do(t, chromedp.Navigate(d.base+path))
}

func eval[T any](t *testing.T, d *coach, expression string) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(d.tab, stepLimit)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%s: %v", expression, err)
	}
	return v
}

func (d *coach) until(t *testing.T, limit time.Duration, condition string) {
	t.Helper()
	until[bool](t, d, limit, fmt.Sprintf("Boolean(%s)", condition))
}

// until waits until an expression of the page is true, and returns its value. It is
// asked for in the page itself, since the page's policy forbids the evaluation of
// text that chromedp.Poll needs; where the page is left meanwhile, in the next one.
func until[T any](t *testing.T, d *coach, limit time.Duration, expression string) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(d.tab, limit)
	defer cancel()
	script := fmt.Sprintf(`new Promise((done, fail) => { const end = performance.now() + %d, look = () => {
		let v; try { v = (%s); } catch { v = null; }
		if (v) done(v); else if (performance.now() > end) fail(new Error("it never came"));
		else setTimeout(look, 30); }; look(); })`, limit.Milliseconds(), expression)
	for {
		v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
		if err == nil {
			return v
		}
		if left := strings.Contains(err.Error(), "navigated") || strings.Contains(err.Error(), "context") ||
			strings.Contains(err.Error(), "collected"); !left || ctx.Err() != nil {
			text, _ := chromedp.Run(d.tab,
				chromedp.Evaluate[string](`location.pathname + ": " + document.querySelector("main").innerText.slice(0, 1500)`))
			d.shoot(t, "failed-wait")
			t.Fatalf("waiting for %s: %v\nthe page is %s", expression, err, text)
		}
	}
}

func (d *coach) hasText(t *testing.T, text string) {
	t.Helper()
	said := fmt.Sprintf(`document.querySelector("main").textContent.replace(/\s+/g, " ").includes(%q)`, text)
	if !eval[bool](t, d, said) {
		t.Errorf("the page %s does not say %q", eval[string](t, d, `location.pathname`), text)
	}
}

// get asks the API and reads its answer.
func (d *coach) get(t *testing.T, path string, into any) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, d.base+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	w, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Body.Close()
	if w.StatusCode != http.StatusOK {
		text, _ := io.ReadAll(io.LimitReader(w.Body, 500))
		t.Fatalf("GET %s: %s %s", path, w.Status, text)
	}
	if err := json.NewDecoder(w.Body).Decode(into); err != nil {
		t.Fatalf("GET %s: %v", path, err)
	}
}

// drop drops a file on an element as a mouse would.
func (d *coach) drop(t *testing.T, selector, path string) {
	t.Helper()
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(path) // the page takes the day from the file, as of one that is chosen
	if err != nil {
		t.Fatal(err)
	}
	d.do(t, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => {
		const bytes = Uint8Array.from(atob(%q), (c) => c.charCodeAt(0)), data = new DataTransfer();
		data.items.add(new File([bytes], %q, { type: "video/mp4", lastModified: %d }));
		for (const kind of ["dragenter", "dragover", "drop"])
			document.querySelector(%q).dispatchEvent(
				new DragEvent(kind, { bubbles: true, cancelable: true, dataTransfer: data }));
	})()`, base64.StdEncoding.EncodeToString(content), filepath.Base(path), info.ModTime().UnixMilli(), selector)))
}

// save clicks a button that saves a file, and returns the file.
func (d *coach) save(t *testing.T, testid string) []byte {
	t.Helper()
	ctx, cancel := context.WithTimeout(d.tab, measureLimit)
	defer cancel()
	type progress = browser.EventDownloadProgress
	saved := func(ctx context.Context, target *chromedp.Target) (*progress, error) {
		events := chromedp.BrowserEvents(ctx, browser.DownloadProgress)
		if _, err := chromedp.Click(chromedp.CSS(fmt.Sprintf("[data-testid=%q]", testid)))(ctx, target); err != nil {
			return nil, err
		}
		for e, err := range events {
			if err != nil || e.State != browser.DownloadProgressStateInProgress {
				return &e, err
			}
		}
		return nil, ctx.Err()
	}
	done, err := chromedp.Run(ctx, chromedp.Action[*progress](saved))
	if err != nil || done.State != browser.DownloadProgressStateCompleted {
		t.Fatalf("saving %s: %v", testid, err)
	}
	content, err := os.ReadFile(filepath.Join(d.files, done.GUID))
	if err != nil {
		t.Fatal(err)
	}
	return content
}

func ffmpeg(t *testing.T, args ...string) {
	t.Helper()
	if out, err := exec.CommandContext(t.Context(), "ffmpeg",
		append([]string{"-v", "error", "-nostdin"}, args...)...).CombinedOutput(); err != nil {
		t.Fatalf("ffmpeg: %v\n%s", err, out)
	}
}

// look sets the width of the window and the reader's taste.
func (d *coach) look(t *testing.T, widthPx int64, scheme string) {
	t.Helper()
	height := int64(800)
	if widthPx < 500 {
		height = 844
	}
	ctx, cancel := context.WithTimeout(d.tab, stepLimit)
	defer cancel()
	_, err := chromedp.Call(ctx, emulation.SetDeviceMetricsOverride,
		emulation.SetDeviceMetricsOverrideParams{Width: widthPx, Height: height, DeviceScaleFactor: 1})
	if err == nil {
		_, err = chromedp.Call(ctx, emulation.SetEmulatedMedia,
			emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
				{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}}})
	}
	if err == nil { // two pictures later the page has laid itself out anew
		_, err = chromedp.Run(ctx, chromedp.Evaluate[bool](
			`new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))`,
			chromedp.EvalAwaitPromise))
	}
	if err != nil {
		t.Error("resizing the window: ", err)
	}
}

// shoot looks at the page at a laptop's and a phone's width, where nothing may stick out to the side, and takes
// pictures of the whole page there, light and dark, when pictures are wanted.
func (d *coach) shoot(t *testing.T, name string) {
	t.Helper()
	for _, width := range []int64{390, 1280} {
		d.look(t, width, "light")
		ctx, cancel := context.WithTimeout(d.tab, stepLimit)
		defer cancel()
		// A phone draws its scroll bars over the page, and a picture has none.
		if _, err := chromedp.Call(ctx, emulation.SetScrollbarsHidden,
			emulation.SetScrollbarsHiddenParams{Hidden: true}); err != nil {
			t.Error("hiding the scroll bars: ", err)
		}
		wide, err := chromedp.Run(ctx, chromedp.Evaluate[string](
			`document.documentElement.scrollWidth <= innerWidth ? "" : [...document.querySelectorAll("body *")]
			.filter((e) => e.getBoundingClientRect().right > innerWidth + 0.5)
			.map((e) => e.tagName + "#" + e.id + "." + e.className).slice(0, 5).join(", ")`))
		if err == nil && wide != "" {
			t.Errorf("%s at %d px: the page scrolls sideways: %s", name, width, wide)
		}
		if d.shots == "" {
			continue
		}
		for _, scheme := range []string{"dark", "light"} {
			d.look(t, width, scheme)
			picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
			if err == nil {
				err = os.WriteFile(filepath.Join(d.shots, fmt.Sprintf("%s_%d_%s.png", name, width, scheme)), picture, 0o644)
			}
			if err != nil {
				t.Errorf("taking a picture of %s: %v", name, err)
			}
		}
	}
}

// axe is axe-core, which finds what people who do not see the page, or see it badly, stumble over.
var axe = sync.OnceValues(func() (string, error) {
	text, err := os.ReadFile("../.runtime/page-tools/node_modules/axe-core/axe.min.js")
	return string(text), err
})

// axeScript lists what axe-core finds serious or worse by WCAG 2.1, level AA, with the element it found it at.
// Text over a picture it cannot judge.
const axeScript = `axe.run(document, { resultTypes: ["violations"], ...%s }).then((r) =>
	r.violations.filter((v) => v.impact === "serious" || v.impact === "critical").flatMap((v) =>
		v.nodes.slice(0, 6).map((n) => v.id + ": " + n.html.slice(0, 120) + " " + (n.any[0]?.message || ""))))`

// What axe-core looks at: everything, or the colours alone, which is all that changes in the dark.
const (
	axeAll = `{ runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"],
		rules: { "label-content-name-mismatch": { enabled: true } } }`
	axeColours = `{ runOnly: { type: "rule", values: ["color-contrast"] } }`
)

// shiftScript adds up how far what was shown moved by itself since the page was opened: layout shift, of which 0.1 is a
// good page's most (common practice, no source).
const shiftScript = `new Promise((done) => {
	const told = (entries) => ({ Sum: entries.reduce((sum, e) => sum + e.value, 0), What: entries.flatMap((e) =>
		e.sources.map((s) => (s.node?.nodeName || "gone") + "#" +
			(s.node?.id || s.node?.className || s.node?.textContent.slice(0, 30)) +
			" by " + (s.currentRect.top - s.previousRect.top) + " px at " + Math.round(e.startTime) + " ms")).join() });
	const byHand = (e) => e.hadRecentInput ||
		(window.handled || []).some(([from, to]) => e.startTime >= from && e.startTime <= to);
	new PerformanceObserver((list) => done(told(list.getEntries().filter((e) => !byHand(e)))))
		.observe({ type: "layout-shift", buffered: true });
	setTimeout(() => done(told([])), 300); // nothing moved
})`

// shifted is what shiftScript finds.
type shifted struct {
	Sum  float64
	What string
}

// keepsStill checks that the page does not jump, and returns which it is.
func (d *coach) keepsStill(t *testing.T) (where string) {
	t.Helper()
	where = eval[string](t, d, `location.pathname`)
	if shift := eval[shifted](t, d, shiftScript); shift.Sum >= 0.1 {
		t.Errorf("%s: what is shown moves by itself: layout shift %.2f: %s", where, shift.Sum, shift.What)
	}
	return where
}

// audit checks what people who do not see the page, or see it badly, need.
func (d *coach) audit(t *testing.T) {
	t.Helper()
	where := d.keepsStill(t)
	if faults := eval[[]string](t, d, structureScript); len(faults) > 0 {
		t.Errorf("%s: %s", where, strings.Join(faults, "; "))
	}
	library, err := axe()
	if err != nil {
		t.Fatal("axe-core is missing (scripts/setup --test fetches it): ", err)
	}
	d.do(t, chromedp.Evaluate[chromedp.Void](library+";undefined"))
	for _, as := range []struct {
		widthPx      int64
		scheme, what string
	}{{1280, "light", axeAll}, {1280, "dark", axeColours}, {390, "light", axeAll}} {
		d.look(t, as.widthPx, as.scheme)
		if faults := eval[[]string](t, d, fmt.Sprintf(axeScript, as.what)); len(faults) > 0 {
			t.Errorf("%s, %d px, %s: %s", where, as.widthPx, as.scheme, strings.Join(faults, "; "))
		}
	}
	d.look(t, 1280, "light")
}

// structureScript lists faults of the page's structure that axe-core leaves to taste.
const structureScript = `(() => {
	const faults = [], ids = new Set();
	if (document.querySelectorAll("h1").length !== 1)
		faults.push(document.querySelectorAll("h1").length + " main headings");
	let level = 1;
	for (const h of document.querySelectorAll("main :is(h1, h2, h3, h4)")) {
		if (!h.checkVisibility() || h.closest("dialog")) continue;
		const n = Number(h.tagName[1]);
		if (n > level + 1) faults.push("heading " + h.textContent + " skips a level");
		level = n;
	}
	for (const e of document.querySelectorAll("[id]")) {
		if (ids.has(e.id)) faults.push("two elements are called " + e.id);
		ids.add(e.id);
	}
	for (const e of document.querySelectorAll("[aria-labelledby], [aria-describedby], [aria-controls], label[for]"))
		for (const a of ["aria-labelledby", "aria-describedby", "aria-controls", "for"])
			for (const id of (e.getAttribute(a) || "").split(" ").filter(Boolean))
			if (!document.getElementById(id)) faults.push(a + " names " + id + ", which is not there");
	for (const e of document.querySelectorAll("th:not([scope])"))
		faults.push("a head of a table without scope: " + e.textContent);
	for (const e of document.querySelectorAll("[style]"))
		if (!e.closest("#screen, .chart, .uplot, #overlay, canvas") &&
			!/^(width|height|display)/.test(e.getAttribute("style")))
			faults.push("a style in the markup: " + e.outerHTML.slice(0, 80));
	return faults;
})()`

// tabOrder goes through the page with the tabulator key. It must come by the given
// controls, told by data-testid, id or class, in this order, and every stop must show
// that it has the focus.
func (d *coach) tabOrder(t *testing.T, want ...string) {
	t.Helper()
	d.do(t, chromedp.Evaluate[chromedp.Void](`document.activeElement?.blur(); document.body.tabIndex = -1;
		document.body.focus(); document.body.removeAttribute("tabindex"); scrollTo(0, 0)`))
	type stop struct {
		Names []string
		Shown bool
		HTML  string
	}
	var met []string
	next := 0
	for range 80 {
		d.do(t, chromedp.KeyEvent(kb.Tab))
		s := eval[stop](t, d, `(() => { const e = document.activeElement, s = getComputedStyle(e);
			return { Names: [e.dataset.testid, e.id, ...e.classList].filter(Boolean),
				Shown: e.type === "date" /* the browser marks its parts */ ||
					(s.outlineStyle !== "none" && parseFloat(s.outlineWidth) > 0) || s.boxShadow !== "none",
				HTML: e.outerHTML.slice(0, 120) }; })()`)
		if strings.HasPrefix(s.HTML, "<body") {
			break
		}
		if !s.Shown {
			t.Errorf("it does not show that this has the focus: %s", s.HTML)
		}
		met = append(met, strings.Join(s.Names, "/"))
		if next < len(want) && slices.Contains(s.Names, want[next]) {
			next++
		}
		if next == len(want) {
			return
		}
	}
	t.Errorf("the tabulator key does not lead to %s in the order %q; it went %q", want[min(next, len(want)-1)], want, met)
}

// A console collects what the browser complains of: exceptions, errors, and breaches
// of the page's security policy.
type console struct {
	mu       sync.Mutex
	said     []string
	expected string // part of messages that are awaited; empty: none
}

func (c *console) hear(event any) {
	var text string
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		text = "exception: " + e.ExceptionDetails.Text
		if x := e.ExceptionDetails.Exception; x != nil {
			text += " " + x.Description
		}
	case *runtime.EventConsoleAPICalled:
		if !slices.Contains([]string{"error", "assert", "warning"}, string(e.Type)) {
			return
		}
		text = "console." + string(e.Type)
		for _, a := range e.Args {
			text += " " + string(a.Value) + a.Description
		}
	case *log.EventEntryAdded:
		if e.Entry.Level != log.EntryLevelError && e.Entry.Source != log.EntrySourceSecurity &&
			e.Entry.Source != log.EntrySourceViolation {
			return
		}
		text = fmt.Sprintf("%s: %s %s", e.Entry.Source, e.Entry.Text, e.Entry.URL)
	default:
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.expected == "" || !strings.Contains(text, c.expected) {
		c.said = append(c.said, text)
	}
}

// expect takes complaints that contain a text for good ones, until it is told another.
func (c *console) expect(text string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.expected = text
}

// quiet fails when the browser complained of something.
func (d *coach) quiet(t *testing.T) {
	t.Helper()
	d.console.mu.Lock()
	defer d.console.mu.Unlock()
	for _, text := range d.console.said {
		t.Error("the browser complains: ", text)
	}
	d.console.said = nil
}
