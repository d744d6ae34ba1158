package work

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"holdfast/vision"
	"holdfast/vision/media"
	"holdfast/words"
)

// do has the child's side do an order in this process, and returns its last line.
func doOrder(t *testing.T, order string) (Line, error) {
	t.Helper()
	var out bytes.Buffer
	err := Work(t.Context(), strings.NewReader(order), &out)
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	var last Line
	if s := lines[len(lines)-1]; s != "" {
		if err := json.Unmarshal([]byte(s), &last); err != nil {
			t.Fatal(err)
		}
	}
	return last, err
}

func TestWorkRefuses(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "text.mp4")
	if err := os.WriteFile(text, []byte("this is no video"), 0o600); err != nil {
		t.Fatal(err)
	}
	order := func(o Order) string {
		b, err := json.Marshal(o)
		if err != nil {
			t.Fatal(err)
		}
		return string(b) + "\n"
	}
	clip := filepath.Join("..", "..", "testdata", "clips", "fast_30.mp4")
	tests := []struct {
		name, order string
		fails       bool   // with an error: nobody can be told
		text        string // of the line
		hint        bool
	}{
		{"nothing", "", true, "", false},
		{"no JSON", "hello\n", true, "", false},
		{"no end", strings.Repeat("x", maxOrderBytes+10), true, "", false},
		{"no clip", order(Order{Kind: KindAnalyze}), false, "names no clip", false},
		{"unknown work", order(Order{Kind: "cook", Clips: []Clip{{}}}), false, "cook", false},
		{"no file", order(Order{Kind: KindAnalyze, Dir: dir, Clips: []Clip{{Path: filepath.Join(dir, "none")}}}), false,
			"no such file", true},
		{"a text", order(Order{Kind: KindAnalyze, Dir: dir, Clips: []Clip{{Path: text}}}), false, "cannot be read", true},
		{"too long", order(Order{Kind: KindAnalyze, Dir: dir, Clips: []Clip{{Path: clip}},
			Limits: orderLimits{ClipMinutes: 0.1}}), false, "too long", true},
		{"too large", order(Order{Kind: KindAnalyze, Dir: dir, Clips: []Clip{{Path: clip}},
			Limits: orderLimits{FramePx: 1000}}), false, "too large", true},
		{"no analysis", order(Order{Kind: KindVideo, Dir: dir, Clips: []Clip{{Analysis: text}}}), false, "cannot be read",
			true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			last, err := doOrder(t, tt.order)
			if (err != nil) != tt.fails {
				t.Fatalf("error %v", err)
			}
			if tt.fails {
				return
			}
			if last.Event != EventFailed || !strings.Contains(last.Error, tt.text) || (last.Hint != "") != tt.hint {
				t.Errorf("it says %+v", last)
			}
			if strings.Contains(last.Error, dir) {
				t.Errorf("it tells a path: %s", last.Error)
			}
		})
	}
}

// Of many steps a few are told, the first and the last of each stage always.
func TestProgressIsThinned(t *testing.T) {
	var out bytes.Buffer
	now := time.Date(2025, 5, 2, 12, 0, 0, 0, time.UTC)
	s := &speaker{out: json.NewEncoder(&out), now: func() time.Time { now = now.Add(time.Millisecond); return now }}
	for i := range 1001 {
		s.progress("tracking", i, 1000)
	}
	s.progress("pictures", 0, 5)
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	if len(lines) < 8 || len(lines) > 20 {
		t.Errorf("%d lines for 1001 steps of a second", len(lines))
	}
	if !strings.Contains(lines[0], `"total":1000`) || !strings.Contains(lines[len(lines)-2], `"done":1000`) ||
		!strings.Contains(lines[len(lines)-1], "pictures") {
		t.Errorf("lines %q", lines)
	}
}

func TestTempoOf(t *testing.T) {
	for name, ok := range map[string]bool{"": true, "slow": true, "fast": true, "jump": true, "Slow": false,
		"unknown": false} {
		if _, err := TempoOf(name); (err == nil) != ok {
			t.Errorf("tempo %q: %v", name, err)
		}
	}
	var l orderLimits
	if err := l.allow(&media.Clip{DurationS: 1e6, WidthPx: 1e4, HeightPx: 1e4}); err != nil {
		t.Errorf("without limits: %v", err)
	}
}

// A child that refuses a clip says the code of its reason beside the words, so that failures can be counted.
func TestFailureHasItsReason(t *testing.T) {
	for want, err := range map[string]error{
		"no_person":  fmt.Errorf("tracking: %w", vision.ErrNoPerson),
		"unreadable": &media.ClipError{Err: words.Because(media.ErrUnreadable, "no_track", nil)},
		"":           errors.New("something else"),
	} {
		var out bytes.Buffer
		(&speaker{out: json.NewEncoder(&out), now: time.Now}).failed(err)
		var l Line
		if err := json.Unmarshal(out.Bytes(), &l); err != nil || l.Event != EventFailed || l.Reason != want || l.Error == "" {
			t.Errorf("of %q it says %+v, %v", want, l, err)
		}
	}
}
