package media

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/internal/ffmpeg"
)

// boxOf builds a box of MP4 of parts.
func boxOf(kind string, content ...string) string {
	all := strings.Join(content, "")
	return string(binary.BigEndian.AppendUint32(nil, uint32(8+len(all)))) + kind + all
}

// movieBox is the least that describes a track of pictures or sound, whose data lies
// where the entry says.
func movieBox(handler, entry string) string {
	hdlr := boxOf("hdlr", "\x00\x00\x00\x00", "\x00\x00\x00\x00", handler, strings.Repeat("\x00", 13))
	dref := boxOf("dref", "\x00\x00\x00\x00", "\x00\x00\x00\x01", entry)
	return boxOf("moov", boxOf("trak", boxOf("mdia", hdlr, boxOf("minf", boxOf("dinf", dref)))))
}

const (
	inThisFile = "\x00\x00\x00\x0curl \x00\x00\x00\x01"
	nowhere    = "\x00\x00\x00\x0curl \x00\x00\x00\x00"
)

func TestCheckContainer(t *testing.T) {
	ftyp := boxOf("ftyp", "isom\x00\x00\x00\x00")
	moov := movieBox("vide", inThisFile)
	elsewhere := func(kind string) string {
		return boxOf(kind, "\x00\x00\x00\x00", "file:///home/other.mp4\x00")
	}
	large := func(kind, content string) string { // a size of 64 bits
		size := binary.BigEndian.AppendUint64(nil, uint64(16+len(content)))
		return "\x00\x00\x00\x01" + kind + string(size) + content
	}
	el := func(id uint32, content ...string) string {
		return string(element(id, []byte(strings.Join(content, ""))))
	}
	ebml := func(name string) string { return el(idEBML, el(idDocType, name)) }
	track := func(kind string) string {
		return el(idTracks, el(idTrackEntry, el(idTrackNumber, "\x01"), el(idTrackType, kind)))
	}
	endless := func(id uint32) string { return string(idBytes(id)) + string(unknownSize()) }
	chunk := func(kind string, content ...string) string {
		all := strings.Join(content, "")
		if len(all)%2 == 1 {
			all += "\x00"
		}
		return kind + string(binary.LittleEndian.AppendUint32(nil, uint32(len(all)))) + all
	}
	riff := func(stream string) string {
		return chunk("RIFF", "AVI ", chunk("LIST", "hdrl", chunk("avih", strings.Repeat("\x00", 56)),
			chunk("LIST", "strl", chunk("strh", stream, strings.Repeat("\x00", 52)))), chunk("LIST", "movi", "00dc"))
	}
	packets := func(before string, n, length int) string {
		var all strings.Builder
		for i := range n {
			head := "\x47\x41\x00\x10"
			if i == 1 {
				head = "\x47\x40\x00\x10" // the table of programmes
			}
			all.WriteString(before + head + strings.Repeat("\xFF", length-len(before)-len(head)))
		}
		return all.String()
	}
	pack2 := "\x00\x00\x01\xBA\x44\x00\x04\x00\x04\x01\x00\x00\x03\xF8"
	pack1 := "\x00\x00\x01\xBA\x21\x00\x01\x00\x01\x80\x00\x01"
	pes := func(id byte) string { return "\x00\x00\x01" + string([]byte{id}) + "\x00\x05hello" }
	tests := []struct {
		name, content string
		want          error
	}{
		{"mp4", ftyp + moov + boxOf("mdat", "pictures"), nil},
		{"mp4 with its description last", ftyp + boxOf("free") + boxOf("mdat", "pictures") + moov, nil},
		{"mp4 of 64-bit sizes", ftyp + large("mdat", "pictures") + large("moov", moov[8:]), nil},
		{"mov of old", boxOf("wide") + boxOf("mdat", "pictures") + moov, nil},
		{"mov with a list that ends in zeros", boxOf("moov", moov[8:], "\x00\x00\x00\x00"), nil},
		{"mov with a list that is longer than its place", boxOf("moov", moov[8:], "\x00\x00\x01\x00udta"), nil},
		{"mp4 in fragments", ftyp + moov + boxOf("moof", "x") + boxOf("mdat", "x") + boxOf("moof", "x") + boxOf("mdat", "x"),
			nil},
		{"mp4 that was cut off", ftyp + moov + boxOf("mdat", strings.Repeat("x", 1000))[:100], nil},
		{"mp4 to the end of the file", ftyp + moov + "\x00\x00\x00\x00mdatpictures", nil},
		{"mp4 with what a phone adds", ftyp + moov + boxOf("mdat", "x") + boxOf("uuid", "something") + "SEFT", nil},
		{"mp4 that names no other file", ftyp + movieBox("vide", nowhere), nil},
		{"mp4 without its description", ftyp + boxOf("mdat", "pictures"), ErrCutOff},
		{"mp4 whose description is cut off", ftyp + boxOf("mdat", "pictures") + moov[:len(moov)-9], ErrCutOff},
		{"mp4 whose pictures are cut off", ftyp + boxOf("mdat", "pictures")[:12], ErrCutOff},
		{"mp4 of sound", ftyp + movieBox("soun", inThisFile), ErrNoVideo},
		{"photograph", boxOf("ftyp", "heic\x00\x00\x00\x00") + boxOf("meta", "x"), ErrNoVideo},
		{"mp4 with a track elsewhere", ftyp + movieBox("vide", elsewhere("url ")), ErrUnreadable},
		{"mov with a track elsewhere", ftyp + movieBox("vide", elsewhere("alis")), ErrUnreadable},
		{"mov with two tracks, the second elsewhere", ftyp + boxOf("moov", moov[8:], movieBox("vide", elsewhere("alis"))[8:]),
			ErrUnreadable},
		{"mp4 with sound elsewhere", ftyp + boxOf("moov", moov[8:], movieBox("soun", elsewhere("urn "))[8:]), ErrUnreadable},
		{"mp4 with a second description", ftyp + moov + movieBox("vide", elsewhere("alis")), ErrUnreadable},
		{"mp4 with a track outside", ftyp + movieBox("vide", elsewhere("alis"))[8:] + moov, ErrUnreadable},
		{"mov that is a list", boxOf("moov", moov[8:], boxOf("rmra", "x")), ErrUnreadable},
		{"mov that hides its description", boxOf("moov", boxOf("cmov", "x")), ErrUnreadable},
		{"four letters", "<!--ftypisom--><MPD/>", ErrUnreadable},
		{"four letters and a length", "\x00\x00\x00\x20ftypisom\n#EXTM3U\nfile:///x\n", ErrUnreadable},
		{"boxes without end", strings.Repeat("\x00\x00\x00\x08free", 1<<19), ErrUnreadable},
		{"a box of nothing", ftyp + "\x00\x00\x00\x07moov", ErrUnreadable},
		{"a box larger than all", "\x00\x00\x00\x01moov\xFF\xFF\xFF\xFF\xFF\xFF\xFF\xFF", ErrUnreadable},
		{"matroska", ebml("matroska") + el(idSegment, el(idInfo, "x"), track("\x01")), nil},
		{"webm as it is recorded", ebml("webm") + el(idVoid, "x") + endless(idSegment) + el(idInfo) + track("\x02") +
			track("\x01"), ErrNoVideo},
		{"webm of no known length", ebml("webm") + endless(idSegment) + track("\x01") + endless(idCluster), nil},
		{"webm with a padded name", ebml("webm\x00\x00") + endless(idSegment) + track("\x01"), nil},
		{"webm whose pictures come first", ebml("webm") + endless(idSegment) + endless(idCluster), nil},
		{"matroska of sound", ebml("matroska") + el(idSegment, track("\x02")), ErrNoVideo},
		{"another document", ebml("subtitles") + el(idSegment, track("\x01")), ErrUnreadable},
		{"matroska without a segment", ebml("matroska") + el(idInfo, "x"), ErrUnreadable},
		{"matroska with an empty segment", ebml("matroska") + el(idSegment), ErrUnreadable},
		{"matroska's four letters", "\x1A\x45\xDF\xA3#EXTM3U", ErrUnreadable},
		{"avi", riff("vids"), nil},
		{"avi of a camcorder", riff("iavs"), nil},
		{"avi that was cut off", riff("vids")[:175], nil},
		{"avi of sound", riff("auds"), ErrNoVideo},
		{"avi without a header", chunk("RIFF", "AVI ", chunk("LIST", "movi", "x")), ErrUnreadable},
		{"avi with junk before its header", chunk("RIFF", "AVI ", chunk("JUNK", "odd"), riff("vids")[12:]), nil},
		{"avi's letters", "RIFF\x00\x00\x00\x00AVI #EXTM3U\nfile:///x", ErrUnreadable},
		{"sound", chunk("RIFF", "WAVE", chunk("fmt ", "x")), ErrNoVideo},
		{"transport stream", packets("", 10, 188), nil},
		{"transport stream of a camcorder", packets("\x00\x00\x00\x00", 10, 192), nil},
		{"transport stream of a broadcaster", packets("", 10, 204), nil},
		{"transport stream of three", packets("", 3, 188), ErrUnreadable},
		{"transport stream without a table", strings.Repeat("G"+strings.Repeat("x", 187), 40), ErrUnreadable},
		{"transport stream that loses its step at once", packets("", 2, 188) + "x" + packets("", 40, 188), ErrUnreadable},
		{"programme stream", pack2 + pes(0xBB) + pes(0xE0) + pack2 + pes(0xC0), nil},
		{"programme stream of MPEG-1", pack1 + pes(0xBB) + pes(0xE0) + pack1, nil},
		{"programme stream of sound", pack2 + pes(0xC0) + pack2 + pes(0xC0), ErrNoVideo},
		{"programme stream's letters", "\x00\x00\x01\xBA#EXTM3U\nfile:///x", ErrUnreadable},
		{"play list", "#EXTM3U\nfile:///x", ErrUnreadable},
		{"list", "ffconcat version 1.0\nfile x", ErrUnreadable},
		{"text", "hello", ErrUnreadable},
		{"nothing", "", ErrUnreadable},
		{"picture", "\x89PNG\r\n\x1a\n", ErrNoVideo},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			err := CheckContainer(strings.NewReader(tt.content), int64(len(tt.content)))
			if !errors.Is(err, tt.want) {
				t.Errorf("%v, want %v", err, tt.want)
			}
		})
	}
	for _, err := range []error{errNoContainer, errElsewhere} {
		if errors.Is(err, ErrCutOff) {
			t.Errorf("%v is told as cut off", err)
		}
	}
	broken := errors.New("broken")
	for _, start := range []string{ftyp + moov, ebml("matroska"), riff("vids"), pack2, packets("", 1, 188)} {
		r := io.NewSectionReader(readerAt(func(b []byte, at int64) (int, error) {
			n := copy(b, start[min(int64(len(start)), at):])
			if n < len(b) {
				return n, broken
			}
			return n, nil
		}), 0, 1<<20)
		if err := CheckContainer(r, 1<<20); err != nil && !errors.Is(err, broken) {
			t.Errorf("a file that cannot be read to its end: %v", err)
		}
	}
}

// A phone writes the description of the pictures last: a clip that did not come whole lacks it, and says how much of it
// came.
func TestCutOffClipSaysHowMuchArrived(t *testing.T) {
	ftyp, moov := boxOf("ftyp", "isom\x00\x00\x00\x00"), movieBox("vide", inThisFile)
	pictures := boxOf("mdat", strings.Repeat("x", 4_000_000))
	stopped := "\x00\x00\x00\x00mdat" + strings.Repeat("x", 2_000_000) // a recording that never ended
	for _, tt := range []struct{ content, want string }{
		{(ftyp + pictures + moov)[:1_260_000], "it is cut off: 1.3 of about 4.0 MB arrived"},
		{ftyp + pictures + moov[:len(moov)-1], "it is cut off: 4.0 of about 4.0 MB arrived"},
		{ftyp + pictures, "it is cut off after 4.0 MB: its end, which says where the pictures are, is missing"},
		{ftyp + stopped, "it is cut off after 2.0 MB: its end, which says where the pictures are, is missing"},
	} {
		err := CheckContainer(strings.NewReader(tt.content), int64(len(tt.content)))
		if want := "the clip cannot be read: " + tt.want; !errors.Is(err, ErrCutOff) || !errors.Is(err, ErrUnreadable) ||
			err.Error() != want {
			t.Errorf("%v, want %q", err, want)
		}
		path := filepath.Join(t.TempDir(), "cut.mp4")
		if err := os.WriteFile(path, []byte(tt.content), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err = Open(t.Context(), path)
		var clip *ClipError
		if !errors.As(err, &clip) || !strings.Contains(clip.Hint, "copy it from the phone again") ||
			!strings.Contains(err.Error(), tt.want) {
			t.Errorf("opened: %v", err)
		}
	}
}

type readerAt func([]byte, int64) (int, error)

func (f readerAt) ReadAt(b []byte, at int64) (int, error) { return f(b, at) }

// The shipped clips pass, and what ffmpeg writes in each container.
func TestWholeClipsPass(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes and reads clips of every kind")
	}
	shipped, err := filepath.Glob(filepath.Join("..", "..", "testdata", "clips", "*.mp4"))
	if err != nil || len(shipped) == 0 {
		t.Fatalf("no clips: %v", err)
	}
	dir := t.TempDir()
	base := filepath.Join(dir, "base.mp4")
	ffmpeg.Run(t, "-f", "lavfi", "-i", "testsrc2=size=64x48:rate=10:d=1", "-f", "lavfi", "-i", "sine=d=1", "-c:v",
		"libx264", "-pix_fmt", "yuv420p",
		"-c:a", "aac", "-g", "5", base)
	made := []string{base}
	for _, m := range []struct {
		name string
		args []string
	}{
		{"copy.mov", []string{"-c", "copy"}},
		{"copy.3gp", []string{"-c", "copy", "-f", "3gp"}},
		{"fast.mp4", []string{"-c", "copy", "-movflags", "+faststart"}},
		{"fragments.mp4", []string{"-c", "copy", "-movflags", "+frag_keyframe+empty_moov+default_base_moof"}},
		{"indexed.mp4", []string{"-c", "copy", "-movflags", "+frag_every_frame+dash+global_sidx"}},
		{"copy.mkv", []string{"-c", "copy"}},
		{"live.mkv", []string{"-c", "copy", "-live", "1"}},
		{"vp8.webm", []string{"-c:v", "libvpx", "-c:a", "libopus", "-b:v", "100k"}},
		{"mpeg4.avi", []string{"-c:v", "mpeg4", "-c:a", "mp3"}},
		{"motion.avi", []string{"-c:v", "mjpeg", "-pix_fmt", "yuvj420p", "-c:a", "pcm_s16le"}},
		{"copy.ts", []string{"-c", "copy"}},
		{"copy.m2ts", []string{"-c", "copy", "-mpegts_m2ts_mode", "1"}},
		{"mpeg2.mpg", []string{"-r", "25", "-c:v", "mpeg2video", "-c:a", "mp2", "-f", "vob"}},
		{"mpeg1.mpg", []string{"-r", "25", "-c:v", "mpeg1video", "-c:a", "mp2", "-f", "mpeg"}},
	} {
		path := filepath.Join(dir, m.name)
		ffmpeg.Run(t, append(append([]string{"-i", base}, m.args...), path)...)
		made = append(made, path)
	}
	for _, path := range append(shipped, made...) {
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := CheckContainer(bytes.NewReader(content), int64(len(content))); err != nil {
			t.Errorf("%s: %v", filepath.Base(path), err)
		}
	}
	// And they are decoded, confined as they are.
	for _, path := range made {
		if _, times, _, _, _ := decodeAll(t, path); len(times) < 9 {
			t.Errorf("%s: %d frames", filepath.Base(path), len(times))
		}
	}
}

func FuzzCheckContainer(f *testing.F) {
	f.Add([]byte(boxOf("ftyp", "isom\x00\x00\x00\x00") + movieBox("vide", inThisFile) + boxOf("mdat", "x")))
	f.Add([]byte(boxOf("moov", movieBox("soun", nowhere)[8:], "\x00\x00\x00\x00")))
	f.Add(join(element(idEBML, element(idDocType, []byte("webm"))), idBytes(idSegment), unknownSize(),
		element(idTracks, element(idTrackEntry, element(idTrackType, []byte{1})))))
	f.Add([]byte("RIFF\x40\x00\x00\x00AVI LIST\x30\x00\x00\x00hdrlavih\x04\x00\x00\x00...." +
		"LIST\x14\x00\x00\x00strlstrh\x04\x00\x00\x00vids"))
	f.Add(bytes.Repeat(append([]byte{0x47, 0x40, 0, 0x10}, make([]byte, 184)...), 6))
	f.Add([]byte("\x00\x00\x01\xBA\x44\x00\x04\x00\x04\x01\x00\x00\x03\xF8\x00\x00\x01\xE0" +
		"\x00\x01x\x00\x00\x01\xBE\x00\x00\x00\x00\x01\xB9"))
	f.Fuzz(func(t *testing.T, content []byte) {
		reads := 0
		r := readerAt(func(b []byte, at int64) (int, error) {
			if reads++; at < 0 || at > int64(len(content)) {
				t.Fatalf("it reads at %d of %d bytes", at, len(content))
			}
			return bytes.NewReader(content).ReadAt(b, at)
		})
		err := CheckContainer(r, int64(len(content)))
		if err != nil && !errors.Is(err, ErrUnreadable) && !errors.Is(err, ErrNoVideo) {
			t.Errorf("an error of another kind: %v", err)
		}
		if reads > 10*(len(content)+100) {
			t.Errorf("%d reads of %d bytes", reads, len(content))
		}
	})
}
