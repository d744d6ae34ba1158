package report

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"holdfast/screening"
)

// tempoRank orders the tempos from the easiest to the hardest, and the sides of a
// comparison; a name that is none of them comes last.
func tempoRank(tempo string) int {
	for _, names := range [][]string{{"slow", "fast", "jump"}, {"first", "second", "third"}} {
		if i := slices.Index(names, tempo); i >= 0 {
			return i
		}
	}
	return 3
}

var conditionWord = regexp.MustCompile(`^(fresh|loaded|fatigued)\b`)

// doing is a tempo or side in a sentence: "25° jumping", "25° loaded with 60 kg", "25°
// (2026-05-02)".
func doing(c *screening.Comparison, key string) string {
	word := c.Word(key)
	switch {
	case word == "jump":
		return "jumping"
	case word == key, conditionWord.MatchString(word):
		return word
	}
	return "(" + word + ")"
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
		db := tempoRank(p.Baseline) - tempoRank(b.Baseline)
		if db < 0 || db == 0 && tempoRank(p.Challenge) > tempoRank(b.Challenge) {
			best = i
		}
	}
	return best
}

// Sentences returns the result in one sentence for each joint, from the ground
// up, for instance "Ankle: 34° slow, 25° jumping, 9° lost (6 to 12). First lost
// at: fast." Angles are whole degrees; the brackets hold the 95 % interval. It
// compares the easiest tempo with the hardest. Without a pair it returns nil.
func Sentences(c *screening.Comparison) []string {
	i := headlinePair(c)
	if i < 0 {
		return nil
	}
	var out []string
	for j := range numJoints {
		out = append(out, j.name()+": "+sentence(c, &c.Pairs[i], j, j.firstLost(&c.FirstLost))+unclearBefore(c, i, j))
	}
	return out
}

func sentence(c *screening.Comparison, p *screening.Pair, j joint, firstLost *string) string {
	ch := j.change(&p.Joints)
	part := func(deg float64, tempo string) string {
		if math.IsNaN(deg) {
			return "not measured " + doing(c, tempo)
		}
		return degrees(deg) + " " + doing(c, tempo)
	}
	s := part(ch.BaselineROMDeg, p.Baseline) + ", " + part(ch.ChallengeROMDeg, p.Challenge)
	if !math.IsNaN(ch.LostDeg) {
		s += ", " + changeWords(ch)
	}
	s += "."
	if firstLost != nil && *firstLost != "" && (len(c.Sides) == 0 || len(c.Pairs) > 1) {
		s += " First lost at: " + c.Word(*firstLost) + "."
	}
	return s
}

// unclearBefore names the easier challenges at which the clips could not tell, so
// that "first lost" is not read as "held before".
func unclearBefore(c *screening.Comparison, headline int, j joint) string {
	first := j.firstLost(&c.FirstLost)
	if first == nil {
		return ""
	}
	for i := range c.Pairs {
		p := &c.Pairs[i]
		if p.Baseline == c.Pairs[headline].Baseline && tempoRank(p.Challenge) < tempoRank(*first) && j.change(&p.Joints).Verdict == "unclear" {
			return " Unclear at: " + c.Word(p.Challenge) + "."
		}
	}
	return ""
}

// changeWords says what became of a range of motion: "9° lost (6 to 12)", "held
// (2° less, 0 to 4)".
func changeWords(ch *screening.JointChange) string {
	lost, iv := ch.LostDeg, ch.Interval95Deg
	switch ch.Verdict {
	case "lost":
		return degrees(lost) + " lost (" + interval(iv[0], iv[1]) + ")"
	case "gained":
		return degrees(-lost) + " gained (" + interval(-iv[1], -iv[0]) + ")"
	}
	return ch.Verdict + " (" + lessWords(lost, iv, ", ", "") + ")"
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
		advice := a.Reps[i].Quality.Advice
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
	for _, j := range []struct {
		name string
		deg  float64
	}{{"knee", c.MDC95Deg.Knee}, {"hip", c.MDC95Deg.Hip}, {"ankle", c.MDC95Deg.Ankle}} {
		if !math.IsNaN(j.deg) {
			parts = append(parts, fmt.Sprintf("%s %s", j.name, tenths(j.deg)))
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
