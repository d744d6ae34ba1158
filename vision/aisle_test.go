package vision

import (
	"testing"

	"holdfast/vision/media"
)

// However many frames are passed over, the network before need not wait for the one after, and few pictures wait.
func TestAisle(t *testing.T) {
	clip := &media.Clip{WidthPx: 3840, HeightPx: 2160}
	a := newAisle(clip)
	n := cap(a.room)
	if n < leastInLine || n*pictureB(clip) > aisleB {
		t.Errorf("%d pictures of %d bytes wait", n, pictureB(clip))
	}
	for i := range n { // a put that waits ends the test by its time limit
		for range 20 {
			a.put(&sight{})
		}
		a.put(&sight{looked: true, begins: i == 0})
	}
	a.end()
	all, looked := 0, 0
	for s := range a.all() {
		if s.looked {
			if s.begins != (looked == 0) {
				t.Error("the order is another one")
			}
			looked++
		}
		all++
	}
	if looked != n || all != 21*n || len(a.room) != 0 {
		t.Errorf("%d sights, %d looked at; %d still hold room", all, looked, len(a.room))
	}
}
