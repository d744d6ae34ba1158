package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/printable"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/words"
)

//go:embed athlete.html
var athleteText string

var athleteTemplate = template.Must(template.New("athlete").Funcs(template.FuncMap{"lang": words.Tag, "say": func(key string) string { return say(key) }}).Parse(athleteText))

// athleteSheet is what the athlete's page says, in few words and without the
// trade's terms. The HTML page and the PDF are renderings of the same sheet.
type athleteSheet struct {
	Athlete, Date, Program string
	Of                     string // what was compared
	LessTitle              string // over what there is less of
	Pictures               []figure
	Keep, Less, Unsure     []string
	Look                   *lookAt
	Ladder                 *drawing
	Jump, JumpHow          string
	Caution                string
}

// lookAt is the one thing to look at.
type lookAt struct{ Title, Text string }

// athlete puts the athlete's page together.
func (p *page) athlete() *athleteSheet {
	c := p.c
	s := &athleteSheet{Athlete: c.Athlete, Date: p.date, Program: c.Program, Caution: say("athlete_caution"),
		Of: say("athlete_of"), LessTitle: say("athlete_less")}
	if !c.ByTempo() {
		var names []string
		for _, of := range c.Conditions() {
			names = append(names, of.Words)
		}
		s.Of, s.LessTitle = capital(strings.Join(names, ", ")), say("athlete_less_sides")
	}
	for _, q := range []*shot{p.shots.easiest, p.shots.second, p.shots.landing} {
		if q != nil && q.bare != nil {
			title := conditionTitle(q.of)
			s.Pictures = append(s.Pictures, figure{JPEG: q.bare, Title: title,
				Alt: say("athlete_alt", "of", strings.ToLower(title))})
		}
	}
	p.keepAndLose(s)
	s.Look = lookOf(c)
	s.Ladder = ladderMarks(c)
	s.Jump, s.JumpHow = bestJump(c)
	return s
}

// conditionTitle is what a condition is called over what is shown of its lowest point.
func conditionTitle(at kinematics.Condition) string {
	if isJump(at) {
		return say("athlete_landing")
	}
	return capital(at.Words)
}

// keepAndLose says what stays of each joint's movement from the easiest to the hardest
// condition.
func (p *page) keepAndLose(s *athleteSheet) {
	i := headlinePair(p.c)
	if i < 0 {
		return
	}
	pair := &p.c.Pairs[i]
	for j := range numJoints {
		ch := &pair.Joints[j]
		lost, iv := ch.LostDeg, ch.Interval95Deg
		switch {
		case math.IsNaN(lost):
		case ch.Verdict == "lost":
			s.Less = append(s.Less, say("athlete_lost", "joint", j.name(), "deg", lost, "of", ch.BaselineROMDeg, "ends", interval(iv[0], iv[1])))
		case ch.Verdict == "gained":
			s.Keep = append(s.Keep, say("athlete_gained", "joint", j.name(), "of", ch.BaselineROMDeg, "deg", -lost, "ends", interval(-iv[1], -iv[0])))
		case ch.Verdict == "held":
			s.Keep = append(s.Keep, say("athlete_held", "joint", j.name(), "deg", ch.ChallengeROMDeg, "of", ch.BaselineROMDeg))
		default:
			s.Unsure = append(s.Unsure, j.name())
		}
	}
}

// lookOf picks the first rung of the ladder of which something is said.
func lookOf(c *screening.Comparison) *lookAt {
	for i := range c.Ladder.Rungs {
		r := &c.Ladder.Rungs[i]
		if RungSentence(r) == "" {
			continue
		}
		w := PositionWords(r.Position).Athlete
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
			out.Text = say("look_range")
			if r.Position == kinematics.PositionHeel {
				out.Text = say("look_range_heel")
			}
		case kinematics.PointsToControlAtSpeed:
			out.Text = say("look_speed", "well", w.Well, "change", change)
		case kinematics.PointsToControlAtTurn:
			out.Text = say("look_turn", "well", w.Well, "change", change)
		default:
			out.Text = RungSentence(r)
		}
		return out
	}
	return nil
}

// ladderMarks draws the ladder as signs with a word each, so that it can be read
// without colour; nil when there is no ladder.
func ladderMarks(c *screening.Comparison) *drawing {
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
	const nameW, colW, rowH, top = 132.0, 88.0, 29.0, 26.0
	d := &drawing{w: nameW + colW*float64(len(conditions)), h: top + rowH*float64(len(rungs)) + 4}
	var said []string
	for k, of := range conditions {
		d.words(mainInk, 13, 0, nameW+colW*float64(k)+2, 15, conditionTitle(of)).bold = true
	}
	for i, r := range rungs {
		y := top + rowH*(float64(i)+0.5)
		d.line(gridInk, 0.8, nil, vision.XY{X: 0, Y: top + rowH*float64(i)}, vision.XY{X: d.w, Y: top + rowH*float64(i)})
		d.words(mainInk, 13, 0, 0, y+4.5, PositionWords(r.Position).Athlete.Title)
		for k, of := range conditions {
			at := slices.IndexFunc(r.Cells, func(c kinematics.Cell) bool { return c.Condition == of.Key })
			if at < 0 || math.IsNaN(r.Cells[at].Value) {
				continue
			}
			x := nameW + colW*float64(k) + 9
			mark, word := markOf(r, &r.Cells[at])
			switch mark {
			case outcomeKept:
				d.sign(disc, x, y, 6, slowInk, mainInk)
			case outcomeUnsure:
				d.sign(disc, x, y, 6, paperInk, softInk)
				d.marks[len(d.marks)-1].dash = []float64{2, 2}
			case outcomeMore:
				d.sign(triangle, x, y, 6, slowInk, mainInk)
			default:
				d.sign(diamond, x, y, 6, fastInk, mainInk)
			}
			col := mainInk
			if mark == outcomeUnsure {
				col = softInk
			}
			d.words(col, 12, 0, x+11, y+4.5, word)
			said = append(said, say("mark_alt", "position", PositionWords(r.Position).Athlete.Title, "of", of.Words, "mark", word))
		}
	}
	d.alt = say("marks_alt", "marks", said)
	return d
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
			return outcomeChanged, say("mark_not_yet")
		}
		return outcomeKept, say("mark_start")
	}
	w := PositionWords(r.Position).Athlete
	switch at.Change.Verdict {
	case stats.Held:
		return outcomeKept, say("mark_kept")
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
	return outcomeUnsure, say("mark_unsure")
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
				if r := &a.Reps[i]; r.Jump != nil && compared(c, clip, r) {
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
	how = say("best_rise")
	look(func(j *measure.Jump) (float64, [2]float64) { return j.RiseM, j.RiseInterval95M })
	if n == 0 {
		how = say("best_air")
		look(func(j *measure.Jump) (float64, [2]float64) {
			return j.HeightFromFlightM, j.HeightFromFlightInterval95M
		})
	}
	if n == 0 {
		return "", ""
	}
	height = whole(100*best) + " cm"
	if knownInterval(iv) {
		height += fmt.Sprintf(" (%s)", interval(100*iv[0], 100*iv[1]))
	}
	if n > 1 {
		how = say("best_of", "n", n, "how", how)
	}
	return height, how
}

// LadderSVG is the ladder for the page.
func (s *athleteSheet) LadderSVG() template.HTML {
	if s.Ladder == nil {
		return ""
	}
	return s.Ladder.svg()
}

// html writes the sheet as a page that needs nothing else.
func (s *athleteSheet) html() ([]byte, error) {
	var b bytes.Buffer
	if err := athleteTemplate.Execute(&b, s); err != nil {
		return nil, fmt.Errorf("writing the athlete's page: %w", err)
	}
	return printable.Page(b.Bytes()), nil
}
