// Package sides tells what clips differ in that are compared, other than tempo.
package sides

import (
	"slices"
	"strconv"

	"holdfast/archive"
	"holdfast/kinematics"
	"holdfast/words"
)

// Of says what clips of these visits differ in other than tempo, and the axis of it:
// condition and load, or else the date. It is nil when they do not.
func Of(visits []archive.Visit) (sides []string, axis kinematics.Axis, dates []string) {
	var conditions []string
	hardest := kinematics.States[0]
	for _, v := range visits {
		if s := kinematics.StateOf(v.Condition); s.Rank > hardest.Rank {
			hardest = s
		}
		of := words.Or("condition."+v.Condition, v.Condition)
		if v.LoadKg != nil {
			of = words.Say("condition.with_load", words.Params{"of": of, "kg": strconv.FormatFloat(*v.LoadKg, 'f', -1, 64)})
		}
		conditions, dates = append(conditions, of), append(dates, v.Date)
	}
	for _, of := range []struct {
		names []string
		axis  kinematics.Axis
	}{{conditions, hardest.Axis}, {dates, kinematics.AxisDay}} {
		if sorted := slices.Compact(slices.Sorted(slices.Values(of.names))); len(sorted) == len(visits) && len(visits) > 1 {
			return of.names, of.axis, dates
		}
	}
	return nil, "", dates
}
