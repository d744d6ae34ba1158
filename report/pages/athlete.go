package pages

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/printable"
	"holdfast/report/chart"
	"holdfast/report/said"
	"holdfast/report/sidebyside"
	"holdfast/screening"
	"holdfast/screening/headline"
	"holdfast/vision/plane"
	"holdfast/words"
)

//go:embed athlete.html
var athleteText string

var athleteTemplate = template.Must(template.New("athlete").Funcs(template.FuncMap{
	"lang": words.Tag, "say": func(key string) string { return said.Say(key) },
}).Parse(athleteText))

// Athlete is what the athlete's page says, in few words and without the
// trade's terms. The HTML page and the PDF are renderings of the same sheet.
type Athlete struct {
	Athlete, Date, Program string
	Of                     string // what was compared
	LessTitle              string // over what there is less of
	Pictures               []Figure
	Keep, Less, Unsure     []string
	Look                   *lookAt
	Ladder                 *chart.Drawing
	LadderTitle            string
	Jump, JumpHow          string
	Caution                string
}

// lookAt is the one thing to look at.
type lookAt struct{ Title, Text string }

// Athlete puts the athlete's page together.
func (p *Material) Athlete() *Athlete {
	c := p.Comparison
	s := &Athlete{Athlete: c.Athlete, Date: p.Date, Program: c.Program,
		Caution: said.Say("athlete_caution", "form", flights(c)),
		Of:      said.Say("athlete_of"), LessTitle: said.Say("athlete_less")}
	var names []string
	for _, of := range c.Conditions() {
		names = append(names, of.Words)
	}
	if !slices.ContainsFunc(c.Conditions(), said.IsJump) || !c.ByTempo() {
		s.Of = said.Capital(strings.Join(names, ", "))
	}
	if !c.ByTempo() {
		s.LessTitle = said.Say("athlete_less_sides")
	}
	for _, q := range []*sidebyside.Shot{p.Shots.Easiest, p.Shots.Second, p.Shots.Landing} {
		if q != nil && q.Bare != nil {
			title := conditionTitle(q.Of)
			s.Pictures = append(s.Pictures, Figure{JPEG: q.Bare, Title: title,
				Alt: said.Say("athlete_alt", "turn", c.ShownTurn(), "of", strings.ToLower(title))})
		}
	}
	if c.FromFront() {
		p.athleteFront(s)
		return s
	}
	p.keepAndLose(s)
	s.Look = lookOf(c)
	s.Ladder, s.LadderTitle = ladderMarks(c), said.Say("athlete_ladder", "turn", c.ShownTurn())
	s.Jump, s.JumpHow = bestJump(c)
	return s
}

// conditionTitle is what a condition is called over what is shown of its lowest point.
func conditionTitle(at kinematics.Condition) string {
	if said.IsJump(at) {
		return said.Say("athlete_landing")
	}
	return said.Capital(at.Words)
}

// keepAndLose says what stays of each joint's position at the lowest point.
func (p *Material) keepAndLose(s *Athlete) {
	for i, h := range said.Headlines(p.Comparison) {
		if i >= len(p.Comparison.Headlines) { // of the same sets from the front
			s.keepFronts([]said.Headline{h})
			continue
		}
		f := &p.Comparison.Headlines[i].Position
		at := f.At()
		if at == nil {
			continue
		}
		switch line := p.became(h, f, at); f.Code {
		case headline.Unmeasured:
		case headline.Lost:
			s.Less = append(s.Less, line)
		case headline.Gained, headline.Held:
			s.Keep = append(s.Keep, line)
		case headline.Withheld:
			s.Unsure = append(s.Unsure, said.Say("athlete_withheld", "joint", h.Name, "why", h.Why))
		default:
			s.Unsure = append(s.Unsure, h.Name)
		}
	}
}

// became says what became of a joint's position. It is a part of what it was where it gets smaller by a part of itself;
// of an arm that must come down, a joint that must be straight and one that goes through zero it is none.
func (p *Material) became(h said.Headline, f *headline.Finding, at *headline.Step) string {
	easiest, lost, iv := f.Steps[0].Deg, at.LostDeg, at.LostInterval95Deg
	of := said.StepWord(p.Comparison, at)
	if lost < 0 {
		iv = [2]float64{-iv[1], -iv[0]}
	}
	worse, change := p.wordsOf(h.Joint, lost)
	args := []any{"joint", h.Name, "deg", math.Abs(lost), "of", easiest, "at", of, "change", change,
		"ends", said.Interval(iv[0], iv[1])}
	switch {
	case f.Code == headline.Held && worse >= 0 && at.Deg >= 0 && at.Deg <= easiest:
		return said.Say("athlete_held", "joint", h.Name, "deg", at.Deg, "of", easiest)
	case f.Code == headline.Held:
		return said.Say("athlete_same", "joint", h.Name, "deg", at.Deg)
	case f.Code == headline.Lost && lost > 0 && lost <= easiest:
		return said.Say("athlete_lost", args...)
	case f.Code == headline.Lost:
		return said.Say("athlete_changed", args...)
	case lost < 0 && easiest > 0:
		return said.Say("athlete_gained", args...)
	}
	return said.Say("athlete_better", args...)
}

// wordsOf returns which way the position of a joint gets worse and what it is called where it lost so much.
func (p *Material) wordsOf(joint string, lost float64) (worse int, change string) {
	var among []kinematics.Position
	for i := range p.Comparison.Ladder.Rungs {
		among = append(among, p.Comparison.Ladder.Rungs[i].Position)
	}
	of := kinematics.PositionIn(among, body.Joint(said.JointOf(joint)))
	w := said.PositionWords(of).Athlete
	if worse = kinematics.PositionQuantity(of).Worse; lost < 0 {
		return worse, w.SignMore
	}
	return worse, w.SignLess
}

// lookOf picks the first rung of the ladder of which something is said.
func lookOf(c *screening.Comparison) *lookAt {
	for i := range c.Ladder.Rungs {
		r := &c.Ladder.Rungs[i]
		if said.RungSentence(r) == "" {
			continue
		}
		w := said.AthleteWordsOf(c, r.Position)
		change := w.Less
		if kinematics.PositionQuantity(r.Position).Worse < 0 {
			change = w.More
		}
		for k := range r.Cells {
			if ch := r.Cells[k].Change; r.Cells[k].Condition == r.First && ch != nil && ch.Lost < 0 {
				change = w.More
			}
		}
		out := &lookAt{Title: w.Title}
		switch r.PointsTo {
		case kinematics.PointsToRange:
			out.Text = said.Say("look_range")
			if r.Position == kinematics.PositionHeel {
				out.Text = said.Say("look_range_heel")
			}
		case kinematics.PointsToControlAtSpeed:
			out.Text = said.Say("look_speed", "well", w.Well, "change", change)
		case kinematics.PointsToControlAtTurn:
			out.Text = said.Say("look_turn", "well", w.Well, "change", change)
		default:
			out.Text = said.RungSentence(r)
		}
		return out
	}
	return nil
}

// ladderMarks draws the ladder as signs with a word each, so that it can be read
// without colour; nil when there is no ladder.
func ladderMarks(c *screening.Comparison) *chart.Drawing {
	var conditions []kinematics.Condition
	var rungs []*kinematics.Rung
	for i := range c.Ladder.Rungs {
		r := &c.Ladder.Rungs[i]
		known := false
		for k := range r.Cells {
			if !math.IsNaN(r.Cells[k].Value) {
				known = true
			}
			if at := c.Condition(r.Cells[k].Condition); !slices.Contains(conditions, at) {
				conditions = append(conditions, at)
			}
		}
		if known {
			rungs = append(rungs, r)
		}
	}
	if len(rungs) == 0 {
		return nil
	}
	const nameW, rowH, top = 132.0, 29.0, 26.0
	colW := columnPt(88, 150, 13, len(conditions), func(k int) string { return conditionTitle(conditions[k]) })
	d := &chart.Drawing{WidthPt: nameW + colW*float64(len(conditions)), HeightPt: top + rowH*float64(len(rungs)) + 4}
	var sentences []string
	for k, of := range conditions {
		d.Words(chart.MainInk, 13, 0, nameW+colW*float64(k)+2, 15, chart.Fit(conditionTitle(of), 13, colW-6)).Bold = true
	}
	for i, r := range rungs {
		y := top + rowH*(float64(i)+0.5)
		d.Line(chart.GridInk, 0.8, nil, plane.XY{X: 0, Y: top + rowH*float64(i)},
			plane.XY{X: d.WidthPt, Y: top + rowH*float64(i)})
		d.Words(chart.MainInk, 13, 0, 0, y+4.5, said.AthleteWordsOf(c, r.Position).Title)
		for k, of := range conditions {
			at := slices.IndexFunc(r.Cells, func(c kinematics.Cell) bool { return c.Condition == of.Key })
			if at < 0 || math.IsNaN(r.Cells[at].Value) {
				continue
			}
			x := nameW + colW*float64(k) + 9
			mark, word := markOf(r, &r.Cells[at])
			drawOutcome(d, x, y, mark)
			col := chart.MainInk
			if mark == outcomeUnsure {
				col = chart.SoftInk
			}
			d.Words(col, 12, 0, x+11, y+4.5, word)
			sentences = append(sentences, said.Say("mark_alt", "position", said.AthleteWordsOf(c, r.Position).Title,
				"of", of.Words, "mark", word))
		}
	}
	d.Alt = said.Say("marks_alt", "marks", sentences)
	return d
}

// columnPt is how wide a column of a drawing must be for the longest of its titles, in letters of a size; between the
// least and the most.
func columnPt(least, most, size float64, n int, title func(int) string) float64 {
	for k := range n {
		least = max(least, chart.LetterPt*size*float64(utf8.RuneCountInString(title(k)))+6)
	}
	return min(least, most)
}

// stepSigns draws a position from condition to condition: a sign each, its angle above and its condition below; nil
// without conditions.
func stepSigns(marks []said.Mark) *chart.Drawing {
	if len(marks) < 2 {
		return nil
	}
	const y = 31.0
	colW := columnPt(62, 90, 11.5, len(marks), func(i int) string { return marks[i].Of })
	d := &chart.Drawing{WidthPt: colW * float64(len(marks)), HeightPt: 58}
	d.Line(chart.GridInk, 1.2, nil, plane.XY{X: colW / 2, Y: y}, plane.XY{X: d.WidthPt - colW/2, Y: y})
	var sentences []string
	for i, m := range marks {
		x := colW * (float64(i) + 0.5)
		d.Words(chart.MainInk, 13, 0.5, x, 15, m.Deg).Bold = true
		if m.Code == string(headline.Unmeasured) {
			d.Words(chart.SoftInk, 13, 0.5, x, y+4.5, "–")
		} else {
			drawOutcome(d, x, y, outcomeOf(m.Code))
		}
		d.Words(chart.SoftInk, 11.5, 0.5, x, 53, chart.Fit(m.Of, 11.5, colW-4))
		sentences = append(sentences, strings.TrimSpace(said.Say("step_alt", "of", m.Of, "deg", m.Deg, "word", m.Word)))
	}
	d.Alt = said.Say("marks_alt", "marks", sentences)
	return d
}

// outcomeOf returns the sign of a headline's code.
func outcomeOf(code string) outcome {
	switch headline.Code(code) {
	case "", headline.Held:
		return outcomeKept
	case headline.Gained:
		return outcomeMore
	case headline.Lost, headline.Moved:
		return outcomeChanged
	}
	return outcomeUnsure
}

// drawOutcome draws the sign of an outcome.
func drawOutcome(d *chart.Drawing, x, y float64, of outcome) {
	switch of {
	case outcomeKept:
		d.Sign(chart.Disc, x, y, 6, chart.SlowInk, chart.MainInk)
	case outcomeUnsure:
		d.Sign(chart.Disc, x, y, 6, chart.PaperInk, chart.SoftInk)
		d.Marks[len(d.Marks)-1].Dash = []float64{2, 2}
	case outcomeMore:
		d.Sign(chart.Triangle, x, y, 6, chart.SlowInk, chart.MainInk)
	default:
		d.Sign(chart.Diamond, x, y, 6, chart.FastInk, chart.MainInk)
	}
}

// outcome is how a sign of the athlete's ladder looks.
type outcome int

const (
	outcomeKept outcome = iota
	outcomeMore         // of a bend, which is no loss
	outcomeChanged
	outcomeUnsure
)

// markOf returns the sign of the athlete's ladder and the word beside it.
func markOf(r *kinematics.Rung, at *kinematics.Cell) (outcome, string) {
	if at.Change == nil {
		if r.First == at.Condition {
			return outcomeChanged, said.Say("mark_not_yet")
		}
		if at != &r.Cells[0] && !math.IsNaN(r.Cells[0].Value) { // what was read in too few reps
			return outcomeUnsure, said.Say("mark_unsure")
		}
		return outcomeKept, said.Say("mark_start")
	}
	w := said.PositionWords(r.Position).Athlete
	switch at.Change.Verdict {
	case stats.Held:
		return outcomeKept, said.Say("mark_kept")
	case stats.Lost:
		if kinematics.PositionQuantity(r.Position).Worse < 0 {
			return outcomeKept, w.SignLess
		}
		return outcomeChanged, w.SignLess
	case stats.Gained:
		if kinematics.PositionQuantity(r.Position).Worse > 0 {
			return outcomeMore, w.SignMore
		}
		return outcomeChanged, w.SignMore
	}
	return outcomeUnsure, said.Say("mark_unsure")
}

// bestJump says the highest jump in words and how it was measured; empty without jumps.
// The rise of the body counts; where it is not known, the time in the air.
func bestJump(c *screening.Comparison) (height, how string) {
	best, n := math.Inf(-1), 0
	var iv [2]float64
	look := func(of func(*measure.Jump) (float64, [2]float64)) {
		for clip, a := range c.Analyses {
			if a == nil {
				continue
			}
			for i := range a.Reps {
				if r := &a.Reps[i]; r.Jump != nil && said.Compared(c, clip, r) {
					if v, of95 := of(r.Jump); !math.IsNaN(v) {
						n++
						if v > best {
							best, iv = v, of95
						}
					}
				}
			}
		}
	}
	how = said.Say("best_rise")
	look(func(j *measure.Jump) (float64, [2]float64) { return j.RiseM, j.RiseInterval95M })
	if n == 0 {
		how = said.Say("best_air")
		look(func(j *measure.Jump) (float64, [2]float64) {
			return j.HeightFromFlightM, j.HeightFromFlightInterval95M
		})
	}
	if n == 0 {
		return "", ""
	}
	height = said.Whole(100*best) + " cm"
	if said.KnownInterval(iv) {
		height += fmt.Sprintf(" (%s)", said.Interval(100*iv[0], 100*iv[1]))
	}
	if n > 1 {
		how = said.Say("best_of", "n", n, "how", how)
	}
	return height, how
}

// LadderSVG is the ladder for the page.
func (s *Athlete) LadderSVG() template.HTML {
	if s.Ladder == nil {
		return ""
	}
	return s.Ladder.SVG()
}

// HTML writes the sheet as a page that needs nothing else.
func (s *Athlete) HTML() ([]byte, error) {
	var b bytes.Buffer
	if err := athleteTemplate.Execute(&b, s); err != nil {
		return nil, fmt.Errorf("writing the athlete's page: %w", err)
	}
	return printable.Page(b.Bytes()), nil
}
