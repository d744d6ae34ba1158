package web

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"io"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"

	"holdfast/desk/refusal"
)

// gate decides who comes in: which names the page answers to, and who has shown
// the password.
type gate struct {
	now      func() time.Time
	addr     netip.AddrPort // where the server listens
	password [sha256.Size]byte
	needed   bool
	// interfaces lists this computer's addresses; tests replace it.
	interfaces func() ([]net.Addr, error)

	mu       sync.Mutex
	sessions map[[sha256.Size]byte]time.Time // by hash of the cookie: when it ends
	tokens   map[[sha256.Size]byte]time.Time // one-time log-ins of the QR code
	failures map[netip.Addr]*failures        // by source
	// wrong counts the wrong passwords from everywhere together, at wrongAt; it falls
	// by one every allRest.
	wrong    float64
	wrongAt  time.Time
	names    map[string]bool // the hosts that the page answers to
	namesAge time.Time
}

// failures counts the wrong passwords from one source.
type failures struct {
	n    int
	last time.Time
}

const (
	sessionTime = 12 * time.Hour
	tokenTime   = 10 * time.Minute
	maxSessions = 200
	maxTokens   = 16
	// freeTries wrong passwords cost nothing; each one after them locks their source
	// for lockTime, whatever the password. The figures are of our own choice: they
	// allow 1440 guesses a day, and a password of 8 letters holds for centuries.
	freeTries   = 5
	lockTime    = time.Minute
	maxFailures = 1000 // sources remembered
	// Whoever has many addresses gets allTries wrong passwords with all of them, then
	// one every allRest: 14400 a day, at which those 8 letters still hold for
	// centuries.
	allTries   = 100
	allRest    = 6 * time.Second
	cookieName = "holdfast_session"
	namesTime  = time.Minute // after which this computer's addresses are read anew
)

func newGate(addr net.Addr, password string, now func() time.Time) (*gate, error) {
	g := &gate{
		now: now, interfaces: net.InterfaceAddrs, needed: password != "", password: sha256.Sum256([]byte(password)),
		sessions: map[[sha256.Size]byte]time.Time{}, tokens: map[[sha256.Size]byte]time.Time{}, failures: map[netip.Addr]*failures{},
	}
	tcp, ok := addr.(*net.TCPAddr)
	if !ok {
		return nil, errors.New("the address to listen at is no TCP address")
	}
	at := tcp.AddrPort()
	g.addr = netip.AddrPortFrom(at.Addr().Unmap(), at.Port())
	if !g.local() && !g.needed {
		return nil, errors.New("a page that other computers can reach needs a password")
	}
	return g, nil
}

// local says that only this computer can reach the page.
func (g *gate) local() bool { return g.addr.Addr().IsLoopback() }

// answersTo says whether a Host header names this server. Any other name was
// pointed here by someone else's DNS, to make a browser take their page and this
// one for the same.
func (g *gate) answersTo(host string) bool {
	name, port := host, "80"
	if h, p, err := net.SplitHostPort(host); err == nil {
		name, port = h, p
	}
	name = strings.ToLower(strings.TrimSuffix(strings.TrimPrefix(strings.TrimSuffix(name, "."), "["), "]"))
	if port != strconv.Itoa(int(g.addr.Port())) {
		return false
	}
	if name == "localhost" {
		return g.local() || g.addr.Addr().IsUnspecified()
	}
	ip, err := netip.ParseAddr(name)
	if err != nil {
		return false
	}
	ip = ip.Unmap()
	bound := g.addr.Addr()
	if !bound.IsUnspecified() {
		return ip == bound || bound.IsLoopback() && ip.IsLoopback()
	}
	return ip.IsLoopback() || g.own(ip.WithZone(""))
}

// own says whether an address is one of this computer's.
func (g *gate) own(ip netip.Addr) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.names == nil || g.now().Sub(g.namesAge) > namesTime {
		g.names, g.namesAge = map[string]bool{}, g.now()
		for _, a := range g.addresses() {
			g.names[a.String()] = true
		}
	}
	return g.names[ip.String()]
}

// addresses lists this computer's addresses.
func (g *gate) addresses() []netip.Addr {
	list, err := g.interfaces()
	if err != nil {
		return nil
	}
	var out []netip.Addr
	for _, a := range list {
		if p, err := netip.ParsePrefix(a.String()); err == nil {
			out = append(out, p.Addr().Unmap().WithZone(""))
		}
	}
	return out
}

// shared returns the page's address for other devices of the network, and whether
// there is one.
func (g *gate) shared() (string, bool) {
	if g.local() {
		return "", false
	}
	ip := g.addr.Addr()
	if ip.IsUnspecified() {
		best := -1
		for _, a := range g.addresses() {
			rank := 0
			switch {
			case a.IsLoopback(), a.IsLinkLocalUnicast(), a.IsMulticast():
				continue
			case a.Is4() && a.IsPrivate():
				rank = 3
			case a.Is4():
				rank = 2
			case a.IsPrivate():
				rank = 1
			}
			if rank > best {
				best, ip = rank, a
			}
		}
		if best < 0 {
			return "", false
		}
	}
	return "http://" + netip.AddrPortFrom(ip, g.addr.Port()).String() + "/", true
}

// newSecret returns 256 random bits as text, and their hash, which is all that is
// kept.
func newSecret() (string, [sha256.Size]byte) {
	b := make([]byte, 32)
	_, _ = rand.Read(b) // never fails, by its documentation
	text := base64.RawURLEncoding.EncodeToString(b)
	return text, sha256.Sum256([]byte(text))
}

// source is what wrong passwords are counted by: the address, of IPv6 the first 64
// bits, since every device has all the addresses that begin with them.
func source(from netip.Addr) netip.Addr {
	if from = from.Unmap().WithZone(""); !from.Is6() {
		return from
	}
	return netip.PrefixFrom(from, 64).Masked().Addr()
}

// logIn checks a password and returns a session's cookie, or a problem. Wrong
// ones are counted by the source they come from, and all together. The second count
// holds up neither a browser that is in already nor this computer: whoever guesses
// from the network must not keep the coach out.
func (g *gate) logIn(password string, from netip.Addr, in bool) (*http.Cookie, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	now := g.now()
	here := source(from)
	f := g.failures[here]
	wait := time.Duration(0)
	if f != nil && f.n >= freeTries {
		wait = lockTime - now.Sub(f.last)
	}
	g.wrong = max(0, g.wrong-max(0, now.Sub(g.wrongAt).Seconds())/allRest.Seconds())
	g.wrongAt = now
	if over := g.wrong + 1 - allTries; over > 0 && !in && !from.IsLoopback() {
		wait = max(wait, time.Duration(over*float64(allRest)))
	}
	if wait > 0 {
		return nil, trouble(http.StatusTooManyRequests, "password_wait", int(wait/time.Second)+1)
	}
	given := sha256.Sum256([]byte(password))
	if !g.needed || subtle.ConstantTimeCompare(given[:], g.password[:]) != 1 {
		if f == nil {
			makeRoom(g.failures, maxFailures, func(f *failures) time.Time { return f.last })
			f = &failures{}
			g.failures[here] = f
		}
		f.n, f.last = f.n+1, now
		g.wrong++
		return nil, trouble(http.StatusUnauthorized, "password_wrong", 0)
	}
	delete(g.failures, here)
	return g.session(now), nil
}

// session begins one. The lock is held.
func (g *gate) session(now time.Time) *http.Cookie {
	text, sum := newSecret()
	makeRoom(g.sessions, maxSessions, func(t time.Time) time.Time { return t })
	g.sessions[sum] = now.Add(sessionTime)
	return &http.Cookie{Name: cookieName, Value: text, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, MaxAge: int(sessionTime / time.Second)}
}

// makeRoom removes the oldest entry of a map that is full.
func makeRoom[K comparable, V any](m map[K]V, most int, age func(V) time.Time) {
	for len(m) >= most {
		var oldest K
		first := true
		for k, v := range m {
			if first || age(v).Before(age(m[oldest])) {
				oldest, first = k, false
			}
		}
		delete(m, oldest)
	}
}

// token returns a secret that logs one device in, once, within tokenTime.
func (g *gate) token() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	text, sum := newSecret()
	makeRoom(g.tokens, maxTokens, func(t time.Time) time.Time { return t })
	g.tokens[sum] = g.now().Add(tokenTime)
	return text
}

// redeem exchanges a token for a session; nil when it is unknown, used or too old.
func (g *gate) redeem(token string) *http.Cookie {
	g.mu.Lock()
	defer g.mu.Unlock()
	sum := sha256.Sum256([]byte(token))
	ends, ok := g.tokens[sum]
	delete(g.tokens, sum)
	if now := g.now(); ok && now.Before(ends) {
		return g.session(now)
	}
	return nil
}

// admits says whether a request comes from someone who has logged in.
func (g *gate) admits(r *http.Request) bool {
	if !g.needed {
		return true
	}
	c, err := r.Cookie(cookieName)
	if err != nil {
		return false
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	ends, ok := g.sessions[sha256.Sum256([]byte(c.Value))]
	return ok && g.now().Before(ends)
}

// logOut ends the session of a request.
func (g *gate) logOut(r *http.Request) {
	if c, err := r.Cookie(cookieName); err == nil {
		g.mu.Lock()
		defer g.mu.Unlock()
		delete(g.sessions, sha256.Sum256([]byte(c.Value)))
	}
}

// The content security policies: of pages, and of stored results, which are shown
// apart from the page and must not run anything. A PDF is shown by the browser's
// own viewer, which a sandbox would keep from starting.
const (
	pagePolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; media-src 'self' blob:; " +
		"connect-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'"
	resultPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; media-src data:; font-src data:; " +
		"frame-ancestors 'none'; base-uri 'none'; form-action 'none'; sandbox"
	pdfPolicy = "default-src 'none'; object-src 'self'; style-src 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
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
		s.guardPanics(inner).ServeHTTP(w, r)
	}))
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
	if !s.gate.answersTo(r.Host) {
		return trouble(http.StatusMisdirectedRequest, "other_name", 0)
	}
	forbidden := trouble(http.StatusForbidden, "other_site", 0)
	if crossOrigin.Check(r) != nil {
		return forbidden
	}
	if o := r.Header.Get("Origin"); o != "" && !sameOrigin(o, r.Host) {
		return forbidden
	}
	site := r.Header.Get("Sec-Fetch-Site")
	if r.Method == http.MethodGet || r.Method == http.MethodHead {
		// A link from elsewhere may lead here; nothing else may be fetched from there.
		if (site == "cross-site" || site == "same-site") && (r.Header.Get("Sec-Fetch-Mode") != "navigate" || r.Header.Get("Sec-Fetch-Dest") != "document") {
			return forbidden
		}
		return nil
	}
	if site != "" && site != "same-origin" {
		return forbidden
	}
	// A form of another site cannot set a header of its own.
	if r.Header.Get("X-Holdfast") != "1" && needs != needsForm {
		return trouble(http.StatusForbidden, "header_missing", 0)
	}
	return nil
}

// sameOrigin says whether an Origin header names the host that was asked.
func sameOrigin(origin, host string) bool {
	u, err := url.Parse(origin)
	return err == nil && u.Scheme == "http" && strings.EqualFold(u.Host, host)
}

// letIn answers everything about logging in, and says whether to go on.
func (s *Server) letIn(w http.ResponseWriter, r *http.Request, needs need) bool {
	switch {
	case r.URL.Path == "/login" && r.Method == http.MethodGet && r.URL.Query().Has("token"):
		c := s.gate.redeem(r.URL.Query().Get("token"))
		w.Header().Set("Cache-Control", "no-store")
		if c == nil {
			http.Redirect(w, r, "/login?expired=1", http.StatusSeeOther)
			return false
		}
		http.SetCookie(w, c)
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return false
	case needs != needsSession || s.gate.admits(r):
		return true
	case (r.Method == http.MethodGet || r.Method == http.MethodHead) && wantsPage(r):
		w.Header().Set("Cache-Control", "no-store")
		http.Redirect(w, r, "/login", http.StatusSeeOther)
		return false
	}
	s.fail(w, r, trouble(http.StatusUnauthorized, "log_in", 0))
	return false
}

// handleLogin takes a password as JSON from the page's script.
func (s *Server) handleLogin(w http.ResponseWriter, r *http.Request) {
	var in struct {
		Password string `json:"password"`
	}
	if err := decode(w, r, &in); err != nil {
		s.fail(w, r, err)
		return
	}
	c, err := s.gate.logIn(in.Password, remote(r), s.gate.admits(r))
	if err != nil {
		s.log.Warn("a log-in was refused")
		s.fail(w, r, err)
		return
	}
	http.SetCookie(w, c)
	s.answer(w, r, http.StatusOK, struct{}{})
}

// handleLoginForm takes a password from the form, for a browser without script.
func (s *Server) handleLoginForm(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if err := r.ParseForm(); err != nil {
		s.fail(w, r, refusal.Wrong("form_unreadable", nil))
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	c, err := s.gate.logIn(r.PostForm.Get("password"), remote(r), s.gate.admits(r))
	if err != nil {
		s.log.Warn("a log-in was refused")
		why := "/login?wrong=1"
		if problemOf(err).status == http.StatusTooManyRequests {
			why = "/login?wait=1"
		}
		http.Redirect(w, r, why, http.StatusSeeOther)
		return
	}
	http.SetCookie(w, c)
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

func (s *Server) handleLogout(w http.ResponseWriter, r *http.Request) {
	s.gate.logOut(r)
	s.events.tell(func(*listener) {}) // the streams of this session end now
	http.SetCookie(w, &http.Cookie{Name: cookieName, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode, MaxAge: -1})
	s.answer(w, r, http.StatusOK, struct{}{})
}

// remote returns the address a request comes from; the zero Addr when it is no IP.
func remote(r *http.Request) netip.Addr {
	p, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	return p.Addr().Unmap()
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
