package news

import "sync"

// Broadcaster tells every page that something changed. It never waits for a slow
// one: a page that has not read yet finds the newest state when it does, not every
// state that was.
type Broadcaster struct {
	most int

	mu        sync.Mutex
	listeners map[*Listener]struct{}
}

// Subscribe returns a listener, or nil when there are too many.
func (b *Broadcaster) Subscribe() *Listener {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.listeners) >= b.most {
		return nil
	}
	l := &Listener{Wake: make(chan struct{}, 1), clips: map[string]struct{}{}}
	b.listeners[l] = struct{}{}
	return l
}

func (b *Broadcaster) Unsubscribe(l *Listener) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.listeners, l)
}

// JobsChanged tells that the queue did.
func (b *Broadcaster) JobsChanged() { b.Tell(func(l *Listener) { l.jobs = true }) }

// ClipChanged tells that a clip has a new result, or is gone.
func (b *Broadcaster) ClipChanged(id string) {
	b.Tell(func(l *Listener) {
		if len(l.clips) >= MaxPendingClips {
			l.all = true
			return
		}
		l.clips[id] = struct{}{}
	})
}

func (b *Broadcaster) Tell(note func(*Listener)) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for l := range b.listeners {
		l.mu.Lock()
		note(l)
		l.mu.Unlock()
		select {
		case l.Wake <- struct{}{}:
		default: // it is awake already
		}
	}
}

// Listener is one page that follows the queue.
type Listener struct {
	Wake chan struct{} // holds one: something is pending

	mu    sync.Mutex
	jobs  bool
	clips map[string]struct{}
	// all says that more clips changed than are worth a list.
	all bool
}

// Take empties the listener.
func (l *Listener) Take() (jobs bool, clips []string, all bool) {
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

// MaxPendingClips bounds what is kept for a page that does not read.
const MaxPendingClips = 256

func NewBroadcaster(most int) *Broadcaster {
	return &Broadcaster{most: most, listeners: map[*Listener]struct{}{}}
}
