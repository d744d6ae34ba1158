package web_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// The pages of clips in which a plate hides joints, in some reps or in all, and their comparison: what is hidden is a
// dash, and all else is shown.
func TestBrowserHiddenJoints(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	d, ids := trackedDesk(t, "press_bar", "press_slow", "hinge_bar")
	for i, want := range []string{"Knee flexion", "Elbow flexion", "Hip flexion"} {
		d.open(t, "/clips/"+ids[i])
		d.until(t, stepLimit, `document.querySelector("#measures tbody th")`)
		d.openAll(t)
		if text := eval[string](t, d, `document.querySelector("#measures").innerText`); !strings.Contains(text, want) ||
			strings.Contains(text, "undefined") || strings.Contains(text, "NaN") {
			t.Errorf("the measures are %q", text)
		}
		if said := eval[string](t, d, `document.querySelector("#toasts").innerText.trim()`); said != "" {
			t.Errorf("the page says %q", said)
		}
		d.shoot(t, fmt.Sprintf("hidden-%d", i))
	}
	d.clips["press_slow.mp4"], d.clips["press_bar.mp4"] = ids[1], ids[0]
	d.compared(t, "press_slow", "press_bar")
	d.do(t, chromedp.WaitVisible(chromedp.CSS(`#answers li[data-joint]`)))
	d.openAll(t)
	if text := eval[string](t, d, `document.querySelector("main").innerText`); strings.Contains(text, "undefined") ||
		strings.Contains(text, "NaN") {
		t.Errorf("the comparison says %q", text)
	}
	if said := eval[string](t, d, `document.querySelector("#toasts").innerText.trim()`); said != "" {
		t.Errorf("the comparison says %q", said)
	}
	d.shoot(t, "hidden-comparison")
	d.quiet(t)
}
