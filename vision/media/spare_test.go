package media

import (
	"testing"

	"gocv.io/x/gocv"
)

// The memory of a frame that was closed is that of a later one, closing twice does nothing, and what is given back
// after the end is freed.
func TestSpare(t *testing.T) {
	var s spare
	next := func() *Frame { return &Frame{Mat: s.take(2, 3), from: &s} }
	a, b := next(), next()
	first, second := a.Mat.Ptr(), b.Mat.Ptr()
	if first == second {
		t.Fatal("two frames share their memory")
	}
	a.Close()
	a.Close()
	c, d := next(), next()
	if c.Mat.Ptr() != first {
		t.Error("the memory of the closed frame is not used again")
	}
	if d.Mat.Ptr() == first || d.Mat.Ptr() == second {
		t.Error("memory in use was handed out")
	}
	b.Close()
	c.Close()
	s.end()
	if len(s.pictures) != 0 {
		t.Errorf("%d pictures are kept after the end", len(s.pictures))
	}
	d.Close()
	if len(s.pictures) != 0 || d.Mat.Ptr() != nil {
		t.Error("a frame that was closed after the end is kept")
	}
	own := &Frame{Mat: gocv.NewMatWithSize(2, 3, gocv.MatTypeCV8UC3)}
	own.Close()
	own.Close()
}
