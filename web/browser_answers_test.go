package web_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"holdfast/archive"
	"holdfast/kinematics"
	"holdfast/report/said"
	"holdfast/screening"
)

// measuredDesk starts a server whose clips are measured from their stored tracks, and a browser before it.
func measuredDesk(t *testing.T) *coach {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "data")
	kept, err := archive.Open(t.Context(), dir, archive.Options{Serving: true})
	if err != nil {
		t.Fatal(err)
	}
	return serveArchive(t, kept, dir, "tracked", "")
}

// send sends a shipped clip of an athlete, filmed on a day, and returns its id.
func (d *coach) send(t *testing.T, athlete, date, name string) {
	t.Helper()
	video, err := os.ReadFile(clipPath(t, name+".mp4"))
	if err != nil {
		t.Fatal(err)
	}
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	for _, field := range [][2]string{{"athlete_name", athlete}, {"date", date}} {
		if err := form.WriteField(field[0], field[1]); err != nil {
			t.Fatal(err)
		}
	}
	part, err := form.CreateFormFile("clip", name+".mp4")
	if err == nil {
		_, err = part.Write(video)
	}
	if err == nil {
		err = form.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, d.base+"/api/clips", &body)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", form.FormDataContentType())
	r.Header.Set("X-Holdfast", "1")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusCreated {
		t.Fatalf("%s was not taken: %s", name, answer.Status)
	}
}

// measured waits until everything in the queue is done, and learns the clips.
func (d *coach) measured(t *testing.T) {
	t.Helper()
	d.open(t, "/")
	d.until(t, measureLimit, `((jobs) => jobs.length > 0 && jobs.every((j) => j.dataset.state === "done"))(
		[...document.querySelectorAll("[data-testid=job]")])`)
	var jobs jobList
	d.get(t, "/api/jobs", &jobs)
	for _, j := range jobs.Jobs {
		d.clips[j.ClipName], d.athlete = j.ClipID, j.AthleteID
		if j.Error != "" {
			t.Fatalf("%s: %s", j.ClipName, j.Error)
		}
	}
}

// compared compares clips and opens the comparison.
func (d *coach) compared(t *testing.T, names ...string) {
	t.Helper()
	var ids []string
	for _, n := range names {
		ids = append(ids, fmt.Sprintf("%q", d.clips[n+".mp4"]))
	}
	d.comparison = eval[string](t, d, fmt.Sprintf(`fetch("/api/comparisons", { method: "POST",
		headers: { "Content-Type": "application/json", "X-Holdfast": "1" }, body: JSON.stringify({ clips: [%s] }) })
		.then((r) => r.json()).then((c) => c.id)`, strings.Join(ids, ",")))
	d.open(t, "/comparisons/"+d.comparison)
	d.until(t, measureLimit, `document.querySelector("#result")?.hidden === false`)
}

// What a page gives away at first sight: the comparison its answer, joint by joint, in the words that everything else
// has too.
func TestBrowserAnswers(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	d := measuredDesk(t)
	for _, name := range []string{"slow_30", "fast_30", "jump_30"} {
		d.send(t, "Sam Example", "2026-05-04", name)
	}
	for _, name := range []string{"slow", "fast", "left_fast"} {
		d.send(t, "Sam Example", "2026-11-02", name)
	}
	d.measured(t)
	t.Run("comparison", d.answersOfComparison)
	t.Run("two legs", d.withheldAnswers)
	t.Run("retest", d.retests)
	t.Run("clip", d.answersOfClip)
	t.Run("athlete", d.answersOfAthlete)
	d.quiet(t)
}

// answer reads the answer of the server that the comparison's page shows.
func (d *coach) answer(t *testing.T) (c screening.Comparison, words said.Said) {
	t.Helper()
	var answer struct {
		Comparison screening.Comparison `json:"comparison"`
		Said       said.Said            `json:"said"`
	}
	d.get(t, "/api/comparisons/"+d.comparison, &answer)
	return answer.Comparison, answer.Said
}

func (d *coach) answersOfComparison(t *testing.T) {
	d.compared(t, "slow_30", "fast_30", "jump_30")
	_, words := d.answer(t)
	between := false
	for i, h := range words.Headlines {
		text := func(part string) string {
			return eval[string](t, d, fmt.Sprintf(
				`document.querySelectorAll("#answers > li")[%d].querySelector(%q)?.textContent`, i, part))
		}
		if text(".answer-sentence") != h.Sentence || text(".answer-range") != h.Range || h.Number == "" ||
			text(".answer-number strong") != h.Number || text(".answer-number .iv") != h.Ends {
			t.Errorf("%s: the page says %q, %q, %q; want %q, %q, %q", h.Name, text(".answer-sentence"), text(".answer-range"),
				text(".answer-number"), h.Sentence, h.Range, h.Number)
		}
		marks := eval[[]string](t, d, fmt.Sprintf(
			`[...document.querySelectorAll("#answers > li")[%d].querySelectorAll(".steps strong")]
				.map((e) => e.textContent)`, i))
		if len(marks) != 3 {
			t.Errorf("%s: the steps are %q", h.Name, marks)
		}
		between = between || strings.Contains(h.Sentence, "° fast, ") && strings.Contains(h.Sentence, " lost (")
	}
	if !between {
		t.Error("no joint lost its position in the fast rep alone")
	}
	// The ladder names the landing, and the steps beside the sentence are its numbers.
	head := eval[string](t, d, `document.querySelector("#ladder thead").innerText`)
	if !strings.Contains(head, "in the landing") {
		t.Errorf("the ladder's head is %q", head)
	}
	title := eval[string](t, d, `document.querySelector("#ladder-h").innerText`)
	if title != "The ladder: slow, fast, jump" {
		t.Errorf("the ladder is called %q", title)
	}
	for _, h := range words.Headlines {
		row := eval[string](t, d, fmt.Sprintf(`document.querySelector("#ladder [data-rung=%s]").innerText`, h.Joint))
		for _, m := range h.Marks {
			if !strings.Contains(row, m.Deg) {
				t.Errorf("%s: the ladder says %q, the steps %q", h.Name, row, m.Deg)
			}
		}
	}
	// One chart a joint; the keyboard walks along it and its values are told.
	if n := eval[int](t, d, `document.querySelectorAll("#charts .chart").length`); n != 3 {
		t.Errorf("%d charts", n)
	}
	values := func() string {
		return eval[string](t, d, `document.querySelector("[data-testid=values-knee_flexion]").textContent`)
	}
	d.do(t, chromedp.Evaluate[chromedp.Void](`document.querySelector("[data-testid=curve-knee_flexion]").focus()`),
		chromedp.KeyEvent(kb.Home))
	start := values()
	d.do(t, chromedp.KeyEvent(kb.ArrowRight))
	if next := values(); !strings.HasPrefix(start, "At 0 %: slow ") || !strings.HasPrefix(next, "At 1 %: slow ") {
		t.Errorf("along the curve: %q, then %q", start, next)
	}
	// A joint has one scale, whichever pair is shown: its axis is drawn alike.
	axes := func(pair string) []int {
		d.do(t, chromedp.Click(chromedp.CSS(`[data-testid="pair-`+pair+`"]`)))
		return eval[[]int](t, d, `[...document.querySelectorAll("#charts .chart canvas")].map((c) => c.getContext("2d")
			.getImageData(0, 0, Math.round(36 * devicePixelRatio), c.height).data.reduce((h, v) => (h * 31 + v) | 0, 7))`)
	}
	slow, jump := axes("slow-fast"), axes("slow-jump")
	if len(slow) != 3 || !slices.Equal(slow, jump) || slices.Equal(slow, []int{slow[0], slow[0], slow[0]}) {
		t.Errorf("the axes of the joints of one pair and of another are drawn as %v and %v", slow, jump)
	}
	// The ticks of a chart say what they are.
	if got := eval[string](t, d, `import(document.querySelector("script[src]").src.replace(/js\/.*/, "js/chart.js"))
		.then(({ axis, inks }) => axis(inks(false), "x").values(null, [0, 0.25, 0.5, 2, -1.5]).join(" "))`); got !=
		"0 0.25 0.5 2 −1.5" {
		t.Errorf("the ticks read %q", got)
	}
	// Another rep is named, and coloured, by its own tempo.
	eval[bool](t, d, `(() => { const s = document.querySelector("#left-rep");
		s.value = [...s.options].find((o) => o.textContent.includes("fast_30")).value;
		s.dispatchEvent(new Event("change")); return true; })()`)
	if got := eval[string](t, d, `document.querySelector("#left-cap").innerText + " " +
		document.querySelector("#left-cap .tempo").className`); !strings.Contains(got, "fast_30.mp4") ||
		strings.Count(got, "fast") < 3 || strings.Contains(got, "slow") {
		t.Errorf("with a fast rep chosen the left picture is called %q", got)
	}
	d.audit(t)
	d.stillsOfLanding(t)
	d.croppedPair(t)
	d.shoot(t, "answers-comparison")
	d.printsAnswer(t)
}

// stillsOfLanding looks at the three bottoms about a landing: each is the picture of its own frame, taken from the
// videos that run side by side, which stand where they stood.
func (d *coach) stillsOfLanding(t *testing.T) {
	ctx, cancel := context.WithTimeout(d.tab, stepLimit)
	defer cancel()
	count := `window.opened = 0; { const make = document.createElement;
		document.createElement = function (name, ...how) {
			if (name === "video") window.opened++; return make.call(this, name, ...how); }; }`
	script, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument,
		page.AddScriptToEvaluateOnNewDocumentParams{Source: count})
	if err != nil {
		t.Fatal(err)
	}
	d.open(t, "/comparisons/"+d.comparison)
	d.until(t, measureLimit, `document.querySelectorAll("#stills canvas[data-frame]").length === 3`)
	if _, err := chromedp.Call(ctx, page.RemoveScriptToEvaluateOnNewDocument,
		page.RemoveScriptToEvaluateOnNewDocumentParams{Identifier: script.Identifier}); err != nil {
		t.Fatal(err)
	}
	want := make([]int, 0, 3)
	for i, name := range []string{"slow_30.mp4", "jump_30.mp4", "jump_30.mp4"} {
		var frames frameList
		d.get(t, "/api/clips/"+d.clips[name]+"/frames", &frames)
		c, _ := d.answer(t)
		number := c.Landing.JumpRep
		if i == 0 {
			number = c.Landing.SlowRep
		}
		reps := d.state(t, d.clips[name]).typed.Reps
		rep := reps[slices.IndexFunc(reps, func(r kinematics.Rep) bool { return r.Number == number })]
		want = append(want, nearestFrame(frames.TimeS, []float64{rep.BottomS, rep.BottomS, rep.LandingBottomS}[i]))
	}
	if got := eval[[]int](t, d, `[...document.querySelectorAll("#stills canvas")]
		.map((c) => Number(c.dataset.frame))`); !slices.Equal(got, want) {
		t.Errorf("the stills are of frames %v, want %v", got, want)
	}
	d.until(t, stepLimit, fmt.Sprintf(`document.querySelector("#left").dataset.frame === "%d" &&
		document.querySelector("#right").dataset.frame === "%d"`, want[0], want[2]))
	if n := eval[int](t, d, `window.opened`); n != 2 {
		t.Errorf("%d videos were opened for two clips", n)
	}
	// What was drawn: no two of the stills are alike, and none is empty.
	different := `new Set([...document.querySelectorAll("#stills canvas")].map((c) => {
		const p = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
		let sum = 0; for (let i = 0; i < p.length; i++) sum += p[i] * (i % 251); return sum; }).filter(Boolean)).size`
	if n := eval[int](t, d, different); n != 3 {
		t.Errorf("%d different stills", n)
	}
}

// croppedPair looks at how the two pictures are cut: to the athletes, whose legs are then equally long, until the whole
// pictures are wanted.
func (d *coach) croppedPair(t *testing.T) {
	var legs [2]float64
	for i, name := range []string{"left", "right"} {
		var v viewOf
		var cssW float64
		type shown struct {
			View  []float64
			Width float64
			Frame int
		}
		got := eval[shown](t, d, fmt.Sprintf(`((c) => ({ View: c.dataset.view.split(" ").map(Number),
			Width: c.getBoundingClientRect().width, Frame: Number(c.dataset.frame) }))(document.querySelector("#%s"))`, name))
		v, cssW = viewOf{got.View[0], got.View[1], got.View[2], got.View[3]}, got.Width
		if v.W*v.H > 0.8*720*1280 {
			t.Errorf("%s shows %.0f by %.0f pixels of 720 by 1280", name, v.W, v.H)
		}
		clip := d.clips[[]string{"slow_30.mp4", "jump_30.mp4"}[i]]
		a := d.state(t, clip).typed
		var frames frameList
		d.get(t, "/api/clips/"+clip+"/frames", &frames)
		at := nearestFrame(a.Series.TimeS, frames.TimeS[got.Frame])
		point := func(name string) (x, y float64) {
			p := a.Series.PointsPx[name]
			if x, y = p.X[at], p.Y[at]; x < v.X || x > v.X+v.W || y < v.Y || y > v.Y+v.H {
				t.Errorf("%s: the %s at %.0f, %.0f lies outside of what is shown, %v", clip, name, x, y, v)
			}
			return x, y
		}
		for _, p := range []string{"ear", "wrist", "toe"} {
			point(p)
		}
		hx, hy := point("hip")
		kx, ky := point("knee")
		ax, ay := point("ankle")
		legs[i] = (math.Hypot(hx-kx, hy-ky) + math.Hypot(kx-ax, ky-ay)) * cssW / v.W
	}
	if math.Abs(legs[0]/legs[1]-1) > 0.03 {
		t.Errorf("the legs are %.0f and %.0f px long on the page", legs[0], legs[1])
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#whole`)))
	if got := eval[string](t, d, `document.querySelector("#right").dataset.view`); got != "0.0 0.0 720.0 1280.0" {
		t.Errorf("the whole picture is %s", got)
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#whole`)))
}

// printsAnswer looks at the page as paper shows it: the answer, without what is pressed.
func (d *coach) printsAnswer(t *testing.T) {
	media := func(name string) {
		ctx, cancel := context.WithTimeout(d.tab, stepLimit)
		defer cancel()
		if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia,
			emulation.SetEmulatedMediaParams{Media: name}); err != nil {
			t.Fatal(err)
		}
	}
	media("print")
	defer media("")
	seen := func(sel string) bool {
		return eval[bool](t, d, fmt.Sprintf(`[...document.querySelectorAll(%q)].some((e) => e.checkVisibility())`, sel))
	}
	for _, sel := range []string{"nav", "main button", "main .button", "input[type=range]"} {
		if seen(sel) {
			t.Errorf("on paper there is %s", sel)
		}
	}
	for _, sel := range []string{"#answers", "#left", "#ladder"} {
		if !seen(sel) {
			t.Errorf("on paper there is no %s", sel)
		}
	}
}

func (d *coach) withheldAnswers(t *testing.T) {
	d.compared(t, "slow_30", "left_fast")
	c, words := d.answer(t)
	if c.Withheld == nil {
		t.Fatal("two legs were compared")
	}
	for i, h := range words.Headlines {
		got := eval[string](t, d, fmt.Sprintf(
			`document.querySelectorAll("#answers > li")[%d].querySelector(".answer-number").textContent`, i))
		if h.Number != "" || got != h.Called {
			t.Errorf("%s: where the number would be stands %q, want %q", h.Name, got, h.Called)
		}
	}
	// The reason stands beside it, once for all joints.
	if n := strings.Count(eval[string](t, d, `document.querySelector("#answers").innerText`), "left side"); n != 1 {
		t.Errorf("the reason is told %d times", n)
	}
	if title := eval[string](t, d, `document.querySelector("#ladder-h").innerText`); title != "The ladder: slow, fast" {
		t.Errorf("the ladder is called %q", title)
	}
	d.shoot(t, "answers-withheld")
}

// The same test filmed twice gives this athlete's own smallest detectable change.
func (d *coach) retests(t *testing.T) {
	d.open(t, "/compare?athlete="+d.athlete)
	eval[bool](t, d, fmt.Sprintf(`(() => { for (const b of document.querySelectorAll("input[name=clip]"))
		if (b.checked !== [%q, %q].includes(b.value)) b.click(); return true; })()`, d.clips["slow_30.mp4"],
		d.clips["fast_30.mp4"]))
	d.set(t, "retest", d.clips["slow.mp4"])
	d.audit(t)
	d.shoot(t, "compare-retest")
	d.press(t, "go")
	d.until(t, measureLimit, `location.pathname.startsWith("/comparisons/") &&
		document.querySelector("#result")?.hidden === false`)
	id := eval[string](t, d, `location.pathname.split("/").pop()`)
	var answer struct {
		Comparison screening.Comparison `json:"comparison"`
	}
	d.get(t, "/api/comparisons/"+id, &answer)
	if again := answer.Comparison.Retest; again == nil || again.Name != "slow.mp4" || again.Path != "" {
		t.Errorf("the retest is %+v", again)
	}
	note := eval[string](t, d, `document.querySelector("#smallest-note").textContent`)
	if !regexp.MustCompile(`own smallest detectable change.* knee \d+°`).MatchString(note) {
		t.Errorf("of the retest is said %q", note)
	}
}

// The page of a clip begins with its answer, the warnings stand beside it once, and the tables are folded, with a
// column of means.
func (d *coach) answersOfClip(t *testing.T) {
	d.open(t, "/clips/"+d.clips["fast_30.mp4"])
	d.until(t, stepLimit, `document.querySelector("#clip-answer .answer")`)
	var a struct {
		Said struct {
			Answers []string `json:"answers"`
			Means   []struct {
				ROMDeg map[string]struct {
					Value float64 `json:"value"`
				} `json:"rom_deg"`
			} `json:"means"`
		} `json:"said"`
		Warnings []struct {
			Message string `json:"message"`
		} `json:"warnings"`
	}
	d.get(t, "/api/clips/"+d.clips["fast_30.mp4"]+"/analysis", &a)
	got := eval[string](t, d, `document.querySelector("#clip-answer .answer").textContent`)
	want := regexp.MustCompile(`^3 fast squat reps: knee \d+°, hip \d+°, ankle \d+° at the bottom\. ` +
		`(Good|Fair|Poor) picture\.$`)
	if len(a.Said.Answers) != 1 || got != a.Said.Answers[0] || !want.MatchString(got) {
		t.Errorf("the clip's page begins %q, want %q", got, a.Said.Answers)
	}
	if len(a.Warnings) == 0 {
		t.Error("the clip has no warning to look for")
	}
	for _, w := range a.Warnings {
		if n := strings.Count(eval[string](t, d, `document.querySelector("main").textContent`), w.Message); n != 1 {
			t.Errorf("%q stands %d times on the page", w.Message, n)
		}
	}
	if n := eval[int](t, d, `document.querySelectorAll("#measures details[open]").length`); n != 0 {
		t.Errorf("%d tables are open", n)
	}
	d.do(t, chromedp.Click(chromedp.CSS(`#measures summary`)))
	knee := eval[string](t, d, `[...document.querySelectorAll("#measures details[open] tbody tr")]
		.find((r) => r.firstChild.textContent.includes("Knee")).querySelector("td.mean").firstChild.textContent`)
	if want := degText(a.Said.Means[0].ROMDeg["knee"].Value); knee != want {
		t.Errorf("the knee's mean is %q, want %q", knee, want)
	}
	d.audit(t)
	d.shoot(t, "answers-clip")
}

// The page of an athlete says what is lost and what became of that, and shows one band at a time.
func (d *coach) answersOfAthlete(t *testing.T) {
	d.open(t, "/athletes/"+d.athlete)
	d.until(t, stepLimit, `document.querySelector("[data-testid=losses] li")`)
	sentences := eval[[]string](t, d,
		`[...document.querySelectorAll("[data-testid=losses] li")].map((e) => e.textContent)`)
	told := regexp.MustCompile(`^(Ankle|Knee|Hip): \d+° (lost|gained) on .*, \d+° (lost|gained) on .*: ` +
		`(kept \d+° (more|less), surely|no change|no change seen; less than \d+° would not show)\.$`)
	if len(sentences) != 3 {
		t.Errorf("the losses are %q", sentences)
	}
	for _, s := range sentences {
		if !told.MatchString(s) {
			t.Errorf("a loss is told as %q", s)
		}
	}
	if rows := eval[int](t, d, `document.querySelectorAll("[data-testid=loss-table] tbody tr").length`); rows != 2 {
		t.Errorf("the losses of %d visits", rows)
	}
	if text := eval[string](t, d, `document.querySelector("#history").innerText`); strings.Contains(text, "unclear") {
		t.Error("the history says unclear")
	}
	pressed := func() string {
		return eval[string](t, d, `[...document.querySelectorAll("[data-testid^=band-][aria-pressed=true]")]
			.map((e) => e.dataset.testid).join(" ")`)
	}
	if got := pressed(); got != "band-slow" {
		t.Errorf("the bands are of %q", got)
	}
	d.do(t, chromedp.Click(chromedp.CSS(`[data-testid=band-fast]`)))
	if got := pressed(); got != "band-fast" {
		t.Errorf("the bands are of %q", got)
	}
	d.audit(t)
	d.shoot(t, "answers-athlete")
}
