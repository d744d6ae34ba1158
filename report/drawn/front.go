package drawn

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/frontal"
	"holdfast/report/said"
	"holdfast/vision/paint"
)

// frontBones are the lines of a body from the front: both legs and the hips.
var frontBones = [][2]string{
	{"left_hip", "left_knee"}, {"left_knee", "left_ankle"}, {"right_hip", "right_knee"}, {"right_knee", "right_ankle"},
	{"left_hip", "right_hip"},
}

// frontEnds are the points that it is drawn from.
var frontEnds = []string{"left_hip", "left_ankle", "right_hip", "right_ankle", "left_knee", "right_knee"}

// legs are the legs of a body from the front.
func (b *Athlete) legs() (l frontal.Legs) {
	for side := range l {
		for name, to := range map[string]*body.Point{"hip": &l[side].Hip, "knee": &l[side].Knee, "ankle": &l[side].Ankle} {
			*to = body.MissingPoint()
			if p, known := b.Points[body.Side(side).String()+"_"+name]; known {
				*to = body.Point{X: p.X, Y: p.Y}
			}
		}
	}
	return l
}

// KneesIn draws on a body from the front the line from each hip to its ankle, and beside each knee how far it goes in.
func (b *Athlete) KneesIn(c *paint.Canvas, u float64, frame [4]float64) {
	if !b.fromFront {
		return
	}
	l := b.legs()
	for side := range l {
		name := body.Side(side).String()
		hip, ok1 := b.Points[name+"_hip"]
		ankle, ok2 := b.Points[name+"_ankle"]
		if ok1 && ok2 {
			c.Line(hip, ankle, paint.Stroke{WidthPx: 1.6 * u, Color: Faded(SkyBlue, 200), Dash: []float64{3 * u, 4 * u}})
		}
	}
	for _, label := range b.kneeLabels(&l, u, frame) {
		label.Draw(c, u)
	}
}

// kneeLabels stand outside of the knees.
func (b *Athlete) kneeLabels(l *frontal.Legs, u float64, frame [4]float64) (out []label) {
	for side, m := range []frontal.Measure{frontal.KneeInLeft, frontal.KneeInRight} {
		in := l.KneeIn(body.Side(side)).Value
		knee, other := l[side].Knee, l[1-side].Knee
		if math.IsNaN(in) {
			continue
		}
		text := said.FrontValue(m, in)
		w, h, gap := paint.TextWidth(text, paint.TextStyle{SizePx: LabelFont * u, Bold: true})+13*u, 18*u, 22*u
		x0 := knee.X + gap
		if other.X > knee.X {
			x0 = knee.X - gap - w
		}
		x0 = math.Max(frame[0]+3*u, math.Min(frame[2]-3*u-w, x0))
		y0 := math.Max(frame[1]+3*u, math.Min(frame[3]-3*u-h, knee.Y-h/2))
		out = append(out, label{text: text, box: [4]float64{x0, y0, x0 + w, y0 + h}, col: SkyBlue})
	}
	return out
}
