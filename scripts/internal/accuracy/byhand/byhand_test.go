package byhand

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/kinematics/body"
)

// The angles of the marks as another program, in Python, took them from the same points.
func TestHandAngles(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "..", "..", realFolder, "marks.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	marks, err := readMarks(f)
	if err != nil {
		t.Fatal(err)
	}
	got := handAnglesOf(marks["squat_phone"])
	want := []struct {
		frame                   int
		ankle, knee, hip, trunk float64
	}{{312, 30, 103, 104, 31}, {521, 28, 103, 107, 32}}
	if len(got) != len(want) {
		t.Fatalf("%d marked frames, want %d", len(got), len(want))
	}
	for i, w := range want {
		h := got[i]
		if h.frame != w.frame || h.stand != 240 || h.kind != "bottom" {
			t.Errorf("frame %d, stand %d, %q; want frame %d", h.frame, h.stand, h.kind, w.frame)
		}
		for a, v := range map[body.Angle]float64{
			body.AnkleDorsiflexion: w.ankle, body.KneeFlexion: w.knee, body.HipFlexion: w.hip, body.TrunkLean: w.trunk,
		} {
			if !(math.Abs(h.deg[a]-v) <= 0.5) {
				t.Errorf("frame %d: %v %.2f, want %.0f", w.frame, a, h.deg[a], v)
			}
		}
	}
}

func TestUnseenMarks(t *testing.T) {
	marks, err := readMarks(strings.NewReader("a 0 stand left - 5,1 5,2 5,3 - -\n" +
		"a 9 bottom left - 6,2 4,2 5,3 - - # toes cut\n"))
	if err != nil {
		t.Fatal(err)
	}
	h := handAnglesOf(marks["a"])
	if len(h) != 1 || math.Abs(h[0].deg[body.KneeFlexion]-90-45) > 1e-9 {
		t.Errorf("%+v, want a knee at 135 degrees", h)
	}
	if !math.IsNaN(h[0].deg[body.AnkleDorsiflexion]) || !math.IsNaN(h[0].deg[body.HipFlexion]) {
		t.Errorf("an ankle without a foot or a hip without a shoulder: %+v", h)
	}
}

func FuzzReadMarks(f *testing.F) {
	for _, s := range []string{
		"a 0 stand left - 5,1 5,2 5,3 - -", "a 0 stand up", "# nothing", "a x stand left - - - - - -",
		"a 1 b left 1 - - - - -",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		marks, err := readMarks(strings.NewReader(s))
		if err != nil {
			return
		}
		for _, m := range marks {
			handAnglesOf(m)
		}
	})
}

// A real squat is a squat, whatever else is looked for; two reps make it no surer than this.
func TestRealSquatIsOne(t *testing.T) {
	c, err := loadReal(t.Context(), filepath.Join("..", "..", "..", "..", realFolder), "squat_phone", "")
	if err != nil {
		t.Fatal(err)
	}
	if a := c.Analysis; a.Movement.Key != "squat" || a.Movement.SurePct < 70 || len(a.Reps) != 2 {
		t.Errorf("%+v with %d reps, want a squat with 2, fairly sure", a.Movement, len(a.Reps))
	}
}
