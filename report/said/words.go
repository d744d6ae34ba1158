package said

import (
	"fmt"
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
	"holdfast/screening"
	"holdfast/words"
)

// Places is the number of looks that conditions have; the last is that of those without
// one of their own.
const Places = 4

// PlaceOf numbers the look of a condition, which orders them too: that of the easiest is 0.
func PlaceOf(at kinematics.Condition) int {
	if at.Rank >= 1 && at.Rank < Places {
		return at.Rank - 1
	}
	return Places - 1
}

// EasiestFirst sorts conditions.
func EasiestFirst(conditions []kinematics.Condition) {
	slices.SortStableFunc(conditions, func(a, b kinematics.Condition) int { return PlaceOf(a) - PlaceOf(b) })
}

// IsJump says whether a condition is the tempo jump.
func IsJump(at kinematics.Condition) bool {
	jump := kinematics.ConditionOf(events.TempoJump)
	return at.Key == jump.Key && at.Axis == jump.Axis
}

// Reading is the angle of a condition in a sentence: "25° jumping", "25° loaded with 60 kg",
// "25° (2026-05-02)".
func Reading(c *screening.Comparison, key string, deg float64, zeroKnown bool) string {
	at := c.Condition(key)
	kind := "plain"
	switch at.Axis {
	case kinematics.AxisDay, kinematics.AxisSide, kinematics.AxisClip:
		kind = "name"
	}
	if IsJump(at) {
		kind = "jump"
	}
	if math.IsNaN(deg) {
		kind += "_unmeasured"
	}
	return Say("reading", "form", kind, "deg", BottomDegrees(deg, zeroKnown), "of", at.Words)
}

// Compared says whether a rep of a clip is one of those that were compared.
func Compared(c *screening.Comparison, clip int, r *kinematics.Rep) bool {
	_, ok := c.ConditionOf(clip, r.Tempo)
	return ok && r.Counts()
}

// HeadlinePair returns the index of the pair that tells most: the easiest
// baseline against the hardest challenge; -1 without pairs.
func HeadlinePair(c *screening.Comparison) int {
	best := -1
	for i := range c.Pairs {
		if best < 0 {
			best = i
			continue
		}
		b, p := &c.Pairs[best], &c.Pairs[i]
		rank := func(key string) int { return PlaceOf(c.Condition(key)) }
		db := rank(p.Baseline) - rank(b.Baseline)
		if db < 0 || db == 0 && rank(p.Challenge) > rank(b.Challenge) {
			best = i
		}
	}
	return best
}

// NoZero is what a number with the mark of [ZeroMark] says at the end of its table.
func NoZero() string { return Say("no_zero") }

// HasNoZero says whether a clip's angles at the bottom have no zero.
func HasNoZero(a *screening.Analysis) bool {
	return slices.ContainsFunc(a.Reps, func(r kinematics.Rep) bool {
		m := &r.Angles[Knee.Angle()]
		return !math.IsNaN(m.AtBottomDeg) && !m.ZeroKnown
	})
}

// Difference says a difference as less or more, in the sentence of a key: "9° less (6 to 12)".
func Difference(key string, lost float64, iv [2]float64) string {
	switch {
	case math.IsNaN(lost):
		return ""
	case math.Round(lost) == 0:
		return Say(key, "form", "same", "ends", Interval(iv[0], iv[1]))
	case lost < 0:
		return Say(key, "form", "more", "size", Degrees(-lost), "ends", Interval(-iv[1], -iv[0]))
	}
	return Say(key, "form", "less", "size", Degrees(lost), "ends", Interval(iv[0], iv[1]))
}

// VerdictWord returns what a verdict is called.
func VerdictWord(v stats.Verdict) string { return words.Or("verdict."+string(v), string(v)) }

// Advice returns what to film instead, one line for each advice and the reps it is
// for: "Reps 1 and 3: film in more light." It is nil when every rep is shown well. What
// a warning about the whole clip advises is not said again.
func Advice(a *screening.Analysis) []string {
	var said []string
	reps := map[string][]string{}
	slow := slices.ContainsFunc(a.Warnings, func(w screening.Warning) bool { return w.Code == "low_frame_rate" })
	for i := range a.Reps {
		of := a.Reps[i].Quality.Advice
		advice := screening.Say(of)
		if advice == "" || slow && of.Code == "film_at_60_or_120" {
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
		out = append(out, Say("advice", "form", form, "n", len(of), "reps", of, "advice", advice))
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
	for _, j := range []Joint{Knee, Hip, Ankle} {
		if deg := c.MDC95Deg[j]; !math.IsNaN(deg) {
			parts = append(parts, Say("own_change_of", "joint", j.Inside(), "deg", Tenths(deg)))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return Say("own_change", "parts", parts)
}

// UnitSign returns the sign of a unit as it stands behind a number: "°", " %".
func UnitSign(u kinematics.Unit) string {
	if u == kinematics.Degrees {
		return "°"
	}
	return " %"
}

// PositionVerdict returns a verdict in the words of a position of the ladder: what lies
// further to the toes or leans more has gained nothing.
func PositionVerdict(p kinematics.Position, v stats.Verdict) string {
	switch w := PositionWords(p); v {
	case stats.Lost:
		return w.ClearlyLess
	case stats.Gained:
		return w.ClearlyMore
	}
	return VerdictWord(v)
}

// PositionChange says a change of a position in words: "8° less (2 to 13)".
func PositionChange(p kinematics.Position, ch *stats.Change) string {
	if math.IsNaN(ch.Lost) {
		return ""
	}
	w := PositionWords(p)
	way, v, iv := w.Less, ch.Lost, ch.Interval95
	if ch.Lost < 0 {
		way, v, iv = w.More, -ch.Lost, [2]float64{-ch.Interval95[1], -ch.Interval95[0]}
	}
	if math.Round(v) == 0 {
		return Say("difference_label", "form", "same", "ends", Interval(iv[0], iv[1]))
	}
	return Say("position_change", "size", Whole(v)+UnitSign(kinematics.PositionQuantity(p).Unit), "way", way,
		"ends", Interval(iv[0], iv[1]))
}

// RungSentence returns what a rung of the ladder may mean in one sentence; empty where nothing
// is said.
func RungSentence(r *kinematics.Rung) string {
	switch r.PointsTo {
	default:
		return ""
	case kinematics.PointsToRange, kinematics.PointsToControlAtSpeed, kinematics.PointsToControlAtTurn:
	}
	return words.Say("rung."+r.Position.String()+"."+string(r.PointsTo), nil)
}

// RepTitle says which rep, tempo and moment or phase a picture shows.
func RepTitle(r *kinematics.Rep, of int, moment string) string {
	return Say("frame_rep_at", "rep", r.Number, "of", of, "tempo", RepTempo(r), "at", moment)
}
