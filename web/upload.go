package web

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"holdfast/archive"
	"holdfast/printable"
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

// clipFields are what is said about a clip beside its file.
type clipFields struct {
	Athlete     string   `json:"athlete"`
	AthleteName string   `json:"athlete_name"`
	Visit       string   `json:"visit"`
	Date        string   `json:"date"`
	Condition   string   `json:"condition"`
	LoadKg      *float64 `json:"load_kg"`
	Tempo       string   `json:"tempo"`
	HeightCm    *float64 `json:"height_cm"`
	CaptureFPS  *float64 `json:"capture_fps"`
}

// set fills in a field of a form, by its name. An empty value is one not given.
func (f *clipFields) set(name, value string) error {
	value = strings.TrimSpace(value)
	number := func(into **float64) error {
		if value == "" {
			return nil
		}
		x, err := strconv.ParseFloat(strings.Replace(value, ",", ".", 1), 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return badRequest("%s takes a number, not %q", strings.ReplaceAll(name, "_", " "), clipped(value, 40))
		}
		*into = &x
		return nil
	}
	switch name {
	case "athlete":
		f.Athlete = value
	case "athlete_name":
		f.AthleteName = value
	case "visit":
		f.Visit = value
	case "date":
		f.Date = value
	case "condition":
		f.Condition = value
	case "tempo":
		f.Tempo = value
	case "load_kg":
		return number(&f.LoadKg)
	case "height_cm":
		return number(&f.HeightCm)
	case "capture_fps":
		return number(&f.CaptureFPS)
	default:
		return badRequest("nobody knows the field %q", clipped(name, 40))
	}
	return nil
}

// check refuses what cannot be meant, before anything is received.
func (f *clipFields) check() error {
	if f.Athlete == "" && strings.TrimSpace(f.AthleteName) == "" && f.Visit == "" {
		return &problem{status: http.StatusBadRequest, text: "whose clip is it?", hint: "choose an athlete or type a name, before the file"}
	}
	if utf8.RuneCountInString(f.AthleteName) > maxNameRunes {
		return badRequest("the athlete's name is longer than %d letters", maxNameRunes)
	}
	if _, err := tempoOf(f.Tempo); err != nil {
		return badRequest("%v", err)
	}
	switch f.Condition {
	case "", "fresh", "loaded", "fatigued":
	default:
		return badRequest("the condition can be fresh, loaded or fatigued, not %q", clipped(f.Condition, 40))
	}
	if f.Date != "" {
		if _, err := time.Parse(time.DateOnly, f.Date); err != nil {
			return badRequest("the date is written as 2025-05-02, not %q", clipped(f.Date, 40))
		}
	}
	return errors.Join(within("the height", f.HeightCm, 80, 250, "cm"), within("the load", f.LoadKg, 0, 500, "kg"), within("the frame rate", f.CaptureFPS, 1, 10000, "frames a second"))
}

// within refuses a number outside its limits; nil is none.
func within(what string, x *float64, least, most float64, unit string) error {
	if x == nil || *x >= least && *x <= most {
		return nil
	}
	return badRequest("%s must lie between %g and %g %s", what, least, most, unit)
}

const maxNameRunes = 120

// clipped shortens a text that is repeated to its sender.
func clipped(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "..."
	}
	return s
}

// displayName makes of the name that a browser sends for a file one that can be
// shown: it never becomes a path. Folders and hidden characters are left out.
func displayName(name string) string {
	if i := strings.LastIndexAny(name, `/\`); i >= 0 {
		name = name[i+1:]
	}
	name = strings.Map(func(r rune) rune {
		switch {
		case printable.Hidden(r):
			return -1
		case strings.ContainsRune(`<>:"|?*`, r):
			return '_'
		}
		return r
	}, name)
	name = strings.Trim(strings.Join(strings.Fields(name), " "), ". ")
	if r := []rune(name); len(r) > maxNameRunes {
		name = string(r[:maxNameRunes-10]) + string(r[len(r)-10:])
	}
	if name == "" {
		return "clip"
	}
	return name
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
		return &problem{status: http.StatusUnsupportedMediaType, text: plainLine(err), hint: "choose a clip as the phone filmed it: MP4, MOV, MKV, WebM or AVI", err: err}
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
	return &problem{status: http.StatusUnsupportedMediaType, text: what, hint: "choose a clip as the phone filmed it: MP4, MOV, MKV, WebM or AVI"}
}

// addedClip is one entry of the answer to an upload.
type addedClip struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Known bool   `json:"known"`
	Job   string `json:"job"` // empty for a known clip that is measured already
	SHA   string `json:"-"`
}

type addedClips struct {
	Clips []addedClip `json:"clips"`
}

// handleUpload takes clips as a form, file by file, straight to disk.
func (s *Server) handleUpload(w http.ResponseWriter, r *http.Request) {
	if err := s.queue.room(r.Context()); err != nil {
		s.fail(w, r, err)
		return
	}
	most := int64(maxFiles) * (s.limits.ClipBytes + 64<<10)
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
		s.fail(w, r, badRequest("this takes a form with files (multipart/form-data)"))
		return
	}
	var fields clipFields
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
			s.fail(w, r, badRequest("the form has too many parts: send at most %d clips at once", maxFiles))
			return
		}
		if part.FormName() != "clip" {
			value, err := io.ReadAll(io.LimitReader(part, maxFieldBytes+1))
			switch {
			case err != nil:
				err = brokenUpload(err)
			case len(value) > maxFieldBytes || !utf8.Valid(value):
				err = badRequest("a field of the form is too long or no text")
			case len(added.Clips) > 0:
				err = badRequest("the fields must come before the files")
			default:
				err = fields.set(part.FormName(), string(value))
			}
			if err != nil {
				s.fail(w, r, err)
				return
			}
			continue
		}
		if !checked {
			err := fields.check()
			if err == nil {
				_, err = s.resolve(r.Context(), &fields)
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
		s.fail(w, r, &problem{status: http.StatusBadRequest, text: "no clip came with the form", hint: "choose a file in the field clip"})
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
	return &problem{status: http.StatusBadRequest, text: "the upload broke off or is damaged", hint: "send it again; nothing of it was kept", err: err}
}

// receive puts one file into the archive and its job into the queue.
func (s *Server) receive(ctx context.Context, from io.Reader, name string, fields clipFields) (addedClip, error) {
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
	file, err := s.archive.Put(ctx, source, s.limits.ClipBytes, wholeVideo)
	if err != nil {
		if source.err != nil && ctx.Err() == nil {
			return addedClip{}, brokenUpload(source.err)
		}
		if errors.Is(err, archive.ErrTooLarge) {
			return addedClip{}, &problem{status: http.StatusRequestEntityTooLarge, text: fmt.Sprintf("the clip is larger than %s", bytesText(s.limits.ClipBytes)),
				hint: "cut it to the movement, or film at a lower resolution", err: err}
		}
		return addedClip{}, err
	}
	return s.addClip(ctx, file, displayName(name), fields)
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

// addClip makes a clip of a file that is in the archive, and queues its analysis.
func (s *Server) addClip(ctx context.Context, file archive.File, name string, fields clipFields) (addedClip, error) {
	visit, height, err := s.placeOf(ctx, fields)
	if err != nil {
		// AddClip, which is not reached, would have given the file its name.
		return addedClip{}, errors.Join(err, s.archive.Forget(context.WithoutCancel(ctx), file))
	}
	clip, known, err := s.archive.AddClip(ctx, archive.Clip{
		VisitID: visit.ID, AthleteID: visit.AthleteID, Name: name, SHA256: file.SHA256, SizeBytes: file.SizeBytes,
		Tempo: fields.Tempo, HeightCm: height, CaptureFPS: fields.CaptureFPS,
	})
	if err != nil {
		return addedClip{}, err
	}
	added := addedClip{ID: clip.ID, Name: clip.Name, Known: known, SHA: clip.SHA256}
	if known && clip.Result != nil {
		return added, nil
	}
	job, err := s.queue.add(ctx, clip.ID, archive.JobAnalyze, jobOptions{})
	if err != nil && !known {
		err = errors.Join(err, s.archive.DeleteClip(context.WithoutCancel(ctx), clip.ID))
	}
	if err != nil {
		return addedClip{}, err
	}
	added.Job = job.ID
	s.log.Info("a clip came in", "clip", clip.ID, "bytes", clip.SizeBytes, "known", known)
	return added, nil
}

// placeOf returns the visit that a clip belongs to, and the athlete's height for it.
func (s *Server) placeOf(ctx context.Context, fields clipFields) (visit archive.Visit, heightCm *float64, err error) {
	visit, err = s.visitOf(ctx, fields)
	if err != nil || fields.HeightCm != nil {
		return visit, fields.HeightCm, err
	}
	a, err := s.archive.Athlete(ctx, visit.AthleteID)
	return visit, a.HeightCm, err
}

// resolve refuses a visit or an athlete that is not there, before anything is
// received, and puts the id of an athlete that is there in place of the name. It
// returns the name, empty for a visit. Who is new is made when the clip is there.
func (s *Server) resolve(ctx context.Context, f *clipFields) (name string, err error) {
	switch {
	case f.Visit != "":
		_, err := s.archive.Visit(ctx, f.Visit)
		return "", err
	case f.Athlete != "":
		a, err := s.archive.Athlete(ctx, f.Athlete)
		return a.Name, err
	}
	a, found, err := s.lookUp(ctx, f.AthleteName)
	if found {
		f.Athlete, f.AthleteName = a.ID, ""
		return a.Name, err
	}
	return f.AthleteName, err
}

// visitOf finds the visit that a clip belongs to, and makes athlete and visit when
// they are new. Without a date it is today.
func (s *Server) visitOf(ctx context.Context, f clipFields) (archive.Visit, error) {
	if f.Visit != "" {
		return s.archive.Visit(ctx, f.Visit)
	}
	athlete := archive.Athlete{ID: f.Athlete}
	var err error
	if f.Athlete != "" {
		athlete, err = s.archive.Athlete(ctx, f.Athlete)
	} else {
		athlete, err = s.athleteNamed(ctx, f.AthleteName, f.HeightCm)
	}
	if err != nil {
		return archive.Visit{}, err
	}
	v := archive.Visit{AthleteID: athlete.ID, Date: f.Date, Condition: f.Condition, LoadKg: f.LoadKg}
	if v.Date == "" {
		v.Date = s.now().Format(time.DateOnly)
	}
	if v.Condition == "" {
		v.Condition = "fresh"
		if v.LoadKg != nil && *v.LoadKg > 0 {
			v.Condition = "loaded"
		}
	}
	return s.archive.VisitFor(ctx, v)
}

// athleteNamed finds an athlete by the exact name, or makes one of the given height.
func (s *Server) athleteNamed(ctx context.Context, name string, heightCm *float64) (archive.Athlete, error) {
	s.intake.mu.Lock() // two clips of a new athlete that come at once make one athlete
	defer s.intake.mu.Unlock()
	a, found, err := s.lookUp(ctx, name)
	if err != nil || found {
		return a, err
	}
	return s.archive.CreateAthlete(ctx, archive.Athlete{Name: oneLine(name), HeightCm: heightCm})
}

// lookUp finds an athlete by the exact name, without regard to case.
func (s *Server) lookUp(ctx context.Context, name string) (archive.Athlete, bool, error) {
	name = oneLine(name)
	all, err := s.archive.Athletes(ctx)
	if err != nil {
		return archive.Athlete{}, false, err
	}
	for _, a := range all {
		if strings.EqualFold(a.Name, name) && !a.Example {
			return a, true, nil
		}
	}
	return archive.Athlete{}, false, nil
}

// oneLine leaves single spaces of all white space.
func oneLine(name string) string { return strings.Join(strings.Fields(name), " ") }
