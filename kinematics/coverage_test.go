package kinematics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"testing"

	"holdfast/internal/handmade"
	"holdfast/internal/shipped"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// The simulated athletes of the coverage test. Lengths are leg lengths (thigh
// plus shank) where nothing else is said.

// simPose is a position: angles in degrees with the signs of the package.
type simPose struct{ shank, thigh, trunk, pitch float64 }

func (p simPose) toward(q simPose, u float64) simPose {
	mix := func(x, y float64) float64 { return x + u*(y-x) }
	return simPose{mix(p.shank, q.shank), mix(p.thigh, q.thigh), mix(p.trunk, q.trunk), mix(p.pitch, q.pitch)}
}

func (p simPose) joints() [body.NumJoints]float64 {
	return [body.NumJoints]float64{p.shank + p.pitch, p.shank + p.thigh, p.thigh + p.trunk}
}

// simSample is where the body is: its position, how far the ball of the foot is
// above the floor, how far the body is bent (0 to 1) and how quickly.
type simSample struct {
	pose        simPose
	ballUp      float64
	bend, speed float64
}

// simNoise is a network's error as it was measured on rendered clips (heavy
// network, held positions and slow phases, near side): offsets of a point that
// stay, that grow with the bend and are the athlete's, and that grow with the
// bend and are the clip's; noise that wanders with a correlation time of 0.09 s,
// more while the body moves, and white noise.
type simNoise struct {
	still, bent, clipBent [body.NumLandmarks][2]float64
	wander, white         float64
	heelSeen              float64 // part of a heel's rise that is seen
}

// simOffsets are a network's offsets, forward and up, in leg lengths, as measured
// on two rendered athletes: in standing (still), and what is added at a knee
// flexion of 120 degrees (bent). A simulated athlete has their mean and a random
// multiple of their difference, the same for all points, because the offsets of
// neighbouring points go together: drawn one by one with the same size, they
// would put twice the measured error on the knee.
var simOffsets = [2][body.NumLandmarks]struct{ still, bent [2]float64 }{
	{
		body.Shoulder: {[2]float64{0.009, 0.028}, [2]float64{0.015, -0.002}},
		body.Hip:      {[2]float64{0.041, -0.013}, [2]float64{-0.001, 0.022}},
		body.Knee:     {[2]float64{-0.016, 0.000}, [2]float64{-0.001, 0.006}},
		body.Ankle:    {[2]float64{0.002, 0.039}, [2]float64{0.027, -0.024}},
		body.Heel:     {[2]float64{0.021, 0.026}, [2]float64{0.007, -0.012}},
		body.Toe:      {[2]float64{-0.024, 0.035}, [2]float64{-0.007, -0.022}},
	},
	{
		body.Shoulder: {[2]float64{0.016, 0.063}, [2]float64{-0.007, -0.038}},
		body.Hip:      {[2]float64{0.026, 0.018}, [2]float64{-0.013, -0.013}},
		body.Knee:     {[2]float64{-0.001, 0.010}, [2]float64{-0.019, 0.005}},
		body.Ankle:    {[2]float64{0.011, 0.018}, [2]float64{0.008, 0.003}},
		body.Heel:     {[2]float64{0.021, 0.014}, [2]float64{-0.007, -0.001}},
		body.Toe:      {[2]float64{-0.013, 0.021}, [2]float64{0.008, -0.026}},
	},
}

// simClipSD is by how much the added part differs between the tempos of an
// athlete, standard deviation in leg lengths. What was seen at the held bottoms
// is two thirds of this (shoulder: half of it); so enlarged it gives the measured
// errors of what is lost between tempos, knee 2.0 and hip 2.6 degrees.
var simClipSD = [body.NumLandmarks][2]float64{
	body.Shoulder: {0.020, 0.005}, body.Hip: {0.006, 0.006}, body.Knee: {0.006, 0.006},
	body.Ankle: {0.009, 0.006}, body.Heel: {0.009, 0.003}, body.Toe: {0.015, 0.015},
}

// simHeelSD is the standard deviation of the part of a heel's rise that is seen.
const simHeelSD = 0.25

type simAthlete struct {
	rng                        *rand.Rand
	thigh, shank, trunk, foot  float64
	legPx, floorPx, standX     float64
	legM                       float64
	facing                     body.Facing
	stand                      simPose
	still, bent                [body.NumLandmarks][2]float64
	ankleBack, ankleUp, heelUp float64
	// gatherS is the time in which a foot that leaves the floor takes up the speed of
	// the body, for the legs are still stretching. toeCreep is how far the network
	// raises the toe point of a foot that stands on its tip: -1 to 2 cm were seen on
	// three rendered bodies.
	gatherS, toeCreep float64
	// exact says that the network finds every point where its calibration expects it.
	exact bool
}

func newSimAthlete(seed uint64) *simAthlete {
	rng := rand.New(rand.NewPCG(seed, 99))
	u := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	a := &simAthlete{rng: rng}
	a.thigh = u(0.47, 0.53)
	a.shank = 1 - a.thigh
	a.trunk, a.foot = u(0.5, 0.6), u(0.26, 0.3)
	a.legPx, a.floorPx, a.standX = u(200, 420), 1150, 350
	a.legM = u(0.75, 0.95)
	feet := rand.New(rand.NewPCG(seed, 7))
	a.gatherS, a.toeCreep = 0.015+0.015*feet.Float64(), 0.015*feet.NormFloat64()
	a.facing = []body.Facing{body.FacingLeft, body.FacingRight}[rng.IntN(2)]
	mix := rng.NormFloat64() / math.Sqrt2 // the spread of two is their difference over sqrt(2)
	a.stand = simPose{u(0, 5), u(-3, 2), u(-2, 3), 0}
	for k := range body.NumLandmarks {
		for d := range 2 {
			p, q := simOffsets[0][k], simOffsets[1][k]
			a.still[k][d] = (p.still[d]+q.still[d])/2 + mix*(p.still[d]-q.still[d])
			a.bent[k][d] = (p.bent[d]+q.bent[d])/2 + mix*(p.bent[d]-q.bent[d])
		}
	}
	return a
}

func (a *simAthlete) noise() simNoise {
	if a.exact {
		n := simNoise{heelSeen: 1}
		for k, offset := range handmade.Network().Offsets {
			n.still[k] = [2]float64{offset.Mean.Fwd, offset.Mean.Up}
		}
		return n
	}
	n := simNoise{still: a.still, bent: a.bent}
	for k := range body.NumLandmarks {
		for d := range 2 {
			n.clipBent[k][d] = simClipSD[k][d] * a.rng.NormFloat64()
		}
	}
	n.wander = 0.0015 * math.Exp(1.2*a.rng.Float64()) // 0.0015 to 0.005
	n.white = 0.002 * a.rng.Float64()
	n.heelSeen = max(0.3, 1+simHeelSD*a.rng.NormFloat64())
	return n
}

// hipOver returns how far the hip is over the ball of the foot.
func (a *simAthlete) hipOver(p simPose) float64 {
	return a.ankle(p).Up + a.shank*cosDeg(p.shank) + a.thigh*cosDeg(p.thigh)
}

// ankle returns the ankle from the ball of the foot, which lies 0.72 of the foot
// in front of the heel.
func (a *simAthlete) ankle(p simPose) body.Vec {
	s, c := math.Sincos(p.pitch / body.DegPerRad)
	v := body.Vec{Fwd: -0.5 * a.foot, Up: 0.09}
	return body.Vec{Fwd: v.Fwd*c - v.Up*s, Up: v.Fwd*s + v.Up*c}
}

// figure returns the true places of the points with the ball of the foot ballUp over the floor.
func (a *simAthlete) figure(p simPose, ballUp float64) map[body.Landmark]body.Vec {
	ball := body.Vec{Fwd: 0, Up: ballUp}
	ankle := ball.Add(a.ankle(p))
	turn := func(v body.Vec) body.Vec {
		sin, cos := math.Sincos(p.pitch / body.DegPerRad)
		return ball.Add(body.Vec{Fwd: v.Fwd*cos - v.Up*sin, Up: v.Fwd*sin + v.Up*cos})
	}
	knee := ankle.Add(body.Vec{Fwd: a.shank * sinDeg(p.shank), Up: a.shank * cosDeg(p.shank)})
	hip := knee.Add(body.Vec{Fwd: -a.thigh * sinDeg(p.thigh), Up: a.thigh * cosDeg(p.thigh)})
	shoulder := hip.Add(body.Vec{Fwd: a.trunk * sinDeg(p.trunk), Up: a.trunk * cosDeg(p.trunk)})
	toe := ball.Add(body.Vec{Fwd: 0.28 * a.foot, Up: 0.02})
	return map[body.Landmark]body.Vec{
		body.Ear: shoulder.Add(body.Vec{Fwd: 0.03, Up: 0.2}), body.Shoulder: shoulder, body.Hip: hip,
		body.Knee: knee, body.Ankle: ankle,
		body.Elbow: shoulder.Add(body.Vec{Fwd: 0.3, Up: 0}), body.Wrist: shoulder.Add(body.Vec{Fwd: 0.6, Up: 0}),
		body.Heel: turn(body.Vec{Fwd: -0.72 * a.foot, Up: 0.03}), body.Toe: toe,
	}
}

func cosDeg(d float64) float64 { return math.Cos(d / body.DegPerRad) }
func sinDeg(d float64) float64 { return math.Sin(d / body.DegPerRad) }

// simClip is a simulated clip: the truth at any time, and the reps' true size.
type simClip struct {
	at      func(timeS float64) simSample
	endS    float64
	size    []float64        // of each rep against the athlete's usual one
	times   []events.TimeSDs // of each rep: the times themselves
	athlete *simAthlete
}

// part is a stretch of a motion with its own clock from 0 to its length.
type part struct {
	lengthS float64
	at      func(t float64) simSample
	ends    partEnd
}

// partEnd says what the end of a part is, for the times of a rep.
type partEnd int

const (
	endsNothing partEnd = iota
	endsBottom
	endsTakeoff
	endsContact
)

func (p part) endsAt(e partEnd) part { p.ends = e; return p }

func joined(a *simAthlete, parts []part, size []float64) *simClip {
	c := &simClip{athlete: a, size: size}
	for _, p := range parts {
		c.endS += p.lengthS
		switch p.ends {
		case endsBottom:
			c.times = append(c.times, events.TimeSDs{BottomS: c.endS, TakeoffS: math.NaN(), ContactS: math.NaN()})
		case endsTakeoff:
			c.times[len(c.times)-1].TakeoffS = c.endS
		case endsContact:
			c.times[len(c.times)-1].ContactS = c.endS
		}
	}
	c.at = func(t float64) simSample {
		for i, p := range parts {
			if t < p.lengthS || i == len(parts)-1 {
				return p.at(min(t, p.lengthS))
			}
			t -= p.lengthS
		}
		return simSample{}
	}
	return c
}

// sweep moves between two positions with a minimum-jerk course; bend0 and bend1
// say how far the body is bent at its ends.
func sweep(from, to simPose, bend0, bend1, lengthS float64) part {
	return part{lengthS: lengthS, at: func(t float64) simSample {
		u := t / lengthS
		m := signal.MinJerk(u)
		return simSample{pose: from.toward(to, m), bend: bend0 + m*(bend1-bend0),
			speed: math.Abs(bend1-bend0) * 30 * u * u * (1 - u) * (1 - u) / lengthS}
	}}
}

func hold(p simPose, bend, lengthS float64) part {
	return part{lengthS: lengthS, at: func(float64) simSample { return simSample{pose: p, bend: bend} }}
}

// squats returns reps down to a bottom and up again.
func (a *simAthlete) squats(bottom simPose, reps int, downS, holdS, upS float64) *simClip {
	parts := []part{hold(a.stand, 0, 0.8)}
	var size []float64
	bend := bottom.joints()[body.KneeJoint] / 120
	for range reps {
		z := 1 + 0.02*a.rng.NormFloat64()
		low := a.stand.toward(bottom, z)
		d := downS * (0.9 + 0.2*a.rng.Float64())
		parts = append(parts, sweep(a.stand, low, 0, bend, d).endsAt(endsBottom))
		if holdS > 0 {
			parts = append(parts, hold(low, bend, holdS))
		}
		parts = append(parts, sweep(low, a.stand, bend, 0, upS), hold(a.stand, 0, 0.6+0.3*a.rng.Float64()))
		size = append(size, z)
	}
	return joined(a, parts, size)
}

// quintic returns the polynomial of degree 5 over 0..T with the given place,
// speed and acceleration at its ends.
func quintic(T, p0, v0, a0, p1, v1, a1 float64) func(t float64) (p, v float64) {
	d := p1 - p0
	c3 := (20*d - (8*v1+12*v0)*T - (3*a0-a1)*T*T) / (2 * T * T * T)
	c4 := (-30*d + (14*v1+16*v0)*T + (3*a0-2*a1)*T*T) / (2 * T * T * T * T)
	c5 := (12*d - 6*(v1+v0)*T - (a0-a1)*T*T) / (2 * math.Pow(T, 5))
	return func(t float64) (float64, float64) {
		return p0 + t*(v0+t*(a0/2+t*(c3+t*(c4+t*c5)))), v0 + t*(a0+t*(3*c3+t*(4*c4+t*5*c5)))
	}
}

// jumps returns reps from a stand into a held bottom, a push, a flight, a landing
// into the bottom, and up to the stand.
func (a *simAthlete) jumps(bottom simPose, reps int, downS, flightS float64) *simClip {
	parts := []part{hold(a.stand, 0, 0.8)}
	var size []float64
	bend := bottom.joints()[body.KneeJoint] / 120
	g := trace.GravityMS2 / a.legM
	// The foot leaves so much later than the body's speed alone would lift it.
	v := g * flightS / 2 / (1 - a.gatherS/flightS*(1-math.Exp(-flightS/a.gatherS)))
	for range reps {
		z := 1 + 0.02*a.rng.NormFloat64()
		low := a.stand.toward(bottom, z)
		parts = append(parts, sweep(a.stand, low, 0, bend, downS).endsAt(endsBottom), hold(low, bend, 0.25))
		// legs returns the position with the given pitch whose hip has a height
		// over the ball.
		legs := func(up, pitch float64) simPose {
			lo, hi := -0.1, 1.15
			for range 40 {
				mid := (lo + hi) / 2
				p := a.stand.toward(low, mid)
				p.pitch = pitch
				if a.hipOver(p) > up {
					lo = mid
				} else {
					hi = mid
				}
			}
			p := a.stand.toward(low, (lo+hi)/2)
			p.pitch = pitch
			return p
		}
		at := func(p simPose, ballUp, speed float64) simSample {
			return simSample{pose: p, ballUp: ballUp,
				bend: bend * (p.joints()[body.KneeJoint] - a.stand.joints()[body.KneeJoint]) /
					max(1, low.joints()[body.KneeJoint]-a.stand.joints()[body.KneeJoint]), speed: speed}
		}
		const toe = -40.0
		off := a.stand
		off.pitch = toe
		top, deep := a.hipOver(off), a.hipOver(low)
		bent := v * a.gatherS // legs not yet straight at take-off
		pushS := max(0.3, 2.2*(top-bent-deep)/v)
		push := quintic(pushS, deep, 0, 0, top-bent, v, -g)
		parts = append(parts, part{ends: endsTakeoff, lengthS: pushS, at: func(t float64) simSample {
			up, _ := push(t)
			return at(legs(up, toe*signal.MinJerk((t-0.7*pushS)/(0.6*pushS))*2), 0, 2)
		}})
		// Twice the half-way of a course that ends after the take-off: the foot
		// is still turning as it leaves the floor.
		parts = append(parts, part{ends: endsContact, lengthS: flightS, at: func(t float64) simSample {
			still := bent * math.Exp(-t/a.gatherS)
			return at(legs(top-still, toe), t*(v-g*t/2)-bent+still, 2)
		}})
		landS := min(0.45, 2.4*(top-deep)/v)
		land := quintic(landS, top, v-g*flightS, -g, deep, 0, 0)
		parts = append(parts, part{lengthS: landS, at: func(t float64) simSample {
			up, _ := land(t)
			return at(legs(up, toe*(1-signal.MinJerk(t/0.16))), 0, 2)
		}}, hold(low, bend, 0.3), sweep(low, a.stand, bend, 0, 0.9), hold(a.stand, 0, 0.7))
		size = append(size, z)
	}
	return joined(a, parts, size)
}

// film returns what the network says of the clip, seen at rateHz, and the time at
// which each frame was taken. Some frames are dropped and some late when rough.
func (c *simClip) film(rateHz float64, rough bool) []trace.Observation {
	a, rng := c.athlete, c.athlete.rng
	n := a.noise()
	var wander [2][body.NumLandmarks][2]float64
	lost, jitter := 0.0, 0.0
	if rough {
		lost, jitter = 0.06*rng.Float64(), 0.1/rateHz*rng.Float64()
	}
	var obs []trace.Observation
	last := -1.0
	for i := 0; float64(i)/rateHz <= c.endS; i++ {
		t := float64(i) / rateHz
		if i > 0 && rough {
			t += jitter * (rng.Float64() - 0.5)
		}
		if i > 0 && rng.Float64() < lost {
			continue
		}
		s := c.at(t)
		p := s.pose
		true := a.figure(p, s.ballUp)
		o := trace.Observation{TimeS: t, Depth: [2]float64{30, -30}}
		phi := 0.0
		if last >= 0 {
			phi = math.Exp(-(t - last) / handmade.Network().ErrorTimeS)
		}
		last = t
		for side := range 2 {
			for k := range body.NumLandmarks {
				at := true[k]
				if k == body.Toe && p.pitch < 0 {
					at.Up += a.toeCreep * min(1, -p.pitch/40)
				}
				if k == body.Heel && s.ballUp == 0 {
					at.Up = 0.03 + (at.Up-0.03)*n.heelSeen
				}
				var e [2]float64
				for d := range 2 {
					w := &wander[side][k][d]
					*w = phi**w + math.Sqrt(1-phi*phi)*n.wander*rng.NormFloat64()
					e[d] = n.still[k][d] + s.bend*(n.bent[k][d]+n.clipBent[k][d]) + *w*(1+0.5*min(1, s.speed)) +
						n.white*rng.NormFloat64()
				}
				far := float64(1-side) * 0.02
				o.Points[side][k] = body.Point{
					X: a.standX + a.facing.Sign()*a.legPx*(at.Fwd+e[0]+far), Y: a.floorPx - a.legPx*(at.Up+e[1]+far),
					SDPx: 12, Confidence: 0.6 + 0.3*float64(side),
				}
			}
		}
		obs = append(obs, o)
	}
	return obs
}

// truth returns the true range of each joint over the loaded spans of a rep.
func (c *simClip) truth(r *Rep) (rom [body.NumJoints]float64) {
	lo := c.athlete.stand.joints()
	hi := lo
	for _, sp := range r.Loaded {
		for t := sp.FromS; t <= sp.ToS; t += 0.005 {
			for j, v := range c.at(t).pose.joints() {
				lo[j], hi[j] = min(lo[j], v), max(hi[j], v)
			}
		}
	}
	for j := range rom {
		rom[j] = hi[j] - lo[j]
	}
	return rom
}

// coverage counts how often intervals hold the truth.
type coverage struct {
	n, held   int
	errs, wid []float64
}

func (c *coverage) add(err float64, interval [2]float64, at float64) {
	c.n++
	if interval[0] <= at && at <= interval[1] {
		c.held++
	}
	c.errs, c.wid = append(c.errs, err), append(c.wid, (interval[1]-interval[0])/2)
}

func (c *coverage) pct() float64 { return 100 * float64(c.held) / float64(c.n) }

func (c *coverage) String() string {
	var mean, ss float64
	for _, e := range c.errs {
		mean += e / float64(c.n)
		ss += e * e / float64(c.n)
	}
	w := append([]float64(nil), c.wid...)
	sort.Float64s(w)
	return fmt.Sprintf("%5.1f %% of %4d   error mean %+5.2f rms %5.2f   median half-width %5.2f", c.pct(), c.n, mean,
		math.Sqrt(ss), w[len(w)/2])
}

// simTest is one athlete filmed twice: slowly, and in another way.
func simTest(seed uint64) (base, challenge *simClip, baseObs, challengeObs []trace.Observation) {
	a := newSimAthlete(seed)
	u := func(lo, hi float64) float64 { return lo + (hi-lo)*a.rng.Float64() }
	knee, ankle := u(80, 125), u(15, 35)
	// A shank that leans s, a thigh that makes the knee's flexion, a trunk over
	// the feet.
	position := func(part float64) simPose {
		s := a.stand.shank + ankle*part
		return simPose{s, a.stand.thigh + knee*part - ankle*part, a.stand.trunk + u(25, 50)*part, 0}
	}
	reps := []int{2, 3, 3, 4}[a.rng.IntN(4)]
	slow := position(1)
	base = a.squats(slow, reps, u(1.1, 1.8), max(0, u(-0.3, 0.7)), u(0.9, 1.3))
	baseObs = base.film([]float64{24, 30, 30, 60}[a.rng.IntN(4)], a.rng.IntN(2) == 0)
	quick := position(u(0.8, 1))
	if a.rng.IntN(2) == 0 {
		challenge = a.jumps(quick, reps, u(0.6, 1), u(0.36, 0.52))
		challengeObs = challenge.film([]float64{30, 60, 60, 120}[a.rng.IntN(4)], a.rng.IntN(2) == 0)
		return
	}
	if a.rng.IntN(3) == 0 { // the heel comes up
		quick.pitch = -u(5, 15)
	}
	challenge = a.squats(quick, reps, u(0.3, 0.5), max(0, u(-0.3, 0.6)), u(0.4, 0.8))
	challengeObs = challenge.film([]float64{24, 30, 60, 60, 120}[a.rng.IntN(5)], a.rng.IntN(2) == 0)
	return
}

// TestIntervalsCoverTheTruth films simulated athletes and counts how often the
// 95 % intervals hold what the athlete did: the range of each rep, and what the
// athlete usually loses (not only in the reps that were filmed). The simulated
// network errs as the real one was seen to; that real ones of other athletes do
// not err more, no simulation can show.
func TestIntervalsCoverTheTruth(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it simulates hundreds of motions")
	}
	t.Parallel()
	tests := []struct {
		smoother body.Smoother
		athletes uint64 // two motions each
		within   [2]float64
	}{
		{body.SmootherFilter, 110, [2]float64{90, 99}},
		// The body's intervals are as wide as the errors on rendered clips ask for,
		// which is wider than the simulated ones do.
		{body.SmootherBody, 100, [2]float64{90, 100}},
	}
	for _, c := range tests {
		t.Run(c.smoother.String(), func(t *testing.T) {
			t.Parallel()
			coverTruth(t, c.smoother, c.athletes, c.within)
		})
	}
}

func coverTruth(t *testing.T, smoother body.Smoother, athletes uint64, within [2]float64) {
	var rom, loss [body.NumJoints]coverage
	var times [3]coverage
	wrong := 0
	for seed := range athletes {
		base, challenge, bo, co := simTest(seed)
		var reps [2][]Rep
		var usual [2][body.NumJoints]float64
		ok := true
		for i, c := range []*simClip{base, challenge} {
			_, r, _, err := Analyze([][]trace.Observation{bo, co}[i],
				Options{Movements: shipped.Squats(), Smoother: smoother, Calibration: handmade.Network()})
			if err != nil || len(r) != len(c.size) {
				ok = false
				t.Logf("athlete %d motion %d: %d reps of %d, %v", seed, i, len(r), len(c.size), err)
				break
			}
			reps[i] = r
			for k := range r {
				truth := c.truth(&r[k])
				for _, j := range body.LegJoints {
					m := r[k].Angles[j.Angle()]
					rom[j].add(m.ROMDeg-truth[j], m.ROMInterval95Deg, truth[j])
					usual[i][j] += truth[j] / c.size[k] / float64(len(r))
				}
				for n, v := range [3][3]float64{
					{r[k].BottomS, r[k].TimeSDS.BottomS, c.times[k].BottomS},
					{r[k].TakeoffS, r[k].TimeSDS.TakeoffS, c.times[k].TakeoffS},
					{r[k].ContactS, r[k].TimeSDS.ContactS, c.times[k].ContactS},
				} {
					if half := stats.Normal95 * v[1]; !math.IsNaN(v[2]) {
						times[n].add(1000*(v[0]-v[2]), [2]float64{1000 * (v[0] - half), 1000 * (v[0] + half)}, 1000*v[2])
					}
				}
			}
		}
		if !ok {
			wrong++
			continue
		}
		p := pairOf(t, reps[0], reps[1], CompareOptions{})
		for _, j := range body.LegJoints {
			want := usual[0][j] - usual[1][j]
			loss[j].add(p.Joints[j].LostDeg-want, p.Joints[j].Interval95Deg, want)
		}
	}
	var table strings.Builder
	check := func(what string, c *coverage) {
		fmt.Fprintf(&table, "%-18s %v\n", what, c)
		if p := c.pct(); p < within[0] || p > within[1] {
			t.Errorf("%s: the 95 %% intervals hold the truth in %.1f %%, want %g to %g", what, p, within[0], within[1])
		}
	}
	for _, j := range body.LegJoints {
		check("range, "+j.String(), &rom[j])
	}
	for _, j := range body.LegJoints {
		check("lost, "+j.String(), &loss[j])
	}
	for i, name := range []string{"bottom, ms", "take-off, ms", "contact, ms"} {
		check(name, &times[i])
	}
	t.Logf("%d of %d athletes left out for miscounted reps\n%s", wrong, athletes, &table)
	if wrong > int(athletes)/20 {
		t.Errorf("%d of %d athletes have miscounted reps", wrong, athletes)
	}
}
