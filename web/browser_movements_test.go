package web_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"holdfast/screening"
)

// Movements that are no squats, from clip to comparison: the words and joints are theirs.
func TestBrowserMovements(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	d := measuredDesk(t)
	for _, name := range []string{"press_slow", "press_fast", "hop_fast", "push_press_slow", "jerk_slow", "lunge_slow"} {
		d.send(t, "Sam Example", "2026-05-04", name)
	}
	d.measured(t)
	t.Run("clip of a press", d.clipOfPress)
	t.Run("comparison of presses", d.comparisonOfPresses)
	t.Run("two movements that share a position", d.sharedPosition)
	t.Run("a set of many reps", d.setOfHops)
	t.Run("choosing the movement", d.choosesMovement)
	d.quiet(t)
}

// Of each family that is shipped an easier and a harder clip come in, are measured, and are compared on the page in
// the movement's own joints, turn and words.
func TestBrowserFamilies(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it drives a browser")
	}
	families := []struct {
		easier, harder string
		sentences      []string // how they begin
		strange        []string
	}{
		{"hinge_slow", "hinge_fast", []string{"Hip at the bottom: "}, []string{"landing", "lock-out", "hop"}},
		{"hinge_slow", "hinge_swing", []string{"Hip at the bottom: "}, []string{"landing", "lock-out", "hop"}},
		{"clean_pull_slow", "clean_pull_fast", []string{"Knee at the start of the pull: "}, []string{"landing", "lock-out"}},
		{"press_slow", "press_fast", []string{"Shoulder at the lock-out: "}, []string{"landing", "bottom"}},
		{"push_press_slow", "push_press_fast", []string{"Shoulder at the lock-out: "}, []string{"landing", "bottom"}},
		{"jerk_slow", "jerk_fast", []string{"Shoulder at the lock-out: "}, []string{"landing", "bottom"}},
		{"pull_slow", "pull_fast", []string{"Elbow at the top: ", "Shoulder at the top: "}, []string{"landing", "bottom"}},
		{"lunge_slow", "lunge_fast", []string{"Knee at the bottom: "}, []string{"landing", "lock-out"}},
		{"step_up_slow", "step_up_fast", []string{"Knee at the bottom: "}, []string{"landing", "lock-out"}},
		{"hop_slow", "hop_fast", []string{"Knee in the landing: "}, []string{"lock-out"}},
		{"drop_landing_low", "drop_landing_high", []string{"Knee at the landing: "}, []string{"lock-out", "slow"}},
		{"get_up_slow", "get_up_fast", []string{"Hip"}, []string{"landing", "lock-out"}},
		{"squat_beside", "squat_drop", []string{"Knee at the bottom: "}, []string{"lock-out"}},
		{"squat_beside", "squat_up", []string{"Knee at the bottom: "}, []string{"lock-out"}},
	}
	d := measuredDesk(t)
	for _, f := range families {
		for _, name := range []string{f.easier, f.harder} {
			if _, sent := d.clips[name+".mp4"]; !sent {
				d.send(t, "Sam Example", "2026-05-04", name)
				d.clips[name+".mp4"] = ""
			}
		}
	}
	d.measured(t)
	for _, f := range families {
		t.Run(f.easier+" and "+f.harder, func(t *testing.T) {
			d.compared(t, f.easier, f.harder)
			sentences := eval[[]string](t, d,
				`[...document.querySelectorAll("#answers .answer-sentence")].map((e) => e.textContent)`)
			for _, want := range f.sentences {
				if !slices.ContainsFunc(sentences, func(s string) bool { return strings.HasPrefix(s, want) }) {
					t.Errorf("no answer begins with %q: %q", want, sentences)
				}
			}
			if n := eval[int](t, d, `document.querySelectorAll("#answers [data-code=withheld]").length`); n > 0 {
				t.Error("a verdict is withheld")
			}
			d.openAll(t)
			d.speaksOf(t, "main", f.strange...)
			d.shoot(t, "family-"+f.harder)
		})
	}
	d.quiet(t)
}

// speaksOf checks that a part of the page uses none of some words.
func (d *coach) speaksOf(t *testing.T, part string, none ...string) {
	t.Helper()
	text := strings.ToLower(eval[string](t, d, fmt.Sprintf(`document.querySelector(%q).innerText`, part)))
	for _, word := range none {
		if strings.Contains(text, word) {
			t.Errorf("the page %s speaks of a %s", eval[string](t, d, `location.pathname`), word)
		}
	}
}

// joints returns the joints of some elements, in their order.
func (d *coach) joints(t *testing.T, of string) string {
	t.Helper()
	return eval[string](t, d, fmt.Sprintf(
		`[...document.querySelectorAll(%q)].map((e) => e.dataset.joint).join(" ")`, of))
}

// openAll opens what is folded.
func (d *coach) openAll(t *testing.T) {
	t.Helper()
	eval[bool](t, d, `(() => { for (const e of document.querySelectorAll("details")) e.open = true; return true; })()`)
}

func (d *coach) clipOfPress(t *testing.T) {
	d.openClip(t, "press_fast.mp4")
	d.until(t, stepLimit, `document.querySelector("#clip-answer .answer")`)
	answer := eval[string](t, d, `document.querySelector("#clip-answer .answer").textContent`)
	if !strings.HasPrefix(answer, "3 fast press reps: shoulder ") || !strings.Contains(answer, " at the lock-out.") {
		t.Errorf("the clip's page begins %q", answer)
	}
	if keys := eval[string](t, d, `[...document.querySelectorAll("#keys input")].map((e) => e.value).join(" ")`); keys !=
		"hip_flexion shoulder_flexion elbow_flexion trunk_lean" {
		t.Errorf("the curves are of %q", keys)
	}
	d.openAll(t)
	d.speaksOf(t, "main", "bottom", "landing", "descent", "ascent", "crease", "hop")
	rows := eval[string](t, d, `[...document.querySelectorAll("#measures tbody th")].map((e) => e.firstChild.data).join()`)
	for _, want := range []string{"Shoulder flexion", "Elbow flexion", "Way up", "Lock-out at", "Fastest shoulder"} {
		if !strings.Contains(rows, want) {
			t.Errorf("the measures %q lack %q", rows, want)
		}
	}
	d.audit(t)
	d.shoot(t, "press-clip")
}

func (d *coach) comparisonOfPresses(t *testing.T) {
	d.compared(t, "press_slow", "press_fast")
	answers := d.joints(t, "#answers li[data-joint]")
	if answers != "shoulder hip elbow" {
		t.Errorf("the answers are of %q", answers)
	}
	sentence := eval[string](t, d, `document.querySelector("#answers .answer-sentence").textContent`)
	if !strings.HasPrefix(sentence, "Shoulder at the lock-out: ") {
		t.Errorf("the first sentence is %q", sentence)
	}
	if values := eval[string](t, d, `document.querySelector("#readout").textContent`); !strings.Contains(values,
		"Shoulder ") || !strings.Contains(values, "Elbow ") || strings.Contains(values, "Ankle") {
		t.Errorf("beneath the pictures stands %q", values)
	}
	d.openAll(t)
	d.speaksOf(t, "main", "bottom", "landing", "descent", "ascent")
	d.audit(t)
	d.shoot(t, "press-comparison")
	d.open(t, "/athletes/"+d.athlete)
	d.until(t, stepLimit, `document.querySelector("[data-testid=losses] li")`)
	eval[bool](t, d, `(() => { [...document.querySelectorAll("#history .tabs button")]
		.find((b) => b.textContent.includes("press"))?.click(); return true; })()`)
	d.hasText(t, "What is lost at the lock-out")
	if lost := d.joints(t, "[data-testid=losses] li"); lost != "knee hip shoulder elbow" {
		t.Errorf("losses of %q", lost)
	}
	d.speaksOf(t, "#history", "bottom", "landing")
	d.shoot(t, "press-athlete")
}

// A push press and a jerk share the lock-out, a push press and a lunge nothing.
func (d *coach) sharedPosition(t *testing.T) {
	d.compared(t, "push_press_slow", "jerk_slow")
	if answers := d.joints(t, "#answers li[data-joint]"); answers != "elbow shoulder" {
		t.Errorf("the answers are of %q", answers)
	}
	sentence := eval[string](t, d, `document.querySelector("[data-testid=answer-shoulder] .answer-sentence").textContent`)
	if !strings.HasPrefix(sentence, "Shoulder at the lock-out: ") || !strings.Contains(sentence, "° (push press), ") {
		t.Errorf("the sentence is %q", sentence)
	}
	d.hasText(t, "The clips show movements that share the lock-out: they are compared there, and nowhere else.")
	d.openAll(t)
	d.speaksOf(t, "main", "bottom", "landing", "range of motion", "knee flexion")
	d.audit(t)
	d.shoot(t, "shared-comparison")
	d.compared(t, "push_press_slow", "lunge_slow")
	if n := eval[int](t, d, `document.querySelectorAll("#answers [data-code=withheld],"
		+ "#answers [data-code=unmeasured]").length`); n == 0 {
		t.Error("a push press and a lunge are compared")
	}
	d.hasText(t, "different movements")
}

// A set of six reps and more says how its positions go over the reps.
func (d *coach) setOfHops(t *testing.T) {
	d.openClip(t, "hop_fast.mp4")
	d.until(t, stepLimit, `document.querySelector("#clip-answer .answer")`)
	var a struct {
		Said struct {
			Within []string `json:"within"`
		} `json:"said"`
	}
	d.get(t, "/api/clips/"+d.clips["hop_fast.mp4"]+"/analysis", &a)
	shown := eval[[]string](t, d, `[...document.querySelectorAll("[data-testid=within]")].map((e) => e.textContent)`)
	if len(a.Said.Within) == 0 || strings.Join(shown, "\n") != strings.Join(a.Said.Within, "\n") {
		t.Errorf("over the reps the page says %q, want %q", shown, a.Said.Within)
	}
	if n := eval[int](t, d, `[...document.querySelectorAll("#clip-answer .note")]
		.filter((e) => e.textContent.includes("show each turn")).length`); n != 1 {
		t.Errorf("that the turns are short is said %d times", n)
	}
	answer := eval[string](t, d, `document.querySelector("#clip-answer .answer").textContent`)
	if !strings.HasPrefix(answer, "6 fast hop reps: ") {
		t.Errorf("the clip's page begins %q", answer)
	}
	d.shoot(t, "hop-clip")
}

// The coach says what a clip shows; who says nothing again has it found.
func (d *coach) choosesMovement(t *testing.T) {
	clip := d.clips["press_slow.mp4"]
	choose := func(key string) screening.Movement {
		t.Helper()
		d.openClip(t, "press_slow.mp4")
		d.do(t, chromedp.Click(chromedp.CSS(`[data-testid=clip-edit]`)), chromedp.WaitVisible(chromedp.CSS(`#clip-dialog`)),
			chromedp.SetValue(chromedp.CSS(`#movement`), key), chromedp.Click(chromedp.CSS(`[data-testid=clip-save]`)))
		d.until(t, measureLimit, fmt.Sprintf(`document.readyState === "complete" &&
			!document.querySelector("#clip-dialog").open &&
			document.querySelector("#movement").value === %q &&
			!document.querySelector("#measured").hidden`, key))
		var a struct {
			Movement screening.Movement `json:"movement"`
		}
		d.get(t, "/api/clips/"+clip+"/analysis", &a)
		return a.Movement
	}
	if m := choose("press"); m.Key != "press" || !m.Given {
		t.Errorf("the movement that was chosen is %+v", m)
	}
	if m := choose(""); m.Key != "press" || m.Given {
		t.Errorf("the movement that was found is %+v", m)
	}
}
