package terminal

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"holdfast/kinematics/stats"
	"holdfast/movements"
	"holdfast/report/said"
	"holdfast/screening/history"
	"holdfast/screening/losses"
	"holdfast/screening/setting"
	"holdfast/words"
)

// History prints what holds again, what is lost at each visit, and every position over the visits.
func History(w io.Writer, h *history.History) {
	printAgain(w, h.Again)
	printLosses(w, h.Losses)
	for i := range h.Series {
		printSeries(w, &h.Series[i])
	}
}

// conditionOf says how reps were done: "slow loaded with 60 kg".
func conditionOf(c losses.Condition) string {
	return words.Or("tempo."+c.Tempo, c.Tempo) + " " +
		setting.State(c.Condition, c.LoadKg, !math.IsNaN(c.LoadKg), c.Setting)
}

// printAgain prints, a sentence each, whether what was lost under a condition holds under it now.
func printAgain(w io.Writer, all []losses.Again) {
	for i := range all {
		a := &all[i]
		form := "lost"
		switch {
		case a.Holds():
			form = "holds"
		case a.Now.Verdict == stats.Unclear:
			form = "unclear"
		}
		lost := func(p *losses.Point) string {
			form, deg, ends := "lost", p.LostDeg, p.Interval95Deg
			if math.Round(deg) < 0 {
				form, deg, ends = "gained", -deg, [2]float64{-ends[1], -ends[0]}
			}
			return Text("history_by", "form", form, "size", Whole(deg)+"°", "ends", Interval(ends, ""))
		}
		harder := conditionOf(a.Challenge)
		if a.Side != "" {
			harder += ", " + Text("leg", "form", a.Side)
		}
		now := lost(&a.Now)
		if a.Against != "" {
			now = Text("history_against", "now", now, "date", a.Against)
		}
		Tell(w, "history_again", "form", form, "position", said.PositionWords(a.Position).Plain, "harder", harder,
			"then", lost(&a.Then), "then_date", a.Then.Date, "now", now, "now_date", a.Now.Date)
	}
	if len(all) > 0 {
		fmt.Fprintln(w)
	}
}

// printLosses prints what is lost at the turn from condition to condition, visit by visit, a table for each pair.
func printLosses(w io.Writer, all []losses.Series) {
	word := conditionOf
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
		Tell(w, "history_losses", "easier", of[0], "harder", of[1], "turn", all[i].Turn)
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
func printSeries(w io.Writer, s *history.HistorySeries) {
	of := []string{said.PositionWords(s.Position).Plain,
		Text("history_rom"), words.Or("tempo."+s.Tempo, s.Tempo),
		setting.State(s.Condition, s.LoadKg, !math.IsNaN(s.LoadKg), s.Setting)}
	if s.Measure != "rom" {
		of[1] = Text("history_at_bottom", "turn", s.Turn)
	}
	if s.Side != "" {
		of = append(of, Text("leg", "form", s.Side))
	}
	if s.Movement > 1 {
		of = append(of, Text("movement", "number", s.Movement, "name", movements.Name(s.MovementKey)))
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
		for _, c := range []*history.HistoryChange{p.SinceFirst, p.SincePrevious} {
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
