package camera

import (
	"cmp"
	"context"
	"errors"
	"image"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// What tells a cut and a picture that is shown again. Pictures are compared as a few
// grey cells each, in which the noise of compression is averaged out; levels run from 0
// to 255. Common practice, no source, but where said.
const (
	cellsSide = 96 // along the longer side
	// equalLevels is how much no cell of a picture shown again changes, driftLevels how
	// much in all of a stretch. Stretches of a rendered clip and of a phone's, held still
	// and compressed with x264 at a rate factor of 18 to 34, changed by up to 2 and 4;
	// what a phone films of a still scene, by 4 and more from frame to frame.
	equalLevels = 3
	driftLevels = 6
	// settlePart is how much the first picture of such a stretch changes at most, of what
	// the motion before it did, as its compression gets better; 5 of 38 and 10 of 39 at
	// the rate factors 26 and 34.
	settlePart = 1.0 / 3
	// movedLevels is how much a cell changes at least where a picture that was held
	// gives way to the motion it interrupted. An athlete who stands, in a clip
	// compressed so hard that nothing changes, begins to move by less.
	movedLevels = 8
	// A stretch is held only where the motion on either side keeps a part of the pace that
	// it has two frames on. A body that leaves its rest gathers pace, also where strong
	// compression shows it late (0.4 in a rendered clip); one that turns round is almost
	// in the same place in two or three frames and has half the pace beside them, hence a
	// larger part for short stretches.
	shortHold       = 3
	steadyPart      = 0.5
	steadyPartShort = 0.75
	// Each picture is stored several times, mostStored at most, where the copies change in a motion by a part of
	// what the new pictures do, copyPart in all, over leastStored of them: compression at a rate factor of 30 gave
	// 0.12 for a rendered clip stored twice, and one that is not gives 1.
	mostStored  = 4
	copyPart    = 0.25
	leastStored = 10
	// A cut changes the picture cutRatio times as much, on average, as the frames
	// around it, and some cell by cutLevels. Without a cut the ratio was 2.0 at most, in
	// rendered and real clips at 6 to 120 frames a second; a piece left out of a squat
	// before a still background gave 3.8. What all of the picture changes alike, as
	// brightness does, and what compression changes when it begins anew, noiseLevels at
	// most, is no part of it.
	cutRatio    = 2.5
	cutLevels   = 40
	noiseLevels = 6
	cutLooks    = 3    // frames looked at on either side at least,
	cutReachS   = 0.12 // and those of so many seconds, where pictures are stored several times,
	mostLooks   = 8    // as far as these;
	// where some are stored again, as many pictures as the jerks of a conversion may lie apart: the cycle of 24 made 30 a
	// second is five. A clip of 60 a second that jumped each sixth of a second changed 4 times as much there as beside it.
	cadence     = 5
	cadenceS    = 0.2 // seconds, and
	mostCadence = 12  // frames that are looked at for it;
	newPerS     = 1   // levels a second by which a picture that is not one stored again changes: copies changed by 0.2
	cutLeast    = 10  // levels a second of the frames around it that count as none
	blankLevels = 16  // between the darkest and the brightest cell: a picture of one colour
	sameScene   = 0.8 // correlation of two pictures from the same place
	mostScenes  = 8
)

// Shots watches the pictures of a clip, in order, for those that are shown again and for
// cuts. It holds native memory until Close.
type Shots struct {
	half, small, grey gocv.Mat
	width             int     // of the pictures in cells; 0: not known
	cells             []uint8 // of the frame before
	held              []uint8 // of the first of a stretch of equal pictures
	heldFromS         float64 // its time
	still             []stillFrame
	all               []media.Piece // the cells of every frame; nothing of one that is damaged
	shelf             media.Shelf   // where they are kept
	failed            error         // what went wrong in reading them
	blank             bool          // the frame before was of one colour
	scene             int
	seen              [][]uint8 // the last cells of each scene
}

// stillFrame is what the frozen pictures are found from.
type stillFrame struct {
	equal bool    // to the first of its stretch
	most  float64 // largest change of a cell since the frame before
}

// NewShots returns one that has seen nothing.
func NewShots() *Shots { return &Shots{half: gocv.NewMat(), small: gocv.NewMat(), grey: gocv.NewMat()} }

// Close frees the memory.
func (s *Shots) Close() error {
	return errors.Join(s.half.Close(), s.small.Close(), s.grey.Close(), s.shelf.Close())
}

// at returns the cells of a frame, in the memory of into where they must be read; nil of one that is damaged.
func (s *Shots) at(i int, into []uint8) []uint8 {
	cells, err := s.all[i].Bytes(into)
	s.failed = cmp.Or(s.failed, err)
	return cells
}

// pictureChange is how a picture differs from the one before.
type pictureChange struct {
	cells   []uint8 // of the shelf
	timeS   float64
	most    float64 // largest change of a cell, levels
	perS    float64 // mean change of the cells that tells of a cut, levels a second
	inside  float64 // the same without the edges that captions come and go in
	blank   bool    // the picture is of one colour
	nothing bool    // nothing is known of the picture before it
}

// look compares a frame with the one before.
func (s *Shots) look(f *media.Frame) (pictureChange, error) {
	if f.Damaged {
		s.cells, s.held = nil, nil
		s.still, s.all = append(s.still, stillFrame{}), append(s.all, media.Piece{})
		return pictureChange{nothing: true, timeS: f.TimeS}, nil
	}
	w, h := f.Mat.Cols(), f.Mat.Rows()
	longer := max(w, h)
	size := image.Pt(max(1, w*cellsSide/longer), max(1, h*cellsSide/longer))
	// OpenCV halves a picture ten times as quickly as it brings it to any other size.
	from := f.Mat
	if w%2+h%2 == 0 && longer >= 8*cellsSide {
		gocv.Resize(f.Mat, &s.half, image.Pt(w/2, h/2), 0, 0, gocv.InterpolationArea)
		from = s.half
	}
	gocv.Resize(from, &s.small, size, 0, 0, gocv.InterpolationArea)
	gocv.CvtColor(s.small, &s.grey, gocv.ColorBGRToGray)
	g, err := pixelsOf(s.grey)
	if err != nil {
		return pictureChange{}, err
	}
	s.width = size.X
	return s.compare(slices.Clone(g.pix), f.TimeS), nil
}

// compare takes the cells of the next picture, which belong to the shelf from then on.
func (s *Shots) compare(cells []uint8, timeS float64) pictureChange {
	c := pictureChange{cells: cells, timeS: timeS, nothing: s.cells == nil,
		blank: slices.Max(cells)-slices.Min(cells) < blankLevels}
	if !c.nothing {
		brighter := s.brighter(cells)
		from, to := s.inside(len(cells))
		for i, v := range cells {
			d := float64(v) - float64(s.cells[i])
			c.most = math.Max(c.most, math.Abs(d))
			if beyond := math.Abs(d - brighter); beyond > noiseLevels {
				beyond /= timeS - s.heldFromS
				c.perS += beyond / float64(len(cells))
				if from <= i && i < to {
					c.inside += beyond / float64(to-from)
				}
			}
		}
	}
	equal := s.held != nil && c.most <= equalLevels
	for i := range s.held {
		equal = equal && math.Abs(float64(cells[i])-float64(s.held[i])) <= driftLevels
	}
	if !equal {
		s.held, s.heldFromS = cells, timeS
	}
	s.still, s.all = append(s.still, stillFrame{equal: equal && !c.blank, most: c.most}), append(s.all, s.shelf.Put(cells))
	s.cells = cells
	return c
}

// inside returns the cells, of so many, that are no edge in which captions come and go: the upper and the lower fifth.
func (s *Shots) inside(cells int) (from, to int) {
	if s.width == 0 {
		return 0, cells
	}
	rows := cells / s.width
	return rows / 5 * s.width, (rows - rows/5) * s.width
}

// brighter returns by how many levels most cells are brighter than they were: the median.
func (s *Shots) brighter(cells []uint8) float64 {
	const levels = 256
	var count [2*levels - 1]int
	for i, v := range cells {
		count[levels-1+int(v)-int(s.cells[i])]++
	}
	d, below := 0, 0
	for ; 2*(below+count[d]) < len(cells); d++ {
		below += count[d]
	}
	return float64(d - levels + 1)
}

// frozen says of each frame whether it shows the picture of an earlier one again: in a
// stretch of equal pictures that interrupts a motion, all but the first.
func (s *Shots) frozen() []bool {
	out := make([]bool, len(s.still))
	if every, first := s.stored(); every > 1 {
		for i := 1; i < len(out); i++ {
			out[i] = i%every != first
		}
		return out
	}
	for from := 0; from < len(s.still); {
		to := from + 1
		for to < len(s.still) && s.still[to].equal {
			to++
		}
		part := steadyPart
		if to-from <= shortHold+1 {
			part = steadyPartShort
		}
		first := from
		if from > 0 && to-from > shortHold && s.still[from].most <= settlePart*s.still[from-1].most {
			first-- // the same, before its compression was as good
		}
		begins, ends := s.moves(first, -1, part), s.moves(to, 1, part)
		if begins && ends && to-from < len(s.still) {
			for i := first + 1; i < to; i++ {
				out[i] = true
			}
		}
		from = to
	}
	return out
}

// stored returns how many times the file stores each picture, 1 where it does not, as in a clip of 30 frames a
// second that was made one of 60; new pictures come in the frames first, first+every and so on.
func (s *Shots) stored() (every, first int) {
	for every = mostStored; every > 1; every-- {
		change, news := make([]float64, every), make([]int, every) // by the frame's place among its copies
		for i := every; i+every <= len(s.still); i++ {
			most := 0.0
			for _, f := range s.still[i-every+1 : i+every] {
				most = max(most, f.most)
			}
			if most < 2*movedLevels {
				continue // nothing moves
			}
			change[i%every] += s.still[i].most
			if s.still[i].most >= 2*movedLevels {
				news[i%every]++
			}
		}
		all := 0.0
		for place, c := range change {
			all += c
			if c > change[first%every] {
				first = place
			}
		}
		if first %= every; news[first] >= leastStored && all-change[first] <= copyPart*change[first] {
			return every, first
		}
	}
	return 1, 0
}

// moves says whether a frame goes on from the one before by a motion, and by that part of
// what the next two frames in the direction do; true beyond the ends of the clip.
func (s *Shots) moves(i, direction int, part float64) bool {
	if i <= 0 || i >= len(s.still) {
		return true
	}
	most := s.still[i].most
	for k := 1; k <= 2; k++ {
		j := i + k*direction
		if j <= 0 || j >= len(s.still) {
			break
		}
		// What changes once, as the digits of a clock do, is no motion.
		if k == 1 && s.still[j].most < movedLevels || most < part*s.still[j].most {
			return false
		}
	}
	return most >= movedLevels
}

// cutAt says whether the frame whose change is given follows on a cut, from the changes
// of the frames around it. A cut changes the middle of the picture as well as all of it.
func cutAt(c pictureChange, around []pictureChange) bool {
	if c.nothing || c.most < cutLevels {
		return false
	}
	usual, usualInside := float64(cutLeast), float64(cutLeast)
	for _, a := range around {
		usual, usualInside = math.Max(usual, a.perS), math.Max(usualInside, a.inside)
	}
	return c.perS >= cutRatio*usual && c.inside >= cutRatio*usualInside
}

// around returns the changes of the frames around one of them.
func around(changes []pictureChange, at int) []pictureChange {
	from, _ := looked(changes, at, -1)
	to, _ := looked(changes, at, 1)
	return slices.Concat(changes[from+1:at], changes[at+1:to])
}

// looked returns the first frame in a direction, 1 or -1, that is too far to be looked at for whether the one given
// follows on a cut; known is false where the frames end before.
func looked(changes []pictureChange, at, direction int) (end int, known bool) {
	pictures, again := 0, false
	for frames := 1; ; frames++ {
		if end = at + frames*direction; end < 0 || end >= len(changes) {
			return end, false
		}
		c := changes[end]
		s := math.Abs(c.timeS - changes[at].timeS)
		near := frames <= cutLooks || frames <= mostLooks && s < cutReachS
		if !near && (!again || pictures >= cadence || frames > mostCadence || s >= cadenceS) {
			return end, true
		}
		if c.perS >= newPerS {
			pictures++
		} else {
			again = true
		}
	}
}

// place says whether a picture begins a new shot and gives the number of the scene it
// shows: pictures of one scene are filmed from one place.
func (s *Shots) place(c pictureChange, around []pictureChange) (cut bool, scene int) {
	if c.cells == nil {
		return false, s.scene // damaged
	}
	if c.blank {
		s.blank = true
		return false, s.scene
	}
	cut = cutAt(c, around) || s.blank && len(s.seen) > 0
	s.blank = false
	switch {
	case len(s.seen) == 0:
		s.seen = append(s.seen, c.cells)
	case cut:
		s.scene = s.sceneOf(c.cells)
	}
	s.seen[s.scene] = c.cells
	return cut, s.scene
}

// sceneOf returns the scene that a picture after a cut shows, a new one where it looks
// like none.
func (s *Shots) sceneOf(cells []uint8) int {
	best, alike := s.scene, sameScene
	for i, other := range s.seen {
		if r := correlation(numbers(cells), numbers(other)); r > alike {
			best, alike = i, r
		}
	}
	if alike > sameScene || len(s.seen) == mostScenes {
		return best
	}
	s.seen = append(s.seen, cells)
	return len(s.seen) - 1
}

// Run passes on the frames of in with what is known of their shots, a few frames late,
// until in or the context ends. It closes out.
func (s *Shots) Run(ctx context.Context, in <-chan Placed, out chan<- Placed) {
	defer close(out)
	var waiting []Placed
	var changes []pictureChange // of the frames waiting, and of a few before them
	var failed *Placed
	defer func() {
		for i := range waiting {
			waiting[i].Close()
		}
	}()
	pass := func(d Placed) bool {
		select {
		case out <- d:
			return true
		case <-ctx.Done():
			d.Close()
			return false
		}
	}
	passFirst := func() bool {
		d := waiting[0]
		waiting = waiting[1:]
		at := len(changes) - 1 - len(waiting)
		d.Cut, d.Scene = s.place(changes[at], around(changes, at))
		return pass(d)
	}
	for d := range in {
		if d.Err != nil {
			failed = &d
			break
		}
		c, err := s.look(d.Frame)
		if d.Err = err; err != nil {
			failed = &d
			break
		}
		if changes = append(changes, c); len(changes) > 2*mostCadence+2 {
			changes = changes[1:]
		}
		waiting = append(waiting, d)
		for len(waiting) > 1 {
			if _, known := looked(changes, len(changes)-len(waiting), 1); !known {
				break
			}
			if !passFirst() {
				return
			}
		}
	}
	for len(waiting) > 0 {
		if !passFirst() {
			return
		}
	}
	if failed != nil {
		pass(*failed)
	}
}

// Finish marks the poses whose pictures were shown before, and parts those before and after a dissolve.
func (s *Shots) Finish(t *pose.Track) error {
	timesS := make([]float64, len(t.Poses))
	for i := range t.Poses {
		timesS[i] = t.Poses[i].TimeS
	}
	for i, lag := range s.again(timesS) {
		t.Poses[i].Repeats = lag
	}
	for _, d := range s.dissolves(timesS) {
		s.part(t, d)
	}
	for i, frozen := range s.frozen() {
		if i < len(t.Poses) && frozen && !t.Poses[i].Damaged {
			p := &t.Poses[i]
			*p = pose.Pose{Index: p.Index, TimeS: p.TimeS, Camera: p.Camera, Cut: p.Cut, Scene: p.Scene, Repeats: p.Repeats,
				Frozen: true}
		}
	}
	return s.failed
}
