package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"holdfast/archive"
	"holdfast/desk/refusal"
	"holdfast/printable"
	"holdfast/words"
)

// problem is an error with its HTTP status and plain words for the person at the
// page: what is wrong, and what to do about it. What the desk refuses becomes one.
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

// trouble is a problem whose text and hint are the catalogue's: desk.CODE.text and desk.CODE.hint.
func trouble(status int, code string, retryS int) *problem {
	said := refusal.Of(&refusal.Error{Code: code})
	return &problem{status: status, text: said.Text, hint: said.Hint, retryS: retryS}
}

func notFound(what string) error { return refusal.NoSuch(what, archive.ErrNotFound) }

// statuses are those of HTTP for the desk's refusals.
var statuses = map[refusal.Kind]int{
	refusal.Fault: http.StatusInternalServerError, refusal.Bad: http.StatusBadRequest, refusal.Missing: http.StatusNotFound,
	refusal.Conflict: http.StatusConflict, refusal.TooLarge: http.StatusRequestEntityTooLarge,
	refusal.WrongType: http.StatusUnsupportedMediaType, refusal.NotMeasurable: http.StatusUnprocessableEntity,
	refusal.Full: http.StatusInsufficientStorage, refusal.Busy: http.StatusServiceUnavailable,
}

// problemOf says in plain words what an error means to the person at the page. One that is
// not foreseen tells them nothing but the number under which the log has it, as its text
// may name files or people.
func problemOf(err error) *problem {
	var p *problem
	var tooBig *http.MaxBytesError
	switch {
	case errors.As(err, &p):
		return p
	case errors.As(err, &tooBig):
		return &problem{status: http.StatusRequestEntityTooLarge, err: err,
			text: words.Say("desk.too_much.text", words.Params{"size": refusal.Size(tooBig.Limit)})}
	}
	e := refusal.Of(err)
	return &problem{status: statuses[e.Kind], text: e.Text, hint: e.Hint, retryS: int(e.Retry / time.Second), err: err}
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
			hint = words.Say("desk.fault.hint", words.Params{"reference": ref})
		}
	}
	if p.retryS > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(p.retryS))
	}
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Del("Content-Disposition")
	w.Header().Del("Content-Encoding")
	w.Header().Del("ETag")
	if r.Method == http.MethodGet && wantsPage(r) {
		s.showError(w, r, p.status, p.text, hint)
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

// reply sends JSON, or what went wrong.
func (s *Server) reply(w http.ResponseWriter, r *http.Request, status int, v any, err error) {
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, status, v)
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
		return trouble(http.StatusUnsupportedMediaType, "takes_json", 0)
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
		return refusal.Wrong("json_needed", nil)
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
			return refusal.Wrong("json_empty", nil)
		case errors.As(err, &syntax), errors.Is(err, io.ErrUnexpectedEOF):
			return refusal.Wrong("json_invalid", nil)
		case errors.As(err, &kind):
			return refusal.Wrong("json_kind", words.Params{"field": kind.Field, "kind": kind.Type.String()})
		}
		return &refusal.Error{Kind: refusal.Bad, Text: strings.TrimPrefix(refusal.Plain(err), "json: ")}
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return refusal.Wrong("json_several", nil)
	}
	return nil
}
