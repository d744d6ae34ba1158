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
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"holdfast/confine"
	"holdfast/vision/paint"
)

// VideoWriter writes pictures to an H.264 MP4 file that a browser plays, each
// picture at its own presentation time. The pictures go to an ffmpeg process
// as Matroska raw video, because that carries a time with every picture where
// a bare pipe of pixels knows only a fixed rate. They go in the colours that the
// file has, which halves what goes through the pipe and spares ffmpeg its slowest step. One
// is on its way while the next is drawn.
type VideoWriter struct {
	ctx        context.Context
	path, temp string
	w, h       int
	yuv        [2]*paint.Planes // of the picture at hand, and of the one before that is on its way
	turn       int              // which of them comes next
	onWay      chan error       // nil: no picture is; else it says how it went
	cmd        *exec.Cmd
	in         io.WriteCloser
	said       *lastLines
	lastTick   int64
	pictures   int
	done       bool
	failed     error
}

// ticksPerSecond is the time base of the stream that is handed to ffmpeg and of
// the file it writes: 90 000 is the custom of video streams and holds 24, 25,
// 30 and 60 Hz exactly.
const ticksPerSecond = 90000

// NewVideoWriter starts a video of the given size in pixels (an odd size is
// padded by one, H.264 needs even ones). The file appears under its name only
// when Close succeeds; until then it has a temporary name in the same folder.
// Cancelling the context stops the encoder. The error wraps ErrNotInstalled
// when there is no ffmpeg.
func NewVideoWriter(ctx context.Context, path string, widthPx, heightPx int) (*VideoWriter, error) {
	return openVideo(ctx, path, widthPx, heightPx, videoForWatching)
}

// What an encoder is told besides, by what the video is for.
var (
	// A preset slower the files are half as large, and encoding takes twice as long. One quantiser for all spares the
	// encoder a look at each picture for how hard it is, a quarter of its time.
	videoForWatching = []string{"-preset", "ultrafast", "-qp", "22"}
	// Frames that refer to later ones would make a jump to a frame dearer.
	videoForScrubbing = []string{"-preset", "veryfast", "-crf", "21", "-g", strconv.Itoa(keyEvery), "-bf", "0"}
)

func openVideo(ctx context.Context, path string, widthPx, heightPx int, more []string) (*VideoWriter, error) {
	if widthPx <= 0 || heightPx <= 0 {
		return nil, fmt.Errorf("writing video %s: a picture of %d × %d pixels", path, widthPx, heightPx)
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".part-*")
	if err != nil {
		return nil, fmt.Errorf("writing video %s: %w", path, err)
	}
	if err := f.Close(); err != nil {
		return nil, errors.Join(fmt.Errorf("writing video %s: %w", path, err), os.Remove(f.Name()))
	}
	v, err := newVideoWriter(ctx, path, f.Name(), widthPx, heightPx, more...)
	if err != nil {
		return nil, errors.Join(err, removeFile(f.Name()))
	}
	return v, nil
}

// removeFile removes a file that may be gone already, and leaves alone what is
// no file.
func removeFile(path string) error {
	info, err := os.Lstat(path)
	if err == nil && info.Mode().IsRegular() {
		err = os.Remove(path)
	}
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	return err
}

// newVideoWriter is NewVideoWriter with the temporary name chosen.
func newVideoWriter(ctx context.Context, path, temp string, widthPx, heightPx int, more ...string) (*VideoWriter,
	error) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		return nil, fmt.Errorf("writing video %s: %w: ffmpeg", path, ErrNotInstalled)
	}
	v := &VideoWriter{ctx: ctx, path: path, temp: temp, w: widthPx, h: heightPx, said: &lastLines{}, lastTick: -1,
		yuv: [2]*paint.Planes{paint.NewPlanes(), paint.NewPlanes()}}
	args := []string{"-hide_banner", "-nostdin", "-loglevel", "error", "-xerror", "-y",
		"-f", "matroska", "-i", "pipe:0", "-map", "0:v:0",
		// The encoder must count in the file's time base: by default it counts in
		// a guessed frame rate and would round a variable-rate clip to it.
		"-fps_mode", "passthrough", "-enc_time_base", "1:" + strconv.Itoa(ticksPerSecond),
		// Players take an untagged video for BT.709 or BT.601 by its size, and so
		// show other colours than were drawn: it says which it is.
		"-color_range", "tv", "-colorspace", "smpte170m", "-color_primaries", "bt709", "-color_trc", "bt709",
		"-c:v", "libx264"}
	args = append(args, more...)
	args = append(args,
		// Nothing but the pictures: no note of the source could go along, and no version
		// of a program.
		"-map_metadata", "-1", "-fflags", "+bitexact", "-flags:v", "+bitexact",
		"-video_track_timescale", strconv.Itoa(ticksPerSecond),
		"-movflags", "+faststart", "-f", "mp4", fileArgument(v.temp))
	v.cmd = exec.CommandContext(ctx, ffmpeg, args...)
	v.cmd.Stderr = v.said
	v.cmd.WaitDelay = 5 * time.Second
	if v.in, err = v.cmd.StdinPipe(); err == nil {
		err = confine.Start(v.cmd, confine.Reach{Write: []string{v.temp}})
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("writing video %s: starting ffmpeg: %w", path, err),
			v.yuv[0].Close(), v.yuv[1].Close())
	}
	widen(v.in)
	if _, err := v.in.Write(matroskaHeader(even(widthPx), even(heightPx))); err != nil {
		return nil, v.fail("starting the video", err)
	}
	return v, nil
}

// Write adds a picture shown from timeS seconds on; it may be drawn on again at once. Times must rise from
// picture to picture and start at 0 or later. An error may be that of the picture before. After one the writer is of
// no more use; Close then reports the same error.
func (v *VideoWriter) Write(c *paint.Canvas, timeS float64) error {
	if v.failed != nil {
		return v.failed
	}
	if v.done {
		return fmt.Errorf("writing video %s: it is already closed", v.path)
	}
	if c.WidthPx() != v.w || c.HeightPx() != v.h {
		return fmt.Errorf("writing video %s: a picture of %d × %d pixels in a video of %d × %d", v.path, c.WidthPx(),
			c.HeightPx(), v.w, v.h)
	}
	tick := int64(math.Round(timeS * ticksPerSecond))
	if math.IsNaN(timeS) || math.IsInf(timeS, 0) || tick < 0 || tick <= v.lastTick {
		return fmt.Errorf("writing video %s: picture %d at %v s does not come after the one before", v.path, v.pictures,
			timeS)
	}
	pix, err := v.yuv[v.turn].Of(c)
	if err != nil {
		return v.fail(fmt.Sprintf("picture %d", v.pictures), err)
	}
	if err := v.arrived(); err != nil {
		return err
	}
	v.turn = 1 - v.turn
	onWay := make(chan error, 1)
	v.onWay = onWay
	go func() { onWay <- v.send(tick, pix) }()
	v.lastTick = tick
	v.pictures++
	return nil
}

// send hands a picture to the encoder, which takes it when it has done with those before.
func (v *VideoWriter) send(tick int64, pix []byte) error {
	if _, err := v.in.Write(matroskaBlockHeader(tick, len(pix))); err != nil {
		return err
	}
	_, err := v.in.Write(pix)
	return err
}

// arrived waits for the picture that is on its way, and gives the video up where the encoder did not take it.
func (v *VideoWriter) arrived() error {
	if err := v.wait(); err != nil {
		return v.fail(fmt.Sprintf("picture %d", v.pictures-1), err)
	}
	return nil
}

// wait waits for it and returns how it went; nil where none is on its way.
func (v *VideoWriter) wait() error {
	if v.onWay == nil {
		return nil
	}
	err := <-v.onWay
	v.onWay = nil
	return err
}

// Close finishes the video and gives it its name. The error carries ffmpeg's
// own last words; an earlier file of that name is then untouched. A second call
// does nothing.
func (v *VideoWriter) Close() error {
	if v.done {
		return v.failed
	}
	if v.pictures == 0 {
		return v.fail("finishing it", errors.New("it holds no picture"))
	}
	if err := v.arrived(); err != nil {
		return err
	}
	if err := v.in.Close(); err != nil {
		return v.fail("finishing it", err)
	}
	err := v.cmd.Wait()
	v.cmd = nil
	if err == nil && v.said.last() != "" {
		// ffmpeg 5.1 ends well even when the disk was full at the last moment;
		// at this log level it says nothing when all went well.
		err = errors.New("the encoder reported an error")
	}
	if err != nil {
		return v.fail("finishing it", err)
	}
	v.done = true
	v.free()
	// CreateTemp makes files for the owner only; a result is an ordinary file.
	err = os.Chmod(v.temp, 0o644)
	if err == nil {
		err = os.Rename(v.temp, v.path)
	}
	if err != nil {
		v.failed = errors.Join(fmt.Errorf("writing video %s: %w", v.path, err), removeFile(v.temp))
	}
	return v.failed
}

// Abort gives the video up and removes what was written. After Close it does
// nothing, so that it can be deferred.
func (v *VideoWriter) Abort() {
	if !v.done {
		_ = v.fail("giving it up", errors.New("stopped"))
	}
}

// fail ends the encoder, removes the unfinished file and returns the reason:
// the context's end, or else what ffmpeg said, which explains a broken pipe.
func (v *VideoWriter) fail(doing string, err error) error {
	v.done = true
	defer v.free()
	if v.cmd != nil {
		if !errors.Is(err, syscall.EPIPE) {
			// Killed, unless it is ending by itself and about to say why.
			_ = v.cmd.Process.Kill()
		}
		_ = v.in.Close()
		_ = v.wait() // it is of no more use
		_ = v.cmd.Wait()
		v.cmd = nil
	}
	if v.ctx.Err() != nil {
		err = v.ctx.Err()
	} else if said := v.said.last(); said != "" {
		err = fmt.Errorf("%w: %s", err, said)
	}
	v.failed = fmt.Errorf("writing video %s: %s: %w", v.path, doing, err)
	if rm := removeFile(v.temp); rm != nil {
		v.failed = errors.Join(v.failed, rm)
	}
	return v.failed
}

// free frees the native memory, once no picture is on its way.
func (v *VideoWriter) free() {
	for _, p := range v.yuv {
		_ = p.Close() // native memory always closes
	}
}

// lastLines keeps the end of what a process says.
type lastLines struct {
	mu  sync.Mutex
	buf []byte
}

// Write implements io.Writer.
func (l *lastLines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.buf = append(l.buf, p...)
	if keep := 4096; len(l.buf) > keep {
		l.buf = append([]byte(nil), l.buf[len(l.buf)-keep:]...)
	}
	return len(p), nil
}

// last returns the last lines, three at most, as one: the very last often says
// only that an earlier one was serious.
func (l *lastLines) last() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	lines := strings.FieldsFunc(string(bytes.ToValidUTF8(l.buf, []byte("?"))),
		func(r rune) bool { return r == '\n' || r == '\r' })
	var kept []string
	for _, line := range lines[max(0, len(lines)-3):] {
		if line = strings.Trim(line, " -"); line != "" {
			kept = append(kept, line)
		}
	}
	return strings.Join(kept, "; ")
}

// The element numbers of Matroska (RFC 9559) that raw video needs.
const (
	idEBML               = 0x1A45DFA3
	idDocType            = 0x4282
	idDocTypeVersion     = 0x4287
	idDocTypeReadVersion = 0x4285
	idSegment            = 0x18538067
	idInfo               = 0x1549A966
	idTimestampScale     = 0x2AD7B1
	idMuxingApp          = 0x4D80
	idWritingApp         = 0x5741
	idTracks             = 0x1654AE6B
	idTrackEntry         = 0xAE
	idTrackNumber        = 0xD7
	idTrackUID           = 0x73C5
	idTrackType          = 0x83
	idFlagLacing         = 0x9C
	idCodecID            = 0x86
	idVideo              = 0xE0
	idPixelWidth         = 0xB0
	idPixelHeight        = 0xBA
	idUncompressedFourCC = 0x2EB524
	idColour             = 0x55B0
	idMatrix             = 0x55B1
	idRange              = 0x55B9
	idTransfer           = 0x55BA
	idPrimaries          = 0x55BB
	idCluster            = 0x1F43B675
	idTimestamp          = 0xE7
	idSimpleBlock        = 0xA3
)

// matroskaScaleNs is the length of a Matroska tick in nanoseconds.
const matroskaScaleNs = 10000

// matroskaTicks turns ticks of the file into Matroska's, whose length must be a
// whole number of nanoseconds. The error, at most 5 µs, vanishes when ffmpeg
// rounds back to ticks of the file, which are 11.1 µs long.
func matroskaTicks(tick int64) uint64 {
	return uint64(math.Round(float64(tick) * 1e9 / ticksPerSecond / matroskaScaleNs))
}

func matroskaHeader(widthPx, heightPx int) []byte {
	ebml := element(idEBML, join(
		element(idDocType, []byte("matroska")),
		element(idDocTypeVersion, number(4)),
		element(idDocTypeReadVersion, number(2))))
	info := element(idInfo, join(
		element(idTimestampScale, number(matroskaScaleNs)),
		element(idMuxingApp, []byte("holdfast")),
		element(idWritingApp, []byte("holdfast"))))
	tracks := element(idTracks, element(idTrackEntry, join(
		element(idTrackNumber, number(1)),
		element(idTrackUID, number(1)),
		element(idTrackType, number(1)), // video
		element(idFlagLacing, number(0)),
		element(idCodecID, []byte("V_UNCOMPRESSED")),
		element(idVideo, join(
			element(idPixelWidth, number(uint64(widthPx))),
			element(idPixelHeight, number(uint64(heightPx))),
			element(idUncompressedFourCC, []byte("I420")),
			element(idColour, join( // the numbers are those of ITU-T H.273
				element(idMatrix, number(6)), element(idRange, number(1)), element(idTransfer, number(1)),
				element(idPrimaries, number(1)))))))))
	return join(ebml, idBytes(idSegment), unknownSize(), info, tracks)
}

// matroskaBlockHeader begins a cluster that holds one picture of size bytes.
func matroskaBlockHeader(tick int64, size int) []byte {
	stamp := element(idTimestamp, number(matroskaTicks(tick)))
	// Track 1, time 0 after the cluster's own, key picture.
	block := join(idBytes(idSimpleBlock), sizeBytes(uint64(size+4)), []byte{0x81, 0, 0, 0x80})
	return join(idBytes(idCluster), sizeBytes(uint64(len(stamp)+len(block)+size)), stamp, block)
}

// even returns the number of columns or rows of a video that holds so many: H.264 needs even ones.
func even(px int) int { return px + px%2 }

func element(id uint32, content []byte) []byte {
	return join(idBytes(id), sizeBytes(uint64(len(content))), content)
}

func join(parts ...[]byte) []byte { return bytes.Join(parts, nil) }

func idBytes(id uint32) []byte { return trimZeros(binary.BigEndian.AppendUint32(nil, id)) }

func number(v uint64) []byte { return trimZeros(binary.BigEndian.AppendUint64(nil, v)) }

func trimZeros(b []byte) []byte {
	for len(b) > 1 && b[0] == 0 {
		b = b[1:]
	}
	return b
}

// sizeBytes writes an element's size in its longest form, which is always
// allowed.
func sizeBytes(n uint64) []byte { return binary.BigEndian.AppendUint64(nil, n|1<<56) }

func unknownSize() []byte { return []byte{0x01, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF} }
