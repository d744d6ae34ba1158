package setting

import (
	"slices"
	"strconv"

	"holdfast/kinematics"
	"holdfast/words"
)

// Set is one of the sets that are compared.
type Set struct {
	State  string // fresh, loaded or fatigued
	LoadKg float64
	Loaded bool // LoadKg was said
	Date   string
	Setting
}

// StateOf returns the state of an athlete of whom none was said, by the rest.
func StateOf(loadKg *float64, s Setting) string {
	switch {
	case s.Tired():
		return "fatigued"
	case loadKg != nil && *loadKg > 0, s.LoadPct != nil && *s.LoadPct > 0:
		return "loaded"
	}
	return "fresh"
}

// State returns a state, a load and how else a set was done in words, "loaded with 60 kg, after 20 reps".
func State(state string, loadKg float64, loaded bool, setting string) string {
	of := words.Or("condition."+state, state)
	if loaded {
		of = words.Say("condition.with_load", words.Params{"of": of, "kg": strconv.FormatFloat(loadKg, 'f', -1, 64)})
	}
	if setting != "" {
		of = words.Say("condition.with_setting", words.Params{"of": of, "setting": setting})
	}
	return of
}

// Sides says what the sets differ in other than tempo, and the axis of it: the state of the athlete with what else was
// said, or else the date. It is nil where they do not differ.
func Sides(sets []Set) (sides []string, axis kinematics.Axis, dates []string) {
	var apart []Setting
	for i := range sets {
		apart = append(apart, sets[i].Setting)
	}
	hardest := kinematics.States[0]
	var conditions []string
	differ := false
	for i := range sets {
		s := &sets[i]
		if at := kinematics.StateOf(s.State); at.Rank > hardest.Rank {
			hardest = at
		}
		said := State(s.State, s.LoadKg, s.Loaded, "")
		differ = differ || said != State(sets[0].State, sets[0].LoadKg, sets[0].Loaded, "")
		conditions, dates = append(conditions, said), append(dates, s.Date)
	}
	axis = hardest.Axis
	for i := range sets {
		said := sets[i].Said(apart...)
		if differ {
			conditions[i] = State(sets[i].State, sets[i].LoadKg, sets[i].Loaded, said)
		} else if said != "" {
			conditions[i] = said
		}
	}
	if !differ {
		axis = kinematics.AxisClip
	}
	for _, of := range []struct {
		names []string
		axis  kinematics.Axis
	}{{conditions, axis}, {dates, kinematics.AxisDay}} {
		sorted := slices.Compact(slices.Sorted(slices.Values(of.names)))
		if len(sorted) == len(sets) && len(sets) > 1 && sorted[0] != "" {
			return of.names, of.axis, dates
		}
	}
	return nil, "", dates
}
