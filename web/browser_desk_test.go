package web_test

import (
	"context"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"holdfast/archive"
	"holdfast/web"
)

// Keeping order: athletes in teams and until when they are kept, clips that are moved, trimmed, deleted, measured again
// and cancelled, several at once.
func TestBrowserOrder(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	d := measuredDesk(t)
	for _, name := range []string{"slow_30", "fast_30", "jump_30"} {
		d.send(t, "Sam Example", "2026-05-04", name)
	}
	d.send(t, "Kim Example", "2026-05-05", "slow")
	d.measured(t)
	t.Run("athletes are grouped, found and sorted", d.ordersAthletes)
	t.Run("a clip is trimmed", d.trimsClip)
	t.Run("a frame is marked", d.marksFrame)
	t.Run("clips are moved", d.movesClips)
	t.Run("clips are measured again and deleted", d.deletesClips)
	t.Run("a set is filmed on a phone", d.filmsSet)
	d.quiet(t)
}

// athleteCalled returns the id of an athlete.
func (d *coach) athleteCalled(t *testing.T, name string) string {
	t.Helper()
	var answer struct {
		Athletes []struct{ ID, Name string } `json:"athletes"`
	}
	d.get(t, "/api/athletes", &answer)
	for _, a := range answer.Athletes {
		if a.Name == name {
			return a.ID
		}
	}
	t.Fatalf("nobody is called %q", name)
	return ""
}

// set gives a field of a form a value as typing does.
// What then moves was moved by the coach, not by itself: it is over when the page was drawn with it.
func (d *coach) set(t *testing.T, id, value string) {
	t.Helper()
	eval[bool](t, d, fmt.Sprintf(`(() => { const el = document.getElementById(%q), from = performance.now();
		el.value = %q;
		el.dispatchEvent(new Event("input", { bubbles: true })); el.dispatchEvent(new Event("change", { bubbles: true }));
		return new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => {
			(window.handled ||= []).push([from, performance.now()]); done(true); }))); })()`, id, value))
}

// press presses a button, by its data-testid, once it lies still and nothing lies over it, as a coach does.
func (d *coach) press(t *testing.T, testid string) {
	t.Helper()
	sel := fmt.Sprintf(`[data-testid=%q]`, testid)
	d.until(t, stepLimit, fmt.Sprintf(`(() => {
		const el = document.querySelector(%q);
		if (!el?.checkVisibility() || el.disabled || document.readyState !== "complete") return false;
		el.scrollIntoView({ block: "center" });
		const r = el.getBoundingClientRect(), was = el.lay;
		el.lay = r.left + " " + (r.top + scrollY);
		return was === el.lay && el.contains(document.elementFromPoint(r.left + r.width / 2, r.top + r.height / 2));
	})()`, sel))
	d.do(t, chromedp.Click(chromedp.CSS(sel)))
}

func (d *coach) ordersAthletes(t *testing.T) {
	d.open(t, "/athletes/"+d.athleteCalled(t, "Sam Example"))
	d.press(t, "athlete-edit")
	for id, value := range map[string]string{"a-team": "U18", "a-consent": "2024-02-01", "a-keep": "2025-02-01"} {
		d.set(t, id, value)
	}
	d.press(t, "athlete-save")
	d.until(t, measureLimit, `document.querySelector("[data-testid=past]")?.textContent.includes("Delete the athlete")`)
	d.hasText(t, "Consent on")
	d.audit(t)
	d.shoot(t, "athlete-past")
	// The first page and the list tell it too; nothing is deleted.
	d.open(t, "/")
	if got := eval[string](t, d, `document.querySelector("[data-testid=past]").innerText`); !strings.Contains(got,
		"Sam Example") {
		t.Errorf("the first page says %q", got)
	}
	d.open(t, "/athletes")
	if got := eval[[]string](t, d, `[...document.querySelectorAll("[data-testid=team]")]
		.map((e) => (e.querySelector(".team")?.innerText || "") + ": " +
			[...e.querySelectorAll("[data-athlete]")].map((r) => r.dataset.name).join())`); !slices.Equal(got,
		[]string{"U18: Sam Example", "No team: Kim Example"}) {
		t.Errorf("the teams are %q", got)
	}
	if n := eval[int](t, d, `document.querySelectorAll("tr [data-testid=past]").length`); n != 1 {
		t.Errorf("%d athletes are past their date", n)
	}
	d.audit(t)
	d.shoot(t, "athletes-teams")
	seen := func() string {
		return eval[string](t, d, `[...document.querySelectorAll("tr[data-athlete]")].filter((e) => e.checkVisibility())
			.map((r) => r.dataset.name).join()`)
	}
	d.set(t, "find", "kím")
	if got := seen(); got != "Kim Example" {
		t.Errorf("found %q", got)
	}
	d.set(t, "find", "u18")
	if got := seen(); got != "Sam Example" {
		t.Errorf("of the team was found %q", got)
	}
	d.set(t, "find", "nobody")
	if got := eval[string](t, d, `document.querySelector("#none-found").textContent`); seen() != "" || got == "" {
		t.Errorf("found %q, said %q", seen(), got)
	}
	d.set(t, "find", "")
	// Within a team they are sorted.
	d.open(t, "/athletes/"+d.athleteCalled(t, "Sam Example"))
	d.press(t, "athlete-edit")
	d.set(t, "a-team", "")
	d.set(t, "a-keep", "")
	d.press(t, "athlete-save")
	d.until(t, measureLimit, `document.readyState === "complete" && !document.querySelector("[data-testid=past]")`)
	d.open(t, "/athletes")
	for _, order := range []struct{ by, want string }{{"last", "Kim Example,Sam Example"},
		{"clips", "Sam Example,Kim Example"}, {"name", "Kim Example,Sam Example"}} {
		d.set(t, "sort", order.by)
		if got := seen(); got != order.want {
			t.Errorf("by %s: %q", order.by, got)
		}
	}
}

// reps reads how many whole reps a clip has, and the first one's knee.
func (d *coach) reps(t *testing.T, clip string) (n int, knee float64) {
	t.Helper()
	var a struct {
		Reps []struct {
			Partial bool `json:"partial"`
			Angles  map[string]struct {
				ROMDeg float64 `json:"rom_deg"`
			} `json:"angles"`
		} `json:"reps"`
	}
	d.get(t, "/api/clips/"+clip+"/analysis", &a)
	for _, r := range a.Reps {
		if !r.Partial {
			if n++; n == 1 {
				knee = r.Angles["knee_flexion"].ROMDeg
			}
		}
	}
	return n, knee
}

func (d *coach) trimsClip(t *testing.T) {
	clip := d.clips["slow_30.mp4"]
	before, knee := d.reps(t, clip)
	d.open(t, "/clips/"+clip)
	d.until(t, measureLimit,
		`document.querySelector("#reps button") && document.querySelector("#video").readyState >= 2`)
	// Cut off behind the second rep.
	d.do(t, chromedp.Click(chromedp.CSS(`#trim-box summary`)))
	end := eval[float64](t, d, fmt.Sprintf(`(async () => {
		const a = await (await fetch("/api/clips/%s/analysis")).json();
		const f = await (await fetch("/api/clips/%s/frames")).json();
		const whole = a.reps.filter((r) => !r.partial);
		const at = (whole[1].end_s + whole[2].start_s) / 2;
		const scrub = document.querySelector("#scrub");
		scrub.value = String(f.time_s.findIndex((t) => t >= at));
		scrub.dispatchEvent(new Event("input"));
		return f.time_s[Number(scrub.value)];
	})()`, clip, clip))
	d.press(t, "trim-to")
	d.until(t, measureLimit, `document.querySelector("#trim-now").textContent.startsWith("Measured from 0.00 to ")`)
	if text := eval[string](t, d, `document.querySelector("#clip-answer").innerText`); strings.Contains(text, "lost") {
		t.Errorf("of what was cut off is said: %q", text)
	}
	n, _ := d.reps(t, clip)
	if n != 2 || before < 3 {
		t.Errorf("%d whole reps of %d are left, want 2", n, before)
	}
	var info struct {
		Clip struct {
			TrimFromS *float64 `json:"trim_from_s"`
			TrimToS   *float64 `json:"trim_to_s"`
		} `json:"clip"`
	}
	d.get(t, "/api/clips/"+clip, &info)
	if info.Clip.TrimFromS != nil || info.Clip.TrimToS == nil || *info.Clip.TrimToS != end {
		t.Errorf("the clip is trimmed to %+v, want %v", info.Clip, end)
	}
	if !eval[bool](t, d, `document.querySelector("#trim-off").checkVisibility()`) {
		t.Error("the whole clip cannot be had back")
	}
	d.audit(t)
	d.shoot(t, "clip-trimmed")
	// It was kept whole underneath.
	d.press(t, "trim-off")
	d.until(t, measureLimit, `document.querySelector("#trim-now").textContent.startsWith("The whole clip")`)
	if n, again := d.reps(t, clip); n != before || again != knee {
		t.Errorf("whole again, it has %d reps and a knee of %v, before %d and %v", n, again, before, knee)
	}
	// Cut off in the middle of its first rep it has none, and the page says what to film.
	patch := func(body string) string {
		return eval[string](t, d, fmt.Sprintf(`fetch("/api/clips/%s", { method: "PATCH", headers: { "X-Holdfast": "1",
			"Content-Type": "application/json" }, body: JSON.stringify(%s) })
			.then(async (r) => { const a = await r.json();
				return r.status + " " + (a.error || "") + (a.hint || ""); })`, clip, body))
	}
	bottom := eval[float64](t, d, fmt.Sprintf(`fetch("/api/clips/%s/analysis").then((r) => r.json())
		.then((a) => a.reps.find((r) => !r.partial).bottom_s)`, clip))
	if got := patch(fmt.Sprintf(`{ trim_to_s: %v }`, bottom+0.2)); got != "200 " {
		t.Errorf("trimmed within the first rep: %s", got)
	}
	d.open(t, "/clips/"+clip)
	d.until(t, stepLimit, `document.querySelector("[data-testid=without]")?.checkVisibility()`)
	d.audit(t)
	// The clip is not to blame, nor the light: nothing was filmed badly.
	if got := eval[string](t, d, `document.querySelector("#clip-answer").innerText`); strings.Count(got,
		"Rep 1 is not whole: the clip is trimmed inside it.") != 1 || !strings.Contains(got, "Measure the whole clip") ||
		strings.Contains(got, "ilm ") || strings.Contains(got, "lost") {
		t.Errorf("trimmed within its first rep, the clip's page says %q", got)
	}
	d.shoot(t, "clip-without")
	if got := patch(`{ trim_to_s: null }`); got != "200 " {
		t.Errorf("whole again: %s", got)
	}
	// What is left must be worth measuring.
	d.console.expect("status of 4")
	// The standing before the first rep alone cannot be measured, for no fault of the clip.
	stands := patch(fmt.Sprintf(`{ trim_to_s: %v }`, 1.05))
	if !strings.HasPrefix(stands, "4") || !strings.Contains(stands, "measure the whole clip") {
		t.Errorf("trimmed to its standing: %s", stands)
	}
	status := patch(`{ trim_from_s: 2, trim_to_s: 2.1 }`)
	if !strings.HasPrefix(status, "400 ") || !strings.Contains(status, "1 s") {
		t.Errorf("a tenth of a second: %s", status)
	}
	d.console.expect("")
}

func (d *coach) marksFrame(t *testing.T) {
	clip := d.clips["slow_30.mp4"]
	reps, knee := d.reps(t, clip)
	d.open(t, "/clips/"+clip)
	d.until(t, measureLimit, `document.querySelector("#reps button")`)
	d.do(t, chromedp.Click(chromedp.CSS(`#marks-box summary`)))
	d.press(t, "mark-angle")
	d.until(t, stepLimit, `document.querySelector("[data-testid=mark] button")?.textContent.includes("° marked")`)
	said := func() string {
		return eval[string](t, d, `document.querySelector("[data-testid=mark] button").textContent`)
	}
	before := said()
	// A place is moved by the keyboard, and by hand.
	d.do(t, chromedp.Evaluate[chromedp.Void](`document.querySelector("#mark-pad button").focus()`))
	for range 3 {
		d.do(t, chromedp.KeyEvent(kb.ArrowRight, chromedp.KeyModifiers(chromedp.ModifierShift)))
	}
	if after := said(); after == before {
		t.Errorf("moved, the angle is still %q", after)
	}
	d.set(t, "mark-text", "heel line")
	d.press(t, "mark-note")
	d.set(t, "mark-text", "Chest up")
	d.until(t, stepLimit, fmt.Sprintf(`fetch("/api/clips/%s/marks").then((r) => r.json()).then(({ marks }) =>
		marks.length === 2 && marks[0].kind === "angle" && marks[0].text === "heel line" &&
		marks[1].text === "Chest up")`, clip))
	d.audit(t)
	d.shoot(t, "clip-marked")
	// They are kept with the clip, and no number rests on them.
	if n, again := d.reps(t, clip); n != reps || again != knee {
		t.Errorf("marked, the clip has %d reps and a knee of %v, before %d and %v", n, again, reps, knee)
	}
	d.open(t, "/clips/"+clip)
	d.until(t, measureLimit, `document.querySelectorAll("[data-testid=mark]").length === 2`)
	d.console.expect("400")
	status := eval[int](t, d, fmt.Sprintf(`fetch("/api/clips/%s/marks", { method: "PUT", headers: { "X-Holdfast": "1",
		"Content-Type": "application/json" }, body: JSON.stringify({ marks: [{ frame: 99999, kind: "note",
			points_px: [[1, 1]], text: "x" }] }) }).then((r) => r.status)`, clip))
	if d.console.expect(""); status != 400 {
		t.Errorf("a mark after the end: %d", status)
	}
	// The measures are saved from each page.
	d.compared(t, "slow_30", "fast_30")
	for _, page := range []string{"/clips/" + clip, "/comparisons/" + d.comparison, "/athletes/" + d.athleteCalled(t,
		"Sam Example")} {
		d.open(t, page)
		d.until(t, measureLimit, `document.querySelector("[data-testid=get-measures]")?.checkVisibility()`)
		table := eval[string](t, d, `fetch(document.querySelector("[data-testid=get-measures]").href).then((r) => r.text())`)
		rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
		if err != nil || len(rows) < 40 || !slices.Contains(rows[0], "measure") {
			t.Errorf("%s: %d rows, %v", page, len(rows), err)
		}
	}
}

func (d *coach) movesClips(t *testing.T) {
	sam, kim := d.athleteCalled(t, "Sam Example"), d.athleteCalled(t, "Kim Example")
	d.compared(t, "slow_30", "fast_30")
	d.open(t, "/athletes/"+sam)
	d.set(t, "find", "jump")
	if n := eval[int](t, d,
		`[...document.querySelectorAll("#visits .clip-card")].filter((e) => !e.hidden).length`); n != 1 {
		t.Errorf("%d clips are found by jump", n)
	}
	d.set(t, "find", "")
	d.press(t, "pick")
	// Two of the three.
	eval[bool](t, d, fmt.Sprintf(`(() => { for (const c of document.querySelectorAll("#visits .clip-card"))
		if ([%q, %q].includes(c.dataset.clip)) c.querySelector(".pick-box").click(); return true; })()`,
		d.clips["fast_30.mp4"], d.clips["jump_30.mp4"]))
	if got := eval[string](t, d, `document.querySelector("#picked").textContent`); got != "2 clips selected" {
		t.Errorf("chosen: %q", got)
	}
	d.audit(t)
	d.shoot(t, "athlete-picked")
	d.press(t, "pick-move")
	d.set(t, "m-athlete", kim)
	d.set(t, "m-date", "2026-06-07")
	d.shootNow(t, "athlete-move")
	d.press(t, "move-go")
	d.until(t, measureLimit, `document.querySelectorAll("#visits .clip-card").length === 1 &&
		document.readyState === "complete"`)
	for _, name := range []string{"fast_30.mp4", "jump_30.mp4"} {
		var info struct {
			Athlete struct{ ID string }   `json:"athlete"`
			Visit   struct{ Date string } `json:"visit"`
		}
		d.get(t, "/api/clips/"+d.clips[name], &info)
		if info.Athlete.ID != kim || info.Visit.Date != "2026-06-07" {
			t.Errorf("%s is at %+v", name, info)
		}
	}
	// The comparison it was part of is gone with it.
	d.console.expect("404")
	status := eval[int](t, d, fmt.Sprintf(`fetch("/api/comparisons/%s").then((r) => r.status)`, d.comparison))
	if status != 404 {
		t.Errorf("the comparison answers %d", status)
	}
	d.console.expect("")
}

func (d *coach) deletesClips(t *testing.T) {
	kim := d.athleteCalled(t, "Kim Example")
	d.open(t, "/athletes/"+kim)
	d.press(t, "pick")
	eval[bool](t, d, fmt.Sprintf(`(() => { document.querySelector(".clip-card[data-clip='%s'] .pick-box").click();
		return true; })()`, d.clips["fast_30.mp4"]))
	d.press(t, "pick-measure")
	d.until(t, stepLimit, `document.body.textContent.includes("1 clip will be measured again.")`)
	d.until(t, measureLimit, `fetch("/api/jobs").then((r) => r.json()).then(({ jobs }) =>
		jobs.filter((j) => j.clip_id === "`+d.clips["fast_30.mp4"]+`" && j.kind === "analyze" &&
			j.state === "done").length === 2)`)
	d.press(t, "pick-all")
	d.press(t, "pick-delete")
	if got := eval[string](t, d, `document.querySelector("#clips-h").textContent`); got != "Delete 3 clips?" {
		t.Errorf("asked %q", got)
	}
	d.press(t, "clips-yes")
	d.until(t, measureLimit, `document.readyState === "complete" && !document.querySelector("#visits .clip-card")`)
	// The visits that were emptied are gone, by deleting and by moving.
	for _, id := range []string{kim, d.athleteCalled(t, "Sam Example")} {
		var about struct{ Visits, Clips []struct{ Date string } }
		d.get(t, "/api/athletes/"+id, &about)
		if len(about.Clips) == 0 && len(about.Visits) > 0 || len(about.Visits) > len(about.Clips) {
			t.Errorf("with %d clips left, the visits are %v", len(about.Clips), about.Visits)
		}
	}
	if n := eval[int](t, d, `document.querySelectorAll("[data-testid=visit]").length`); n != 0 {
		t.Errorf("%d emptied visits are listed", n)
	}
}

// filmsSet films slow, fast and jump one after the other on a phone; each is sent while the next is filmed.
func (d *coach) filmsSet(t *testing.T) {
	touch := func(on bool) {
		ctx, cancel := context.WithTimeout(d.tab, stepLimit)
		defer cancel()
		if _, err := chromedp.Call(ctx, emulation.SetTouchEmulationEnabled,
			emulation.SetTouchEmulationEnabledParams{Enabled: on}); err != nil {
			t.Fatal(err)
		}
	}
	touch(true)
	d.size(t, 390, 844)
	d.open(t, "/")
	if !eval[bool](t, d, `matchMedia("(pointer: coarse)").matches`) {
		t.Fatal("the browser is no phone")
	}
	if !eval[bool](t, d, `document.querySelector("#film").classList.contains("primary") &&
		Boolean(document.querySelector("#film").compareDocumentPosition(document.querySelector("#choose")) &
			Node.DOCUMENT_POSITION_FOLLOWING)`) {
		t.Error("on a phone filming does not come before choosing")
	}
	for _, hidden := range []string{"#phone", "#guided"} {
		if eval[bool](t, d, fmt.Sprintf(`Boolean(document.querySelector(%q)?.checkVisibility())`, hidden)) {
			t.Errorf("%s is shown on a phone", hidden)
		}
	}
	// Nobody is chosen yet: the set does not begin.
	d.press(t, "film-set")
	d.until(t, stepLimit, `document.activeElement.id === "athlete"`)
	d.set(t, "athlete", "")
	d.set(t, "athlete-name", "Lou Example")
	d.press(t, "film-set")
	step := func(tempo string) string {
		return eval[string](t, d, fmt.Sprintf(`document.querySelector("[data-testid=guided-%s]").textContent`, tempo))
	}
	for i, tempo := range []string{"slow", "fast", "jump"} {
		if got := eval[string](t, d, `document.querySelector("#guided-film").textContent`); got != "Film: "+tempo {
			t.Errorf("to be filmed is %q", got)
		}
		if i == 1 {
			d.shootNow(t, "guided")
		}
		if tempo == "jump" {
			d.press(t, "guided-skip")
			continue
		}
		d.do(t, chromedp.SetUploadFiles(chromedp.CSS(`#guided-camera`), []string{clipPath(t, tempo+".mp4")}))
		d.until(t, measureLimit, fmt.Sprintf(
			`document.querySelector("[data-testid=guided-%s]").textContent === "%s: sent"`, tempo, tempo))
	}
	if got := step("jump"); got != "jump: skipped" {
		t.Errorf("the jump is %q", got)
	}
	if eval[bool](t, d, `document.querySelector("#guided-film").checkVisibility()`) {
		t.Error("a complete set asks for more")
	}
	d.audit(t)
	touch(false)
	d.look(t, 1280, "light")
	lou := d.athleteCalled(t, "Lou Example")
	var about struct {
		Clips []struct{ Name, Tempo string } `json:"clips"`
	}
	d.get(t, "/api/athletes/"+lou, &about)
	for _, c := range about.Clips {
		if c.Name != c.Tempo+".mp4" {
			t.Errorf("%s is said to be %q", c.Name, c.Tempo)
		}
	}
	if len(about.Clips) != 2 {
		t.Errorf("%d clips came", len(about.Clips))
	}
}

// TestBrowserQueue: everything that waits is cancelled at once, and tried again at once; a clip without a whole rep is
// no success.
func TestBrowserQueue(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	d, kept := openDesk(t, t.TempDir())
	ctx := t.Context()
	a, err := kept.CreateAthlete(ctx, archive.Athlete{Name: "Ada Example"})
	if err != nil {
		t.Fatal(err)
	}
	v, err := kept.VisitFor(ctx, archive.Visit{AthleteID: a.ID, Date: "2026-05-04", Condition: archive.Fresh})
	if err != nil {
		t.Fatal(err)
	}
	d.open(t, "/")
	measure := func(name string) string {
		file, err := kept.Put(ctx, strings.NewReader(web.MovieStart+name), 1000)
		if err != nil {
			t.Fatal(err)
		}
		clip, _, err := kept.AddClip(ctx, archive.Clip{VisitID: v.ID, AthleteID: a.ID, Name: name, SHA256: file.SHA256})
		if err != nil {
			t.Fatal(err)
		}
		eval[int](t, d, fmt.Sprintf(`fetch("/api/clips/%s/measure", { method: "POST", headers: { "X-Holdfast": "1" } })
			.then((r) => r.status)`, clip.ID))
		return clip.ID
	}
	measure("partial.mp4")
	d.until(t, measureLimit, `document.querySelector("[data-testid=job].without")`)
	for _, want := range []string{"no whole rep", "Film side-on", "finished "} {
		got := eval[string](t, d, `document.querySelector("[data-testid=job].without").innerText`)
		if !strings.Contains(got, want) {
			t.Errorf("the queue says %q, want %q", got, want)
		}
	}
	slow := measure("slow.mp4")
	d.until(t, measureLimit, `document.querySelector("[data-clip='`+slow+`'][data-state=done]")`)
	for i := range 3 {
		measure(fmt.Sprintf("hang-%d.mp4", i))
	}
	d.until(t, stepLimit, `document.querySelectorAll("[data-testid=job][data-state=waiting]").length === 2 &&
		document.querySelectorAll("[data-testid=job][data-state=running]").length === 1`)
	waits := eval[[]string](t, d, `[...document.querySelectorAll("[data-testid=job][data-state=waiting] .job-line")]
		.map((e) => e.innerText.trim())`)
	if !slices.Equal(waits, []string{"waiting", "waiting"}) {
		t.Errorf("what waits says %q", waits)
	}
	if left := eval[string](t, d, `document.querySelector("#queue-left").innerText`); !strings.HasPrefix(left, "About ") ||
		!strings.HasSuffix(left, " left for everything") {
		t.Errorf("what is left: %q", left)
	}
	d.open(t, "/")
	d.until(t, stepLimit, `document.querySelector("[data-testid=job][data-state=running]")`)
	d.audit(t)
	d.shoot(t, "queue-waiting")
	d.press(t, "cancel-all")
	d.until(t, stepLimit, `document.querySelectorAll("[data-testid=job][data-state=cancelled]").length === 3`)
	if !eval[bool](t, d, `document.querySelector("#queue-left").textContent === "" &&
		document.querySelector("#cancel-all").hidden`) {
		t.Error("with nothing left there is still an estimate")
	}
	d.press(t, "retry-all")
	d.until(t, stepLimit, `document.querySelectorAll("[data-testid=job][data-state=running]").length === 1 &&
		document.querySelectorAll("[data-testid=job][data-state=waiting]").length === 2`)
	d.press(t, "cancel-all")
	d.until(t, stepLimit, `!document.querySelector("[data-testid=job]:is([data-state=running], [data-state=waiting])")`)

	// The comparison that leaves it out says what to film.
	d.open(t, "/compare?athlete="+a.ID)
	got := eval[string](t, d, `document.querySelector("[data-testid=without]")?.innerText || ""`)
	if !strings.Contains(got, "partial.mp4: No whole rep.") {
		t.Errorf("the choice for a comparison says %q", got)
	}
	d.audit(t)
	d.shoot(t, "compare-without")
	d.quiet(t)
}
