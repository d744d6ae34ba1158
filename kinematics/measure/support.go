package measure

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// SupportBand returns the middle of the foot, in per cent of its length, as the coach
// wants it; where he says nothing (zero), 25 to 75. Common practice, no source.
func SupportBand(pct [2]float64) [2]float64 {
	if pct[1] > pct[0] {
		return pct
	}
	return [2]float64{25, 75}
}

// Support is where the body's weight acts along the feet: an estimate from the
// movement of the whole body, not a measurement of pressure. 0 % is the back of the
// heel, 100 % the tip of the foot.
type Support struct {
	BandPct [2]float64
	// Pct is the support point in per cent of the foot's length, SDPct its standard
	// deviation; NaN in the air, where the foot is hardly loaded, and where body or
	// foot were not seen. StaticPct is the centre of mass over the foot, where the
	// support point would be were the body at rest.
	Pct, SDPct, StaticPct []float64
	// HeelFwdPx and ToeFwdPx are where the foot on the floor begins and ends,
	// forward in the axes of CentreOfMass.
	HeelFwdPx, ToeFwdPx []float64
}

// Forget takes out where the weight acts in the whole clip.
func (sp *Support) Forget() {
	for _, of := range []*[]float64{&sp.Pct, &sp.SDPct, &sp.StaticPct} {
		*of = signal.NaNs(len(*of))
	}
}

const (
	// standsForS is the time to either side over which the place of a standing foot
	// is taken.
	standsForS = 1.5
	// heelDownPart: the heel is down when it is up by less, as a part of the foot.
	heelDownPart = 0.06
	// leastLoad: with less of the body's weight on the foot than this part, the
	// support point says nothing.
	leastLoad = 0.25
	// contradictSDs: a sharper try contradicts a smoother one by so many standard
	// deviations of their difference.
	contradictSDs = 3
	// smoothingReach over its cut-off is how far to either side a smoothing reaches: half of
	// the width at which the weights of a Gaussian of that cut-off fall to a half.
	smoothingReach = 0.2
	// movingLegS is the speed in leg lengths a second from which the body moves.
	movingLegS = 0.1
)

// ShodFootPx returns the length of the foot with its shoe in pixels, NaN when it
// was not seen or is that of no foot.
func ShodFootPx(m *joints.Motion) float64 {
	if l := m.FootLengthPx; l > 0 && !(m.LegPx > 0 && !body.FootOverLeg.Hold(l/m.LegPx)) {
		return l * (1 + shoeBehindHeel + shoeBeyondToe)
	}
	return math.NaN()
}

// SupportPoint returns where the body's weight acts along the feet. At rest that
// is under the centre of mass; in movement it is the zero-moment point of the
// whole body over its segments i,
//
//	x = sum( m (g + az) x - m ax z - I alpha ) / sum( m (g + az) )
//	  = X - Z AX/(AZ + g) + dH/dt / (M (AZ + g))
//
// x forward, z up from the floor, capitals the centre of mass, H the angular
// momentum about it, counted from forward to up; alpha and H in that sense.
// Source: Vukobratovic & Borovac 2004, planar form (from memory). The second line
// is what is computed.
//
// Second differences of points are rough, so the acceleration is taken at three
// smoothings, and of these the smoothest that does not contradict a sharper one
// within its own noise (after Lepski's rule for choosing a bandwidth, from memory).
//
// The foot's ends are the heel and toe points and what the shoe reaches past them,
// half way between near and far foot where both are seen, as is the body's centre.
// bandPct is what [SupportBand] takes.
func SupportPoint(m *joints.Motion, stand events.Stand, reps []events.RepTimes, view trace.View, model body.MassModel,
	sc Scale, bandPct [2]float64) Support {
	n := len(m.TimeS)
	sp := Support{BandPct: SupportBand(bandPct), Pct: signal.NaNs(n), SDPct: signal.NaNs(n), StaticPct: signal.NaNs(n)}
	floor := onFloor(m.TimeS, reps)
	far := calmFarSide(m, view)
	c := centreOfMass(m, floor, far, model)
	quiet := within(m, stand.Spans)
	var known bool
	if sp.HeelFwdPx, sp.ToeFwdPx, known = footEnds(m, quiet, floor, c.originFwd); !known || !(sc.MmPerPx.Value > 0) {
		return sp
	}
	g := sc.gravityPxS2()
	momentum := angularMomentum(m, &c, far, model)
	var tries []supportTry
	points := signal.Median(c.Path.SDPx)
	moving := make([]bool, n)
	for i := range n {
		moving[i] = math.Hypot(c.VelFwdPxS[i], c.VelUpPxS[i]) > movingLegS*knownLegPx(m)
	}
	for _, try := range supportTries {
		if f, err := signal.NewLowpass(m.RateHz, try.cutoffHz); err == nil && try.cutoffHz <= m.RateHz/5 {
			t := trySupport(&c, m.RateHz, momentum, g, f, quiet)
			if least := try.noise * points; least > t.noise {
				t.noise = least
			}
			t.reach = int(smoothingReach / try.cutoffHz * m.RateHz)
			t.sdPx = roughened(t.noise, t.reach, moving)
			tries = append(tries, t)
		}
	}
	for i := range n {
		foot := sp.ToeFwdPx[i] - sp.HeelFwdPx[i]
		if !floor[i] || !(foot > 0) || math.IsNaN(c.FwdPx[i]) {
			continue
		}
		sp.StaticPct[i] = 100 * (c.FwdPx[i] - sp.HeelFwdPx[i]) / foot
		t := chosenTry(tries, i)
		if t == nil || t.load[i] < leastLoad {
			continue
		}
		pct := 100 * (c.FwdPx[i] + t.shift[i] - sp.HeelFwdPx[i]) / foot
		// Gravity in pixels is as unsure as the scale, and so is what it divides.
		px := math.Sqrt(sq(c.Path.SDPx[i]) + sq(c.TableSDPx[i]) + sq(massWanderLegs*knownLegPx(m)) +
			sq(t.sdPx[i]) + sq(t.shift[i]*sc.MmPerPx.SD/sc.MmPerPx.Value))
		sd := 100 * math.Hypot(px/foot, shoeEndSD/(1+shoeBehindHeel+shoeBeyondToe))
		if !body.SupportPct.Hold(pct) {
			continue // the weight cannot act off the foot: the smoothing is not that of the movement
		}
		if 2*stats.Normal95*sd > sp.BandPct[1]-sp.BandPct[0] {
			continue // it could lie anywhere in the middle of the foot
		}
		sp.Pct[i], sp.SDPct[i] = pct, sd
	}
	sp.forgetLeaps()
	return sp
}

// forgetLeaps leaves out samples between which the weight leaps along the foot, as it does where a smoothing begins to
// be too slow for the movement: it says of neither where the weight is.
func (sp *Support) forgetLeaps() {
	var leaps []int
	for i := 1; i < len(sp.Pct); i++ {
		if math.Abs(sp.Pct[i]-sp.Pct[i-1]) > contradictSDs*math.Hypot(sp.SDPct[i], sp.SDPct[i-1]) {
			leaps = append(leaps, i-1, i)
		}
	}
	for _, i := range leaps {
		sp.Pct[i], sp.SDPct[i] = math.NaN(), math.NaN()
	}
}

// OnFoot is what of an interval of the support point lies on the foot, per cent: the weight cannot act off it. Its ends
// are not known where those of the interval are not.
func OnFoot(interval [2]float64) [2]float64 {
	return [2]float64{math.Max(body.SupportPct.Low, interval[0]), math.Min(body.SupportPct.High, interval[1])}
}

// supportTry is the support point under one smoothing: how far it lies before the
// centre of mass (shift, pixels), the noise of that, and the load on the feet in
// parts of the body's weight. sdPx is the noise of the shift in each sample, reach how
// many samples to either side the smoothing makes use of.
type supportTry struct {
	shift, load, sdPx []float64
	noise             float64
	reach             int
}

func trySupport(c *CentreOfMass, rateHz float64, momentum []float64, g float64, f *signal.Lowpass,
	quiet []bool) supportTry {
	n := len(c.FwdPx)
	ax := acceleratedBy(f.Smooth(c.FwdPx), rateHz)
	az := acceleratedBy(f.Smooth(c.UpPx), rateHz)
	turn := signal.Velocity(f.Smooth(momentum), rateHz)
	t := supportTry{shift: signal.NaNs(n), load: signal.NaNs(n)}
	var still []float64
	for i := range n {
		t.load[i] = 1 + az[i]/g
		w := max(t.load[i], leastLoad) * g
		t.shift[i] = (turn[i] - c.UpPx[i]*ax[i]) / w
		if quiet[i] {
			still = append(still, t.shift[i])
		}
	}
	// Standing still, there is no shift but noise.
	if t.noise = signal.RobustSD(still); math.IsNaN(t.noise) {
		t.noise = signal.RobustSD(t.shift)
	}
	return t
}

// roughened returns the noise of a try in each sample: more where the body moves within
// the reach of its smoothing, be it still for the instant in which it turns.
func roughened(noise float64, reach int, moving []bool) []float64 {
	n := len(moving)
	sd := make([]float64, n)
	for i := range sd {
		sd[i] = noise
		if slices.Contains(moving[max(0, i-reach):min(n, i+reach+1)], true) {
			sd[i] *= movingNoise
		}
	}
	return sd
}

// chosenTry returns the smoothest try that no sharper one contradicts within its reach about
// sample i: where two of them cross, they agree for an instant and are of two minds all the same.
func chosenTry(tries []supportTry, i int) *supportTry {
	for k := range tries {
		t := &tries[k]
		ok := !math.IsNaN(t.shift[i])
		for j := max(0, i-t.reach); ok && j < min(len(t.shift), i+t.reach+1); j++ {
			ok = !contradicted(t, tries[k+1:], j)
		}
		if ok {
			return t
		}
	}
	return nil
}

// contradicted says whether a sharper try contradicts another one in sample i.
func contradicted(t *supportTry, sharper []supportTry, i int) bool {
	return slices.ContainsFunc(sharper, func(s supportTry) bool {
		return math.Abs(s.shift[i]-t.shift[i]) > contradictSDs*math.Hypot(s.sdPx[i], t.sdPx[i])
	})
}

// angularMomentum returns the angular momentum of the body about its centre of mass over its
// mass, from forward to up, pixels squared a second.
func angularMomentum(m *joints.Motion, c *CentreOfMass, far *farSide, model body.MassModel) []float64 {
	n := len(m.TimeS)
	h := make([]float64, n)
	total := model.TotalMass()
	limbs := [2]*[body.NumLandmarks]body.Path{&m.Points[body.Left], &m.Points[body.Right]}
	limbs[m.NearSide.Opposite()] = (*[body.NumLandmarks]body.Path)(far)
	missing := make([]bool, n)
	for _, seg := range model.Segments {
		// Each side carries half: head and trunk lie between the sides' points.
		for _, side := range []body.Side{body.Left, body.Right} {
			w := seg.Mass * seg.Sides() / 2 / total
			fwd, up, angle, length := signal.NaNs(n), signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)
			last := math.NaN()
			for i := range n {
				a := pointOf(&limbs, side, seg.From, i, m.Facing)
				b := pointOf(&limbs, side, seg.To, i, m.Facing)
				if a.Missing() {
					a = b
				}
				if b.Missing() {
					b = a
				}
				d := b.Sub(a)
				at := a.Add(d.Scale(seg.Centre))
				fwd[i], up[i] = at.Fwd-c.originFwd-c.FwdPx[i], at.Up-c.floorUp-c.UpPx[i]
				if length[i] = d.Length(); length[i] > 0 {
					t := math.Atan2(d.Up, d.Fwd)
					for t-last > math.Pi {
						t -= 2 * math.Pi
					}
					for last-t > math.Pi {
						t += 2 * math.Pi
					}
					angle[i], last = t, t
				}
			}
			vf, vu, omega := signal.Velocity(fwd, m.RateHz), signal.Velocity(up, m.RateHz), signal.Velocity(angle, m.RateHz)
			for i := range n {
				if math.IsNaN(fwd[i]) {
					// A part that is not seen turns with nothing; a body that is
					// not seen at all has no centre of mass either.
					missing[i] = missing[i] || math.IsNaN(c.FwdPx[i])
					continue
				}
				h[i] += w * (fwd[i]*vu[i] - up[i]*vf[i])
				if seg.Gyration > 0 && !math.IsNaN(omega[i]) {
					h[i] += w * sq(seg.Gyration*length[i]) * omega[i]
				}
			}
		}
	}
	for i := range h {
		if missing[i] {
			h[i] = math.NaN()
		}
	}
	return h
}

// pointOf returns one point in upright axes; where its side does not show it, the
// other side's.
func pointOf(limbs *[2]*[body.NumLandmarks]body.Path, side body.Side, k body.Landmark, i int,
	facing body.Facing) body.Vec {
	p := &limbs[side][k]
	if math.IsNaN(p.X[i]) || math.IsNaN(p.Y[i]) {
		p = &limbs[side.Opposite()][k]
	}
	return body.Sagittal(p.X[i], p.Y[i], facing)
}

// footEnds returns where the foot on the floor begins and ends, forward of the
// origin, pixels, one value a sample; quiet marks standing, floor a foot on the floor. known is false when no sample
// shows a foot flat on the floor.
func footEnds(m *joints.Motion, quiet, floor []bool, originFwd float64) (heelFwd, toeFwd []float64, known bool) {
	n := len(m.TimeS)
	heelFwd, toeFwd = signal.NaNs(n), signal.NaNs(n)
	near, far := m.NearSide, m.NearSide.Opposite()
	heel, _ := uprightPath(m, near, body.Heel)
	toe, _ := uprightPath(m, near, body.Toe)
	ankle, _ := uprightPath(m, near, body.Ankle)
	farAnkle, _ := uprightPath(m, far, body.Ankle)
	points := m.FootLengthPx
	if !(points > 0) {
		return heelFwd, toeFwd, false
	}
	flat := make([]bool, n)
	between := signal.NaNs(n)
	for i := range n {
		flat[i] = floor[i] && m.HeelRise[i] <= heelDownPart && !math.IsNaN(heel[i]+toe[i])
		known = known || flat[i]
		between[i] = (farAnkle[i] - ankle[i]) / 2
	}
	if !known {
		return heelFwd, toeFwd, false
	}
	reach := int(standsForS * m.RateHz)
	// place returns where the foot stands by the samples from..to-1 that use allows.
	place := func(from, to int, use func(int) bool) (h, t float64) {
		var hs, ts, bs []float64
		for j, step := from, max(1, (to-from)/80); j < to; j += step {
			if use(j) {
				hs, ts, bs = append(hs, heel[j]), append(ts, toe[j]), append(bs, between[j])
			}
		}
		shift := signal.Median(bs)
		if math.IsNaN(shift) || math.Abs(shift) > points {
			shift = 0
		}
		// Less than what a network may misplace a hidden ankle by is no stagger.
		shift = math.Copysign(max(0, math.Abs(shift)-staggerLegs/2*knownLegPx(m)), shift)
		return signal.Median(hs) + shift - shoeBehindHeel*points - originFwd,
			signal.Median(ts) + shift + shoeBeyondToe*points - originFwd
	}
	for _, r := range signal.Runs(n, func(i int) bool { return floor[i] }) {
		// The network's foot slides along a little as the leg folds over it. Where the
		// athlete stands in the same place, that says better where the foot is.
		standHeel, standToe := place(r.From, r.To, func(j int) bool { return flat[j] && quiet[j] })
		var h, t float64
		for i := r.From; i < r.To; i++ {
			if i == r.From || i%4 == 0 {
				if h, t = place(max(r.From, i-reach), min(r.To, i+reach+1), func(j int) bool { return flat[j] }); math.IsNaN(h) {
					h, t = place(r.From, r.To, func(j int) bool { return flat[j] })
				}
			}
			heelFwd[i], toeFwd[i] = h, t
			if math.Abs(standHeel-h) < stepLegs*knownLegPx(m) {
				heelFwd[i], toeFwd[i] = standHeel, standToe
			}
		}
	}
	return heelFwd, toeFwd, true
}

// SupportSpan is the support point over a stretch of time, in per cent of the foot's
// length.
type SupportSpan struct {
	Phase  events.PhaseName `json:"phase"` // of the rep; WholeRep for all of it but the flight
	StartS float64          `json:"start_s"`
	EndS   float64          `json:"end_s"`
	// MeanPct is the mean with its standard deviation, most of which is the same
	// in every span of the athlete; MinPct and MaxPct are the ends of the range that
	// the support point stays in for nine tenths of the time.
	MeanPct stats.Estimate `json:"mean_pct"`
	MinPct  float64        `json:"min_pct"`
	MaxPct  float64        `json:"max_pct"`
	// OutsideS is the time in seconds outside the middle of the foot, BehindS and BeforeS
	// its parts toward the heel and toward the toes; KnownPart is how much of the span the
	// support point is known in, 0 to 1.
	OutsideS  float64 `json:"outside_s"`
	BehindS   float64 `json:"behind_s"`
	BeforeS   float64 `json:"before_s"`
	KnownPart float64 `json:"known_part"`
}

// Over returns the support point's mean, range and time outside the band in a span.
func (sp *Support) Over(m *joints.Motion, span trace.Span) SupportSpan {
	out := SupportSpan{StartS: span.FromS, EndS: span.ToS, MeanPct: stats.Unknown(),
		MinPct: math.NaN(), MaxPct: math.NaN()}
	var sum, sds float64
	var seen []float64
	n, all := 0.0, 0.0
	for i, t := range m.TimeS {
		if !span.Contains(t) {
			continue
		}
		all++
		v := sp.Pct[i]
		if math.IsNaN(v) {
			continue
		}
		n++
		sum, sds, seen = sum+v, sds+sp.SDPct[i], append(seen, v)
		switch {
		case v < sp.BandPct[0]:
			out.BehindS += 1 / m.RateHz
		case v > sp.BandPct[1]:
			out.BeforeS += 1 / m.RateHz
		}
	}
	if n > 0 {
		out.MinPct, out.MaxPct = signal.Quantile(seen, 0.05), signal.Quantile(seen, 0.95)
		out.OutsideS = out.BehindS + out.BeforeS
		out.MeanPct = stats.Estimate{Value: sum / n, SD: sds / n}
		out.KnownPart = n / all
	}
	return out
}

// SupportOf returns the support point of a rep: all of it first, then phase by phase.
func SupportOf(m *joints.Motion, r *events.RepTimes, sp *Support) []SupportSpan {
	over := func(name events.PhaseName, span trace.Span) SupportSpan {
		out := sp.Over(m, span)
		out.Phase = name
		return out
	}
	out := []SupportSpan{over(events.WholeRep, trace.Span{FromS: r.StartS, ToS: r.EndS})}
	for _, p := range r.Phases {
		if p.Name != events.PhaseFlight {
			out = append(out, over(p.Name, p.Span()))
		}
	}
	return out
}
