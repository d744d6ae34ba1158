package body

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"holdfast/kinematics/signal"
)

// errBodyTooShort: too few samples show the near leg for a body to be fitted.
var errBodyTooShort = errors.New("too few samples show the near leg")

// bodyMinSamples is the smallest number of samples with hip, knee and ankle.
const bodyMinSamples = 10

// FitInput is what the body is fitted to: the near side on a uniform time base,
// one value a sample, NaN where a point was not seen.
type FitInput struct {
	Points   [NumFitPoints]Path // pixels; SDPx as the network states it, may be missing
	Facing   Facing
	RateHz   float64
	LegPx    float64 // thigh plus shank
	CutoffHz float64 // of a plain filter for this clip, for the first guess; 0: 6
	Standing []bool
	// Between marks samples whose points only lie between those of others: they lead the first guess and
	// are no observations. Empty: none.
	Between  []bool
	Airborne []bool
	Offsets  FitOffsets
	// Wander is the standard deviation, in leg lengths, of the part of the
	// points' error that goes with the posture and that no time averages away.
	Wander float64
	// HeelLag is the part of a heel's rise off the floor, and of the ankle's with
	// it, that the points do not follow, up to a pitch of heelLagToDeg.
	HeelLag, HeelLagToDeg float64
	FlatFootSDDeg         float64 // of the pitch of a foot that lies flat
	// Pitch is the foot's pitch where it was measured; there nothing is assumed of it.
	Pitch MeasuredPitch
	// Hands is what a coach put right; nil: nothing.
	Hands *Hands
}

// Hands are the coach's corrections of the near side, one value a sample.
type Hands struct {
	// Points are those of the input after the corrections.
	Points [NumFitPoints]Path
	// Touched marks the samples that a correction moves; in all others the body stays
	// where it is without.
	Touched []bool
	// Share is the part that a correction has in where
	// a point was seen: so much less of the network's own ways is in it. Held are
	// the samples that the coach himself put right. Doubt is the standard deviation, in
	// leg lengths, of how far a mistake of the network reaches beside them. All are
	// nil for a point without corrections.
	Share [NumFitPoints][]float64
	Held  [NumFitPoints][]bool
	Doubt [NumFitPoints][]float64
	// WayLegs is how far the coach would move the point that is moved furthest.
	WayLegs []float64
}

// Fitted is the fitted body, one value a sample.
type Fitted struct {
	// Points are the joints, the heel and the toe in pixels, with the standard
	// deviation of either coordinate.
	Points [NumFitPoints]Path
	// AnglesDeg are the angles with the signs of the package comment, the foot
	// pitch against the flat foot; nothing is taken off for standing. sdDeg are
	// their standard deviations, against the athlete's own standing where the
	// clip shows it. A point that is never seen leaves its angles NaN.
	AnglesDeg, SDDeg [NumAngles][]float64
	// HeelRise is the height of the heel over its flat level, leg lengths.
	HeelRise []float64
	// Scale is the size of the body in the picture, 1 being usual.
	Scale []float64
	// LengthsPx are those of shank, thigh and trunk; noisePx is what each point
	// jumps from frame to frame (standard deviation of either coordinate).
	LengthsPx [3]float64
	NoisePx   [NumFitPoints]float64
	// heelUp is the height of the heel over the ball of the foot's origin, flat marks the
	// samples in which the foot lies on the floor.
	heelUp []float64
	flat   []bool
	// poses counts the poses that were computed: the cost of the fit.
	poses int
}

// Fit returns the body that fits all samples of a clip together best. It
// knows what a filter of single points does not: a shank, a thigh and a trunk
// keep their length, a foot on the floor neither slides nor sinks and lies flat
// until its heel comes up, and a segment turns smoothly, the more freely the
// quicker it moves. The sum of squares that it makes smallest holds
//
//	observed point seen - point of the body - the network's offset, over the
//	         noise, with Student-t weights so that a swap loses its pull
//	turning  second differences of the segments' angles, over what their own
//	         first guess shows within a tenth of a second
//	floor    steps of the ball of the foot, next to none on the floor, free in
//	         the air; the pitch near 0 on the floor, with a weight that fades
//	         once the heel is up (Geman & McClure, from memory)
//	pitch    pitch - what was measured, over its spread, with Student-t weights;
//	         there the floor says nothing of the pitch
//	body     the network's offsets near what is usual
//	by hand  point where a coach put it - point of the body, over next to nothing
//
// The coach's hand comes last: the body is fitted without it, and then, with the
// lengths, the noise and all samples that no correction touches kept as they are,
// those that one does are fitted anew. Which observations of the other points are mistakes is
// settled before, without the point in hand, so that none of them gives way to the hand but for
// the lengths.
//
// Solved by Gauss-Newton with weights renewed in each round. The equations are
// banded in time, with a small border for what holds for the whole clip, so the
// cost is linear in the number of samples. A Kalman smoother would need the
// clip's lengths as states without motion, which makes it as wide and poorly
// conditioned, would have to be repeated for the weights just the same, and gives
// no way to let the standing of the whole clip speak at once; the band gives the
// covariances as well, by Takahashi's recursion.
//
// It returns an error that is errBodyTooShort when too few samples show the leg,
// and errSingular when the samples do not fix a body.
func Fit(in FitInput) (Fitted, error) {
	f, err := newBodyFit(&in)
	if err == nil {
		err = f.run()
	}
	if err != nil {
		return Fitted{}, fmt.Errorf("fitting the body to %d samples: %w", len(in.Airborne), err)
	}
	cov, err := f.eq.clipCovariance()
	if err != nil {
		return Fitted{}, fmt.Errorf("reading the spread of the body's lengths: %w", err)
	}
	// What the samples say of the clip's unknowns was held back by posture, see
	// repeats; their spread is that much wider than the equations know.
	cov.ScaleSym(f.repeats(), cov)
	out := f.estimate(cov)
	levels := stanceLevels(out.heelUp, out.flat, in.Airborne, int(leastStanceS*in.RateHz))
	out.raiseHeels(levels)
	if in.Hands == nil {
		return out, nil
	}
	for _, r := range signal.Runs(f.n, func(i int) bool { return in.Hands.Touched[i] }) {
		from, to := max(0, r.From-bodyReach), min(f.n, r.To+bodyReach)
		g := f.led(from, to)
		err := g.weigh()
		if err == nil {
			err = g.run()
		}
		if err != nil {
			return Fitted{}, fmt.Errorf("letting the body follow the corrections: %w", err)
		}
		led := g.estimate(mat.NewSymDense(perClip, nil))
		out.take(&led, r.From, r.To, from)
	}
	out.raiseHeels(levels)
	return out, nil
}

// angleOf says which unknowns of a sample make up an angle.
var angleOf = [NumAngles][]int{
	KneeFlexion:       {thigh, shank},
	HipFlexion:        {thigh, trunk},
	AnkleDorsiflexion: {shank, pitch},
	ShankAngle:        {shank},
	TrunkLean:         {trunk},
	ThighAngle:        {thigh},
	FootPitch:         {pitch},
}

// estimate turns the fit into pixels and degrees with their spreads; cov is the
// covariance of the clip's unknowns.
func (f *bodyFit) estimate(cov *mat.SymDense) Fitted {
	n, in := f.n, f.in
	local := f.eq.bandOfInverse()
	band := func(i, a, b int) float64 {
		return local[(i*perSample+min(a, b))*(bodyWidth+1)+max(a, b)-min(a, b)]
	}
	// follow is how a sample's unknowns follow those of the clip, less how they
	// do in standing: an error shared with standing is no error of the angle.
	follow := f.eq.following()
	stand := mat.NewDense(perSample, perClip, nil)
	count := 0.0
	for i := range n {
		if in.Standing[i] {
			count++
			stand.Add(stand, follow.Slice(i*perSample, (i+1)*perSample, 0, perClip))
		}
	}
	if count > 0 {
		stand.Scale(1/count, stand)
	}

	out := Fitted{Scale: make([]float64, n), HeelRise: make([]float64, n)}
	for a := range NumAngles {
		out.AnglesDeg[a], out.SDDeg[a] = signal.NaNs(n), signal.NaNs(n)
	}
	for p := range NumFitPoints {
		out.Points[p] = Path{make([]float64, n), make([]float64, n), make([]float64, n)}
		out.NoisePx[p] = f.white[p] * in.LegPx
	}
	for k := range out.LengthsPx {
		out.LengthsPx[k] = f.q[k] * in.LegPx
	}
	out.heelUp, out.flat = make([]float64, n), make([]bool, n)
	g := mat.NewVecDense(perClip, nil)
	for i := range n {
		x := f.sample(i)
		s := f.pose(i)
		out.Scale[i] = math.Exp(x[logScale])
		out.heelUp[i], out.flat[i] = s.at[FitHeel].Up, !in.Airborne[i] && math.Abs(x[pitch])*DegPerRad < flatReachDeg
		var limb Limb
		for p := range NumFitPoints {
			px := s.at[p].Scale(in.LegPx).Add(f.origin)
			var v float64
			for k := range perSample {
				for l := range perSample {
					v += s.by[p][k].Dot(s.by[p][l]) * band(i, k, l)
				}
			}
			out.Points[p].X[i], out.Points[p].Y[i] = in.Facing.Sign()*px.Fwd, -px.Up
			out.Points[p].SDPx[i] = math.Sqrt(max(0, v)/2+sq(in.Wander)) * in.LegPx
			limb[FitLandmarks[p]] = Point{X: out.Points[p].X[i], Y: out.Points[p].Y[i], SDPx: in.Wander * in.LegPx}
		}
		wander := f.wanderSDs(i, &limb)
		for a := range NumAngles {
			if !f.known(a) {
				continue
			}
			var sum, v float64
			g.Zero()
			for _, k := range angleOf[a] {
				sum += x[k]
				for _, l := range angleOf[a] {
					v += band(i, k, l)
				}
				g.AddVec(g, follow.RowView(i*perSample+k))
				g.SubVec(g, stand.RowView(k))
			}
			v += mat.Inner(g, cov, g)
			out.AnglesDeg[a][i] = sum * DegPerRad
			out.SDDeg[a][i] = math.Hypot(math.Sqrt(max(0, v))*DegPerRad, wander[a])
		}
		out.AnglesDeg[ThighAngle][i] -= 90
	}
	out.poses = f.poses
	return out
}

// raiseHeels sets the heel's rise over the levels of a flat foot.
func (b *Fitted) raiseHeels(levels []float64) {
	for i, up := range b.heelUp {
		b.HeelRise[i] = max(0, up-levels[i])
	}
}

// take puts the samples from and to of a part of the clip, which begins at origin, into their
// place. No spread becomes smaller by it: a hand is no more exact than the observations.
func (b *Fitted) take(part *Fitted, from, to, origin int) {
	put := func(now, by []float64) { copy(now[from:to], by[from-origin:to-origin]) }
	widen := func(now, by []float64) {
		for i := from; i < to; i++ {
			now[i] = max(now[i], by[i-origin])
		}
	}
	for p := range b.Points {
		put(b.Points[p].X, part.Points[p].X)
		put(b.Points[p].Y, part.Points[p].Y)
		widen(b.Points[p].SDPx, part.Points[p].SDPx)
	}
	for a := range b.AnglesDeg {
		put(b.AnglesDeg[a], part.AnglesDeg[a])
		widen(b.SDDeg[a], part.SDDeg[a])
	}
	put(b.heelUp, part.heelUp)
	put(b.Scale, part.Scale)
	b.poses += part.poses
}

// leastStanceS is how long a foot must lie flat between two flights, in seconds, for its level
// there to be known. Common practice, no source.
const leastStanceS = 0.1

// stanceLevels returns, one value a sample, the height of the heel of a flat foot. An athlete who
// jumps lands nearer to the camera or further away, so that each stance between two flights has
// a level of its own; where the foot lies flat in fewer than least of its samples, that of
// the whole clip.
func stanceLevels(heelUp []float64, flat, airborne []bool, least int) []float64 {
	level := signal.MedianWhere(heelUp, flat)
	out := make([]float64, len(heelUp))
	for i := range out {
		out[i] = level
	}
	for _, r := range signal.Runs(len(heelUp), func(i int) bool { return !airborne[i] }) {
		var down []float64
		for i := r.From; i < r.To; i++ {
			if flat[i] {
				down = append(down, heelUp[i])
			}
		}
		if len(down) > max(0, least) {
			own := signal.Median(down)
			for i := r.From; i < r.To; i++ {
				out[i] = own
			}
		}
	}
	return out
}

// known says whether the points that an angle needs were seen at all.
func (f *bodyFit) known(a Angle) bool {
	switch a {
	case TrunkLean, HipFlexion:
		return f.everSeen[FitShoulder] && f.q[trunkLength] > shortestSegment
	case FootPitch, AnkleDorsiflexion:
		return f.everSeen[FitHeel] && f.everSeen[FitToe]
	}
	return true
}

// wanderSDs returns what the points' wander puts on each angle in degrees. The
// ankle of a planted foot does not share in it, and neither does the pitch of a
// foot that lies flat, which has the uncertainty of a flat foot, nor one that was
// measured.
func (f *bodyFit) wanderSDs(i int, l *Limb) [NumAngles]float64 {
	if !(f.in.Wander > 0) {
		return [NumAngles]float64{}
	}
	l[Ankle].SDPx /= 2
	sd := AngleSDs(l, f.in.Facing)
	switch {
	case f.in.Pitch.KnownAt(i):
		sd[FootPitch] = f.in.Pitch.SDDeg[i]
	case math.Abs(f.sample(i)[pitch])*DegPerRad > flatReachDeg:
		sd[FootPitch] = max(f.in.FlatFootSDDeg, f.in.Wander/f.lever*DegPerRad)
	default:
		sd[FootPitch] = f.in.FlatFootSDDeg
	}
	sd[AnkleDorsiflexion] = math.Hypot(sd[ShankAngle], sd[FootPitch])
	return sd
}
