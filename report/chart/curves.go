package chart

import (
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/report/motion"
	"holdfast/report/said"
	"holdfast/screening"
)

// The size of the drawing of curves, in points: its width, the height of a joint's row, and what stands above and
// below the rows.
const curvesW, curvesRowH, curvesHead, curvesFoot = 440.0, 170.0, 24.0, 32.0

// EveryRep draws the angle of each joint over the rep, every rep thin and the most
// typical one of each condition thick. It returns
// nil when there is nothing to draw. What is not loaded (flight, a push on the toes) is
// left out, as it is in the range of motion.
func EveryRep(c *screening.Comparison) *Drawing {
	conditions, typical := typicalReps(c)
	joints := said.JointsIn(c)
	var names []string
	for _, j := range joints {
		names = append(names, j.Inside())
	}
	d := &Drawing{WidthPt: curvesW, HeightPt: curvesHead + float64(len(joints))*curvesRowH + curvesFoot,
		Alt: said.Say("curves_every_alt", "joints", names)}
	d.legend(conditions)
	drawn := false
	for k, j := range joints {
		reps := repsOf(c, j, typical)
		var all []float64
		for _, r := range reps {
			all = append(all, r.deg...)
		}
		lo, hi, step := DegreeScale(all)
		row := curvesHead + float64(k)*curvesRowH
		a := &axes{d: d, Left: 42, Top: row + 22, Right: d.WidthPt - 8, Bottom: row + curvesRowH - 18,
			FromX: 0, ToX: 100, FromY: lo - 0.12*step, ToY: hi + 0.05*step}
		label := ""
		if k == len(joints)-1 {
			label = said.Say("pct_of_rep")
		}
		d.Words(MainInk, titleSize, 0, 2, row+14, said.AngleWord(body.Joint(j).Angle())).Bold = true
		a.Upward(step, said.Degrees)
		a.Across(25, label, said.Whole)
		// Thin lines first, so that the typical reps lie on top.
		for _, thick := range []bool{false, true} {
			for _, of := range conditions {
				for _, r := range reps {
					if r.of == of && r.typical == thick {
						r.draw(a)
						drawn = true
					}
				}
			}
		}
	}
	d.Words(SoftInk, 9.5, 0, 2, d.HeightPt-3, said.Say("curves_key", "form", said.Jumping(c), "turn", c.Turn))
	if !drawn {
		return nil
	}
	return d
}

// typicalReps returns the conditions of a comparison from the easiest on, and the clip and number of the most typical
// rep of each.
func typicalReps(c *screening.Comparison) (conditions []kinematics.Condition, typical map[kinematics.Condition][2]int) {
	typical = map[kinematics.Condition][2]int{}
	for i := range c.Pairs {
		p := &c.Pairs[i]
		for _, s := range []struct {
			key       string
			clip, rep int
		}{{p.Baseline, p.BaselineClip, p.BaselineRep}, {p.Challenge, p.ChallengeClip, p.ChallengeRep}} {
			if at := c.Condition(s.key); !slices.Contains(conditions, at) {
				conditions = append(conditions, at)
				typical[at] = [2]int{s.clip, s.rep}
			}
		}
	}
	said.EasiestFirst(conditions)
	return conditions, typical
}

// repLine is the angle of one joint over a rep, NaN where it is missing or not loaded.
type repLine struct {
	of        kinematics.Condition
	typical   bool
	pct, deg  []float64
	bottomPct float64
	bottomDeg float64
}

// repsOf reads the angle of a joint in every whole rep of a comparison.
func repsOf(c *screening.Comparison, j said.Joint, typical map[kinematics.Condition][2]int) []repLine {
	var out []repLine
	for clip, a := range c.Analyses {
		if a == nil {
			continue
		}
		m := motion.New(a)
		for i := range a.Reps {
			r := &a.Reps[i]
			of, _ := c.ConditionOf(clip, r.Tempo)
			which, compared := typical[of]
			if r.Partial || !compared {
				continue
			}
			l := repLine{of: of, typical: which == [2]int{clip, r.Number}, bottomPct: percentOf(r, r.BottomS),
				bottomDeg: m.Value(a.Series.AnglesDeg[j.Angle()], r.BottomS)}
			l.pct, l.deg = repCurve(m, r, j)
			out = append(out, l)
		}
	}
	return out
}

// draw draws a rep's line, thick and with a sign at its bottom when it is the typical one.
func (r *repLine) draw(a *axes) {
	if !r.typical {
		n := len(a.d.Marks)
		a.Curve(InkOf(r.of), 0.8, nil, r.pct, r.deg)
		for i := n; i < len(a.d.Marks); i++ {
			a.d.Marks[i].See = 0.45
		}
		return
	}
	a.Curve(InkOf(r.of), 2.2, DashOf(r.of), r.pct, r.deg)
	if !math.IsNaN(r.bottomPct) && !math.IsNaN(r.bottomDeg) {
		at := a.At(r.bottomPct, r.bottomDeg)
		a.d.Sign(ShapeOf(r.of), at.X, at.Y, 4, InkOf(r.of), NoInk)
	}
}

func percentOf(r *kinematics.Rep, timeS float64) float64 {
	return (timeS - r.StartS) / (r.EndS - r.StartS) * 100
}

// repCurve returns a joint's angle over the per cent of a rep, NaN where it is missing or not loaded.
func repCurve(m *motion.Motion, r *kinematics.Rep, j said.Joint) (pct, deg []float64) {
	series := m.Analysis.Series.AnglesDeg[j.Angle()]
	for i, t := range m.TimesS {
		if t < r.StartS || t > r.EndS || i >= len(series) {
			continue
		}
		loaded := len(r.Loaded) == 0
		for _, s := range r.Loaded {
			loaded = loaded || t >= s.FromS && t <= s.ToS
		}
		v := float64(series[i])
		if !loaded || m.Missing(t) {
			v = math.NaN()
		}
		pct, deg = append(pct, percentOf(r, t)), append(deg, v)
	}
	return pct, deg
}
