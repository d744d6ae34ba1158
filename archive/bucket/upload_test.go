package bucket

import (
	"errors"
	"io"
	"net/http"
	"strings"
	"testing"
)

// lingering answers at once and reads the request's body after that.
type lingering struct {
	read int // bytes; written while nobody else may look
	err  error
}

func (l *lingering) RoundTrip(r *http.Request) (*http.Response, error) {
	go func() {
		b, _ := io.ReadAll(r.Body)
		l.read = len(b)
		_ = r.Body.Close()
	}()
	if l.err != nil {
		return nil, l.err
	}
	return &http.Response{StatusCode: http.StatusServiceUnavailable, Body: io.NopCloser(strings.NewReader("busy"))}, nil
}

// Whoever has closed an answer, or got none, has the request's body to himself.
func TestUploadsAreOver(t *testing.T) {
	t.Parallel()
	for _, failure := range []error{nil, errors.New("the connection broke")} {
		slow := &lingering{err: failure}
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPut, "http://store.example/clips/a",
			strings.NewReader(strings.Repeat("clip", 1<<18)))
		if err != nil {
			t.Fatal(err)
		}
		resp, err := uploads{slow}.RoundTrip(r)
		if !errors.Is(err, failure) {
			t.Fatal(err)
		}
		if failure == nil {
			if err := resp.Body.Close(); err != nil {
				t.Fatal(err)
			}
		}
		if slow.read != 1<<20 {
			t.Errorf("after %v the body was read by %d bytes", failure, slow.read)
		}
	}
}
