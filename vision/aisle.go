package vision

import (
	"iter"

	"holdfast/vision/media"
)

// aisle leads sights from one network to the next, in their order. Those that are passed over have no picture and wait
// in any number, else a network would wait for the one before it or after it wherever many are.
type aisle struct {
	sights chan *sight
	room   chan struct{} // for pictures
}

const (
	aisleB      = 32 << 20 // of pictures that wait at most
	leastInLine = 4        // pictures, however large they are
	mostPassed  = 1024
)

// newAisle returns one for a clip.
func newAisle(clip *media.Clip) *aisle {
	return &aisle{make(chan *sight, mostPassed), make(chan struct{}, max(leastInLine, aisleB/pictureB(clip)))}
}

// put waits until there is room for a sight; it must be taken out, whatever happens.
func (a *aisle) put(s *sight) {
	if s.looked {
		a.room <- struct{}{}
	}
	a.sights <- s
}

// end says that none comes any more.
func (a *aisle) end() { close(a.sights) }

// all returns the sights as they come, until the end.
func (a *aisle) all() iter.Seq[*sight] {
	return func(yield func(*sight) bool) {
		for s := range a.sights {
			if s.looked {
				<-a.room
			}
			if !yield(s) {
				return
			}
		}
	}
}
