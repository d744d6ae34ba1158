package upload

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
	"strings"
	"time"

	"github.com/google/uuid"

	"holdfast/archive"
	"holdfast/archive/halfsent"
	"holdfast/desk"
	"holdfast/desk/given"
	"holdfast/desk/refusal"
	"holdfast/words"
)

// partial is a clip that arrives in pieces, so that a broken connection costs only
// the piece under way. It is two files in the folder of uploads: what has come, and
// its description, by which the next server knows it.
type partial struct {
	About
	path   string // of what has come
	offset int64
	// restored says that an earlier server received it. How that one ended is not
	// known: after a power cut the file may hold something else than was received.
	restored bool
	// What follows is guarded by intake.mu. Everything else belongs to whoever made it
	// busy: one piece at a time.
	used time.Time
	busy bool
	at   *Place // of the piece that is coming in; nil: none is
	// After patience from begun it makes room for another: what has come earned that.
	begun    time.Time
	patience time.Duration
	// unwanted: it was given up while it was busy.
	unwanted bool
}

// About is what is said about an upload before its first byte.
type About struct {
	ID   string `json:"id"`
	Name string `json:"name"` // to be shown
	Size int64  `json:"size"`
	// LastModified is the file's own time in milliseconds since 1970, as a browser
	// tells it; 0: not known.
	LastModified int64 `json:"last_modified"`
	// Coach is the user who sends it, where they log in and see their own athletes alone: nobody else's it is.
	Coach string `json:"coach,omitempty"`
	given.Clip
}

// finished is an upload that has become a clip. Its answer is kept a while, for a page
// that it did not reach.
type finished struct {
	answer desk.Added
	coach  string
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
func (in *Intake) restore() error {
	if err := os.MkdirAll(in.opt.Dir, 0o700); err != nil {
		return err
	}
	entries, err := os.ReadDir(in.opt.Dir)
	if err != nil {
		return err
	}
	kept := map[string]bool{}
	for _, e := range entries {
		id, ok := strings.CutSuffix(e.Name(), halfsent.Note)
		if !ok {
			continue
		}
		if p := in.read(id); p != nil && in.opt.Now().Sub(p.used) < partialTime {
			in.partial[id] = p
			kept[id+halfsent.Part], kept[id+halfsent.Note] = true, true
		}
	}
	for _, e := range entries {
		if !kept[e.Name()] {
			_ = os.Remove(filepath.Join(in.opt.Dir, e.Name())) // what stays is tried again at the next start
		}
	}
	return nil
}

// read returns an upload as its files tell it, nil when they do not.
func (in *Intake) read(id string) *partial {
	p := &partial{path: filepath.Join(in.opt.Dir, id+halfsent.Part), restored: true}
	text, err := os.ReadFile(filepath.Join(in.opt.Dir, id+halfsent.Note))
	if err != nil || json.Unmarshal(text, &p.About) != nil || p.ID != id {
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
func (in *Intake) save(p *partial) (err error) {
	text, err := json.Marshal(p.About)
	if err != nil {
		return fmt.Errorf("describing an upload: %w", err)
	}
	defer func() {
		if err != nil {
			err = fmt.Errorf("describing an upload: %w", err)
		}
	}()
	f, err := os.CreateTemp(in.opt.Dir, "about-")
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), filepath.Join(in.opt.Dir, p.ID+halfsent.Note))
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	d, err := os.Open(in.opt.Dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// State is how far an upload is. Whoever goes on must compare CRC32 with that of the file's
// first Offset bytes, where it is given, and begin anew when it is another.
type State struct {
	ID     string  `json:"id"`
	Offset int64   `json:"offset"`
	Size   int64   `json:"size"`
	CRC32  *uint32 `json:"crc32,omitempty"` // IEEE, of what is there
}

func (p *partial) state() State { return State{ID: p.ID, Offset: p.offset, Size: p.Size} }

// Begin begins an upload in pieces, or finds the one that the same file began before its
// page was loaded again; the offset is then not 0.
func (in *Intake) Begin(ctx context.Context, about About) (State, error) {
	d := in.opt.Desk
	err := about.Check()
	switch {
	case err != nil:
	case about.Size <= 0:
		err = refusal.Wrong("size_missing", nil)
	case about.Size > d.Limits.ClipBytes:
		err = in.tooLarge(nil)
	default:
		err = d.Queue.Room(ctx)
	}
	athlete := ""
	if err == nil {
		athlete, err = d.Resolve(ctx, &about.Clip)
	}
	if err != nil {
		return State{}, err
	}
	about.Name, about.Coach = given.DisplayName(about.Name), archive.CoachOf(ctx)
	p, give, err := in.begin(about, athlete)
	if err != nil {
		return State{}, err
	}
	defer give()
	// Who was deleted before the upload had its note was not asked for it then.
	if _, err := d.Resolve(ctx, &about.Clip); errors.Is(err, archive.ErrNotFound) {
		in.drop(p)
		return State{}, err
	}
	out := p.state()
	if p.offset > 0 {
		out.CRC32, err = checksum(ctx, p.path, p.offset)
	}
	return out, err
}

// begin begins an upload for an athlete of this name, and keeps it until it is given
// back. An unfinished one of the same file is returned instead, with what is said
// about it now.
func (in *Intake) begin(about About, athlete string) (*partial, func(), error) {
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
		if len(in.partial) >= in.opt.Partial && !in.dropIdle() {
			in.mu.Unlock()
			return nil, nil, &refusal.Error{
				Kind: refusal.Busy, Code: "too_many_uploads", Retry: time.Minute}
		}
		about.ID = uuid.NewString()
		p = &partial{path: filepath.Join(in.opt.Dir, about.ID+halfsent.Part), begun: in.opt.Now(), patience: emptyUpload}
		in.partial[about.ID] = p
	}
	p.About, p.busy = about, true
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
func (in *Intake) sameFile(about About, athlete string) (found *partial) {
	for _, p := range in.partial {
		same := about.LastModified != 0 && p.LastModified == about.LastModified && p.Size == about.Size &&
			p.Name == about.Name && p.Visit == about.Visit && p.Coach == about.Coach
		if p.Athlete != "" {
			same = same && p.Athlete == about.Athlete
		} else {
			same = same && strings.EqualFold(given.OneLine(p.AthleteName), given.OneLine(athlete))
		}
		if same && (found == nil || found.busy) {
			found = p
		}
	}
	return found
}

// forget removes what nobody has used for long. The lock is held.
func (in *Intake) forget() {
	now := in.opt.Now()
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
func (in *Intake) dropIdle() bool {
	var worst *partial
	var most time.Duration
	now := in.opt.Now()
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
func (in *Intake) remove(p *partial) {
	delete(in.partial, p.ID)
	// What cannot be removed now is at the next start: a part without its description is.
	_ = os.Remove(filepath.Join(in.opt.Dir, p.ID+halfsent.Note))
	_ = os.Remove(p.path)
}

// Sweep forgets what is old or belongs to a deleted athlete, until the context ends.
func (in *Intake) Sweep(ctx context.Context) {
	tick := time.NewTicker(sweepTime)
	defer tick.Stop()
	for {
		in.ForgetDeleted(ctx)
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

// ForgetDeleted removes the uploads of athletes and visits that were deleted, and those
// that went with one: nothing of them is to be kept.
func (in *Intake) ForgetDeleted(ctx context.Context) {
	ctx = archive.ForCoach(ctx, "") // whoever's they are
	in.mu.Lock()
	whose := map[string]given.Clip{} // by upload
	for id, p := range in.partial {
		if !p.busy && p.gone() {
			in.remove(p)
			continue
		}
		whose[id] = p.Clip
	}
	in.mu.Unlock()
	for id, f := range whose {
		if _, err := in.opt.Desk.Resolve(ctx, &f); errors.Is(err, archive.ErrNotFound) {
			in.giveUp(ctx, id)
		}
	}
}

var (
	errNoUpload   = &refusal.Error{Kind: refusal.Missing, Code: "upload_unknown"}
	errTooMuch    = refusal.Wrong("too_many_bytes", nil)
	errBusyUpload = &refusal.Error{Kind: refusal.Conflict, Code: "upload_busy", Retry: time.Second}
)

// sees says whether an upload of a coach's is there for the context's.
func sees(ctx context.Context, coach string) bool {
	own := archive.CoachOf(ctx)
	return own == "" || own == coach
}

// take finds an upload and keeps it from being forgotten until it is given back.
func (in *Intake) take(ctx context.Context, id string) (*partial, func(), error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	p := in.partial[id]
	if p == nil || !sees(ctx, p.Coach) {
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
func (in *Intake) giver(p *partial) func() {
	return func() {
		in.mu.Lock()
		defer in.mu.Unlock()
		p.busy, p.used = false, in.opt.Now()
		if p.unwanted && in.partial[p.ID] == p {
			in.remove(p)
		}
	}
}

// giveUp forgets an upload, at once or when the piece under way has come to its
// end: whoever gives up breaks the connection off, of which the server may hear later.
// It says whether there was one.
func (in *Intake) giveUp(ctx context.Context, id string) bool {
	in.mu.Lock()
	defer in.mu.Unlock()
	p := in.partial[id]
	switch {
	case p == nil, !sees(ctx, p.Coach):
		return false
	case p.busy:
		p.unwanted = true
	default:
		in.remove(p)
	}
	return true
}

// done finds an upload that has become a clip.
func (in *Intake) done(ctx context.Context, id string) (finished, bool) {
	in.mu.Lock()
	defer in.mu.Unlock()
	f, ok := in.finished[id]
	return f, ok && sees(ctx, f.coach)
}

// finish keeps the answer of an upload in place of the upload.
func (in *Intake) finish(p *partial, answer desk.Added) {
	in.mu.Lock()
	defer in.mu.Unlock()
	for len(in.finished) >= maxFinished {
		oldest := ""
		for id, f := range in.finished {
			if oldest == "" || f.at.Before(in.finished[oldest].at) {
				oldest = id
			}
		}
		delete(in.finished, oldest)
	}
	in.finished[p.ID] = finished{answer: answer, coach: p.Coach, size: p.Size, at: in.opt.Now()}
	in.remove(p)
}

// drop forgets an upload at once.
func (in *Intake) drop(p *partial) {
	in.mu.Lock()
	defer in.mu.Unlock()
	in.remove(p)
}

// State tells how much of an upload is there; all of it when it has become a clip.
func (in *Intake) State(ctx context.Context, id string) (State, error) {
	if f, ok := in.done(ctx, id); ok {
		return State{ID: id, Offset: f.size, Size: f.size}, nil
	}
	p, give, err := in.take(ctx, id)
	if err != nil {
		return State{}, err
	}
	defer give()
	out := p.state()
	if p.restored && p.offset > 0 {
		out.CRC32, err = checksum(ctx, p.path, p.offset)
	}
	return out, err
}

// Abandon gives an upload up.
func (in *Intake) Abandon(ctx context.Context, id string) error {
	if !in.giveUp(ctx, id) {
		return errNoUpload
	}
	return nil
}

// Piece is the next piece of an upload, as a request brings it.
type Piece struct {
	At       int64 // of its first byte in the file; negative: not said
	Bytes    int64 // as the request says; negative: not said
	Body     io.ReadCloser
	Deadline func(time.Time) error // of reading the body
}

// Take takes the next piece of an upload. What came before a connection broke is kept: the
// state tells what is there, also beside an error, where the upload is known. added is the
// clip that it has become; nil: there is more to come.
func (in *Intake) Take(ctx context.Context, id string, piece Piece) (now State, added *desk.Added, err error) {
	if f, ok := in.done(ctx, id); ok { // the answer did not reach the page
		return State{ID: id, Offset: f.size, Size: f.size}, &f.answer, nil
	}
	p, give, err := in.take(ctx, id)
	if err != nil {
		return State{}, nil, err
	}
	defer give()
	ctx = archive.ForCoach(ctx, p.Coach) // an admin goes on with it for its coach
	if piece.At != p.offset {
		return p.state(), nil, &refusal.Error{Kind: refusal.Conflict,
			Code: "upload_offset", Params: words.Params{"number": p.offset}}
	}
	if piece.Bytes > p.Size-p.offset {
		return p.state(), nil, errTooMuch
	}
	from, leave, err := in.enter(ctx, http.MaxBytesReader(nil, piece.Body, p.Size-p.offset), piece.Deadline, p)
	if err != nil {
		return p.state(), nil, err
	}
	defer leave()
	body := &failing{r: from}
	n, err := appendTo(p.path, p.offset, body)
	p.offset += n
	p.restored = p.restored && n == 0 // who goes on has compared what was there
	if body.err != nil {
		err = brokenPiece(body.err)
	}
	if err == nil && p.offset >= headBytes && piece.At < headBytes || p.offset == p.Size {
		head := checkHead(p.path)
		if isWrongType(head) { // no piece of it will ever be a video
			in.drop(p)
		}
		err = errors.Join(head, err)
	}
	if err != nil || p.offset < p.Size {
		return p.state(), nil, err
	}
	f, err := os.Open(p.path)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) { // the athlete was deleted meanwhile
			err = errNoUpload
		}
		return p.state(), nil, fmt.Errorf("reading the upload: %w", err)
	}
	clip, err := in.Receive(ctx, f, p.Name, p.Clip)
	if err = errors.Join(err, f.Close()); err != nil {
		if isWrongType(err) {
			in.drop(p)
		}
		return p.state(), nil, err
	}
	in.finish(p, clip)
	return p.state(), &clip, nil
}

func isWrongType(err error) bool {
	var kind *refusal.Error
	return errors.As(err, &kind) && kind.Kind == refusal.WrongType
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
		return &refusal.Error{Kind: refusal.Busy, Code: "upload_silent",
			Retry: time.Second, Err: err}
	}
	return &refusal.Error{Kind: refusal.Bad, Code: "upload_broke", Err: err}
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
