package web_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// A side and a front clip of one set are joined by keyboard; clip, athlete's page and comparison show both; parted,
// both stay.
func TestBrowserJoined(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	d := measuredDesk(t)
	for _, name := range []string{"slow_30", "fast_30", "front_slow", "front_fast"} {
		d.send(t, "Sam Example", "2026-05-04", name)
	}
	d.measured(t)
	for _, set := range [][2]string{{"slow_30", "front_slow"}, {"front_fast", "fast_30"}} {
		d.openClip(t, set[0]+".mp4")
		d.until(t, stepLimit, `document.querySelector("[data-testid=join-with]")`)
		eval[bool](t, d, `(() => { document.querySelector("[data-testid=join-with]").focus(); return true; })()`)
		d.do(t, chromedp.SetValue(chromedp.CSS(`[data-testid=join-with]`), d.clips[set[1]+".mp4"]),
			chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.Enter))
		d.until(t, stepLimit, `document.readyState === "complete" && document.querySelector("[data-testid=part]")`)
	}
	d.until(t, stepLimit, `document.querySelector("#clip-answer .answer")`)
	d.hasText(t, "The same set from the side")
	if text := eval[string](t, d, `document.querySelector("#joined").innerText`); !strings.Contains(text,
		"3 fast squat reps: knee 1") || strings.Contains(text, "° in") {
		t.Errorf("beside the clip from the front stands %q", text)
	}
	d.openClip(t, "slow_30.mp4")
	d.until(t, stepLimit, `document.querySelector("[data-testid=joined-table]")`)
	d.audit(t)
	d.shoot(t, "joined-clip")

	d.open(t, "/athletes/"+d.athlete)
	d.hasText(t, "One set: slow_30.mp4 and front_slow.mp4")
	d.hasText(t, "left knee 5° in")
	d.shoot(t, "joined-athlete")

	// One of each set is chosen, from whichever view: sides are compared with sides, fronts with fronts.
	d.compared(t, "front_slow", "fast_30")
	if answers := d.joints(t, "#answers li[data-joint]"); answers != "knee hip ankle knee_in_left knee_in_right" {
		t.Errorf("the answers are of %q", answers)
	}
	d.hasText(t, "Knee at the bottom: 115° slow")
	d.hasText(t, "Right knee at the bottom: 7° in (slow), 12° in (fast).")
	if table := eval[string](t, d, `document.querySelector("#joined").innerText`); !strings.Contains(table, "weight") ||
		!strings.Contains(table, "hips") {
		t.Errorf("the table of the front is %q", table)
	}
	d.openAll(t)
	d.audit(t)
	d.shoot(t, "joined-comparison")

	d.openClip(t, "front_slow.mp4")
	eval[bool](t, d, `(() => { document.querySelector("[data-testid=part]").focus(); return true; })()`)
	d.do(t, chromedp.KeyEvent(kb.Enter))
	d.until(t, stepLimit, `document.readyState === "complete" && document.querySelector("[data-testid=join]")`)
	d.open(t, "/comparisons/"+d.comparison)
	d.until(t, measureLimit, `document.querySelector("#result")?.hidden === false`)
	d.hasText(t, "fast_30.mp4: joined with a clip from the front. slow_30.mp4: not joined")
	if answers := d.joints(t, "#answers li[data-joint]"); answers != "knee hip ankle" {
		t.Errorf("parted, the answers are of %q", answers)
	}
	d.quiet(t)
}
