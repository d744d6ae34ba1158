package events

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// Course is how far a movement has gone from standing, one value a sample, in the unit of its signal and growing on the
// way to the turn.
type Course struct {
	// Slow has a smoothing that leaves only the body's slow rise and fall, Quick one that keeps events sharp. Raw is as
	// measured; its zero means nothing.
	Slow, Quick, Raw []float64
	// Resting marks the samples in which the athlete rests between reps.
	Resting []bool
	// degPerUnit is how many degrees of a joint a unit of the signal is worth.
	degPerUnit float64
	// back says that the way back from the turn tells the tempo.
	back bool
}

// degPerLeg is how many degrees a knee bends while the hips fall by a leg length, roughly; common practice, no source.
const degPerLeg = 200

// CourseOf reads the signal of a movement.
func CourseOf(tr *trace.Trace, how *movement.Movement, stand Stand) *Course {
	sig := &how.Signal
	quick, rest := read(tr, sig, &tr.Quick), 0.0
	slow := slowly(quick, tr.RateHz)
	c := &Course{degPerUnit: degPerLeg, back: how.Tempo.OfBack, Resting: tr.Within(stand.Spans)}
	sign := 1.0
	if sig.Falls {
		sign = -1
	}
	switch {
	case sig.RestsLow:
		rest, c.Resting = lowRest(slow, sign, tr.RateHz, how.Rep.Back)
	case sig.Kind == movement.Height && sig.Points[0] == body.Hip:
		quick, rest = tr.HipHeight, stand.HipHeight
		slow = slowly(quick, tr.RateHz)
	case stand.Found:
		rest = signal.MedianWhere(quick, tr.Within(stand.Spans))
	default: // no standing: the least that is mostly seen must do
		rest = sign * signal.Quantile(scaled(quick, sign), 0.05)
	}
	if sig.Kind == movement.Angle {
		c.degPerUnit = 1
	}
	c.Quick, c.Slow = gone(quick, rest, sign), gone(slow, rest, sign)
	c.Raw = scaled(read(tr, sig, &tr.Raw), sign)
	return c
}

// What counts as rest at the low end of a signal; common practice, no source.
const (
	stillPart = 0.25 // part of its highest speed below which a signal is still
	leastRest = 0.15 // seconds in one piece
)

// lowRest returns the level at which a signal rests in the lower half of its way, in the direction of sign, and the
// samples in which it does.
func lowRest(slow []float64, sign, rateHz, back float64) (rest float64, resting []bool) {
	x := scaled(slow, sign)
	speed := signal.Velocity(x, rateHz)
	for i := range speed {
		speed[i] = math.Abs(speed[i])
	}
	still, half := stillPart*signal.Quantile(speed, 0.95), (signal.Quantile(x, 0)+signal.Quantile(x, 1))/2
	var level []float64
	for i := range x {
		if x[i] < half && speed[i] < still {
			level = append(level, x[i])
		}
	}
	low := signal.Median(level)
	resting = make([]bool, len(x))
	for _, r := range signal.Runs(len(x), func(i int) bool { return math.Abs(x[i]-low) < back && speed[i] < still }) {
		for i := r.From; i < r.To && float64(r.N()) >= leastRest*rateHz; i++ {
			resting[i] = true
		}
	}
	return sign * low, resting
}

// restsOf returns the standing in which the athlete rests as well: who presses overhead stands all the time.
func (c *Course) restsOf(tr *trace.Trace, how *movement.Movement, stand Stand) Stand {
	if !how.Signal.RestsLow {
		return stand
	}
	standing := tr.Within(stand.Spans)
	stand.Spans = nil
	for _, r := range signal.Runs(len(standing), func(i int) bool { return standing[i] && c.Resting[i] }) {
		stand.Spans = append(stand.Spans, trace.Span{FromS: tr.TimeS[r.From], ToS: tr.TimeS[r.To-1]})
	}
	stand.Found = len(stand.Spans) > 0
	return stand
}

// read returns the signal from points.
func read(tr *trace.Trace, sig *movement.Signal, points *[2][body.NumLandmarks]body.Path) []float64 {
	x := make([]float64, len(tr.TimeS))
	near := &points[tr.NearSide]
	for i := range x {
		switch sig.Kind {
		case movement.Height:
			x[i] = (tr.FloorY - meanY(tr, points, sig.Points[0], i)) / tr.LegPx
		case movement.Distance:
			x[i] = body.Dist(&near[sig.Points[0]], &near[sig.Points[1]], i) / tr.LegPx
		case movement.Angle:
			l := body.LimbAt(near, i)
			x[i] = body.AnglesOf(&l, tr.Facing)[sig.Angle]
		}
	}
	return x
}

// angleWay returns an angle of the near side throughout the clip, in raw degrees.
func angleWay(tr *trace.Trace, a body.Angle) []float64 {
	return read(tr, &movement.Signal{Kind: movement.Angle, Angle: a}, &tr.Quick)
}

// meanY returns the mean place of a point of both sides; that of the near one where one is missing, and of the arms:
// head and trunk hide the far one most of the time.
func meanY(tr *trace.Trace, points *[2][body.NumLandmarks]body.Path, of body.Landmark, i int) float64 {
	y := (points[body.Left][of].Y[i] + points[body.Right][of].Y[i]) / 2
	if of == body.Wrist || of == body.Elbow || math.IsNaN(y) {
		return points[tr.NearSide][of].Y[i]
	}
	return y
}

// gone returns how far a signal has gone from rest in the direction of sign.
func gone(x []float64, rest, sign float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = sign * (v - rest)
	}
	return out
}

func scaled(x []float64, by float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = by * v
	}
	return out
}

// slowly returns a signal under a smoothing that leaves only the body's slow rise and fall.
func slowly(x []float64, rateHz float64) []float64 {
	f, err := signal.NewLowpass(rateHz, min(4, signal.MaxCutoffOfRate*rateHz))
	if err != nil {
		return x
	}
	return f.Smooth(x)
}

// SpeedOf returns how fast the signal goes at most on that way of a rep that tells its tempo, in its unit a second.
func (c *Course) SpeedOf(tr *trace.Trace, r *RepTimes) float64 {
	v := signal.Velocity(c.Quick, tr.RateHz)
	fromS, toS, sign := r.StartS, r.BottomS, 1.0
	if c.back {
		fromS, toS, sign = r.BottomEndS, r.EndS, -1
	}
	best := 0.0
	for i := tr.Index(fromS); i <= tr.Index(toS); i++ {
		if speed := sign * v[i]; speed > best {
			best = speed
		}
	}
	return best
}
