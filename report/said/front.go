package said

import (
	"math"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/frontal"
	"holdfast/kinematics/stats"
	"holdfast/screening"
	"holdfast/screening/headline"
	"holdfast/words"
)

// FrontName returns what a measure is called.
func FrontName(m frontal.Measure) string { return words.Say("front.name."+m.String(), nil) }

// frontWay returns which way a value of a measure goes, a key of the catalogue.
func frontWay(v float64) string {
	switch {
	case math.Round(v) > 0:
		return "more"
	case math.Round(v) < 0:
		return "less"
	}
	return "none"
}

// FrontValue writes a value of a measure: "8° in", "3 % to the left".
func FrontValue(m frontal.Measure, v float64) string {
	if math.IsNaN(v) {
		return Whole(v)
	}
	return words.Say("front.value."+m.String(), words.Params{"form": frontWay(v), "v": math.Abs(v)})
}

// FrontEstimate writes it with half of its 95 % interval: "8° in (±6)".
func FrontEstimate(m frontal.Measure, e stats.Estimate) string {
	if math.IsNaN(e.Value) || math.IsNaN(e.SD) {
		return FrontValue(m, e.Value)
	}
	return words.Say("front.within", words.Params{"value": FrontValue(m, e.Value), "half": screening.Half95(e.SD)})
}

// FrontInterval writes the interval of a change in the unit of its measure: "1° to 11°".
func FrontInterval(m frontal.Measure, v [2]float64) string {
	if math.IsNaN(v[0]) || math.IsNaN(v[1]) {
		return Whole(math.NaN())
	}
	unit := "°"
	if m.Unit() != frontal.Degrees {
		unit = " %"
	}
	return Ends(Whole(v[0])+unit, Whole(v[1])+unit)
}

// FrontVerdict returns what a change of a measure is called: "further in", "held".
func FrontVerdict(m frontal.Measure, v frontal.Verdict) string {
	if v == frontal.Held || v == frontal.Unclear {
		return VerdictWord(stats.Verdict(v))
	}
	return words.Say("front.became."+m.String(), words.Params{"form": string(v)})
}

// FrontTable is what the front shows as a table of words, the same wherever it is shown.
type FrontTable struct {
	Title string     `json:"title"`
	Head  []string   `json:"head"`
	Rows  [][]string `json:"rows"`
	Notes []string   `json:"notes"`
}

func sayFront(key string, with ...any) string {
	params := words.Params{}
	for i := 0; i+1 < len(with); i += 2 {
		params[with[i].(string)] = with[i+1]
	}
	return words.Say("front."+key, params)
}

// FrontReps returns what the front shows of each rep of a clip and in the mean of each tempo; nil of a clip from the
// side.
func FrontReps(a *screening.Analysis) *FrontTable {
	if !a.View.Front {
		return nil
	}
	t := &FrontTable{Title: sayFront("title"), Head: []string{sayFront("rep"), sayFront("tempo")}, Rows: [][]string{},
		Notes: []string{}}
	for m := range frontal.NumMeasures {
		t.Head = append(t.Head, FrontName(m))
	}
	t.Head = append(t.Head, sayFront("quality"))
	early := false
	for i := range a.Reps {
		r := &a.Reps[i]
		number := Whole(float64(r.Number))
		if r.Partial {
			number = sayFront("partial", "rep", number)
			t.Notes = append(t.Notes, notWhole(r))
		}
		row := []string{number, RepTempo(r)}
		for m := range frontal.NumMeasures {
			e := stats.Unknown()
			if r.Front != nil {
				e = r.Front.Of(m)
			}
			cell := FrontEstimate(m, e)
			if e.Known() && !r.Front.AtBottom {
				early, cell = true, sayFront("read_early", "value", cell)
			}
			row = append(row, cell)
		}
		t.Rows = append(t.Rows, append(row, GradeWord(r.Quality.Grade)))
	}
	for _, set := range wholeByTempo(a) {
		row := []string{sayFront("mean", "n", len(set)), setTempo(set)}
		for _, r := range frontal.Means(kinematics.FrontsOf(set)) {
			row = append(row, FrontEstimate(r.Measure, r.Read))
		}
		t.Rows = append(t.Rows, append(row, ""))
	}
	if early {
		t.Notes = append(t.Notes, sayFront("early"))
	}
	t.Notes = append(t.Notes, sayFront("explained"), sayFront("caution"))
	return t
}

// setTempo returns what the tempo of some reps of one is called, as each of them is where they are alike.
func setTempo(reps []kinematics.Rep) string {
	if slices.ContainsFunc(reps, func(r kinematics.Rep) bool { return !r.Between }) {
		return TempoWord(reps[0].Tempo)
	}
	return RepTempo(&reps[0])
}

// wholeByTempo returns the whole reps of a clip, those of each tempo together, the easiest first.
func wholeByTempo(a *screening.Analysis) (out [][]kinematics.Rep) {
	whole := slices.DeleteFunc(slices.Clone(a.Reps), func(r kinematics.Rep) bool { return !r.Counts() })
	for _, g := range kinematics.ByTempo(whole) {
		out = append(out, g.Reps)
	}
	return out
}

// frontAngles says how far each knee goes in, in the mean of a tempo: "left knee 4° in".
func frontAngles(a *screening.Analysis, tempo events.Tempo) (out []string) {
	for _, set := range wholeByTempo(a) {
		for _, r := range frontal.Means(kinematics.FrontsOf(set)) {
			if set[0].Tempo == tempo && (r.Measure == frontal.KneeInLeft || r.Measure == frontal.KneeInRight) {
				out = append(out, sayFront("angle", "name", FrontName(r.Measure), "value", FrontValue(r.Measure, r.Read.Value)))
			}
		}
	}
	return out
}

// FrontPairs returns what became of what the front shows, a table for each pair of conditions; none of clips from the
// side.
func FrontPairs(c *screening.Comparison) []FrontTable {
	out := []FrontTable{}
	for i := range c.Pairs {
		p := &c.Pairs[i]
		if p.Front == nil {
			continue
		}
		easier, harder := c.Word(p.Baseline), c.Word(p.Challenge)
		t := FrontTable{Title: sayFront("pair", "easier", easier, "harder", harder), Rows: [][]string{},
			Head: []string{sayFront("measure"), easier, harder, sayFront("change"), sayFront("interval"),
				sayFront("verdict")},
			Notes: []string{sayFront("explained"), sayFront("smallest", "pct", frontal.WeightShift.Smallest()),
				sayFront("caution")}}
		for _, ch := range p.Front {
			t.Rows = append(t.Rows, []string{FrontName(ch.Measure), FrontEstimate(ch.Measure, ch.Baseline),
				FrontEstimate(ch.Measure, ch.Challenge), FrontValue(ch.Measure, ch.Change),
				FrontInterval(ch.Measure, ch.Interval95), FrontVerdict(ch.Measure, ch.Verdict)})
		}
		out = append(out, t)
	}
	return out
}

// JoinedTitle is the title of a table of the front that stands with what the side shows of the same sets.
func JoinedTitle(t *FrontTable) string { return sayFront("joined", "title", t.Title) }

// frontHeadlines say what became of each knee: "Left knee at the bottom: 2° in (slow), 8° in (fast). Further in by 6°
// (1° to 11°)."
func frontHeadlines(c *screening.Comparison) (out []Headline) {
	i := HeadlinePair(c)
	if i < 0 {
		return nil
	}
	p := &c.Pairs[i]
	for _, ch := range p.Front {
		if ch.Measure != frontal.KneeInLeft && ch.Measure != frontal.KneeInRight {
			continue
		}
		code := map[frontal.Verdict]headline.Code{frontal.More: headline.Moved, frontal.Less: headline.Moved,
			frontal.Held: headline.Held, frontal.Unclear: headline.Unclear}[ch.Verdict]
		h := Headline{Joint: ch.Measure.String(), Name: Capital(FrontName(ch.Measure)), Code: code,
			Called: FrontVerdict(ch.Measure, ch.Verdict)}
		h.Lead = sayFront("lead", "name", h.Name, "easier", FrontValue(ch.Measure, ch.Baseline.Value), "easier_word",
			c.Word(p.Baseline), "harder", FrontValue(ch.Measure, ch.Challenge.Value), "harder_word", c.Word(p.Challenge))
		switch {
		case c.Withheld != nil:
			h.Code, h.Called, h.Why = headline.Withheld, CodeWord(headline.Withheld), screening.Say(*c.Withheld)
			h.Change = sayFront("withheld", "why", h.Why)
		case math.IsNaN(ch.Change):
			h.Code, h.Called = headline.Unmeasured, CodeWord(headline.Unmeasured)
		default:
			h.Number, h.Ends = FrontValue(ch.Measure, ch.Change), FrontInterval(ch.Measure, ch.Interval95)
			h.Change = sayFront("change_of", "form", string(ch.Verdict), "verdict", Capital(h.Called),
				"by", math.Abs(ch.Change), "interval", h.Ends)
		}
		h.Sentence = strings.TrimSpace(h.Lead + " " + h.Change)
		for _, at := range []struct {
			key string
			v   float64
		}{{p.Baseline, ch.Baseline.Value}, {p.Challenge, ch.Challenge.Value}} {
			h.Marks = append(h.Marks, Mark{Key: at.key, Of: c.Word(at.key), Deg: FrontValue(ch.Measure, at.v)})
		}
		h.Marks[1].Code, h.Marks[1].Word = string(h.Code), h.Called
		out = append(out, h)
	}
	return out
}
