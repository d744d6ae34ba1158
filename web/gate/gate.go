package gate

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"

	"rsc.io/qr"

	"holdfast/archive/rows"
	"holdfast/archive/users"
	"holdfast/web/answer"
)

// Gate decides who comes in: which names the page answers to, and who has shown
// the password, or their own where users have names.
type Gate struct {
	now      func() time.Time
	addr     netip.AddrPort // where the server listens
	password [sha256.Size]byte
	// users are those who log in by name; nil: there is one password, or none.
	users  *users.Users
	public *url.URL // under which name others know the page; nil: that of this computer
	direct bool     // no proxy is between
	Needed bool
	// Encrypted says that other devices reach the page by https.
	Encrypted bool
	// Interfaces lists this computer's addresses; tests replace it.
	Interfaces func() ([]net.Addr, error)

	mu       sync.Mutex
	sessions map[[sha256.Size]byte]time.Time // by hash of the cookie: when it ends
	tokens   map[[sha256.Size]byte]token     // one-time log-ins of the QR code
	failures map[netip.Addr]*failures        // by source
	// wrong counts the wrong passwords from everywhere together, at wrongAt; it falls
	// by one every allRest.
	wrong    float64
	wrongAt  time.Time
	names    map[string]bool // the hosts that the page answers to
	namesAge time.Time
}

// token is a one-time log-in.
type token struct {
	ends time.Time
	user string // whose; empty where nobody has a name
}

// Options say how a page lets people in.
type Options struct {
	Addr     net.Addr // where the server listens
	Password string   // that everybody has; empty: none
	// Users are those who log in by name, in place of a password that everybody has; nil: nobody does.
	Users *users.Users
	// Public is the address under which others know the page, https alone, by a proxy or, Direct, by a certificate of
	// the page's own; empty: that of this computer.
	Public string
	Direct bool
	Now    func() time.Time
}

// Named says whether users log in by name.
func (g *Gate) Named() bool { return g.users != nil }

// local says that only this computer can reach the page.
func (g *Gate) local() bool { return g.addr.Addr().IsLoopback() }

// AnswersTo says whether a Host header names this server. Any other name was
// pointed here by someone else's DNS, to make a browser take their page and this
// one for the same.
func (g *Gate) AnswersTo(host string) bool {
	if g.ByName(host) {
		return true
	}
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

// ByName says whether a Host header is the name under which others know the page.
func (g *Gate) ByName(host string) bool {
	return g.public != nil && strings.EqualFold(host, g.public.Host)
}

// own says whether an address is one of this computer's.
func (g *Gate) own(ip netip.Addr) bool {
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
func (g *Gate) addresses() []netip.Addr {
	list, err := g.Interfaces()
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

// Shared returns the page's address for other devices of the network, and whether
// there is one.
func (g *Gate) Shared() (string, bool) {
	if g.public != nil {
		return "https://" + g.public.Host + "/", true
	}
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
	scheme := "http://"
	if g.Encrypted {
		scheme = "https://"
	}
	return scheme + netip.AddrPortFrom(ip, g.addr.Port()).String() + "/", true
}

// LogIn checks a password, that of the user of a name where users have names, and returns a session's cookie, or a
// problem. Wrong ones are counted by the source they come from, and all together. The second count
// holds up neither a browser that is in already nor this computer: whoever guesses
// from the network must not keep the coach out.
func (g *Gate) LogIn(ctx context.Context, name, password string, from netip.Addr, in bool) (*http.Cookie, error) {
	here := source(from)
	if err := g.countWrong(here, from, in); err != nil {
		return nil, err
	}
	user, ok, err := g.knows(ctx, name, password)
	if err == nil && !ok {
		if g.Named() {
			return nil, answer.Trouble(http.StatusUnauthorized, "log_in_wrong", 0)
		}
		return nil, answer.Trouble(http.StatusUnauthorized, "password_wrong", 0)
	}
	g.mu.Lock()
	delete(g.failures, here)
	g.wrong = max(0, g.wrong-1)
	g.mu.Unlock()
	if err != nil {
		return nil, err
	}
	return g.begin(ctx, user.ID)
}

// countWrong counts a password that is about to be tried as a wrong one, or says for how long none is.
func (g *Gate) countWrong(here, from netip.Addr, in bool) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	now := g.now()
	f := g.failures[here]
	wait := time.Duration(0)
	if f != nil && f.n >= FreeTries {
		wait = LockTime - now.Sub(f.last)
	}
	g.wrong = max(0, g.wrong-max(0, now.Sub(g.wrongAt).Seconds())/allRest.Seconds())
	g.wrongAt = now
	if over := g.wrong + 1 - allTries; over > 0 && !in && !from.IsLoopback() {
		wait = max(wait, time.Duration(over*float64(allRest)))
	}
	if wait > 0 {
		return answer.Trouble(http.StatusTooManyRequests, "password_wait", int(wait/time.Second)+1)
	}
	if f == nil {
		makeRoom(g.failures, maxFailures, func(f *failures) time.Time { return f.last })
		f = &failures{}
		g.failures[here] = f
	}
	f.n, f.last = f.n+1, now
	g.wrong++
	return nil
}

// knows says whether a password is right, and whose it is.
func (g *Gate) knows(ctx context.Context, name, password string) (user users.User, ok bool, err error) {
	if g.Named() {
		return g.users.Check(ctx, name, password)
	}
	given := sha256.Sum256([]byte(password))
	return everybody, g.Needed && subtle.ConstantTimeCompare(given[:], g.password[:]) == 1, nil
}

// everybody is who comes in where nobody has a name: all is theirs.
var everybody = users.User{Role: users.Admin}

// begin begins a session of a user, or of whoever has the password.
func (g *Gate) begin(ctx context.Context, user string) (c *http.Cookie, err error) {
	c = &http.Cookie{Name: CookieName, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode,
		MaxAge: int(SessionTime / time.Second)}
	if g.Named() {
		c.Value, err = g.users.Begin(ctx, user)
		return c, err
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	text, sum := newSecret()
	makeRoom(g.sessions, maxSessions, func(t time.Time) time.Time { return t })
	g.sessions[sum] = g.now().Add(SessionTime)
	c.Value = text
	return c, nil
}

// Token returns a secret that logs one device in, once, within TokenTime, as the user of an id.
func (g *Gate) Token(user string) string {
	g.mu.Lock()
	defer g.mu.Unlock()
	text, sum := newSecret()
	makeRoom(g.tokens, maxTokens, func(t token) time.Time { return t.ends })
	g.tokens[sum] = token{g.now().Add(TokenTime), user}
	return text
}

// Redeem exchanges a token for a session; nil when it is unknown, used or too old.
func (g *Gate) Redeem(ctx context.Context, secret string) (*http.Cookie, error) {
	sum := sha256.Sum256([]byte(secret))
	g.mu.Lock()
	t, ok := g.tokens[sum]
	delete(g.tokens, sum)
	g.mu.Unlock()
	if !ok || !g.now().Before(t.ends) {
		return nil, nil
	}
	c, err := g.begin(ctx, t.user)
	if errors.Is(err, rows.ErrNotFound) { // who showed the code was removed meanwhile
		return nil, nil
	}
	return c, err
}

// Admits returns who a request comes from; ok is false when they have not logged in. Where nobody has a name, everybody
// may see all.
func (g *Gate) Admits(r *http.Request) (who users.User, ok bool, err error) {
	if !g.Needed {
		return everybody, true, nil
	}
	c, err := r.Cookie(CookieName)
	if err != nil {
		return users.User{}, false, nil
	}
	if g.Named() {
		return g.users.Session(r.Context(), c.Value)
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	ends, ok := g.sessions[sha256.Sum256([]byte(c.Value))]
	return everybody, ok && g.now().Before(ends), nil
}

// LogOut ends the session of a request.
func (g *Gate) LogOut(r *http.Request) error {
	c, err := r.Cookie(CookieName)
	if err != nil {
		return nil
	}
	if g.Named() {
		return g.users.End(r.Context(), c.Value)
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	delete(g.sessions, sha256.Sum256([]byte(c.Value)))
	return nil
}

// New returns a gate. The error says what is wrong with the options.
func New(opt Options) (*Gate, error) {
	g := &Gate{
		now: opt.Now, Interfaces: net.InterfaceAddrs, users: opt.Users, direct: opt.Direct,
		Needed:   opt.Password != "" || opt.Users != nil,
		password: sha256.Sum256([]byte(opt.Password)),
		sessions: map[[sha256.Size]byte]time.Time{}, tokens: map[[sha256.Size]byte]token{},
		failures: map[netip.Addr]*failures{},
	}
	tcp, ok := opt.Addr.(*net.TCPAddr)
	if !ok {
		return nil, errors.New("the address to listen at is no TCP address")
	}
	if opt.Public != "" {
		if g.public, ok = PublicAddress(opt.Public); !ok {
			return nil, errors.New("the public address is no https address of a name alone")
		}
	}
	at := tcp.AddrPort()
	g.addr = netip.AddrPortFrom(at.Addr().Unmap(), at.Port())
	if (!g.local() || g.public != nil) && !g.Needed {
		return nil, errors.New("a page that other computers can reach needs a password")
	}
	return g, nil
}

// PublicAddress reads the address under which others know the page.
func PublicAddress(text string) (*url.URL, bool) {
	u, err := url.Parse(text)
	ok := err == nil && u.Scheme == "https" && u.Host != "" && strings.Trim(u.Path, "/") == "" && u.RawQuery == "" &&
		u.User == nil && u.Fragment == ""
	return u, ok
}

// failures counts the wrong passwords from one source.
type failures struct {
	n    int
	last time.Time
}

const (
	SessionTime = users.SessionTime
	TokenTime   = 10 * time.Minute
	maxSessions = 200
	maxTokens   = 16
	// FreeTries wrong passwords cost nothing; each one after them locks their source
	// for lockTime, whatever the password. The figures are of our own choice: they
	// allow 1440 guesses a day, and a password of 8 letters holds for centuries.
	FreeTries   = 5
	LockTime    = time.Minute
	maxFailures = 1000 // sources remembered
	// Whoever has many addresses gets allTries wrong passwords with all of them, then
	// one every allRest: 14400 a day, at which those 8 letters still hold for
	// centuries.
	allTries   = 100
	allRest    = 6 * time.Second
	CookieName = "holdfast_session"
	namesTime  = time.Minute // after which this computer's addresses are read anew
)

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

// QRCode draws a text as a QR code: dark on white also in a dark page, with the
// quiet border of four modules that readers need (ISO/IEC 18004, from memory).
func QRCode(text string) ([]byte, error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return nil, fmt.Errorf("drawing the QR code: %w", err)
	}
	const border = 4
	side := code.Size + 2*border
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" shape-rendering="crispEdges" `+
		`role="img" aria-label="QR code of this page's address">`, side, side)
	fmt.Fprintf(&b, `<rect width="%d" height="%d" fill="#fff"/><path fill="#000" d="`, side, side)
	for y := range code.Size {
		for x := 0; x < code.Size; x++ {
			if !code.Black(x, y) {
				continue
			}
			from := x
			for x < code.Size && code.Black(x, y) {
				x++
			}
			fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", from+border, y+border, x-from, x-from)
		}
	}
	b.WriteString(`"/></svg>`)
	return []byte(b.String()), nil
}

// Encrypts says whether a request came encrypted, all the way from the browser to this program or to its proxy.
func (g *Gate) Encrypts(r *http.Request) bool { return r.TLS != nil || g.ByName(r.Host) && !g.direct }

// From returns the address that wrong passwords of a request are counted by: where a proxy shows the page, the one that
// the proxy names.
func (g *Gate) From(r *http.Request) netip.Addr {
	if said := r.Header.Values("X-Forwarded-For"); g.ByName(r.Host) && !g.direct && len(said) > 0 {
		all := said[len(said)-1]
		last := strings.TrimSpace(all[strings.LastIndex(all, ",")+1:])
		if a, err := netip.ParseAddr(last); err == nil {
			return a.Unmap()
		}
	}
	return Remote(r)
}

// Remote returns the address a request comes from; the zero Addr when it is no IP.
func Remote(r *http.Request) netip.Addr {
	p, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	return p.Addr().Unmap()
}

// SameOrigin says whether an Origin header names the host that was asked, and how: encrypted or not.
func SameOrigin(origin, host string, encrypted bool) bool {
	scheme := "http"
	if encrypted {
		scheme = "https"
	}
	u, err := url.Parse(origin)
	return err == nil && u.Scheme == scheme && strings.EqualFold(u.Host, host)
}
