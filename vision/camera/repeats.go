package camera

import (
	"cmp"
	"math"
	"slices"
)

// What tells that a clip shows a stretch again. Common practice, no source, but where
// said.
const (
	// alikeLevels is how much a cell of a picture may differ from the same picture shown
	// earlier. With x264 at a rate factor of 24 to 30 a phone's clip and a rendered one
	// differed by 11 at most; squats that the same body did twice, by more than 20 in three
	// of four frames.
	alikeLevels = 12
	// alikeMisses is how many frames in a row may differ by more, as where the rate was
	// converted after the clip was put together.
	alikeMisses = 2
	// A stretch lasts at least leastAgainS, and in leastMoving of its frames something
	// moves so far that a frame earlier or later would not look the same: a still picture
	// repeats itself anyhow, and the rendered athlete comes up alike for 0.7 s from two
	// squats.
	leastAgainS  = 1.0
	leastMoving  = 10
	movingLevels = 2 * alikeLevels
)

// again returns for each frame how many frames before it the same picture was shown in a
// stretch that the clip repeats; 0: nowhere. It is the first of such stretches that counts.
func (s *Shots) again(timesS []float64) []int {
	n := min(len(s.all), len(timesS))
	out := make([]int, n)
	order := s.liveliest()
	signs, of := s.signs(order), s.room()
	same := func(i, j int) bool {
		return alikeSigns(signs, i, j) && alike(s.at(i, of[0]), s.at(j, of[1]), order)
	}
	moving := make([]int, n+1) // frames before this one in which something moves
	var lively []int
	for i := range n {
		moving[i+1] = moving[i]
		if s.still[i].most >= movingLevels {
			moving[i+1]++
			lively = append(lively, i)
		}
	}
	for lag := n - 1; lag > 0; lag-- {
		if timesS[lag]-timesS[0] < leastAgainS {
			break // a stretch does not overlap itself
		}
		// Two pictures of a motion soon differ, two of one who stands do not: without
		// enough of the former alike there is no stretch, and the latter need no look.
		found := 0
		for k := len(lively) - 1; k >= 0 && lively[k] >= lag && found < leastMoving; k-- {
			if i := lively[k]; same(i, i-lag) {
				found++
			}
		}
		if found < leastMoving {
			continue
		}
		from, misses := -1, 0
		end := func(to int) { // the last that was alike
			if from >= 0 && timesS[to]-timesS[from] >= leastAgainS && moving[to+1]-moving[from] >= leastMoving {
				for i := from; i <= to; i++ {
					if out[i] == 0 {
						out[i] = lag
					}
				}
			}
			from, misses = -1, 0
		}
		for i := lag; i < n; i++ {
			switch {
			case same(i, i-lag):
				if from < 0 {
					from = i
				}
				misses = 0
			case from >= 0:
				if misses++; misses > alikeMisses {
					end(i - misses)
				}
			}
		}
		end(n - 1 - misses)
	}
	return out
}

// liveliest returns the cells of the pictures, those that change most first: they tell
// two pictures apart soonest.
func (s *Shots) liveliest() []int {
	var order []int
	var change []float64
	of := s.room()
	var before []uint8
	for i := range s.all {
		cells := s.at(i, of[i%2])
		if order == nil && cells != nil {
			change = make([]float64, len(cells))
			for k := range cells {
				order = append(order, k)
			}
		}
		if before != nil {
			for k, v := range cells {
				change[k] += math.Abs(float64(v) - float64(before[k]))
			}
		}
		before = cells
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(change[b], change[a]) })
	return order
}

// alike says whether two pictures are the same but for the noise of compression.
func alike(a, b []uint8, order []int) bool {
	if a == nil || b == nil {
		return false
	}
	for _, k := range order {
		if d := int(a[k]) - int(b[k]); d > alikeLevels || d < -alikeLevels {
			return false
		}
	}
	return true
}

// signCells is how many of a picture's cells, the liveliest, stay at hand for every frame.
const signCells = 48

// signs returns those cells of all frames, one after the other.
func (s *Shots) signs(order []int) []uint8 {
	order = order[:min(signCells, len(order))]
	signs, into := make([]uint8, signCells*len(s.all)), s.room()[0]
	for i := range s.all {
		if cells := s.at(i, into); cells != nil {
			for k, from := range order {
				signs[signCells*i+k] = cells[from]
			}
		}
	}
	return signs
}

// alikeSigns says whether two pictures may be alike, by the cells that are at hand.
func alikeSigns(signs []uint8, i, j int) bool {
	a, b := signs[signCells*i:signCells*(i+1)], signs[signCells*j:signCells*(j+1)]
	for k, v := range a {
		if d := int(v) - int(b[k]); d > alikeLevels || d < -alikeLevels {
			return false
		}
	}
	return true
}

// room returns memory for the cells of three frames.
func (s *Shots) room() (of [3][]uint8) {
	size := 0
	for _, p := range s.all {
		size = max(size, p.Size())
	}
	for i := range of {
		of[i] = make([]uint8, size)
	}
	return of
}
