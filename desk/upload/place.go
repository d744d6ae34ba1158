package upload

import (
	"context"
	"errors"
	"io"
	"time"

	"holdfast/desk/refusal"
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
var errStalled = &refusal.Error{Kind: refusal.Busy, Code: "upload_stalled", Retry: 5 * time.Second}

// Place is that of an upload that is coming in: a reader of its body. It is kept as long
// as bytes come at minUploadBytesPerS over a pause of Options.Pause. A turn to write is
// held only between two reads, so that nobody waits for an upload that stands still.
type Place struct {
	in       *Intake
	of       *partial // nil: it is not one in pieces
	ctx      context.Context
	body     io.Reader
	deadline func(time.Time) error // of reading the body
	turn     bool                  // belongs to the one who reads

	// Guarded by intake.mu.
	left  time.Duration // how long the next bytes may take
	since time.Time     // when they were first waited for; zero: nobody waits for them
	lost  bool          // another has the place
}

// Enter gives an upload its place, that of one which stands still when there is no other:
// a reader of its body, of which deadline sets how long the next bytes may take. leave gives
// the place back.
func (in *Intake) Enter(
	ctx context.Context, body io.Reader, deadline func(time.Time) error,
) (p *Place, leave func(), err error) {
	return in.enter(ctx, body, deadline, nil)
}

// enter is Enter for the next piece of an upload, or for a whole one.
func (in *Intake) enter(
	ctx context.Context, body io.Reader, deadline func(time.Time) error, of *partial,
) (*Place, func(), error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if len(in.places) >= in.opt.Incoming && !in.evict() {
		return nil, nil, &refusal.Error{Kind: refusal.Busy, Code: "uploads_full", Retry: 10 * time.Second}
	}
	p := &Place{in: in, of: of, ctx: ctx, body: body, deadline: deadline, left: in.opt.Pause}
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
func (in *Intake) evict() bool {
	var worst *Place
	var least time.Duration
	now := in.opt.Now()
	for p := range in.places {
		if p.since.IsZero() {
			continue // it is being written
		}
		if left := p.left - now.Sub(p.since); worst == nil || left < least {
			worst, least = p, left
		}
	}
	if worst == nil || least > in.opt.Pause-stallTime {
		return false
	}
	worst.lose()
	return true
}

// lose ends the upload, whose place is free from now on. The lock is held.
func (p *Place) lose() {
	p.lost = true
	delete(p.in.places, p)
	_ = p.deadline(time.Unix(1, 0))
}

// Read reads of the body while the place is kept, and has the turn to write when it returns.
func (p *Place) Read(b []byte) (int, error) {
	p.giveTurn()
	if !p.listen() {
		return 0, errStalled
	}
	n, err := p.body.Read(b)
	if lost := p.heard(n); lost && err != nil && !errors.Is(err, io.EOF) {
		err = errStalled
	}
	if errors.Is(err, io.EOF) {
		_ = p.deadline(time.Time{}) // nobody waits for more
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
func (p *Place) listen() bool {
	p.in.mu.Lock()
	defer p.in.mu.Unlock()
	if p.lost {
		return false
	}
	p.since = p.in.opt.Now()
	_ = p.deadline(time.Now().Add(p.left)) // the network's clock, which no test can move
	return true
}

// heard notes that so many bytes came; lost says that the place was taken meanwhile.
func (p *Place) heard(n int) (lost bool) {
	p.in.mu.Lock()
	defer p.in.mu.Unlock()
	earned := time.Duration(n) * time.Second / minUploadBytesPerS
	p.left = min(p.left-p.in.opt.Now().Sub(p.since)+earned, p.in.opt.Pause)
	p.since = time.Time{}
	if p.of != nil {
		p.of.patience += earned
	}
	return p.lost
}

func (p *Place) giveTurn() {
	if p.turn {
		<-p.in.turns
		p.turn = false
	}
}
