package kinematics

import (
	"holdfast/kinematics/signal"
	"math"
)

// Stand is the athlete's own quiet standing, the zero of the angles.
type Stand struct {
	Found bool
	// Spans are the stretches of quiet standing, seconds.
	Spans []Span
	// OffsetDeg are the smoothed angles in standing, before they are taken off;
	// NaN when no standing was found.
	OffsetDeg [NumAngles]float64
	// HipHeight is the standing height of the hips in leg lengths.
	HipHeight float64
	// LegLengthPx is thigh plus shank, FootLengthPx heel to toe point, pixels.
	LegLengthPx, FootLengthPx float64
}

// What counts as quiet standing; common practice, no source.
const (
	standHipSpeed  = 0.08 // leg lengths a second
	standBelowTop  = 0.05 // leg lengths under the highest quiet level
	standMinHip    = 0.80 // leg lengths: lower is no upright standing
	standMaxKnee   = 40.0 // degrees of raw knee flexion
	standMinS      = 0.15 // seconds in one piece
	flightMarginS  = 0.25 // seconds beside a flight that are no standing
	standMaxHipAng = 45.0 // degrees of raw hip flexion
)

// findStand marks the samples of quiet upright standing: feet on the floor, hips
// still and at their highest level, knees and hips nearly straight.
func (m *motion) findStand(flights []flight) {
	n := len(m.timeS)
	speed := signal.Velocity(m.lowHip(), m.rateHz)
	hipFlexion := make([]float64, n)
	for i := range n {
		l := limbOf(&m.quick[m.s.NearSide], i)
		a := AnglesOf(&l, m.s.Facing)
		hipFlexion[i] = a[HipFlexion]
	}
	still := make([]bool, n)
	var level []float64
	for i := range n {
		still[i] = math.Abs(speed[i]) < standHipSpeed && m.hip[i] > standMinHip &&
			m.knee[i] < standMaxKnee && !(hipFlexion[i] > standMaxHipAng) && !nearFlight(flights, m.timeS[i])
		if still[i] {
			level = append(level, m.hip[i])
		}
	}
	top := signal.Quantile(level, 0.9)
	m.s.Stand.LegLengthPx = m.legPx
	m.s.Stand.HipHeight = top
	for _, r := range signal.Runs(n, func(i int) bool { return still[i] && m.hip[i] > top-standBelowTop }) {
		if float64(r.N())/m.rateHz < standMinS {
			continue
		}
		m.s.Stand.Found = true
		m.s.Stand.Spans = append(m.s.Stand.Spans, Span{m.timeS[r.From], m.timeS[r.To-1]})
		for i := r.From; i < r.To; i++ {
			m.standing[i] = true
		}
	}
	if m.s.Stand.Found {
		m.s.Stand.HipHeight = signal.MedianWhere(m.hip, m.standing)
		return
	}
	// No standing: the highest level with the feet on the floor must do.
	var h []float64
	for i := range n {
		if !nearFlight(flights, m.timeS[i]) {
			h = append(h, m.hip[i])
		}
	}
	m.s.Stand.HipHeight = signal.Quantile(h, 0.95)
}

// lowHip returns the hip height under a smoothing that leaves only the body's
// slow rise and fall.
func (m *motion) lowHip() []float64 {
	f, err := signal.NewLowpass(m.rateHz, min(4, maxCutoffOfRate*m.rateHz))
	if err != nil {
		return m.hip
	}
	return f.Smooth(m.hip)
}

func nearFlight(flights []flight, timeS float64) bool {
	for _, f := range flights {
		if timeS > f.TakeoffS-flightMarginS && timeS < f.ContactS+flightMarginS {
			return true
		}
	}
	return false
}
