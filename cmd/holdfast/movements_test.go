package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/movements"
	"holdfast/screening"
	"holdfast/vision/pose"
)

// A coach's own movement is known by --movements and chosen by --movement; what is wrong with its file is said in a
// line before anything is measured.
func TestOwnMovements(t *testing.T) {
	t.Cleanup(movements.Use(movements.Known()))
	shipped, err := os.ReadFile("../../movements/squat.toml")
	if err != nil {
		t.Fatal(err)
	}
	ta := newTestApp(t)
	mine := filepath.Join(t.TempDir(), "mine.toml")
	write := func(text string) {
		if err := os.WriteFile(mine, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	own := strings.Replace(string(shipped), `key = "squat"`, `key = "deep_squat"`, 1)
	write(strings.Replace(own, "least = 0.20", `least = "deep"`, 1))
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"--movements", filepath.Dir(mine)}, "mine.toml: the movement's file cannot be used: rep.least must be"},
		{[]string{"--movements", mine}, "--movements takes a folder"},
		{[]string{"--movement", "deep_squat"}, "--movement takes "},
	} {
		ta.err.Reset()
		if code := ta.run(append([]string{"analyze", "slow.mp4"}, c.args...)...); code != exitUsage ||
			!strings.Contains(ta.err.String(), c.says) || len(ta.calls) != 0 {
			t.Errorf("%v: exit code %d, %s", c.args, code, ta.err)
		}
	}
	write(own)
	code := ta.run("analyze", "slow.mp4", "--movements", filepath.Dir(mine), "--movement", "deep_squat")
	if code != exitOK ||
		len(ta.calls) != 1 || ta.calls[0].Movement != "deep_squat" {
		t.Errorf("exit code %d, %s, %+v", code, ta.err, ta.calls)
	}
}

// trackedApp measures clips from their stored tracks.
func trackedApp(t *testing.T, clips ...string) *testApp {
	t.Helper()
	ta := newTestApp(t)
	ta.engine.compare = screening.Compare
	ta.engine.analyze = func(_ context.Context, path string, opt screening.Options) (*screening.Analysis, *pose.Track,
		error) {
		a, track := tracks.Analysis(t, strings.TrimSuffix(filepath.Base(path), ".mp4"), opt)
		return a, track, nil
	}
	for _, name := range clips {
		if err := os.WriteFile(name, []byte("clip"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return ta
}

// Two movements that share a position are compared in it alone, by the plain command; those that share none are told
// apart in a plain line.
func TestCompareMovementsThatShare(t *testing.T) {
	ta := trackedApp(t, "push_press_slow.mp4", "jerk_slow.mp4")
	if code := ta.run("compare", "push_press_slow.mp4", "jerk_slow.mp4", "--no-video"); code != exitOK {
		t.Fatalf("exit code %d: %s", code, ta.err)
	}
	said := ta.out.String()
	for _, want := range []string{"Shoulder at the lock-out: ", "° (push press), ", "° (jerk), ", "Hand over foot"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not in\n%s", want, said)
		}
	}
	for _, wrong := range []string{"Range of motion", "Knee", "no verdict", "control at speed"} {
		if strings.Contains(said, wrong) {
			t.Errorf("%q is in\n%s", wrong, said)
		}
	}
	ta = trackedApp(t, "squat_beside.mp4", "drop_landing_low.mp4")
	if code := ta.run("compare", "squat_beside.mp4", "drop_landing_low.mp4", "--no-video"); code != exitOK {
		t.Fatalf("exit code %d: %s", code, ta.err)
	}
	said = ta.out.String()
	for _, want := range []string{"Knee at the bottom: ", "° (squat), ", "° (drop landing), ", "Ankle"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not in\n%s", want, said)
		}
	}
	ta = trackedApp(t, "hinge_slow.mp4", "clean_pull_slow.mp4")
	if code := ta.run("compare", "hinge_slow.mp4", "clean_pull_slow.mp4", "--no-video"); code != exitOK {
		t.Fatalf("exit code %d: %s", code, ta.err)
	}
	said = ta.out.String()
	for _, want := range []string{"Hip at the bottom: ", "° (hinge), ", "° (clean pull), ", "Trunk"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not in\n%s", want, said)
		}
	}
	ta = trackedApp(t, "push_press_slow.mp4", "jerk_fast.mp4")
	if code := ta.run("compare", "push_press_slow.mp4", "jerk_fast.mp4", "--no-video"); code != exitOK {
		t.Fatalf("exit code %d: %s", code, ta.err)
	}
	said = ta.out.String() + ta.err.String()
	for _, want := range []string{"Shoulder at the lock-out: ", "° (slow push press), ", "° (fast jerk), ",
		"each in its own tempo; slow push press is the baseline"} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not in\n%s", want, said)
		}
	}
	ta = trackedApp(t, "push_press_slow.mp4", "lunge_slow.mp4")
	if code := ta.run("compare", "push_press_slow.mp4", "lunge_slow.mp4", "--no-video"); code != exitOK &&
		!strings.Contains(ta.err.String(), "movement") || !strings.Contains(ta.out.String()+ta.err.String(), "movement") {
		t.Errorf("exit code %d: %s%s", code, ta.out, ta.err)
	}
}

// A swing is a hinge under speed: it is compared with a slow one by the plain command, and what it loses is told.
func TestCompareHingeWithSwing(t *testing.T) {
	ta := trackedApp(t, "hinge_slow.mp4", "hinge_swing.mp4")
	if code := ta.run("compare", "hinge_slow.mp4", "hinge_swing.mp4", "--no-video"); code != exitOK {
		t.Fatalf("exit code %d: %s", code, ta.err)
	}
	said := ta.out.String()
	for _, want := range []string{"Hip at the bottom: ", "° slow, ", "° fast, "} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not in\n%s", want, said)
		}
	}
	for _, wrong := range []string{"no verdict", "control at speed", "landing"} {
		if strings.Contains(said, wrong) {
			t.Errorf("%q is in\n%s", wrong, said)
		}
	}
}

// A squat that is dropped into from the toes is a fast squat, and a jump out of a crouch a jump: each is compared with
// a slow squat by the plain command.
func TestCompareSquatWithDropAndJumpUp(t *testing.T) {
	for _, tt := range []struct{ clip, want string }{
		{"squat_drop.mp4", "° slow, 74° fast, "}, {"squat_up.mp4", "° slow, 58° landing, "},
	} {
		ta := trackedApp(t, "squat_beside.mp4", tt.clip)
		if code := ta.run("compare", "squat_beside.mp4", tt.clip, "--no-video"); code != exitOK {
			t.Fatalf("%s: exit code %d: %s", tt.clip, code, ta.err)
		}
		said := ta.out.String()
		if !strings.Contains(said, "Knee at the bottom: ") || !strings.Contains(said, tt.want) {
			t.Errorf("%s: %q is not in\n%s", tt.clip, tt.want, said)
		}
		// A range that starts on the toes is none that starts on flat feet.
		const withheld = "Range of motion: 30° slow, 38° fast. No verdict: only one of the two starts from flat feet, the " +
			"other from the toes."
		if drop := tt.clip == "squat_drop.mp4"; strings.Contains(said, withheld) != drop ||
			strings.Contains(said, "No verdict") != drop {
			t.Errorf("%s: %s", tt.clip, said)
		}
	}
}

// Landings from two boxes are compared by how high these are, where that is known, and no tempo is told of them.
func TestCompareBoxes(t *testing.T) {
	low, high := "drop_landing_low.mp4", "drop_landing_high.mp4"
	for _, tt := range []struct {
		args []string
		want []string
	}{
		{[]string{"--height-cm", "175"}, []string{"° (box of 29 cm), ", "° (box of 43 cm), ", "11° lost",
			"The landings of the clips are compared", "box of 29 cm is the baseline"}},
		{nil, []string{"° (drop_landing_low), ", "° (drop_landing_high), "}},
	} {
		ta := trackedApp(t, low, high)
		if code := ta.run(append([]string{"compare", low, high, "--no-video"}, tt.args...)...); code != exitOK {
			t.Fatalf("exit code %d: %s", code, ta.err)
		}
		said := ta.out.String() + ta.err.String()
		for _, want := range tt.want {
			if !strings.Contains(said, want) {
				t.Errorf("%q is not in\n%s", want, said)
			}
		}
		if strings.Contains(said, "slow") {
			t.Errorf("a landing is called slow:\n%s", said)
		}
	}
}

// Each movement goes from its two clips to a comparison by the plain command, and is found by itself.
func TestCompareEachMovement(t *testing.T) {
	for _, clip := range tracks.Movements(t) {
		key, slow := strings.CutSuffix(clip, "_slow")
		if !slow {
			continue
		}
		clips := []string{key + "_slow.mp4", key + "_fast.mp4"}
		ta := trackedApp(t, clips...)
		if code := ta.run("compare", clips[0], clips[1], "--no-video"); code != exitOK {
			t.Errorf("%s: exit code %d: %s", key, code, ta.err)
		}
		m, known := movements.Known().Of(key)
		if !known {
			t.Fatalf("no movement is called as the clip %s", clip)
		}
		said := strings.ToLower(ta.out.String())
		for _, j := range m.Joints {
			if !strings.Contains(said, j.String()) {
				t.Errorf("%s: nothing is said of the %s:\n%s", key, j, said)
			}
		}
		if strings.Contains(said, "no verdict") {
			t.Errorf("%s:\n%s", key, said)
		}
	}
}

// Clips without a movement have nothing that is compared: a line says so, and what to do.
func TestComparePlain(t *testing.T) {
	ta := trackedApp(t, "no_rep_walk.mp4", "no_rep_bent.mp4")
	code := ta.run("compare", "no_rep_walk.mp4", "no_rep_bent.mp4", "--no-video")
	const want = "no_rep_walk.mp4: no repetition was found: it is measured without a movement, and such clips are not " +
		"compared; mark the same part in each and read their ranges side by side, or say which movement they show"
	if said := ta.err.String(); code != exitUnmeasurable || !strings.Contains(said, want) {
		t.Errorf("exit code %d: %s", code, said)
	}
}
