// Package held keeps what several requests ask for: one turn for each thing that is changed, and the last few things
// that were read.
package held

import (
	"context"
	"slices"
	"sync"
)

// Turns are one turn for each clip and each comparison, by id: one has one result at a
// time. Who has the turn may wait for the archive; nothing else does meanwhile.
type Turns struct {
	// Beyond waits for the same turns on other computers; nil: there are none.
	Beyond func(ctx context.Context, ids []string) (back func(), err error)

	mu sync.Mutex
	of map[string]*turn
}

type turn struct {
	taken chan struct{} // holds one while somebody has it
	users int
}

// Take waits for the turns of ids and returns how they are given back.
func (t *Turns) Take(ctx context.Context, ids ...string) (back func(), err error) {
	ids = slices.Clone(ids)
	slices.Sort(ids) // in one order, so that no two wait for each other
	var had []func()
	back = func() {
		for _, f := range had {
			f()
		}
	}
	for _, id := range slices.Compact(ids) {
		one, err := t.takeOne(ctx, id)
		if err != nil {
			back()
			return nil, err
		}
		had = append(had, one)
	}
	if t.Beyond != nil {
		one, err := t.Beyond(ctx, slices.Compact(ids))
		if err != nil {
			back()
			return nil, err
		}
		had = append(had, one)
	}
	return back, nil
}

func (t *Turns) takeOne(ctx context.Context, id string) (back func(), err error) {
	t.mu.Lock()
	if t.of == nil {
		t.of = map[string]*turn{}
	}
	k := t.of[id]
	if k == nil {
		k = &turn{taken: make(chan struct{}, 1)}
		t.of[id] = k
	}
	k.users++
	t.mu.Unlock()
	leave := func() {
		t.mu.Lock()
		defer t.mu.Unlock()
		if k.users--; k.users == 0 {
			delete(t.of, id)
		}
	}
	select {
	case k.taken <- struct{}{}:
		return func() { <-k.taken; leave() }, nil
	case <-ctx.Done():
		leave()
		return nil, ctx.Err()
	}
}

// Recent holds the last few things that were read, by the hash of their file. They
// are shared: nobody changes one.
type Recent[T any] struct {
	most int

	mu   sync.Mutex
	keys []string // the latest last
	of   map[string]T
}

// New returns room for so many things.
func New[T any](most int) *Recent[T] { return &Recent[T]{most: most, of: map[string]T{}} }

// Get returns what has a key, and reads it where it is not held.
func (r *Recent[T]) Get(key string, read func() (T, error)) (T, error) {
	r.mu.Lock()
	v, ok := r.of[key]
	r.mu.Unlock()
	if !ok {
		var err error
		if v, err = read(); err != nil {
			return v, err
		}
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	for i, k := range r.keys {
		if k == key {
			r.keys = append(r.keys[:i], r.keys[i+1:]...)
			break
		}
	}
	r.keys = append(r.keys, key)
	r.of[key] = v
	for len(r.keys) > r.most {
		delete(r.of, r.keys[0])
		r.keys = r.keys[1:]
	}
	return v, nil
}

// Clear forgets everything.
func (r *Recent[T]) Clear() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.keys = nil
	clear(r.of)
}
