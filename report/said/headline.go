package said

import (
	"math"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/stats"
	"holdfast/screening"
	"holdfast/screening/headline"
	"holdfast/words"
)

// Headline is what a comparison says of one joint, the same wherever it is shown.
type Headline struct {
	Joint string        `json:"joint"` // its key
	Name  string        `json:"name"`  // what it is called
	Code  headline.Code `json:"code"`
	// Number is what became of the position as a signed number, "−11°", and Ends the ends of its interval,
	// "−14° to −8°"; both are empty where no verdict is given, and Why says why. Called is the verdict's name.
	Number string `json:"number"`
	Ends   string `json:"ends"`
	Called string `json:"called"`
	Why    string `json:"why"`
	// Lead is the joint with the two angles, "Ankle at the bottom: 28° slow, 17° landing", and Change what became of them,
	// "11° lost (8 to 14). First lost at: fast.", for those who set them apart. Sentence is all in one.
	Lead     string `json:"lead"`
	Change   string `json:"change"`
	Sentence string `json:"sentence"`
	// Range is the same of the range of motion, a sentence of its own; empty where the turn alone is compared.
	Range string `json:"range"`
	// Marks are the position in each condition, the easiest first.
	Marks []Mark `json:"marks"`
}

// Mark is a position in one condition.
type Mark struct {
	Key  string `json:"key"` // the condition's
	Of   string `json:"of"`  // what it is called
	Deg  string `json:"deg"`
	Code string `json:"code"` // empty: nothing to compare it with
	Word string `json:"word"` // its verdict
}

// Headlines returns what a comparison says of each joint, in order. Angles are whole degrees; the brackets hold the
// 95 % interval.
func Headlines(c *screening.Comparison) []Headline {
	if c.FromFront() {
		return frontHeadlines(c)
	}
	out := sideHeadlines(c)
	if c.Fronts != nil {
		out = append(out, frontHeadlines(c.Fronts)...)
	}
	return out
}

// sideHeadlines are those of what the side shows, in the order of [screening.Comparison.Headlines].
func sideHeadlines(c *screening.Comparison) (out []Headline) {
	told := map[string]bool{} // why there is no verdict: it is said once
	for i := range c.Headlines {
		of := &c.Headlines[i]
		f := &of.Position
		h := Headline{Joint: of.Joint, Name: JointOf(of.Joint).Name(), Code: f.Code, Called: CodeWord(f.Code),
			Marks: marksOf(c, f)}
		position := "bottom"
		if f.InLandings() {
			position = "landing"
		}
		h.Lead = Say("headline_position", "form", position, "turn", c.Turn, "joint", h.Name, "readings", readingsOf(c, f))
		h.Change, h.Why = changeOf(c, f, told), why(f)
		h.Sentence = sentence(f, h.Lead, h.Change)
		if !c.TurnOnly {
			h.Range = sentence(&of.Range, Say("headline_range", "readings", readingsOf(c, &of.Range)),
				changeOf(c, &of.Range, told))
		}
		if at := f.At(); at != nil && !math.IsNaN(at.LostDeg) {
			h.Number = Signed(-at.LostDeg)
			if iv := at.LostInterval95Deg; KnownInterval(iv) {
				h.Ends = Ends(Signed(-iv[1]), Signed(-iv[0]))
			}
		}
		out = append(out, h)
	}
	return out
}

// sentence puts the two parts of a finding together.
func sentence(f *headline.Finding, lead, change string) string {
	form := "measured"
	switch {
	case change == "":
		form = "alone"
	case f.Code == headline.Withheld || f.Code == headline.Unmeasured:
		form = "not_compared"
	}
	return Say("headline", "form", form, "lead", lead, "change", change)
}

// JointOf returns the joint of a key; the ankle where there is none.
func JointOf(key string) Joint {
	for j := range body.NumJoints {
		if j.String() == key {
			return Joint(j)
		}
	}
	return Ankle
}

// CodeWord returns what a code of a headline is called.
func CodeWord(code headline.Code) string { return words.Or("verdict."+string(code), string(code)) }

func why(f *headline.Finding) string {
	if f.Why == nil {
		return ""
	}
	return screening.Say(*f.Why)
}

// readingsOf says the two numbers of a finding: "28° slow, 17° landing".
func readingsOf(c *screening.Comparison, f *headline.Finding) string {
	at := f.At()
	if at == nil {
		return Say("not_measured")
	}
	return Say("headline_readings", "easier", readingIn(c, &f.Steps[0], f.InLandings()),
		"harder", readingIn(c, at, f.InLandings()))
}

// readingIn says the number of a step; allLandings: that they are of landings is said before.
func readingIn(c *screening.Comparison, s *headline.Step, allLandings bool) string {
	if !s.Landing || allLandings {
		return Reading(c, s.Condition, s.Deg, s.ZeroKnown)
	}
	form := "landing"
	if math.IsNaN(s.Deg) {
		form = "landing_unmeasured"
	}
	return Say("reading", "form", form, "deg", BottomDegrees(s.Deg, s.ZeroKnown))
}

// StepWord is what the condition of a step is called: "fast", "landing".
func StepWord(c *screening.Comparison, s *headline.Step) string {
	if s.Landing && IsJump(c.Condition(s.Condition)) {
		return Say("landing_step")
	}
	return c.Word(s.Condition)
}

// CellWord is what the condition of a ladder's cell is called.
func CellWord(c *screening.Comparison, at *kinematics.Cell) string {
	return StepWord(c, &headline.Step{Condition: at.Condition, Landing: at.Landing})
}

// changeOf says what became of a number: "11° lost (8 to 14). First lost at: fast." reasons are those for no
// verdict that were said before.
func changeOf(c *screening.Comparison, f *headline.Finding, reasons map[string]bool) string {
	at := f.At()
	if at == nil {
		return ""
	}
	var out []string
	switch f.Code {
	case headline.Unmeasured: // the readings say so
	case headline.Withheld:
		form := "first"
		if reasons[why(f)] {
			form = "again"
		}
		reasons[why(f)] = true
		out = append(out, Say("headline_withheld", "form", form, "why", why(f)))
	default:
		change := stepChange(at)
		if f.Code == headline.Unclear && c.SaysRepsToTell() {
			form := "none"
			if at.RepsToTell > 0 {
				form = "some"
			}
			change = Say("change_tell", "form", form, "change", change, "n", at.RepsToTell)
		}
		out = append(out, Say("headline_change", "change", change))
	}
	word := func(key string) string {
		for i := range f.Steps {
			if f.Steps[i].Condition == key {
				return StepWord(c, &f.Steps[i])
			}
		}
		return c.Word(key)
	}
	told := f.FirstLost == at.Condition && len(f.Later()) > 0 // that it was lost there is all that the sentence says
	if f.FirstLost != "" && !told && (c.ByTempo() || len(f.Steps) > 2) {
		out = append(out, Say("headline_first_lost", "at", word(f.FirstLost)))
		if f.UnclearAt != "" {
			out = append(out, Say("headline_unclear", "at", word(f.UnclearAt)))
		}
	}
	for _, s := range f.Later() {
		out = append(out, later(c, &s))
	}
	return strings.Join(out, " ")
}

// later says what became of a number in a condition harder than the one shown: "Landing: 127°, unclear (4° more, −3 to
// 10)."
func later(c *screening.Comparison, s *headline.Step) string {
	at := Capital(StepWord(c, s))
	if s.Code == headline.Unmeasured {
		return Say("headline_later", "form", "unmeasured", "at", at)
	}
	if s.Code == headline.Withheld {
		return Say("headline_later", "form", "withheld", "at", at, "deg", BottomDegrees(s.Deg, s.ZeroKnown))
	}
	return Say("headline_later", "form", "compared", "at", at, "deg", BottomDegrees(s.Deg, s.ZeroKnown),
		"change", stepChange(s))
}

func stepChange(s *headline.Step) string {
	return change(s.LostDeg, s.LostInterval95Deg, stats.Verdict(s.Code))
}

// ChangeWords says what became of a range of motion.
func ChangeWords(ch *kinematics.JointChange) string {
	return change(ch.LostDeg, ch.Interval95Deg, ch.Verdict)
}

// change says what became of a number: "9° lost (6 to 12)", "held (2° less, 0 to 4)".
func change(lost float64, iv [2]float64, verdict stats.Verdict) string {
	if verdict == stats.Lost && lost < 0 || verdict == stats.Gained && lost > 0 { // of a joint that must be straight
		lost, iv = -lost, [2]float64{-iv[1], -iv[0]}
	}
	switch verdict {
	case stats.Lost:
		return Say("change", "form", "lost", "size", Degrees(lost), "ends", Interval(iv[0], iv[1]))
	case stats.Gained:
		return Say("change", "form", "gained", "size", Degrees(-lost), "ends", Interval(-iv[1], -iv[0]))
	}
	return Say("change", "form", "neither", "verdict", VerdictWord(verdict),
		"difference", Difference("difference", lost, iv))
}

// marksOf returns a position in each condition.
func marksOf(c *screening.Comparison, f *headline.Finding) []Mark {
	out := []Mark{}
	for i := range f.Steps {
		s := &f.Steps[i]
		m := Mark{Key: s.Condition, Of: StepWord(c, s), Deg: BottomDegrees(s.Deg, s.ZeroKnown), Code: string(s.Code)}
		if s.Code != "" {
			m.Word = CodeWord(s.Code)
		}
		out = append(out, m)
	}
	return out
}

// LandingNote says that a jump's position is read in its landing; empty where the ladder has no landing.
func LandingNote(c *screening.Comparison) string {
	landings := func(r kinematics.Rung) bool {
		return slices.ContainsFunc(r.Cells, func(at kinematics.Cell) bool { return at.Landing })
	}
	if !slices.ContainsFunc(c.Ladder.Rungs, landings) {
		return ""
	}
	return Say("landing_note", "form", landingForm(c))
}

// landingForm tells comparisons of landings alone from those in which only jumps are read in theirs.
func landingForm(c *screening.Comparison) string {
	if c.InLandings() {
		return "all"
	}
	return "some"
}

// HeadAtBottom is the title of a column of angles at the turn: of what was read in landings, that before take-off.
func HeadAtBottom(c *screening.Comparison) string {
	if c.InLandings() {
		return Say("head_at_takeoff")
	}
	return Say("head_at_bottom", "turn", c.Turn)
}
