package web

import (
	"context"
	"errors"
	"io"
	"net/http"
	"time"
)

const (
	// minUploadBytesPerS is the slowest that an upload may be: a phone at the edge of its
	// network sends a hundred times as much.
	minUploadBytesPerS = 8 << 10
	// stallTime is how far an upload may fall behind that before it gives its place to
	// another one, when there is no other place left.
	stallTime = 5 * time.Second
)

// errStalled ends an upload that gave its place up.
var errStalled = &problem{status: http.StatusServiceUnavailable, text: "the upload stood still while others waited",
	hint: "go on from where it stopped", retryS: 5}

// place is that of an upload that is coming in: a reader of its body. It is kept as long
// as bytes come at minUploadBytesPerS over a pause of Server.bodyTime. A turn to write is
// held only between two reads, so that nobody waits for an upload that stands still.
type place struct {
	in      *intake
	of      *partial // nil: it is not one in pieces
	ctx     context.Context
	body    io.Reader
	control *http.ResponseController
	turn    bool // belongs to the one who reads

	// Guarded by intake.mu.
	left  time.Duration // how long the next bytes may take
	since time.Time     // when they were first waited for; zero: nobody waits for them
	lost  bool          // another has the place
}

// enter gives an upload its place, that of one which stands still when there is no other,
// and returns how it is given back.
func (in *intake) enter(w http.ResponseWriter, r *http.Request, of *partial) (*place, func(), error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if len(in.places) >= in.s.limits.Incoming && !in.evict() {
		return nil, nil, &problem{status: http.StatusServiceUnavailable, text: "too many clips are coming in at once",
			hint: "wait a moment and send it again", retryS: 10}
	}
	p := &place{in: in, of: of, ctx: r.Context(), body: r.Body, control: http.NewResponseController(w),
		left: in.s.bodyTime}
	in.places[p] = true
	if of != nil {
		of.at = p
	}
	return p, func() {
		p.giveTurn()
		in.mu.Lock()
		defer in.mu.Unlock()
		delete(in.places, p)
		if of != nil {
			of.at = nil
		}
	}, nil
}

// evict takes the place of the upload that is the furthest behind, and says whether there
// was one to take. The lock is held.
func (in *intake) evict() bool {
	var worst *place
	var least time.Duration
	now := in.s.now()
	for p := range in.places {
		if p.since.IsZero() {
			continue // it is being written
		}
		if left := p.left - now.Sub(p.since); worst == nil || left < least {
			worst, least = p, left
		}
	}
	if worst == nil || least > in.s.bodyTime-stallTime {
		return false
	}
	worst.lose()
	return true
}

// lose ends the upload, whose place is free from now on. The lock is held.
func (p *place) lose() {
	p.lost = true
	delete(p.in.places, p)
	_ = p.control.SetReadDeadline(time.Unix(1, 0))
}

func (p *place) Read(b []byte) (int, error) {
	p.giveTurn()
	if !p.listen() {
		return 0, errStalled
	}
	n, err := p.body.Read(b)
	if lost := p.heard(n); lost && err != nil && !errors.Is(err, io.EOF) {
		err = errStalled
	}
	if errors.Is(err, io.EOF) {
		_ = p.control.SetReadDeadline(time.Time{}) // see untilEnd
	}
	select {
	case p.in.turns <- struct{}{}:
		p.turn = true
	case <-p.ctx.Done():
		if err == nil {
			err = p.ctx.Err()
		}
	}
	return n, err
}

// listen begins to wait for bytes; false when the place is another's.
func (p *place) listen() bool {
	p.in.mu.Lock()
	defer p.in.mu.Unlock()
	if p.lost {
		return false
	}
	p.since = p.in.s.now()
	_ = p.control.SetReadDeadline(time.Now().Add(p.left)) // the network's clock, which no test can move
	return true
}

// heard notes that so many bytes came; lost says that the place was taken meanwhile.
func (p *place) heard(n int) (lost bool) {
	p.in.mu.Lock()
	defer p.in.mu.Unlock()
	earned := time.Duration(n) * time.Second / minUploadBytesPerS
	p.left = min(p.left-p.in.s.now().Sub(p.since)+earned, p.in.s.bodyTime)
	p.since = time.Time{}
	if p.of != nil {
		p.of.patience += earned
	}
	return p.lost
}

func (p *place) giveTurn() {
	if p.turn {
		<-p.in.turns
		p.turn = false
	}
}
