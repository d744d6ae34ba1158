package answer

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"strings"
	"time"

	"holdfast/archive"
	"holdfast/desk/refusal"
	"holdfast/words"
)

// Problem is an error with its HTTP status and plain words for the person at the
// page: what is wrong, and what to do about it. What the desk refuses becomes one.
type Problem struct {
	Status int
	Text   string
	Hint   string
	RetryS int // seconds after which trying again makes sense; 0: not said
	err    error
}

func (p *Problem) Error() string {
	s := p.Text
	if p.err != nil {
		s += ": " + p.err.Error()
	}
	return s
}

func (p *Problem) Unwrap() error { return p.err }

// Trouble is a problem whose text and hint are the catalogue's: desk.CODE.text and desk.CODE.hint.
func Trouble(status int, code string, retryS int) *Problem {
	said := refusal.Of(&refusal.Error{Code: code})
	return &Problem{Status: status, Text: said.Text, Hint: said.Hint, RetryS: retryS}
}

func NotFound(what string) error { return refusal.NoSuch(what, archive.ErrNotFound) }

// statuses are those of HTTP for the desk's refusals.
var statuses = map[refusal.Kind]int{
	refusal.Fault: http.StatusInternalServerError, refusal.Bad: http.StatusBadRequest,
	refusal.Missing: http.StatusNotFound, refusal.Conflict: http.StatusConflict,
	refusal.TooLarge: http.StatusRequestEntityTooLarge, refusal.WrongType: http.StatusUnsupportedMediaType,
	refusal.NotMeasurable: http.StatusUnprocessableEntity, refusal.Full: http.StatusInsufficientStorage,
	refusal.Busy: http.StatusServiceUnavailable,
}

// ProblemOf says in plain words what an error means to the person at the page. One that is
// not foreseen tells them nothing but the number under which the log has it, as its text
// may name files or people.
func ProblemOf(err error) *Problem {
	var p *Problem
	var tooBig *http.MaxBytesError
	switch {
	case errors.As(err, &p):
		return p
	case errors.As(err, &tooBig):
		return &Problem{Status: http.StatusRequestEntityTooLarge, err: err,
			Text: words.Say("desk.too_much.text", words.Params{"size": refusal.Size(tooBig.Limit)})}
	}
	e := refusal.Of(err)
	return &Problem{Status: statuses[e.Kind], Text: e.Text, Hint: e.Hint, RetryS: int(e.Retry / time.Second), err: err}
}

// MaxJSONBytes bounds what a request may send as JSON.
const MaxJSONBytes = 1 << 20

// Decode reads one JSON object of at most maxJSONBytes, refuses fields that nobody
// knows, and anything that follows.
func Decode(w http.ResponseWriter, r *http.Request, into any) error {
	if kind := r.Header.Get("Content-Type"); kind != "" && !strings.HasPrefix(kind, "application/json") {
		return Trouble(http.StatusUnsupportedMediaType, "takes_json", 0)
	}
	body, err := BodyOf(w, r, MaxJSONBytes)
	if err != nil {
		return err
	}
	return DecodeStrict(body, into)
}

// BodyOf returns the body of a request, of which no more than so many bytes are read, or
// an error when it says itself that there are more.
func BodyOf(w http.ResponseWriter, r *http.Request, most int64) (io.Reader, error) {
	if r.ContentLength > most {
		return nil, &http.MaxBytesError{Limit: most}
	}
	return http.MaxBytesReader(w, r.Body, most), nil
}

func DecodeStrict(body io.Reader, into any) error {
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
