package events

import (
	"cmp"
	"slices"
)

// The bounds between slow and fast. A descent of 0.8 s or less, or a fall of the
// hips faster than 1.2 leg lengths a second (about 1 m/s), is fast: the drop
// squats that coaches film take 0.3 to 0.6 s, controlled ones 1 s and more.
// Common practice, no source.
const (
	fastDescentS     = 0.8
	fastDescentSpeed = 1.2
)

// classifyTempo returns how a rep was done: jump when the feet left the floor;
// fast when the descent was short or its fall quick; slow otherwise.
func classifyTempo(r *RepTimes) Tempo {
	switch {
	case r.HasFlight():
		return TempoJump
	case r.DescentS <= fastDescentS || r.PeakDescentSpeed >= fastDescentSpeed:
		return TempoFast
	default:
		return TempoSlow
	}
}

// SetTempos gives each rep that has none from the coach its tempo: the coach's for
// its number, else the coach's for all, else the one found. A rep that was left out
// has the tempo it was done at.
//
// A rep that is not whole may hide its descent: it is taken to be like the whole
// ones of the clip.
func SetTempos(reps []RepTimes, all Tempo, ofNumber map[int]Tempo) {
	count := map[Tempo]int{}
	usual := TempoUnknown
	for i := range reps {
		if r := &reps[i]; !r.Partial || r.PartialWhy == LeftOutWhy {
			t := classifyTempo(r)
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
		r.Tempo = classifyTempo(r)
		if r.Partial && r.PartialWhy != LeftOutWhy && !r.HasFlight() && usual != TempoUnknown && usual != TempoJump {
			r.Tempo = usual
		}
		if all != TempoUnknown {
			r.Tempo, r.TempoGiven = all, true
		}
		if t := ofNumber[r.Number]; t != TempoUnknown {
			r.Tempo, r.TempoGiven = t, true
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

// Tempos are the tempos by rank.
var Tempos = [...]Tempo{TempoSlow, TempoFast, TempoJump}

// Rank returns the place of a tempo on its axis, the easiest 1; 0 for one that is not known.
func (t Tempo) Rank() int { return slices.Index(Tempos[:], t) + 1 }
