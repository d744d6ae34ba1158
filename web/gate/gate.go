package gate

import (
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

	"holdfast/web/answer"
)

// Gate decides who comes in: which names the page answers to, and who has shown
// the password.
type Gate struct {
	now      func() time.Time
	addr     netip.AddrPort // where the server listens
	password [sha256.Size]byte
	Needed   bool
	// Encrypted says that other devices reach the page by https.
	Encrypted bool
	// Interfaces lists this computer's addresses; tests replace it.
	Interfaces func() ([]net.Addr, error)

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

// local says that only this computer can reach the page.
func (g *Gate) local() bool { return g.addr.Addr().IsLoopback() }

// AnswersTo says whether a Host header names this server. Any other name was
// pointed here by someone else's DNS, to make a browser take their page and this
// one for the same.
func (g *Gate) AnswersTo(host string) bool {
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

// LogIn checks a password and returns a session's cookie, or a problem. Wrong
// ones are counted by the source they come from, and all together. The second count
// holds up neither a browser that is in already nor this computer: whoever guesses
// from the network must not keep the coach out.
func (g *Gate) LogIn(password string, from netip.Addr, in bool) (*http.Cookie, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	now := g.now()
	here := source(from)
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
		return nil, answer.Trouble(http.StatusTooManyRequests, "password_wait", int(wait/time.Second)+1)
	}
	given := sha256.Sum256([]byte(password))
	if !g.Needed || subtle.ConstantTimeCompare(given[:], g.password[:]) != 1 {
		if f == nil {
			makeRoom(g.failures, maxFailures, func(f *failures) time.Time { return f.last })
			f = &failures{}
			g.failures[here] = f
		}
		f.n, f.last = f.n+1, now
		g.wrong++
		return nil, answer.Trouble(http.StatusUnauthorized, "password_wrong", 0)
	}
	delete(g.failures, here)
	return g.session(now), nil
}

// session begins one. The lock is held.
func (g *Gate) session(now time.Time) *http.Cookie {
	text, sum := newSecret()
	makeRoom(g.sessions, maxSessions, func(t time.Time) time.Time { return t })
	g.sessions[sum] = now.Add(SessionTime)
	return &http.Cookie{Name: CookieName, Value: text, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode,
		MaxAge: int(SessionTime / time.Second)}
}

// Token returns a secret that logs one device in, once, within tokenTime.
func (g *Gate) Token() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	text, sum := newSecret()
	makeRoom(g.tokens, maxTokens, func(t time.Time) time.Time { return t })
	g.tokens[sum] = g.now().Add(TokenTime)
	return text
}

// Redeem exchanges a token for a session; nil when it is unknown, used or too old.
func (g *Gate) Redeem(token string) *http.Cookie {
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

// Admits says whether a request comes from someone who has logged in.
func (g *Gate) Admits(r *http.Request) bool {
	if !g.Needed {
		return true
	}
	c, err := r.Cookie(CookieName)
	if err != nil {
		return false
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	ends, ok := g.sessions[sha256.Sum256([]byte(c.Value))]
	return ok && g.now().Before(ends)
}

// LogOut ends the session of a request.
func (g *Gate) LogOut(r *http.Request) {
	if c, err := r.Cookie(CookieName); err == nil {
		g.mu.Lock()
		defer g.mu.Unlock()
		delete(g.sessions, sha256.Sum256([]byte(c.Value)))
	}
}

func New(addr net.Addr, password string, now func() time.Time) (*Gate, error) {
	g := &Gate{
		now: now, Interfaces: net.InterfaceAddrs, Needed: password != "", password: sha256.Sum256([]byte(password)),
		sessions: map[[sha256.Size]byte]time.Time{}, tokens: map[[sha256.Size]byte]time.Time{},
		failures: map[netip.Addr]*failures{},
	}
	tcp, ok := addr.(*net.TCPAddr)
	if !ok {
		return nil, errors.New("the address to listen at is no TCP address")
	}
	at := tcp.AddrPort()
	g.addr = netip.AddrPortFrom(at.Addr().Unmap(), at.Port())
	if !g.local() && !g.Needed {
		return nil, errors.New("a page that other computers can reach needs a password")
	}
	return g, nil
}

// failures counts the wrong passwords from one source.
type failures struct {
	n    int
	last time.Time
}

const (
	SessionTime = 12 * time.Hour
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
