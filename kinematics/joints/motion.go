package joints

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/events"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// Angles are the near side's angles on a uniform time base, in degrees: one value a
// sample in every slice.
type Angles struct {
	RateHz float64   `json:"rate_hz"`
	TimeS  []float64 `json:"time_s"`
	// AnglesDeg are from smoothed points, the athlete's own standing taken off (all but
	// ThighAngle), the foot pitch from contact with the floor and the heel's rise.
	AnglesDeg body.AngleSeries `json:"angles_deg"`
	// RawAnglesDeg are from the points as the network gave them: not smoothed, the
	// athlete's standing not taken off, the foot pitch from the heel-toe line.
	RawAnglesDeg body.AngleSeries `json:"raw_angles_deg"`
	// SDDeg is the standard deviation of AnglesDeg that comes from keypoint noise.
	SDDeg body.AngleSeries `json:"sd_deg"`
	// VelocityDegS is the rate of change of AnglesDeg, degrees a second.
	VelocityDegS body.AngleSeries `json:"velocities_deg_s"`
}

// LeaveOutArms takes the angles of the arm out.
func (a *Angles) LeaveOutArms() {
	for _, of := range []*body.AngleSeries{&a.AnglesDeg, &a.RawAnglesDeg, &a.SDDeg, &a.VelocityDegS} {
		of[body.ShoulderFlexion], of[body.ElbowFlexion] = nil, nil
	}
}

// LeaveOutAngles makes all that only the side shows unknown: every angle, and how the heel rises.
func (m *Motion) LeaveOutAngles() {
	n := len(m.TimeS)
	for _, of := range []*body.AngleSeries{&m.AnglesDeg, &m.RawAnglesDeg, &m.SDDeg, &m.VelocityDegS} {
		for a := range of {
			of[a] = signal.NaNs(n)
		}
	}
	for a := range m.OffsetDeg {
		m.OffsetDeg[a] = math.NaN()
	}
	m.HeelRise, m.MeasuredPitch = signal.NaNs(n), body.MeasuredPitch{}
}

// Motion is the athlete's smoothed motion: one value a sample in every slice.
type Motion struct {
	Angles
	NearSide body.Side
	Facing   body.Facing
	LegPx    float64 // leg length: thigh plus shank
	// Missing marks samples in which hip, knee or ankle of the near side is not known.
	Missing  []bool
	CutoffHz float64
	// By is what smoothed the near side.
	By body.Smoother
	// Points holds the smoothed points of both sides in the upright picture.
	Points [2][body.NumLandmarks]body.Path
	// OffsetDeg are the smoothed angles in standing, before they are taken off; NaN
	// when no standing was found.
	OffsetDeg body.StandAngles
	// HipHeight is the height of the hips over the ankle of the standing foot in
	// leg lengths; about 1 in standing.
	HipHeight []float64
	// HeelRise is the height of the heel over its own flat-foot level as a part
	// of the foot's length (heel to toe point), FootLengthPx.
	HeelRise     []float64
	FootLengthPx float64
	// MeasuredPitch is the pitch of the near foot as it was measured; where it was,
	// AnglesDeg have it from there.
	MeasuredPitch body.MeasuredPitch
	noise         motionNoise
	// Arms says that the angles of the arm are known: the movement counts them.
	Arms bool
	// Stance is how the feet carry the body.
	Stance movement.Stance
}

// Smoothing says how a trace is smoothed.
type Smoothing struct {
	By       body.Smoother
	CutoffHz float64
	Network  *body.Calibration
	// Before is the trace without the coach's corrections; ByHand says where those are.
	Before *trace.Trace
	ByHand *correct.Samples
	// Zero marks the samples of standing that the angles are counted from.
	Zero []bool
	// Floor is where the coach drew it, upright; nil: not drawn.
	Floor *correct.Floor
	// Arms says that the angles of the arm are wanted.
	Arms bool
	// Stance is how the feet carry the body: one that the hands carry is not fitted to feet on a floor, and of the feet
	// nothing is known.
	Stance movement.Stance
}

// Smooth smooths every point at one cut-off for the whole clip and takes the angles
// from the smoothed points.
func Smooth(tr *trace.Trace, standing, airborne []bool, how Smoothing) Motion {
	n := len(tr.TimeS)
	measured := flatUnlessUp(flatInStanding(tr.FootPitch, how.Zero), airborne)
	m := Motion{
		Angles: Angles{TimeS: tr.TimeS, RateHz: tr.RateHz}, NearSide: tr.NearSide, Facing: tr.Facing,
		LegPx: tr.LegPx, Missing: tr.Missing,
		CutoffHz: how.CutoffHz, By: body.SmootherFilter, MeasuredPitch: measured, Arms: how.Arms, Stance: how.Stance,
	}
	f, err := signal.NewLowpass(tr.RateHz, m.CutoffHz)
	if err != nil {
		f = nil // too slow a clip to smooth
	}
	shape := newNoiseShape(tr.RateHz, m.CutoffHz, how.Network.ErrorTimeS)
	m.noise.bank = newNoiseBank(tr.RateHz, how.Network.ErrorTimeS, f)
	var white, wander [body.NumLandmarks]float64 // left after smoothing, pixels
	floorPx := how.Network.WanderFloorLegs * tr.LegPx
	for side := range 2 {
		for k := range body.NumLandmarks {
			raw := how.Before.Raw[side][k]
			p := raw.Filtered(tr.RateHz, m.CutoffHz)
			if at := how.ByHand.At[side][k]; len(at) > 0 {
				put := tr.Raw[side][k]
				p = correct.Held(p, put.Filtered(tr.RateHz, m.CutoffHz), put, tr.TimeS, at)
			}
			noise := noiseOf(raw, airborne, &shape, f, floorPx)
			w, v := shape.keptWhite*noise.whitePx, shape.keptWander*noise.wanderPx
			if body.Side(side) == tr.NearSide {
				white[k], wander[k] = w, v
			}
			p.SDPx = constantWhere(p.X, math.Sqrt(w*w+v*v+sq(how.Network.WanderLegs*tr.LegPx)))
			m.Points[side][k] = p
		}
	}
	m.HipHeight = tr.HipHeightOf(&m.Points)

	smoothed := &m.Points[tr.NearSide]
	var plain body.AngleSeries
	for a := range body.NumAngles {
		m.RawAnglesDeg[a], plain[a], m.SDDeg[a] = signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)
		m.noise.angles[a] = angleNoise{signal.NaNs(n), signal.NaNs(n)}
	}
	for i := range n {
		raw, fine := body.LimbAt(&how.Before.Raw[tr.NearSide], i), body.LimbAt(smoothed, i)
		ra, fa, sd := body.AnglesOf(&raw, tr.Facing), body.AnglesOf(&fine, tr.Facing), body.AngleSDs(&fine, tr.Facing)
		w, v := fine.WithSDs(&white), fine.WithSDs(&wander)
		sw, sv := body.AngleSDs(&w, tr.Facing), body.AngleSDs(&v, tr.Facing)
		for a := range body.NumAngles {
			if a.OfArm() && !m.Arms {
				continue
			}
			m.RawAnglesDeg[a][i], plain[a][i], m.SDDeg[a][i] = ra[a], fa[a], sd[a]
			m.noise.angles[a].whiteDeg[i], m.noise.angles[a].wanderDeg[i] = sw[a], sv[a]
		}
	}
	m.noise.hipLegs = math.Hypot(white[body.Hip], wander[body.Hip]) / tr.LegPx
	var foot footMotion
	if how.By == body.SmootherBody && !how.Stance.OffFeet() {
		if fitted, err := body.Fit(bodyInputOf(tr, &measured, standing, airborne, how)); err == nil {
			foot = replace(&fitted, smoothed, &plain, &m.SDDeg, airborne, tr.LegPx)
			m.By = body.SmootherBody
		}
	}
	for a := range body.NumAngles {
		m.OffsetDeg[a] = signal.MedianWhere(plain[a], how.Zero)
	}

	if m.By == body.SmootherFilter {
		foot = footPitch(footInput{
			heel: smoothed[body.Heel], ankle: smoothed[body.Ankle], toe: smoothed[body.Toe],
			shankDeg: plain[body.ShankAngle], facing: tr.Facing, legPx: tr.LegPx,
			standing: standing, airborne: airborne, network: how.Network, measured: measured,
		})
	}
	judgeByFloor(&foot, &smoothed[body.Heel], &smoothed[body.Toe], tr.LegPx, airborne, how.Floor)
	m.FootLengthPx = body.MedianLength(&smoothed[body.Heel], &smoothed[body.Toe])
	m.HeelRise = foot.heelRise

	offset := m.OffsetDeg
	if !slices.Contains(how.Zero, true) {
		offset = [body.NumAngles]float64{}
	}
	offset[body.ThighAngle], offset[body.ShoulderFlexion], offset[body.ElbowFlexion] = 0, 0, 0
	for a := range body.NumAngles {
		m.AnglesDeg[a] = make([]float64, n)
		for i := range n {
			m.AnglesDeg[a][i] = plain[a][i] - offset[a]
		}
	}
	m.noise.togetherDegS = together(m.AnglesDeg[body.ShankAngle], foot.pitchDeg, tr.RateHz)
	for i := range n {
		m.AnglesDeg[body.FootPitch][i] = foot.pitchDeg[i]
		m.AnglesDeg[body.AnkleDorsiflexion][i] = m.AnglesDeg[body.ShankAngle][i] + foot.pitchDeg[i]
		m.SDDeg[body.FootPitch][i] = foot.sdDeg[i]
		m.SDDeg[body.AnkleDorsiflexion][i] = math.Hypot(m.SDDeg[body.ShankAngle][i], foot.sdDeg[i])
		sd := 0.0
		if measured.KnownAt(i) {
			sd = measured.SDDeg[i]
		}
		m.noise.setFoot(i, foot.pitchDeg[i], sd, pointNoise{white[body.Heel], wander[body.Heel]}, tr.LegPx)
	}
	if how.Stance.OffFeet() {
		m.MeasuredPitch, m.HeelRise = body.MeasuredPitch{}, signal.NaNs(n)
		for _, a := range ofFoot {
			m.AnglesDeg[a], m.SDDeg[a] = signal.NaNs(n), signal.NaNs(n)
		}
	}
	for a := range body.NumAngles {
		m.VelocityDegS[a] = signal.Velocity(m.AnglesDeg[a], tr.RateHz)
	}
	return m
}

// Index returns the sample nearest to the time, kept inside the motion.
func (m *Motion) Index(timeS float64) int { return trace.SampleAt(m.TimeS, m.RateHz, timeS) }

// constantWhere returns v where x is known, NaN elsewhere.
func constantWhere(x []float64, v float64) []float64 {
	out := signal.NaNs(len(x))
	for i := range x {
		if !math.IsNaN(x[i]) {
			out[i] = v
		}
	}
	return out
}

// heelMarginS is taken off the loaded part on the flight's side of heel-off and
// heel-down: smoothing carries the pointed foot that far into its surroundings.
func heelMarginS(cutoffHz float64) float64 { return 0.25 / cutoffHz }

// heelUpFoot: the heel counts as up in a push or a landing from this rise on, as
// a part of the foot's length.
const heelUpFoot = 0.05

// LoadedSpans returns the parts of a rep over which angles are measured: without
// the flight, and without the push and the landing while the heel is up, because
// a pointed foot in the air says nothing of the ankle's range, and without what leads to one of the drops.
func LoadedSpans(m *Motion, airborne []bool, drops []trace.Span, r *events.RepTimes) []trace.Span {
	for _, d := range drops {
		if d.ToS > r.StartS && d.ToS < r.BottomS {
			return []trace.Span{{FromS: d.ToS, ToS: r.EndS}}
		}
	}
	if !r.HasFlight() {
		return []trace.Span{{FromS: r.StartS, ToS: r.EndS}}
	}
	off, on := m.Index(r.TakeoffS), m.Index(r.ContactS)
	from, to := m.Index(r.BottomEndS), m.Index(r.LandingBottomS)
	for off > from && !(m.HeelRise[off] < heelUpFoot && !airborne[off]) {
		off--
	}
	for on < to && !(m.HeelRise[on] < heelUpFoot && !airborne[on]) {
		on++
	}
	var out []trace.Span
	if end := max(r.BottomEndS, m.TimeS[off]-heelMarginS(m.CutoffHz)); end >= r.StartS {
		out = append(out, trace.Span{FromS: r.StartS, ToS: end})
	}
	if start := min(r.LandingBottomS, m.TimeS[on]+heelMarginS(m.CutoffHz)); start <= r.EndS {
		out = append(out, trace.Span{FromS: start, ToS: r.EndS})
	}
	return out
}

// bottomWindowS: a reading at the bottom is the median over this time about it,
// as far as the body dwells.
const bottomWindowS = 0.1

// RepAngles returns what the angles did over the loaded spans of a rep. The smallest
// angle is taken over the loaded spans and over the standing beside the bout: a rep
// that begins and ends in a held position has no stand of its own, and its range
// is still how far from standing the position goes, comparable with reps that
// have one. One that is never upright has no smallest angle and no range. filled are the trace's, viewSDDeg is what the
// camera's place puts on each angle.
func RepAngles(m *Motion, filled []bool, r *events.RepTimes, loaded []trace.Span, viewSDDeg *[body.NumAngles]float64,
	network *body.Calibration) [body.NumAngles]AngleMeasure {
	var out [body.NumAngles]AngleMeasure
	near := func(x []float64, atS float64, from, to float64) float64 {
		if math.IsNaN(atS) {
			return math.NaN()
		}
		i0 := m.Index(max(from, atS-bottomWindowS/2))
		i1 := m.Index(min(to, atS+bottomWindowS/2))
		i0, i1 = min(i0, m.Index(atS)), max(i1, m.Index(atS))
		return signal.Median(x[i0 : i1+1])
	}
	half := 1 / m.RateHz
	for a := range body.NumAngles {
		x := m.AnglesDeg[a]
		am := AngleMeasure{MinDeg: math.Inf(1), MaxDeg: math.Inf(-1), SDDeg: math.NaN(), ZeroKnown: m.zeroKnown(a)}
		for _, sp := range loaded {
			for i := m.Index(sp.FromS); i <= m.Index(sp.ToS); i++ {
				if x[i] > am.MaxDeg {
					am.MaxDeg = x[i]
				}
				if x[i] < am.MinDeg {
					am.MinDeg = x[i]
				}
			}
		}
		var stand []float64
		for _, sp := range r.Beside {
			for i := m.Index(sp.FromS); i <= m.Index(sp.ToS); i++ {
				stand = append(stand, x[i])
			}
		}
		am.AtStandDeg = signal.Median(stand)
		if !math.IsNaN(am.AtStandDeg) {
			am.MinDeg = min(am.MinDeg, am.AtStandDeg)
		}
		if am.MaxDeg < am.MinDeg {
			am.MinDeg, am.MaxDeg = math.NaN(), math.NaN()
		}
		am.AtBottomDeg = near(x, r.BottomS, r.BottomS-half, max(r.BottomEndS, r.BottomS+half))
		if r.Partial && !math.IsNaN(r.BottomS) && math.IsNaN(am.AtBottomDeg) {
			am.MaxDeg = math.NaN() // nobody saw how far it went
		}
		am.ROMDeg = am.MaxDeg - am.MinDeg
		am.AtLandingBottomDeg = math.NaN()
		if r.HasFlight() {
			am.AtLandingBottomDeg = near(x, r.LandingBottomS, r.LandingBottomS-half, r.LandingBottomS+bottomWindowS)
		}
		landsS := r.ContactS
		if n := len(loaded); (a == body.AnkleDorsiflexion || a == body.FootPitch) && r.HasFlight() && n > 0 {
			// The foot coming down flat is no dorsiflexion under load.
			landsS = loaded[n-1].FromS
		}
		am.PeakVelocityDegS = peakVelocity(m, m.VelocityDegS[a], r, landsS)
		am.addUncertainty(m, filled, a, r.Beside, loaded, math.Hypot(max(0, viewSDDeg[a]), zeroSDDeg(stand, m.RateHz, r)),
			network)
		if r.NeverUp {
			am.forgetRange()
		}
		out[a] = am
	}
	return out
}

// stirsS is how long one who does not stand quite still stays alike, in seconds: as long as the shortest quiet
// standing. Standing that lies further than besideS from a rep is shared by others. Common practice, no source.
const stirsS, besideS = 0.15, 0.5

// zeroSDDeg returns the standard deviation of a zero that lies away from the rep, so that all reps share it, in
// degrees: from how far the angle stirs in that standing. Of the mean over a time T of what stays alike over a time t,
// 2t/T of the variance stays. After the last of some jumps a knee straightened and bent again by 8 degrees in a stand
// of a quarter of a second, and readings of that clip and its mirror image differed by 5 degrees at every bottom.
func zeroSDDeg(stand []float64, rateHz float64, r *events.RepTimes) float64 {
	for _, s := range r.Beside {
		if s.ToS > r.StartS-besideS && s.FromS < r.EndS+besideS {
			return 0
		}
	}
	known := signal.Present(stand)
	if len(known) < 2 {
		return 0
	}
	return stat.StdDev(known, nil) * math.Sqrt(min(1, 2*stirsS*rateHz/float64(len(known))))
}

// forgetRange makes the smallest angle, and with it the range, unknown.
func (am *AngleMeasure) forgetRange() {
	am.MinDeg, am.ROMDeg, am.ROMInterval95Deg = math.NaN(), math.NaN(), [2]float64{math.NaN(), math.NaN()}
}

// zeroKnown says whether the positions of an angle have a zero: that of standing, which thigh
// and foot do not need, as they are held against the level, nor the arm, whose zero is its own.
func (m *Motion) zeroKnown(a body.Angle) bool {
	return a == body.ThighAngle || a == body.FootPitch || a.OfArm() || !math.IsNaN(m.OffsetDeg[a])
}

// peakVelocity returns the largest rate of flexion in the descent and in the
// landing (from landsS on), degrees a second, NaN when neither was seen.
func peakVelocity(m *Motion, v []float64, r *events.RepTimes, landsS float64) float64 {
	best := math.NaN()
	scan := func(fromS, toS float64) {
		if math.IsNaN(fromS) || math.IsNaN(toS) || toS <= fromS {
			return
		}
		for i := m.Index(fromS); i <= m.Index(toS); i++ {
			if !(v[i] <= best) && !math.IsNaN(v[i]) {
				best = v[i]
			}
		}
	}
	scan(r.StartS, r.BottomS)
	scan(landsS, r.LandingBottomS)
	return best
}

// NotMeasured are the angles of a rep that cannot be measured.
func NotMeasured() (angles [body.NumAngles]AngleMeasure) {
	for a := range angles {
		angles[a] = notMeasured()
	}
	return angles
}

func notMeasured() AngleMeasure {
	nan := math.NaN()
	return AngleMeasure{
		MinDeg: nan, MaxDeg: nan, ROMDeg: nan, AtStandDeg: nan, AtBottomDeg: nan, AtLandingBottomDeg: nan,
		SDDeg: nan, SystematicSDDeg: nan, ROMInterval95Deg: [2]float64{nan, nan}, PeakVelocityDegS: nan,
	}
}
