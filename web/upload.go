package web

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"unicode/utf8"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/refusal"
	"holdfast/vision"
)

// intake takes clips in. Many may be coming, each with a place, and a few are written at a
// time.
type intake struct {
	s     *Server
	dir   string        // where unfinished uploads lie
	turns chan struct{} // to write

	mu       sync.Mutex
	places   map[*place]bool
	partial  map[string]*partial
	finished map[string]finished
}

const (
	maxFieldBytes = 4 << 10
	maxFields     = 32
	maxFiles      = 20 // in one request
	headBytes     = 512
)

// newIntake returns an intake that knows the unfinished uploads of a folder, which it
// makes when there is none.
func newIntake(s *Server, dir string) (*intake, error) {
	in := &intake{s: s, dir: dir, turns: make(chan struct{}, s.limits.Uploads),
		places: map[*place]bool{}, partial: map[string]*partial{}, finished: map[string]finished{}}
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
	case has(4, "ftyp"), has(4, "moov"), has(4, "mdat"), has(4, "wide"), has(4, "free"), has(4, "skip"), has(4, "pnot"): // MP4, MOV, 3GP
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
	err := vision.CheckContainer(f, sizeBytes)
	if errors.Is(err, vision.ErrUnreadable) || errors.Is(err, vision.ErrNoVideo) {
		return &refusal.Error{Kind: refusal.WrongType, Text: refusal.Plain(err), Hint: "choose a clip as the phone filmed it: MP4, MOV, MKV, WebM or AVI", Err: err}
	}
	return err
}

// notAVideo says what a file is that is none.
func notAVideo(head []byte) error {
	what := "the file is no video that Holdfast reads"
	kind := http.DetectContentType(head)
	switch {
	case len(head) == 0:
		what = "the file is empty"
	case strings.HasPrefix(kind, "image/"), len(head) >= 12 && string(head[4:8]) == "ftyp":
		what = "the file is a picture or sound, not a video"
	case strings.HasPrefix(kind, "audio/"):
		what = "the file is sound, not a video"
	case strings.HasPrefix(kind, "text/"), strings.HasPrefix(kind, "application/pdf"):
		what = "the file is a document, not a video"
	}
	return &refusal.Error{Kind: refusal.WrongType, Text: what, Hint: "choose a clip as the phone filmed it: MP4, MOV, MKV, WebM or AVI"}
}

// addedClip is one entry of the answer to an upload.
type addedClip struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Known bool   `json:"known"`
	Job   string `json:"job"` // empty for a known clip that is measured already
	SHA   string `json:"-"`
}

func viewOfAdded(a desk.Added) addedClip {
	return addedClip{a.Clip.ID, a.Clip.Name, a.Known, a.Job, a.Clip.SHA256}
}

type addedClips struct {
	Clips []addedClip `json:"clips"`
}

// handleUpload takes clips as a form, file by file, straight to disk.
func (s *Server) handleUpload(w http.ResponseWriter, r *http.Request) {
	if err := s.desk.Queue.Room(r.Context()); err != nil {
		s.fail(w, r, err)
		return
	}
	most := int64(maxFiles) * (s.desk.Limits.ClipBytes + 64<<10)
	if r.ContentLength > most {
		s.fail(w, r, archive.ErrTooLarge)
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, most)
	body, leave, err := s.intake.enter(w, r, nil)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer leave()
	r.Body = io.NopCloser(body)
	form, err := r.MultipartReader()
	if err != nil {
		s.fail(w, r, refusal.Badf("this takes a form with files (multipart/form-data)"))
		return
	}
	var fields desk.ClipFields
	added := addedClips{Clips: []addedClip{}}
	checked := false
	for parts := 0; ; parts++ {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			s.fail(w, r, brokenUpload(err))
			return
		}
		if parts >= maxFields+maxFiles || len(added.Clips) >= maxFiles {
			s.fail(w, r, refusal.Badf("the form has too many parts: send at most %d clips at once", maxFiles))
			return
		}
		if part.FormName() != "clip" {
			value, err := io.ReadAll(io.LimitReader(part, maxFieldBytes+1))
			switch {
			case err != nil:
				err = brokenUpload(err)
			case len(value) > maxFieldBytes || !utf8.Valid(value):
				err = refusal.Badf("a field of the form is too long or no text")
			case len(added.Clips) > 0:
				err = refusal.Badf("the fields must come before the files")
			default:
				err = fields.Set(part.FormName(), string(value))
			}
			if err != nil {
				s.fail(w, r, err)
				return
			}
			continue
		}
		if !checked {
			err := fields.Check()
			if err == nil {
				_, err = s.desk.Resolve(r.Context(), &fields)
			}
			if err != nil {
				s.fail(w, r, err)
				return
			}
			checked = true
		}
		clip, err := s.receive(r.Context(), part, part.FileName(), fields)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		added.Clips = append(added.Clips, clip)
	}
	if len(added.Clips) == 0 {
		s.fail(w, r, &refusal.Error{Kind: refusal.Bad, Text: "no clip came with the form", Hint: "choose a file in the field clip"})
		return
	}
	s.answer(w, r, http.StatusCreated, added)
}

// brokenUpload is an upload that ended in the middle.
func brokenUpload(err error) error {
	var tooBig *http.MaxBytesError
	if errors.As(err, &tooBig) || errors.Is(err, context.Canceled) || errors.Is(err, errStalled) {
		return err
	}
	return &refusal.Error{Kind: refusal.Bad, Text: "the upload broke off or is damaged", Hint: "send it again; nothing of it was kept", Err: err}
}

// receive puts one file into the archive and its job into the queue.
func (s *Server) receive(ctx context.Context, from io.Reader, name string, fields desk.ClipFields) (addedClip, error) {
	head := make([]byte, headBytes)
	n, err := io.ReadFull(from, head)
	head = head[:n]
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return addedClip{}, brokenUpload(err)
	}
	if !looksLikeVideo(head) {
		return addedClip{}, notAVideo(head)
	}
	source := &failing{r: io.MultiReader(bytes.NewReader(head), from)}
	added, err := s.desk.Add(ctx, source, desk.DisplayName(name), fields, wholeVideo)
	if err != nil {
		if source.err != nil && ctx.Err() == nil {
			return addedClip{}, brokenUpload(source.err)
		}
		if errors.Is(err, archive.ErrTooLarge) {
			return addedClip{}, s.tooLarge(err)
		}
		return addedClip{}, err
	}
	return viewOfAdded(added), nil
}

func (s *Server) tooLarge(err error) error {
	return &refusal.Error{Kind: refusal.TooLarge, Text: fmt.Sprintf("the clip is larger than %s", refusal.Size(s.desk.Limits.ClipBytes)),
		Hint: "cut it to the movement, or film at a lower resolution", Err: err}
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
