package sets

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/given"
	"holdfast/internal/tracks"
	"holdfast/screening"
	"holdfast/vision"
)

// A command joins two measured clips of a visit and parts them again; what cannot be one set is refused in a plain
// line.
func TestJoinAndPart(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it measures clips")
	}
	dir := t.TempDir()
	arc, err := archive.Open(t.Context(), dir, archive.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer arc.Close()
	who, err := arc.CreateAthlete(t.Context(), archive.Athlete{Name: "Sam Example"})
	if err != nil {
		t.Fatal(err)
	}
	adds, err := desk.New(desk.Options{Archive: arc, WorkDir: filepath.Join(dir, "tmp", "adds"),
		Model: vision.DefaultModel})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"slow_30", "fast_30", "front_slow"} {
		a, track := tracks.Analysis(t, name, screening.Options{})
		clip, err := os.Open(tracks.Clip(t, name).Path)
		if err == nil {
			_, err = adds.AddTracked(t.Context(), clip, name+".mp4", given.Clip{Athlete: who.ID, Date: "2026-03-01"},
				a.Clip, track)
			clip.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	var out, errs bytes.Buffer
	for _, tt := range []struct{ one, other, want string }{
		{"slow_30.mp4", "fast_30.mp4", "from the side and the other from the front"},
		{"slow_30.mp4", "nothing.mp4", "Sam Example has no clip nothing.mp4"},
		{"slow_30.mp4", "front_slow.mp4", ""},
		{"front_slow.mp4", "fast_30.mp4", "joined with another one"},
	} {
		err := Join(t.Context(), arc, "sam example", tt.one, tt.other, &out, &errs)
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s and %s: %v, want %q", tt.one, tt.other, err, tt.want)
		}
	}
	if err := Part(t.Context(), arc, who.ID, "front_slow.mp4", &out); err != nil {
		t.Error(err)
	}
	if err := Part(t.Context(), arc, who.ID, "front_slow.mp4", &out); err == nil {
		t.Error("parted twice")
	}
	if got := out.String(); got != "slow_30.mp4 and front_slow.mp4 are joined: they show one set from the side and "+
		"from the front.\nfront_slow.mp4 is joined with no other clip.\n" || errs.Len() > 0 {
		t.Errorf("%q, %q", got, errs.String())
	}
}
