package said

import (
	"math"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/measure"
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
	out := append(rises(a), drops(a)...)
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

// rises says how long each way from the floor onto the feet took, and how many steps.
func rises(a *screening.Analysis) []string {
	out := []string{}
	for i := range a.Reps {
		u := a.Reps[i].Rise
		if u == nil || !u.ToFeetS.Known() {
			continue
		}
		in := u.ToFeetS.Interval95()
		parts := []string{Say("rose", "time", u.ToFeetS.Value, "lo", in[0], "hi", in[1]), stepsTaken("steps_up", u.Steps)}
		if !math.IsNaN(u.StillS) {
			parts = append(parts, Say("rose_still", "still", u.StillS))
		}
		out = append(out, Say("way_of_rep", "rep", a.Reps[i].Number, "parts", parts))
	}
	return out
}

// stepsTaken says how many steps followed.
func stepsTaken(code string, n *int) string {
	switch {
	case n == nil:
		return Say("steps_unknown")
	case *n == 0:
		return Say(code + "_none")
	}
	return Say(code, "n", *n)
}

// drops says from how high each rep dropped, how soon after the first contact it was still, and after how many steps.
func drops(a *screening.Analysis) (out []string) {
	for i := range a.Reps {
		d := a.Reps[i].Drop
		if d == nil || !d.HeightM.Known() && math.IsNaN(d.StillS) {
			continue
		}
		var parts []string
		if in := d.HeightM.Interval95(); d.HeightM.Known() {
			parts = append(parts, Say("dropped", "cm", 100*d.HeightM.Value, "lo", 100*in[0], "hi", 100*in[1]))
		}
		if !math.IsNaN(d.StillS) {
			parts = append(parts, Say("dropped_still", "still", d.StillS))
		}
		if parts = append(parts, stepsTaken("steps_down", d.Steps)); !d.HeightM.Known() {
			parts = append(parts, Say("dropped_unscaled"))
		}
		out = append(out, Say("way_of_rep", "rep", a.Reps[i].Number, "parts", parts))
	}
	return out
}

// Times says how long the parts of a movement took in each condition, a line a time, the easiest condition first: on
// the floor and in the air of hops, onto the feet of get-ups, until the body is still, and how many steps were taken.
// It is nil where nothing was timed, and of jumps, each of which has its times in a table.
func Times(c *screening.Comparison) []string {
	if Jumping(c) == "jumps" {
		return nil
	}
	var out []string
	for _, of := range measure.Timings {
		var each []string
		for _, at := range c.Conditions() {
			mean := measure.TimeOver(timedIn(c, at.Key), of)
			form, lo, hi := "within", mean.From, mean.To
			switch {
			case mean.Reps == 0:
				continue
			case mean.Mean.SD > 0:
				in := mean.Mean.Interval95()
				lo, hi = in[0], in[1]
			case mean.Reps == 1:
				form = "alone"
			default:
				form = "reps"
			}
			decimals := 1
			if of == measure.TimingFloor || of == measure.TimingAir {
				decimals = 2
			}
			if form == "reps" && Decimal(lo, decimals) == Decimal(hi, decimals) {
				form = "alone"
			}
			each = append(each, Say("time_part", "form", form, "of", at.Words, "time", Decimal(mean.Mean.Value, decimals),
				"lo", Decimal(lo, decimals), "hi", Decimal(hi, decimals)))
		}
		if len(each) > 0 {
			out = append(out, Say("time", "form", string(of), "each", each))
		}
	}
	return append(out, steps(c)...)
}

// steps says how many steps were taken in each condition, the fewest and the most of its reps: on the way onto the
// feet, and after drops.
func steps(c *screening.Comparison) (out []string) {
	for _, code := range []string{"steps_up", "steps_down"} {
		var each []string
		for _, at := range c.Conditions() {
			var all []int
			for _, of := range timedIn(c, at.Key) {
				switch {
				case code == "steps_up" && of.Rise != nil && of.Rise.Steps != nil:
					all = append(all, *of.Rise.Steps)
				case code == "steps_down" && of.Drop != nil && of.Drop.Steps != nil:
					all = append(all, *of.Drop.Steps)
				}
			}
			if len(all) == 0 {
				continue
			}
			form, lo, hi := "alone", slices.Min(all), slices.Max(all)
			if hi > lo {
				form = "reps"
			}
			each = append(each, Say("step_part", "form", form, "of", at.Words, "lo", lo, "hi", hi))
		}
		if len(each) > 0 {
			out = append(out, Say("time", "form", code, "each", each))
		}
	}
	return out
}

// timedIn returns what has times of the reps of a condition.
func timedIn(c *screening.Comparison, key string) (out []measure.Timed) {
	for clip, a := range c.Analyses {
		if a == nil {
			continue
		}
		for i := range a.Reps {
			r := &a.Reps[i]
			if of, ok := c.ConditionOf(clip, r.Tempo); ok && of.Key == key && r.Counts() {
				out = append(out, measure.Timed{Jump: r.Jump, Landing: r.Landing, Rise: r.Rise, Drop: r.Drop})
			}
		}
	}
	return out
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
