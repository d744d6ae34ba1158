package trace

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// Roll is by how many degrees the picture is turned clockwise against the vertical, and how
// that is known: RollGiven, RollFlight, or empty when nothing is and Deg is 0.
type Roll struct {
	Deg    float64
	Source string
}

// The sources of a roll.
const (
	RollGiven  = "given"  // by the caller
	RollFlight = "flight" // from how the body falls in its jumps
)

// What a flight says of the vertical; common practice, no source.
const (
	minRollFlightS = 0.25 // a shorter one bends too little
	// mostRollFlightDeg: a phone is turned less.
	mostRollFlightDeg = 20
)

// massPath returns the way of the body's centre of mass, estimated from the points of
// both sides with the given masses; a side that is not seen is taken to be where the
// other one is. A segment of which one end is not seen at all is left out: put at its
// other end it would bend the path.
func massPath(tr *Trace, masses body.MassModel) (x, y []float64) {
	n := len(tr.TimeS)
	x, y = make([]float64, n), make([]float64, n)
	whole := masses.TotalMass()
	seen := body.MassModel{Segments: make([]body.Segment, 0, len(masses.Segments))}
	for i := range n {
		var limbs [2]body.Limb
		for side := range limbs {
			for k := range limbs[side] {
				p := &tr.Raw[side][k]
				limbs[side][k] = body.Point{X: p.X[i], Y: p.Y[i]}
			}
		}
		known := func(k body.Landmark) bool { return !limbs[body.Left][k].Missing() || !limbs[body.Right][k].Missing() }
		seen.Segments = seen.Segments[:0]
		for _, s := range masses.Segments {
			if known(s.From) && known(s.To) {
				seen.Segments = append(seen.Segments, s)
			}
		}
		at := body.MissingPoint()
		if seen.TotalMass() >= 0.7*whole {
			at, _ = seen.CentreOfLimbs(&limbs[body.Left], &limbs[body.Right])
		}
		x[i], y[i] = at.X, at.Y
	}
	return x, y
}

// RollFromFlights returns by how many degrees the picture is turned clockwise
// against the vertical: in the air the body's centre of mass, by the given masses, speeds
// up straight down. ok is false without a flight that is long enough and clear.
func RollFromFlights(tr *Trace, flights []Span, masses body.MassModel) (rollDeg, sdDeg float64, ok bool) {
	x, y := massPath(tr, masses)
	var ax, ay, noise float64
	for _, f := range flights {
		d := f.DurationS()
		if d < minRollFlightS {
			continue
		}
		from, to := tr.Index(f.FromS)+1, tr.Index(f.ToS)
		a, se, good := acceleration(tr.TimeS, x, y, from, to)
		if !good {
			continue
		}
		// A longer flight says more, by the fourth power of its time.
		w := math.Pow(d, 4)
		ax, ay = ax+w*a[0], ay+w*a[1]
		noise += sq(w * se)
	}
	if ay <= 0 {
		return math.NaN(), math.NaN(), false
	}
	rollDeg = math.Atan2(-ax, ay) * body.DegPerRad
	sdDeg = math.Hypot(math.Sqrt(noise)/math.Hypot(ax, ay)*body.DegPerRad, rollFlightSD)
	return rollDeg, sdDeg, math.Abs(rollDeg) < mostRollFlightDeg && sdDeg < 3
}

// acceleration fits parabolas to a path over the samples from..to-1 and returns
// its acceleration in pixels a second squared and the standard error of each part.
func acceleration(t, x, y []float64, from, to int) (a [2]float64, se float64, ok bool) {
	var rows, xs, ys []float64
	mid := t[(from+max(from, to-1))/2]
	for i := from; i < to; i++ {
		if !math.IsNaN(x[i] + y[i]) {
			u := t[i] - mid
			rows, xs, ys = append(rows, 1, u, u*u), append(xs, x[i]), append(ys, y[i])
		}
	}
	if len(xs) < 6 {
		return a, 0, false
	}
	fx, okX := signal.LeastSquares(rows, xs)
	fy, okY := signal.LeastSquares(rows, ys)
	if !okX || !okY {
		return a, 0, false
	}
	return [2]float64{2 * fx.Coef[2], 2 * fy.Coef[2]}, math.Sqrt2 * math.Hypot(fx.Noise, fy.Noise) * fx.UnitSE(2), true
}

// TurnUpright turns the observations back, in place, by the angle that the picture
// is turned clockwise.
func TurnUpright(obs []Observation, rollDeg float64) {
	s, c := math.Sincos(rollDeg / body.DegPerRad)
	for i := range obs {
		for side := range 2 {
			for k := range body.NumLandmarks {
				p := &obs[i].Points[side][k]
				p.X, p.Y = c*p.X+s*p.Y, c*p.Y-s*p.X
			}
		}
	}
}

func sq(x float64) float64 { return x * x }
