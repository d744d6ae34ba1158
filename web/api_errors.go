package web

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"syscall"

	"github.com/google/uuid"

	"holdfast/archive"
	"holdfast/printable"
	"holdfast/report"
	"holdfast/screening"
	"holdfast/vision"
)

// problem is an error with its HTTP status and plain words for the person at the
// page: what is wrong, and what to do about it.
type problem struct {
	status int
	text   string
	hint   string
	retryS int // seconds after which trying again makes sense; 0: not said
	err    error
}

func (p *problem) Error() string {
	s := p.text
	if p.err != nil {
		s += ": " + p.err.Error()
	}
	return s
}

func (p *problem) Unwrap() error { return p.err }

func badRequest(format string, args ...any) *problem {
	return &problem{status: http.StatusBadRequest, text: fmt.Sprintf(format, args...)}
}

func notFound(what string) *problem {
	return &problem{status: http.StatusNotFound, text: "there is no such " + what,
		hint: "it may have been deleted; go back and reload the page"}
}

// problemOf says in plain words what an error means to the person at the page. An
// error that is not foreseen tells them nothing but the number under which the log
// has it, as its text may name files or people.
func problemOf(err error) *problem {
	var p *problem
	var tooBig *http.MaxBytesError
	var clip *vision.ClipError
	switch {
	case errors.As(err, &p):
		return p
	case errors.As(err, &tooBig):
		return &problem{status: http.StatusRequestEntityTooLarge, text: fmt.Sprintf("that is more than the %s this takes", bytesText(tooBig.Limit)), err: err}
	case errors.Is(err, archive.ErrTooLarge):
		return &problem{status: http.StatusRequestEntityTooLarge, text: "the file is too large", hint: "film a shorter clip, or at a lower resolution", err: err}
	case errors.Is(err, archive.ErrNotFound):
		return &problem{status: http.StatusNotFound, text: "there is no such entry", hint: "it may have been deleted; go back and reload the page", err: err}
	case errors.Is(err, archive.ErrInvalid):
		return &problem{status: http.StatusBadRequest, text: plainLine(err), err: err}
	case errors.Is(err, archive.ErrDamaged):
		return &problem{status: http.StatusInternalServerError, text: "a file of the archive is damaged or missing",
			hint: "run holdfast archive check, and restore a backup if it finds more", err: err}
	case errors.Is(err, archive.ErrDiskFull), errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return &problem{status: http.StatusInsufficientStorage, text: "the disk is full", hint: "make room and try again; nothing that was kept is lost", err: err}
	case errors.As(err, &clip):
		return &problem{status: http.StatusUnprocessableEntity, text: plainLine(clip.Err), hint: clip.Hint, err: err}
	case errors.Is(err, screening.ErrBadCorrection), errors.Is(err, screening.ErrCannotMeasure), errors.Is(err, screening.ErrNoReps), errors.Is(err, screening.ErrDifferentMovement):
		return &problem{status: http.StatusUnprocessableEntity, text: plainLine(err), err: err}
	case errors.Is(err, report.ErrCannotWrite), errors.Is(err, archive.ErrCannotWrite):
		return &problem{status: http.StatusInternalServerError, text: "the results cannot be written", hint: "is the disk full, or the data folder read-only?", err: err}
	case errors.Is(err, context.Canceled):
		return &problem{status: http.StatusServiceUnavailable, text: "the server is stopping, or the connection broke", hint: "try again in a moment", retryS: 5, err: err}
	case errors.Is(err, context.DeadlineExceeded):
		return &problem{status: http.StatusServiceUnavailable, text: "that took too long", hint: "try again", retryS: 5, err: err}
	}
	return &problem{status: http.StatusInternalServerError, text: "something went wrong that should not", err: err}
}

// plainLine makes one line of an error's text, which may name files and repeat what
// other programs said.
func plainLine(err error) string {
	return printable.Line(strings.Join(strings.Fields(err.Error()), " "))
}

// bytesText writes a size as people say it.
func bytesText(n int64) string {
	switch {
	case n >= 1e9:
		return fmt.Sprintf("%.2g GB", float64(n)/1e9)
	case n >= 1e6:
		return fmt.Sprintf("%d MB", n/1e6)
	case n >= 1e3:
		return fmt.Sprintf("%d kB", n/1e3)
	}
	return fmt.Sprintf("%d bytes", n)
}

// fail answers a request that went wrong: the API in JSON, a page as a page. What
// was not foreseen is logged with a reference that the answer repeats.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	// Also when the request was given up: to return without a word would be answered
	// as a success by net/http, should there be somebody left to hear it.
	p := problemOf(err)
	hint := p.hint
	if p.status == http.StatusInternalServerError {
		ref := uuid.NewString()[:8]
		// The text may hold names and paths, so that it appears at debug level only.
		s.log.Error("request failed", "reference", ref, "route", r.Pattern)
		s.log.Debug("request failed", "reference", ref, "error", err)
		if hint == "" {
			hint = "try again; if it stays, start holdfast serve --verbose and look for reference " + ref
		}
	}
	if p.retryS > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(p.retryS))
	}
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Del("Content-Disposition")
	w.Header().Del("Content-Encoding")
	w.Header().Del("ETag")
	if s.errorPage != nil && r.Method == http.MethodGet && wantsPage(r) {
		s.errorPage(w, r, p.status, p.text, hint)
		return
	}
	s.answer(w, r, p.status, struct {
		Error string `json:"error"`
		Hint  string `json:"hint"`
	}{p.text, hint})
}

// wantsPage says whether a person rather than a script waits for the answer.
func wantsPage(r *http.Request) bool {
	return !strings.HasPrefix(r.URL.Path, "/api/") && strings.Contains(r.Header.Get("Accept"), "text/html")
}

// answer sends JSON.
func (s *Server) answer(w http.ResponseWriter, r *http.Request, status int, v any) {
	var body bytes.Buffer
	e := json.NewEncoder(&body)
	e.SetEscapeHTML(true) // harmless, should a browser ever take it for a page
	if err := e.Encode(v); err != nil {
		s.log.Error("an answer cannot be written as JSON", "route", r.Pattern)
		http.Error(w, `{"error":"the answer cannot be written","hint":""}`, http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	if w.Header().Get("Cache-Control") == "" {
		w.Header().Set("Cache-Control", "no-store")
	}
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(printable.JSON(body.Bytes())) // a client that went away is no concern of ours
	}
}

// maxJSONBytes bounds what a request may send as JSON.
const maxJSONBytes = 1 << 20

// decode reads one JSON object of at most maxJSONBytes, refuses fields that nobody
// knows, and anything that follows.
func decode(w http.ResponseWriter, r *http.Request, into any) error {
	if kind := r.Header.Get("Content-Type"); kind != "" && !strings.HasPrefix(kind, "application/json") {
		return &problem{status: http.StatusUnsupportedMediaType, text: "this takes application/json"}
	}
	body, err := bodyOf(w, r, maxJSONBytes)
	if err != nil {
		return err
	}
	return decodeStrict(body, into)
}

// bodyOf returns the body of a request, of which no more than so many bytes are read, or
// an error when it says itself that there are more.
func bodyOf(w http.ResponseWriter, r *http.Request, most int64) (io.Reader, error) {
	if r.ContentLength > most {
		return nil, &http.MaxBytesError{Limit: most}
	}
	return http.MaxBytesReader(w, r.Body, most), nil
}

func decodeStrict(body io.Reader, into any) error {
	d := json.NewDecoder(body)
	var object json.RawMessage
	err := d.Decode(&object)
	if err == nil && object[0] != '{' {
		return badRequest("a JSON object is needed")
	}
	if err == nil {
		strict := json.NewDecoder(bytes.NewReader(object))
		strict.DisallowUnknownFields()
		err = strict.Decode(into)
	}
	if err != nil {
		var tooBig *http.MaxBytesError
		var syntax *json.SyntaxError
		var kind *json.UnmarshalTypeError
		switch {
		case errors.As(err, &tooBig):
			return err
		case errors.Is(err, io.EOF):
			return badRequest("the request is empty, a JSON object is needed")
		case errors.As(err, &syntax), errors.Is(err, io.ErrUnexpectedEOF):
			return badRequest("the request is no valid JSON")
		case errors.As(err, &kind):
			return badRequest("the field %q is of the wrong kind: it takes a %s", kind.Field, kind.Type)
		}
		return badRequest("%s", strings.TrimPrefix(plainLine(err), "json: "))
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return badRequest("the request holds more than one JSON object")
	}
	return nil
}
