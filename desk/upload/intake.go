// Package upload takes clips in, whole or in pieces that outlive the connection and the
// program.
//
// A clip arrives whole (Receive) or in pieces (Begin, Take), and is streamed to
// the archive's files under the hash of its content (intake.go). Its first bytes
// decide whether it can be a video, its whole structure whether it is kept; the name that came with
// it is shown and never becomes a path.
//
// What comes in pieces is collected in the folder uploads of the data folder, beside
// a description of each clip (pieces.go). It outlives the server and the page:
// whoever begins to send a file of the same name, size, date and athlete gets the
// unfinished upload, with a checksum of what is there to compare. It lasts a day, or
// until its athlete or visit is deleted.
//
// Each upload that comes in has a place (place.go), which it keeps while it comes at a
// least rate. When places run out, the one that is the furthest behind is ended for
// the next. A turn to write is held between two reads only: who stands still holds up
// nobody.
package upload

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"strings"
	"sync"
	"time"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/given"
	"holdfast/desk/refusal"
	"holdfast/vision/media"
	"holdfast/words"
)

// Options say where clips come in and how many.
type Options struct {
	Desk *desk.Desk
	Dir  string // where unfinished uploads lie
	Now  func() time.Time
	// Pause is how long an upload may pause.
	Pause    time.Duration
	Writing  int // clips written at one time
	Incoming int // uploads that come in at one time
	Partial  int // unfinished uploads in pieces
}

// Intake takes clips in. Many may be coming, each with a place, and a few are written at a
// time.
type Intake struct {
	opt   Options
	turns chan struct{} // to write

	mu       sync.Mutex
	places   map[*Place]bool
	partial  map[string]*partial
	finished map[string]finished
}

// headBytes is how much of a file tells that it is no video.
const headBytes = 512

// New returns an intake that knows the unfinished uploads of its folder, which it makes when
// there is none. All options are needed.
func New(opt Options) (*Intake, error) {
	in := &Intake{opt: opt, turns: make(chan struct{}, opt.Writing),
		places: map[*Place]bool{}, partial: map[string]*partial{}, finished: map[string]finished{}}
	if err := in.restore(); err != nil {
		return nil, err
	}
	return in, nil
}

// looksLikeVideo says whether a file begins as one of the containers that cameras
// write: a quick first look, so that a photograph is refused before all of it has come.
// What is kept has passed wholeVideo.
func looksLikeVideo(head []byte) bool {
	has := func(at int, what string) bool {
		return len(head) >= at+len(what) && string(head[at:at+len(what)]) == what
	}
	switch {
	// MP4, MOV, 3GP
	case has(4, "ftyp"), has(4, "moov"), has(4, "mdat"), has(4, "wide"), has(4, "free"), has(4, "skip"), has(4, "pnot"):
		return !has(8, "avif") && !has(8, "heic") && !has(8, "heix") && !has(8, "mif1") && !has(8, "M4A ")
	case has(0, "\x1a\x45\xdf\xa3"): // Matroska, WebM
	case has(0, "RIFF") && has(8, "AVI "):
	case has(0, "\x47") && has(188, "\x47") && has(376, "\x47"): // MPEG transport stream
	case has(4, "\x47") && has(196, "\x47") && has(388, "\x47"): // the same as camcorders write it
	case has(0, "\x00\x00\x01\xba"): // MPEG programme stream
	default:
		return false
	}
	return true
}

// wholeVideo refuses a file that is not built as a video. ffmpeg also reads lists, which
// make it open other files, and must never be given one.
func wholeVideo(f io.ReaderAt, sizeBytes int64) error {
	err := media.CheckContainer(f, sizeBytes)
	if errors.Is(err, media.ErrCutOff) {
		return &refusal.Error{Kind: refusal.WrongType, Text: refusal.Plain(err),
			Hint: words.Say("error.hint_cut_off", nil), Err: err}
	}
	if errors.Is(err, media.ErrUnreadable) || errors.Is(err, media.ErrNoVideo) {
		return &refusal.Error{Kind: refusal.WrongType, Text: refusal.Plain(err), Code: "choose_clip", Err: err}
	}
	return err
}

// notAVideo says what a file is that is none.
func notAVideo(head []byte) error {
	what := "no_video"
	kind := http.DetectContentType(head)
	switch {
	case len(head) == 0:
		what = "file_empty"
	case strings.HasPrefix(kind, "image/"), len(head) >= 12 && string(head[4:8]) == "ftyp":
		what = "file_picture"
	case strings.HasPrefix(kind, "audio/"):
		what = "file_sound"
	case strings.HasPrefix(kind, "text/"), strings.HasPrefix(kind, "application/pdf"):
		what = "file_document"
	}
	return &refusal.Error{Kind: refusal.WrongType, Code: what}
}

// Broken says that an upload ended in the middle, where that is not said already.
func Broken(err error) error {
	var tooBig *http.MaxBytesError
	if errors.As(err, &tooBig) || errors.Is(err, context.Canceled) || errors.Is(err, errStalled) {
		return err
	}
	return &refusal.Error{Kind: refusal.Bad, Code: "upload_damaged", Err: err}
}

// Receive puts one file into the archive and its job into the queue.
func (in *Intake) Receive(
	ctx context.Context, from io.Reader, name string, fields given.Clip,
) (desk.Added, error) {
	head := make([]byte, headBytes)
	n, err := io.ReadFull(from, head)
	head = head[:n]
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return desk.Added{}, Broken(err)
	}
	if !looksLikeVideo(head) {
		return desk.Added{}, notAVideo(head)
	}
	source := &failing{r: io.MultiReader(bytes.NewReader(head), from)}
	added, err := in.opt.Desk.Add(ctx, source, given.DisplayName(name), fields, wholeVideo)
	if err != nil {
		if source.err != nil && ctx.Err() == nil {
			return desk.Added{}, Broken(source.err)
		}
		if errors.Is(err, archive.ErrTooLarge) {
			return desk.Added{}, in.tooLarge(err)
		}
		return desk.Added{}, err
	}
	return added, nil
}

func (in *Intake) tooLarge(err error) error {
	return &refusal.Error{Kind: refusal.TooLarge, Code: "clip_too_large",
		Params: words.Params{"size": refusal.Size(in.opt.Desk.Limits.ClipBytes)}, Err: err}
}

// failing remembers how reading failed, to tell a broken upload from a broken disk.
type failing struct {
	r   io.Reader
	err error
}

func (f *failing) Read(p []byte) (int, error) {
	n, err := f.r.Read(p)
	if err != nil && !errors.Is(err, io.EOF) {
		f.err = err
	}
	return n, err
}
