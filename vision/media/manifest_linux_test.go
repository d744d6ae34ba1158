package media

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"golang.org/x/sys/unix"

	"holdfast/confine"
	"holdfast/internal/ffmpeg"
)

// privatePicture is what the clip shows that nobody gave away.
const privatePicture = "color=c=magenta:s=64x48:r=10:d=1"

// watchOpens returns a function that tells whether a file was opened since.
func watchOpens(t *testing.T, path string) (opened func() bool) {
	t.Helper()
	fd, err := unix.InotifyInit1(unix.IN_NONBLOCK | unix.IN_CLOEXEC)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = unix.Close(fd) })
	if _, err := unix.InotifyAddWatch(fd, path, unix.IN_OPEN|unix.IN_ACCESS); err != nil {
		t.Fatal(err)
	}
	return func() bool {
		n, err := unix.Read(fd, make([]byte, 4096))
		return err == nil && n > 0
	}
}

// disguised is a DASH manifest with the letters of an MP4 box at offset 4.
func disguised(private string) string {
	return `<!--free--><MPD xmlns="urn:mpeg:dash:schema:mpd:2011" profiles="urn:mpeg:dash:profile:isoff-on-demand:2011"
 type="static" mediaPresentationDuration="PT1S" minBufferTime="PT1S"><Period>
<AdaptationSet mimeType="video/mp4" contentType="video">
<Representation id="1" bandwidth="1000" codecs="avc1.42c00a" width="64" height="48">
<BaseURL>file://` + private + `</BaseURL>
<SegmentList duration="1"><SegmentURL media="file://` + private + `"/></SegmentList></Representation>
</AdaptationSet></Period></MPD>
`
}

// withExternalTrack is a clip whose track refers to another file, as QuickTime may
// (QuickTime File Format, "Data reference atoms").
func withExternalTrack(t *testing.T, clip []byte, kind, private string) []byte {
	t.Helper()
	at := strings.Index(string(clip), "dref")
	if at < 0 || binary.BigEndian.Uint32(clip[at-4:]) != 28 {
		t.Fatal("no plain data reference")
	}
	entry := binary.BigEndian.AppendUint32(nil, uint32(12+len(private)+1))
	entry = append(append(append(entry, kind...), 0, 0, 0, 0), private...)
	entry = append(entry, 0)
	more := len(entry) - 12
	out := append([]byte(nil), clip[:at+12]...)
	out = append(append(out, entry...), clip[at+24:]...)
	for _, name := range []string{"moov", "trak", "mdia", "minf", "dinf", "dref"} { // they grow
		i := strings.Index(string(out), name) - 4
		binary.BigEndian.PutUint32(out[i:], binary.BigEndian.Uint32(out[i:])+uint32(more))
	}
	return out
}

// A file that is given as a clip never makes the decoder open another one, whatever it
// says. Each of these asks for the private clip beside it.
func TestNoOtherFileIsOpened(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it traces many programs")
	}
	dir := t.TempDir()
	private := filepath.Join(dir, "private.mp4")
	ffmpeg.Run(t, "-f", "lavfi", "-i", privatePicture, "-c:v", "libx264", "-pix_fmt", "yuv420p", private)
	streamed := filepath.Join(dir, "private.ts")
	ffmpeg.Run(t, "-i", private, "-c", "copy", streamed)
	own := filepath.Join(dir, "own.mov")
	ffmpeg.Run(t, "-f", "lavfi", "-i", "color=c=gray:s=64x48:r=10:d=1", "-c:v", "libx264", "-pix_fmt", "yuv420p", own)
	clip, err := os.ReadFile(own)
	if err != nil {
		t.Fatal(err)
	}
	gray := filepath.Join(dir, "gray.png")
	ffmpeg.Run(t, "-i", own, "-frames:v", "1", gray)
	picture, err := os.ReadFile(gray)
	if err != nil {
		t.Fatal(err)
	}
	numbered := filepath.Join(dir, "shot1.png")
	ffmpeg.Run(t, "-i", private, "-frames:v", "1", numbered)
	ffmpeg.Run(t, "-i", private, "-frames:v", "1", filepath.Join(dir, "shot2.png"))
	hls := "#EXTM3U\n#EXT-X-VERSION:3\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\n%s\n#EXT-X-ENDLIST\n"
	tests := []struct{ name, text, asked string }{
		{"dash.mp4", disguised(private), private},
		{"dash.mpd", strings.TrimPrefix(disguised(private), "<!--free-->"), private},
		{"hls.m3u8", fmt.Sprintf(hls, "private.ts"), streamed},
		{"hls.mp4", fmt.Sprintf(hls, "file://"+streamed), streamed},
		{"concat.mp4", "ffconcat version 1.0\nfile private.mp4\n", private},
		{"concat.txt", "ffconcat version 1.0\nfile 'file:" + private + "'\n", private},
		{"alias.mov", string(withExternalTrack(t, clip, "alis", private)), private},
		{"url.mov", string(withExternalTrack(t, clip, "url ", "file://"+private)), private},
		{"session.sdp", "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=-\nc=IN IP4 127.0.0.1\nt=0 0\n" +
			"m=video 5004 RTP/AVP 96\na=rtpmap:96 H264/90000\n", private},
		{"shot%d.png", string(picture), numbered},
		{"subtitles.idx", "# VobSub index file, v7\nid: en, index: 0\ntimestamp: 00:00:00:000, filepos: 000000000\n",
			private},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(dir, tt.name)
			if err := os.WriteFile(path, []byte(tt.text), 0o600); err != nil {
				t.Fatal(err)
			}
			opened := watchOpens(t, tt.asked)
			shown, err := showsMagenta(t.Context(), path)
			if shown {
				t.Error("it shows the pictures of another file")
			}
			if opened() {
				t.Error("another file was opened")
			}
			if err == nil {
				t.Error("it passes for a clip")
			} else if !errors.Is(err, ErrUnreadable) && !errors.Is(err, ErrNoVideo) {
				t.Errorf("it is refused with %v", err)
			}
		})
	}
}

// showsMagenta decodes a clip and looks for a magenta picture.
func showsMagenta(ctx context.Context, path string) (bool, error) {
	clip, err := Open(ctx, path)
	if err != nil {
		return false, err
	}
	frames, err := clip.Frames(ctx)
	if err != nil {
		return false, err
	}
	defer frames.Close()
	for {
		f, err := frames.Next()
		if errors.Is(err, io.EOF) {
			return false, nil
		}
		if err != nil {
			return false, err
		}
		mean := f.Mat.Mean()
		f.Close()
		if mean.Val1 > 200 && mean.Val2 < 60 && mean.Val3 > 200 {
			return true, nil
		}
	}
}

// Each of the walls holds by itself: ffmpeg refuses a list that it is handed in place of
// a checked clip, and where it would not, it cannot open what the list names.
func TestListsBehindTheCheck(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it has ffmpeg read forbidden lists")
	}
	if l := confine.Reached(); l.Files == 0 || !l.Calls {
		t.Fatalf("this kernel cannot confine a program: %+v", l)
	}
	dir := t.TempDir()
	private := filepath.Join(dir, "private.mp4")
	ffmpeg.Run(t, "-f", "lavfi", "-i", privatePicture, "-c:v", "libx264", "-pix_fmt", "yuv420p", private)
	lists := map[string]string{
		"dash":   disguised(private),
		"hls":    "#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nfile://" + private + "\n#EXT-X-ENDLIST\n",
		"concat": "ffconcat version 1.0\nfile 'file:" + private + "'\n",
	}
	for name, text := range lists {
		list := filepath.Join(dir, name)
		if err := os.WriteFile(list, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		for _, walls := range []string{"formats and files", "files"} {
			t.Run(name+" behind "+walls, func(t *testing.T) {
				r, err := readClip(t.Context(), "ffmpeg", private, []string{"-v", "error", "-nostdin"}, []string{"-f", "null", "-"})
				if err != nil {
					t.Fatal(err)
				}
				handed, err := os.Open(list)
				if err != nil {
					t.Fatal(err)
				}
				defer handed.Close()
				r.ExtraFiles = []*os.File{handed}
				if walls == "files" {
					at := slices.Index(r.Args, "-format_whitelist")
					r.Args = slices.Replace(r.Args, at, at+4, "-safe", "0")
					if name != "concat" {
						r.Args = slices.Delete(r.Args, at, at+2)
					}
				}
				var said strings.Builder
				r.Stderr = &said
				opened := watchOpens(t, private)
				if err := r.start(); err != nil {
					t.Fatal(err)
				}
				err = r.Wait()
				if opened() {
					t.Error("the other file was opened")
				}
				if walls == "files" { // which is what holds it back: left alone, it opens the file
					free := exec.CommandContext(t.Context(), r.Path, r.Args[1:]...)
					free.ExtraFiles = r.ExtraFiles
					if out, err := free.CombinedOutput(); !opened() {
						t.Errorf("even unconfined it does not open the other file, and the test shows nothing: %v %s", err, out)
					}
				}
				if walls != "files" && (err == nil || !strings.Contains(said.String(), "whitelist")) {
					t.Errorf("%v: it says %q, want that the format is none of those allowed", err, said.String())
				}
			})
		}
	}
}
