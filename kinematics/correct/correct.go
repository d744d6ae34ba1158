package correct

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// ErrRepChange: a coach's change of a rep cannot be carried out: there is no such
// rep, or its times would not be in order.
var ErrRepChange = errors.New("the rep cannot be changed so")

// RepChange is a coach's change of one rep: the one that, as it was found, lasts at AtS.
// Times are seconds of the movement. What is nil or empty stays as found. A rep that is left
// out stays in the list, as one that is not whole.
type RepChange struct {
	AtS     float64      `json:"at_s"`
	Tempo   events.Tempo `json:"tempo,omitempty"`
	LeftOut bool         `json:"left_out,omitempty"`
	StartS  *float64     `json:"start_s,omitempty"`
	BottomS *float64     `json:"bottom_s,omitempty"`
	EndS    *float64     `json:"end_s,omitempty"`
}

// How a correction of one point reaches into the frames beside it.
const (
	// followS is the time in seconds over which a correction fades out to either
	// side: that of the longest gap that is filled, [signal.MaxFillS]. A network's error
	// stays alike for 0.09 s (the ErrorTimeS of a network), so that a fifth of it is left by then;
	// and a quick turn at the bottom, which lasts some 0.3 s, can be put right with
	// one correction at its deepest place.
	followS = signal.MaxFillS
	// joinS is the time between two corrections of a point up to which the frames
	// between go over from the one to the other. Common practice, no source.
	joinS = 0.5
	// doubtLegs is the size of a correction, in leg lengths, from which on the path
	// of the point itself says how long a mistake lasted; a smaller one is no more
	// than what that path is known to. Common practice, no source.
	doubtLegs = 0.03
	// knotS is the time over which points beside the mistake are averaged for that
	// path.
	knotS = 0.05
	// leastShare is the part of a correction below which a frame counts as not
	// touched.
	leastShare = 0.01
)

// Corrected is what corrections did to the frames of a clip: for each point that
// has one, the share of the coach's word in where it now stands, one value a
// frame. It is 1 where the coach put it and 0 where it is the network's.
type Corrected struct {
	share [2][body.NumLandmarks][]float64
	// By is how far the coach would move the point, pixels, x right, y down; the
	// point was moved by that times the share.
	by [2][body.NumLandmarks][]body.Vec
	// at are the frames that the coach corrected, in order.
	at  [2][body.NumLandmarks][]int
	Any bool
}

// CarryOut puts corrected points into the observations, in place, and lets the
// frames beside them follow. It must come after exchanged legs and spikes have
// been dealt with: the coach's word is neither. A network that is wrong for a few
// frames jumps away and back again, and only in between the frames may follow.
// Where each frame's point belongs is therefore asked of a smooth path through the
// correction and the points on both sides of the time that it reaches to. A small
// correction is no mistake with a beginning and an end, and fades out.
func CarryOut(obs []trace.Observation, near body.Side) Corrected {
	var c Corrected
	leg := trace.RoughLegLengthPx(obs)
	times := make([]float64, len(obs))
	for i := range obs {
		times[i] = obs[i].TimeS
	}
	for side := range 2 {
		for k := range body.NumLandmarks {
			var at []int
			var to []body.Vec
			for i := range obs {
				if p, ok := correctionOf(&obs[i], body.Side(side), k, near); ok {
					at, to = append(at, i), append(to, p)
				}
			}
			if len(at) > 0 {
				c.Any, c.at[side][k] = true, at
				c.share[side][k], c.by[side][k] = follow(obs, times, body.Side(side), k, at, to, doubtLegs*leg)
			}
		}
	}
	for i := range obs {
		obs[i].Corrections = nil
	}
	return c
}

// correctionOf returns where the coach put a point in this frame; the last word
// counts.
func correctionOf(o *trace.Observation, side body.Side, k body.Landmark, near body.Side) (at body.Vec, ok bool) {
	for _, c := range o.Corrections {
		s := c.Side
		if c.Near {
			s = near
		}
		if s == side && c.Landmark == k && !math.IsNaN(c.X+c.Y) && !math.IsInf(c.X, 0) && !math.IsInf(c.Y, 0) {
			at, ok = body.Vec{Fwd: c.X, Up: c.Y}, true
		}
	}
	return at, ok
}

// follow moves one point to where the coach put it in the frames at, and beside
// them, and returns the share that the coach has in each frame and the whole way.
func follow(obs []trace.Observation, times []float64, side body.Side, k body.Landmark, at []int, to []body.Vec,
	doubtPx float64) (share []float64, way []body.Vec) {
	n := len(obs)
	raw := make([]body.Vec, n)
	for i := range obs {
		p := &obs[i].Points[side][k]
		raw[i] = body.Vec{Fwd: p.X, Up: p.Y}
	}
	by := make([]body.Vec, len(at))
	for a, i := range at {
		by[a] = to[a].Sub(bridgedAt(raw, times, i))
		if by[a].Missing() {
			by[a] = body.Vec{} // nothing is known beside it that could follow
		}
	}
	share, way = make([]float64, n), make([]body.Vec, n)
	path := newMendedPath(raw, times, at, to)
	for i := range obs {
		d, fade := fadedAt(times, at, by, times[i])
		if fade == 0 || raw[i].Missing() {
			continue
		}
		w := fade
		if p, ok := path.at(times[i]); ok && d.Length() > 0 {
			// Clearly larger than doubtPx: the path decides; clearly smaller: it fades.
			sure := 1 / (1 + math.Pow(doubtPx/d.Length(), 4))
			w += sure * (max(0, min(1, p.Sub(raw[i]).Dot(d)/d.Dot(d))) - fade)
		}
		share[i], way[i] = w, d
		p := &obs[i].Points[side][k]
		p.X, p.Y = raw[i].Fwd+w*d.Fwd, raw[i].Up+w*d.Up
	}
	for a, i := range at {
		sd := obs[i].Points[side][k].SDPx
		obs[i].Points[side][k] = body.Point{X: to[a].Fwd, Y: to[a].Up, SDPx: sd, Confidence: 1}
		share[i], way[i] = 1, by[a]
	}
	return share, way
}

// bridgedAt returns the path at frame i, and where it is missing there, what lies
// between its neighbours within followS.
func bridgedAt(path []body.Vec, times []float64, i int) body.Vec {
	if !path[i].Missing() {
		return path[i]
	}
	beside := func(dir int) int {
		for j := i + dir; j >= 0 && j < len(path) && math.Abs(times[j]-times[i]) <= followS; j += dir {
			if !path[j].Missing() {
				return j
			}
		}
		return -1
	}
	a, b := beside(-1), beside(1)
	switch {
	case a < 0 && b < 0:
		return body.Vec{Fwd: math.NaN(), Up: math.NaN()}
	case a < 0:
		return path[b]
	case b < 0:
		return path[a]
	}
	u := (times[i] - times[a]) / (times[b] - times[a])
	return path[a].Scale(1 - u).Add(path[b].Scale(u))
}

// fadedAt returns how far, and in what part, a point is moved at a time when it is
// moved by the given ways at the times of the frames at, which are in order. The
// part is 1 at and between corrections that are no more than joinS apart; beyond
// them it falls to 0 within followS, as half a cosine.
func fadedAt(times []float64, at []int, by []body.Vec, timeS float64) (d body.Vec, part float64) {
	next := 0
	for next < len(at) && times[at[next]] < timeS {
		next++
	}
	fade := func(a int) float64 {
		u := math.Abs(times[at[a]]-timeS) / followS
		if u >= 1 {
			return 0
		}
		return (1 + math.Cos(math.Pi*u)) / 2
	}
	switch {
	case next == len(at):
		return by[next-1], fade(next - 1)
	case next == 0 || times[at[next]] == timeS:
		return by[next], fade(next)
	}
	a, b := times[at[next-1]], times[at[next]]
	if b-a <= joinS {
		u := (timeS - a) / (b - a)
		u *= u * (3 - 2*u)
		return by[next-1].Scale(1 - u).Add(by[next].Scale(u)), 1
	}
	if timeS-a < b-timeS {
		return by[next-1], fade(next - 1)
	}
	return by[next], fade(next)
}

// mendedPath is where a point should be about its corrections: smooth through them
// and through the network's points before and after the time that they reach to.
type mendedPath struct {
	pieces []mendedPiece
}

type mendedPiece struct {
	fromS, toS float64
	x, y       interp.NaturalCubic
	known      []trace.Span // between knots near enough to each other
}

// newMendedPath makes the path, one piece for each group of joined corrections.
func newMendedPath(raw []body.Vec, times []float64, at []int, to []body.Vec) mendedPath {
	var m mendedPath
	for from := 0; from < len(at); {
		end := from + 1
		for end < len(at) && times[at[end]]-times[at[end-1]] <= joinS {
			end++
		}
		if p, ok := newMendedPiece(raw, times, at[from:end], to[from:end]); ok {
			m.pieces = append(m.pieces, p)
		}
		from = end
	}
	return m
}

func newMendedPiece(raw []body.Vec, times []float64, at []int, to []body.Vec) (p mendedPiece, ok bool) {
	p.fromS, p.toS = times[at[0]]-followS, times[at[len(at)-1]]+followS
	var t, x, y []float64
	knots := func(fromS, toS float64) bool {
		var s body.Vec
		var sumT, n float64
		for i := range raw {
			if times[i] >= fromS && times[i] < toS && !raw[i].Missing() {
				s, sumT, n = s.Add(raw[i]), sumT+times[i], n+1
			}
		}
		if n > 0 {
			t, x, y = append(t, sumT/n), append(x, s.Fwd/n), append(y, s.Up/n)
		}
		return n > 0
	}
	knots(p.fromS-3*knotS, p.fromS-2*knotS)
	knots(p.fromS-2*knotS, p.fromS-knotS)
	before := knots(p.fromS-knotS, p.fromS)
	for a, i := range at {
		t, x, y = append(t, times[i]), append(x, to[a].Fwd), append(y, to[a].Up)
	}
	const hair = 1e-9 // seconds: the edge itself still belongs to the inside
	after := knots(p.toS+hair, p.toS+knotS)
	knots(p.toS+knotS, p.toS+2*knotS)
	knots(p.toS+2*knotS, p.toS+3*knotS)
	if !before || !after {
		return p, false
	}
	for i := 1; i < len(t); i++ {
		if !(t[i] > t[i-1]) {
			return p, false
		}
		if t[i]-t[i-1] <= 2*followS {
			p.known = append(p.known, trace.Span{FromS: t[i-1], ToS: t[i]})
		}
	}
	return p, p.x.Fit(t, x) == nil && p.y.Fit(t, y) == nil
}

// At returns the path at a time; ok is false where nothing is known of it.
func (m *mendedPath) at(timeS float64) (v body.Vec, ok bool) {
	for i := range m.pieces {
		p := &m.pieces[i]
		if timeS < p.fromS || timeS > p.toS {
			continue
		}
		for _, sp := range p.known {
			if sp.Contains(timeS) {
				return body.Vec{Fwd: p.x.Predict(timeS), Up: p.y.Predict(timeS)}, true
			}
		}
	}
	return body.Vec{}, false
}

// Samples is [Corrected] on the uniform time base.
type Samples struct {
	Share [2][body.NumLandmarks][]float64 // nil for a point without corrections
	By    [2][body.NumLandmarks]body.Path // pixels
	// At are the samples nearest to the corrected frames, in order, without
	// repetition.
	At [2][body.NumLandmarks][]int
	// Touched marks the samples within reach of a correction: the body may move in them, and
	// in no others.
	Touched [2][body.NumLandmarks][]bool
}

// OnSamples carries the shares over to the samples of the trace that was made of obs,
// and marks those within reach of any.
func (c *Corrected) OnSamples(obs []trace.Observation, tr *trace.Trace) (h Samples, touched []bool) {
	touched = make([]bool, len(tr.TimeS))
	if !c.Any {
		return h, touched
	}
	times, passed := make([]float64, len(obs)), make([]int, len(obs))
	for i := range obs {
		times[i], passed[i] = obs[i].TimeS, obs[i].PassedBefore
	}
	for side := range 2 {
		for k := range body.NumLandmarks {
			share := c.share[side][k]
			if share == nil {
				continue
			}
			carry := func(get func(i int) float64) []float64 {
				x := make([]float64, len(times))
				for i := range x {
					x[i] = get(i)
				}
				x = signal.ResamplePassed(times, x, passed, tr.TimeS, tr.RateHz).Value
				for i := range x {
					if math.IsNaN(x[i]) {
						x[i] = 0
					}
				}
				return x
			}
			part := carry(func(i int) float64 { return share[i] })
			h.By[side][k].X = carry(func(i int) float64 { return c.by[side][k][i].Fwd })
			h.By[side][k].Y = carry(func(i int) float64 { return c.by[side][k][i].Up })
			for _, i := range c.at[side][k] {
				j := tr.Index(times[i])
				part[j] = 1
				if at := h.At[side][k]; len(at) == 0 || at[len(at)-1] != j {
					h.At[side][k] = append(at, j)
				}
			}
			h.Share[side][k] = part
			own := make([]bool, len(part))
			nowhere := make([]body.Vec, len(h.At[side][k]))
			for i, t := range tr.TimeS {
				_, reach := fadedAt(tr.TimeS, h.At[side][k], nowhere, t)
				own[i] = reach >= leastShare
				touched[i] = touched[i] || own[i]
			}
			h.Touched[side][k] = own
		}
	}
	return h, touched
}

// Held returns a filtered path that goes through the corrected points: what the
// filter takes of a correction is given back, and fades out beside it. Before is the path
// without the corrections, which it is beyond the time that they reach to; raw is not filtered.
func Held(before, p, raw body.Path, timeS []float64, at []int) body.Path {
	by := make([]body.Vec, len(at))
	for a, i := range at {
		by[a] = body.Vec{Fwd: raw.X[i] - p.X[i], Up: raw.Y[i] - p.Y[i]}
		if by[a].Missing() {
			by[a] = body.Vec{}
		}
	}
	for i, t := range timeS {
		d, part := fadedAt(timeS, at, by, t)
		own := math.Sqrt(part) // a filter carries a correction a little beyond its reach
		pick := func(now, was, by float64) float64 {
			if math.IsNaN(was) {
				return now + part*by
			}
			return was + own*(now-was) + part*by
		}
		p.X[i] = pick(p.X[i], before.X[i], d.Fwd)
		p.Y[i] = pick(p.Y[i], before.Y[i], d.Up)
	}
	return p
}

// ChangeReps carries out what the coach changed of the reps: times, and which are
// left out; tempos are set by [events.SetTempos]. It returns an error that wraps
// ErrRepChange when there is no such rep or its times would not be in order.
func ChangeReps(tr *trace.Trace, c *events.Course, stand events.Stand, reps []events.RepTimes,
	changes []RepChange) error {
	which := make([]int, len(changes))
	for k := range changes { // before any is moved
		which[k] = repLasting(reps, changes[k].AtS)
		if which[k] < 0 {
			return fmt.Errorf("%w: there is no rep at %.2f s", ErrRepChange, changes[k].AtS)
		}
	}
	moved := make([]bool, len(reps))
	for k := range changes {
		r := &reps[which[k]]
		ch := &changes[k]
		if ch.Tempo != events.TempoUnknown {
			r.Tempo, r.TempoGiven = ch.Tempo, true
		}
		if ch.LeftOut {
			r.LeftOut = true
		}
		if ch.StartS == nil && ch.BottomS == nil && ch.EndS == nil {
			continue
		}
		if err := moveTimes(tr, r, ch); err != nil {
			return err
		}
		r.Depth = stand.HipHeight - tr.HipHeight[tr.Index(r.BottomS)]
		r.PeakSpeed = c.SpeedOf(tr, r)
		moved[which[k]] = true
	}
	slack := 1 / tr.RateHz
	for i := 1; i < len(reps); i++ {
		a, b := &reps[i-1], &reps[i]
		if (moved[i-1] || moved[i]) && a.EndS > b.StartS+slack {
			return fmt.Errorf("%w: rep %d would end at %.2f s, after rep %d begins at %.2f s", ErrRepChange, a.Number,
				a.EndS, b.Number, b.StartS)
		}
	}
	for i := range reps {
		if r := &reps[i]; r.LeftOut {
			r.Partial, r.PartialWhy = true, notice.New(events.LeftOut, nil)
		}
	}
	return nil
}

// repLasting returns the rep that lasts at the time, the one whose bottom is
// nearest when two meet there, -1 when none does.
func repLasting(reps []events.RepTimes, atS float64) int {
	best := -1
	for i := range reps {
		if r := &reps[i]; atS >= r.StartS && atS <= r.EndS &&
			(best < 0 || math.Abs(r.BottomS-atS) < math.Abs(reps[best].BottomS-atS)) {
			best = i
		}
	}
	return best
}

// moveTimes moves start, bottom and end of a rep and what follows from them.
func moveTimes(tr *trace.Trace, r *events.RepTimes, ch *RepChange) error {
	wasRebound := r.StartS == r.BottomS
	pick := func(now, to *float64) {
		if to != nil {
			*now = *to
		}
	}
	first, last := tr.TimeS[0], tr.TimeS[len(tr.TimeS)-1]
	pick(&r.StartS, ch.StartS)
	pick(&r.EndS, ch.EndS)
	if ch.BottomS != nil {
		r.BottomS = *ch.BottomS
		r.BottomEndS = max(r.BottomS, r.BottomEndS) // the dwell ends where it did, if it still is one
	}
	bad := func(what string, args ...any) error {
		return fmt.Errorf("%w: rep %d: %s", ErrRepChange, r.Number, fmt.Sprintf(what, args...))
	}
	slack := 0.5 / tr.RateHz
	switch {
	case r.StartS < first-slack || r.EndS > last+slack:
		return bad("the clip goes from %.2f to %.2f s", first, last)
	case r.BottomS < r.StartS || r.BottomS == r.StartS && !wasRebound:
		return bad("its start at %.2f s must come before its bottom at %.2f s", r.StartS, r.BottomS)
	case !r.HasFlight() && r.EndS <= r.BottomS:
		return bad("its bottom at %.2f s must come before its end at %.2f s", r.BottomS, r.EndS)
	case r.HasFlight() && r.BottomS >= r.TakeoffS:
		return bad("its bottom at %.2f s must come before the take-off at %.2f s", r.BottomS, r.TakeoffS)
	case r.HasFlight() && r.EndS <= r.LandingBottomS:
		return bad("its end at %.2f s must come after the bottom of the landing at %.2f s", r.EndS, r.LandingBottomS)
	}
	if !r.HasFlight() && r.BottomEndS >= r.EndS {
		r.BottomEndS = r.BottomS
	}
	r.Order()
	r.DescentS = r.BottomS - r.StartS
	if !(r.DescentS > 0) {
		r.DescentS = math.NaN()
	}
	r.AscentS = r.EndS - r.BottomEndS
	if r.HasFlight() {
		r.AscentS = r.TakeoffS - r.BottomEndS
	}
	return nil
}

// Floor is where a coach drew the floor under the athlete's feet: a line through
// two places of the picture, pixels.
type Floor struct {
	X1 float64 `json:"x1_px"`
	Y1 float64 `json:"y1_px"`
	X2 float64 `json:"x2_px"`
	Y2 float64 `json:"y2_px"`
}

// RollDeg returns by how much the picture is turned clockwise if the floor is
// level, in degrees; NaN for a line without length.
func (f *Floor) RollDeg() float64 {
	x, y := f.X2-f.X1, f.Y2-f.Y1
	if x < 0 {
		x, y = -x, -y
	}
	if x == 0 {
		return math.NaN()
	}
	return math.Atan2(y, x) * body.DegPerRad
}

// Upright returns the floor where [trace.TurnUpright] puts it, nil where it was not drawn or
// has no length.
func (f *Floor) Upright(rollDeg float64) *Floor {
	if f == nil || math.IsNaN(f.RollDeg()) {
		return nil
	}
	sin, cos := math.Sincos(rollDeg / body.DegPerRad)
	return &Floor{cos*f.X1 + sin*f.Y1, cos*f.Y1 - sin*f.X1, cos*f.X2 + sin*f.Y2, cos*f.Y2 - sin*f.X2}
}

// RollOf returns the picture's turn as the coach says it or draws the floor, none when he does neither.
func RollOf(deg float64, known bool, floor *Floor) trace.Roll {
	if known && !math.IsNaN(deg) {
		return trace.Roll{Deg: deg, Source: trace.RollGiven}
	}
	if floor != nil && !math.IsNaN(floor.RollDeg()) {
		return trace.Roll{Deg: floor.RollDeg(), Source: trace.RollGiven}
	}
	return trace.Roll{}
}
