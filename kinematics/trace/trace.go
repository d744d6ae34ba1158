package trace

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/signal"
)

// Trace is the way of the athlete's points on a uniform time base, one value a sample
// in every slice, the vertical of the picture taken for the athlete's.
type Trace struct {
	TimeS    []float64
	RateHz   float64
	NearSide body.Side
	Facing   body.Facing
	// Raw are the resampled points of both sides, Quick the same under a light
	// smoothing that keeps events sharp.
	Raw, Quick [2][body.NumLandmarks]body.Path
	// HipHeight is the mean of both hips' height in leg lengths from quick points,
	// KneeDeg the near side's raw knee flexion in degrees.
	HipHeight, KneeDeg []float64
	LegPx              float64 // leg length: thigh plus shank
	FloorY             float64 // height of the near ankle while the foot stands, pixels
	// Behind is how far the network guesses shoulder and hip of the far side to lie behind those
	// of the near one, in pixels; NaN where it does not guess.
	Behind []float64
	// FootPitch is the pitch of the near foot where it was measured; empty where it
	// never was.
	FootPitch body.MeasuredPitch
	// Filled marks samples in which hip, knee or ankle of the near side stands in a
	// filled gap, Missing those in which one is not known; Gaps are the stretches of
	// Missing samples.
	Filled, Missing []bool
	Gaps            []Span
	// Between marks samples that lie between two frames that were looked at, where frames were
	// passed over: what they hold is no observation of its own.
	Between []bool
}

// EventCutoffHz smooths points for finding events: enough to be rid of jitter,
// little enough to keep a take-off within a frame or two. Common practice, no
// source.
const EventCutoffHz = 10

// New resamples the cleaned observations and measures the leg.
func New(obs []Observation, near body.Side, facing body.Facing) *Trace {
	times := make([]float64, len(obs))
	for i := range obs {
		times[i] = obs[i].TimeS
	}
	rateHz := frameRateHz(obs)
	tr := &Trace{RateHz: rateHz, TimeS: signal.UniformTimes(times, rateHz), NearSide: near, Facing: facing}
	n := len(tr.TimeS)
	tr.Filled, tr.Missing = make([]bool, n), make([]bool, n)

	column, passed := make([]float64, len(obs)), make([]int, len(obs))
	for i := range obs {
		passed[i] = obs[i].PassedBefore
	}
	carry := func(get func(i int) float64) signal.Resampled {
		for i := range obs {
			column[i] = get(i)
		}
		return signal.ResamplePassed(times, column, passed, tr.TimeS, rateHz)
	}
	tr.Between = betweenLooks(obs, tr.TimeS, rateHz)
	for side := range 2 {
		for k := range body.NumLandmarks {
			x := carry(func(i int) float64 { return obs[i].Points[side][k].X })
			y := carry(func(i int) float64 { return obs[i].Points[side][k].Y })
			sd := carry(func(i int) float64 { return obs[i].Points[side][k].SDPx })
			tr.Raw[side][k] = body.Path{X: x.Value, Y: y.Value, SDPx: sd.Value}
			tr.Quick[side][k] = tr.Raw[side][k].Filtered(rateHz, min(EventCutoffHz, signal.MaxCutoffOfRate*rateHz))
			if body.Side(side) == near && (k == body.Hip || k == body.Knee || k == body.Ankle) {
				for i := range n {
					tr.Filled[i] = tr.Filled[i] || x.Filled[i]
					tr.Missing[i] = tr.Missing[i] || math.IsNaN(x.Value[i])
				}
			}
		}
	}
	for _, r := range signal.Runs(n, func(i int) bool { return tr.Missing[i] }) {
		tr.Gaps = append(tr.Gaps, Span{tr.TimeS[r.From], tr.TimeS[r.To-1]})
	}

	tr.Behind = carry(func(i int) float64 {
		if d := obs[i].Depth[near.Opposite()] - obs[i].Depth[near]; d != 0 {
			return d
		}
		return math.NaN() // a network without depth
	}).Value
	if slices.ContainsFunc(obs, func(o Observation) bool { return o.FootPitch.Known() }) {
		tr.FootPitch = measuredPitch(obs, carry, tr.Between)
	}

	leg := &tr.Raw[near]
	length := make([]float64, n)
	tr.KneeDeg = make([]float64, n)
	for i := range n {
		length[i] = body.Dist(&leg[body.Hip], &leg[body.Knee], i) + body.Dist(&leg[body.Knee], &leg[body.Ankle], i)
		l := body.LimbAt(leg, i)
		tr.KneeDeg[i] = body.AnglesOf(&l, facing)[body.KneeFlexion]
	}
	tr.LegPx = signal.Quantile(length, 0.7)
	tr.FloorY = signal.Quantile(tr.Quick[near][body.Ankle].Y, 0.6)
	tr.HipHeight = tr.HipHeightOf(&tr.Quick)
	return tr
}

// betweenLooks marks the samples that stand for frames that were passed over.
func betweenLooks(obs []Observation, timeS []float64, rateHz float64) []bool {
	out := make([]bool, len(timeS))
	for i := 1; i < len(obs); i++ {
		if obs[i].Passed { // a coach put a point right in it
			out[SampleAt(timeS, rateHz, obs[i].TimeS)] = true
		}
		for j := SampleAt(timeS, rateHz, obs[i-1].TimeS) + 1; j < SampleAt(timeS, rateHz, obs[i].TimeS); j++ {
			out[j] = true
		}
	}
	return out
}

// Corrected returns the trace of the same frames after a coach put points right. Its sizes are
// those of the clip, whatever one frame says.
func (tr *Trace) Corrected(obs []Observation) *Trace {
	out := New(obs, tr.NearSide, tr.Facing)
	out.LegPx, out.FloorY = tr.LegPx, tr.FloorY
	out.HipHeight = out.HipHeightOf(&out.Quick)
	return out
}

// filledPitchSDs is by how many times a pitch in a filled gap is less sure than those
// beside it; common practice, no source.
const filledPitchSDs = 2

// measuredPitch resamples the pitch of the near foot.
func measuredPitch(obs []Observation, carry func(get func(i int) float64) signal.Resampled,
	between []bool) body.MeasuredPitch {
	orNaN := func(i int, v float64) float64 {
		if !obs[i].FootPitch.Known() {
			return math.NaN()
		}
		return v
	}
	deg := carry(func(i int) float64 { return orNaN(i, obs[i].FootPitch.Deg) })
	sd := carry(func(i int) float64 { return orNaN(i, obs[i].FootPitch.SDDeg) })
	for i, filled := range deg.Filled {
		if filled || between[i] {
			sd.Value[i] *= filledPitchSDs
		}
	}
	return body.MeasuredPitch{Deg: deg.Value, SDDeg: sd.Value}
}

// HipHeightOf returns the mean height of both hips over the standing ankle in leg
// lengths; where one hip is missing, the other alone.
func (tr *Trace) HipHeightOf(points *[2][body.NumLandmarks]body.Path) []float64 {
	h := make([]float64, len(tr.TimeS))
	l, r := points[body.Left][body.Hip].Y, points[body.Right][body.Hip].Y
	for i := range h {
		y := (l[i] + r[i]) / 2
		if math.IsNaN(y) {
			y = points[tr.NearSide][body.Hip].Y[i]
		}
		h[i] = (tr.FloorY - y) / tr.LegPx
	}
	return h
}

// Index returns the sample nearest to the time, kept inside the trace.
func (tr *Trace) Index(timeS float64) int { return SampleAt(tr.TimeS, tr.RateHz, timeS) }

// SampleAt returns the sample nearest to the time, kept inside the time base.
func SampleAt(timesS []float64, rateHz, timeS float64) int {
	if len(timesS) == 0 || math.IsNaN(timeS) {
		return 0
	}
	i := int(math.Round((timeS - timesS[0]) * rateHz))
	return max(0, min(len(timesS)-1, i))
}

// Within marks the samples from the one nearest to the beginning of a span to the
// one nearest to its end.
func (tr *Trace) Within(spans []Span) []bool { return SamplesWithin(tr.TimeS, tr.RateHz, spans) }

// SamplesWithin is [Trace.Within] for any uniform time base.
func SamplesWithin(timesS []float64, rateHz float64, spans []Span) []bool {
	in := make([]bool, len(timesS))
	for _, sp := range spans {
		for i := SampleAt(timesS, rateHz, sp.FromS); i <= SampleAt(timesS, rateHz, sp.ToS) && i < len(in); i++ {
			in[i] = true
		}
	}
	return in
}
