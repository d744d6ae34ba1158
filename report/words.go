package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
	"holdfast/screening"
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
func isJump(at kinematics.Condition) bool { return at == kinematics.ConditionOf(events.TempoJump) }

// doing is a condition in a sentence: "25° jumping", "25° loaded with 60 kg", "25°
// (2026-05-02)".
func doing(c *screening.Comparison, key string) string {
	at := c.Condition(key)
	switch at.Axis {
	case kinematics.AxisDay, kinematics.AxisSide, kinematics.AxisClip:
		return "(" + at.Words + ")"
	}
	if isJump(at) {
		return "jumping"
	}
	return at.Words
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

// Sentences returns the result in one sentence for each joint, from the ground
// up, for instance "Ankle: 34° slow, 25° jumping, 9° lost (6 to 12). First lost
// at: fast." Angles are whole degrees; the brackets hold the 95 % interval. It
// compares the easiest condition with the hardest. Without a pair it returns nil.
func Sentences(c *screening.Comparison) []string {
	i := headlinePair(c)
	if i < 0 {
		return nil
	}
	var out []string
	for j := range numJoints {
		out = append(out, j.name()+": "+sentence(c, &c.Pairs[i], j)+unclearBefore(c, i, j))
	}
	return out
}

func sentence(c *screening.Comparison, p *kinematics.Pair, j joint) string {
	ch := &p.Joints[j]
	part := func(deg float64, key string) string {
		if math.IsNaN(deg) {
			return "not measured " + doing(c, key)
		}
		return degrees(deg) + " " + doing(c, key)
	}
	s := part(ch.BaselineROMDeg, p.Baseline) + ", " + part(ch.ChallengeROMDeg, p.Challenge)
	if !math.IsNaN(ch.LostDeg) {
		s += ", " + changeWords(ch)
		if c.SaysRepsToTell() {
			s += moreWords(ch)
		}
	}
	s += "." + atBottomWords(c, p, j)
	if first := c.FirstLost[j]; first != nil && *first != "" && (c.ByTempo() || len(c.Pairs) > 1) {
		s += " First lost at: " + c.Word(*first) + "."
	}
	return s
}

// NoZero is what a number with the mark of [ZeroMark] says at the end of its table.
const NoZero = "† Nobody stands still in the clip: this angle has no zero and may read 12° to 19° too high."

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
	return " At the bottom " + bottomDegrees(ch.BaselineBottomDeg, ch.BaselineZeroKnown) + " " + doing(c, p.Baseline) + ", " +
		bottomDegrees(ch.ChallengeBottomDeg, ch.ChallengeZeroKnown) + " " + doing(c, p.Challenge) + "."
}

// moreWords says after an unclear change how many reps like these would tell.
func moreWords(ch *kinematics.JointChange) string {
	switch {
	case ch.Verdict != stats.Unclear:
		return ""
	case ch.RepsToTell > 0:
		return fmt.Sprintf("; %d reps of each would tell", ch.RepsToTell)
	}
	return "; more reps would not tell"
}

// unclearBefore names the easier challenges at which the clips could not tell, so
// that "first lost" is not read as "held before".
func unclearBefore(c *screening.Comparison, headline int, j joint) string {
	first := c.FirstLost[j]
	if first == nil {
		return ""
	}
	for i := range c.Pairs {
		p := &c.Pairs[i]
		before := placeOf(c.Condition(p.Challenge)) < placeOf(c.Condition(*first))
		if before && p.Baseline == c.Pairs[headline].Baseline && p.Joints[j].Verdict == stats.Unclear {
			return " Unclear at: " + c.Word(p.Challenge) + "."
		}
	}
	return ""
}

// changeWords says what became of a range of motion: "9° lost (6 to 12)", "held
// (2° less, 0 to 4)".
func changeWords(ch *kinematics.JointChange) string {
	lost, iv := ch.LostDeg, ch.Interval95Deg
	switch ch.Verdict {
	case "lost":
		return degrees(lost) + " lost (" + interval(iv[0], iv[1]) + ")"
	case "gained":
		return degrees(-lost) + " gained (" + interval(-iv[1], -iv[0]) + ")"
	}
	return string(ch.Verdict) + " (" + lessWords(lost, iv, ", ", "") + ")"
}

// lessWords says a difference as less or more: "9° less (6 to 12)".
func lessWords(lost float64, iv [2]float64, before, after string) string {
	switch {
	case math.IsNaN(lost):
		return ""
	case math.Round(lost) == 0:
		return "the same" + before + interval(iv[0], iv[1]) + after
	case lost < 0:
		return degrees(-lost) + " more" + before + interval(-iv[1], -iv[0]) + after
	}
	return degrees(lost) + " less" + before + interval(iv[0], iv[1]) + after
}

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
		switch {
		case len(of) == len(a.Reps) && len(of) > 1:
			out = append(out, fmt.Sprintf("All reps: %s.", advice))
		case len(of) == 1:
			out = append(out, fmt.Sprintf("Rep %s: %s.", of[0], advice))
		default:
			out = append(out, fmt.Sprintf("Reps %s and %s: %s.", strings.Join(of[:len(of)-1], ", "), of[len(of)-1], advice))
		}
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
			parts = append(parts, fmt.Sprintf("%s %s", j.landmark(), tenths(deg)))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "This athlete's own smallest detectable change: " + strings.Join(parts, ", ") + "."
}

// tenths writes an angle that may be small: "4°", or with a decimal below three
// degrees.
func tenths(v float64) string {
	if v < 3 {
		return fmt.Sprintf("%.1f°", v)
	}
	return degrees(v)
}
