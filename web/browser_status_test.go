package web_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"holdfast/archive"
	"holdfast/archive/users"
	"holdfast/web"
)

// An admin logs in by name, sees what waits, who works and what failed and why, has it tried again by keyboard, and
// logs out; a coach is told that the page is not for them.
func TestBrowserStatus(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	ctx, dir := t.Context(), t.TempDir()
	kept, err := archive.Open(ctx, dir, archive.Options{Serving: true})
	if err != nil {
		t.Fatal(err)
	}
	const password = "correct horse"
	who, err := kept.CreateAthlete(ctx, archive.Athlete{Name: "Sam Example"})
	visit, err2 := kept.VisitFor(ctx, archive.Visit{AthleteID: who.ID, Date: "2026-05-02", Condition: archive.Fresh})
	put, err3 := kept.Put(ctx, strings.NewReader("no clip at all"), 100)
	clip, _, err4 := kept.AddClip(ctx, archive.Clip{AthleteID: who.ID, VisitID: visit.ID, Name: "refused.mp4",
		SHA256: put.SHA256})
	job, err5 := kept.AddJob(ctx, archive.Job{ClipID: clip.ID, Kind: archive.JobAnalyze}, nil)
	_, err6 := kept.Users().Add(ctx, "Kim", users.Admin, password)
	_, err7 := kept.Users().Add(ctx, "Robin", users.Coach, password)
	_, _, err8 := kept.NextJob(ctx)
	if err := errors.Join(err, err2, err3, err4, err5, err6, err7, err8, kept.FinishJob(ctx, job.ID, archive.JobFailed,
		"nobody was found in the clip", "film the whole body")); err != nil {
		t.Fatal(err)
	}
	d := serveArchive(t, kept, dir, "work", "heavy", func(o *web.Options) { o.Named = true })
	logIn := func(name string) {
		t.Helper()
		d.open(t, "/status")
		d.until(t, stepLimit, `location.pathname === "/login"`)
		d.do(t, chromedp.WaitVisible(chromedp.CSS(`#name`)))
		d.do(t, chromedp.SendKeys(chromedp.CSS(`#name`), name+kb.Tab), chromedp.SendKeys(chromedp.CSS(`#password`),
			password+kb.Enter))
		d.until(t, stepLimit, `location.pathname === "/" && document.readyState === "complete"`)
	}
	d.open(t, "/login")
	d.do(t, chromedp.WaitVisible(chromedp.CSS(`#name`)))
	d.audit(t)
	d.shoot(t, "login-name")
	logIn("Kim")
	d.do(t, chromedp.Click(chromedp.CSS(`[data-testid=nav-status]`)))
	d.until(t, stepLimit, `document.querySelector("[data-testid=failed]")`)
	for _, want := range []string{"nobody was found", "film the whole body", "refused.mp4", "Sam Example", "Robin",
		"admin", "works alone"} {
		d.hasText(t, want)
	}
	d.audit(t)
	d.shoot(t, "status")
	before := eval[string](t, d, `document.querySelector("[data-job]").dataset.job`)
	d.do(t, chromedp.Focus(chromedp.CSS(`[data-retry]`)), chromedp.SendKeys(chromedp.CSS(`[data-retry]`), kb.Enter))
	d.until(t, stepLimit, `document.readyState === "complete" && document.querySelector("[data-testid=status-queue]") &&
		document.querySelector("[data-job]")?.dataset.job !== "`+before+`"`)
	d.do(t, chromedp.Click(chromedp.CSS(`#logout`)))
	d.until(t, stepLimit, `location.pathname === "/login"`)
	d.quiet(t)
	logIn("Robin")
	if eval[bool](t, d, `document.querySelector("[data-testid=nav-status]") !== null`) {
		t.Error("a coach is offered the page about the work")
	}
	d.console.expect("403")
	d.open(t, "/status")
	d.do(t, chromedp.WaitVisible(chromedp.CSS(`main h1`)))
	d.hasText(t, "Only an admin")
	d.console.expect("")
}
