package media

import (
	"sync"

	"gocv.io/x/gocv"
)

// spare keeps the memory of pictures that nobody needs any more for those that come: fresh memory of this size is
// handed out by the system, and cleared, for every single picture otherwise.
type spare struct {
	mu       sync.Mutex
	pictures []gocv.Mat
	ended    bool
}

// take returns memory for a picture of that size, which all of one clip have.
func (s *spare) take(height, width int) gocv.Mat {
	s.mu.Lock()
	defer s.mu.Unlock()
	if n := len(s.pictures); n > 0 {
		m := s.pictures[n-1]
		s.pictures = s.pictures[:n-1]
		return m
	}
	return gocv.NewMatWithSize(height, width, gocv.MatTypeCV8UC3)
}

// give hands back what take returned.
func (s *spare) give(m gocv.Mat) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ended {
		_ = m.Close() // native memory always closes
		return
	}
	s.pictures = append(s.pictures, m)
}

// end frees what is kept; what is given later is freed at once.
func (s *spare) end() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := range s.pictures {
		_ = s.pictures[i].Close()
	}
	s.pictures, s.ended = nil, true
}
