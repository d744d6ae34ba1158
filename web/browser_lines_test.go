package web_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"holdfast/archive"
	"holdfast/web"
)

// The page's lines to the server, in a real browser: the stream of events and uploads
// that break off. The server is in this process, and the program that works on clips a
// fake.
func TestBrowserLines(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	d, kept := openDesk(t, t.TempDir())
	t.Run("a hidden page lets go", d.hiddenPage)
	t.Run("a clip without a job", func(t *testing.T) { d.measureClip(t, kept) })
	t.Run("a report is made and saved", func(t *testing.T) { d.saveReport(t, kept) })
	t.Run("an upload goes on", func(t *testing.T) { d.brokenUploads(t, kept) })
}

// hiddenPage hides and shows a page that follows the server.
func (d *coach) hiddenPage(t *testing.T) {
	d.open(t, "/about")
	eval[bool](t, d, `(async () => {
		window.lines = [];
		window.EventSource = class extends EventSource {
			constructor(url) { super(url); window.lines.push(this); }
		};
		window.openLines = () => window.lines.filter((l) => l.readyState !== 2).length;
		// The browser of a test never hides a page.
		window.hides = false;
		Object.defineProperty(document, "hidden", { get: () => window.hides });
		window.hide = (yes) => {
			window.heard = []; window.hides = yes; document.dispatchEvent(new Event("visibilitychange")); return true; };
		window.heard = [];
		const { follow } = await import(document.querySelector("script[src]").src.replace(/js\/.*/, "js/api.js"));
		window.stop = follow({ jobs: () => window.heard.push("jobs"), again: () => window.heard.push("again") });
		return true;
	})()`)
	d.until(t, stepLimit, `window.heard.join() === "jobs" && window.openLines() === 1`)
	eval[bool](t, d, `window.hide(true)`)
	if n := eval[int](t, d, `window.openLines()`); n != 0 {
		t.Errorf("a hidden page holds %d connections", n)
	}
	// Shown again, it is told the state and that it has missed something.
	eval[bool](t, d, `window.hide(false)`)
	d.until(t, stepLimit, `window.heard.join() === "again,jobs" && window.openLines() === 1`)
	eval[bool](t, d, `window.hide(false)`)
	if n := eval[int](t, d, `window.openLines()`); n != 1 {
		t.Errorf("a page that is seen holds %d connections", n)
	}
	eval[bool](t, d, `(() => { window.stop(); return window.hide(true) && window.hide(false); })()`)
	if n := eval[int](t, d, `window.openLines()`); n != 0 {
		t.Errorf("a page that follows no more holds %d connections", n)
	}
}

// measureClip opens a clip that nobody measures, as a kill in the middle of an upload
// leaves one, and has it measured.
func (d *coach) measureClip(t *testing.T, kept *archive.Archive) {
	ctx := t.Context()
	file, err := kept.Put(ctx, strings.NewReader(web.MovieStart), 1000)
	if err != nil {
		t.Fatal(err)
	}
	a, err := kept.CreateAthlete(ctx, archive.Athlete{Name: "Ada Example"})
	if err != nil {
		t.Fatal(err)
	}
	v, err := kept.VisitFor(ctx, archive.Visit{AthleteID: a.ID, Date: "2025-05-02", Condition: archive.Fresh})
	if err != nil {
		t.Fatal(err)
	}
	clip, _, err := kept.AddClip(ctx, archive.Clip{VisitID: v.ID, AthleteID: a.ID, Name: "slow.mp4", SHA256: file.SHA256})
	if err != nil {
		t.Fatal(err)
	}
	d.open(t, "/clips/"+clip.ID)
	d.do(t, chromedp.WaitVisible(chromedp.CSS(`[data-testid=measure]`)),
		chromedp.Click(chromedp.CSS(`[data-testid=measure]`)))
	// The page shows the result when it is there.
	d.until(t, measureLimit, `!document.querySelector("#measured").hidden && document.querySelector("#waiting").hidden`)
}

// saveReport compares two clips and has a report made by the button that saves it.
func (d *coach) saveReport(t *testing.T, kept *archive.Archive) {
	ctx := t.Context()
	a, err := kept.CreateAthlete(ctx, archive.Athlete{Name: "Kim Example"})
	if err != nil {
		t.Fatal(err)
	}
	v, err := kept.VisitFor(ctx, archive.Visit{AthleteID: a.ID, Date: "2025-05-02", Condition: archive.Fresh})
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, name := range []string{"slow.mp4", "fast.mp4"} {
		file, err := kept.Put(ctx, strings.NewReader(web.MovieStart+name), 1000)
		if err != nil {
			t.Fatal(err)
		}
		clip, _, err := kept.AddClip(ctx, archive.Clip{VisitID: v.ID, AthleteID: a.ID, Name: name, SHA256: file.SHA256})
		if err != nil {
			t.Fatal(err)
		}
		ids = append(ids, clip.ID)
		d.open(t, "/clips/"+clip.ID)
		d.do(t, chromedp.WaitVisible(chromedp.CSS(`[data-testid=measure]`)),
			chromedp.Click(chromedp.CSS(`[data-testid=measure]`)))
		d.until(t, measureLimit, `!document.querySelector("#measured").hidden`)
	}
	id := eval[string](t, d, fmt.Sprintf(`(async () => {
		const { post } = await import(document.querySelector("script[src]").src.replace(/js\/.*/, "js/api.js"));
		return (await post("/api/comparisons", { clips: [%q, %q] })).id;
	})()`, ids[0], ids[1]))
	d.open(t, "/comparisons/"+id)
	d.do(t, chromedp.WaitVisible(chromedp.CSS(`[data-testid="get-coach.pdf"]`)),
		chromedp.Click(chromedp.CSS(`[data-testid="get-coach.pdf"]`)))
	d.until(t, measureLimit, `document.body.textContent.includes("For the coach, PDF is saved")`)
	c, err := kept.Comparison(ctx, id)
	if err != nil || !slices.ContainsFunc(c.Files,
		func(f archive.File) bool { return strings.HasSuffix(f.Name, "/coach.pdf") }) {
		t.Errorf("the report is not among %v (%v)", c.Files, err)
	}
}

// brokenUploads sends files of the browser's own making, with the page's own module.
func (d *coach) brokenUploads(t *testing.T, kept *archive.Archive) {
	const size = 9 << 20 // three pieces
	// content is what make below makes of a letter.
	content := func(letter byte) string {
		b := make([]byte, size)
		for i := range b {
			b[i] = byte(i*7>>3) ^ letter
		}
		copy(b, web.MovieStart)
		sum := sha256.Sum256(b)
		return hex.EncodeToString(sum[:])
	}
	movieStart := strings.ReplaceAll(fmt.Sprint([]byte(web.MovieStart)), " ", ",")
	load := func() {
		d.open(t, "/about")
		eval[bool](t, d, `(async () => {
			const at = document.querySelector("script[src]").src.replace(/js\/.*/, "js/upload.js");
			const { upload } = await import(at);
			const make = (letter) => {
				const b = new Uint8Array(`+fmt.Sprint(size)+`);
				for (let i = 0; i < b.length; i++) b[i] = ((i * 7) >> 3) ^ letter.charCodeAt(0);
				b.set(`+movieStart+`);
				return new File([b], "slow.mp4", { type: "video/mp4", lastModified: 1700000000000 });
			};
			window.sent = null;
			// leaveAt: the page is left once so many bytes are there, and sends no more pieces.
			window.send = (letter, leaveAt) => {
				window.sent = null;
				window.keptMost = 0;
				upload(make(letter), { athlete_name: "Sam Example", date: "2025-05-02" }, { progress: (n, note, kept = 0) => {
					window.keptMost = Math.max(window.keptMost, kept);
					if (!leaveAt || n < leaveAt) return;
					leaveAt = 0;
					XMLHttpRequest.prototype.send = () => {};
					location.reload();
				} }).then((a) => { window.sent = a.clips[0].id; }, (e) => { window.sent = "failed: " + e.message; });
				return true;
			};
			return true;
		})()`)
	}
	ends := func(letter byte) {
		t.Helper()
		id := until[string](t, d, stepLimit, `window.sent`)
		clip, err := kept.Clip(t.Context(), id)
		if err != nil {
			t.Fatalf("%s: %v", id, err)
		}
		if clip.SHA256 != content(letter) {
			t.Error("the clip is not the file that was sent")
		}
	}
	// Left in the middle, the same file goes on from there.
	load()
	eval[bool](t, d, fmt.Sprintf(`window.send("a", %d)`, 5<<20))
	d.until(t, stepLimit, `window.send === undefined && document.readyState === "complete"`)
	load()
	eval[bool](t, d, `window.send("a")`)
	ends('a')
	if n := eval[int](t, d, `window.keptMost`); n < 4<<20 {
		t.Errorf("%d bytes were not sent again, want at least the first piece", n)
	}

	// Left in the middle, another file with the same name, size and date does not.
	eval[bool](t, d, fmt.Sprintf(`window.send("b", %d)`, 5<<20))
	d.until(t, stepLimit, `window.send === undefined && document.readyState === "complete"`)
	load()
	eval[bool](t, d, `window.send("c")`)
	ends('c')
	if n := eval[int](t, d, `window.keptMost`); n != 0 {
		t.Errorf("%d bytes of another file were taken for this one's", n)
	}

	// Forgotten by the server, it begins anew by itself.
	load()
	eval[bool](t, d, `(() => {
		const open = XMLHttpRequest.prototype.open;
		window.paths = new Set();
		XMLHttpRequest.prototype.open = function (method, url) { window.paths.add(url); return open.apply(this, arguments); };
		const send = XMLHttpRequest.prototype.send;
		let n = 0;
		// Before the second piece the upload is given up behind the page's back.
		XMLHttpRequest.prototype.send = function (body) {
			if (++n !== 2) return send.call(this, body);
			fetch([...window.paths][0], { method: "DELETE", headers: { "X-Holdfast": "1" } }).then(() => send.call(this, body));
		};
		return window.send("d");
	})()`)
	ends('d')
	if n := eval[int](t, d, `window.paths.size`); n != 2 {
		t.Errorf("the clip was begun %d times, want 2", n)
	}
}
