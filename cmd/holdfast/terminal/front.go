package terminal

import (
	"fmt"
	"io"

	"holdfast/movements"
	"holdfast/report/said"
	"holdfast/screening"
)

// printFront prints the table of reps of a clip from the front.
func printFront(w io.Writer, an *screening.Analysis) {
	Tell(w, "analysed_front", "clip", an.Clip.Name, "movement", movements.Name(an.Shows().Key), "n", len(an.Reps),
		"frames", an.Clip.Frames, "lasts", seconds(an.Clip.DurationS))
	printSetting(w, an)
	fmt.Fprintln(w)
	t := said.FrontReps(an)
	frontTable(w, t)
	notes(w, t.Notes, said.Advice(an))
}

// compareFronts prints what became of what the front shows, a table for each pair of conditions.
func compareFronts(w io.Writer, c *screening.Comparison) {
	tables := said.FrontPairs(c)
	for i := range tables {
		frontTable(w, &tables[i])
		fmt.Fprintln(w)
	}
	for _, h := range said.Headlines(c) {
		Say(w, "%s\n", h.Sentence)
	}
	notes(w, tables[0].Notes)
	Tell(w, "smallest", "deg", c.SmallestChangeDeg)
}

// joinedFronts prints what the front shows of the same sets; what became of the knees stands with the joints.
func joinedFronts(w io.Writer, c *screening.Comparison) {
	tables := said.FrontPairs(c)
	for i := range tables {
		tables[i].Title = said.JoinedTitle(&tables[i])
		frontTable(w, &tables[i])
	}
	if len(tables) > 0 {
		notes(w, tables[0].Notes)
	}
	fmt.Fprintln(w)
}

func frontTable(w io.Writer, of *said.FrontTable) {
	Say(w, "%s\n", of.Title)
	t := NewTable(w)
	Row(t, of.Head...)
	for _, cells := range of.Rows {
		Row(t, cells...)
	}
	_ = t.Flush()
}

func notes(w io.Writer, lists ...[]string) {
	for _, list := range lists {
		for _, line := range list {
			Say(w, "%s\n", line)
		}
	}
}
