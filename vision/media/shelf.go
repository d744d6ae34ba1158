package media

import (
	"errors"
	"fmt"
	"os"
)

// Shelf keeps what is needed of every frame until the last one was seen. The first pieces stay in memory, those of
// longer clips lie in a temporary file that has no name any more, so that a long clip takes no more memory than a short
// one and nothing is left behind, however the program ends. Where there is no such file, memory has to do. The zero
// value is ready; it is not safe for use by several goroutines.
type Shelf struct {
	held   int64 // bytes in memory
	file   *os.File
	end    int64 // of what lies in the file
	noFile bool
}

// Piece is what was put on a shelf; the zero value is nothing.
type Piece struct {
	held  []byte
	shelf *Shelf
	at    int64
	size  int
}

// shelfHeldB is how many bytes a shelf holds in memory: small pictures of ten seconds.
const shelfHeldB = 3 << 20

// Put keeps bytes, which belong to the shelf from then on.
func (s *Shelf) Put(b []byte) Piece {
	if s.held+int64(len(b)) > shelfHeldB && s.write(b) {
		return Piece{shelf: s, at: s.end - int64(len(b)), size: len(b)}
	}
	s.held += int64(len(b))
	return Piece{held: b, size: len(b)}
}

// write adds bytes to the file and says whether they are there.
func (s *Shelf) write(b []byte) bool {
	if s.file == nil && !s.noFile {
		f, err := os.CreateTemp("", "holdfast-*")
		if err == nil {
			if err = os.Remove(f.Name()); err != nil { // some systems keep the name of a file that is open
				_ = errors.Join(f.Close(), os.Remove(f.Name()))
			}
		}
		if s.noFile = err != nil; !s.noFile {
			s.file = f
		}
	}
	if s.noFile {
		return false
	}
	if _, err := s.file.WriteAt(b, s.end); err != nil {
		s.noFile = true // no room: what is there stays there
		return false
	}
	s.end += int64(len(b))
	return true
}

// Close gives back the file; what lies in it is gone.
func (s *Shelf) Close() error {
	if s.file == nil {
		return nil
	}
	err := s.file.Close()
	s.file, s.noFile = nil, true
	return err
}

// Size returns how many bytes a piece has.
func (p Piece) Size() int { return p.size }

// Bytes returns a piece, in the memory of into, which is no piece's, where it must be read; nil of nothing.
func (p Piece) Bytes(into []byte) ([]byte, error) {
	if p.shelf == nil {
		return p.held, nil
	}
	if cap(into) < p.size {
		into = make([]byte, p.size)
	}
	into = into[:p.size]
	if p.shelf.file == nil {
		return nil, fmt.Errorf("reading back what was kept of a clip: %w", os.ErrClosed)
	}
	if _, err := p.shelf.file.ReadAt(into, p.at); err != nil {
		return nil, fmt.Errorf("reading back what was kept of a clip: %w", err)
	}
	return into, nil
}
