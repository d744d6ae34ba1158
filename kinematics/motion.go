package kinematics

import (
	"holdfast/kinematics/signal"
	"math"
)

// motion is the workshop behind [Analyze]: the series being made, with the
// signals that only the steps need.
type motion struct {
	s      *Series
	timeS  []float64 // the same slice as s.TimeS
	rateHz float64
	// raw are the resampled points, quick the same under a light smoothing that
	// keeps events sharp; hip is the mean of both hips' height in leg lengths
	// from quick points, knee the near side's raw knee flexion in degrees.
	raw, quick [2][NumLandmarks]Path
	hip        []float64
	knee       []float64
	legPx      float64 // leg length: thigh plus shank
	floorY     float64 // height of the near ankle while the foot stands, pixels
	standing   []bool  // samples of quiet upright standing
	airborne   []bool
	smoother   Smoother
	fitted     bool // the near side's points and angles are those of the body
	// network is the near side of raw without the coach's corrections; the same
	// paths where there are none. byHand says where they are.
	network *[NumLandmarks]Path
	byHand  heldSamples
	noiseModel
}

// eventCutoffHz smooths points for finding events: enough to be rid of jitter,
// little enough to keep a take-off within a frame or two. Common practice, no
// source.
const eventCutoffHz = 10

// newMotion resamples the cleaned observations and measures the body.
func newMotion(obs []Observation, s *Series) *motion {
	times := make([]float64, len(obs))
	for i := range obs {
		times[i] = obs[i].TimeS
	}
	s.RateHz = signal.RateHz(times)
	s.TimeS = signal.UniformTimes(times, s.RateHz)
	n := len(s.TimeS)
	s.Filled, s.Missing = make([]bool, n), make([]bool, n)
	m := &motion{s: s, timeS: s.TimeS, rateHz: s.RateHz, airborne: make([]bool, n), standing: make([]bool, n)}

	column := make([]float64, len(obs))
	carry := func(get func(i int) float64) signal.Resampled {
		for i := range obs {
			column[i] = get(i)
		}
		return signal.Resample(times, column, s.TimeS, s.RateHz)
	}
	for side := range 2 {
		for k := range NumLandmarks {
			x := carry(func(i int) float64 { return obs[i].Points[side][k].X })
			y := carry(func(i int) float64 { return obs[i].Points[side][k].Y })
			sd := carry(func(i int) float64 { return obs[i].Points[side][k].SDPx })
			m.raw[side][k] = Path{x.Value, y.Value, sd.Value}
			m.quick[side][k] = m.filtered(m.raw[side][k], min(eventCutoffHz, maxCutoffOfRate*s.RateHz))
			if Side(side) == s.NearSide && (k == Hip || k == Knee || k == Ankle) {
				for i := range n {
					s.Filled[i] = s.Filled[i] || x.Filled[i]
					s.Missing[i] = s.Missing[i] || math.IsNaN(x.Value[i])
				}
			}
		}
	}
	for _, r := range signal.Runs(n, func(i int) bool { return s.Missing[i] }) {
		s.Gaps = append(s.Gaps, Span{s.TimeS[r.From], s.TimeS[r.To-1]})
	}

	leg := &m.raw[s.NearSide]
	length := make([]float64, n)
	m.knee = make([]float64, n)
	for i := range n {
		length[i] = dist(&leg[Hip], &leg[Knee], i) + dist(&leg[Knee], &leg[Ankle], i)
		l := limbOf(leg, i)
		m.knee[i] = AnglesOf(&l, s.Facing)[KneeFlexion]
	}
	m.legPx = signal.Quantile(length, 0.7)
	m.floorY = signal.Quantile(m.quick[s.NearSide][Ankle].Y, 0.6)
	m.hip = m.hipHeight(&m.quick)
	return m
}

// filtered returns a path smoothed at cutoffHz.
func (m *motion) filtered(p Path, cutoffHz float64) Path {
	f, err := signal.NewLowpass(m.rateHz, cutoffHz)
	if err != nil {
		return p // too slow a clip to smooth: the points stay as they are
	}
	return Path{f.Smooth(p.X), f.Smooth(p.Y), p.SDPx}
}

// hipHeight returns the mean height of both hips over the standing ankle in leg
// lengths; where one hip is missing, the other alone.
func (m *motion) hipHeight(points *[2][NumLandmarks]Path) []float64 {
	h := make([]float64, len(m.timeS))
	l, r := points[Left][Hip].Y, points[Right][Hip].Y
	for i := range h {
		y := (l[i] + r[i]) / 2
		if math.IsNaN(y) {
			y = points[m.s.NearSide][Hip].Y[i]
		}
		h[i] = (m.floorY - y) / m.legPx
	}
	return h
}

func dist(a, b *Path, i int) float64 { return math.Hypot(a.X[i]-b.X[i], a.Y[i]-b.Y[i]) }

func limbOf(p *[NumLandmarks]Path, i int) Limb {
	var l Limb
	for k := range p {
		l[k] = Point{X: p[k].X[i], Y: p[k].Y[i], SDPx: p[k].SDPx[i]}
	}
	return l
}

// index returns the sample nearest to the time.
func (m *motion) index(timeS float64) int { return m.s.Index(timeS) }
