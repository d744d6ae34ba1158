package vision

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
)

// marked is a clip decoded in small pictures: the grey of each and whether it was
// called damaged, by its time in milliseconds.
type marked struct {
	pictures map[int][]byte
	damaged  map[int]bool
}

func (m *marked) count() int { return len(m.damaged) }

func decodeMarked(t *testing.T, path string) (*Clip, *marked) {
	t.Helper()
	ctx := context.Background()
	c, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	frames, err := c.FramesWithOptions(ctx, FrameOptions{MaxSidePx: 320, MarkDamage: true})
	if err != nil {
		t.Fatal(err)
	}
	defer frames.Close()
	m := &marked{pictures: map[int][]byte{}, damaged: map[int]bool{}}
	for {
		f, err := frames.Next()
		if errors.Is(err, io.EOF) {
			return c, m
		}
		if err != nil {
			t.Fatal(err)
		}
		ms := int(f.TimeS*1000 + 0.5)
		m.pictures[ms] = f.Mat.ToBytes()
		if f.Damaged {
			m.damaged[ms] = true
		}
		f.Close()
	}
}

// changed says whether a block of 16 by 12 pixels of a picture 320 wide differs by
// more than 3 grey levels on average.
func changed(a, b []byte) bool {
	const wide = 3 * 320
	for y := 0; y+12 <= len(a)/wide; y += 12 {
		for x := 0; x < wide; x += 48 {
			sum := 0
			for j := y; j < y+12; j++ {
				for i := j*wide + x; i < j*wide+x+48; i++ {
					sum += max(int(a[i])-int(b[i]), int(b[i])-int(a[i]))
				}
			}
			if sum > 3*12*48 {
				return true
			}
		}
	}
	return false
}

// flipped copies a file with one bit turned over in each of the places, parts of the
// pictures' bytes.
func flipped(t *testing.T, from string, places ...float64) string {
	t.Helper()
	data, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(data, []byte("mdat"))
	size := int(binary.BigEndian.Uint32(data[at-4:])) - 8
	for _, p := range places {
		data[at+4+int(p*float64(size))] ^= 0x20
	}
	return written(t, filepath.Ext(from), data)
}

func written(t *testing.T, ext string, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "clip"+ext)
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// Every picture that differs from that of the whole clip is called damaged.
func TestDamagedFramesAreMarked(t *testing.T) {
	dir := t.TempDir()
	encoded := func(name string, args ...string) string {
		path := filepath.Join(dir, name)
		ffmpeg(t, append(append([]string{"-i", "../testdata/clips/fast_30.mp4", "-t", "4", "-s", "640x360"}, args...), path)...)
		return path
	}
	phone := encoded("phone.mp4", "-c:v", "libx264", "-g", "30", "-bf", "0", "-b:v", "1M")
	bframes := encoded("bframes.mp4", "-c:v", "libx264", "-g", "60", "-bf", "3", "-b:v", "1M")
	open := encoded("open.mp4", "-c:v", "libx264", "-x264-params", "keyint=30:min-keyint=30:open-gop=1:bframes=3:scenecut=0", "-b:v", "1M")
	hevc := encoded("hevc.mp4", "-c:v", "libx265", "-x265-params", "log-level=none:keyint=30:bframes=3", "-b:v", "1M")
	tests := []struct {
		name, whole string
		places      []float64
		most        int // frames that may be called damaged
	}{
		{"shipped clip", "../testdata/clips/fast_30.mp4", []float64{0.55}, 250},
		{"no B-frames, near the start", phone, []float64{0.1}, 30},
		{"no B-frames, middle", phone, []float64{0.52}, 30},
		{"no B-frames, twice", phone, []float64{0.3, 0.8}, 60},
		{"B-frames, early", bframes, []float64{0.15}, 62},
		{"B-frames, late", bframes, []float64{0.9}, 62},
		{"open groups", open, []float64{0.4}, 36},
		{"open groups, late", open, []float64{0.66}, 36},
		{"HEVC", hevc, []float64{0.45}, 36},
		{"HEVC, early", hevc, []float64{0.2}, 36},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, whole := decodeMarked(t, tt.whole)
			if n := whole.count(); n > 0 {
				t.Fatalf("%d frames of the whole clip are called damaged", n)
			}
			_, got := decodeMarked(t, flipped(t, tt.whole, tt.places...))
			differ := 0
			for ms, picture := range got.pictures {
				if ref := whole.pictures[ms]; ref == nil || changed(ref, picture) {
					differ++
					if !got.damaged[ms] {
						t.Errorf("the frame at %d ms differs and is not called damaged", ms)
					}
				}
			}
			t.Logf("%d of %d frames differ, %d are called damaged", differ, len(got.pictures), got.count())
			if differ == 0 {
				t.Error("the clip was not damaged")
			}
			if got.count() > tt.most {
				t.Errorf("%d frames are called damaged, want %d at most", got.count(), tt.most)
			}
		})
	}
}
