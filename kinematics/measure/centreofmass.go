package measure

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// CentreOfMass is the motion of the athlete's centre of mass, one value a sample in
// every slice, NaN where too little of the body was seen. It is an estimate from
// the body points and a table of segment masses.
type CentreOfMass struct {
	Model string
	// Path is the way in the upright picture, pixels, x right, y down, with the standard
	// deviation that comes from the noise of the points.
	Path body.Path
	// FwdPx and UpPx are the same in the athlete's upright axes: forward from where
	// the near ankle stands, up from the floor.
	FwdPx, UpPx []float64
	// VelFwdPxS and VelUpPxS are the velocity in pixels a second, AccFwdPxS2 and
	// AccUpPxS2 the acceleration in pixels a second squared, forward and up.
	VelFwdPxS, VelUpPxS, AccFwdPxS2, AccUpPxS2 []float64
	// TableSDPx is the standard deviation that comes from the choice of the table:
	// how far the women's, the men's and Winter's put the centre apart. It is much
	// the same from rep to rep, and cancels in a change of the same athlete.
	TableSDPx []float64
	// FarSeenPart is the part of the samples in which the far leg was seen; in the
	// others it is taken to be where the near one is.
	FarSeenPart float64
	// originFwd and floorUp are where FwdPx and UpPx begin, in upright pixels.
	originFwd, floorUp float64
}

// Forget takes out where the centre of mass is in the whole clip.
func (c *CentreOfMass) Forget() {
	for _, of := range []*[]float64{&c.Path.X, &c.Path.Y, &c.Path.SDPx, &c.FwdPx, &c.UpPx} {
		*of = signal.NaNs(len(*of))
	}
}

// soleUnderPointsLegs is how far below heel and toe point the floor lies under the
// middle of the body, in leg lengths. The points lie 3 to 5 cm over the sole, but
// the near foot is nearer to the camera than the middle of the body and so seen
// lower, about as much with a camera at the height of the hip. Common practice, no
// source.
const soleUnderPointsLegs = 0.005

// uprightPath returns the way of one point forward and up.
func uprightPath(m *joints.Motion, side body.Side, k body.Landmark) (fwd, up []float64) {
	p := &m.Points[side][k]
	fwd, up = make([]float64, len(p.X)), make([]float64, len(p.X))
	for i := range p.X {
		v := body.Sagittal(p.X[i], p.Y[i], m.Facing)
		fwd[i], up[i] = v.Fwd, v.Up
	}
	return fwd, up
}

// knownLegPx returns the leg length in pixels, NaN when unknown.
func knownLegPx(m *joints.Motion) float64 {
	if m.LegPx > 0 {
		return m.LegPx
	}
	return math.NaN()
}

// within marks the samples from the one nearest to the beginning of a span to the one
// nearest to its end.
func within(m *joints.Motion, spans []trace.Span) []bool {
	return trace.SamplesWithin(m.TimeS, m.RateHz, spans)
}

// onFloor marks the samples in which no rep is in flight.
func onFloor(timeS []float64, reps []events.RepTimes) []bool {
	ok := make([]bool, len(timeS))
	for i, t := range timeS {
		ok[i] = true
		for k := range reps {
			if r := &reps[k]; r.HasFlight() && t > r.TakeoffS && t < r.ContactS {
				ok[i] = false
			}
		}
	}
	return ok
}

// soleUp returns the height of the floor in upright pixels: that of the sole under
// heel and toe of a foot that stands.
func soleUp(m *joints.Motion, floor []bool) float64 {
	var level []float64
	for _, k := range []body.Landmark{body.Heel, body.Toe} {
		_, up := uprightPath(m, m.NearSide, k)
		for i := range up {
			if !floor[i] {
				up[i] = math.NaN()
			}
		}
		// The lower half: a heel that is up is not on the floor.
		level = append(level, signal.Quantile(up, 0.4))
	}
	return signal.Median(level) - soleUnderPointsLegs*knownLegPx(m)
}

// CentreOfMassOf returns the motion of the centre of mass of the athlete by the
// given model of the body's masses. The limbs of the far side are taken from the
// far side's points where they are seen, else from the near side's. Its velocity
// and acceleration are differences of the smoothed points, and as rough as those
// make them.
func CentreOfMassOf(m *joints.Motion, reps []events.RepTimes, view trace.View, model body.MassModel) CentreOfMass {
	return centreOfMass(m, onFloor(m.TimeS, reps), soundFarSide(m, view), model)
}

// centreOfMass returns the centre of mass of the near side and the given far side;
// Floor marks the samples in which a foot is on the floor.
func centreOfMass(m *joints.Motion, floor []bool, far *farSide, model body.MassModel) CentreOfMass {
	n := len(m.TimeS)
	c := CentreOfMass{
		Model: model.Name, Path: body.Path{X: signal.NaNs(n), Y: signal.NaNs(n), SDPx: signal.NaNs(n)},
		FwdPx: signal.NaNs(n), UpPx: signal.NaNs(n), TableSDPx: signal.NaNs(n),
	}
	c.floorUp = soleUp(m, floor)
	ankle, _ := uprightPath(m, m.NearSide, body.Ankle)
	c.originFwd = signal.MedianWhere(ankle, floor)
	tables := []body.MassModel{body.DeLevaFemale(), body.DeLevaMale(), body.Winter()}
	seen := 0.0
	for i := range n {
		near, other := body.LimbAt(&m.Points[m.NearSide], i), body.LimbAt((*[body.NumLandmarks]body.Path)(far), i)
		at, _ := model.CentreOfLimbs(&near, &other)
		if at.Missing() || m.Missing[i] {
			continue
		}
		if !other[body.Knee].Missing() && !other[body.Hip].Missing() {
			seen++
		}
		c.Path.X[i], c.Path.Y[i], c.Path.SDPx[i] = at.X, at.Y, at.SDPx
		v := body.Sagittal(at.X, at.Y, m.Facing)
		c.FwdPx[i], c.UpPx[i] = v.Fwd-c.originFwd, v.Up-c.floorUp
		var fwd, up []float64
		for _, t := range tables {
			p, _ := t.CentreOfLimbs(&near, &other)
			w := body.Sagittal(p.X, p.Y, m.Facing)
			fwd, up = append(fwd, w.Fwd), append(up, w.Up)
		}
		c.TableSDPx[i] = math.Sqrt((spread(fwd) + spread(up)) / 2)
	}
	if n > 0 {
		c.FarSeenPart = seen / float64(n)
	}
	c.VelFwdPxS, c.VelUpPxS = signal.Velocity(c.FwdPx, m.RateHz), signal.Velocity(c.UpPx, m.RateHz)
	c.AccFwdPxS2, c.AccUpPxS2 = acceleratedBy(c.FwdPx, m.RateHz), acceleratedBy(c.UpPx, m.RateHz)
	return c
}

// calmHz and calmMedianS smooth how the far side's points lie to the near side's.
// Common practice, no source.
const calmHz, calmMedianS = 1.5, 0.3

// farSide holds the far side's points.
type farSide [body.NumLandmarks]body.Path

// calmFarSide returns the far side's points with the jumps taken out that a network
// makes on a limb it hardly sees: how each lies to the near side's point changes
// only slowly. Where the near point is missing, the far one is as it was. It is looked at
// along the axes of the picture, as the network does.
func calmFarSide(m *joints.Motion, view trace.View) *farSide {
	near, far := &m.Points[m.NearSide], &m.Points[m.NearSide.Opposite()]
	var out farSide
	f, err := signal.NewLowpass(m.RateHz, min(calmHz, signal.MaxCutoffOfRate*m.RateHz))
	half := int(calmMedianS * m.RateHz / 2)
	calm := func(near, far []float64) []float64 {
		d := make([]float64, len(far))
		for i := range d {
			d[i] = far[i] - near[i]
		}
		if err == nil {
			mid := signal.NaNs(len(d))
			for i := range d {
				if !math.IsNaN(d[i]) {
					mid[i] = signal.Median(d[max(0, i-half):min(len(d), i+half+1)])
				}
			}
			d = f.Smooth(mid)
		}
		for i := range d {
			if d[i] += near[i]; math.IsNaN(d[i]) {
				d[i] = far[i]
			}
		}
		return d
	}
	for k := range body.NumLandmarks {
		near, far := near[k].Turned(-view.RollDeg), far[k].Turned(-view.RollDeg)
		out[k] = body.Path{X: calm(near.X, far.X), Y: calm(near.Y, far.Y), SDPx: far.SDPx}.Turned(view.RollDeg)
	}
	out.squareTrunk(near, view, m.Facing)
	return &out
}

// The widths between the two shoulders and the two hips of a body, between a
// network's points, in parts of the trunk's length: viewWidth, parted as in people
// (after Drillis & Contini, from memory).
const (
	shoulderWidth = 0.58 * trace.ViewWidth
	hipWidth      = 0.42 * trace.ViewWidth
)

// squareTrunk puts the far shoulder, hip and ear as far forward of the near ones as
// the camera's view says. From the side the body hides them, and a network guesses
// them forward of where they are: by 3 to 8 cm in a squat on rendered clips, which
// would take the centre of mass 2 cm along. Side-on they lie behind the near ones;
// only a turn that is sure moves them.
func (far *farSide) squareTrunk(near *[body.NumLandmarks]body.Path, view trace.View, facing body.Facing) {
	turn := math.Copysign(math.Sin(view.SurelyDeg()/body.DegPerRad), view.YawDeg)
	if math.IsNaN(turn) {
		turn = 0
	}
	forward := facing.Sign()
	for i := range near[body.Hip].X {
		trunk := math.Hypot(near[body.Shoulder].X[i]-near[body.Hip].X[i], near[body.Shoulder].Y[i]-near[body.Hip].Y[i])
		for _, p := range [...]struct {
			k     body.Landmark
			width float64
		}{{body.Ear, 0}, {body.Shoulder, shoulderWidth}, {body.Hip, hipWidth}} {
			move := turn*p.width*trunk - forward*(far[p.k].X[i]-near[p.k].X[i])
			if !math.IsNaN(move) {
				far[p.k].X[i] += forward * move
			}
		}
	}
}

// farJumpLegs: a far point that lies further than this, in leg lengths, from where
// it calmly would is an error of the network. Common practice, no source.
const farJumpLegs = 0.1

// soundFarSide returns the far side's points as they were, but for those that
// jumped away.
func soundFarSide(m *joints.Motion, view trace.View) *farSide {
	out := calmFarSide(m, view)
	far := &m.Points[m.NearSide.Opposite()]
	for k := body.Elbow; k < body.NumLandmarks; k++ {
		if k == body.Hip {
			continue // as the trunk lies
		}
		for i := range out[k].X {
			if math.Hypot(far[k].X[i]-out[k].X[i], far[k].Y[i]-out[k].Y[i]) < farJumpLegs*knownLegPx(m) {
				out[k].X[i], out[k].Y[i] = far[k].X[i], far[k].Y[i]
			}
		}
	}
	return out
}

// spread returns the variance of a few values about their mean.
func spread(x []float64) float64 {
	var sum, ss float64
	for _, v := range x {
		sum += v
	}
	mean := sum / float64(len(x))
	for _, v := range x {
		ss += sq(v - mean)
	}
	return ss / float64(len(x)-1)
}

// acceleratedBy returns the second difference of x a second squared, NaN beside
// gaps and ends.
func acceleratedBy(x []float64, rateHz float64) []float64 {
	a := signal.NaNs(len(x))
	for i := 1; i+1 < len(x); i++ {
		a[i] = (x[i+1] - 2*x[i] + x[i-1]) * sq(rateHz)
	}
	return a
}
