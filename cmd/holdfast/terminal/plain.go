package terminal

import (
	"fmt"
	"io"

	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/words"
)

// printPlain prints how far each joint goes in a clip without reps.
func printPlain(w io.Writer, an *screening.Analysis) {
	Tell(w, "analysed_plain", "clip", an.Clip.Name, "frames", an.Clip.Frames, "lasts", seconds(an.Clip.DurationS),
		"facing", words.Or("facing."+an.Facing, an.Facing), "side", words.Or("facing."+an.NearSide, an.NearSide))
	printSetting(w, an)
	Say(w, "%s\n", said.PlainAnswer(an))
	fmt.Fprintln(w)
	t := said.PlainTable(an)
	frontTable(w, t)
	notes(w, t.Notes)
	if !an.Plain.Marked {
		Tell(w, "mark_part")
	}
}
