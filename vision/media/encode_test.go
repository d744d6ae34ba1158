package media

import (
	"context"
	"encoding/json"
	"errors"
	"image/color"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"

	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

func probe(t *testing.T, path string) (times []float64, stream map[string]any) {
	t.Helper()
	out, err := exec.Command("ffprobe", "-v", "error", "-of", "json", "-select_streams", "v:0",
		"-show_entries", "frame=pts_time:stream", "file:"+path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var p struct {
		Frames []struct {
			PTS string `json:"pts_time"`
		}
		Streams []map[string]any
	}
	if err := json.Unmarshal(out, &p); err != nil {
		t.Fatal(err)
	}
	for _, f := range p.Frames {
		v, err := strconv.ParseFloat(f.PTS, 64)
		if err != nil {
			t.Fatal(err)
		}
		times = append(times, v)
	}
	sort.Float64s(times)
	return times, p.Streams[0]
}

func writeVideo(ctx context.Context, path string, w, h int, times []float64) error {
	c, err := paint.NewCanvas(w, h, color.NRGBA{R: 20, G: 40, B: 60, A: 255})
	if err != nil {
		return err
	}
	defer c.Close()
	v, err := NewVideoWriter(ctx, path, w, h)
	if err != nil {
		return err
	}
	defer v.Abort()
	for i, s := range times {
		c.Disc(plane.XY{X: float64(i % w), Y: float64(h) / 2}, 6, color.NRGBA{R: 255, G: 200, A: 255})
		if err := v.Write(c, s); err != nil {
			return err
		}
	}
	return v.Close()
}

// blank returns a black picture.
func blank(t *testing.T, w, h int) *paint.Canvas {
	t.Helper()
	c, err := paint.NewCanvas(w, h, color.NRGBA{A: 255})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func leftovers(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// TestVideoKeepsTimes: a millisecond is far below the time between frames of any
// phone clip (4.2 ms at 240 Hz).
func TestVideoKeepsTimes(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it encodes videos")
	}
	var even, varying, uneven []float64
	for i := range 50 {
		even = append(even, float64(i)/60)
	}
	for i, s := 0, 0.0; i < 60; i++ {
		varying = append(varying, s)
		s += []float64{1 / 30.0, 1 / 30.0, 1 / 15.0, 1 / 60.0, 0.2, 1 / 29.97}[i%6]
	}
	for i, s := 0, 0.0; i < 40; i++ {
		uneven = append(uneven, s)
		s += 0.004167 + 0.0301*math.Abs(math.Sin(float64(i*i)))
	}
	for _, tc := range []struct {
		name  string
		w, h  int
		times []float64
	}{
		{"60 Hz", 160, 120, even},
		{"variable rate", 160, 120, varying},
		{"uneven steps, odd size", 161, 121, uneven},
		{"one picture", 160, 120, []float64{0}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "a: b%d 'c'.mp4")
			if err := writeVideo(t.Context(), path, tc.w, tc.h, tc.times); err != nil {
				t.Fatal(err)
			}
			got, stream := probe(t, path)
			if len(got) != len(tc.times) {
				t.Fatalf("%d pictures in the file, want %d", len(got), len(tc.times))
			}
			for i := range got {
				if math.Abs(got[i]-tc.times[i]) > 0.001 {
					t.Errorf("picture %d at %.4f s, want %.4f s", i, got[i], tc.times[i])
				}
			}
			if stream["codec_name"] != "h264" || stream["pix_fmt"] != "yuv420p" {
				t.Errorf("codec %v, pixels %v", stream["codec_name"], stream["pix_fmt"])
			}
			if w := int(stream["width"].(float64)); w%2 != 0 || w < tc.w {
				t.Errorf("width %d", w)
			}
			if names := leftovers(t, dir); len(names) != 1 {
				t.Errorf("the folder holds %v", names)
			}
			// The index stands before the pictures, so that a browser can start early.
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if moov, mdat := strings.Index(string(b), "moov"), strings.Index(string(b), "mdat"); moov < 0 || moov > mdat {
				t.Errorf("moov at %d, mdat at %d", moov, mdat)
			}
		})
	}
}

// A picture is in the video as it was when it was written, though its canvas is drawn on at once and it reaches the
// encoder later.
func TestVideoKeepsPictures(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it encodes a video")
	}
	const pictures, w, h = 40, 640, 480
	path := filepath.Join(t.TempDir(), "a.mp4")
	v, err := NewVideoWriter(t.Context(), path, w, h)
	if err != nil {
		t.Fatal(err)
	}
	defer v.Abort()
	c := blank(t, w, h)
	defer c.Close()
	level := func(k int) uint8 { return uint8(40 + 97*k%160) }
	for k := range pictures {
		c.Fill(color.NRGBA{R: level(k), G: level(k), B: level(k), A: 255})
		if err := v.Write(c, float64(k)/30); err != nil {
			t.Fatal(err)
		}
		c.Fill(color.NRGBA{R: 255, A: 255})
	}
	if err := v.Close(); err != nil {
		t.Fatal(err)
	}
	clip, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	frames, err := clip.Frames(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer frames.Close()
	for k := range pictures {
		f, err := frames.Next()
		if err != nil {
			t.Fatal(err)
		}
		seen, err := f.Canvas()
		if err != nil {
			t.Fatal(err)
		}
		at := seen.At(w/2, h/2)
		f.Close()
		for _, got := range []uint8{at.R, at.G, at.B} {
			if math.Abs(float64(got)-float64(level(k))) > 4 {
				t.Errorf("picture %d is %v, was written with %d", k, at, level(k))
			}
		}
	}
}

func TestVideoFailures(t *testing.T) {
	t.Run("cancelled", func(t *testing.T) {
		dir := t.TempDir()
		ctx, cancel := context.WithCancel(t.Context())
		v, err := NewVideoWriter(ctx, filepath.Join(dir, "a.mp4"), 320, 240)
		if err != nil {
			t.Fatal(err)
		}
		c := blank(t, 320, 240)
		defer c.Close()
		if err := v.Write(c, 0); err != nil {
			t.Fatal(err)
		}
		cancel()
		for i := 1; i < 1000 && err == nil; i++ {
			err = v.Write(c, float64(i))
		}
		if !errors.Is(err, context.Canceled) || !errors.Is(v.Close(), context.Canceled) {
			t.Errorf("got %v and %v", err, v.Close())
		}
		if names := leftovers(t, dir); len(names) != 0 {
			t.Errorf("the folder holds %v", names)
		}
	})
	t.Run("no such folder", func(t *testing.T) {
		_, err := NewVideoWriter(t.Context(), filepath.Join(t.TempDir(), "none", "a.mp4"), 320, 240)
		if !errors.Is(err, os.ErrNotExist) {
			t.Errorf("got %v", err)
		}
	})
	t.Run("no ffmpeg", func(t *testing.T) {
		t.Setenv("PATH", t.TempDir())
		_, err := NewVideoWriter(t.Context(), filepath.Join(t.TempDir(), "a.mp4"), 320, 240)
		if !errors.Is(err, ErrNotInstalled) {
			t.Errorf("got %v", err)
		}
	})
	t.Run("disk full", func(t *testing.T) {
		dir := t.TempDir()
		path := filepath.Join(dir, "a.mp4")
		v, err := newVideoWriter(t.Context(), path, "/dev/full", 320, 240)
		if err != nil {
			t.Fatal(err)
		}
		c := blank(t, 320, 240)
		defer c.Close()
		for i := 0; i < 20 && err == nil; i++ {
			err = v.Write(c, float64(i))
		}
		if closeErr := v.Close(); err == nil {
			err = closeErr
		}
		if err == nil || !strings.Contains(err.Error(), "No space left") {
			t.Errorf("got %v, want ffmpeg's own words", err)
		}
		if _, statErr := os.Stat("/dev/full"); statErr != nil {
			t.Error("the device was removed")
		}
	})
	t.Run("earlier file survives", func(t *testing.T) {
		dir := t.TempDir()
		path := filepath.Join(dir, "a.mp4")
		if err := os.WriteFile(path, []byte("earlier"), 0o644); err != nil {
			t.Fatal(err)
		}
		v, err := NewVideoWriter(t.Context(), path, 320, 240)
		if err != nil {
			t.Fatal(err)
		}
		if err := v.Close(); err == nil {
			t.Error("a video without pictures was accepted")
		}
		v.Abort()
		if b, err := os.ReadFile(path); err != nil || string(b) != "earlier" {
			t.Errorf("the earlier file is %q, %v", b, err)
		}
		if names := leftovers(t, dir); len(names) != 1 {
			t.Errorf("the folder holds %v", names)
		}
	})
	t.Run("wrong pictures", func(t *testing.T) {
		v, err := NewVideoWriter(t.Context(), filepath.Join(t.TempDir(), "a.mp4"), 32, 24)
		if err != nil {
			t.Fatal(err)
		}
		defer v.Abort()
		good, bad := blank(t, 32, 24), blank(t, 30, 24)
		defer good.Close()
		defer bad.Close()
		if err := v.Write(good, 1); err != nil {
			t.Fatal(err)
		}
		for _, s := range []float64{1, 0.5, -1, math.NaN(), math.Inf(1)} {
			if v.Write(good, s) == nil {
				t.Errorf("a picture at %v s after one at 1 s was accepted", s)
			}
		}
		if v.Write(bad, 2) == nil {
			t.Error("a picture of another size was accepted")
		}
	})
}
