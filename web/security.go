package web

import (
	"context"
	"errors"
	"io"
	"net/http"
	"time"

	"holdfast/archive"
	"holdfast/archive/users"
	"holdfast/desk/refusal"
	"holdfast/web/answer"
	"holdfast/web/gate"
	"holdfast/web/news"
)

// The content security policies: of pages, and of stored results, which are shown
// apart from the page and must not run anything. A PDF is shown by the browser's
// own viewer, which a sandbox would keep from starting.
const (
	pagePolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; " +
		"media-src 'self' blob:; connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'"
)

// protect puts all checks in front of the routes.
func (s *Server) protect(mux *http.ServeMux) http.Handler {
	crossOrigin := http.NewCrossOriginProtection()
	inner := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		needs := needsOf(mux, r)
		if err := s.check(r, needs, crossOrigin); err != nil {
			s.fail(w, r, err)
			return
		}
		if s.letIn(w, r, needs) {
			mux.ServeHTTP(w, r)
		}
	})
	return s.logged(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", pagePolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		// Without a referrer of its own a browser sends a form with the origin "null",
		// which check refuses.
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
		h.Set("X-Frame-Options", "DENY")
		control := http.NewResponseController(w)
		now := time.Now() // of the network, which no test's clock can move
		_ = control.SetWriteDeadline(now.Add(answerTime))
		if r.Body == nil || r.Body == http.NoBody {
			_ = control.SetReadDeadline(time.Time{})
		} else {
			_ = control.SetReadDeadline(now.Add(s.bodyTime))
			body := &untilEnd{ReadCloser: r.Body, control: control}
			r.Body = body
			w = &refusing{w, body}
		}
		if s.plainFromAfar(r) {
			http.Redirect(w, r, "https://"+r.Host+r.URL.RequestURI(), http.StatusPermanentRedirect)
			return
		}
		s.guardPanics(inner).ServeHTTP(w, r)
	}))
}

// plainFromAfar says whether another device sends unencrypted what it could send encrypted.
func (s *Server) plainFromAfar(r *http.Request) bool {
	if !s.encrypted || s.gate.Encrypts(r) || !s.gate.AnswersTo(r.Host) {
		return false
	}
	return !gate.Remote(r).IsLoopback()
}

// setCookie sends a cookie; one that came encrypted stays so.
func (s *Server) setCookie(w http.ResponseWriter, r *http.Request, c *http.Cookie) {
	c.Secure = s.gate.Encrypts(r)
	http.SetCookie(w, c)
}

// untilEnd is a body whose time limit ends with it. From then on net/http watches
// the connection by reading it, and takes a limit that passes for a client that
// has gone: it would end the request's context under an answer that takes longer.
type untilEnd struct {
	io.ReadCloser
	control *http.ResponseController
	ended   bool
}

func (u *untilEnd) Read(p []byte) (int, error) {
	n, err := u.ReadCloser.Read(p)
	if errors.Is(err, io.EOF) {
		u.ended = true
		_ = u.control.SetReadDeadline(time.Time{})
	}
	return n, err
}

// refusing sends a refusal at once: net/http would first read on in a body that nobody
// wants, for as long as the client takes to send it. What is on its way is still taken in
// for a moment, as a connection that is closed on it may lose the answer.
type refusing struct {
	http.ResponseWriter
	body *untilEnd
}

// farewellRead is that moment.
const farewellRead = time.Second

func (r *refusing) WriteHeader(status int) {
	if status >= http.StatusBadRequest && !r.body.ended {
		r.Header().Set("Connection", "close")
		_ = r.body.control.SetReadDeadline(time.Now().Add(farewellRead))
	}
	r.ResponseWriter.WriteHeader(status)
}

func (r *refusing) Unwrap() http.ResponseWriter { return r.ResponseWriter }

// check refuses what no page of ours sends: another name for this server, and
// requests that another site makes the browser send.
func (s *Server) check(r *http.Request, needs need, crossOrigin *http.CrossOriginProtection) error {
	if !s.gate.AnswersTo(r.Host) {
		return answer.Trouble(http.StatusMisdirectedRequest, "other_name", 0)
	}
	forbidden := answer.Trouble(http.StatusForbidden, "other_site", 0)
	if crossOrigin.Check(r) != nil {
		return forbidden
	}
	if o := r.Header.Get("Origin"); o != "" && !gate.SameOrigin(o, r.Host, s.gate.Encrypts(r)) {
		return forbidden
	}
	site := r.Header.Get("Sec-Fetch-Site")
	if r.Method == http.MethodGet || r.Method == http.MethodHead {
		// A link from elsewhere may lead here; nothing else may be fetched from there.
		if (site == "cross-site" || site == "same-site") &&
			(r.Header.Get("Sec-Fetch-Mode") != "navigate" || r.Header.Get("Sec-Fetch-Dest") != "document") {
			return forbidden
		}
		return nil
	}
	if site != "" && site != "same-origin" {
		return forbidden
	}
	// A form of another site cannot set a header of its own.
	if r.Header.Get("X-Holdfast") != "1" && needs != needsForm {
		return answer.Trouble(http.StatusForbidden, "header_missing", 0)
	}
	return nil
}

// userKey is the key of a context's user.
type userKey struct{}

// userOf returns who has logged in; where nobody has a name, one without.
func userOf(r *http.Request) users.User {
	user, _ := r.Context().Value(userKey{}).(users.User)
	return user
}

// letIn answers everything about logging in, and says whether to go on. The request then knows its user, and what a
// coach may not see is not there for it.
func (s *Server) letIn(w http.ResponseWriter, r *http.Request, needs need) bool {
	if r.URL.Path == "/login" && r.Method == http.MethodGet && r.URL.Query().Has("token") {
		s.letDeviceIn(w, r)
		return false
	}
	if needs == needsNothing || needs == needsForm {
		return true
	}
	user, in, err := s.gate.Admits(r)
	switch {
	case err != nil:
	case !in && (r.Method == http.MethodGet || r.Method == http.MethodHead) && wantsPage(r):
		w.Header().Set("Cache-Control", "no-store")
		http.Redirect(w, r, "/login", http.StatusSeeOther)
		return false
	case !in:
		err = answer.Trouble(http.StatusUnauthorized, "log_in", 0)
	case needs == needsAdmin && user.Role != users.Admin:
		err = answer.Trouble(http.StatusForbidden, "admins_only", 0)
	}
	if err != nil {
		s.fail(w, r, err)
		return false
	}
	ctx := context.WithValue(r.Context(), userKey{}, user)
	if user.Role != users.Admin {
		ctx = archive.ForCoach(ctx, user.ID)
	}
	*r = *r.WithContext(ctx)
	return true
}

// letDeviceIn lets a device in that was shown the code of another.
func (s *Server) letDeviceIn(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	c, err := s.gate.Redeem(r.Context(), r.URL.Query().Get("token"))
	switch {
	case err != nil:
		s.fail(w, r, err)
	case c == nil:
		http.Redirect(w, r, "/login?expired=1", http.StatusSeeOther)
	default:
		s.setCookie(w, r, c)
		http.Redirect(w, r, "/", http.StatusSeeOther)
	}
}

// logIn checks a password and begins a session.
func (s *Server) logIn(r *http.Request, name, password string) (*http.Cookie, error) {
	_, in, err := s.gate.Admits(r)
	if err != nil {
		return nil, err
	}
	c, err := s.gate.LogIn(r.Context(), name, password, s.gate.From(r), in)
	wrong := err != nil && answer.ProblemOf(err).Status == http.StatusUnauthorized
	if err != nil {
		s.log.Warn("a log-in was refused")
	}
	switch {
	case !s.gate.Named():
	case wrong:
		s.book.Refused(r.Context(), name)
	case err == nil:
		user, failed := s.archive.Users().Find(r.Context(), name)
		if failed != nil {
			return nil, failed
		}
		s.book.Note(r.Context(), users.Act{Who: user.Name, What: users.LoggedIn})
	}
	return c, err
}

// handleLogin takes a password as JSON from the page's script.
func (s *Server) handleLogin(w http.ResponseWriter, r *http.Request) {
	var in struct {
		Name     string `json:"name"`
		Password string `json:"password"`
	}
	err := answer.Decode(w, r, &in)
	var c *http.Cookie
	if err == nil {
		c, err = s.logIn(r, in.Name, in.Password)
	}
	if err == nil {
		s.setCookie(w, r, c)
	}
	s.reply(w, r, http.StatusOK, struct{}{}, err)
}

// handleLoginForm takes a password from the form, for a browser without script.
func (s *Server) handleLoginForm(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if err := r.ParseForm(); err != nil {
		s.fail(w, r, refusal.Wrong("form_unreadable", nil))
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	c, err := s.logIn(r, r.PostForm.Get("name"), r.PostForm.Get("password"))
	to := "/"
	if err != nil {
		switch answer.ProblemOf(err).Status {
		case http.StatusTooManyRequests:
			to = "/login?wait=1"
		case http.StatusUnauthorized:
			to = "/login?wrong=1"
		default:
			s.fail(w, r, err)
			return
		}
	} else {
		s.setCookie(w, r, c)
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

func (s *Server) handleLogout(w http.ResponseWriter, r *http.Request) {
	if err := s.gate.LogOut(r); err != nil {
		s.fail(w, r, err)
		return
	}
	if s.gate.Named() {
		s.book.Note(r.Context(), users.Act{Who: userOf(r).Name, What: users.LoggedOut})
	}
	s.events.Tell(func(*news.Listener) {}) // the streams of this session end now
	http.SetCookie(w, &http.Cookie{Name: gate.CookieName, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode,
		MaxAge: -1})
	s.answer(w, r, http.StatusOK, struct{}{})
}

// logged notes every request at debug level: the route, never the path, which may
// name things, nor where it came from.
func (s *Server) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		started := time.Now()
		next.ServeHTTP(w, r)
		s.log.Debug("request", "method", r.Method, "route", r.Pattern, "took", time.Since(started))
	})
}
