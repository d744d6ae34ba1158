package web

import (
	"crypto/tls"
	"encoding/xml"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"holdfast/web/gate"
)

func TestHosts(t *testing.T) {
	lan := func() ([]net.Addr, error) {
		return []net.Addr{
			&net.IPNet{IP: net.IPv4(127, 0, 0, 1), Mask: net.CIDRMask(8, 32)},
			&net.IPNet{IP: net.IPv4(192, 168, 1, 5), Mask: net.CIDRMask(24, 32)},
			&net.IPNet{IP: net.ParseIP("fe80::1"), Mask: net.CIDRMask(64, 128)},
		}, nil
	}
	loopback, all, one := net.IPv4(127, 0, 0, 1), net.IPv4zero, net.IPv4(192, 168, 1, 5)
	tests := []struct {
		bound net.IP
		host  string
		want  bool
	}{
		{loopback, "127.0.0.1:7070", true},
		{loopback, "localhost:7070", true},
		{loopback, "LOCALHOST:7070", true},
		{loopback, "[::1]:7070", true},
		{loopback, "127.0.0.1", false},
		{loopback, "127.0.0.1:80", false},
		{loopback, "evil.example:7070", false},
		{loopback, "127.0.0.1.evil.example:7070", false},
		{loopback, "localhost.evil.example:7070", false},
		{loopback, "192.168.1.5:7070", false},
		{loopback, "", false},
		{loopback, ":7070", false},
		{loopback, "[::1", false},
		{all, "192.168.1.5:7070", true},
		{all, "localhost:7070", true},
		{all, "[fe80::1%25eth0]:7070", true},
		{all, "192.168.1.6:7070", false},
		{all, "0.0.0.0:7070", false},
		{one, "192.168.1.5:7070", true},
		{one, "localhost:7070", false},
		{one, "127.0.0.1:7070", false},
	}
	for _, tt := range tests {
		g, err := gate.New(gate.Options{Addr: &net.TCPAddr{IP: tt.bound, Port: 7070}, Password: "correct horse",
			Now: time.Now})
		if err != nil {
			t.Fatal(err)
		}
		g.Interfaces = lan
		if got := g.AnswersTo(strings.ReplaceAll(tt.host, "%25", "%")); got != tt.want {
			t.Errorf("bound to %v, host %q: %v, want %v", tt.bound, tt.host, got, tt.want)
		}
	}
	g, _ := gate.New(gate.Options{Addr: &net.TCPAddr{IP: all, Port: 7070}, Password: "correct horse", Now: time.Now})
	g.Interfaces = lan
	if got, ok := g.Shared(); !ok || got != "http://192.168.1.5:7070/" {
		t.Errorf("the shared address is %q", got)
	}
	if _, err := gate.New(gate.Options{Addr: &net.TCPAddr{IP: all, Port: 7070}, Password: "", Now: time.Now}); err == nil {
		t.Error("a page for all computers without a password is not refused")
	}
}

// TestEncrypted: other devices are led to the encrypted page, with cookies that stay encrypted; this computer's own
// browser is not, and the fingerprint stands on every page.
func TestEncrypted(t *testing.T) {
	b := newIdleBench(t, func(o *Options) { o.Password, o.Fingerprint = "correct horse", "AB:CD" })
	from := func(remote string, encrypted bool) func(*http.Request) {
		return func(r *http.Request) {
			if r.RemoteAddr = remote; encrypted {
				r.TLS = &tls.ConnectionState{}
			}
		}
	}
	afar, here := "192.168.1.7:4444", "127.0.0.1:4444"
	w := b.send("GET", "/login?token=x", nil, from(afar, false))
	to := w.Header().Get("Location")
	if w.Code != http.StatusPermanentRedirect || to != "https://"+testHost+"/login?token=x" {
		t.Errorf("from afar, unencrypted: %d to %q", w.Code, to)
	}
	for _, tt := range []struct {
		remote    string
		encrypted bool
	}{{afar, true}, {here, false}, {here, true}} {
		w := b.send("POST", "/api/login", strings.NewReader(`{"password":"correct horse"}`), func(r *http.Request) {
			from(tt.remote, tt.encrypted)(r)
			if tt.encrypted {
				r.Header.Set("Origin", "https://"+testHost)
			}
		})
		cookies := w.Result().Cookies()
		if w.Code != http.StatusOK || len(cookies) != 1 || cookies[0].Secure != tt.encrypted {
			t.Errorf("%+v: %d with %v", tt, w.Code, cookies)
		}
		page := b.send("GET", "/login", nil, from(tt.remote, tt.encrypted)).Body.String()
		if !strings.Contains(page, "AB:CD") {
			t.Errorf("%+v: the page does not tell the fingerprint", tt)
		}
	}
	if w := b.send("POST", "/api/login", strings.NewReader(`{}`), func(r *http.Request) {
		from(afar, true)(r)
		r.Header.Set("Origin", "http://"+testHost)
	}); w.Code != http.StatusForbidden {
		t.Errorf("an unencrypted page asks the encrypted one: %d", w.Code)
	}
}

func TestRequestsOfOtherSites(t *testing.T) {
	b := newIdleBench(t, nil)
	head := func(pairs ...string) func(*http.Request) {
		return func(r *http.Request) {
			for i := 0; i < len(pairs); i += 2 {
				r.Header.Set(pairs[i], pairs[i+1])
				if pairs[i+1] == "" {
					r.Header.Del(pairs[i])
				}
			}
		}
	}
	tests := []struct {
		name, method string
		set          func(*http.Request)
		want         int
	}{
		{"the page", "POST", head("Origin", "http://"+testHost, "Sec-Fetch-Site", "same-origin"), 201},
		{"a script", "POST", head(), 201},
		{"without the header", "POST", head("X-Holdfast", ""), 403},
		{"another origin", "POST", head("Origin", "http://evil.example"), 403},
		{"no origin", "POST", head("Origin", "null"), 403},
		{"another port", "POST", head("Origin", "http://127.0.0.1:8080"), 403},
		{"encrypted origin", "POST", head("Origin", "https://"+testHost), 403},
		{"cross-site", "POST", head("Sec-Fetch-Site", "cross-site"), 403},
		{"same site, other port", "POST", head("Sec-Fetch-Site", "same-site"), 403},
		{"typed by nobody", "POST", head("Sec-Fetch-Site", "none"), 403},
		{"another name", "POST", func(r *http.Request) { r.Host = "evil.example:7070" }, 421},
		{"read by another site", "GET", head("Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "no-cors", "Sec-Fetch-Dest",
			"image"), 403},
		{"framed by another site", "GET", head("Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "navigate", "Sec-Fetch-Dest",
			"iframe"), 403},
		{"a link from another site", "GET", head("Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "navigate",
			"Sec-Fetch-Dest", "document"), 200},
		{"read under another name", "GET", func(r *http.Request) { r.Host = "evil.example:7070" }, 421},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := b.send(tt.method, "/api/athletes", strings.NewReader(`{"name":"Sam Example"}`), tt.set)
			if w.Code != tt.want {
				t.Errorf("%d, want %d: %s", w.Code, tt.want, w.Body)
			}
			for name, want := range map[string]string{
				"Content-Security-Policy": pagePolicy, "X-Content-Type-Options": "nosniff",
				"Referrer-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin",
			} {
				if got := w.Header().Get(name); got != want {
					t.Errorf("%s: %q", name, got)
				}
			}
			if w.Header().Get("Access-Control-Allow-Origin") != "" {
				t.Error("other origins are let in")
			}
		})
	}
}

func TestPassword(t *testing.T) {
	now := time.Date(2025, 5, 2, 12, 0, 0, 0, time.UTC)
	b := newIdleBench(t, func(o *Options) {
		o.Address, o.Password = &net.TCPAddr{IP: net.IPv4zero, Port: 7070}, "correct horse"
		o.Desk.Now = func() time.Time { return now }
	})
	b.s.gate.Interfaces = func() ([]net.Addr, error) {
		return []net.Addr{&net.IPNet{IP: net.IPv4(192, 168, 1, 5), Mask: net.CIDRMask(24, 32)}}, nil
	}
	for path, want := range map[string]int{"/api/athletes": 401, "/qr.svg": 401, "/clips/x/video": 401, "/api/login": 401,
		"/api/events": 401} {
		if w := b.send("GET", path, nil, nil); w.Code != want {
			t.Errorf("%s without a session: %d, want %d", path, w.Code, want)
		}
	}
	page := b.send("GET", "/athletes", nil, func(r *http.Request) { r.Header.Set("Accept", "text/html") })
	if page.Code != 303 || page.Header().Get("Location") != "/login" {
		t.Errorf("a page without a session: %d to %q", page.Code, page.Header().Get("Location"))
	}
	login := func(password, from string) *httptest.ResponseRecorder {
		return b.send("POST", "/api/login", strings.NewReader(`{"password":"`+password+`"}`),
			func(r *http.Request) { r.RemoteAddr = from })
	}
	for range gate.FreeTries {
		if w := login("wrong", "192.168.1.9:1"); w.Code != 401 || len(w.Result().Cookies()) > 0 {
			t.Fatalf("a wrong password: %d", w.Code)
		}
	}
	if w := login("correct horse", "192.168.1.9:2"); w.Code != 429 || w.Header().Get("Retry-After") == "" {
		t.Errorf("after too many wrong passwords: %d", w.Code)
	}
	now = now.Add(gate.LockTime)
	w := login("correct horse", "192.168.1.9:3")
	if w.Code != 200 {
		t.Fatalf("the right password a minute later: %d", w.Code)
	}
	c := w.Result().Cookies()[0]
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || len(c.Value) < 40 {
		t.Errorf("cookie %+v", c)
	}
	b.cookie = c.Name + "=" + c.Value
	b.want(200, "GET", "/api/athletes", "", nil)

	// The form, for a browser without script.
	form := b.send("POST", "/login", strings.NewReader(url.Values{"password": {"correct horse"}}.Encode()),
		func(r *http.Request) {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			r.Header.Del("X-Holdfast")
		})
	if form.Code != 303 || form.Header().Get("Location") != "/" || len(form.Result().Cookies()) != 1 {
		t.Errorf("the form: %d to %q", form.Code, form.Header().Get("Location"))
	}

	// The code on the screen lets one device in, once.
	svg := b.send("GET", "/qr.svg", nil, nil)
	if svg.Code != 200 || svg.Header().Get("Content-Type") != "image/svg+xml" {
		t.Fatalf("the QR code: %d", svg.Code)
	}
	mine := b.cookie
	b.cookie = ""
	token := b.s.gate.Token("")
	redeem := func() *httptest.ResponseRecorder { return b.send("GET", "/login?token="+token, nil, nil) }
	if w := redeem(); w.Code != 303 || w.Header().Get("Location") != "/" || len(w.Result().Cookies()) != 1 {
		t.Errorf("the token: %d to %q", w.Code, w.Header().Get("Location"))
	}
	if w := redeem(); w.Header().Get("Location") != "/login?expired=1" || len(w.Result().Cookies()) != 0 {
		t.Errorf("the token a second time: %q", w.Header().Get("Location"))
	}
	token = b.s.gate.Token("")
	now = now.Add(gate.TokenTime)
	if w := redeem(); w.Header().Get("Location") != "/login?expired=1" {
		t.Errorf("the token too late: %q", w.Header().Get("Location"))
	}
	b.cookie = mine
	b.want(200, "POST", "/api/logout", "", nil)
	b.want(401, "GET", "/api/athletes", "", nil)
	b.cookie = ""
	w = login("correct horse", "192.168.1.9:3")
	b.cookie = w.Result().Cookies()[0].Name + "=" + w.Result().Cookies()[0].Value
	now = now.Add(gate.SessionTime)
	b.want(401, "GET", "/api/athletes", "", nil)
	for _, secret := range []string{"192.168", "correct", token} {
		if strings.Contains(b.log.String(), secret) {
			t.Errorf("the log names %q:\n%s", secret, b.log)
		}
	}
}

// The stream of events tells nothing more after the log-out, nor after the session's
// time.
func TestEventsEndWithTheSession(t *testing.T) {
	for _, how := range []string{"log-out", "time"} {
		t.Run(how, func(t *testing.T) {
			var mu sync.Mutex
			now := time.Date(2025, 5, 2, 12, 0, 0, 0, time.UTC)
			b := newIdleBench(t, func(o *Options) {
				o.Password = "correct horse"
				o.Desk.Now = func() time.Time { mu.Lock(); defer mu.Unlock(); return now }
			})
			w := b.send("POST", "/api/login", strings.NewReader(`{"password":"correct horse"}`), nil)
			b.cookie = w.Result().Cookies()[0].Name + "=" + w.Result().Cookies()[0].Value
			r, out := io.Pipe()
			go func() {
				req := httptest.NewRequest("GET", "/api/events", nil)
				req.Host = testHost
				req.Header.Set("Cookie", b.cookie)
				b.s.Handler().ServeHTTP(&pipeWriter{w: out, header: http.Header{}}, req)
				_ = out.Close()
			}()
			next := eventReader(r)
			if name, _ := next(); name != "jobs" {
				t.Fatalf("the first event is %s", name)
			}
			if how == "log-out" {
				b.want(200, "POST", "/api/logout", "", nil)
			} else {
				mu.Lock()
				now = now.Add(gate.SessionTime)
				mu.Unlock()
				b.s.events.ClipChanged("secret")
			}
			if name, data := next(); name != "end" {
				t.Errorf("after the session: %s %s", name, data)
			}
		})
	}
}

func TestQRCode(t *testing.T) {
	svg, err := gate.QRCode("http://192.168.1.5:7070/login?token=abc")
	if err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(strings.NewReader(string(svg)))
	for {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	// The finder pattern of the upper left corner begins after the border of four.
	if !regexp.MustCompile(`d="M4 4h7v1h-7z`).Match(svg) {
		t.Errorf("no finder pattern in %.200s", svg)
	}
	b := newIdleBench(t, nil)
	b.want(404, "GET", "/qr.svg", "", nil)
	var a struct{ URL string }
	b.want(200, "GET", "/api/address", "", &a)
	if a.URL != "" {
		t.Errorf("a page for this computer alone is shared at %q", a.URL)
	}
}
