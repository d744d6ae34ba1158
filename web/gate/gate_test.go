package gate

import (
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"testing"
	"time"

	"holdfast/web/answer"
)

// everywhere is an address that all computers reach.
var everywhere = &net.TCPAddr{IP: net.IPv4zero, Port: 7070}

// The tables of sessions, tokens and failures do not grow without end.
func TestGateIsBounded(t *testing.T) {
	now := time.Date(2025, 5, 2, 12, 0, 0, 0, time.UTC)
	g, err := New(Options{Addr: everywhere, Password: "correct horse", Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 2 * maxFailures {
		now = now.Add(allRest)
		_ = g.Token("")
		from := netip.AddrFrom4([4]byte{10, 0, byte(i >> 8), byte(i)})
		_, _ = g.LogIn(t.Context(), "", "wrong", from, false)
		if i < 2*maxSessions {
			from = netip.AddrFrom4([4]byte{10, 1, byte(i >> 8), byte(i)})
			if _, err := g.LogIn(t.Context(), "", "correct horse", from, false); err != nil {
				t.Fatal(err)
			}
		}
	}
	if len(g.sessions) > maxSessions || len(g.tokens) > maxTokens || len(g.failures) > maxFailures {
		t.Errorf("%d sessions, %d tokens, %d failures", len(g.sessions), len(g.tokens), len(g.failures))
	}
}

// Many addresses do not make many guesses: those of one IPv6 network count as one, and
// all together have a limit that leaves in whoever is in.
func TestGuessesFromManyAddresses(t *testing.T) {
	now := time.Date(2025, 5, 2, 12, 0, 0, 0, time.UTC)
	newAt := func() *Gate {
		g, err := New(Options{Addr: everywhere, Password: "correct horse", Now: func() time.Time { return now }})
		if err != nil {
			t.Fatal(err)
		}
		return g
	}
	guesses := func(g *Gate, n int, from func(i int) netip.Addr) (taken int) {
		for i := range n {
			_, err := g.LogIn(t.Context(), "", "wrong", from(i), false)
			if answer.ProblemOf(err).Status == http.StatusUnauthorized {
				taken++
			}
		}
		return taken
	}
	oneNet := func(i int) netip.Addr { return netip.MustParseAddr(fmt.Sprintf("2001:db8:1:2::%x", i)) }
	if n := guesses(newAt(), 400, oneNet); n != FreeTries {
		t.Errorf("400 addresses of one network had %d guesses, want %d", n, FreeTries)
	}
	linkLocal := func(i int) netip.Addr { return netip.MustParseAddr(fmt.Sprintf("fe80::%x%%eth%d", i, i)) }
	if n := guesses(newAt(), 400, linkLocal); n != FreeTries {
		t.Errorf("400 addresses of one link had %d guesses, want %d", n, FreeTries)
	}
	g := newAt()
	nets := func(i int) netip.Addr { return netip.MustParseAddr(fmt.Sprintf("2001:db8:1:%x::1", i)) }
	if n := guesses(g, 1000, nets); n != allTries {
		t.Errorf("1000 networks had %d guesses, want %d", n, allTries)
	}
	coach := netip.MustParseAddr("192.168.1.9")
	_, err := g.LogIn(t.Context(), "", "correct horse", coach, false)
	if p := answer.ProblemOf(err); p.Status != http.StatusTooManyRequests || p.RetryS == 0 {
		t.Errorf("a new log-in under attack: %v", err)
	}
	if _, err := g.LogIn(t.Context(), "", "correct horse", coach, true); err != nil {
		t.Errorf("a browser that is in already: %v", err)
	}
	if _, err := g.LogIn(t.Context(), "", "correct horse", netip.MustParseAddr("127.0.0.1"), false); err != nil {
		t.Errorf("this computer under attack: %v", err)
	}
	if c, err := g.Redeem(t.Context(), g.Token("")); c == nil || err != nil {
		t.Error("the QR code does not let in under attack")
	}
	now = now.Add(allRest)
	if _, err := g.LogIn(t.Context(), "", "correct horse", coach, false); err != nil {
		t.Errorf("a log-in a moment later: %v", err)
	}
	now = now.Add(10 * allRest)
	if n := guesses(g, 1000, func(i int) netip.Addr { return nets(2000 + i) }); n != 11 {
		t.Errorf("%d guesses in eleven rests, want 11", n)
	}
}
