// Package noted writes down who looked at, took, added, changed or deleted what, where users log in by name.
package noted

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"holdfast/archive"
	"holdfast/archive/users"
)

// Act is what a route does to which kind of thing; of nothing: nothing that is written down.
type Act struct{ What, Kind string }

// Book is where acts are written down.
type Book struct {
	Archive *archive.Archive
	Log     *slog.Logger
	Now     func() time.Time

	mu     sync.Mutex
	lately map[users.Act]time.Time // what was looked at, and when that was written down
}

// once is for how long looking at the same thing again counts as one look: a page asks for several parts, a video for
// hundreds.
const once = time.Minute

// madeKey is the key of a context's list of what a request has made.
type madeKey struct{}

// Made says that a request has made the thing of an id.
func Made(ctx context.Context, id string) {
	if ids, ok := ctx.Value(madeKey{}).(*[]string); ok && id != "" {
		*ids = append(*ids, id)
	}
}

// Around answers a request and writes down what it did, unless it was refused. Of what is added each thing that was
// Made is. Whose a thing is is asked before: of what was deleted nobody could say it.
func (b *Book) Around(w http.ResponseWriter, r *http.Request, who string, act Act, next http.HandlerFunc) error {
	one := users.Act{Who: who, What: act.What, Kind: act.Kind, Thing: r.PathValue("id")}
	var err error
	if one.Athlete, err = b.Archive.AthleteOf(r.Context(), act.Kind, one.Thing); err != nil {
		return err
	}
	var made []string
	*r = *r.WithContext(context.WithValue(r.Context(), madeKey{}, &made))
	out := &heard{ResponseWriter: w}
	defer func() { // a deletion is written down also when nobody is left to hear the answer
		ctx := context.WithoutCancel(r.Context())
		switch {
		case out.status >= http.StatusBadRequest:
		case act.What == users.Added:
			for _, one.Thing = range made {
				if one.Athlete, err = b.Archive.AthleteOf(ctx, act.Kind, one.Thing); err != nil {
					b.lost(err)
				}
				b.Note(ctx, one)
			}
		case act.What != users.Saw && act.What != users.Took || b.first(one):
			b.Note(ctx, one)
		}
	}()
	next(out, r)
	return nil
}

// Note writes an act down.
func (b *Book) Note(ctx context.Context, act users.Act) {
	if err := b.Archive.Users().Note(ctx, act); err != nil {
		b.lost(err)
	}
}

func (b *Book) lost(err error) {
	b.Log.Error("what a user did cannot be written down")
	b.Log.Debug("what a user did cannot be written down", "error", err)
}

// first says whether a look is the first within a minute.
func (b *Book) first(act users.Act) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	now := b.Now()
	for old, at := range b.lately {
		if now.Sub(at) >= once {
			delete(b.lately, old)
		}
	}
	if _, ok := b.lately[act]; ok {
		return false
	}
	if b.lately == nil {
		b.lately = map[users.Act]time.Time{}
	}
	b.lately[act] = now
	return true
}

// Refused writes down that a log-in was refused. The name is written only where there is such a user: people type
// passwords into the wrong field.
func (b *Book) Refused(ctx context.Context, name string) {
	user, err := b.Archive.Users().Find(ctx, name)
	if err != nil && !errors.Is(err, archive.ErrNotFound) {
		b.lost(err)
	}
	b.Note(ctx, users.Act{Who: user.Name, What: users.Refused})
}

// heard knows the status of an answer.
type heard struct {
	http.ResponseWriter
	status int
}

func (h *heard) WriteHeader(status int) {
	if h.status == 0 {
		h.status = status
	}
	h.ResponseWriter.WriteHeader(status)
}

func (h *heard) Unwrap() http.ResponseWriter { return h.ResponseWriter }
