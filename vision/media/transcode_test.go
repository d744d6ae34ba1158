package media

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/internal/ffmpeg"
	"holdfast/internal/grain"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

// phoneClip makes what a phone makes: frames at uneven times, sound, the place and
// time of filming, the phone's name, and a picture that is stored lying on its side.
func phoneClip(t *testing.T, w, h int, timesS []float64) string {
	t.Helper()
	dir := t.TempDir()
	plain, path := filepath.Join(dir, "plain.mp4"), filepath.Join(dir, "phone.mov")
	v, err := NewVideoWriter(t.Context(), plain, w, h)
	if err != nil {
		t.Fatal(err)
	}
	defer v.Abort()
	c := blank(t, w, h)
	defer c.Close()
	for i, s := range timesS {
		grain.Fill(c, uint64(i/8))
		if err := v.Write(c, s); err != nil {
			t.Fatal(err)
		}
	}
	if err := v.Close(); err != nil {
		t.Fatal(err)
	}
	turned := filepath.Join(dir, "turned.mov")
	ffmpeg.Run(t, "-i", plain, "-f", "lavfi", "-t", "1", "-i", "sine", "-c:v", "copy", "-c:a", "aac", "-map", "0:v",
		"-map", "1:a",
		"-metadata:s:v:0", "rotate=90", "-metadata", "location=+59.3293+018.0686/", "-metadata",
		"location-eng=+59.3293+018.0686/",
		"-metadata", "creation_time=2031-02-03T04:05:06Z", "-metadata", "model=SecretPhone 9", "-metadata",
		"comment=SecretNote",
		"-metadata:s:v:0", "handler_name=SecretHandler", "-movflags", "use_metadata_tags", turned)
	if err := os.Rename(turned, path); err != nil {
		t.Fatal(err)
	}
	return path
}

// probed is what a file says of itself.
type probed struct {
	Streams []struct {
		CodecName string            `json:"codec_name"`
		CodecType string            `json:"codec_type"`
		PixFmt    string            `json:"pix_fmt"`
		Width     int               `json:"width"`
		Height    int               `json:"height"`
		Tags      map[string]string `json:"tags"`
		SideData  []any             `json:"side_data_list"`
	} `json:"streams"`
	Format struct {
		Tags map[string]string `json:"tags"`
	} `json:"format"`
	Packets []struct {
		Flags string `json:"flags"`
	} `json:"packets"`
}

func probeAll(t *testing.T, path string) probed {
	t.Helper()
	out, err := exec.Command("ffprobe", "-v", "error", "-of", "json", "-show_streams", "-show_format", "-show_packets",
		"file:"+path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var p probed
	if err := json.Unmarshal(out, &p); err != nil {
		t.Fatal(err)
	}
	return p
}

// saysNothing checks that a file tells nothing but its pictures.
func saysNothing(t *testing.T, path string) {
	t.Helper()
	p := probeAll(t, path)
	harmless := map[string]bool{"major_brand": true, "minor_version": true, "compatible_brands": true, "language": true,
		"handler_name": true, "vendor_id": true, "encoder": true}
	tags := []map[string]string{p.Format.Tags}
	for _, s := range p.Streams {
		tags = append(tags, s.Tags)
	}
	for _, m := range tags {
		for k, v := range m {
			if !harmless[k] {
				t.Errorf("%s says %s = %q", filepath.Base(path), k, v)
			}
		}
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{"59.32", "Secret", "2031-02"} {
		if bytes.Contains(b, []byte(s)) {
			t.Errorf("%s holds %q", filepath.Base(path), s)
		}
	}
}

func TestTranscode(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it encodes videos")
	}
	var timesS []float64
	for i, s := 0, 0.0; i < 47; i++ {
		timesS = append(timesS, s)
		s += []float64{1 / 30.0, 1 / 30.0, 1 / 60.0, 1 / 15.0, 1 / 240.0}[i%5]
	}
	source := phoneClip(t, 162, 90, timesS)
	if told := probeAll(t, source); len(told.Streams) != 2 || told.Format.Tags["location"] == "" ||
		told.Format.Tags["model"] == "" {
		t.Fatalf("the source says too little for a test: %+v", told)
	}
	clip, err := Open(t.Context(), source)
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		name string
		side int
		w, h int
	}{
		{"whole", 0, 90, 162},
		{"smaller, odd", 81, 46, 82}, // 45 × 81, stretched by a pixel
	} {
		t.Run(tc.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "web.mp4")
			last := 0
			if err := Transcode(t.Context(), clip, path, TranscodeOptions{MaxSidePx: tc.side}, func(_ string, done, total int) {
				if done < last || total != len(timesS) {
					t.Errorf("%d of %d after %d", done, total, last)
				}
				last = done
			}); err != nil {
				t.Fatal(err)
			}
			if last != len(timesS) {
				t.Errorf("the last report is of frame %d", last)
			}
			saysNothing(t, path)
			got, _ := probe(t, path)
			if len(got) != len(clip.TimesS) {
				t.Fatalf("%d frames, the clip has %d", len(got), len(clip.TimesS))
			}
			for i := range got {
				if math.Abs(got[i]-clip.TimesS[i]) > 0.0002 {
					t.Errorf("frame %d at %.5f s, want %.5f s", i, got[i], clip.TimesS[i])
				}
			}
			p := probeAll(t, path)
			if len(p.Streams) != 1 {
				t.Fatalf("%d streams", len(p.Streams))
			}
			if s := p.Streams[0]; s.CodecName != "h264" || s.PixFmt != "yuv420p" || s.Width != tc.w || s.Height != tc.h ||
				len(s.SideData) != 0 {
				t.Errorf("%+v, want %d × %d upright", s, tc.w, tc.h)
			}
			since := 0
			for i, k := range p.Packets {
				since++
				if strings.Contains(k.Flags, "K") {
					since = 0
				}
				if since >= keyEvery || i == 0 && since != 0 {
					t.Errorf("frame %d comes %d after a key frame", i, since)
				}
			}
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if moov, mdat := bytes.Index(b, []byte("moov")), bytes.Index(b, []byte("mdat")); moov < 0 || moov > mdat {
				t.Errorf("moov at %d, mdat at %d", moov, mdat)
			}
		})
	}
}

func TestTranscodeBlursTheFace(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it encodes videos")
	}
	var timesS []float64
	for i := range 40 {
		timesS = append(timesS, float64(i)/30)
	}
	clip, err := Open(t.Context(), phoneClip(t, 240, 160, timesS)) // 160 × 240 upright
	if err != nil {
		t.Fatal(err)
	}
	var samples []paint.HeadSample
	ear := func(s float64) plane.XY { return plane.XY{X: 60 + 30*s, Y: 70} }
	for i, s := range timesS {
		at := ear(s)
		// The shoulder lies 40 pixels below the ear.
		h := paint.HeadSample{TimeS: s, Ears: []plane.XY{at}, Face: []plane.XY{at.Add(20, -2), at.Add(14, -6), at.Add(17, 9)},
			Shoulders: []plane.XY{at.Add(-2, 40)}, Hips: []plane.XY{at.Add(-4, 140)}}
		if i%7 == 3 {
			h = paint.HeadSample{TimeS: s} // not found for one frame
		}
		samples = append(samples, h)
	}
	dir := t.TempDir()
	for _, tc := range []struct {
		name  string
		heads *paint.Heads
	}{{"shown", nil}, {"hidden", paint.NewHeads(samples, clip.WidthPx, clip.HeightPx)}} {
		path := filepath.Join(dir, tc.name+".mp4")
		if err := Transcode(t.Context(), clip, path, TranscodeOptions{MaxSidePx: 180, Heads: tc.heads}, nil); err != nil {
			t.Fatal(err)
		}
		out, err := Open(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		frames, err := out.Frames(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		k := 180.0 / 240
		for range timesS {
			fr, err := frames.Next()
			if err != nil {
				t.Fatal(err)
			}
			c, err := fr.Canvas()
			if err != nil {
				t.Fatal(err)
			}
			at := ear(fr.TimeS)
			face, wall := grain.Roughness(c, paint.Disc{At: plane.XY{X: k * (at.X + 4), Y: k * at.Y}, RadiusPx: k * 20}),
				grain.Roughness(c, paint.Disc{At: plane.XY{X: k * 80, Y: k * 200}, RadiusPx: k * 30})
			if wall < 15 {
				t.Errorf("%s, frame %d: the rest of the picture has a roughness of %.1f", tc.name, fr.Index, wall)
			}
			if hidden := face < 4; hidden != (tc.heads != nil) {
				t.Errorf("%s, frame %d: the face has a roughness of %.1f", tc.name, fr.Index, face)
			}
			fr.Close()
		}
		_ = frames.Close()
	}
}

func TestTranscodeFailures(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it encodes videos")
	}
	source := phoneClip(t, 64, 48, []float64{0, 0.1, 0.2, 0.3})
	clip, err := Open(t.Context(), source)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "web.mp4")
	if err := os.WriteFile(path, []byte("earlier"), 0o644); err != nil {
		t.Fatal(err)
	}
	gone := *clip
	gone.Path = filepath.Join(dir, "gone.mp4")
	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	for _, tc := range []struct {
		name string
		ctx  context.Context
		clip *Clip
		path string
		want error
	}{
		{"stopped", stopped, clip, path, context.Canceled},
		{"no clip", t.Context(), &gone, path, ErrUnreadable},
		{"no folder", t.Context(), clip, filepath.Join(dir, "none", "web.mp4"), os.ErrNotExist},
	} {
		if err := Transcode(tc.ctx, tc.clip, tc.path, TranscodeOptions{}, nil); !errors.Is(err, tc.want) {
			t.Errorf("%s: %v", tc.name, err)
		}
	}
	if b, err := os.ReadFile(path); err != nil || string(b) != "earlier" {
		t.Errorf("the earlier file is %q, %v", b, err)
	}
	if names := leftovers(t, dir); len(names) != 1 {
		t.Errorf("the folder holds %v", names)
	}
}

// A frame without a picture can be given no heads to hide: none are.
func TestHideNothing(t *testing.T) {
	if err := (&Frame{}).Hide(nil); err != nil {
		t.Error(err)
	}
}
