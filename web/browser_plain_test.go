package web_test

import (
	"fmt"
	"strings"
	"testing"
)

// A clip that fits no movement says so and shows its angles; the coach marks what counts by two fields and sees how far
// each joint goes in it, and takes the mark off again.
func TestBrowserPlain(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	d, ids := trackedDesk(t, "no_rep_plate")
	d.open(t, "/clips/"+ids[0])
	d.until(t, stepLimit, `!!document.querySelector('#measures [data-testid="front-table"]')`)
	d.hasText(t, "No movement that Holdfast knows: the trunk bends over far")
	table := func() string {
		return eval[string](t, d, `document.querySelector("#measures").innerText`)
	}
	if whole := table(); !strings.Contains(whole, "in the whole clip") || !strings.Contains(whole, "Elbow") ||
		strings.Contains(whole, "undefined") || strings.Contains(whole, "NaN") {
		t.Errorf("the whole clip: %q", whole)
	}
	d.speaksOf(t, "#clip-grid", "rep 1", "bottom", "landing")
	if keys := eval[string](t, d, `[...document.querySelectorAll("#keys input")].map((e) => e.value).join(" ")`); keys !=
		"ankle_dorsiflexion knee_flexion hip_flexion shoulder_flexion elbow_flexion trunk_lean" {
		t.Errorf("the curves are of %q", keys)
	}
	d.audit(t)
	d.shoot(t, "plain_clip")
	d.set(t, "part-from", "3")
	d.set(t, "part-to", "1")
	d.press(t, "part-set")
	d.until(t, stepLimit, `document.body.innerText.includes("Type two times in seconds, the earlier one first.")`)
	d.set(t, "part-from", "1.7")
	d.set(t, "part-to", "4.5")
	d.press(t, "part-set")
	d.until(t, stepLimit, `document.querySelector("#part-now").textContent.includes("1.70 to 4.50 s")`)
	if part := table(); !strings.Contains(part, "from 1.70 to 4.50 s") {
		t.Errorf("the marked part: %q", part)
	}
	d.audit(t)
	d.shoot(t, "plain_part")
	d.press(t, "part-off")
	d.until(t, stepLimit, `document.querySelector("#measures").innerText.includes("in the whole clip")`)
	if said := eval[string](t, d, fmt.Sprintf(`fetch("/api/comparisons", { method: "POST",
		headers: { "X-Holdfast": "1", "Content-Type": "application/json" },
		body: JSON.stringify({ clips: [%q, %q] }) }).then((r) => r.text())`, ids[0], ids[0])); !strings.Contains(said,
		"error") {
		t.Errorf("compared: %s", said)
	}
}
