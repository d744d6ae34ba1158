package camera

import (
	"math"
	"slices"

	"holdfast/vision/pose"
)

// What tells a dissolve, in which a clip fades from one place to another: a picture is then the mean of those beside
// it, as no picture of a motion is. Common practice, no source, but where said.
const (
	// The pictures beside it lie mixReachS away on either side, in seconds; a frame or two in between may not tell.
	mixReachS = 0.3
	mixPauses = 2
	// mixedLevels is how much a cell must change between them to tell, mixedPart the part of the cells that must.
	mixedLevels = 24
	mixedPart   = 0.05
	// mixedOff is how far most such cells may lie from the mean, as a part of their change. In dissolves of rendered
	// clips it was 0.02, of a real one 0.1, and 0.5 where a clip was cut hard; twenty real clips without one, some
	// panned or carried, had none.
	mixedOff = 0.12
)

// dissolves returns the stretches of frames, from the first to before the last, that mix two places.
func (s *Shots) dissolves(timesS []float64) (out [][2]int) {
	n := min(len(s.all), len(timesS))
	beside := func(i int, reachS float64) int { // the frame that is so far from another
		at := timesS[i] + reachS
		for i > 0 && timesS[i] > at {
			i--
		}
		for i < n-1 && timesS[i] < at {
			i++
		}
		return i
	}
	of := s.room()
	from, last := -1, -1
	end := func() {
		if from >= 0 && last-from >= cutLooks && s.differ(beside(from, -mixReachS), beside(last, mixReachS)) {
			out = append(out, [2]int{from, last + 1})
		}
		from = -1
	}
	for i := range n {
		if !isMean(s.at(beside(i, -mixReachS), of[0]), s.at(i, of[1]), s.at(beside(i, mixReachS), of[2])) {
			if i-last > mixPauses {
				end()
			}
			continue
		}
		if last = i; from < 0 {
			from = i
		}
	}
	end()
	return out
}

// differ says whether two pictures show different places, and not one that got brighter or comes out of the dark.
func (s *Shots) differ(a, b int) bool {
	before, after := s.at(a, nil), s.at(b, nil)
	for _, cells := range [][]uint8{before, after} {
		if cells == nil || slices.Max(cells)-slices.Min(cells) < blankLevels {
			return false
		}
	}
	return correlation(numbers(before), numbers(after)) < sameScene
}

// isMean says whether a picture is the mean of two others.
func isMean(a, m, b []uint8) bool {
	if a == nil || m == nil || b == nil {
		return false
	}
	var off []float64
	for i := range a {
		x, y := float64(a[i]), float64(b[i])
		if d := math.Abs(y - x); d > mixedLevels {
			off = append(off, math.Abs(float64(m[i])-(x+y)/2)/d)
		}
	}
	if float64(len(off)) < mixedPart*float64(len(a)) {
		return false
	}
	slices.Sort(off)
	return off[len(off)/2] < mixedOff
}

// part leaves out the poses of a dissolve and begins a scene in its middle: one of before where it looks like it.
func (s *Shots) part(t *pose.Track, dissolve [2]int) {
	from, to := dissolve[0], dissolve[1]
	for i := from; i < to; i++ {
		p := &t.Poses[i]
		*p = pose.Pose{Index: p.Index, TimeS: p.TimeS, Camera: p.Camera, Cut: p.Cut, Scene: p.Scene}
	}
	most := 0
	for i := range t.Poses {
		most = max(most, t.Poses[i].Scene)
	}
	before, middle := t.Poses[from].Scene, (from+to)/2
	scene, alike := most+1, sameScene
	after := numbers(s.at(min(to, len(s.all)-1), nil))
	into := s.room()[0]
	for i := 0; i < from; i++ {
		if r := correlation(numbers(s.at(i, into)), after); t.Poses[i].Scene != before && r > alike {
			scene, alike = t.Poses[i].Scene, r
		}
	}
	t.Poses[middle].Cut = true
	for i := middle; i < len(t.Poses) && (i == middle || !t.Poses[i].Cut); i++ {
		t.Poses[i].Scene = scene
	}
}

// numbers returns the cells of a picture as numbers; none of one that is damaged.
func numbers(cells []uint8) []float64 {
	out := make([]float64, len(cells))
	for i, c := range cells {
		out[i] = float64(c)
	}
	return out
}
