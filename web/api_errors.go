package web

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"holdfast/printable"
	"holdfast/web/answer"
	"holdfast/words"
)

// fail answers a request that went wrong: the API in JSON, a page as a page. What
// was not foreseen is logged with a reference that the answer repeats.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	// Also when the request was given up: to return without a word would be answered
	// as a success by net/http, should there be somebody left to hear it.
	p := answer.ProblemOf(err)
	hint := p.Hint
	if p.Status == http.StatusInternalServerError {
		ref := uuid.NewString()[:8]
		// The text may hold names and paths, so that it appears at debug level only.
		s.log.Error("request failed", "reference", ref, "route", r.Pattern)
		s.log.Debug("request failed", "reference", ref, "error", err)
		if hint == "" {
			hint = words.Say("desk.fault.hint", words.Params{"reference": ref})
		}
	}
	if p.RetryS > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(p.RetryS))
	}
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Del("Content-Disposition")
	w.Header().Del("Content-Encoding")
	w.Header().Del("ETag")
	if r.Method == http.MethodGet && wantsPage(r) {
		s.showError(w, r, p.Status, p.Text, hint)
		return
	}
	s.answer(w, r, p.Status, struct {
		Error string `json:"error"`
		Hint  string `json:"hint"`
	}{p.Text, hint})
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
