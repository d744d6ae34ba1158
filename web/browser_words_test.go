package web_test

import (
	"archive/zip"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"holdfast/internal/pseudo"
)

// saidScript lists what a person reads on a page or is read to, whether it is shown at the moment
// or not: its title, all its texts, and the attributes that are texts. Dates are the browser's.
const saidScript = `(() => {
	const said = [document.title], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	for (let n = walk.nextNode(); n; n = walk.nextNode())
		if (!n.parentElement.closest("script, style, noscript, time, .notes-text")) said.push(n.textContent);
	for (const e of document.querySelectorAll("body *"))
		for (const a of ["aria-label", "title", "placeholder", "alt", "aria-valuetext"])
			if (e.hasAttribute(a)) said.push(e.getAttribute(a));
	return said.filter((s) => s.trim());
})()`

// outsideWords are a date as the browser writes it, and the axes of the picture.
var outsideWords = regexp.MustCompile(`[A-Z][a-z]{2} \d{1,2}, \d{4}(, \d+:\d\d\s[AP]M)?|\b[xy] \d`)

// Every page of the desk in a language whose sentences are longer and say things in another order:
// nothing on it reads English but names, and no page sticks out to the side on a phone. The archive
// is the one that version 0.1 left behind, measured again.
func TestBrowserInAnotherLanguage(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	pseudo.Speak(t)
	dir := filepath.Join(t.TempDir(), "data")
	z, err := zip.OpenReader("../testdata/archive-0.1.zip")
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	if err := os.CopyFS(dir, z); err != nil {
		t.Fatal(err)
	}
	d, kept := openDesk(t, dir)
	const clip, comparison = "01a223e3-05af-7509-9c5e-459e5964c3e7", "01a223e8-c72d-7ca5-b8d1-26d666504e50"
	athletes, err := kept.Athletes(t.Context())
	if err != nil || len(athletes) != 1 {
		t.Fatal(athletes, err)
	}
	// Names from outside of the program, its own, and what version 0.1 kept of a correction.
	names := []string{"Holdfast", athletes[0].Name, "correction"}
	clips, err := kept.ClipsOf(t.Context(), athletes[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range clips {
		names = append(names, c.Name)
	}
	look := func(t *testing.T, what string) {
		t.Helper()
		for _, text := range eval[[]string](t, d, saidScript) {
			text = outsideWords.ReplaceAllString(text, " ")
			if found := pseudo.English(text, names...); len(found) > 0 {
				t.Errorf("%s: %q is English in %q", what, strings.TrimSpace(text), found)
			}
		}
		for _, width := range []int64{390, 1280} {
			d.look(t, width, "light")
			if wide := eval[string](t, d, `document.documentElement.scrollWidth <= innerWidth ? "" :
				[...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 0.5)
				.map((e) => e.tagName + "#" + e.id + "." + e.className).slice(0, 5).join(", ")`); wide != "" {
				t.Errorf("%s at %d px: the page scrolls sideways: %s", what, width, wide)
			}
		}
	}

	d.console.expect("404") // a picture may go while its clip is measured again, and one page is not there
	d.open(t, "/")
	// Both clips are measured again before anything is read: what version 0.1 kept is English.
	d.until(t, measureLimit, `((jobs) => jobs.length >= 2 && jobs.every((j) => j.dataset.state === "done"))(
		[...document.querySelectorAll("[data-testid=job]")])`)
	d.do(t, chromedp.Evaluate[chromedp.Void](`document.querySelector("#athlete").value = "";
		document.querySelector("#drop-form").requestSubmit()`))
	d.until(t, stepLimit, `document.querySelector("#name-error").textContent`)
	look(t, "home")
	d.do(t, chromedp.Evaluate[chromedp.Void](`document.querySelector("#date").value = "";
		document.querySelector("#athlete-name").value = "x"; document.querySelector("#drop-form").requestSubmit()`))
	d.until(t, stepLimit, `document.querySelector("[data-testid=toast-bad]")`)
	look(t, "a message")
	for _, p := range []struct{ what, path, ready string }{
		{"athletes", "/athletes", `true`},
		{"athlete and history", "/athletes/" + athletes[0].ID, `document.querySelector("#history table")`},
		{"choosing clips", "/compare?athlete=" + athletes[0].ID, `true`},
		{"comparison", "/comparisons/" + comparison, `document.querySelector("#ladder td")`},
		{"about", "/about", `true`},
		{"clip", "/clips/" + clip, `document.querySelector("#quality dd")`},
	} {
		d.open(t, p.path)
		d.until(t, stepLimit, p.ready)
		look(t, p.what)
	}
	// The editor: a change of each kind is in the list of changes.
	d.do(t, chromedp.Click(chromedp.CSS(`#correct-toggle`)), chromedp.WaitVisible(chromedp.CSS(`#correct`)))
	d.do(t, chromedp.Evaluate[chromedp.Void](`(() => { const s = document.querySelector("[data-testid=tempo-1]");
		s.value = "slow"; s.dispatchEvent(new Event("change")); })()`))
	d.until(t, stepLimit, `document.querySelector("#took").dataset.revision`)
	changes := eval[[]string](t, d,
		`[...document.querySelectorAll("[data-testid=change]")].map((e) => e.firstChild.textContent)`)
	if !slices.ContainsFunc(changes, func(s string) bool { return strings.Contains(s, "ñ") }) {
		t.Errorf("the changes are %q", changes)
	}
	look(t, "editor")
	d.open(t, "/clips/01a0d0aa-0000-7000-8000-000000000000")
	d.do(t, chromedp.WaitVisible(chromedp.CSS(`main h1`)))
	look(t, "what is not there")
	d.console.expect("")
	d.quiet(t)
}
