package said

import (
	"math"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/stats"
	"holdfast/screening"
	"holdfast/words"
)

// fewestToDrift is how many reps a set has of which it is said that nothing drifts.
const fewestToDrift = 6

// Within says of each set of a clip how its positions go over the reps, a line a position that changes: "12 slow reps,
// ankle: 0.6° less a rep (0.2 to 1.0); 7° less in the last third than in the first (4 to 10); from rep 9 on it stays
// below the first ones." Of a long set in which none does it says so; of a short one, nothing. Of a way
// from the floor onto the feet it says first how long it took.
func Within(a *screening.Analysis) []string {
	out := rises(a)
	counts := a.Shows().Positions
	for i := range a.Sets {
		set := &a.Sets[i]
		of := Say("within_set", "n", set.Reps, "tempo", words.Or("tempo."+string(set.Tempo), string(set.Tempo)))
		some := false
		for k := range set.Within {
			w := &set.Within[k]
			if parts := partsOf(w); len(parts) > 0 && slices.Contains(counts, w.Position) {
				some = true
				out = append(out, Say("within_line", "set", of, "position", strings.ToLower(PositionWords(w.Position).Plain),
					"parts", strings.Join(parts, "; ")))
			}
		}
		if len(set.Within) > 0 && !some && set.Reps >= fewestToDrift {
			out = append(out, Say("within_none", "set", of))
		}
	}
	return out
}

// rises says how long each way from the floor onto the feet took.
func rises(a *screening.Analysis) []string {
	out := []string{}
	for i := range a.Reps {
		u := a.Reps[i].Rise
		if u == nil || !u.ToFeetS.Known() {
			continue
		}
		in, code := u.ToFeetS.Interval95(), "rose"
		if !math.IsNaN(u.StillS) {
			code = "rose_still"
		}
		out = append(out, Say(code, "rep", a.Reps[i].Number, "time", u.ToFeetS.Value, "lo", in[0], "hi", in[1], "still",
			u.StillS))
	}
	return out
}

// ToFeet says how long the way from the floor onto the feet took in each condition, the easiest first: the mean of its
// reps, whose error they share, so that more of them make it no surer. It is empty where nothing gets up.
func ToFeet(c *screening.Comparison) string {
	var each []string
	for _, at := range c.Conditions() {
		var mean stats.Estimate
		n := 0.0
		for clip, a := range c.Analyses {
			if a == nil {
				continue
			}
			for i := range a.Reps {
				r := &a.Reps[i]
				of, ok := c.ConditionOf(clip, r.Tempo)
				if !ok || of.Key != at.Key || !r.Counts() || r.Rise == nil || !r.Rise.ToFeetS.Known() {
					continue
				}
				n++
				mean.Value += (r.Rise.ToFeetS.Value - mean.Value) / n
				mean.SD += (r.Rise.ToFeetS.SD - mean.SD) / n
			}
		}
		if n > 0 {
			in := mean.Interval95()
			each = append(each, Say("to_feet_part", "of", at.Words, "time", mean.Value, "lo", in[0], "hi", in[1]))
		}
	}
	if len(each) == 0 {
		return ""
	}
	return Say("to_feet", "each", each)
}

// partsOf says what changes of a position over the reps of a set.
func partsOf(w *kinematics.PositionWithin) (parts []string) {
	of, unit := PositionWords(w.Position), UnitSign(w.Unit)
	way := func(change float64) string {
		if change < 0 {
			return of.Less
		}
		return of.More
	}
	// size is a change and its interval as amounts of it: 0.6 less, 0.2 to 1.0.
	size := func(change float64, in [2]float64, decimals int) (amount, ends string) {
		if change < 0 {
			change, in = -change, [2]float64{-in[1], -in[0]}
		}
		return Decimal(change, decimals) + unit, Ends(Decimal(in[0], decimals), Decimal(in[1], decimals))
	}
	if w.Drifts {
		amount, ends := size(w.PerRep, w.PerRepInterval95, 1)
		parts = append(parts, Say("within_slope", "amount", amount, "way", way(w.PerRep), "ends", ends))
	}
	if c := w.Thirds; c != nil && !math.IsNaN(c.Lost) && (w.Drifts || w.StaysFrom > 0) {
		amount, ends := size(-c.Lost, [2]float64{-c.Interval95[1], -c.Interval95[0]}, 0)
		parts = append(parts, Say("within_thirds", "amount", amount, "way", way(-c.Lost), "ends", ends))
	}
	if w.StaysFrom > 0 {
		form := "below"
		if w.Above {
			form = "above"
		}
		parts = append(parts, Say("within_stays", "form", form, "rep", w.StaysFrom))
	}
	return parts
}
