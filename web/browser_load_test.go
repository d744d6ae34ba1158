package web_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"holdfast/archive"
	"holdfast/web"
)

// The first page asks what the athlete carries where the coach says that it is a loaded set, and the visit keeps it:
// where the weight acts is then not told from the body alone.
func TestBrowserAsksForTheLoad(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	d, kept := openDesk(t, t.TempDir())
	clip := filepath.Join(t.TempDir(), "squat.mp4")
	if err := os.WriteFile(clip, []byte(web.MovieStart), 0o644); err != nil {
		t.Fatal(err)
	}
	d.open(t, "/")
	d.do(t, chromedp.WaitVisible(chromedp.CSS(`#drop`)),
		chromedp.SetUploadFiles(chromedp.CSS(`#files`), []string{clip}))
	d.until(t, stepLimit, `document.querySelectorAll("[data-testid=chosen-clip]").length === 1`)
	choose := func(condition string) {
		eval[bool](t, d, `(() => { const c = document.querySelector("#condition"); c.value = "`+condition+`";
			return c.dispatchEvent(new Event("change", { bubbles: true })); })()`)
	}
	asked := func() bool { return eval[bool](t, d, `!document.querySelector("#load-field").hidden`) }
	choose("fresh")
	if asked() {
		t.Error("a fresh athlete is asked for a load")
	}
	choose("loaded")
	if !asked() {
		t.Fatal("a loaded set is not asked for its load")
	}
	d.audit(t)
	d.do(t, chromedp.SendKeys(chromedp.CSS(`#athlete-name`), "Robin Example"),
		chromedp.SendKeys(chromedp.CSS(`#load`), "62,5"), chromedp.Click(chromedp.CSS(`#send`)))
	d.until(t, measureLimit, `document.querySelectorAll("[data-testid=chosen-clip]").length === 0`)

	who, err := kept.Athletes(t.Context())
	if err != nil || len(who) != 1 {
		t.Fatalf("%d athletes, %v", len(who), err)
	}
	visits, err := kept.Visits(t.Context(), who[0].ID)
	if err != nil || len(visits) != 1 {
		t.Fatalf("%d visits, %v", len(visits), err)
	}
	if v := visits[0]; v.Condition != archive.Loaded || v.LoadKg == nil || *v.LoadKg != 62.5 {
		t.Errorf("the visit is %+v", v)
	}
}
