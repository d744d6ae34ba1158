package web_test

import (
	"context"
	"encoding/base64"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"holdfast/archive"
	"holdfast/kinematics/body"
)

// The clip page under a coach's hand, in a real browser: the clips are the shipped ones, the
// server is in this process, and what the network saw in them is stored.
func TestBrowserClip(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	d := trackedCoach(t, "slow_30.mp4", "fast_30.mp4")
	t.Run("picture, slider and Play are in view", d.inView)
	t.Run("the picture is cut to the athlete", d.cropped)
	t.Run("a rep plays again and again", d.loopedRep)
	t.Run("the picture fills the screen", d.fillsScreen)
	t.Run("the body follows a drag", d.followsDrag)
	t.Run("correcting on a phone", d.correctsOnPhone)
	t.Run("a key shows the keys", d.asksForKeys)
	t.Run("the example shows its result", d.seesExample)
	t.Run("clips are chosen", d.choosesClips)
	t.Run("who leaves in the middle is asked", d.asksOnLeaving)
}

// trackedCoach returns a coach at a server that measures shipped clips from their stored tracks,
// with some of them in its archive.
func trackedCoach(t *testing.T, names ...string) *coach {
	t.Helper()
	dir := t.TempDir()
	kept, err := archive.Open(t.Context(), dir, archive.Options{Serving: true})
	if err != nil {
		t.Fatal(err)
	}
	d := serveArchive(t, kept, dir, "tracked", "")
	athlete, err := kept.CreateAthlete(t.Context(), archive.Athlete{Name: "Kim Example"})
	if err != nil {
		t.Fatal(err)
	}
	d.open(t, "/")
	for _, name := range names {
		d.drop(t, "#drop", clipPath(t, name))
	}
	d.until(t, stepLimit, fmt.Sprintf(`document.querySelectorAll("[data-testid=chosen-clip]").length === %d`, len(names)))
	d.do(t, chromedp.SetValue(chromedp.CSS(`#athlete`), athlete.ID), chromedp.Click(chromedp.CSS(`#send`)))
	d.until(t, measureLimit, fmt.Sprintf(
		`document.querySelectorAll("[data-testid=job][data-state=done]").length === %d`, len(names)))
	var jobs jobList
	d.get(t, "/api/jobs", &jobs)
	for _, j := range jobs.Jobs {
		d.clips[j.ClipName] = j.ClipID
		// The queue says when it was done, and its name leads to the clip.
		line := eval[string](t, d, fmt.Sprintf(`document
			.querySelector('[data-testid=job][data-clip=%q] [data-testid=job-clip]').getAttribute("href")`, j.ClipID))
		if line != "/clips/"+j.ClipID || j.EndedAt == "" {
			t.Errorf("%s in the queue leads to %q and ended at %q", j.ClipName, line, j.EndedAt)
		}
	}
	return d
}

// shootNow takes a picture of what is in view, as it is, when pictures are wanted.
func (d *coach) shootNow(t *testing.T, name string) {
	t.Helper()
	if d.shots == "" {
		return
	}
	ctx, cancel := context.WithTimeout(d.tab, stepLimit)
	defer cancel()
	picture, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err == nil {
		err = os.WriteFile(filepath.Join(d.shots, name+".png"), picture, 0o644)
	}
	if err != nil {
		t.Errorf("taking a picture of %s: %v", name, err)
	}
}

// size gives the window a size.
func (d *coach) size(t *testing.T, width, height int64) {
	t.Helper()
	ctx, cancel := context.WithTimeout(d.tab, stepLimit)
	defer cancel()
	if _, err := chromedp.Call(ctx, emulation.SetDeviceMetricsOverride,
		emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: 1}); err != nil {
		t.Fatal(err)
	}
}

func (d *coach) inView(t *testing.T) {
	for i, s := range [][2]int64{{1280, 800}, {1366, 768}, {390, 844}, {1280, 800}, {1366, 768}, {390, 844}} {
		d.size(t, s[0], s[1])
		d.openClip(t, []string{"slow_30.mp4", "fast_30.mp4"}[i/3]) // upright, then wide
		type seen struct{ Top, Play, Scrub, Height, Scroll float64 }
		got := eval[seen](t, d, `(() => { const of = (s) => document.querySelector(s).getBoundingClientRect();
			return { Top: of("#screen").top, Play: of("#play").bottom, Scrub: of("#scrub").bottom, Height: of("#screen").height,
				Scroll: scrollY }; })()`)
		// On a phone the answer comes first: there the picture and all under it fit the window together.
		above := 0.0
		if s[0] < 500 {
			above = got.Top
		}
		if got.Scroll != 0 || got.Play-above > float64(s[1]) || got.Scrub-above > float64(s[1]) || got.Height < 180 {
			t.Errorf("at %d by %d the picture begins at %.0f and is %.0f high, the slider ends at %.0f, Play at %.0f",
				s[0], s[1], got.Top, got.Height, got.Scrub, got.Play)
		}
	}
	d.keepsStill(t)
	d.shoot(t, "clip-page")
}

// viewOf is the part of the clip's picture that the page shows, pixels.
type viewOf struct{ X, Y, W, H float64 }

func (d *coach) view(t *testing.T) viewOf {
	t.Helper()
	return eval[viewOf](t, d, `(() => { const [X, Y, W, H] =
		document.querySelector("#overlay").dataset.view.split(" ").map(Number); return { X, Y, W, H }; })()`)
}

func (d *coach) cropped(t *testing.T) {
	d.size(t, 1280, 800)
	d.openClip(t, "slow_30.mp4")
	var frames frameList
	d.get(t, "/api/clips/"+d.clips["slow_30.mp4"]+"/frames", &frames)
	clip := struct{ WidthPx, HeightPx float64 }{720, 1280}
	v := d.view(t)
	if v.W*v.H > 0.8*clip.WidthPx*clip.HeightPx {
		t.Errorf("the page shows %.0f by %.0f pixels", v.W, v.H)
	}
	out, all := 0, 0
	for _, f := range frames.Points {
		for _, p := range f {
			if len(p) >= 2 {
				all++
				if p[0] < v.X || p[0] > v.X+v.W || p[1] < v.Y || p[1] > v.Y+v.H {
					out++
				}
			}
		}
	}
	if all == 0 || out > all/100 {
		t.Errorf("%d of %d points lie outside of what is shown", out, all)
	}
	// The video lies under the drawing: both show the same part.
	if off := eval[float64](t, d, `(() => { const v = document.querySelector("#video").getBoundingClientRect(),
		o = document.querySelector("#overlay"), b = o.getBoundingClientRect(),
		[x, y, w] = o.dataset.view.split(" ").map(Number), k = b.width / w;
		return Math.hypot(v.left + x * k - b.left, v.top + y * k - b.top); })()`); off > 1 {
		t.Errorf("the video lies %.1f px beside the drawing", off)
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#whole`)))
	if v := d.view(t); v != (viewOf{0, 0, clip.WidthPx, clip.HeightPx}) {
		t.Errorf("the whole picture is %v", v)
	}
}

func (d *coach) loopedRep(t *testing.T) {
	d.openClip(t, "slow_30.mp4")
	for _, rate := range []string{"0.125", "0.25", "0.5", "1"} {
		d.do(t, chromedp.Click(chromedp.CSS(fmt.Sprintf(`#speeds [data-rate="%s"]`, rate))))
		if got := eval[float64](t, d, `document.querySelector("#video").playbackRate`); fmt.Sprint(got) != rate {
			t.Errorf("it plays %v times as fast, want %s", got, rate)
		}
	}
	state := d.state(t, d.clips["slow_30.mp4"])
	rep := state.typed.Reps[0]
	d.do(t, chromedp.Click(chromedp.CSS(`#loop`)))
	// From a little before the end of the rep it goes on at its start.
	eval[bool](t, d, fmt.Sprintf(`(async () => { const s = document.querySelector("#scrub");
		s.value = Math.round(%g * 30) - 4; s.dispatchEvent(new Event("input")); return true; })()`, rep.EndS))
	d.until(t, stepLimit, `!document.querySelector("#video").seeking`)
	d.do(t, chromedp.Click(chromedp.CSS(`#play`)))
	d.until(t, stepLimit, fmt.Sprintf(`document.querySelector("#video").currentTime < %g`, rep.BottomS))
	if eval[bool](t, d, `document.querySelector("#video").paused`) {
		t.Error("it stopped")
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#play`)))
}

// fillsScreen shows the picture in full screen: picture, slider and Play are in view there.
func (d *coach) fillsScreen(t *testing.T) {
	d.size(t, 1280, 800)
	d.openClip(t, "slow_30.mp4")
	d.press(t, "full")
	d.until(t, stepLimit, `document.fullscreenElement?.id === "stage" &&
		document.querySelector("#full").getAttribute("aria-pressed") === "true"`)
	for _, what := range []string{"#screen", "#scrub", "#play"} {
		if out := eval[string](t, d, fmt.Sprintf(`(() => { const b = document.querySelector(%q).getBoundingClientRect();
			return b.height > 0 && b.top >= -1 && b.bottom <= innerHeight + 1 ? "" : b.top + " to " + b.bottom; })()`,
			what)); out != "" {
			t.Errorf("in full screen %s lies from %s px", what, out)
		}
	}
	d.press(t, "full")
	d.until(t, stepLimit, `document.fullscreenElement === null`)
}

// asksOnLeaving leaves the page while a clip is on its way, and after that was stopped.
func (d *coach) asksOnLeaving(t *testing.T) {
	d.size(t, 1280, 800)
	d.open(t, "/")
	asks := func() bool {
		return eval[bool](t, d, `(() => { const e = new Event("beforeunload", { cancelable: true }); dispatchEvent(e);
			return e.defaultPrevented; })()`)
	}
	if asks() {
		t.Error("with nothing on its way whoever leaves is asked")
	}
	// The server never answers.
	eval[bool](t, d, `(() => { const fetch = window.fetch; window.fetch = (url, how) =>
		how?.method === "POST" && String(url).endsWith("/api/uploads")
			? new Promise((_, no) => how.signal?.addEventListener("abort", () => no(new DOMException("", "AbortError"))))
			: fetch(url, how); return true; })()`)
	d.drop(t, "#drop", clipPath(t, "fast_30.mp4"))
	d.until(t, stepLimit, `document.querySelectorAll("[data-testid=chosen-clip]").length === 1`)
	d.do(t, chromedp.Evaluate[chromedp.Void](`{ const a = document.querySelector("#athlete");
		a.value = [...a.options].find((o) => o.textContent === "Kim Example").value; }`),
		chromedp.Click(chromedp.CSS(`#send`)))
	d.until(t, stepLimit, `document.querySelector("[data-testid=chosen-clip] progress").hidden === false`)
	if !asks() {
		t.Error("with a clip on its way nobody is asked")
	}
	d.do(t, chromedp.Click(chromedp.CSS(`[data-testid=chosen-clip] .small-btn`)))
	d.until(t, stepLimit, `document.querySelectorAll("[data-testid=chosen-clip]").length === 0`)
	if asks() {
		t.Error("with the clip stopped whoever leaves is asked still")
	}
}

// on returns where a place of the clip's picture lies in the window.
func (d *coach) on(t *testing.T, xPx, yPx float64) (x, y float64) {
	t.Helper()
	type place struct{ X, Y float64 }
	p := eval[place](t, d, fmt.Sprintf(`(() => { const o = document.querySelector("#overlay"),
		b = o.getBoundingClientRect(), [x, y, w] = o.dataset.view.split(" ").map(Number), k = b.width / w;
		return { X: b.left + (%g - x) * k, Y: b.top + (%g - y) * k }; })()`, xPx, yPx))
	return p.X, p.Y
}

var kneeTold = regexp.MustCompile(`(?i)knee (-?\d+)°`)

// followsDrag drags the knee: angles follow before anything is sent, the server's numbers are much
// like them, and keys take it back and bring it again.
func (d *coach) followsDrag(t *testing.T) {
	const name = "slow_30.mp4"
	d.size(t, 1280, 800)
	d.openClip(t, name)
	before := d.state(t, d.clips[name])
	rep := before.typed.Reps[0]
	i := int(math.Round((rep.BottomS - before.typed.Series.TimeS[0]) * before.typed.Series.RateHz))
	knee := before.typed.Series.PointsPx["knee"]
	d.do(t, chromedp.Click(chromedp.CSS(`#correct-toggle`)), chromedp.WaitVisible(chromedp.CSS(`#correct`)))
	x, y := d.on(t, knee.X[i], knee.Y[i])
	mouse := func(kind input.DispatchMouseEventType, dx, dy float64) chromedp.Action[chromedp.Void] {
		return chromedp.MouseEvent(kind, x+dx, y+dy, chromedp.ButtonLeft, chromedp.ClickCount(1))
	}
	d.do(t, mouse(chromedp.MouseMoved, 0, 0), mouse(chromedp.MousePressed, 0, 0), mouse(chromedp.MouseMoved, -4, -2),
		mouse(chromedp.MouseMoved, -8, -6))
	told := eval[string](t, d, `document.querySelector("#point-at").textContent`)
	m := kneeTold.FindStringSubmatch(told)
	if m == nil {
		t.Fatalf("while it is dragged the page says %q", told)
	}
	dragged, _ := strconv.ParseFloat(m[1], 64)
	if d.state(t, d.clips[name]).revision != before.revision {
		t.Error("a point in hand was sent")
	}
	was := before.typed.Series.AnglesDeg[body.KneeFlexion][i]
	if math.Abs(dragged-was) < 1 {
		t.Errorf("the knee is told as %.0f°, as before: %.1f°", dragged, was)
	}
	d.shootNow(t, "clip-dragging")
	d.loupe(t)
	d.do(t, mouse(chromedp.MouseReleased, -8, -6))
	d.revised(t, before.revision)
	if eval[bool](t, d, `"loupe" in document.querySelector("#overlay").dataset`) {
		t.Error("there is a loupe with nothing in hand")
	}
	after := d.state(t, d.clips[name])
	if is := after.typed.Series.AnglesDeg[body.KneeFlexion][i]; math.Abs(is-dragged) > 5 {
		t.Errorf("the page said %.0f° while the knee was dragged, the server says %.1f°", dragged, is)
	}
	for k := 1; k < len(after.typed.Reps); k++ {
		a, b := before.typed.Reps[k].Angles[body.AnkleDorsiflexion], after.typed.Reps[k].Angles[body.AnkleDorsiflexion]
		if math.Abs(a.ROMDeg-b.ROMDeg) > 0.05 {
			t.Errorf("the ankle of rep %d moved from %.2f° to %.2f°", k+1, a.ROMDeg, b.ROMDeg)
		}
	}
	d.do(t, chromedp.KeyEvent("z", chromedp.KeyModifiers(chromedp.ModifierCtrl)))
	d.revised(t, after.revision)
	undone := d.state(t, d.clips[name])
	if !undone.canRedo || undone.canUndo {
		t.Error("Ctrl+Z takes nothing back")
	}
	d.do(t, chromedp.KeyEvent("z", chromedp.KeyModifiers(chromedp.ModifierCtrl, chromedp.ModifierShift)))
	d.revised(t, undone.revision)
	if redone := d.state(t, d.clips[name]); !redone.canUndo {
		t.Error("Ctrl+Shift+Z brings nothing back")
	}
}

// loupe looks at the picture under the hand: in the corner away from it the same place is shown three times as large,
// and gone once the point is let go.
func (d *coach) loupe(t *testing.T) {
	t.Helper()
	// What the loupe shows of the video, left and right of its cross and above and below it, against the video itself.
	off := eval[float64](t, d, `(() => {
		const o = document.querySelector("#overlay"), video = document.querySelector("#video"),
			[,, vw] = o.dataset.view.split(" ").map(Number), scale = o.width / vw,
			[px, py, lx, ly, r] = o.dataset.loupe.split(" ").map(Number);
		const seen = o.getContext("2d").getImageData(0, 0, o.width, o.height);
		const clip = Object.assign(document.createElement("canvas"), { width: video.videoWidth, height: video.videoHeight });
		const c = clip.getContext("2d"); c.drawImage(video, 0, 0);
		const k = video.videoWidth / 720, film = c.getImageData(0, 0, clip.width, clip.height);
		let sum = 0, n = 0;
		for (let a = 0; a < 2 * Math.PI; a += 0.1) {
			const dx = 0.6 * r * Math.cos(a), dy = 0.6 * r * Math.sin(a);
			const at = (img, x, y) => {
				const i = 4 * (Math.round(y) * img.width + Math.round(x)); return img.data.slice(i, i + 3); };
			const got = at(seen, lx + dx, ly + dy);
			const want = at(film, (px + dx / (3 * scale)) * k, (py + dy / (3 * scale)) * k);
			sum += Math.abs(got[0] - want[0]) + Math.abs(got[1] - want[1]) + Math.abs(got[2] - want[2]); n += 3;
		}
		return sum / n; })()`)
	if off > 12 {
		t.Errorf("what the loupe shows differs from the video by %.0f of 255", off)
	}
}

// asksForKeys opens the list of the keys by one.
func (d *coach) asksForKeys(t *testing.T) {
	d.size(t, 1280, 800)
	d.openClip(t, "slow_30.mp4")
	open := func() bool { return eval[bool](t, d, `document.querySelector("#key-help").open`) }
	d.do(t, chromedp.KeyEvent("?"))
	if !open() {
		t.Error("? does not show the keys")
	}
	d.do(t, chromedp.KeyEvent("?"))
	if open() {
		t.Error("? does not hide the keys again")
	}
}

// correctsOnPhone opens the tools on a phone: picture, pad, undo and Done are in view together.
func (d *coach) correctsOnPhone(t *testing.T) {
	d.size(t, 390, 844)
	d.openClip(t, "slow_30.mp4")
	d.do(t, chromedp.Click(chromedp.CSS(`#correct-toggle`)), chromedp.WaitVisible(chromedp.CSS(`#correct-bar`)))
	for _, what := range []string{"#correct-done", "#undo", "#screen", "#point", "#pad"} {
		if out := eval[string](t, d, fmt.Sprintf(`(() => { const b = document.querySelector(%q).getBoundingClientRect();
			return b.height > 0 && b.top >= -1 && b.bottom <= innerHeight + 1 ? "" : b.top + " to " + b.bottom; })()`,
			what)); out != "" {
			t.Errorf("%s lies from %s px of 844", what, out)
		}
	}
	d.shootNow(t, "clip-correcting-phone")
	d.keepsStill(t)
	d.do(t, chromedp.Click(chromedp.CSS(`#correct-done`)))
	if !eval[bool](t, d, `document.querySelector("#correct").hidden && document.querySelector("#correct-bar").hidden`) {
		t.Error("Done does not end the correcting")
	}
}

// seesExample loads the example athlete, whose clips are measured when the page comes back, and
// removes it after a question.
func (d *coach) seesExample(t *testing.T) {
	d.size(t, 1280, 800)
	d.open(t, "/")
	d.do(t, chromedp.Click(chromedp.CSS(`#example-load`)))
	d.until(t, stepLimit, `document.readyState === "complete" && document.querySelector("#example-remove")`)
	blocks := `[...document.querySelectorAll("[data-testid=athlete-block]")]
		.filter((b) => b.textContent.includes("Sam Example"))`
	cards := eval[string](t, d, blocks+`[0].textContent`)
	if n := strings.Count(cards, "3 whole reps"); n != 3 || !strings.Contains(cards, "Compare slow, fast and jump") {
		t.Errorf("%d of three clips of the example are measured: %q", n, cards)
	}
	var jobs jobList
	d.get(t, "/api/jobs", &jobs)
	for _, j := range jobs.Jobs {
		if j.AthleteName == "Sam Example" && j.Kind == "analyze" {
			t.Errorf("%s of the example waits for a network", j.ClipName)
		}
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#example-remove`)), chromedp.WaitVisible(chromedp.CSS(`#example-dialog`)))
	d.audit(t)
	d.shootNow(t, "home-example-question")
	d.do(t, chromedp.Click(chromedp.CSS(`#example-dialog [data-closes]`)))
	if n := eval[int](t, d, blocks+`.length`); n != 1 {
		t.Errorf("without a yes there are %d examples", n)
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#example-remove`)), chromedp.WaitVisible(chromedp.CSS(`#example-yes`)),
		chromedp.Click(chromedp.CSS(`#example-yes`)))
	d.until(t, stepLimit, `document.readyState === "complete" && document.querySelector("#example-load")`)
	if n := eval[int](t, d, blocks+`.length`); n != 0 {
		t.Errorf("after a yes there are %d examples", n)
	}
}

// choosesClips chooses clips of two athletes and days on the first page and sends them at once.
func (d *coach) choosesClips(t *testing.T) {
	d.size(t, 1280, 800)
	var known struct{ Athletes []struct{ ID, Name string } }
	d.get(t, "/api/athletes", &known)
	kim := known.Athletes[0].ID
	d.open(t, "/?athlete="+kim)
	if got := eval[string](t, d, `document.querySelector("#athlete").value`); got != kim {
		t.Errorf("from the page of an athlete, %q is chosen", got)
	}
	d.open(t, "/")
	if got := eval[string](t, d, `document.querySelector("#athlete").selectedOptions[0].textContent`); got !=
		"Choose an athlete …" {
		t.Errorf("from nowhere, %q is chosen", got)
	}
	if !eval[bool](t, d, `Boolean(document.querySelector("#drop").compareDocumentPosition(
		document.querySelector("#athlete")) & Node.DOCUMENT_POSITION_FOLLOWING)`) {
		t.Error("the fields come before the place to drop a clip")
	}
	content, err := os.ReadFile(clipPath(t, "left_slow.mp4"))
	if err != nil {
		t.Fatal(err)
	}
	d.do(t, chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => {
		const bytes = Uint8Array.from(atob(%q), (c) => c.charCodeAt(0)), data = new DataTransfer(), type = "video/mp4";
		const day = (d) => new Date(2026, 4, d, 12).getTime();
		data.items.add(new File([bytes], "left_slow.mp4", { type, lastModified: day(2) }));
		data.items.add(new File([bytes, "x"], "left_fast.mp4", { type, lastModified: day(9) }));
		data.items.add(new File([], "nothing.mp4", { type }));
		data.items.add(new File(["x"], "notes.txt", { type: "text/plain" }));
		document.querySelector("#drop").dispatchEvent(
			new DragEvent("drop", { bubbles: true, cancelable: true, dataTransfer: data }));
	})()`, base64.StdEncoding.EncodeToString(content))))
	d.until(t, stepLimit, `document.querySelectorAll("#chosen canvas[data-drawn]").length === 2`)
	refused := eval[string](t, d, `document.querySelector("[data-testid=toast-bad]").textContent`)
	if !strings.Contains(refused, "nothing.mp4 is empty") || !strings.Contains(refused, "notes.txt") {
		t.Errorf("of two files that are not taken the page says %q", refused)
	}
	days := `[...document.querySelectorAll("[data-testid=own-day]")].map((i) => i.value).join()`
	if got := eval[string](t, d, days); got != "2026-05-02,2026-05-09" {
		t.Errorf("the days of the clips are %s", got)
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#send`)))
	if got := eval[string](t, d, `document.activeElement.id`); got != "athlete" {
		t.Errorf("nobody is chosen, and the focus is on %q", got)
	}
	d.do(t, chromedp.Evaluate[chromedp.Void](`for (const e of document.querySelectorAll(".own")) e.open = true`))
	d.audit(t)
	d.shoot(t, "home-batch")
	d.size(t, 1280, 800)
	d.do(t, chromedp.SetValue(chromedp.CSS(`#athlete`), ""), chromedp.Evaluate[chromedp.Void](
		`document.querySelector("#athlete").dispatchEvent(new Event("change"))`),
		chromedp.SendKeys(chromedp.CSS(`#athlete-name`), "Lee Example"),
		chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`(() => {
			const own = (name) => document.querySelectorAll("[data-testid=" + name + "]")[1];
			own("own-athlete").value = %q; own("own-condition").value = "fatigued"; own("tempo").value = "fast"; })()`,
			kim)),
		chromedp.Click(chromedp.CSS(`#send`)))
	d.until(t, measureLimit, `document.querySelectorAll("[data-testid=chosen-clip]").length === 0`)
	var jobs jobList
	d.get(t, "/api/jobs", &jobs)
	whose := map[string]string{}
	for _, j := range jobs.Jobs {
		whose[j.ClipName] = j.AthleteName
		d.clips[j.ClipName] = j.ClipID
	}
	if whose["left_slow.mp4"] != "Lee Example" || whose["left_fast.mp4"] != "Kim Example" {
		t.Errorf("the clips are of %v", whose)
	}
	for name, want := range map[string]string{
		"left_slow.mp4": "2026-05-02 fresh", "left_fast.mp4": "2026-05-09 fatigued",
	} {
		var about struct {
			Visit struct{ Date, Condition string }
		}
		d.get(t, "/api/clips/"+d.clips[name], &about)
		if got := about.Visit.Date + " " + about.Visit.Condition; got != want {
			t.Errorf("%s is of %s, want %s", name, got, want)
		}
	}

	// On a phone the button that sends is in view, however many are chosen.
	d.size(t, 390, 844)
	d.open(t, "/")
	d.do(t, chromedp.Evaluate[chromedp.Void](`(() => { const data = new DataTransfer();
		for (let i = 0; i < 9; i++) data.items.add(new File(["x" + i], i + ".mp4", { type: "video/mp4" }));
		document.querySelector("#drop").dispatchEvent(
			new DragEvent("drop", { bubbles: true, cancelable: true, dataTransfer: data })); })()`))
	d.until(t, stepLimit, `document.querySelectorAll("[data-testid=chosen-clip]").length === 9`)
	if y := eval[float64](t, d, `document.querySelector("#send").getBoundingClientRect().bottom`); y > 844 || y < 0 {
		t.Errorf("the button that sends ends at %.0f px of 844", y)
	}
	d.shootNow(t, "home-phone-many")
}
