package web

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"holdfast/desk/given"
	"holdfast/desk/upload"
)

// stalling is an upload that sends its beginning and then nothing, with the time limit of
// its connection.
type stalling struct {
	*httptest.ResponseRecorder
	head    io.Reader
	waits   chan<- struct{} // is told when nothing comes any more
	once    sync.Once
	limited chan struct{} // closed when the time limit has passed

	mu    sync.Mutex
	limit time.Time
}

func (s *stalling) Read(p []byte) (int, error) {
	if n, err := s.head.Read(p); err == nil {
		return n, nil
	}
	s.once.Do(func() { s.waits <- struct{}{} })
	<-s.limited
	return 0, os.ErrDeadlineExceeded
}

func (s *stalling) SetReadDeadline(limit time.Time) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	passed := !limit.IsZero() && limit.Before(time.Now())
	if passed && (s.limit.IsZero() || !s.limit.Before(time.Now())) {
		close(s.limited)
	}
	if s.limit.IsZero() || !s.limit.Before(time.Now()) {
		s.limit = limit
	}
	return nil
}

// Three hundred uploads begin and stand still. They hold up nobody: who comes gets the
// place of one of them, and each is told so.
func TestHonestUploadAmongStalled(t *testing.T) {
	const many, stallTime = 300, 5 * time.Second // what an upload may be behind when others wait
	clock := &movedClock{now: time.Date(2025, 5, 2, 12, 0, 0, 0, time.UTC)}
	b := newIdleBench(t, func(o *Options) { o.Desk.Now = clock.read })
	body, kind := form([]string{"athlete_name=Sam Example"}, "slow.mp4="+movie(strings.Repeat("x", 20_000)))
	head := body.String()[:10_000]
	waits := make(chan struct{})
	var all []*stalling
	var group sync.WaitGroup
	stall := func() {
		s := &stalling{ResponseRecorder: httptest.NewRecorder(), head: strings.NewReader(head), waits: waits,
			limited: make(chan struct{})}
		all = append(all, s)
		group.Go(func() {
			r := httptest.NewRequest("POST", "/api/clips", s)
			r.Host = testHost
			r.Header.Set("X-Holdfast", "1")
			r.Header.Set("Content-Type", kind)
			b.s.Handler().ServeHTTP(s, r)
		})
	}
	honest := func(n int) {
		t.Helper()
		clip := movie(fmt.Sprint(strings.Repeat("y", 100_000), n))
		added := b.upload([]string{"athlete_name=Sam Example"}, "slow.mp4="+clip)
		if len(added.Clips) != 1 || added.Clips[0].Job == "" {
			t.Errorf("the honest upload %d: %+v", n, added)
		}
	}
	for n := range many {
		if n >= b.s.limits.Incoming {
			clock.add(stallTime) // those before stand still for long enough by now
		}
		stall()
		<-waits
		if n == b.s.limits.Uploads || n == b.s.limits.Incoming-2 {
			honest(n)
		}
	}
	clock.add(stallTime)
	for n := range 3 {
		honest(many + n)
	}
	for _, s := range all {
		_ = s.SetReadDeadline(time.Unix(1, 0)) // who still has a place waits too long
	}
	group.Wait()
	ended := 0
	for i, s := range all {
		switch {
		case s.Code == 503 && s.Header().Get("Retry-After") != "" && strings.Contains(s.Body.String(), "stood still"):
			ended++
		case s.Code != 400 || !strings.Contains(s.Body.String(), "broke off"):
			t.Fatalf("stalled upload %d: %d %s", i, s.Code, s.Body)
		}
	}
	if want := many - b.s.limits.Incoming; ended < want {
		t.Errorf("%d uploads that stood still were ended for others, want %d", ended, want)
	}
}

// movedClock is a clock that a test moves.
type movedClock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *movedClock) read() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *movedClock) add(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// A refusal is sent at once, however much the request says that it will send: the rest is
// not waited for.
func TestEarlyRefusals(t *testing.T) {
	ts := httptest.NewUnstartedServer(nil)
	b := newIdleBench(t, func(o *Options) { o.Address = ts.Listener.Addr() })
	b.s.bodyTime = time.Hour // nothing ends a wait for the body
	ts.Config.Handler = b.s.Handler()
	ts.Start()
	defer ts.Close()
	host := strings.TrimPrefix(ts.URL, "http://")
	ours := " HTTP/1.1\r\nHost: " + host + "\r\nX-Holdfast: 1\r\n"
	clip := "POST /api/clips" + ours + "Content-Type: "
	half, err := b.s.intake.Begin(t.Context(), upload.About{Name: "slow.mp4", Size: 1000,
		Clip: given.Clip{AthleteName: "Sam Example"}})
	if err != nil {
		t.Fatal(err)
	}
	piece := half.ID
	for _, tt := range []struct {
		name, head, body string
		status           int
	}{
		{"another site's", "POST /api/athletes HTTP/1.1\r\nHost: " + host + "\r\n", "", 403},
		{"another name", "POST /api/athletes HTTP/1.1\r\nHost: example.com\r\nX-Holdfast: 1\r\n", "", 421},
		{"no such address", "POST /api/nothing" + ours, "", 404},
		{"no form", clip + "text/plain\r\n", "", 400},
		{"a bad field", clip + "multipart/form-data; boundary=x\r\n",
			"--x\r\nContent-Disposition: form-data; name=colour\r\n\r\nred\r\n--x\r\n", 400},
		{"no such upload", "PATCH /api/uploads/none" + ours + "Upload-Offset: 0\r\n", "", 404},
		{"another place", "PATCH /api/uploads/" + piece + ours + "Upload-Offset: 7\r\n", "", 409},
		{"no such clip", "DELETE /api/clips/none" + ours, "", 404},
		{"no JSON", "POST /api/athletes" + ours + "Content-Type: text/plain\r\n", "", 415},
		{"broken JSON", "POST /api/athletes" + ours, "{]", 400},
	} {
		for _, length := range []string{"Content-Length: 999", "Content-Length: 200000", "Content-Length: 99999999",
			"Transfer-Encoding: chunked"} {
			t.Run(tt.name+", "+length, func(t *testing.T) {
				c, err := net.Dial("tcp", host)
				if err != nil {
					t.Fatal(err)
				}
				defer c.Close()
				body := tt.body
				if strings.HasSuffix(length, "chunked") && body != "" {
					body = fmt.Sprintf("%x\r\n%s\r\n", len(body), body)
				}
				if _, err := io.WriteString(c, tt.head+length+"\r\n\r\n"+body); err != nil {
					t.Fatal(err)
				}
				_ = c.SetReadDeadline(time.Now().Add(time.Minute)) // what never comes fails the test
				w, err := http.ReadResponse(bufio.NewReader(c), nil)
				if err != nil {
					t.Fatalf("no answer without the body: %v", err)
				}
				defer w.Body.Close()
				want := tt.status
				if tt.name == "broken JSON" && strings.HasSuffix(length, "99999999") {
					want = 413 // it is not even looked at
				}
				if w.StatusCode != want || !w.Close {
					t.Errorf("%d, closing %v, want %d and that it closes", w.StatusCode, w.Close, want)
				}
			})
		}
	}
	for name, head := range map[string]string{
		"JSON":         "POST /api/athletes" + ours + "Content-Length: 99999999\r\n\r\n",
		"a correction": "POST /api/clips/none/corrections" + ours + "Content-Length: 99999999\r\n\r\n",
		"a piece":      "PATCH /api/uploads/" + piece + ours + "Upload-Offset: 0\r\nContent-Length: 99999999\r\n\r\n",
	} {
		c, err := net.Dial("tcp", host)
		if err != nil {
			t.Fatal(err)
		}
		_, _ = io.WriteString(c, head)
		_ = c.SetReadDeadline(time.Now().Add(time.Minute))
		w, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err != nil || w.StatusCode/100 != 4 {
			t.Errorf("%s that says itself that it is too large: %v, %v", name, w, err)
		}
		_ = c.Close()
	}
}
