package measure

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// Stack is how the points of the near side stand over the middle of the near foot at a rep's turn, and how far the hand
// strays from the line over it in the whole rep. Heights are those of the body, read from its legs.
type Stack struct {
	Ankle    StackPoint `json:"ankle"`
	Hip      StackPoint `json:"hip"`
	Shoulder StackPoint `json:"shoulder"`
	Wrist    StackPoint `json:"wrist"`
	// HandFrontPct and HandBackPct are how far the wrist gets in front of the middle of the foot, and least so, per cent
	// of the body's height.
	HandFrontPct stats.Estimate `json:"hand_front_pct_height"`
	HandBackPct  stats.Estimate `json:"hand_back_pct_height"`
}

// StackPoint is where a point stands over the middle of the foot: how far forward of it, in per cent of the body's
// height, and by how many degrees the line to it leans forward.
type StackPoint struct {
	ForwardPct stats.Estimate `json:"forward_pct_height"`
	LeanDeg    stats.Estimate `json:"lean_deg"`
}

// Of returns the place of one of the points, of another one an unknown.
func (s *Stack) Of(k body.Landmark) StackPoint {
	switch k {
	case body.Ankle:
		return s.Ankle
	case body.Hip:
		return s.Hip
	case body.Shoulder:
		return s.Shoulder
	case body.Wrist:
		return s.Wrist
	}
	return StackPoint{stats.Unknown(), stats.Unknown()}
}

const (
	// StackSEMPct (per cent of the body's height) is the error of a point over the middle of the foot that all reps
	// share: the network's points lie beside the joints. Presses of six invented athletes were off by 0.8, 2.0 at most.
	StackSEMPct = 1
	// uprightSDDeg (degrees) is how far off the vertical a picture is that nobody turned upright, rolledSDDeg one that
	// somebody did. Phones on a stand; common practice, no source.
	uprightSDDeg, rolledSDDeg = 0.7, 0.3
	// legOfHeight is thigh and shank over the body's height (Drillis & Contini, in Winter; from memory).
	legOfHeight = 0.491
	// stackWindowS is the time about the turn over which places are read.
	stackWindowS = 0.1
)

// StackOf returns how a rep is stacked; what is hidden is not known.
func StackOf(m *joints.Motion, r *events.RepTimes, view *trace.View, hidden []body.Landmark) *Stack {
	points := &m.Points[m.NearSide]
	heightPx := m.LegPx / legOfHeight
	rollSDDeg := uprightSDDeg
	if view.RollSource != "" {
		rollSDDeg = rolledSDDeg
	}
	heldToS := max(r.BottomS, min(r.BottomEndS, r.BottomS+stackWindowS))
	from, to := m.Index(r.BottomS-stackWindowS/2), m.Index(heldToS+stackWindowS/2)
	n := to - from + 1
	over := func(k body.Landmark, i int) body.Vec {
		p := &points[k]
		mid := body.Vec{Fwd: (points[body.Heel].X[i] + points[body.Toe].X[i]) / 2,
			Up: (points[body.Heel].Y[i] + points[body.Toe].Y[i]) / 2}
		return body.Sagittal(p.X[i]-mid.Fwd, p.Y[i]-mid.Up, m.Facing)
	}
	forward := func(fwdPx, upPx float64) stats.Estimate {
		roll := upPx / heightPx * 100 * rollSDDeg / body.DegPerRad
		return stats.Estimate{Value: 100 * fwdPx / heightPx, SD: math.Hypot(StackSEMPct, roll)}
	}
	at := func(k body.Landmark) StackPoint {
		out := StackPoint{stats.Unknown(), stats.Unknown()}
		if slices.Contains(hidden, k) {
			return out
		}
		fwd, up := make([]float64, n), make([]float64, n)
		for i := range n {
			v := over(k, from+i)
			fwd[i], up[i] = v.Fwd, v.Up
		}
		f, u := signal.Median(fwd), signal.Median(up)
		if math.IsNaN(f) || math.IsNaN(u) || !(u > 0) {
			return out
		}
		out.ForwardPct = forward(f, u)
		out.LeanDeg = stats.Estimate{Value: math.Atan2(f, u) * body.DegPerRad,
			SD: math.Hypot(StackSEMPct/100*heightPx/u*body.DegPerRad, rollSDDeg)}
		return out
	}
	s := &Stack{Ankle: at(body.Ankle), Hip: at(body.Hip), Shoulder: at(body.Shoulder), Wrist: at(body.Wrist),
		HandFrontPct: stats.Unknown(), HandBackPct: stats.Unknown()}
	if slices.Contains(hidden, body.Wrist) {
		return s
	}
	front, back := body.Vec{Fwd: math.Inf(-1)}, body.Vec{Fwd: math.Inf(1)}
	for i := m.Index(r.StartS); i <= m.Index(r.EndS); i++ {
		v := over(body.Wrist, i)
		if v.Fwd > front.Fwd {
			front = v
		}
		if v.Fwd < back.Fwd {
			back = v
		}
	}
	if front.Fwd >= back.Fwd {
		s.HandFrontPct, s.HandBackPct = forward(front.Fwd, front.Up), forward(back.Fwd, back.Up)
	}
	return s
}
