package kinematics

import (
	"holdfast/kinematics/signal"
	"math"
)

// smooth finishes the series: smooths every point at one cut-off for the whole
// clip, fit for its fastest rep, and takes the angles from the smoothed points. floor
// is where the coach drew it, or nil.
func (m *motion) smooth(hardest Tempo, floor *Floor) {
	s, n := m.s, len(m.timeS)
	near := &m.raw[s.NearSide]
	s.CutoffHz = chooseCutoff([][]float64{
		near[Hip].Y, near[Hip].X, near[Knee].X, near[Knee].Y, near[Ankle].X, near[Ankle].Y, near[Shoulder].X, near[Shoulder].Y,
	}, m.rateHz, hardest)
	f, err := signal.NewLowpass(m.rateHz, s.CutoffHz)
	if err != nil {
		f = nil // too slow a clip to smooth
	}
	shape := newNoiseShape(m.rateHz, s.CutoffHz, s.Calibration.ErrorTimeS)
	m.bank = newNoiseBank(m.rateHz, s.Calibration.ErrorTimeS, f)
	var white, wander [NumLandmarks]float64 // left after smoothing, pixels
	for side := range 2 {
		for k := range NumLandmarks {
			raw := m.raw[side][k]
			p := m.held(m.filtered(raw, s.CutoffHz), raw, m.byHand.at[side][k])
			noise := m.noiseOf(raw, &shape, f)
			w, v := shape.keptWhite*noise.whitePx, shape.keptWander*noise.wanderPx
			if Side(side) == s.NearSide {
				white[k], wander[k] = w, v
			}
			p.SDPx = constantWhere(p.X, math.Sqrt(w*w+v*v+sq(s.Calibration.WanderLegs*m.legPx)))
			s.Points[side][k] = p
		}
	}
	s.HipHeight = m.hipHeight(&s.Points)

	smoothed := &s.Points[s.NearSide]
	var plain [NumAngles][]float64
	for a := range NumAngles {
		s.RawAnglesDeg[a], plain[a], s.SDDeg[a] = signal.NaNs(n), signal.NaNs(n), signal.NaNs(n)
		m.noise[a] = angleNoise{signal.NaNs(n), signal.NaNs(n)}
	}
	for i := range n {
		raw, fine := limbOf(m.network, i), limbOf(smoothed, i)
		ra, fa, sd := AnglesOf(&raw, s.Facing), AnglesOf(&fine, s.Facing), AngleSDs(&fine, s.Facing)
		w, v := fine.withSDs(&white), fine.withSDs(&wander)
		sw, sv := AngleSDs(&w, s.Facing), AngleSDs(&v, s.Facing)
		for a := range NumAngles {
			s.RawAnglesDeg[a][i], plain[a][i], s.SDDeg[a][i] = ra[a], fa[a], sd[a]
			m.noise[a].whiteDeg[i], m.noise[a].wanderDeg[i] = sw[a], sv[a]
		}
	}
	m.hipNoise = math.Hypot(white[Hip], wander[Hip]) / m.legPx
	var foot footMotion
	if m.smoother == SmootherBody {
		foot, m.fitted = m.fitBody(&plain)
	}
	for a := range NumAngles {
		s.Stand.OffsetDeg[a] = signal.MedianWhere(plain[a], m.standing)
	}

	if !m.fitted {
		foot = footPitch(footInput{
			heel: smoothed[Heel], ankle: smoothed[Ankle], toe: smoothed[Toe],
			shankDeg: plain[ShankAngle], facing: s.Facing, legPx: m.legPx,
			standing: m.standing, airborne: m.airborne, network: &s.Calibration,
		})
	}
	m.judgeByFloor(floor, &foot)
	length := make([]float64, n)
	for i := range n {
		length[i] = dist(&smoothed[Heel], &smoothed[Toe], i)
	}
	s.Stand.FootLengthPx = signal.Median(length)
	s.HeelRise = foot.heelRise

	offset := s.Stand.OffsetDeg
	if !s.Stand.Found {
		offset = [NumAngles]float64{}
	}
	offset[ThighAngle] = 0
	for a := range NumAngles {
		s.AnglesDeg[a] = make([]float64, n)
		for i := range n {
			s.AnglesDeg[a][i] = plain[a][i] - offset[a]
		}
	}
	for i := range n {
		s.AnglesDeg[FootPitch][i] = foot.pitchDeg[i]
		s.AnglesDeg[AnkleDorsiflexion][i] = s.AnglesDeg[ShankAngle][i] + foot.pitchDeg[i]
		s.SDDeg[FootPitch][i] = foot.sdDeg[i]
		s.SDDeg[AnkleDorsiflexion][i] = math.Hypot(s.SDDeg[ShankAngle][i], foot.sdDeg[i])
		m.footNoise(i, white[Heel], wander[Heel])
	}
	for a := range NumAngles {
		s.VelocityDegS[a] = signal.Velocity(s.AnglesDeg[a], m.rateHz)
	}
}

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
func (m *motion) heelMarginS() float64 { return 0.25 / m.s.CutoffHz }

// heelUpFoot: the heel counts as up in a push or a landing from this rise on, as
// a part of the foot's length.
const heelUpFoot = 0.05

// loadedSpans returns the parts of a rep over which angles are measured: without
// the flight, and without the push and the landing while the heel is up, because
// a pointed foot in the air says nothing of the ankle's range.
func (m *motion) loadedSpans(r *Rep) []Span {
	if !r.HasFlight() {
		return []Span{{r.StartS, r.EndS}}
	}
	off, on := m.index(r.TakeoffS), m.index(r.ContactS)
	from, to := m.index(r.BottomEndS), m.index(r.LandingBottomS)
	for off > from && !(m.s.HeelRise[off] < heelUpFoot && !m.airborne[off]) {
		off--
	}
	for on < to && !(m.s.HeelRise[on] < heelUpFoot && !m.airborne[on]) {
		on++
	}
	var out []Span
	if end := max(r.BottomEndS, m.timeS[off]-m.heelMarginS()); end >= r.StartS {
		out = append(out, Span{r.StartS, end})
	}
	if start := min(r.LandingBottomS, m.timeS[on]+m.heelMarginS()); start <= r.EndS {
		out = append(out, Span{start, r.EndS})
	}
	return out
}

// bottomWindowS: a reading at the bottom is the median over this time about it,
// as far as the body dwells.
const bottomWindowS = 0.1

// measure fills in the loaded spans and the angles of a rep. The smallest angle
// is taken over the loaded spans and over the standing beside the bout: a rep
// that begins and ends in a held position has no stand of its own, and its range
// is still how far from standing the position goes, comparable with reps that
// have one.
func (m *motion) measure(d *repDraft) {
	s, r := m.s, &d.Rep
	r.Loaded = m.loadedSpans(r)
	near := func(x []float64, atS float64, from, to float64) float64 {
		if math.IsNaN(atS) {
			return math.NaN()
		}
		i0 := m.index(max(from, atS-bottomWindowS/2))
		i1 := m.index(min(to, atS+bottomWindowS/2))
		i0, i1 = min(i0, m.index(atS)), max(i1, m.index(atS))
		return signal.Median(x[i0 : i1+1])
	}
	half := 1 / m.rateHz
	for a := range NumAngles {
		x := s.AnglesDeg[a]
		am := AngleMeasure{MinDeg: math.Inf(1), MaxDeg: math.Inf(-1), SDDeg: math.NaN()}
		for _, sp := range r.Loaded {
			for i := m.index(sp.FromS); i <= m.index(sp.ToS); i++ {
				if x[i] > am.MaxDeg {
					am.MaxDeg = x[i]
				}
				if x[i] < am.MinDeg {
					am.MinDeg = x[i]
				}
			}
		}
		var stand []float64
		for _, sp := range d.stand {
			for i := m.index(sp.FromS); i <= m.index(sp.ToS); i++ {
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
		am.ROMDeg = am.MaxDeg - am.MinDeg
		am.AtBottomDeg = near(x, r.BottomS, r.BottomS-half, max(r.BottomEndS, r.BottomS+half))
		am.AtLandingBottomDeg = math.NaN()
		if r.HasFlight() {
			am.AtLandingBottomDeg = near(x, r.LandingBottomS, r.LandingBottomS-half, r.LandingBottomS+bottomWindowS)
		}
		landsS := r.ContactS
		if n := len(r.Loaded); (a == AnkleDorsiflexion || a == FootPitch) && r.HasFlight() && n > 0 {
			// The foot coming down flat is no dorsiflexion under load.
			landsS = r.Loaded[n-1].FromS
		}
		am.PeakVelocityDegS = m.peakVelocity(s.VelocityDegS[a], r, landsS)
		r.Angles[a] = am
		m.uncertain(d, a)
	}
	r.TimeSDS = m.timeSDs(r)
}

// peakVelocity returns the largest rate of flexion in the descent and in the
// landing (from landsS on), degrees a second, NaN when neither was seen.
func (m *motion) peakVelocity(v []float64, r *Rep, landsS float64) float64 {
	best := math.NaN()
	scan := func(fromS, toS float64) {
		if math.IsNaN(fromS) || math.IsNaN(toS) || toS <= fromS {
			return
		}
		for i := m.index(fromS); i <= m.index(toS); i++ {
			if !(v[i] <= best) && !math.IsNaN(v[i]) {
				best = v[i]
			}
		}
	}
	scan(r.StartS, r.BottomS)
	scan(landsS, r.LandingBottomS)
	return best
}
