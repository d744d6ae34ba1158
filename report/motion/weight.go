package motion

import (
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/stats"
	"holdfast/report/said"
	"holdfast/vision/plane"
)

// lastSupportS is how long the last known support point is remembered.
const lastSupportS = 0.5

// jumpShownS is how long after a jump its height is said, at most.
const jumpShownS = 2.5

// Support reads the support point at a time in per cent of the foot, heel 0, and
// its standard deviation; NaN where it is not known.
func (m *Motion) Support(timeS float64) (pct, sdPct float64) {
	if m.Missing(timeS) || m.Airborne(timeS) {
		return math.NaN(), math.NaN()
	}
	return m.Value(m.Analysis.Series.SupportPct, timeS), m.Value(m.Analysis.Series.SupportSDPct, timeS)
}

// LastSupport returns the last known support point before a time, NaN when that was
// long ago.
func (m *Motion) LastSupport(timeS float64) float64 {
	i, _, _, ok := m.Sample(timeS)
	if !ok {
		return math.NaN()
	}
	for s := m.Analysis.Series.SupportPct; i >= 0 && timeS-m.TimesS[i] <= lastSupportS && !m.Airborne(m.TimesS[i]); i-- {
		if i < len(s) && !math.IsNaN(s[i]) {
			return s[i]
		}
	}
	return math.NaN()
}

// Airborne says whether a time lies in a flight.
func (m *Motion) Airborne(timeS float64) bool {
	for i := range m.Analysis.Reps {
		if r := &m.Analysis.Reps[i]; r.FlightS > 0 && timeS > r.TakeoffS && timeS < r.ContactS {
			return true
		}
	}
	return false
}

// Jumped returns the rep whose flight a time lies in or after; nil when that is long
// ago or another rep has begun its own.
func (m *Motion) Jumped(timeS float64) *kinematics.Rep {
	var last *kinematics.Rep
	for i := range m.Analysis.Reps {
		if r := &m.Analysis.Reps[i]; r.FlightS > 0 && timeS >= r.TakeoffS {
			last = r
		}
	}
	if last != nil && !(timeS-last.ContactS <= jumpShownS) {
		return nil
	}
	return last
}

// JumpHeight returns a jump's height in metres: how far the body rises after
// take-off, or where that is not known what follows from the time in the air.
func JumpHeight(j *measure.Jump) (m float64, iv [2]float64, how string) {
	if math.IsNaN(j.RiseM) {
		return j.HeightFromFlightM, j.HeightFromFlightInterval95M, "flight"
	}
	return j.RiseM, j.RiseInterval95M, "rise"
}

// JumpWords says in and after a flight how high it was.
func (m *Motion) JumpWords(timeS float64) string {
	r := m.Jumped(timeS)
	if r == nil || r.Jump == nil {
		return ""
	}
	h, iv, how := JumpHeight(r.Jump)
	if math.IsNaN(h) {
		return ""
	}
	height := said.Whole(100*h) + " cm"
	if said.KnownInterval(iv) {
		height += " (" + said.Interval(100*iv[0], 100*iv[1]) + ")"
	}
	return said.Say("strip_jump", "form", how, "height", height)
}

// JumpsOrRises says whether any rep has a flight or a heel that comes up.
func (m *Motion) JumpsOrRises() bool {
	return slices.ContainsFunc(m.Analysis.Reps, func(r kinematics.Rep) bool {
		return r.FlightS > 0 || r.Foot != nil && r.Foot.Heel.Up
	})
}

// HeelUp returns how far the heel is up at a time, in per cent of the foot as the
// rep's measure counts it, and the rep; NaN unless it is clearly up.
func (m *Motion) HeelUp(timeS float64) (pct float64, of *measure.FootRise) {
	r := m.Rep(timeS)
	if r == nil || r.Foot == nil || m.Missing(timeS) || m.Airborne(timeS) {
		return math.NaN(), nil
	}
	h := &r.Foot.Heel
	for _, s := range h.Spans {
		if h.Up && timeS >= s.FromS && timeS <= s.ToS {
			now := m.Value(m.Analysis.Series.HeelRisePctFoot, timeS)
			most := m.Value(m.Analysis.Series.HeelRisePctFoot, h.AtS)
			// The series counts in distances of heel point and toe point, the measure in
			// lengths of the foot.
			return now * h.MaxPctFoot.Value / most, h
		}
	}
	return math.NaN(), nil
}

// HeelWords says how far the heel is up when it clearly is, in centimetres where the
// scale is known.
func (m *Motion) HeelWords(timeS float64) string {
	pct, of := m.HeelUp(timeS)
	if !(pct > 0) {
		return ""
	}
	if cm := of.CmAt(pct); !math.IsNaN(cm.Value) {
		return riseWords(cm, 1, " cm")
	}
	return riseWords(stats.Estimate{Value: pct, SD: of.MaxPctFoot.SD}, 0, said.Say("pct_of_foot"))
}

func riseWords(e stats.Estimate, decimals int, unit string) string {
	up := said.Decimal(e.Value, decimals) + unit
	if iv := e.Interval95(); said.KnownInterval(iv) {
		up += " (" + said.Ends(said.Decimal(math.Max(0, iv[0]), decimals), said.Decimal(iv[1], decimals)) + ")"
	}
	return said.Say("strip_heel", "up", up)
}

// FootLengthPx returns the distance from heel point to toe point in the middle of
// the samples, pixels of the clip; NaN when they are not known.
func (m *Motion) FootLengthPx() float64 {
	if m.footPx == 0 {
		heel, toe := m.Analysis.Series.PointsPx["heel"], m.Analysis.Series.PointsPx["toe"]
		var ds []float64
		for i := range min(len(heel.X), len(heel.Y), len(toe.X), len(toe.Y)) {
			if d := math.Hypot(toe.X[i]-heel.X[i], toe.Y[i]-heel.Y[i]); d > 0 {
				ds = append(ds, d)
			}
		}
		m.footPx = median(ds)
	}
	return m.footPx
}

// median returns the middle of values; NaN when there is none.
func median(vs []float64) float64 {
	if len(vs) == 0 {
		return math.NaN()
	}
	slices.Sort(vs)
	return vs[len(vs)/2]
}

// MassSeen reads where the centre of mass was at a time, in the picture of another
// moment; NaN where it is not known.
func (m *Motion) MassSeen(timeS, pictureS float64) plane.XY {
	if m.Missing(timeS) {
		return plane.XY{X: math.NaN(), Y: math.NaN()}
	}
	p := m.Analysis.Series.MassCentrePx
	return m.camera(pictureS).Inverse().Apply(plane.XY{X: m.Value(p.X, timeS), Y: m.Value(p.Y, timeS)})
}
