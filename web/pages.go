package web

import (
	"bytes"
	"net/http"
	"time"

	"holdfast/web/answer"
	"holdfast/web/pages"
)

// sendAsset sends a file that is built into the program.
func (s *Server) sendAsset(w http.ResponseWriter, r *http.Request) {
	text, kind, found := pages.Asset(r.PathValue("name"))
	if !found || r.PathValue("hash") != pages.AssetVersion() {
		s.fail(w, r, answer.NotFound("file"))
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	w.Header().Set("Vary", "Accept-Encoding")
	if answer.AcceptsGzip(r) {
		text = pages.Packed(r.PathValue("name"), text)
		w.Header().Set("Content-Encoding", "gzip")
	}
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(text))
}

// show answers with a page, or with what went wrong.
func (s *Server) show(w http.ResponseWriter, r *http.Request, p pages.Page, err error) {
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.write(w, r, http.StatusOK, p)
}

// write writes a page. It is made whole before anything is sent, so that a fault in
// it is an error and not half a page.
func (s *Server) write(w http.ResponseWriter, r *http.Request, status int, p pages.Page) {
	p.Password, p.Fingerprint, p.User = s.gate.Needed, s.fingerprint, userOf(r)
	text, err := p.HTML()
	if err != nil {
		s.log.Error("a page cannot be made", "page", p.Name)
		s.log.Debug("a page cannot be made", "page", p.Name, "error", err)
		http.Error(w, pages.NoPage(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(text) // a browser that went away is no concern of ours
	}
}

// showError shows what went wrong, and what to do.
func (s *Server) showError(w http.ResponseWriter, r *http.Request, status int, text, hint string) {
	p := pages.Failure(status, text, hint)
	_, in, err := s.gate.Admits(r)
	p.Plain = !in || err != nil
	s.write(w, r, status, p)
}

func (s *Server) loginPage(w http.ResponseWriter, r *http.Request) {
	_, in, err := s.gate.Admits(r)
	if in {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	s.show(w, r, pages.Login(r.URL.Query(), s.gate.Named()), err)
}

func (s *Server) aboutPage(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, s.pages.About(s.gate.Named()), nil)
}

// today is the day as it is written in the archive.
func (s *Server) today() string { return s.now().Format(time.DateOnly) }

func (s *Server) homePage(w http.ResponseWriter, r *http.Request) {
	_, shared := s.gate.Shared()
	p, err := s.pages.Home(r.Context(), r.URL.Query().Get("athlete"), shared, s.today())
	s.show(w, r, p, err)
}

func (s *Server) recentPart(w http.ResponseWriter, r *http.Request) {
	p, err := s.pages.Recent(r.Context())
	s.show(w, r, p, err)
}

func (s *Server) athletesPage(w http.ResponseWriter, r *http.Request) {
	p, err := s.pages.Athletes(r.Context(), s.today())
	s.show(w, r, p, err)
}

func (s *Server) athletePage(w http.ResponseWriter, r *http.Request) {
	p, err := s.pages.Athlete(r.Context(), r.PathValue("id"), s.today())
	s.show(w, r, p, err)
}

func (s *Server) clipPage(w http.ResponseWriter, r *http.Request) {
	p, err := s.pages.Clip(r.Context(), r.PathValue("id"))
	s.show(w, r, p, err)
}

func (s *Server) comparePage(w http.ResponseWriter, r *http.Request) {
	p, err := s.pages.Compare(r.Context(), r.URL.Query().Get("athlete"))
	s.show(w, r, p, err)
}

func (s *Server) comparisonPage(w http.ResponseWriter, r *http.Request) {
	p, err := s.pages.Comparison(r.Context(), r.PathValue("id"))
	s.show(w, r, p, err)
}

func (s *Server) statusPage(w http.ResponseWriter, r *http.Request) {
	p, err := s.pages.Status(r.Context(), s.gate.Named())
	s.show(w, r, p, err)
}
