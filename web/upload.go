package web

import (
	"errors"
	"io"
	"net/http"
	"strconv"
	"unicode/utf8"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/given"
	"holdfast/desk/refusal"
	"holdfast/desk/upload"
	"holdfast/web/answer"
	"holdfast/web/noted"
	"holdfast/words"
)

const (
	maxFieldBytes = 4 << 10
	maxFields     = 32
	maxFiles      = 20 // in one request
)

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
	body, leave, err := s.intake.Enter(r.Context(), r.Body, http.NewResponseController(w).SetReadDeadline)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer leave()
	r.Body = io.NopCloser(body)
	form, err := r.MultipartReader()
	if err != nil {
		s.fail(w, r, refusal.Wrong("takes_form", nil))
		return
	}
	var fields given.Clip
	added := addedClips{Clips: []addedClip{}}
	checked := false
	for parts := 0; ; parts++ {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			s.fail(w, r, upload.Broken(err))
			return
		}
		if parts >= maxFields+maxFiles || len(added.Clips) >= maxFiles {
			s.fail(w, r, refusal.Wrong("too_many_parts", words.Params{"most": maxFiles}))
			return
		}
		if part.FormName() != "clip" {
			value, err := io.ReadAll(io.LimitReader(part, maxFieldBytes+1))
			switch {
			case err != nil:
				err = upload.Broken(err)
			case len(value) > maxFieldBytes || !utf8.Valid(value):
				err = refusal.Wrong("field_unreadable", nil)
			case len(added.Clips) > 0:
				err = refusal.Wrong("fields_late", nil)
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
		clip, err := s.intake.Receive(r.Context(), part, part.FileName(), fields)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		noted.Made(r.Context(), clip.Clip.ID)
		added.Clips = append(added.Clips, viewOfAdded(clip))
	}
	if len(added.Clips) == 0 {
		s.fail(w, r, &refusal.Error{Kind: refusal.Bad, Code: "no_clip"})
		return
	}
	s.answer(w, r, http.StatusCreated, added)
}

// handleBegin begins an upload in pieces, or finds the one that the same file began
// before its page was loaded again.
func (s *Server) handleBegin(w http.ResponseWriter, r *http.Request) {
	var in struct {
		Name         string `json:"name"`
		Size         int64  `json:"size"`
		LastModified int64  `json:"last_modified"`
		given.Clip
	}
	err := answer.Decode(w, r, &in)
	var at upload.State
	if err == nil {
		at, err = s.intake.Begin(r.Context(), upload.About{Name: in.Name, Size: in.Size, LastModified: in.LastModified,
			Clip: in.Clip})
	}
	status := http.StatusCreated
	if at.Offset > 0 {
		status = http.StatusOK
	}
	s.reply(w, r, status, at, err)
}

// tellState says in headers how far an upload is.
func tellState(w http.ResponseWriter, at upload.State) {
	w.Header().Set("Upload-Offset", strconv.FormatInt(at.Offset, 10))
	w.Header().Set("Upload-Length", strconv.FormatInt(at.Size, 10))
}

// handleOffset tells how much of an upload is there.
func (s *Server) handleOffset(w http.ResponseWriter, r *http.Request) {
	at, err := s.intake.State(r.Context(), r.PathValue("id"))
	if err == nil {
		tellState(w, at)
	}
	s.reply(w, r, http.StatusOK, at, err)
}

// handlePiece takes the next piece of an upload. What came before a connection
// broke is kept.
func (s *Server) handlePiece(w http.ResponseWriter, r *http.Request) {
	first, err := strconv.ParseInt(r.Header.Get("Upload-Offset"), 10, 64)
	if err != nil {
		first = -1
	}
	at, added, err := s.intake.Take(r.Context(), r.PathValue("id"), upload.Piece{
		At: first, Bytes: r.ContentLength, Body: r.Body, Deadline: http.NewResponseController(w).SetReadDeadline,
	})
	if at.Size > 0 {
		tellState(w, at)
	}
	if added != nil {
		noted.Made(r.Context(), added.Clip.ID)
		s.reply(w, r, http.StatusCreated, addedClips{Clips: []addedClip{viewOfAdded(*added)}}, err)
		return
	}
	s.reply(w, r, http.StatusOK, at, err)
}

// handleAbandon gives an upload up.
func (s *Server) handleAbandon(w http.ResponseWriter, r *http.Request) {
	s.reply(w, r, http.StatusOK, struct{}{}, s.intake.Abandon(r.Context(), r.PathValue("id")))
}
