package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/refusal"
)

// partial is a clip that arrives in pieces, so that a broken connection costs only
// the piece under way. It is two files in the folder of uploads: what has come, and
// its description, by which the next server knows it.
type partial struct {
	uploadAbout
	path   string // of what has come
	offset int64
	// restored says that an earlier server received it. How that one ended is not
	// known: after a power cut the file may hold something else than was received.
	restored bool
	// What follows is guarded by intake.mu. Everything else belongs to whoever made it
	// busy: one piece at a time.
	used time.Time
	busy bool
	at   *place // of the piece that is coming in; nil: none is
	// After patience from begun it makes room for another: what has come earned that.
	begun    time.Time
	patience time.Duration
	// unwanted: it was given up while it was busy.
	unwanted bool
}

// uploadAbout is what is said about an upload before its first byte.
type uploadAbout struct {
	ID   string `json:"id"`
	Name string `json:"name"` // to be shown
	Size int64  `json:"size"`
	// LastModified is the file's own time in milliseconds since 1970, as a browser
	// tells it; 0: not known.
	LastModified int64 `json:"last_modified"`
	desk.ClipFields
}

// finished is an upload that has become a clip. Its answer is kept a while, for a page
// that it did not reach.
type finished struct {
	answer addedClips
	size   int64
	at     time.Time
}

const (
	partialTime  = 24 * time.Hour // after which an unfinished upload is forgotten
	idleUpload   = time.Hour      // after which it makes room for another
	emptyUpload  = 30 * time.Second
	finishedTime = time.Hour
	maxFinished  = 256
	sweepTime    = 5 * time.Minute
)

// restore finds the uploads that an earlier server left unfinished, and removes what
// is too old or not whole.
func (in *intake) restore() error {
	if err := os.MkdirAll(in.dir, 0o700); err != nil {
		return err
	}
	entries, err := os.ReadDir(in.dir)
	if err != nil {
		return err
	}
	kept := map[string]bool{}
	for _, e := range entries {
		id, ok := strings.CutSuffix(e.Name(), archive.UploadNote)
		if !ok {
			continue
		}
		if p := in.read(id); p != nil && in.s.now().Sub(p.used) < partialTime {
			in.partial[id] = p
			kept[id+archive.UploadPart], kept[id+archive.UploadNote] = true, true
		}
	}
	for _, e := range entries {
		if !kept[e.Name()] {
			_ = os.Remove(filepath.Join(in.dir, e.Name())) // what stays is tried again at the next start
		}
	}
	return nil
}

// read returns an upload as its files tell it, nil when they do not.
func (in *intake) read(id string) *partial {
	p := &partial{path: filepath.Join(in.dir, id+archive.UploadPart), restored: true}
	text, err := os.ReadFile(filepath.Join(in.dir, id+archive.UploadNote))
	if err != nil || json.Unmarshal(text, &p.uploadAbout) != nil || p.ID != id {
		return nil
	}
	info, err := os.Stat(p.path)
	if err != nil || info.Size() > p.Size {
		return nil
	}
	p.offset, p.used, p.begun = info.Size(), info.ModTime(), info.ModTime()
	p.patience = emptyUpload + time.Duration(p.offset)*time.Second/minUploadBytesPerS
	return p
}

// save writes the description of an upload, whole or not at all.
func (in *intake) save(p *partial) (err error) {
	text, err := json.Marshal(p.uploadAbout)
	if err != nil {
		return fmt.Errorf("describing an upload: %w", err)
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("describing an upload: %w", err)
		}
	}()
	f, err := os.CreateTemp(in.dir, "about-")
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), filepath.Join(in.dir, p.ID+archive.UploadNote))
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	d, err := os.Open(in.dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// begun is the answer to the beginning of an upload, and to the question how far one
// is. Whoever goes on must compare CRC32 with that of the file's first Offset bytes,
// where it is given, and begin anew when it is another.
type begun struct {
	ID     string  `json:"id"`
	Offset int64   `json:"offset"`
	Size   int64   `json:"size"`
	CRC32  *uint32 `json:"crc32,omitempty"` // IEEE, of what is there
}

// handleBegin begins an upload in pieces, or finds the one that the same file began
// before its page was loaded again.
func (s *Server) handleBegin(w http.ResponseWriter, r *http.Request) {
	var in struct {
		Name         string `json:"name"`
		Size         int64  `json:"size"`
		LastModified int64  `json:"last_modified"`
		desk.ClipFields
	}
	if err := decode(w, r, &in); err != nil {
		s.fail(w, r, err)
		return
	}
	err := in.Check()
	switch {
	case err != nil:
	case in.Size <= 0:
		err = refusal.Badf("the size of the clip in bytes is missing")
	case in.Size > s.desk.Limits.ClipBytes:
		err = s.tooLarge(nil)
	default:
		err = s.desk.Queue.Room(r.Context())
	}
	athlete := ""
	if err == nil {
		athlete, err = s.desk.Resolve(r.Context(), &in.ClipFields)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	p, give, err := s.intake.begin(uploadAbout{Name: desk.DisplayName(in.Name), Size: in.Size, LastModified: in.LastModified, ClipFields: in.ClipFields}, athlete)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer give()
	// Who was deleted before the upload had its note was not asked for it then.
	if _, err := s.desk.Resolve(r.Context(), &in.ClipFields); errors.Is(err, archive.ErrNotFound) {
		s.intake.drop(p)
		s.fail(w, r, err)
		return
	}
	out := begun{ID: p.ID, Offset: p.offset, Size: p.Size}
	status := http.StatusCreated
	if p.offset > 0 {
		status = http.StatusOK
		if out.CRC32, err = checksum(r.Context(), p.path, p.offset); err != nil {
			s.fail(w, r, err)
			return
		}
	}
	s.answer(w, r, status, out)
}

// begin begins an upload for an athlete of this name, and keeps it until it is given
// back. An unfinished one of the same file is returned instead, with what is said
// about it now.
func (in *intake) begin(about uploadAbout, athlete string) (*partial, func(), error) {
	in.mu.Lock()
	in.forget()
	p := in.sameFile(about, athlete)
	if p != nil && !p.busy && p.gone() {
		in.remove(p)
		p = nil
	}
	found := p != nil
	if found && p.busy { // the page that sent it was left a moment ago, or it is open twice
		in.mu.Unlock()
		return nil, nil, errBusyUpload
	}
	if found {
		about.ID = p.ID
	} else {
		if len(in.partial) >= in.s.limits.Partial && !in.dropIdle() {
			in.mu.Unlock()
			return nil, nil, &problem{status: http.StatusServiceUnavailable, text: "too many uploads are unfinished", hint: "let some of them finish, then try again", retryS: 60}
		}
		about.ID = uuid.NewString()
		p = &partial{path: filepath.Join(in.dir, about.ID+archive.UploadPart), begun: in.s.now(), patience: emptyUpload}
		in.partial[about.ID] = p
	}
	p.uploadAbout, p.busy = about, true
	in.mu.Unlock()
	var err error
	if !found {
		err = os.WriteFile(p.path, nil, 0o600)
	}
	if err == nil {
		err = in.save(p)
	}
	give := in.giver(p)
	if err != nil {
		if !found {
			in.drop(p)
		}
		give()
		return nil, nil, fmt.Errorf("receiving a clip: %w", err)
	}
	return p, give, nil
}

// gone says that what had come was removed together with the athlete or the visit.
func (p *partial) gone() bool {
	_, err := os.Stat(p.path)
	return errors.Is(err, fs.ErrNotExist)
}

// sameFile finds the unfinished upload of a file, one to which nobody adds now where
// there are several. The lock is held.
func (in *intake) sameFile(about uploadAbout, athlete string) (found *partial) {
	for _, p := range in.partial {
		same := about.LastModified != 0 && p.LastModified == about.LastModified && p.Size == about.Size && p.Name == about.Name && p.Visit == about.Visit
		if p.Athlete != "" {
			same = same && p.Athlete == about.Athlete
		} else {
			same = same && strings.EqualFold(desk.OneLine(p.AthleteName), desk.OneLine(athlete))
		}
		if same && (found == nil || found.busy) {
			found = p
		}
	}
	return found
}

// forget removes what nobody has used for long. The lock is held.
func (in *intake) forget() {
	now := in.s.now()
	for _, p := range in.partial {
		if !p.busy && now.Sub(p.used) >= partialTime {
			in.remove(p)
		}
	}
	for id, f := range in.finished {
		if now.Sub(f.at) >= finishedTime {
			delete(in.finished, id)
		}
	}
}

// dropIdle makes room: of the uploads that nobody has used for long, or that came too
// slowly since they were begun, it removes the one that is the furthest behind. The lock is
// held.
func (in *intake) dropIdle() bool {
	var worst *partial
	var most time.Duration
	now := in.s.now()
	for _, p := range in.partial {
		over := now.Sub(p.begun) - p.patience
		if !p.busy {
			over = max(over, now.Sub(p.used)-idleUpload)
		}
		if over >= 0 && (worst == nil || over > most) {
			worst, most = p, over
		}
	}
	if worst == nil {
		return false
	}
	if worst.at != nil {
		worst.at.lose()
	}
	in.remove(worst)
	return true
}

// remove removes an upload and its files. The lock is held.
func (in *intake) remove(p *partial) {
	delete(in.partial, p.ID)
	// What cannot be removed now is at the next start: a part without its description is.
	_ = os.Remove(filepath.Join(in.dir, p.ID+archive.UploadNote))
	_ = os.Remove(p.path)
}

// sweep forgets what is old or belongs to a deleted athlete, until the context ends.
func (in *intake) sweep(ctx context.Context) {
	tick := time.NewTicker(sweepTime)
	defer tick.Stop()
	for {
		in.forgetDeleted(ctx)
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			in.mu.Lock()
			in.forget()
			in.mu.Unlock()
		}
	}
}

// forgetDeleted removes the uploads of athletes and visits that were deleted, and those
// that went with one: nothing of them is to be kept.
func (in *intake) forgetDeleted(ctx context.Context) {
	in.mu.Lock()
	whose := map[string]desk.ClipFields{} // by upload
	for id, p := range in.partial {
		if !p.busy && p.gone() {
			in.remove(p)
			continue
		}
		whose[id] = p.ClipFields
	}
	in.mu.Unlock()
	for id, f := range whose {
		if _, err := in.s.desk.Resolve(ctx, &f); errors.Is(err, archive.ErrNotFound) {
			in.abandon(id)
		}
	}
}

var (
	errNoUpload   = &problem{status: http.StatusNotFound, text: "this upload is not known any more", hint: "send the clip again from the start"}
	errTooMuch    = refusal.Badf("more bytes came than the upload was to have")
	errBusyUpload = &problem{status: http.StatusConflict, text: "a piece of this upload is still coming in", hint: "wait a moment and go on", retryS: 1}
)

// take finds an upload and keeps it from being forgotten until it is given back.
func (in *intake) take(id string) (*partial, func(), error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	p := in.partial[id]
	if p == nil {
		return nil, nil, errNoUpload
	}
	if p.busy {
		return nil, nil, errBusyUpload
	}
	if p.gone() {
		in.remove(p)
		return nil, nil, errNoUpload
	}
	p.busy = true
	return p, in.giver(p), nil
}

// giver returns how an upload is given back.
func (in *intake) giver(p *partial) func() {
	return func() {
		in.mu.Lock()
		defer in.mu.Unlock()
		p.busy, p.used = false, in.s.now()
		if p.unwanted && in.partial[p.ID] == p {
			in.remove(p)
		}
	}
}

// abandon forgets an upload, at once or when the piece under way has come to its
// end: whoever gives up breaks the connection off, of which the server may hear later.
// It says whether there was one.
func (in *intake) abandon(id string) bool {
	in.mu.Lock()
	defer in.mu.Unlock()
	p := in.partial[id]
	switch {
	case p == nil:
		return false
	case p.busy:
		p.unwanted = true
	default:
		in.remove(p)
	}
	return true
}

// done finds an upload that has become a clip.
func (in *intake) done(id string) (finished, bool) {
	in.mu.Lock()
	defer in.mu.Unlock()
	f, ok := in.finished[id]
	return f, ok
}

// finish keeps the answer of an upload in place of the upload.
func (in *intake) finish(p *partial, answer addedClips) {
	in.mu.Lock()
	defer in.mu.Unlock()
	makeRoom(in.finished, maxFinished, func(f finished) time.Time { return f.at })
	in.finished[p.ID] = finished{answer: answer, size: p.Size, at: in.s.now()}
	in.remove(p)
}

// drop forgets an upload at once.
func (in *intake) drop(p *partial) {
	in.mu.Lock()
	defer in.mu.Unlock()
	in.remove(p)
}

// handleOffset tells how much of an upload is there.
func (s *Server) handleOffset(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	out := begun{ID: id}
	if f, ok := s.intake.done(id); ok {
		out.Offset, out.Size = f.size, f.size
	} else {
		p, give, err := s.intake.take(id)
		if err == nil {
			defer give()
			out.Offset, out.Size = p.offset, p.Size
			if p.restored && p.offset > 0 {
				out.CRC32, err = checksum(r.Context(), p.path, p.offset)
			}
		}
		if err != nil {
			s.fail(w, r, err)
			return
		}
	}
	w.Header().Set("Upload-Offset", strconv.FormatInt(out.Offset, 10))
	w.Header().Set("Upload-Length", strconv.FormatInt(out.Size, 10))
	s.answer(w, r, http.StatusOK, out)
}

// handlePiece takes the next piece of an upload. What came before a connection
// broke is kept.
func (s *Server) handlePiece(w http.ResponseWriter, r *http.Request) {
	if f, ok := s.intake.done(r.PathValue("id")); ok { // the answer did not reach the page
		w.Header().Set("Upload-Length", strconv.FormatInt(f.size, 10))
		s.answer(w, r, http.StatusCreated, f.answer)
		return
	}
	p, give, err := s.intake.take(r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer give()
	w.Header().Set("Upload-Length", strconv.FormatInt(p.Size, 10))
	at, err := strconv.ParseInt(r.Header.Get("Upload-Offset"), 10, 64)
	if err != nil || at != p.offset {
		w.Header().Set("Upload-Offset", strconv.FormatInt(p.offset, 10))
		s.fail(w, r, &problem{status: http.StatusConflict, text: fmt.Sprintf("the next byte of this upload is number %d", p.offset), hint: "go on from there"})
		return
	}
	if r.ContentLength > p.Size-p.offset {
		s.fail(w, r, errTooMuch)
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, p.Size-p.offset)
	from, leave, err := s.intake.enter(w, r, p)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer leave()
	body := &failing{r: from}
	n, err := appendTo(p.path, p.offset, body)
	p.offset += n
	p.restored = p.restored && n == 0 // who goes on has compared what was there
	w.Header().Set("Upload-Offset", strconv.FormatInt(p.offset, 10))
	if body.err != nil {
		err = brokenPiece(body.err)
	}
	if err == nil && p.offset >= headBytes && at < headBytes || p.offset == p.Size {
		head := checkHead(p.path)
		var kind *refusal.Error
		if errors.As(head, &kind) { // no piece of it will ever be a video
			s.intake.drop(p)
		}
		err = errors.Join(head, err)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if p.offset < p.Size {
		s.answer(w, r, http.StatusOK, begun{ID: p.ID, Offset: p.offset, Size: p.Size})
		return
	}
	f, err := os.Open(p.path)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) { // the athlete was deleted meanwhile
			err = errNoUpload
		}
		s.fail(w, r, fmt.Errorf("reading the upload: %w", err))
		return
	}
	clip, err := s.receive(r.Context(), f, p.Name, p.ClipFields)
	if err = errors.Join(err, f.Close()); err != nil {
		if problemOf(err).status == http.StatusUnsupportedMediaType {
			s.intake.drop(p)
		}
		s.fail(w, r, err)
		return
	}
	answer := addedClips{Clips: []addedClip{clip}}
	s.intake.finish(p, answer)
	s.answer(w, r, http.StatusCreated, answer)
}

// brokenPiece is a piece that ended in the middle: what came is kept.
func brokenPiece(err error) error {
	var tooBig *http.MaxBytesError
	switch {
	case errors.Is(err, context.Canceled), errors.Is(err, errStalled):
		return err
	case errors.As(err, &tooBig):
		return errTooMuch
	case errors.Is(err, os.ErrDeadlineExceeded):
		return &problem{status: http.StatusServiceUnavailable, text: "nothing came for too long", hint: "go on from where it stopped", retryS: 1, err: err}
	}
	return &problem{status: http.StatusBadRequest, text: "the connection broke", hint: "go on from where it broke", err: err}
}

// handleAbandon gives an upload up.
func (s *Server) handleAbandon(w http.ResponseWriter, r *http.Request) {
	if !s.intake.abandon(r.PathValue("id")) {
		s.fail(w, r, errNoUpload)
		return
	}
	s.answer(w, r, http.StatusOK, struct{}{})
}

// appendTo writes what r gives to a file from a place on, and returns how much.
func appendTo(path string, at int64, r io.Reader) (n int64, err error) {
	f, err := os.OpenFile(path, os.O_WRONLY, 0o600)
	if err != nil {
		return 0, fmt.Errorf("receiving a clip: %w", err)
	}
	defer func() {
		if closed := f.Close(); err == nil {
			err = closed
		}
	}()
	if _, err := f.Seek(at, io.SeekStart); err != nil {
		return 0, fmt.Errorf("receiving a clip: %w", err)
	}
	return io.Copy(f, r)
}

// checksum returns the CRC-32 of the first bytes of an upload. It is meant for
// accidents: a page can compute it without the browser's own hashes, which a phone
// has no access to on a page that is not encrypted.
func checksum(ctx context.Context, path string, n int64) (*uint32, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("reading the upload: %w", err)
	}
	defer f.Close()
	sum := crc32.NewIEEE()
	for left := n; left > 0; {
		m, err := io.CopyN(sum, f, min(left, 64<<20))
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return nil, fmt.Errorf("reading the upload: %w", err)
		}
		left -= m
	}
	out := sum.Sum32()
	return &out, nil
}

// checkHead refuses an upload whose beginning is no video's.
func checkHead(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("reading the upload: %w", err)
	}
	defer f.Close()
	head := make([]byte, headBytes)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return fmt.Errorf("reading the upload: %w", err)
	}
	if !looksLikeVideo(head[:n]) {
		return notAVideo(head[:n])
	}
	return nil
}
