package figures

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"holdfast/kinematics/events"
	"holdfast/movements"
	"holdfast/screening"
)

// Movements prints what clips are named and how sure that is, by what they show: squats, and others that are called
// after it, MOVEMENT_CONDITION.
func Movements(w io.Writer, squats, others map[string]*screening.Analysis) error {
	type cell struct{ shown, named string }
	count, sure := map[cell]int{}, map[cell]float64{}
	add := func(shown string, a *screening.Analysis) {
		if a == nil {
			count[cell{shown, "none: refused"}]++
			return
		}
		c := cell{shown, a.Movement.Key}
		if count[c]++; count[c] == 1 || a.Movement.SurePct < sure[c] {
			sure[c] = a.Movement.SurePct
		}
	}
	for _, a := range squats {
		add("squat", a)
	}
	for name, a := range others {
		add(name[:max(0, strings.LastIndex(name, "_"))], a)
	}
	cells := make([]cell, 0, len(count))
	for c := range count {
		cells = append(cells, c)
	}
	slices.SortFunc(cells, func(a, b cell) int { return strings.Compare(a.shown+a.named, b.shown+b.named) })
	fmt.Fprintln(w, "Movements. Clips by what they show and what they are named, and how sure the least sure is.")
	t := Table(w)
	fmt.Fprintln(t, "shown\tnamed\tclips\tleast sure, %")
	for _, c := range cells {
		least := "-"
		if pct, known := sure[c]; known {
			least = fmt.Sprintf("%.0f", pct)
		}
		fmt.Fprintf(t, "%s\t%s\t%d\t%s\n", c.shown, c.named, count[c], least)
	}
	err := t.Flush()
	fmt.Fprintln(w)
	return err
}

// Shows returns the movement that a clip shows by its name, MOVEMENT_CONDITION; others are squats.
func Shows(path string) string {
	name := strings.TrimSuffix(filepath.Base(path), ".mp4")
	key := name[:max(0, strings.LastIndex(name, "_"))]
	if _, known := movements.Known().Of(key); known || strings.HasPrefix(key, "no_rep") {
		return key
	}
	return "squat"
}

// ClipOf returns the name of a clip of a comparison as the tables have it.
func ClipOf(c *screening.Comparison, i int) string {
	return strings.TrimSuffix(c.Clips[i].Name, ".mp4")
}

// TempoOf returns the tempo that a clip's name states.
func TempoOf(clip string) string {
	for part := range strings.SplitSeq(clip, "_") {
		if part == "bar" { // with a bar all are slow
			return string(events.TempoSlow)
		}
		if events.ParseTempo(part) != events.TempoUnknown {
			return part
		}
	}
	return ""
}
