// Package headline makes the one choice that every screen shows of a comparison: what is said of a joint first.
//
// Two questions are asked of each joint, in this order, and answered apart:
//
//	position  is the position at the bottom still there? the angle at the lowest point, of a jump that of its
//	          landing, as the ladder follows it
//	range     how much range is used? the range of motion of the loaded part of the rep
//
// A [Finding] follows its number from the easiest condition to the hardest, a [Step] each, and is about one of them:
// the hardest in which it was lost; where it was lost in none, the hardest that could be compared. So a loss that is
// there only in between is what is said, and what became of it later stands behind it.
//
// Findings hold codes and numbers; their sentences are in the catalogue of package words.
package headline

import (
	"cmp"
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/stats"
)

// Code says what became of a number: one of the verdicts of [stats.Verdict], or why there is none.
type Code string

// The codes. Those of the verdicts are the verdicts.
const (
	Lost    = Code(stats.Lost)
	Gained  = Code(stats.Gained)
	Held    = Code(stats.Held)
	Unclear = Code(stats.Unclear)
	// Moved: a clear change that is neither for the better nor for the worse, as a knee's from the front.
	Moved Code = "moved"
	// Unmeasured: one of the two was not measured.
	Unmeasured Code = "unmeasured"
	// Withheld: both were measured, but may not be compared.
	Withheld Code = "withheld"
)

// Headline is what a comparison answers of one joint.
type Headline struct {
	Joint    string  `json:"joint"` // its key
	Position Finding `json:"position"`
	Range    Finding `json:"range"`
}

// Finding is the answer to one question.
type Finding struct {
	Code Code `json:"code"` // that of the step shown
	// Shown indexes Steps: what the finding is about, against the first of them.
	Shown int    `json:"shown"`
	Steps []Step `json:"steps"`
	// FirstLost is the condition of the easiest step in which it was lost; empty: in none.
	FirstLost string `json:"first_lost"`
	// UnclearAt is a condition easier than FirstLost at which the clips could not tell; empty: none.
	UnclearAt string `json:"unclear_at"`
	// Why says why a verdict is withheld.
	Why *notice.Notice `json:"why"`
}

// Step is the number in one condition, and what became of that of the easiest.
type Step struct {
	Condition     string     `json:"condition"`
	Deg           float64    `json:"deg"`
	Interval95Deg [2]float64 `json:"interval95_deg"`
	// Landing says that it is the lowest point of a landing.
	Landing bool `json:"landing"`
	// ZeroKnown says that the angle is counted from the athlete's own standing.
	ZeroKnown bool `json:"zero_known"`
	// Code is empty in the first step; LostDeg and its interval are NaN there and where nothing was compared.
	Code              Code       `json:"code"`
	LostDeg           float64    `json:"lost_deg"`
	LostInterval95Deg [2]float64 `json:"lost_interval95_deg"`
	// StartsApart says that a range starts elsewhere than that of the first step.
	StartsApart bool `json:"-"`
	// RepsToTell is how many reps of each would make an unclear one clear, see [stats.RepsToTell].
	RepsToTell int `json:"reps_to_tell"`
}

// Of returns the headlines of the joints of a comparison, what is lost most first. withheld says why no verdict is
// given at all; nil: verdicts are given.
func Of(c *kinematics.Comparison, withheld *notice.Notice) []Headline {
	out := []Headline{}
	if len(c.Pairs) == 0 {
		return out
	}
	for _, j := range told(c) {
		h := Headline{Joint: j.String(), Position: findingOf(positionSteps(c, j), withheld),
			Range: findingOf(rangeSteps(c, j), withheld)}
		out = append(out, h)
	}
	slices.SortStableFunc(out, func(a, b Headline) int {
		return cmp.Or(cmp.Compare(order(b), order(a)), cmp.Compare(lost(b), lost(a)))
	})
	return out
}

// told returns the joints of a comparison, what is told first before the others.
func told(c *kinematics.Comparison) []body.Joint {
	if len(c.Joints) > 0 {
		return c.Joints
	}
	return body.LegJoints // a comparison of before
}

// order is higher for what is to be read first: what is lost, then what was compared.
func order(h Headline) int {
	switch h.Position.Code {
	case Lost:
		return 2
	case Unmeasured, Withheld:
		return 0
	}
	return 1
}

// lost is how much is lost, 0 where nothing was compared.
func lost(h Headline) float64 {
	if s := h.Position.At(); s != nil && !math.IsNaN(s.LostDeg) {
		if s.Code == Lost { // of a joint that must be straight, the bend grows
			return math.Abs(s.LostDeg)
		}
		return s.LostDeg
	}
	return 0
}

// At returns the step that the finding is about; nil when there is none but the first.
func (f *Finding) At() *Step {
	if f.Shown < 1 || f.Shown >= len(f.Steps) {
		return nil
	}
	return &f.Steps[f.Shown]
}

// Later returns the steps harder than the one shown.
func (f *Finding) Later() []Step {
	if f.At() == nil {
		return nil
	}
	return f.Steps[f.Shown+1:]
}

// InLandings says that every step was read in a landing.
func (f *Finding) InLandings() bool {
	return len(f.Steps) > 0 && !slices.ContainsFunc(f.Steps, func(s Step) bool { return !s.Landing })
}

// positionSteps follows the angle of a joint at the lowest point: the ladder's rung, or in a comparison without
// a ladder the angles of the pairs.
func positionSteps(c *kinematics.Comparison, j body.Joint) []Step {
	nan := math.NaN()
	for i := range c.Ladder.Rungs {
		if r := &c.Ladder.Rungs[i]; kinematics.IsOf(r.Position, j) {
			var out []Step
			for k := range r.Cells {
				at := &r.Cells[k]
				s := Step{Condition: at.Condition, Deg: at.Value, Interval95Deg: at.Interval95, Landing: at.Landing,
					ZeroKnown: at.ZeroKnown, LostDeg: nan, LostInterval95Deg: [2]float64{nan, nan}, RepsToTell: at.RepsToTell}
				if ch := at.Change; ch != nil {
					s.Code, s.LostDeg, s.LostInterval95Deg = Code(ch.Verdict), ch.Lost, ch.Interval95
					if q := kinematics.PositionQuantity(r.Position); q.Worse < 0 { // bent where it must be straight
						s.Code = Code(q.Look(ch.Verdict))
					}
				}
				out = append(out, s)
			}
			return out
		}
	}
	return stepsOf(c, j, func(ch *kinematics.JointChange) (easier, harder Step) {
		easier = Step{Deg: ch.BaselineBottomDeg, ZeroKnown: ch.BaselineZeroKnown}
		return easier, Step{Deg: ch.ChallengeBottomDeg, ZeroKnown: ch.ChallengeZeroKnown, Code: Code(ch.BottomVerdict),
			LostDeg: ch.BottomLostDeg, LostInterval95Deg: ch.BottomInterval95Deg}
	})
}

// rangeSteps follows the range of motion of a joint.
func rangeSteps(c *kinematics.Comparison, j body.Joint) []Step {
	return stepsOf(c, j, func(ch *kinematics.JointChange) (easier, harder Step) {
		easier = Step{Deg: ch.BaselineROMDeg, Interval95Deg: ch.BaselineInterval95Deg, ZeroKnown: true}
		return easier, Step{Deg: ch.ChallengeROMDeg, Interval95Deg: ch.ChallengeInterval95Deg, ZeroKnown: true,
			Code: Code(ch.Verdict), LostDeg: ch.LostDeg, LostInterval95Deg: ch.Interval95Deg, RepsToTell: ch.RepsToTell,
			StartsApart: ch.StartsApart}
	})
}

// stepsOf puts together the pairs of the easiest condition.
func stepsOf(c *kinematics.Comparison, j body.Joint, of func(*kinematics.JointChange) (easier, harder Step)) []Step {
	nan := math.NaN()
	var out []Step
	for i := range c.Pairs {
		p := &c.Pairs[i]
		if p.Baseline != c.Pairs[0].Baseline {
			continue
		}
		easier, harder := of(&p.Joints[j])
		if easier.Condition = p.Baseline; out == nil {
			easier.LostDeg, easier.LostInterval95Deg = nan, [2]float64{nan, nan}
			out = append(out, easier)
		}
		harder.Condition = p.Challenge
		out = append(out, harder)
	}
	return out
}

// findingOf chooses the step that is shown.
func findingOf(steps []Step, withheld *notice.Notice) Finding {
	f := Finding{Code: Unmeasured, Steps: append([]Step{}, steps...)} // an empty list, not none, is written
	steps = f.Steps
	if len(steps) < 2 {
		return f
	}
	compared := 0
	for i := range steps {
		s := &steps[i]
		switch {
		case i == 0:
			s.Code = ""
			continue
		case math.IsNaN(steps[0].Deg) || math.IsNaN(s.Deg):
			s.Code = Unmeasured
			continue
		case math.IsNaN(s.LostDeg) || withheld != nil:
			s.Code = Withheld
			continue
		}
		compared = i
		if s.Code == Lost {
			if f.FirstLost == "" {
				f.FirstLost = s.Condition
			}
			f.Shown = i
		} else if s.Code == Unclear && f.FirstLost == "" && f.UnclearAt == "" {
			f.UnclearAt = s.Condition
		}
	}
	if f.FirstLost == "" {
		f.UnclearAt = ""
	}
	if f.Shown = cmp.Or(f.Shown, compared, len(steps)-1); f.Shown > 0 {
		at := &steps[f.Shown]
		if f.Code = at.Code; f.Code == Withheld {
			f.Why = cmp.Or(withheld, whyNot(&steps[0], at))
		}
	}
	return f
}

// whyNot says why two numbers that were measured are not compared.
func whyNot(easiest, at *Step) *notice.Notice {
	code := "why_few_reps"
	switch {
	case at.StartsApart:
		code = "why_starts_apart"
	case easiest.ZeroKnown != at.ZeroKnown:
		code = "why_different_zeros"
	}
	n := notice.New(code, nil)
	return &n
}
