package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
	"holdfast/screening"
	"holdfast/words"
)

// places is the number of looks that conditions have; the last is that of those without
// one of their own.
const places = 4

// placeOf numbers the look of a condition, which orders them too: that of the easiest is 0.
func placeOf(at kinematics.Condition) int {
	if at.Rank >= 1 && at.Rank < places {
		return at.Rank - 1
	}
	return places - 1
}

// easiestFirst sorts conditions.
func easiestFirst(conditions []kinematics.Condition) {
	slices.SortStableFunc(conditions, func(a, b kinematics.Condition) int { return placeOf(a) - placeOf(b) })
}

// isJump says whether a condition is the tempo jump.
func isJump(at kinematics.Condition) bool {
	jump := kinematics.ConditionOf(events.TempoJump)
	return at.Key == jump.Key && at.Axis == jump.Axis
}

// reading is the angle of a condition in a sentence: "25° jumping", "25° loaded with 60 kg",
// "25° (2026-05-02)".
func reading(c *screening.Comparison, key string, deg float64, zeroKnown bool) string {
	at := c.Condition(key)
	kind := "plain"
	switch at.Axis {
	case kinematics.AxisDay, kinematics.AxisSide, kinematics.AxisClip:
		kind = "name"
	}
	if isJump(at) {
		kind = "jump"
	}
	if math.IsNaN(deg) {
		kind += "_unmeasured"
	}
	return say("reading", "form", kind, "deg", bottomDegrees(deg, zeroKnown), "of", at.Words)
}

// compared says whether a rep of a clip is one of those that were compared.
func compared(c *screening.Comparison, clip int, r *kinematics.Rep) bool {
	_, ok := c.ConditionOf(clip, r.Tempo)
	return ok && r.Counts()
}

// headlinePair returns the index of the pair that tells most: the easiest
// baseline against the hardest challenge; -1 without pairs.
func headlinePair(c *screening.Comparison) int {
	best := -1
	for i := range c.Pairs {
		if best < 0 {
			best = i
			continue
		}
		b, p := &c.Pairs[best], &c.Pairs[i]
		rank := func(key string) int { return placeOf(c.Condition(key)) }
		db := rank(p.Baseline) - rank(b.Baseline)
		if db < 0 || db == 0 && rank(p.Challenge) > rank(b.Challenge) {
			best = i
		}
	}
	return best
}

// Headline is what a comparison says of one joint: how much of the easiest condition's range of
// motion is left in the hardest.
type Headline struct {
	Joint   string        `json:"joint"` // its key
	Name    string        `json:"name"`  // what it is called
	Verdict stats.Verdict `json:"verdict"`
	// Lead is the joint with its two ranges, "Ankle: 34° slow, 25° jumping", and Change what
	// became of them, "9° lost (6 to 12). First lost at: fast.", for those who set them apart.
	// Sentence is all in one, and Text the same without the joint.
	Lead     string `json:"lead"`
	Change   string `json:"change"`
	Text     string `json:"text"`
	Sentence string `json:"sentence"`
}

// Headlines returns the result in one sentence for each joint, from the ground up, for
// instance "Ankle: 34° slow, 25° jumping, 9° lost (6 to 12). First lost at: fast." Angles are
// whole degrees; the brackets hold the 95 % interval. It compares the easiest condition with
// the hardest. Without a pair it returns nil.
func Headlines(c *screening.Comparison) []Headline {
	i := headlinePair(c)
	if i < 0 {
		return nil
	}
	var out []Headline
	for j := range numJoints {
		p := &c.Pairs[i]
		ch := &p.Joints[j]
		h := Headline{Joint: body.Joint(j).String(), Name: j.name(), Verdict: ch.Verdict}
		readings := say("headline_readings", "easier", reading(c, p.Baseline, ch.BaselineROMDeg, true), "harder", reading(c, p.Challenge, ch.ChallengeROMDeg, true))
		h.Lead = say("headline", "joint", h.Name, "text", readings)
		after := atBottomWords(c, p, j)
		if first := c.FirstLost[j]; first != nil && *first != "" {
			if c.ByTempo() || len(c.Pairs) > 1 {
				after += " " + say("headline_first_lost", "at", c.Word(*first))
			}
			if key := unclearBefore(c, i, j); key != "" {
				after += " " + say("headline_unclear", "at", c.Word(key))
			}
		}
		if h.Text = say("headline_unmeasured", "readings", readings); !math.IsNaN(ch.LostDeg) {
			change := changeWords(ch)
			if c.SaysRepsToTell() && ch.Verdict == stats.Unclear {
				change = moreWords(ch, change)
			}
			h.Change = say("headline_change", "change", change)
			h.Text = say("headline_measured", "readings", readings, "change", change)
		}
		h.Change, h.Text = strings.TrimSpace(h.Change+after), h.Text+after
		h.Sentence = say("headline", "joint", h.Name, "text", h.Text)
		out = append(out, h)
	}
	return out
}

// NoZero is what a number with the mark of [ZeroMark] says at the end of its table.
func NoZero() string { return say("no_zero") }

// ZeroMark returns the mark of an angle that is not counted from the athlete's own standing;
// empty for one that is.
func ZeroMark(zeroKnown bool) string {
	if zeroKnown {
		return ""
	}
	return "†"
}

// bottomDegrees writes the angle of a position: "118°", "118°†" where it has no zero.
func bottomDegrees(deg float64, zeroKnown bool) string {
	if math.IsNaN(deg) {
		return degrees(deg)
	}
	return degrees(deg) + ZeroMark(zeroKnown)
}

// hasNoZero says whether a clip's angles at the bottom have no zero.
func hasNoZero(a *screening.Analysis) bool {
	return slices.ContainsFunc(a.Reps, func(r kinematics.Rep) bool {
		m := &r.Angles[knee.angle()]
		return !math.IsNaN(m.AtBottomDeg) && !m.ZeroKnown
	})
}

// atBottomWords says how deep a joint was bent at the bottom: " At the bottom 118° slow, 104°
// jumping."; empty where neither is known.
func atBottomWords(c *screening.Comparison, p *kinematics.Pair, j joint) string {
	ch := &p.Joints[j]
	if math.IsNaN(ch.BaselineBottomDeg) && math.IsNaN(ch.ChallengeBottomDeg) {
		return ""
	}
	return " " + say("headline_bottom", "easier", reading(c, p.Baseline, ch.BaselineBottomDeg, ch.BaselineZeroKnown),
		"harder", reading(c, p.Challenge, ch.ChallengeBottomDeg, ch.ChallengeZeroKnown))
}

// moreWords says after an unclear change how many reps like these would tell.
func moreWords(ch *kinematics.JointChange, change string) string {
	if ch.RepsToTell > 0 {
		return say("change_tell", "change", change, "n", ch.RepsToTell)
	}
	return say("change_no_tell", "change", change)
}

// unclearBefore returns an easier challenge at which the clips could not tell, so that "first
// lost" is not read as "held before"; empty where there is none.
func unclearBefore(c *screening.Comparison, headline int, j joint) string {
	for i := range c.Pairs {
		p := &c.Pairs[i]
		before := placeOf(c.Condition(p.Challenge)) < placeOf(c.Condition(*c.FirstLost[j]))
		if before && p.Baseline == c.Pairs[headline].Baseline && p.Joints[j].Verdict == stats.Unclear {
			return p.Challenge
		}
	}
	return ""
}

// changeWords says what became of a range of motion: "9° lost (6 to 12)", "held
// (2° less, 0 to 4)".
func changeWords(ch *kinematics.JointChange) string {
	lost, iv := ch.LostDeg, ch.Interval95Deg
	switch ch.Verdict {
	case stats.Lost:
		return say("change", "form", "lost", "size", degrees(lost), "ends", interval(iv[0], iv[1]))
	case stats.Gained:
		return say("change", "form", "gained", "size", degrees(-lost), "ends", interval(-iv[1], -iv[0]))
	}
	return say("change", "form", "neither", "verdict", VerdictWord(ch.Verdict), "difference", difference("difference", lost, iv))
}

// difference says a difference as less or more, in the sentence of a key: "9° less (6 to 12)".
func difference(key string, lost float64, iv [2]float64) string {
	switch {
	case math.IsNaN(lost):
		return ""
	case math.Round(lost) == 0:
		return say(key, "form", "same", "ends", interval(iv[0], iv[1]))
	case lost < 0:
		return say(key, "form", "more", "size", degrees(-lost), "ends", interval(-iv[1], -iv[0]))
	}
	return say(key, "form", "less", "size", degrees(lost), "ends", interval(iv[0], iv[1]))
}

// VerdictWord returns what a verdict is called.
func VerdictWord(v stats.Verdict) string { return words.Or("verdict."+string(v), string(v)) }

// Advice returns what to film instead, one line for each advice and the reps it is
// for: "Reps 1 and 3: film at 60 or 120 frames a second." It is nil when every rep
// is shown well.
func Advice(a *screening.Analysis) []string {
	var said []string
	reps := map[string][]string{}
	for i := range a.Reps {
		advice := screening.Say(a.Reps[i].Quality.Advice)
		if advice == "" {
			continue
		}
		if reps[advice] == nil {
			said = append(said, advice)
		}
		reps[advice] = append(reps[advice], fmt.Sprint(a.Reps[i].Number))
	}
	var out []string
	for _, advice := range said {
		of := reps[advice]
		form := "some"
		if len(of) == len(a.Reps) && len(of) > 1 {
			form = "all"
		}
		out = append(out, say("advice", "form", form, "n", len(of), "reps", of, "advice", advice))
	}
	return out
}

// OwnSmallestChange returns the athlete's own smallest detectable change in one
// sentence, empty when the test was not filmed a second time. A joint that had too
// few reps is left out.
func OwnSmallestChange(c *screening.Comparison) string {
	if c.MDC95Deg == nil {
		return ""
	}
	var parts []string
	for _, j := range []joint{knee, hip, ankle} {
		if deg := c.MDC95Deg[j]; !math.IsNaN(deg) {
			parts = append(parts, say("own_change_of", "joint", j.inside(), "deg", tenths(deg)))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return say("own_change", "parts", parts)
}

// tenths writes an angle that may be small: "4°", or with a decimal below three
// degrees.
func tenths(v float64) string {
	if v < 3 {
		return decimal(v, 1) + "°"
	}
	return degrees(v)
}
