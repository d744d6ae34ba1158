package media

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"holdfast/internal/ffmpeg"
)

// decodeAll returns the sizes and times of every frame, and the first picture's
// bytes.
func decodeAll(t *testing.T, path string) (c *Clip, timesS []float64, first []byte, width, height int) {
	t.Helper()
	ctx := context.Background()
	c, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	frames, err := c.Frames(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer frames.Close()
	for {
		f, err := frames.Next()
		if errors.Is(err, io.EOF) {
			return c, timesS, first, width, height
		}
		if err != nil {
			t.Fatal(err)
		}
		if f.Index != len(timesS) {
			t.Errorf("frame %d has the index %d", len(timesS), f.Index)
		}
		if first == nil {
			first = f.Mat.ToBytes()
			width, height = f.Mat.Cols(), f.Mat.Rows()
		}
		timesS = append(timesS, f.TimeS)
		f.Close()
	}
}

// A red field marks the top left of the stored picture, a blue one the top right.
const markedPicture = "color=c=gray:s=96x64:r=30:d=0.4," +
	"drawbox=x=0:y=0:w=48:h=32:c=red:t=fill,drawbox=x=48:y=0:w=48:h=32:c=blue:t=fill"

// The display matrix of a track header: a b u c d v x y w, in 16.16 numbers but
// for u, v, w in 2.30; p' = a p + c q + x, q' = b p + d q + y (QuickTime File
// Format, "Matrices"; ISO/IEC 14496-12, track header box).
const one, minus = 0x00010000, 0xFFFF0000

// writeTurned copies an mp4 with another display matrix in its track header.
func writeTurned(t *testing.T, from, to string, matrix [9]uint32) {
	t.Helper()
	data, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	i := bytes.Index(data, []byte("tkhd"))
	if i < 0 || data[i+4] != 0 {
		t.Fatal("no track header of version 0")
	}
	for k, v := range matrix {
		binary.BigEndian.PutUint32(data[i+4+40+4*k:], v)
	}
	if err := os.WriteFile(to, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestClipStandsUpright(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it decodes clips turned each way")
	}
	dir := t.TempDir()
	base := filepath.Join(dir, "base.mp4")
	ffmpeg.Run(t, "-f", "lavfi", "-i", markedPicture, "-c:v", "libx264", "-pix_fmt", "yuv420p", "-g", "5", base)
	// Where red and blue lie once the picture is turned clockwise; positions are
	// parts of the width and height.
	tests := []struct {
		turnCW    int
		matrix    [9]uint32
		red, blue [2]float64
	}{
		{0, [9]uint32{one, 0, 0, 0, one, 0, 0, 0, 1 << 30}, [2]float64{.25, .25}, [2]float64{.75, .25}},
		{90, [9]uint32{0, one, 0, minus, 0, 0, 64 * one, 0, 1 << 30}, [2]float64{.75, .25}, [2]float64{.75, .75}},
		{180, [9]uint32{minus, 0, 0, 0, minus, 0, 96 * one, 64 * one, 1 << 30}, [2]float64{.75, .75}, [2]float64{.25, .75}},
		{270, [9]uint32{0, minus, 0, one, 0, 0, 0, 96 * one, 1 << 30}, [2]float64{.25, .75}, [2]float64{.25, .25}},
	}
	for _, tt := range tests {
		t.Run(strconv.Itoa(tt.turnCW), func(t *testing.T) {
			path := filepath.Join(dir, fmt.Sprintf("turned%d.mp4", tt.turnCW))
			writeTurned(t, base, path, tt.matrix)
			c, times, first, w, h := decodeAll(t, path)
			if c.RotationDeg != tt.turnCW {
				t.Errorf("rotation %d°, want %d°", c.RotationDeg, tt.turnCW)
			}
			wantW, wantH := 96, 64
			if tt.turnCW%180 == 90 {
				wantW, wantH = 64, 96
			}
			if w != wantW || h != wantH || c.WidthPx != wantW || c.HeightPx != wantH {
				t.Fatalf("size %dx%d, clip says %dx%d, want %dx%d", w, h, c.WidthPx, c.HeightPx, wantW, wantH)
			}
			if len(times) != 12 {
				t.Errorf("%d frames, want 12", len(times))
			}
			at := func(p [2]float64) []byte {
				i := (int(p[1]*float64(h))*w + int(p[0]*float64(w))) * 3
				return first[i : i+3]
			}
			if p := at(tt.red); p[2] < 200 || p[0] > 60 {
				t.Errorf("no red at %v: BGR %v", tt.red, p)
			}
			if p := at(tt.blue); p[0] < 200 || p[2] > 60 {
				t.Errorf("no blue at %v: BGR %v", tt.blue, p)
			}
			// The decoder's own picture, made by a second path: a PNG file.
			png := filepath.Join(dir, "first.png")
			ffmpeg.Run(t, "-i", path, "-frames:v", "1", png)
			raw, err := exec.Command("ffmpeg", "-v", "error", "-i", png, "-f", "rawvideo", "-pix_fmt", "bgr24", "-").Output()
			if err != nil {
				t.Fatal(err)
			}
			if d := meanAbsDifference(first, raw); d > 1 {
				t.Errorf("differs from ffmpeg's picture by %.2f of 255 on average", d)
			}
		})
	}
}

func meanAbsDifference(a, b []byte) float64 {
	if len(a) != len(b) {
		return math.Inf(1)
	}
	var sum float64
	for i := range a {
		sum += math.Abs(float64(a[i]) - float64(b[i]))
	}
	return sum / float64(len(a))
}

// The truth files of the variable-rate clips were written by the program that
// chose the frames' times.
func TestClipTimesOfVariableRate(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it decodes whole clips")
	}
	for _, name := range []string{"fast_vfr", "jump_vfr"} {
		t.Run(name, func(t *testing.T) {
			raw, err := os.ReadFile("../../testdata/clips/" + name + ".json")
			if err != nil {
				t.Fatal(err)
			}
			var truth struct {
				Frames []struct {
					T float64 `json:"t_container"`
				} `json:"frames"`
			}
			if err := json.Unmarshal(raw, &truth); err != nil {
				t.Fatal(err)
			}
			c, times, _, _, _ := decodeAll(t, "../../testdata/clips/"+name+".mp4")
			if !c.VariableRate {
				t.Error("not seen to be of variable rate")
			}
			if len(times) != len(truth.Frames) || len(c.TimesS) != len(times) {
				t.Fatalf("%d frames decoded, %d listed, %d true", len(times), len(c.TimesS), len(truth.Frames))
			}
			for i, f := range truth.Frames {
				want := f.T - truth.Frames[0].T
				if math.Abs(times[i]-want) > 1e-5 || math.Abs(c.TimesS[i]-want) > 1e-5 {
					t.Fatalf("frame %d at %.6f s, listed at %.6f s, truth %.6f s", i, times[i], c.TimesS[i], want)
				}
			}
		})
	}
}

func TestClipFormats(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it encodes clips in every format")
	}
	dir := t.TempDir()
	src := []string{"-f", "lavfi", "-i", "testsrc=s=128x96:r=30:d=1"}
	tests := []struct {
		name string
		args []string
	}{
		{"h264.mp4", []string{"-c:v", "libx264", "-bf", "3", "-pix_fmt", "yuv420p"}},
		{"h264.mov", []string{"-c:v", "libx264", "-bf", "3", "-pix_fmt", "yuv420p"}},
		{"hevc8.mp4", []string{"-c:v", "libx265", "-x265-params", "log-level=none", "-pix_fmt", "yuv420p", "-tag:v", "hvc1"}},
		{"hevc10.mov", []string{"-c:v", "libx265", "-x265-params", "log-level=none", "-pix_fmt", "yuv420p10le", "-tag:v",
			"hvc1"}},
		{"vp9.webm", []string{"-c:v", "libvpx-vp9", "-b:v", "200k", "-cpu-used", "8"}},
		{"vp8.webm", []string{"-c:v", "libvpx", "-b:v", "200k", "-cpu-used", "8"}},
		{"spaces and größe — ü.mp4", []string{"-c:v", "libx264", "-pix_fmt", "yuv420p"}},
		{"-starts:with dash.mp4", []string{"-c:v", "libx264", "-pix_fmt", "yuv420p"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(dir, tt.name)
			ffmpeg.Run(t, append(append(append([]string{}, src...), tt.args...), "file:"+path)...)
			c, times, _, w, h := decodeAll(t, path)
			if w != 128 || h != 96 || len(times) != 30 {
				t.Errorf("%d frames of %dx%d, want 30 of 128x96", len(times), w, h)
			}
			if c.VariableRate || math.Abs(c.FrameRateHz-30) > 1 || math.Abs(c.DurationS-1) > 0.002 {
				t.Errorf("rate %.2f Hz, variable %v, %.3f s; want 30 Hz, fixed, 1 s", c.FrameRateHz, c.VariableRate, c.DurationS)
			}
			for i := range times {
				if math.Abs(times[i]-float64(i)/30) > 0.0011 { // webm counts milliseconds
					t.Fatalf("frame %d at %.4f s", i, times[i])
				}
			}
		})
	}
}

// Decoding from a later time gives the same frames as decoding all of the clip.
func TestFramesFromALaterTime(t *testing.T) {
	if testing.Short() {
		t.Skip("not in short runs: decodes videos")
	}
	const from = 3.2
	clips := "../../testdata/clips/"
	made := func(name string, args ...string) string {
		path := filepath.Join(t.TempDir(), name)
		ffmpeg.Run(t, append(args, path)...)
		return path
	}
	tests := []struct{ name, path string }{
		{"steady", clips + "fast_30.mp4"},
		{"variable", clips + "fast_vfr.mp4"},
		{"matroska", made("clip.mkv", "-i", clips+"fast_30.mp4", "-c", "copy")},
		{"edit list", made("edited.mp4", "-ss", "0.7", "-i", clips+"fast_30.mp4", "-c", "copy")},
		{"sound before the picture", made("sound.mp4", "-f", "lavfi", "-i", "sine=d=9", "-itsoffset", "0.25", "-i",
			clips+"fast_30.mp4", "-map", "1:v", "-map", "0:a", "-c:v", "copy")},
		{"no index", made("clip.ts", "-i", clips+"fast_30.mp4", "-c", "copy")},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			clip, err := Open(t.Context(), tt.path)
			if err != nil {
				t.Fatal(err)
			}
			read := func(opt FrameOptions) (index []int, timesS []float64, at []byte) {
				opt.MaxSidePx = 160
				frames, err := clip.FramesWithOptions(t.Context(), opt)
				if err != nil {
					t.Fatal(err)
				}
				defer frames.Close()
				for {
					f, err := frames.Next()
					if errors.Is(err, io.EOF) {
						return index, timesS, at
					}
					if err != nil {
						t.Fatal(err)
					}
					if at == nil && f.TimeS >= from {
						at = f.Mat.ToBytes()
					}
					index, timesS = append(index, f.Index), append(timesS, f.TimeS)
					f.Close()
				}
			}
			_, all, want := read(FrameOptions{})
			index, timesS, got := read(FrameOptions{FromS: from})
			if !bytes.Equal(got, want) {
				t.Error("the picture at that time is another one")
			}
			if len(index) == 0 || timesS[0] > from {
				t.Fatalf("frames from %v on, want them from %v", timesS, from)
			}
			if clip.indexed && timesS[0] < from-1 {
				t.Errorf("frames from %v s on, want none long before %v", timesS[0], from)
			}
			for k, i := range index {
				if i >= len(all) || math.Abs(all[i]-timesS[k]) > 1e-9 {
					t.Fatalf("frame %d at %v s is none of the clip's", i, timesS[k])
				}
			}
			if index[len(index)-1] != len(all)-1 {
				t.Errorf("the last frame is %d, want %d", index[len(index)-1], len(all)-1)
			}
		})
	}
}

// An edit list hides what lies before its start; phones write one when a clip is
// trimmed, and encoders one for the delay of B-frames.
func TestClipEditList(t *testing.T) {
	dir := t.TempDir()
	whole, cut := filepath.Join(dir, "whole.mp4"), filepath.Join(dir, "cut.mp4")
	ffmpeg.Run(t, "-f", "lavfi", "-i", "testsrc=s=128x96:r=30:d=3", "-c:v", "libx264", "-bf", "3", "-g", "30", "-pix_fmt",
		"yuv420p", whole)
	ffmpeg.Run(t, "-ss", "1.4", "-i", whole, "-c", "copy", cut)
	c, times, first, _, _ := decodeAll(t, cut)
	// What a player shows, as the prober decodes it.
	out, err := exec.Command("ffprobe", "-v", "error", "-select_streams", "v:0", "-show_entries", "frame=pts_time", "-of",
		"csv=p=0", cut).Output()
	if err != nil {
		t.Fatal(err)
	}
	var want []float64
	for _, l := range strings.Fields(string(out)) {
		v, err := strconv.ParseFloat(strings.Trim(l, ","), 64)
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, v)
	}
	if len(times) != len(want) || len(c.TimesS) != len(want) {
		t.Fatalf("%d frames decoded, %d listed, want %d", len(times), len(c.TimesS), len(want))
	}
	for i := range want {
		if math.Abs(times[i]-(want[i]-want[0])) > 1e-4 {
			t.Fatalf("frame %d at %.4f s, want %.4f s", i, times[i], want[i]-want[0])
		}
	}
	raw, err := exec.Command("ffmpeg", "-v", "error", "-i", cut, "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "bgr24",
		"-").Output()
	if err != nil {
		t.Fatal(err)
	}
	if d := meanAbsDifference(first, raw); d > 1 {
		t.Errorf("the first picture is not the one a player shows (differs by %.1f)", d)
	}
}

func TestClipSquarePixels(t *testing.T) {
	path := filepath.Join(t.TempDir(), "wide.mp4")
	ffmpeg.Run(t, "-f", "lavfi", "-i", "testsrc=s=120x96:r=30:d=0.3", "-vf", "setsar=4/3", "-c:v", "libx264", "-pix_fmt",
		"yuv420p", path)
	c, _, _, w, h := decodeAll(t, path)
	if w != 160 || h != 96 || c.WidthPx != 160 {
		t.Errorf("size %dx%d, want 160x96", w, h)
	}
}

func TestClipCaptureRate(t *testing.T) {
	out := []byte(`{"packets":[{"pts":0,"flags":"K_"},{"pts":1000,"flags":"__"},{"pts":2000,"flags":"__"}],
		"streams":[{"codec_type":"video","codec_name":"h264","width":64,"height":48,"time_base":"1/30000"}],
		"format":{"format_name":"mov,mp4","tags":{"com.android.capture.fps":"240.000000"}}}`)
	c, err := parseProbe(out)
	if err != nil {
		t.Fatal(err)
	}
	if c.CaptureRateHz != 240 || math.Abs(c.FrameRateHz-30) > 1e-9 {
		t.Errorf("capture %.1f Hz at %.1f Hz, want 240 at 30", c.CaptureRateHz, c.FrameRateHz)
	}
}

func TestClipTurnedAway(t *testing.T) {
	dir := t.TempDir()
	file := func(name string, content []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, content, 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	whole, err := os.ReadFile("../../testdata/clips/fast_30.mp4")
	if err != nil {
		t.Fatal(err)
	}
	sound := filepath.Join(dir, "sound.m4a")
	ffmpeg.Run(t, "-f", "lavfi", "-i", "sine=d=1", "-c:a", "aac", sound)
	single := filepath.Join(dir, "one.mp4")
	ffmpeg.Run(t, "-f", "lavfi", "-i", "testsrc=s=128x96:r=30", "-frames:v", "1", "-c:v", "libx264", "-pix_fmt", "yuv420p",
		single)
	still := filepath.Join(dir, "still.png")
	ffmpeg.Run(t, "-f", "lavfi", "-i", "testsrc=s=128x96", "-frames:v", "1", still)
	photo := filepath.Join(dir, "still.jpg")
	ffmpeg.Run(t, "-f", "lavfi", "-i", "testsrc=s=128x96", "-frames:v", "1", photo)
	song := filepath.Join(dir, "song.mp3")
	ffmpeg.Run(t, "-f", "lavfi", "-i", "sine=d=1", "-i", still, "-map", "0", "-map", "1", "-c:a", "libmp3lame", "-c:v",
		"copy", "-disposition:v", "attached_pic", song)

	tests := []struct {
		name, path string
		want       error
	}{
		{"no file", filepath.Join(dir, "none.mp4"), ErrUnreadable},
		{"folder", dir, ErrUnreadable},
		{"empty", file("empty.mp4", nil), ErrUnreadable},
		{"garbage", file("garbage.mp4", bytes.Repeat([]byte("not a video "), 1000)), ErrUnreadable},
		{"text", file("notes.txt", []byte("three sets of five")), ErrUnreadable},
		{"cut before its index", file("cut.mp4", whole[:400]), ErrUnreadable},
		{"sound only", sound, ErrNoVideo},
		{"sound with cover", song, ErrNoVideo},
		{"one frame", single, ErrNoVideo},
		{"still picture", still, ErrNoVideo},
		{"photo", photo, ErrNoVideo},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c, err := Open(context.Background(), tt.path)
			if !errors.Is(err, tt.want) {
				t.Fatalf("got %+v, %v; want %v", c, err, tt.want)
			}
			var ce *ClipError
			if !errors.As(err, &ce) || strings.Contains(err.Error(), "\n") {
				t.Errorf("not a plain line about the clip: %q", err)
			}
		})
	}
}

// A file that breaks off keeps what came before the break.
func TestClipCutShort(t *testing.T) {
	whole, err := os.ReadFile("../../testdata/clips/fast_30.mp4")
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "short.mp4")
	if err := os.WriteFile(path, whole[:len(whole)/2], 0o644); err != nil {
		t.Fatal(err)
	}
	_, times, _, _, _ := decodeAll(t, path)
	if len(times) < 50 || len(times) > 280 {
		t.Errorf("%d frames of a clip of 289 cut in half", len(times))
	}
}

func TestClipStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	c, err := Open(ctx, "../../testdata/clips/slow.mp4")
	if err != nil {
		t.Fatal(err)
	}
	frames, err := c.Frames(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer frames.Close()
	f, err := frames.Next()
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	cancel()
	for range len(c.TimesS) {
		f, err = frames.Next()
		if err != nil {
			break
		}
		f.Close()
	}
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v after the stop", err)
	}
}

func FuzzParseProbe(f *testing.F) {
	f.Add([]byte(`{"packets":[{"pts":0,"flags":"K_"},{"pts":512,"flags":"_D"}],` +
		`"streams":[{"codec_type":"video","width":64,"height":48,"time_base":"1/15360",` +
		`"side_data_list":[{"rotation":-90}],"sample_aspect_ratio":"4:3"}],"format":{}}`))
	f.Add([]byte(`{}`))
	f.Add([]byte(`{"streams":[{"codec_type":"video","width":1,"height":1,"time_base":"1/0"}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := parseProbe(data)
		if err != nil {
			return
		}
		if c.WidthPx <= 0 || c.HeightPx <= 0 || len(c.TimesS) < 2 || !(c.FrameRateHz > 0) || c.RotationDeg < 0 ||
			c.RotationDeg >= 360 {
			t.Errorf("accepted %s as %+v", data, c)
		}
	})
}

// The frames that are asked for come, each with its own number, time and picture, and no other.
func TestOnlySomeFrames(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes and decodes videos")
	}
	path := filepath.Join(t.TempDir(), "varies.mp4")
	ffmpeg.Run(t, "-f", "lavfi", "-i", "testsrc2=size=160x120:rate=30:duration=2",
		"-vf", "setpts=PTS+0.02*not(mod(N\\,3))/TB",
		"-fps_mode", "passthrough", "-c:v", "libx264", "-pix_fmt", "yuv420p", path)
	clip, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	read := func(only []int) (frames []*Frame) {
		from, err := clip.FramesWithOptions(t.Context(), FrameOptions{Only: only})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { from.Close() })
		for {
			f, err := from.Next()
			if errors.Is(err, io.EOF) {
				return frames
			}
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(f.Close)
			frames = append(frames, f)
		}
	}
	all := read(nil)
	var uneven []int
	for i := 0; i < len(all); i += 1 + i%2 {
		uneven = append(uneven, i)
	}
	for _, only := range [][]int{{0, 2, 4, 6, 7, 8, 10, 12, 30, 59}, {0}, {0, 59}, uneven} {
		got := read(only)
		if len(got) != len(only) {
			t.Fatalf("%d frames, want %d", len(got), len(only))
		}
		for k, f := range got {
			want := all[only[k]]
			a, b := f.Mat.ToBytes(), want.Mat.ToBytes()
			if f.Index != only[k] || math.Abs(f.TimeS-want.TimeS) > 1e-9 || !bytes.Equal(a, b) {
				t.Errorf("frame %d has number %d, time %.4f for %.4f, same picture %v", only[k], f.Index, f.TimeS, want.TimeS,
					bytes.Equal(a, b))
			}
		}
	}
	for _, only := range [][]int{{3, 5}, nil} {
		if got := clip.picks(only); got != "" {
			t.Errorf("%v are picked by %s", only, got)
		}
	}
	clip.repeated = true
	if got := read([]int{0, 2}); len(got) != len(all) {
		t.Errorf("%d frames of a clip whose times repeat, want all %d", len(got), len(all))
	}
}
