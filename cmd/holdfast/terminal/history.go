package terminal

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"holdfast/kinematics/stats"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/screening/losses"
	"holdfast/screening/setting"
	"holdfast/words"
)

// History prints what is lost at each visit, and every position over the visits.
func History(w io.Writer, h *screening.History) {
	printLosses(w, h.Losses)
	for i := range h.Series {
		printSeries(w, &h.Series[i])
	}
}

// printLosses prints what is lost at the bottom from condition to condition, visit by visit, a table for each pair.
func printLosses(w io.Writer, all []losses.Series) {
	word := func(c losses.Condition) string {
		return words.Or("tempo."+c.Tempo, c.Tempo) + " " +
			setting.State(c.Condition, c.LoadKg, !math.IsNaN(c.LoadKg), c.Setting)
	}
	told := map[string]bool{}
	for i := range all {
		key := func(s *losses.Series) string {
			return fmt.Sprint(s.Side, s.Movement, word(s.Baseline), word(s.Challenge))
		}
		if told[key(&all[i])] {
			continue
		}
		told[key(&all[i])] = true
		of := []string{word(all[i].Baseline), word(all[i].Challenge)}
		if all[i].Side != "" {
			of[1] += ", " + Text("leg", "form", all[i].Side)
		}
		Tell(w, "history_losses", "easier", of[0], "harder", of[1])
		t := NewTable(w)
		Row(t, Text("joint"), Text("date"), Text("history_lost"),
			Text("since_first"))
		for k := i; k < len(all); k++ {
			if s := &all[k]; key(s) == key(&all[i]) {
				printLossesOf(t, s)
			}
		}
		_ = t.Flush()
		fmt.Fprintln(w)
	}
}

func printLossesOf(t *tabwriter.Writer, s *losses.Series) {
	for i := range s.Points {
		p := &s.Points[i]
		since := Missing
		if c := p.SinceFirst; c != nil {
			form := "unseen"
			switch c.Verdict {
			case stats.Gained:
				form = "more"
			case stats.Lost:
				form = "less"
			case stats.Held:
				form = "same"
			}
			since = Text("history_kept", "form", form, "size", Whole(max(c.KeptDeg, -c.KeptDeg))+"°",
				"smallest", Whole(c.SmallestDetectableDeg)+"°")
		}
		Row(t, said.PositionWords(s.Position).Plain, p.Date,
			Whole(p.LostDeg)+"° ("+Interval(p.Interval95Deg, "")+")", since)
	}
}

// printSeries prints one position over the visits.
func printSeries(w io.Writer, s *screening.HistorySeries) {
	of := []string{said.PositionWords(s.Position).Plain,
		Text("history_rom"), words.Or("tempo."+s.Tempo, s.Tempo),
		setting.State(s.Condition, s.LoadKg, !math.IsNaN(s.LoadKg), s.Setting)}
	if s.Measure != "rom" {
		of[1] = Text("history_at_bottom")
	}
	if s.Side != "" {
		of = append(of, Text("leg", "form", s.Side))
	}
	if s.Movement > 1 {
		of = append(of, Text("movement", "number", s.Movement))
	}
	unit := said.UnitSign(s.Unit)
	Tell(w, "history_of", "of", of)
	t := NewTable(w)
	Row(t, Text("date"), Text("reps_head"), Text("mean"),
		Text("since_first"),
		Text("since_previous"),
		Text("smallest_head"))
	for _, p := range s.Points {
		cells := []string{p.Date, fmt.Sprint(p.Reps),
			Whole(p.Value.Value) + unit + " (" + Interval(p.Value.Interval95(), "") + ")"}
		smallest := Missing
		for _, c := range []*screening.HistoryChange{p.SinceFirst, p.SincePrevious} {
			if c == nil {
				cells = append(cells, Missing)
				continue
			}
			cells = append(cells, signed(c.Change)+unit+" "+said.PositionVerdict(s.Position, c.Verdict))
			smallest = Whole(c.SmallestDetectable) + unit
		}
		Row(t, append(cells, smallest)...)
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// signed prints a change with its sign.
func signed(n float64) string {
	if math.Round(n) > 0 {
		return "+" + Whole(n)
	}
	return Whole(n)
}
