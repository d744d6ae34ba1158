package media

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/internal/ffmpeg"
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

// Every picture that differs from that of the whole clip is called damaged. A bit
// turned over within an HEVC picture is not among the cases: ffmpeg's decoder says
// nothing of it unless the picture's last block is not reached.
func TestDamagedFramesAreMarked(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it encodes and decodes two dozen clips")
	}
	dir := t.TempDir()
	encoded := func(name string, args ...string) string {
		path := filepath.Join(dir, name)
		ffmpeg.Run(t, append(append([]string{"-i", "../../testdata/clips/fast_30.mp4", "-t", "4", "-s", "640x360"}, args...),
			path)...)
		return path
	}
	phone := encoded("phone.mp4", "-c:v", "libx264", "-g", "30", "-bf", "0", "-b:v", "1M")
	bframes := encoded("bframes.mp4", "-c:v", "libx264", "-g", "60", "-bf", "3", "-b:v", "1M")
	open := encoded("open.mp4", "-c:v", "libx264", "-x264-params",
		"keyint=30:min-keyint=30:open-gop=1:bframes=3:scenecut=0", "-b:v", "1M")
	hevc := encoded("hevc.mp4", "-c:v", "libx265", "-preset", "ultrafast", "-x265-params",
		"log-level=none:keyint=30:min-keyint=30:bframes=0:scenecut=0", "-b:v", "1M")
	bits := func(places ...float64) func(string) string {
		return func(whole string) string { return flipped(t, whole, places...) }
	}
	without := func(packets ...int) func(string) string {
		drop := "0"
		for _, n := range packets {
			drop += fmt.Sprintf("+eq(n\\,%d)", n)
		}
		return func(whole string) string {
			path := filepath.Join(t.TempDir(), "clip.mp4")
			ffmpeg.Run(t, "-i", whole, "-c", "copy", "-bsf:v", "noise=amount=0:drop="+drop, path)
			return path
		}
	}
	tests := []struct {
		name, whole string
		damage      func(whole string) string
		most        int // frames that may be called damaged
	}{
		{"shipped clip", "../../testdata/clips/fast_30.mp4", bits(0.45), 85},
		{"a frame that no other refers to", "../../testdata/clips/fast_30.mp4", bits(0.93), 1},
		{"no B-frames, near the start", phone, bits(0.1), 30},
		{"no B-frames, middle", phone, bits(0.52), 30},
		{"no B-frames, twice", phone, bits(0.3, 0.8), 60},
		{"B-frames", bframes, bits(0.15), 62},
		{"open groups", open, bits(0.4), 36},
		{"open groups, late", open, bits(0.66), 36},
		{"a packet lost", phone, without(40), 20},
		{"a packet lost, B-frames", bframes, without(30), 58},
		{"a packet lost, HEVC", hevc, without(31), 34},
		{"packets lost, HEVC", hevc, without(61, 62, 63), 34},
	}
	wholes := map[string]*marked{}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			whole := wholes[tt.whole]
			if whole == nil {
				_, whole = decodeMarked(t, tt.whole)
				wholes[tt.whole] = whole
			}
			if n := whole.count(); n > 0 {
				t.Fatalf("%d frames of the whole clip are called damaged", n)
			}
			_, got := decodeMarked(t, tt.damage(tt.whole))
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

// What whole clips make the decoder say is no damage.
func TestWholeClipsAreNotDamaged(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it encodes and decodes a dozen clips")
	}
	dir := t.TempDir()
	const fast, slow = "../../testdata/clips/fast_30.mp4", "../../testdata/clips/slow_30.mp4"
	made := func(name string, args ...string) string {
		path := filepath.Join(dir, name)
		ffmpeg.Run(t, append(append([]string{}, args...), path)...)
		return path
	}
	open := made("open.mp4", "-i", fast, "-t", "4", "-s", "640x360", "-c:v", "libx264",
		"-x264-params", "keyint=30:min-keyint=30:open-gop=1:bframes=3:scenecut=0")
	hevc := made("hevc.mp4", "-i", fast, "-t", "4", "-s", "640x360", "-c:v", "libx265", "-preset", "ultrafast",
		"-x265-params", "log-level=none:keyint=30:open-gop=1:bframes=3")
	tests := []struct{ name, path string }{
		{"shipped", fast},
		{"shipped, variable rate", "../../testdata/clips/jump_vfr.mp4"},
		{"Matroska", made("whole.mkv", "-t", "5", "-i", slow, "-c", "copy")},
		{"transport stream", made("whole.ts", "-t", "5", "-i", slow, "-c", "copy")},
		{"trimmed by an edit list", made("trimmed.mp4", "-ss", "5.3", "-t", "5", "-i", slow, "-c", "copy")},
		{"open groups", open},
		{"HEVC, open groups", hevc},
		{"HEVC in ten bits", made("hevc10.mov", "-i", fast, "-t", "2", "-s", "640x360", "-c:v", "libx265", "-preset",
			"ultrafast", "-pix_fmt", "yuv420p10le",
			"-x265-params", "log-level=none")},
		{"VP9", made("whole.webm", "-i", fast, "-t", "1", "-s", "320x180", "-c:v", "libvpx-vp9", "-cpu-used", "8")},
		{"MPEG-4 part 2", made("whole.mov", "-i", fast, "-t", "2", "-s", "640x360", "-c:v", "mpeg4", "-bf", "2")},
		{"intra refresh", made("refresh.mp4", "-i", fast, "-t", "4", "-s", "640x360", "-c:v", "libx264", "-x264-params",
			"keyint=30:intra-refresh=1")},
		{"with sound", made("sound.mp4", "-f", "lavfi", "-i", "sine=d=12", "-i", fast, "-c:v", "copy", "-c:a", "aac")},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c, m := decodeMarked(t, tt.path)
			if m.count() > 0 {
				t.Errorf("%d of %d frames are called damaged", m.count(), len(m.pictures))
			}
			if c.ListedS != 0 {
				t.Errorf("it is said to end at %.2f s of %.2f s", c.DurationS, c.ListedS)
			}
		})
	}
}

// A clip that was cut out of a longer one begins with pictures whose references are
// gone: what they cannot show is damage, and no later picture is.
func TestDamageAtAnOpenStart(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it encodes a clip")
	}
	dir := t.TempDir()
	open, cut := filepath.Join(dir, "open.mp4"), filepath.Join(dir, "cut.ts")
	ffmpeg.Run(t, "-i", "../../testdata/clips/fast_30.mp4", "-t", "4", "-s", "640x360", "-c:v", "libx264",
		"-x264-params", "keyint=30:min-keyint=30:open-gop=1:bframes=3:scenecut=0", open)
	ffmpeg.Run(t, "-ss", "1.9", "-i", open, "-c", "copy",
		"-bsf:v", "h264_mp4toannexb,dump_extra=freq=keyframe", cut)
	_, m := decodeMarked(t, cut)
	for ms := range m.damaged {
		if ms > 150 {
			t.Errorf("the frame at %d ms is called damaged", ms)
		}
	}
}

// A file that breaks off says how long it should have been.
func TestClipEndsBeforeItsIndex(t *testing.T) {
	dir := t.TempDir()
	mkv := filepath.Join(dir, "whole.mkv")
	ffmpeg.Run(t, "-i", "../../testdata/clips/slow_30.mp4", "-c", "copy", mkv)
	for _, whole := range []string{"../../testdata/clips/slow_30.mp4", mkv} {
		data, err := os.ReadFile(whole)
		if err != nil {
			t.Fatal(err)
		}
		c, err := Open(context.Background(), written(t, filepath.Ext(whole), data[:len(data)/2]))
		if err != nil {
			t.Fatal(err)
		}
		if !(c.ListedS > 17.8 && c.ListedS < 18) || !(c.DurationS > 5 && c.DurationS < 12) {
			t.Errorf("%s cut in half: ends at %.2f s of %.2f s, want about 8 of 17.9 s", filepath.Ext(whole), c.DurationS,
				c.ListedS)
		}
	}
}

// The lines are those that ffmpeg 5.1 prints.
func TestDamageWatch(t *testing.T) {
	packet := func(pts string) string {
		return "[info] demuxer+ffmpeg -> ist_index:0 type:video pkt_pts:" + pts + " pkt_pts_time:0"
	}
	const (
		coded  = "[h264 @ 0x1] [debug] nal_unit_type: 1(Coded slice of a non-IDR picture), nal_ref_idc: 2"
		lone   = "[h264 @ 0x1] [debug] nal_unit_type: 1(Coded slice of a non-IDR picture), nal_ref_idc: 0"
		broken = "[h264 @ 0x1] [error] error while decoding MB 3 4, bytestream -5"
		gap    = "[h264 @ 0x1] [debug] Frame num gap 5 3"
		mild   = "[h264 @ 0x1] [error] mmco: unref short failure"
		pixels = "[swscaler @ 0x1] [warning] deprecated pixel format used, make sure you did set range correctly"
		dts    = "[null @ 0x1] [error] Application provided invalid, " +
			"non monotonically increasing dts to muxer in stream 0: 3 >= 3"
		lost  = "[warning] clip.ts: corrupt input packet in stream 0"
		shown = "[warning] clip.mp4: corrupt decoded frame in stream 0"
	)
	type event struct {
		line    string
		pts     int64 // of a picture announced, where line is empty
		key     bool
		damaged bool
	}
	line := func(l string) event { return event{line: l} }
	show := func(pts int64, damaged bool) event { return event{pts: pts, damaged: damaged} }
	key := func(pts int64, damaged bool) event { return event{pts: pts, key: true, damaged: damaged} }
	tests := []struct {
		name   string
		events []event
	}{
		{"until the next key picture", []event{
			line(packet("0")), key(0, false), line(packet("1")), line(coded), line(broken), show(1, true),
			line(packet("2")), line(coded), show(2, true), line(packet("3")), key(3, false), line(packet("4")), show(4, false)}},
		{"pictures shown before it but decoded after it", []event{
			line(packet("0")), key(0, false), line(packet("3")), line(coded), line(broken), line(packet("1")), line(lone),
			show(1, true),
			line(packet("2")), line(lone), show(2, true), show(3, true)}},
		{"a picture that is not referred to", []event{
			line(packet("0")), key(0, false), line(packet("2")), line(coded), line(packet("1")), line(lone), line(broken),
			show(1, true), show(2, false)}},
		{"a reference lost before such a picture", []event{
			line(packet("0")), key(0, false), line(packet("1")), line(lone), line(gap), show(1, true), line(packet("2")),
			show(2, true)}},
		{"pictures stored behind the key picture they precede", []event{
			line(packet("5")), line(packet("3")), line(coded), line(broken), show(3, true), key(5, false), line(packet("6")),
			show(6, false)}},
		{"a key picture itself", []event{line(packet("0")), line(broken), key(0, true), line(packet("1")), show(1, true),
			line(packet("2")), key(2, false)}},
		{"said before the packet, and of the picture", []event{
			line(packet("0")), key(0, false), line(lost), line(packet("1")), show(1, true), line(packet("2")), key(2, false),
			line(packet("3")), line(shown), show(3, true), line(packet("4")), show(4, true)}},
		{"harmless", []event{
			line(broken), line(packet("0")), line(mild), line(pixels), line(dts), key(0, false), line(packet("1")),
			show(1, false)}},
		{"no times", []event{
			line(packet("NOPTS")), key(0, false), line(packet("NOPTS")), line(broken), show(1, true), show(2, true)}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := newDamageWatch("h264")
			for i, e := range tt.events {
				if e.line != "" {
					w.line(e.line)
				} else if got := w.picture(e.pts, e.key); got != e.damaged {
					t.Errorf("event %d, the picture at %d: damaged %v, want %v", i, e.pts, got, e.damaged)
				}
			}
		})
	}
}

func TestImplausibleTimes(t *testing.T) {
	probe := func(pts ...int64) []byte {
		s := `{"packets":[`
		for i, p := range pts {
			if i > 0 {
				s += ","
			}
			s += fmt.Sprintf(`{"pts":%d,"duration":33,"flags":"K_"}`, p)
		}
		return []byte(s + `],"streams":[{"codec_type":"video","width":64,"height":48,"time_base":"1/1000"}],"format":{}}`)
	}
	tests := []struct {
		name string
		pts  []int64
		says string // "" for accepted
	}{
		{"regular", []int64{0, 33, 67, 100}, ""},
		{"pictures left out", []int64{0, 33, 5000, 5033}, ""},
		{"repeat", []int64{0, 33, 33, 33, 67}, "the time of another"},
		{"jump by hours", []int64{0, 33, 7_200_000, 7_200_033}, "jump by 120 minutes"},
	}
	for _, tt := range tests {
		_, err := parseProbe(probe(tt.pts...))
		if tt.says == "" && err != nil || tt.says != "" &&
			(!errors.Is(err, ErrUnreadable) || !strings.Contains(err.Error(), tt.says)) {
			t.Errorf("%s: error %v, want one that says %q", tt.name, err, tt.says)
		}
	}
}

// FuzzAnnouncements: whatever the decoder prints, its lines are read to their end, no
// picture is announced but by a line of its own, and watching for damage changes no time.
func FuzzAnnouncements(f *testing.F) {
	const base = "[Parsed_showinfo_1 @ 0x1] [info] config in time_base: 1/15360, frame_rate: 30/1\n"
	shown := func(n, pts int, key string) string {
		return fmt.Sprintf("[Parsed_showinfo_1 @ 0x1] [info] n:%4d pts:%7d pts_time:0 fmt:bgr24 sar:1/1 s:64x48 i:P %s\n", n,
			pts, key)
	}
	packet := func(pts string) string {
		return "[info] demuxer+ffmpeg -> ist_index:0 type:video pkt_pts:" + pts + " pkt_pts_time:0\n"
	}
	for _, lines := range []string{
		base + packet("0") + shown(0, 0, "iskey:1 type:I") + packet("512") +
			"[h264 @ 0x1] [error] error while decoding MB 3 4, bytestream -5\n" + shown(1, 512, "iskey:0 type:P"),
		packet("NOPTS") + "[warning] clip.mp4: corrupt decoded frame in stream 0\n" + shown(0, 0, "iskey:0 type:B") + base,
		"[Parsed_showinfo_1 @ 0x1] [info] config in time_base: 0/0\n" + shown(0, -1, "iskey:1 type:I"),
		packet("9223372036854775807") + "[hevc @ 0x1] [debug] nal_unit_type: 19(IDR_W_RADL), nuh_layer_id: 0\n" +
			packet("-1"),
		"\r\n\x00[h264 @ 0x1] [debug] nal_unit_type: 1(x), nal_ref_idc: 0",
	} {
		for codec := range 3 {
			f.Add(uint8(codec), []byte(lines))
		}
	}
	f.Fuzz(func(t *testing.T, codec uint8, said []byte) {
		read := func(watch *damageWatch) (timesS []float64) {
			frames := &Frames{announced: make(chan announcement), stderrDone: make(chan struct{})}
			go frames.readAnnouncements(t.Context(), bytes.NewReader(said), watch)
			for a := range frames.announced {
				timesS = append(timesS, a.timeS)
			}
			<-frames.stderrDone
			if strings.Contains(frames.complaint, "\n") {
				t.Errorf("the complaint %q is more than a line", frames.complaint)
			}
			return timesS
		}
		plain, watched := read(nil), read(newDamageWatch([]string{"h264", "hevc", "av1"}[codec%3]))
		if lines := bytes.Count(said, []byte("\n")) + 1; len(plain) > lines {
			t.Errorf("%d pictures in %d lines", len(plain), lines)
		}
		if !slices.EqualFunc(plain, watched, func(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) }) {
			t.Errorf("pictures at %v, and at %v when damage is watched for", plain, watched)
		}
	})
}
