package bucket

import (
	"io"
	"net/http"
	"sync"
)

// uploads lets go of a request's body only when nobody reads it any more. A server that is busy answers before it has
// read all that is sent, and the transport may then read on for a moment ([http.RoundTripper]: who uses a body again
// has to wait for its Close). The client goes back to the body's beginning at once, where both would read from one
// place.
type uploads struct{ http.RoundTripper }

// RoundTrip sends a request; what it answers can be closed when the request's body was.
func (u uploads) RoundTrip(r *http.Request) (*http.Response, error) {
	if r.Body == nil || r.Body == http.NoBody {
		return u.RoundTripper.RoundTrip(r)
	}
	body := &sent{ReadCloser: r.Body, done: make(chan struct{})}
	with := *r
	with.Body = body
	resp, err := u.RoundTripper.RoundTrip(&with)
	if err != nil {
		<-body.done
		return nil, err
	}
	resp.Body = &answer{resp.Body, body.done}
	return resp, nil
}

// sent is the body of a request; done is closed with it.
type sent struct {
	io.ReadCloser
	once sync.Once
	done chan struct{}
}

func (s *sent) Close() error {
	defer s.once.Do(func() { close(s.done) })
	return s.ReadCloser.Close()
}

// answer is the body of an answer. To close it ends the connection where the request is not wholly sent.
type answer struct {
	io.ReadCloser
	sent <-chan struct{}
}

func (a *answer) Close() error {
	err := a.ReadCloser.Close()
	<-a.sent
	return err
}
