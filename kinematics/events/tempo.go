package events

import (
	"cmp"
	"math"
	"slices"

	"holdfast/kinematics/movement"
	"holdfast/kinematics/signal"
)

// Two groups of reps of one set are two tempos when their quickness differs by groupFactor
// at least, and by more than it does within either. A group that lies within bandFactor of
// the bound is named by the other one where that lies clearly beyond; a set of one tempo that
// does is between the two, so that no small change of what was seen makes it the other. Common
// practice, no source.
const (
	groupFactor = 1.4
	bandFactor  = 1.2
)

// quickness returns how quick a rep is against the bounds between slow and fast: the
// logarithm of its factor, 0 at the bound and more for a fast one; NaN for a rep of which
// neither the time of its way to the turn nor its speed is known.
func quickness(r *RepTimes, fast movement.Tempo) float64 {
	q, wayS := 0.0, r.DescentS
	if fast.OfBack {
		wayS = r.AscentS
	}
	if wayS > 0 {
		q = fast.FastS / wayS
	}
	if !math.IsNaN(r.PeakSpeed) {
		q = max(q, r.PeakSpeed/fast.FastSpeed)
	}
	if !(q > 0) {
		return math.NaN()
	}
	return math.Log(q)
}

// tempoOfSet returns what tells the tempo of the reps of a set, by their quickness: it is
// named against itself first. All have one tempo unless they fall into two clear groups.
// between says that it is neither slow nor fast: it then counts as slow.
func tempoOfSet(set []float64) (of func(quickness float64) Tempo, between bool) {
	sorted := slices.Sorted(slices.Values(set))
	part := 0 // the reps from here on are the quicker group
	widest := 0.0
	for i := 1; i < len(sorted); i++ {
		if gap := sorted[i] - sorted[i-1]; gap > widest {
			part, widest = i, gap
		}
	}
	named := func(middle float64) Tempo {
		if middle >= 0 {
			return TempoFast
		}
		return TempoSlow
	}
	if len(sorted) == 0 {
		return named, false
	}
	band := math.Log(bandFactor)
	within := func(group []float64) float64 { return group[len(group)-1] - group[0] }
	if widest < math.Log(groupFactor) || widest <= max(within(sorted[:part]), within(sorted[part:])) {
		middle := signal.Median(sorted)
		one, between := named(middle), math.Abs(middle) < band
		if between {
			one = TempoSlow
		}
		return func(float64) Tempo { return one }, between
	}
	slower, quicker := signal.Median(sorted[:part]), signal.Median(sorted[part:])
	slow, fast := named(slower), named(quicker)
	switch {
	case math.Abs(quicker) < band && slower < -band:
		fast = TempoFast
	case math.Abs(slower) < band && quicker > band:
		slow = TempoSlow
	}
	parted := (sorted[part-1] + sorted[part]) / 2
	return func(quickness float64) Tempo {
		if quickness >= parted {
			return fast
		}
		return slow
	}, false
}

// onFloorS returns how long the feet are on the floor from a jump to the next one, in seconds; that of the jump before
// where none follows, and NaN where the jump stands alone.
func onFloorS(reps []RepTimes, i int) float64 {
	follows := func(k int) bool { return k > 0 && k < len(reps) && reps[k].StartS == reps[k-1].EndS }
	if !follows(i + 1) {
		i--
	}
	if i < 0 || !follows(i+1) {
		return math.NaN()
	}
	return reps[i+1].TakeoffS - reps[i].ContactS
}

// SetTempos gives each rep that has none from the coach its tempo: the coach's for
// its number, else the coach's for all, else the one found. A rep that was left out
// has the tempo it was done at, one with a flight is a jump.
//
// A rep that is not whole may hide its descent, and of one that is hidden neither time nor speed may be known: it is
// taken to be like the whole ones of the clip.
func SetTempos(reps []RepTimes, fast movement.Tempo, all Tempo, ofNumber map[int]Tempo) {
	jump := func(r *RepTimes) bool { return r.HasFlight() && !fast.OfContact }
	whole := func(r *RepTimes) bool { return !r.Partial || r.PartialWhy.Code == LeftOut }
	quick := make([]float64, len(reps))
	for i := range reps {
		if quick[i] = quickness(&reps[i], fast); fast.OfContact {
			quick[i] = math.Log(fast.FastS / onFloorS(reps, i))
		}
	}
	var set []float64
	for i := range reps {
		if q := quick[i]; !jump(&reps[i]) && whole(&reps[i]) && !math.IsNaN(q) {
			set = append(set, q)
		}
	}
	found, between := tempoOfSet(set)
	count := map[Tempo]int{}
	usual := TempoUnknown
	for i := range reps {
		if r := &reps[i]; !jump(r) && whole(r) && !math.IsNaN(quick[i]) {
			t := found(quick[i])
			if count[t]++; count[t] > count[usual] {
				usual = t
			}
		}
	}
	for i := range reps {
		r := &reps[i]
		if r.TempoGiven {
			continue
		}
		switch {
		case jump(r):
			r.Tempo = TempoJump
		case (!whole(r) || math.IsNaN(quick[i])) && usual != TempoUnknown:
			r.Tempo, r.Between = usual, between
		default:
			r.Tempo, r.Between = found(quick[i]), between
		}
		if all != TempoUnknown {
			r.Tempo, r.TempoGiven, r.Between = all, true, false
		}
		if t := ofNumber[r.Number]; t != TempoUnknown {
			r.Tempo, r.TempoGiven, r.Between = t, true, false
		}
	}
}

// HardestTempo returns the tempo that the clip's smoothing has to carry, when the
// coach named one for all reps (or TempoUnknown).
func HardestTempo(reps []RepTimes, all Tempo) Tempo {
	t := all
	for i := range reps {
		if reps[i].Tempo.Rank() > t.Rank() {
			t = reps[i].Tempo
		}
		if reps[i].HasFlight() {
			t = TempoJump
		}
	}
	return t
}

// Tempo is how fast a rep was done: a condition of the axis tempo.
type Tempo string

// The tempos. TempoUnknown asks for it to be found.
const (
	TempoUnknown Tempo = ""
	TempoSlow    Tempo = "slow"
	TempoFast    Tempo = "fast"
	TempoJump    Tempo = "jump"
)

// String returns "unknown", "slow", "fast" or "jump".
func (t Tempo) String() string { return cmp.Or(string(t), "unknown") }

// TempoWord returns what a rep's tempo is called: "between" where it is neither slow nor fast.
func (r *RepTimes) TempoWord() string {
	if r.Between {
		return "between"
	}
	return r.Tempo.String()
}

// Tempos are the tempos by rank.
var Tempos = [...]Tempo{TempoSlow, TempoFast, TempoJump}

// Rank returns the place of a tempo on its axis, the easiest 1; 0 for one that is not known.
func (t Tempo) Rank() int { return slices.Index(Tempos[:], t) + 1 }

// ParseTempo returns the tempo of a key, TempoUnknown for another text.
func ParseTempo(key string) Tempo {
	for _, t := range Tempos {
		if t.String() == key {
			return t
		}
	}
	return TempoUnknown
}
