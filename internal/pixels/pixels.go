// Package pixels looks into pictures and videos for tests: how much of a picture's detail is left in another, and
// what a file holds besides its pixels.
package pixels

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"

	"holdfast/report/motion"
	"holdfast/vision/media"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

// sharp returns how far a pixel differs from the mean of those about it. The grains
// are 2 to 14 pixels wide where they are looked at.
func sharp(grey func(x, y int) float64, x, y int) float64 {
	const d = 6
	return grey(x, y) - (grey(x-d, y)+grey(x+d, y)+grey(x, y-d)+grey(x, y+d))/4
}

// Shared returns how far the detail of two pictures agrees within a disc, 1 for the
// same and 0 for none, but for what lies near one of the lines.
func Shared(a, b func(x, y int) float64, at plane.XY, r float64, clearPx float64, lines ...[2]plane.XY) float64 {
	var aa, bb, ab, n float64
	for y := int(at.Y - r); y < int(at.Y+r); y += 2 {
	pixel:
		for x := int(at.X - r); x < int(at.X+r); x += 2 {
			p := plane.XY{X: float64(x) + 0.5, Y: float64(y) + 0.5}
			if math.Hypot(p.X-at.X, p.Y-at.Y) > r {
				continue
			}
			for _, l := range lines {
				dx, dy := l[1].X-l[0].X, l[1].Y-l[0].Y
				f := math.Max(0, math.Min(1, ((p.X-l[0].X)*dx+(p.Y-l[0].Y)*dy)/(dx*dx+dy*dy)))
				if math.Hypot(p.X-l[0].X-f*dx, p.Y-l[0].Y-f*dy) < clearPx {
					continue pixel
				}
			}
			u, v := sharp(a, x, y), sharp(b, x, y)
			aa, bb, ab, n = aa+u*u, bb+v*v, ab+u*v, n+1
		}
	}
	if n < 20 || aa/n < 4 {
		return math.NaN() // nothing to compare
	}
	// Against the detail of the first: a picture with none shares none.
	return ab / aa
}

func GreyOf(c *paint.Canvas) func(x, y int) float64 {
	return func(x, y int) float64 { return float64(c.At(x, y).G) }
}

func GreyOfImage(t *testing.T, b []byte) func(x, y int) float64 {
	t.Helper()
	img, _, err := image.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return func(x, y int) float64 {
		_, g, _, _ := img.At(x, y).RGBA()
		return float64(g) / 257
	}
}

// EachFrame goes through a video.
func EachFrame(t *testing.T, path string, do func(fr *media.Frame, c *paint.Canvas)) int {
	t.Helper()
	clip, err := media.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	frames, err := clip.Frames(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer frames.Close()
	for n := 0; ; n++ {
		fr, err := frames.Next()
		if errors.Is(err, io.EOF) {
			return n
		}
		if err != nil {
			t.Fatal(err)
		}
		c, err := fr.Canvas()
		if err != nil {
			t.Fatal(err)
		}
		do(fr, c)
		fr.Close()
	}
}

// HeadIn returns the ear, the shoulder and the radius of the head at a time, in a picture
// that the mapping leads to.
func HeadIn(m *motion.Motion, timeS float64, to plane.Affine) (ear, shoulder plane.XY, r float64) {
	ear, shoulder = to.Apply(m.Point("ear", timeS)), to.Apply(m.Point("shoulder", timeS))
	return ear, shoulder, 0.6 * math.Hypot(ear.X-shoulder.X, ear.Y-shoulder.Y)
}

// NothingBeside checks that a JPEG has no segment that says where or with what it was
// taken: of the application segments it may have the one of the file's format (ISO/IEC
// 10918-1, B.1.1.3: APP0 to APP15 are FFE0 to FFEF, a comment is FFFE).
func NothingBeside(t *testing.T, name string, b []byte) {
	t.Helper()
	if len(b) < 4 || b[0] != 0xff || b[1] != 0xd8 {
		t.Fatalf("%s is no JPEG", name)
	}
	for at := 2; at+4 <= len(b) && b[at] == 0xff; {
		kind := b[at+1]
		if kind == 0xda { // the pixels begin
			return
		}
		if kind > 0xe0 && kind <= 0xef || kind == 0xfe {
			t.Errorf("%s has a segment %x", name, kind)
		}
		at += 2 + int(b[at+2])<<8 + int(b[at+3])
	}
	t.Errorf("%s ends before its pixels", name)
}

// OnlyPixels checks that a PNG holds its header, its pixels and its end, nothing else.
func OnlyPixels(t *testing.T, name string, b []byte) {
	t.Helper()
	if _, err := png.DecodeConfig(bytes.NewReader(b)); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	for b = b[8:]; len(b) >= 12; {
		n := binary.BigEndian.Uint32(b)
		switch kind := string(b[4:8]); kind {
		case "IHDR", "IDAT", "IEND":
		default:
			t.Errorf("%s holds a chunk %q", filepath.Base(name), kind)
		}
		b = b[12+n:]
	}
}

// SecretFree checks that a file holds nothing of its source's notes.
func SecretFree(t *testing.T, path string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{"59.32", "Secret", "2031-02"} {
		if bytes.Contains(b, []byte(s)) {
			t.Errorf("%s holds %q", filepath.Base(path), s)
		}
	}
	if !strings.HasSuffix(path, ".mp4") {
		return
	}
	out, err := exec.Command("ffprobe", "-v", "error", "-show_entries", "format_tags:stream_tags", "-of",
		"default=nk=0:nw=1", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, tag := range []string{"location", "creation_time", "model", "date"} {
		if bytes.Contains(out, []byte(tag)) {
			t.Errorf("%s says %s", filepath.Base(path), out)
		}
	}
}

func VideoTimes(t *testing.T, path string) []float64 {
	t.Helper()
	out, err := exec.Command("ffprobe", "-v", "error", "-select_streams", "v:0", "-show_entries", "frame=pts_time", "-of",
		"csv=p=0", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var times []float64
	for _, s := range strings.Fields(string(out)) {
		v, err := strconv.ParseFloat(strings.Trim(s, ","), 64)
		if err != nil {
			t.Fatal(err)
		}
		times = append(times, v)
	}
	sort.Float64s(times)
	return times
}
