package terminal

import (
	"bytes"
	"strings"
	"testing"
	"time"
)

func TestProgressLines(t *testing.T) {
	var out bytes.Buffer
	clock := time.Unix(0, 0)
	p := &progress{label: "slow.mp4", show: &lineRenderer{out: &out, now: func() time.Time { return clock }}}
	for i := 1; i <= 1000; i++ {
		clock = clock.Add(20 * time.Millisecond) // 20 s in all, a tenth takes 2 s
		p.Report("tracking", i, 1000)
	}
	p.Report("tables", 1, 3)
	p.Report("pictures", 1, 0)
	clock = clock.Add(3 * time.Second)
	p.End()
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	if len(lines) < 10 || len(lines) > 13 {
		t.Errorf("%d lines for ten tenths: %q", len(lines), lines)
	}
	if lines[0] != "slow.mp4: tracking: 101 of 1000 frames, 50 a second, 18 s left" {
		t.Errorf("the first line is %q", lines[0])
	}
	if last := lines[len(lines)-1]; last != "slow.mp4: pictures: 1 frame, 0 a second" {
		t.Errorf("the last line is %q", last)
	}
}

// Files that are copied are not called frames.
func TestProgressCountsWhatItIs(t *testing.T) {
	var out bytes.Buffer
	clock := time.Unix(0, 0)
	p := &progress{label: "archive", show: &lineRenderer{out: &out, now: func() time.Time { return clock }}}
	for _, stage := range []string{"copying files", "sending clips"} {
		p.Report(stage, 10, 10)
		clock = clock.Add(20 * time.Second)
	}
	p.End()
	if got, want := out.String(), "archive: copying files: 10 of 10 files, 0 a second\n"+
		"archive: sending clips: 10 of 10 clips, 0 a second\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
