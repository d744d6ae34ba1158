package web

import (
	"fmt"
	"net/http"
	"sync"
	"time"
)

// broadcaster tells every page that something changed. It never waits for a slow
// one: a page that has not read yet finds the newest state when it does, not every
// state that was.
type broadcaster struct {
	most int

	mu        sync.Mutex
	listeners map[*listener]struct{}
}

// listener is one page that follows the queue.
type listener struct {
	wake chan struct{} // holds one: something is pending

	mu    sync.Mutex
	jobs  bool
	clips map[string]struct{}
	// all says that more clips changed than are worth a list.
	all bool
}

// maxPendingClips bounds what is kept for a page that does not read.
const maxPendingClips = 256

func newBroadcaster(most int) *broadcaster {
	return &broadcaster{most: most, listeners: map[*listener]struct{}{}}
}

// subscribe returns a listener, or nil when there are too many.
func (b *broadcaster) subscribe() *listener {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.listeners) >= b.most {
		return nil
	}
	l := &listener{wake: make(chan struct{}, 1), clips: map[string]struct{}{}}
	b.listeners[l] = struct{}{}
	return l
}

func (b *broadcaster) unsubscribe(l *listener) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.listeners, l)
}

// jobsChanged tells that the queue did.
func (b *broadcaster) jobsChanged() { b.tell(func(l *listener) { l.jobs = true }) }

// clipChanged tells that a clip has a new result, or is gone.
func (b *broadcaster) clipChanged(id string) {
	b.tell(func(l *listener) {
		if len(l.clips) >= maxPendingClips {
			l.all = true
			return
		}
		l.clips[id] = struct{}{}
	})
}

func (b *broadcaster) tell(note func(*listener)) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for l := range b.listeners {
		l.mu.Lock()
		note(l)
		l.mu.Unlock()
		select {
		case l.wake <- struct{}{}:
		default: // it is awake already
		}
	}
}

// take empties the listener.
func (l *listener) take() (jobs bool, clips []string, all bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for id := range l.clips {
		clips = append(clips, id)
	}
	jobs, all = l.jobs, l.all
	l.jobs, l.all = false, false
	clear(l.clips)
	return jobs, clips, all
}

const (
	pingTime = 15 * time.Second
	// jobsRest is the shortest time between two states of the queue.
	jobsRest = 250 * time.Millisecond
	// eventTime is how long a page may take to receive one event.
	eventTime = 20 * time.Second
)

// handleEvents streams the state of the queue and the clips that changed.
func (s *Server) handleEvents(w http.ResponseWriter, r *http.Request) {
	l := s.events.subscribe()
	if l == nil {
		s.fail(w, r, trouble(http.StatusServiceUnavailable, "too_many_pages", 30))
		return
	}
	defer s.events.unsubscribe(l)
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no")
	w.WriteHeader(http.StatusOK)
	control := http.NewResponseController(w)
	_ = control.SetReadDeadline(time.Time{}) // the connection is watched, not read
	// A session may end while the stream is open.
	send := func(name string, data []byte) bool {
		if !s.gate.admits(r) {
			return false
		}
		_ = control.SetWriteDeadline(time.Now().Add(eventTime))
		_, err := fmt.Fprintf(w, "event: %s\ndata: %s\n\n", name, data)
		return err == nil && control.Flush() == nil
	}
	sendJobs := func() bool {
		list, err := s.jobsJSON(r.Context())
		return err == nil && send("jobs", list)
	}
	if !sendJobs() {
		return
	}
	ping := time.NewTicker(pingTime)
	defer ping.Stop()
	rest := time.NewTimer(0)
	defer rest.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case <-ping.C:
			if !send("ping", []byte("{}")) {
				return
			}
			continue
		case <-l.wake:
			if !s.gate.admits(r) {
				return
			}
		}
		// Progress comes in many small steps; a page wants a few a second.
		select {
		case <-r.Context().Done():
			return
		case <-rest.C:
			rest.Reset(jobsRest)
		}
		jobs, clips, all := l.take()
		if all && !send("clip", []byte(`{"id":""}`)) {
			return
		}
		for _, id := range clips {
			if !send("clip", fmt.Appendf(nil, `{"id":%q}`, id)) {
				return
			}
		}
		if jobs && !sendJobs() {
			return
		}
	}
}
