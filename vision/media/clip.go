package media

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"gocv.io/x/gocv"

	"holdfast/words"
)

// Clip is an opened video file: what its container says, before any frame is
// decoded.
type Clip struct {
	Path string
	// WidthPx and HeightPx are the size of the upright picture with square
	// pixels.
	WidthPx, HeightPx int
	// RotationDeg is how far the stored picture is turned clockwise to stand
	// upright: 0, 90, 180 or 270.
	RotationDeg int
	// TurnedDeg is the part of RotationDeg that the file does not ask for, see Turn.
	TurnedDeg int
	// TimesS are the presentation times the container lists, in seconds from
	// the first. A damaged file may hold fewer frames than it lists: the frames
	// themselves carry the times that count.
	TimesS    []float64
	DurationS float64
	// ListedS is how long the container says that the picture lasts where the file
	// ends before that, else 0.
	ListedS float64
	// FrameRateHz is the inverse of the median time between frames.
	FrameRateHz float64
	// VariableRate says that the time between frames varies by more than a
	// fifth of its median.
	VariableRate bool
	// CaptureRateHz is the rate the camera filmed at where the file states one
	// (slow-motion recordings do), else 0.
	CaptureRateHz float64
	Codec         string
	// firstS is the first frame's time as the file counts; indexed says that its container finds any
	// time at once.
	firstS  float64
	indexed bool
	// repeated says that some pictures bear the time of another.
	repeated bool
}

// captureRateTags are the metadata keys in which phones store the rate a
// slow-motion clip was filmed at.
var captureRateTags = []string{"com.android.capture.fps"}

// Open reads what the container of a clip says of its pictures.
//
// It returns a *ClipError that wraps ErrUnreadable for a path that is no
// readable video file, ErrNoVideo for sound or a still picture, and
// ErrNotInstalled when ffprobe is missing.
func Open(ctx context.Context, path string) (*Clip, error) {
	if err := CheckFile(path); err != nil {
		return nil, err
	}
	out, err := ffprobe(ctx, path, "-show_streams", "-show_format", "-show_packets", "-select_streams", "v:0",
		"-show_entries", "packet=pts,duration,flags:stream:format")
	if err != nil {
		return nil, &ClipError{Path: path, Doing: words.Say("error.doing_header", nil), Err: err, Hint: hintFor(err)}
	}
	clip, err := parseProbe(out)
	if err != nil {
		return nil, &ClipError{Path: path, Doing: words.Say("error.doing_header", nil), Err: err, Hint: hintFor(err)}
	}
	clip.Path = path
	return clip, nil
}

// CheckFile refuses a path that can be no clip, with the errors of Open, before any of it is read.
func CheckFile(path string) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return &ClipError{Path: path, Err: words.Because(ErrUnreadable, "no_such_file", nil),
			Hint: words.Say("error.hint_check_name", nil)}
	case err != nil:
		return &ClipError{Path: path, Err: fmt.Errorf("%w: %w", ErrUnreadable, err)}
	case info.IsDir():
		return &ClipError{Path: path, Err: words.Because(ErrUnreadable, "folder", nil),
			Hint: words.Say("error.hint_name_video", nil)}
	case !info.Mode().IsRegular():
		return &ClipError{Path: path, Err: words.Because(ErrUnreadable, "not_regular", nil)}
	case info.Size() == 0:
		return &ClipError{Path: path, Err: words.Because(ErrUnreadable, "empty", nil),
			Hint: words.Say("error.hint_copy_again", nil)}
	}
	return nil
}

func hintFor(err error) string {
	switch {
	case errors.Is(err, ErrNotInstalled):
		return words.Say("error.hint_install", nil)
	case errors.Is(err, ErrNoVideo):
		return words.Say("error.hint_film_clip", nil)
	case errors.Is(err, ErrCutOff):
		return words.Say("error.hint_cut_off", nil)
	case errors.Is(err, ErrUnreadable):
		return words.Say("error.hint_copy_or_other", nil)
	}
	return ""
}

// ffprobe runs the prober with JSON output on one file.
func ffprobe(ctx context.Context, path string, args ...string) ([]byte, error) {
	prober, err := readClip(ctx, "ffprobe", path, append([]string{"-v", "error", "-of", "json"}, args...), nil)
	if err != nil {
		return nil, err
	}
	var stdout, stderr bytes.Buffer
	prober.Stdout, prober.Stderr = &stdout, &stderr
	if err = prober.start(); err == nil {
		err = prober.Wait()
	}
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case errors.Is(err, exec.ErrNotFound):
		return nil, fmt.Errorf("%w: ffprobe", ErrNotInstalled)
	case err != nil:
		return nil, fmt.Errorf("%w: %s", ErrUnreadable, lastLine(stderr.String(), path))
	}
	return stdout.Bytes(), nil
}

type probeStream struct {
	CodecType         string            `json:"codec_type"`
	CodecName         string            `json:"codec_name"`
	DurationS         string            `json:"duration"`
	Frames            string            `json:"nb_frames"`
	Width             int               `json:"width"`
	Height            int               `json:"height"`
	TimeBase          string            `json:"time_base"`
	SampleAspectRatio string            `json:"sample_aspect_ratio"`
	Tags              map[string]string `json:"tags"`
	Disposition       map[string]int    `json:"disposition"`
	SideDataList      []struct {
		Rotation *float64 `json:"rotation"`
	} `json:"side_data_list"`
}

type probeOutput struct {
	Packets []struct {
		PTS      *int64 `json:"pts"`
		Duration int64  `json:"duration"`
		Flags    string `json:"flags"`
	} `json:"packets"`
	Streams []probeStream `json:"streams"`
	Format  struct {
		FormatName string            `json:"format_name"`
		DurationS  string            `json:"duration"`
		Streams    int               `json:"nb_streams"`
		Tags       map[string]string `json:"tags"`
	} `json:"format"`
}

// parseProbe turns the prober's JSON into a Clip without a path.
func parseProbe(out []byte) (*Clip, error) {
	var p probeOutput
	if err := json.Unmarshal(out, &p); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrUnreadable, err)
	}
	if len(p.Streams) == 0 || p.Streams[0].CodecType != "video" {
		return nil, words.Because(ErrNoVideo, "no_picture", nil)
	}
	s := &p.Streams[0]
	if s.Disposition["attached_pic"] == 1 {
		return nil, words.Because(ErrNoVideo, "cover", nil)
	}
	if s.Width <= 0 || s.Height <= 0 || s.Width > 1<<14 || s.Height > 1<<14 {
		return nil, words.Because(ErrUnreadable, "size", words.Params{"width": s.Width, "height": s.Height})
	}
	c := &Clip{Codec: s.CodecName, indexed: strings.Contains(p.Format.FormatName, "mp4") ||
		strings.Contains(p.Format.FormatName, "matroska")}
	if err := p.setTimes(c); err != nil {
		return nil, err
	}
	c.WidthPx, c.HeightPx, c.RotationDeg = s.uprightPicture()
	for _, tags := range []map[string]string{s.Tags, p.Format.Tags} {
		for _, key := range captureRateTags {
			if f, err := strconv.ParseFloat(strings.TrimSpace(tags[key]), 64); err == nil && f >= 1 && f <= 10000 {
				c.CaptureRateHz = f
			}
		}
	}
	return c, nil
}

// setTimes gives a clip the times of its frames, in seconds from the first, and what follows from them.
func (p *probeOutput) setTimes(c *Clip) error {
	num, den, ok := parseRatio(p.Streams[0].TimeBase, "/")
	if !ok || num <= 0 || den <= 0 {
		return words.Because(ErrUnreadable, "time_base", words.Params{"base": p.Streams[0].TimeBase})
	}
	var pts []int64
	end := int64(math.MinInt64)
	for _, k := range p.Packets {
		// A packet marked D lies before the start that the edit list sets.
		if k.PTS != nil && !strings.Contains(k.Flags, "D") {
			pts = append(pts, *k.PTS)
			end = max(end, *k.PTS+k.Duration)
		}
	}
	slices.Sort(pts)
	all := len(pts)
	pts = slices.Compact(pts)
	c.repeated = len(pts) < all
	switch {
	case len(pts) == 0:
		return words.Because(ErrUnreadable, "no_frames", nil)
	case len(pts) == 1:
		return words.Because(ErrNoVideo, "single_picture", nil)
	case pts[len(pts)-1]-pts[0] < 0: // more than the numbers hold
		return words.Because(ErrUnreadable, "times_apart", nil)
	}
	c.firstS = float64(pts[0]) * num / den
	for _, v := range pts {
		c.TimesS = append(c.TimesS, float64(v-pts[0])*num/den)
	}
	if err := plausibleTimes(c.TimesS, all-len(pts)); err != nil {
		return err
	}
	var steps []float64
	for i := 1; i < len(c.TimesS); i++ {
		steps = append(steps, c.TimesS[i]-c.TimesS[i-1])
	}
	slices.Sort(steps)
	median := steps[len(steps)/2]
	c.FrameRateHz = 1 / median
	c.DurationS = c.TimesS[len(c.TimesS)-1] + median
	c.ListedS = p.listedS(math.Max(c.DurationS, float64(end-pts[0])*num/den) + 2*median)
	// Rounding to a coarse time base (milliseconds in some containers) moves
	// a step by up to a tenth; losing or doubling a frame moves it by half or more.
	c.VariableRate = steps[0] < 0.8*median || steps[len(steps)-1] > 1.2*median
	return nil
}

// uprightPicture returns the size of the stream's picture with square pixels, as it is shown, and by how many degrees
// it is turned clockwise for that: 0, 90, 180 or 270.
func (s *probeStream) uprightPicture() (widthPx, heightPx, rotationDeg int) {
	widthPx, heightPx = s.Width, s.Height
	if n, d, ok := parseRatio(s.SampleAspectRatio, ":"); ok && n > 0 && d > 0 && n != d && n/d < 8 && d/n < 8 {
		widthPx = int(math.Round(float64(s.Width) * n / d))
	}
	for _, d := range s.SideDataList {
		if d.Rotation != nil && !math.IsNaN(*d.Rotation) && math.Abs(*d.Rotation) <= 360 {
			// The container states how far the picture is turned
			// counter-clockwise when shown.
			quarter := int(math.Round(-*d.Rotation/90)) % 4
			rotationDeg = (quarter + 4) % 4 * 90
		}
	}
	if rotationDeg%180 == 90 {
		widthPx, heightPx = heightPx, widthPx
	}
	return widthPx, heightPx, rotationDeg
}

const (
	// longestStillS is the longest time that a picture of a clip may be shown: a phone
	// that films misses some pictures, but no minute of them.
	longestStillS = 60
	// mostRepeated is the part of the pictures that may bear the time of another.
	mostRepeated = 0.02
)

// plausibleTimes refuses the times of a clip that cannot be those of its pictures.
func plausibleTimes(timesS []float64, repeated int) error {
	if float64(repeated) > mostRepeated*float64(len(timesS)+repeated) {
		return words.Because(ErrUnreadable, "times_repeated", words.Params{"repeated": repeated,
			"pictures": len(timesS) + repeated})
	}
	for i := 1; i < len(timesS); i++ {
		if step := timesS[i] - timesS[i-1]; step > longestStillS {
			return words.Because(ErrUnreadable, "times_jump", words.Params{"minutes": step / 60})
		}
	}
	return nil
}

// listedS returns how long the container says that the picture lasts where its
// packets end before that and before readS, else 0. What a container says of
// pictures that an edit list leaves out does not count.
func (p *probeOutput) listedS(readS float64) float64 {
	var listed float64
	switch s := &p.Streams[0]; {
	case s.Frames != "": // MP4, MOV, AVI count their pictures
		if n, err := strconv.Atoi(s.Frames); err == nil && len(p.Packets) < n {
			listed, _ = strconv.ParseFloat(s.DurationS, 64)
		}
	case strings.Contains(p.Format.FormatName, "matroska") && p.Format.Streams == 1:
		// The length of the file is that of its only stream.
		listed, _ = strconv.ParseFloat(p.Format.DurationS, 64)
	}
	if listed > readS && !math.IsInf(listed, 0) {
		return listed
	}
	return 0
}

// Turn turns the pictures clockwise by a quarter, a half or three quarters of a turn
// beyond what the file asks for: its mark may be wrong.
func (c *Clip) Turn(deg int) {
	deg = (deg%360 + 360) % 360
	c.RotationDeg, c.TurnedDeg = (c.RotationDeg+deg)%360, (c.TurnedDeg+deg)%360
	if deg%180 == 90 {
		c.WidthPx, c.HeightPx = c.HeightPx, c.WidthPx
	}
}

// turnFilters are the filters that turn a picture by Clip.TurnedDeg.
var turnFilters = map[int]string{90: "transpose=clock,", 180: "hflip,vflip,", 270: "transpose=cclock,"}

func parseRatio(s, sep string) (num, den float64, ok bool) {
	a, b, found := strings.Cut(s, sep)
	if !found {
		return 0, 0, false
	}
	n, err1 := strconv.ParseInt(a, 10, 64)
	d, err2 := strconv.ParseInt(b, 10, 64)
	return float64(n), float64(d), err1 == nil && err2 == nil
}

// Frame is one decoded picture. Its memory belongs to whoever received it, who
// must call Close.
type Frame struct {
	// Index counts the decoded frames from 0.
	Index int
	// TimeS is the presentation time in seconds from the first frame.
	TimeS float64
	// ScalePx is how many pixels of the clip one pixel of this picture spans:
	// 1 unless the reader was asked for smaller pictures.
	ScalePx float64
	// Damaged says that the picture, or one that it is predicted from, could not be
	// decoded as it was filmed; never where FrameOptions.MarkDamage was not asked for.
	Damaged bool
	// Mat is the upright picture, 8-bit BGR.
	Mat  gocv.Mat
	from *spare // nil: its memory is its own
}

// Close frees the frame's memory. To close it again does nothing.
func (f *Frame) Close() {
	switch {
	case f.Mat.Ptr() == nil:
		return
	case f.from == nil:
		_ = f.Mat.Close()
	default:
		f.from.give(f.Mat)
	}
	f.Mat = gocv.Mat{}
}

// Frames decodes a clip in order of presentation. It holds a few frames at most,
// however long the clip. Close must be called; it also ends the decoder.
type Frames struct {
	clip          *Clip
	width, height int
	ctx           context.Context
	cancel        context.CancelFunc
	cmd           *exec.Cmd
	stdout        *bufio.Reader
	announced     chan announcement
	stderrDone    chan struct{}
	mu            sync.Mutex
	complaint     string // the decoder's last one
	next          int
	firstTimeS    float64
	lastTimeS     float64
	ended         bool
	spare         spare
	sought        bool  // the first frame is a later one of the clip
	only          []int // numbers of the frames that are handed over; nil: all
}

// frameAt returns the number of the frame nearest to a time.
func (c *Clip) frameAt(timeS float64) int {
	i, found := slices.BinarySearch(c.TimesS, timeS)
	if !found && i > 0 && (i == len(c.TimesS) || timeS-c.TimesS[i-1] < c.TimesS[i]-timeS) {
		i--
	}
	return i
}

// announcement is what the decoder says of a picture before it hands it over.
type announcement struct {
	timeS   float64
	damaged bool
}

// TrackedSidePx is the size beyond which pictures are shrunk before tracking:
// the network sees 256 pixels of a body, so that more detail costs time only.
const TrackedSidePx = 1920

// FrameOptions asks for less than every frame in full size.
type FrameOptions struct {
	// MaxSidePx limits the longer side of the pictures; 0 means full size.
	MaxSidePx int
	// GlanceS, when above 0, asks for single frames about this many seconds
	// apart, decoded as cheaply as can be: for looking where people are, not for
	// measuring. Their Index does not count all frames.
	GlanceS float64
	// FromS, when above 0, asks for the frames from about this time on, where the container finds it: those long
	// before are not decoded.
	FromS float64
	// Only, when there are any, asks for the frames with these numbers, rising from 0, and no other: one that is not
	// handed over costs half. Where the file does not tell ahead which they are, all come. Not with GlanceS and FromS.
	Only []int
	// MarkDamage asks for Frame.Damaged. The decoder then works in one thread.
	MarkDamage bool
}

// Frames starts decoding every frame in full size.
func (c *Clip) Frames(ctx context.Context) (*Frames, error) {
	return c.FramesWithOptions(ctx, FrameOptions{})
}

// FramesWithOptions starts decoding. The decoder is a process of its own, so that
// a broken file can end that process at worst, and decoding overlaps with
// everything else.
func (c *Clip) FramesWithOptions(ctx context.Context, opt FrameOptions) (*Frames, error) {
	w, h := c.WidthPx, c.HeightPx
	if longer := max(w, h); opt.MaxSidePx > 0 && longer > opt.MaxSidePx {
		w, h = max(1, w*opt.MaxSidePx/longer), max(1, h*opt.MaxSidePx/longer)
	}
	var how []string
	level, pick := logLevel, ""
	var watch *damageWatch
	if opt.MarkDamage {
		how, level, watch = damageArguments, damageLogLevel, newDamageWatch(c.Codec)
	}
	if opt.GlanceS > 0 {
		how = []string{"-skip_frame", "noref", "-skip_loop_filter", "all"}
		pick = fmt.Sprintf("select='isnan(prev_selected_t)+gte(t-prev_selected_t,%.6f)',", opt.GlanceS-1e-4)
	}
	if picked := c.picks(opt.Only); picked != "" {
		pick = "select='" + picked + "',"
	} else {
		opt.Only = nil
	}
	from := c.seeks(opt)
	if from {
		// Times stay those of the file, so that the frames are known again.
		how = append(how, "-copyts", "-ss", fmt.Sprintf("%.6f", opt.FromS-seekMarginS))
	}
	inner, cancel := context.WithCancel(ctx)
	cmd, err := readClip(inner, "ffmpeg", c.Path, append([]string{"-v", level, "-hide_banner", "-nostats",
		"-nostdin"},
		how...), []string{
		"-map", "0:v:0", "-fps_mode", "passthrough",
		// The decoder turns the picture upright itself; the explicit size keeps
		// every frame alike even where a file changes its size half way.
		"-vf", pick + turnFilters[c.TurnedDeg] + fmt.Sprintf("scale=%d:%d:flags=bilinear,setsar=1,showinfo=checksum=0", w, h),
		"-f", "rawvideo", "-pix_fmt", "bgr24", "pipe:1"})
	if err != nil {
		cancel()
		return nil, &ClipError{Path: c.Path, Doing: words.Say("error.doing_start_decoder", nil), Err: err,
			Hint: hintFor(err)}
	}
	stdout, err := cmd.StdoutPipe()
	if err != nil {
		cancel()
		return nil, fmt.Errorf("decoding %s: %w", c.Path, err)
	}
	stderr, err := cmd.StderrPipe()
	if err != nil {
		cancel()
		return nil, fmt.Errorf("decoding %s: %w", c.Path, err)
	}
	if err := cmd.start(); err != nil {
		cancel()
		if errors.Is(err, exec.ErrNotFound) {
			err = fmt.Errorf("%w: ffmpeg", ErrNotInstalled)
		}
		return nil, &ClipError{Path: c.Path, Doing: words.Say("error.doing_start_decoder", nil), Err: err,
			Hint: hintFor(err)}
	}
	widen(stdout)
	f := &Frames{clip: c, width: w, height: h, ctx: ctx, cancel: cancel, cmd: cmd.Cmd,
		stdout:    bufio.NewReaderSize(stdout, 1<<16),
		announced: make(chan announcement, 256), stderrDone: make(chan struct{}), sought: from,
		only: opt.Only}
	go f.readAnnouncements(inner, stderr, watch)
	return f, nil
}

// seekMarginS is how much before the time that is asked for decoding begins: a container may count from the sound,
// which begins before the picture.
const seekMarginS = 0.3

// seeks says whether decoding begins at a later time.
func (c *Clip) seeks(opt FrameOptions) bool {
	return opt.FromS > seekMarginS && opt.GlanceS == 0 && !opt.MarkDamage && c.indexed
}

// mostPicks is how many terms the filter gets at most that picks frames.
const mostPicks = 200

// picks returns an expression of ffmpeg's that picks the frames with these numbers; "" where all have to be read.
func (c *Clip) picks(only []int) string {
	if len(only) == 0 || only[0] != 0 || c.repeated {
		return ""
	}
	var terms []string
	for i := 0; i < len(only); {
		j, step := i+1, 1 // the longest run from here on whose numbers rise alike
		if j < len(only) {
			step = only[j] - only[i]
		}
		for j < len(only) && only[j]-only[j-1] == step {
			j++
		}
		terms = append(terms, fmt.Sprintf("between(n,%d,%d)*not(mod(n-%d,%d))", only[i], only[j-1], only[i], max(1, step)))
		i = j
	}
	if len(terms) > mostPicks {
		return ""
	}
	return strings.Join(terms, "+")
}

var (
	announceBase = regexp.MustCompile(`config in time_base: (\d+)/(\d+)`)
	announcePTS  = regexp.MustCompile(`\bn: *\d+ pts: *(-?\d+) .* iskey:(\d) type:(\S)`)
	complaint    = regexp.MustCompile(`\[(?:error|fatal|panic)\] (.*)`)
)

// readAnnouncements passes on what the decoder prints of every frame before it
// writes it, and keeps its last complaint. watch may be nil.
func (f *Frames) readAnnouncements(ctx context.Context, r io.Reader, watch *damageWatch) {
	defer close(f.stderrDone)
	defer close(f.announced)
	var base float64
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, 0, 1<<16), 1<<20)
	for lines.Scan() {
		line := lines.Text()
		if strings.HasPrefix(line, "[Parsed_showinfo") {
			if m := announceBase.FindStringSubmatch(line); m != nil {
				n, _ := strconv.ParseFloat(m[1], 64)
				d, _ := strconv.ParseFloat(m[2], 64)
				base = n / d
			} else if m := announcePTS.FindStringSubmatch(line); m != nil {
				pts, _ := strconv.ParseInt(m[1], 10, 64)
				a := announcement{timeS: float64(pts) * base}
				if watch != nil {
					a.damaged = watch.picture(pts, m[2] == "1" && m[3] == "I")
				}
				select {
				case f.announced <- a:
				case <-ctx.Done():
				}
			}
			continue
		}
		if watch != nil {
			watch.line(line)
		}
		if m := complaint.FindStringSubmatch(line); m != nil {
			f.mu.Lock()
			f.complaint = m[1]
			f.mu.Unlock()
		}
	}
	_, _ = io.Copy(io.Discard, r) // a line too long for the scanner must not block the decoder
}

// Next returns the next frame, or io.EOF after the last one. A file that breaks
// off in the middle ends early with io.EOF: what could be decoded counts. A frame
// whose time does not come after that of the frame before is left out.
func (f *Frames) Next() (*Frame, error) {
	for {
		fr, err := f.read()
		if err != nil || fr.Index == 0 || fr.TimeS > f.lastTimeS {
			if err == nil {
				f.lastTimeS = fr.TimeS
				f.next++
			}
			return fr, err
		}
		fr.Close()
	}
}

// read returns the next frame that the decoder hands over.
func (f *Frames) read() (*Frame, error) {
	if f.ended {
		return nil, io.EOF
	}
	mat := f.spare.take(f.height, f.width)
	buf, err := mat.DataPtrUint8()
	if err == nil {
		_, err = io.ReadFull(f.stdout, buf)
	}
	if err != nil {
		f.spare.give(mat)
		f.ended = true
		if f.ctx.Err() != nil {
			return nil, f.ctx.Err()
		}
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			if f.next == 0 {
				return nil, f.nothingDecoded()
			}
			return nil, io.EOF
		}
		return nil, &ClipError{Path: f.clip.Path, Doing: words.Say("error.doing_decoding_frame",
			words.Params{"frame": f.next}), Err: err}
	}
	said, ok := <-f.announced
	if !ok {
		f.spare.give(mat)
		f.ended = true
		if f.ctx.Err() != nil {
			return nil, f.ctx.Err()
		}
		return nil, &ClipError{Path: f.clip.Path, Doing: words.Say("error.doing_decoding_frame",
			words.Params{"frame": f.next}),
			Err: words.Because(ErrUnreadable, "no_time", nil)}
	}
	if f.next == 0 {
		f.firstTimeS = said.timeS
		if f.sought {
			f.firstTimeS = f.clip.firstS
			f.next = f.clip.frameAt(said.timeS - f.firstTimeS)
		}
	}
	index := f.next
	if f.only != nil {
		if f.next >= len(f.only) {
			f.spare.give(mat)
			f.ended = true
			return nil, io.EOF
		}
		index = f.only[f.next]
	}
	return &Frame{Index: index, TimeS: said.timeS - f.firstTimeS, Damaged: said.damaged, Mat: mat,
		ScalePx: float64(f.clip.WidthPx) / float64(f.width), from: &f.spare}, nil
}

func (f *Frames) nothingDecoded() error {
	<-f.stderrDone
	f.mu.Lock()
	defer f.mu.Unlock()
	why := "no frame could be decoded"
	if f.complaint != "" {
		why += " (" + lastLine(f.complaint, f.clip.Path) + ")"
	}
	err := fmt.Errorf("%w: %s", ErrUnreadable, why)
	return &ClipError{Path: f.clip.Path, Doing: words.Say("error.doing_decoding", nil), Err: err, Hint: hintFor(err)}
}

// Close ends the decoder and frees what it held. It may be called at any time.
func (f *Frames) Close() error {
	f.cancel()
	<-f.stderrDone
	_ = f.cmd.Wait() // a decoder that was told to stop has nothing to report
	f.spare.end()
	return nil
}
