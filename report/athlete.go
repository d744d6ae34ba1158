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
)

//go:embed athlete.html
var athleteText string

var athleteTemplate = template.Must(template.New("athlete").Parse(athleteText))

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

const athleteCaution = "Read from video, for coaching. Not a diagnosis and not a medical device. Warm up, jump on a clear and level floor, and stop if anything hurts; " +
	"pain and injuries belong to a doctor or physiotherapist. In brackets: the range in which the true number lies 95 times in 100."

// athlete puts the athlete's page together.
func (p *page) athlete() *athleteSheet {
	c := p.c
	s := &athleteSheet{Athlete: c.Athlete, Date: p.opt.Date, Program: c.Program, Caution: athleteCaution,
		Of: "Slow, fast and with a jump", LessTitle: "What gets lost at speed"}
	if !c.ByTempo() {
		var words []string
		for _, of := range c.Conditions() {
			words = append(words, of.Words)
		}
		s.Of, s.LessTitle = capital(strings.Join(words, ", ")), "What gets less"
	}
	for _, q := range []*shot{p.shots.easiest, p.shots.second, p.shots.landing} {
		if q != nil && q.bare != nil {
			title := conditionTitle(q.of)
			s.Pictures = append(s.Pictures, figure{JPEG: q.bare, Title: title,
				Alt: "You at the lowest point, " + strings.ToLower(title) + "."})
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
		return "Landing"
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
			s.Less = append(s.Less, fmt.Sprintf("%s: %s of your %s (%s)", j.name(), degrees(lost), degrees(ch.BaselineROMDeg), interval(iv[0], iv[1])))
		case ch.Verdict == "gained":
			s.Keep = append(s.Keep, fmt.Sprintf("%s: all %s, and %s more (%s)", j.name(), degrees(ch.BaselineROMDeg), degrees(-lost), interval(-iv[1], -iv[0])))
		case ch.Verdict == "held":
			s.Keep = append(s.Keep, fmt.Sprintf("%s: %s of your %s", j.name(), degrees(ch.ChallengeROMDeg), degrees(ch.BaselineROMDeg)))
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
		w := kinematics.PositionWords(r.Position).Athlete
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
			out.Text = "It is not where you want it yet, even when you go slowly. That points to range: how far you can move."
			if r.Position == kinematics.PositionHeel {
				out.Text = "It comes up even when you go slowly. That points to range: how far you can move."
			}
		case kinematics.PointsToControlAtSpeed:
			out.Text = fmt.Sprintf("When you go slowly, %s. When you go fast, %s. "+
				"That points to control at speed: something to practise.", w.Well, change)
		case kinematics.PointsToControlAtTurn:
			out.Text = fmt.Sprintf("Slow and fast, %s. When you land, %s. "+
				"That points to control when you change direction: something to practise.", w.Well, change)
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
		d.words(mainInk, 13, 0, 0, y+4.5, kinematics.PositionWords(r.Position).Athlete.Title)
		for k, of := range conditions {
			at := slices.IndexFunc(r.Cells, func(c kinematics.Cell) bool { return c.Condition == of.Key })
			if at < 0 || math.IsNaN(r.Cells[at].Value) {
				continue
			}
			x := nameW + colW*float64(k) + 9
			word := markWord(r, &r.Cells[at])
			switch word {
			case "start", "kept":
				d.sign(disc, x, y, 6, slowInk, mainInk)
			case "not sure":
				d.sign(disc, x, y, 6, paperInk, softInk)
				d.marks[len(d.marks)-1].dash = []float64{2, 2}
			case "more bend":
				d.sign(triangle, x, y, 6, slowInk, mainInk)
			default:
				d.sign(diamond, x, y, 6, fastInk, mainInk)
			}
			col := mainInk
			if word == "not sure" {
				col = softInk
			}
			d.words(col, 12, 0, x+11, y+4.5, word)
			said = append(said, kinematics.PositionWords(r.Position).Athlete.Title+" "+of.Words+": "+word)
		}
	}
	d.alt = strings.Join(said, "; ") + "."
	return d
}

// markWord is the word beside a sign of the athlete's ladder.
func markWord(r *kinematics.Rung, at *kinematics.Cell) string {
	if at.Change == nil {
		if r.First == at.Condition {
			return "not yet"
		}
		return "start"
	}
	w := kinematics.PositionWords(r.Position).Athlete
	switch at.Change.Verdict {
	case stats.Held:
		return "kept"
	case stats.Lost:
		return w.SignLess
	case stats.Gained:
		return w.SignMore
	}
	return "not sure"
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
	how = "how far your body rises after you leave the floor"
	look(func(j *measure.Jump) (float64, [2]float64) { return j.RiseM, j.RiseInterval95M })
	if n == 0 {
		how = "from your time in the air"
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
		how = fmt.Sprintf("the best of %d jumps: %s", n, how)
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
