package web

import (
	"context"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"holdfast/web/answer"
)

// limitedConn remembers the time limit for reading.
type limitedConn struct {
	net.Conn
	mu    sync.Mutex
	limit time.Time
}

func (c *limitedConn) SetReadDeadline(t time.Time) error {
	c.mu.Lock()
	c.limit = t
	c.mu.Unlock()
	return c.Conn.SetReadDeadline(t)
}

func (c *limitedConn) limited() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return !c.limit.IsZero()
}

// limitedListener makes such connections, of which the newest is last.
type limitedListener struct {
	net.Listener
	last *limitedConn
}

func (l *limitedListener) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	l.last = &limitedConn{Conn: c}
	return l.last, nil
}

// live is a real server at a real port whose only route is the handler.
func live(t *testing.T, change func(*Server), h http.HandlerFunc) (url string, l *limitedListener) {
	t.Helper()
	ts := httptest.NewUnstartedServer(nil)
	b := newIdleBench(t, func(o *Options) { o.Address = ts.Listener.Addr() })
	if change != nil {
		change(b.s)
	}
	mux := http.NewServeMux()
	mux.HandleFunc("/", h)
	l = &limitedListener{Listener: ts.Listener}
	ts.Listener = l
	ts.Config.Handler = b.s.protect(mux)
	ts.Start()
	t.Cleanup(ts.Close)
	return ts.URL, l
}

// A request that takes longer than its body may is answered: the limit is for the body
// alone, and ends with it.
func TestLongRequestsAreAnswered(t *testing.T) {
	for _, tt := range []struct {
		name, method, body string
		read, steady       bool // the handler reads the body, as an upload
		limited            bool // while it works
	}{
		{"nothing to read", "GET", "", false, false, false},
		{"an empty body", "POST", "", true, true, false},
		{"a body, before it is read", "POST", "{}", false, false, true},
		{"a body, when it was read", "POST", "{}", true, false, false},
		{"an upload", "POST", strings.Repeat("x", 1<<20), true, true, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var l *limitedListener
			limited := false
			var s *Server
			url, l := live(t, func(made *Server) { s = made }, func(w http.ResponseWriter, r *http.Request) {
				body := io.Reader(r.Body)
				if tt.steady {
					p, leave, err := s.intake.Enter(r.Context(), r.Body, http.NewResponseController(w).SetReadDeadline)
					if err != nil {
						t.Error(err)
						return
					}
					defer leave()
					body = p
				}
				if tt.read {
					if _, err := io.Copy(io.Discard, body); err != nil {
						t.Error(err)
					}
				}
				limited = l.last.limited()
			})
			r, err := http.NewRequestWithContext(t.Context(), tt.method, url, strings.NewReader(tt.body))
			if err != nil {
				t.Fatal(err)
			}
			r.Header.Set("X-Holdfast", "1")
			w, err := http.DefaultClient.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			_ = w.Body.Close()
			if w.StatusCode != 200 || limited != tt.limited {
				t.Errorf("%d, limited %v, want %v", w.StatusCode, limited, tt.limited)
			}
		})
	}
}

// A body that never comes ends its request with an error, not with an empty success.
func TestBodyThatNeverComes(t *testing.T) {
	var s *Server
	url, _ := live(t, func(made *Server) { s = made; s.bodyTime = time.Millisecond },
		func(w http.ResponseWriter, r *http.Request) {
			var in struct{}
			if err := answer.Decode(w, r, &in); err != nil {
				s.fail(w, r, err)
			}
		})
	body, out := io.Pipe()
	defer out.Close()
	r, err := http.NewRequestWithContext(t.Context(), "POST", url, body)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("X-Holdfast", "1")
	w, err := http.DefaultClient.Do(r)
	if err != nil {
		return // the connection was closed: no success either
	}
	defer w.Body.Close()
	if w.StatusCode < 400 {
		t.Errorf("status %d", w.StatusCode)
	}
}

// A request that is under way when the server stops is told so.
func TestRequestOfAStoppingServer(t *testing.T) {
	b := newIdleBench(t, nil)
	ctx, stop := context.WithCancel(t.Context())
	stop()
	for _, path := range []string{"/api/athletes", "/athletes"} {
		w := b.send("GET", path, nil, func(r *http.Request) {
			*r = *r.WithContext(ctx)
			r.Header.Set("Accept", "text/html")
		})
		if w.Code != http.StatusServiceUnavailable || w.Body.Len() == 0 || w.Header().Get("Retry-After") == "" {
			t.Errorf("%s: %d %q", path, w.Code, w.Body)
		}
	}
}
