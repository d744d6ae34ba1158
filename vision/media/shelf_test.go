package media

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// However much is put on a shelf, so much stays in memory; all of it comes back, and no file is left.
func TestShelfHoldsLittle(t *testing.T) {
	for _, tt := range []struct {
		name, folder string
		inMemory     bool
	}{{"with room", t.TempDir(), false}, {"without a folder", filepath.Join(t.TempDir(), "none"), true}} {
		t.Run(tt.name, func(t *testing.T) {
			t.Setenv("TMPDIR", tt.folder)
			var s Shelf
			const size, number = 1 << 20, 24
			var pieces []Piece
			for i := range number {
				pieces = append(pieces, s.Put(bytes.Repeat([]byte{byte(i)}, size)))
			}
			want := int64(shelfHeldB)
			if tt.inMemory {
				want = size * number
			}
			if s.held != want {
				t.Errorf("%d bytes in memory, want %d", s.held, want)
			}
			if left, err := os.ReadDir(tt.folder); err == nil && len(left) > 0 {
				t.Errorf("%s lies about", left[0].Name())
			}
			var into []byte
			for i, p := range pieces {
				b, err := p.Bytes(into)
				if err != nil || p.Size() != size || len(b) != size || b[0] != byte(i) || b[size-1] != byte(i) {
					t.Fatalf("piece %d: %d bytes, %v", i, len(b), err)
				}
				if into == nil && p.shelf != nil {
					into = b
				}
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
			if _, err := pieces[number-1].Bytes(nil); (err != nil) == tt.inMemory {
				t.Errorf("after the end: %v", err)
			}
		})
	}
}

// A full disk takes what it can: the rest stays in memory.
func TestShelfWithoutRoom(t *testing.T) {
	full, err := os.OpenFile("/dev/full", os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	s := Shelf{held: shelfHeldB, file: full}
	p := s.Put([]byte("kept"))
	if b, err := p.Bytes(nil); err != nil || string(b) != "kept" || s.end != 0 {
		t.Errorf("%q, %v, %d bytes in the file", b, err, s.end)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

func TestNothingOnAShelf(t *testing.T) {
	if b, err := (Piece{}).Bytes(make([]byte, 3)); b != nil || err != nil {
		t.Errorf("%v, %v", b, err)
	}
}
