package measure

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
)

// Answer is yes, no or unclear.
type Answer string

// The answers.
const (
	Yes      Answer = "yes"
	No       Answer = "no"
	NotClear Answer = "unclear"
)

// FootRise is how far one end of the foot came off the floor while the foot carried the
// body, against its own place in a flat foot.
type FootRise struct {
	// MaxPctFoot is the largest rise in per cent of the foot's length, MaxCm in
	// centimetres (not known without a scale), AtS the clip time of it.
	MaxPctFoot stats.Estimate `json:"max_pct_foot"`
	MaxCm      stats.Estimate `json:"max_cm"`
	AtS        float64        `json:"at_s"`
	// Up says whether that is more than noise could make. Spans are the times for
	// which the end was up, UpS their sum in seconds.
	Up    bool         `json:"up"`
	UpS   float64      `json:"up_s"`
	Spans []trace.Span `json:"spans"`
}

// CmAt returns how far the end of the foot is up in centimetres where it is up by pct per
// cent of the foot's length; not known without a scale. The error of every reading is the same for all, that of the
// scale and of what is guessed grows with the rise.
func (f *FootRise) CmAt(pct float64) stats.Estimate {
	largest := f.MaxPctFoot.Value
	if !(largest > 0) {
		return stats.Unknown()
	}
	cmPerPct := f.MaxCm.Value / largest
	sd, reading := f.MaxCm.SD, 100*riseSDPart*cmPerPct
	grows := max(0, sd*sd-reading*reading) * (pct / largest) * (pct / largest)
	return stats.Estimate{Value: pct * cmPerPct, SD: math.Sqrt(reading*reading + grows)}
}

// Foot is what the near foot and the leg over it did in one rep, the flight left out.
type Foot struct {
	// Heel is the rise of the heel, without the push to a take-off and the landing
	// on the toes; Toe that of the toes with the heel down.
	Heel FootRise `json:"heel"`
	Toe  FootRise `json:"toe"`
	// SlidePctFoot is how far the foot moved along the floor from where it stood
	// first, the largest way, in per cent of its length; SlideCm in centimetres.
	// Between take-off and contact it may move.
	SlidePctFoot stats.Estimate `json:"slide_pct_foot"`
	SlideCm      stats.Estimate `json:"slide_cm"`
	// KneePastToePctFoot is how far the knee lay before the tip of the foot at the
	// bottom, in per cent of the foot's length, negative behind it; KneePastToeCm in
	// centimetres. It is a fact of build and depth and no fault.
	KneePastToePctFoot stats.Estimate `json:"knee_past_toe_pct_foot"`
	KneePastToeCm      stats.Estimate `json:"knee_past_toe_cm"`
	// ShankAtBottomDeg is the lean of the shank at the bottom: the ankle's angle
	// under load while the heel is down. ThighAtBottomDeg is the thigh against the
	// horizontal, 0 level, positive when the hip is below the knee.
	ShankAtBottomDeg stats.Estimate `json:"shank_at_bottom_deg"`
	ThighAtBottomDeg stats.Estimate `json:"thigh_at_bottom_deg"`
	// HipCreaseBelowKnee says whether the crease of the hip went below the top of
	// the knee.
	HipCreaseBelowKnee Answer `json:"hip_crease_below_knee"`
}

// Bounds for the foot; common practice, no source.
const (
	// heelRisePart is the least rise that counts, as a part of the foot's length: 2
	// cm on a foot of 0.28 m; three standard deviations of it where that is more.
	heelRisePart = 0.07
	// riseHoldS is how long an end must be up to count.
	riseHoldS = 0.1
	// creaseOverHipLegs and topOverKneeLegs are how high the crease of a bent hip
	// lies over the hip's centre and the top of a bent knee over the knee's, in leg
	// lengths; creaseSDLegs is how much that differs between people.
	creaseOverHipLegs, topOverKneeLegs, creaseSDLegs = 0.03, 0.06, 0.02
)

// FeetOnFloor returns one entry for each rep.
func FeetOnFloor(m *joints.Motion, stand events.Stand, reps []events.RepTimes, measured []joints.Measures, sc Scale,
	network *body.Calibration) []Foot {
	if len(m.TimeS) == 0 {
		return nil
	}
	floor := onFloor(m.TimeS, reps)
	ankle, _ := uprightPath(m, m.NearSide, body.Ankle)
	origin := signal.MedianWhere(ankle, floor)
	heelFwd, toeFwd, _ := footEnds(m, within(m, stand.Spans), floor, origin)
	foot := ShodFootPx(m)
	toeUp := toeRise(m, floor, network.FootSinkLegsPerDeg*knownLegPx(m))
	knee, kneeUp := uprightPath(m, m.NearSide, body.Knee)
	_, hipUp := uprightPath(m, m.NearSide, body.Hip)
	out := make([]Foot, 0, len(reps))
	for i := range reps {
		r := &reps[i]
		f := Foot{
			HipCreaseBelowKnee: NotClear,
			SlidePctFoot:       stats.Unknown(), SlideCm: stats.Unknown(),
			KneePastToePctFoot: stats.Unknown(), KneePastToeCm: stats.Unknown(),
			ShankAtBottomDeg: bottomAngle(m, r, &measured[i], body.ShankAngle),
			ThighAtBottomDeg: bottomAngle(m, r, &measured[i], body.ThighAngle),
		}
		loaded := func(t float64) bool {
			for _, sp := range measured[i].Loaded {
				if sp.Contains(t) {
					return true
				}
			}
			return false
		}
		part := m.FootLengthPx / foot // heel rise is counted in point lengths
		f.Heel = riseIn(m, sc, r, foot, func(i int) float64 {
			if !loaded(m.TimeS[i]) {
				return math.NaN()
			}
			return m.HeelRise[i] * part
		})
		f.Heel.guess(m, sc, foot)
		f.Toe = riseIn(m, sc, r, foot, func(i int) float64 {
			if !loaded(m.TimeS[i]) || m.HeelRise[i] > heelDownPart {
				return math.NaN()
			}
			return toeUp[i]
		})
		if slide, sd, ok := slideOf(m, r); ok && body.FootWayPct.Hold(100*slide/foot) {
			f.SlidePctFoot = stats.Estimate{Value: 100 * slide / foot, SD: 100 * sd / foot}
			f.SlideCm = sc.centimetres(slide, sd)
		}
		b := m.Index(r.BottomS)
		if past := knee[b] - origin - toeFwd[b]; body.FootWayPct.Hold(100*past/foot) && heelFwd[b] < toeFwd[b] {
			sd := math.Hypot(shoeEndSD*m.FootLengthPx, m.Points[m.NearSide][body.Knee].SDPx[b])
			f.KneePastToePctFoot = stats.Estimate{Value: 100 * past / foot, SD: 100 * sd / foot}
			f.KneePastToeCm = sc.centimetres(past, sd)
		}
		leg := knownLegPx(m)
		below := kneeUp[b] + topOverKneeLegs*leg - hipUp[b] - creaseOverHipLegs*leg
		near := &m.Points[m.NearSide]
		sd := math.Hypot(creaseSDLegs*leg, math.Hypot(near[body.Knee].SDPx[b], near[body.Hip].SDPx[b]))
		switch {
		case below > stats.Normal95*sd:
			f.HipCreaseBelowKnee = Yes
		case below < -stats.Normal95*sd:
			f.HipCreaseBelowKnee = No
		}
		out = append(out, f)
	}
	return out
}

// bottomAngle returns an angle at the bottom of a rep with its spread.
func bottomAngle(m *joints.Motion, r *events.RepTimes, measured *joints.Measures, a body.Angle) stats.Estimate {
	sd := measured.Angles[a].SDDeg
	if !(sd > 0) {
		sd = m.SDDeg[a][m.Index(r.BottomS)]
	}
	return stats.Estimate{Value: measured.Angles[a].AtBottomDeg, SD: sd}
}

// riseIn sums up a rise, given in parts of the foot's length, over a rep.
func riseIn(m *joints.Motion, sc Scale, r *events.RepTimes, footPx float64, rise func(i int) float64) FootRise {
	out := FootRise{MaxPctFoot: stats.Unknown(), MaxCm: stats.Unknown(), AtS: math.NaN(), Spans: []trace.Span{}}
	from, to := m.Index(r.StartS), m.Index(r.EndS)
	bound := max(heelRisePart, 3*riseSDPart)
	best := math.NaN()
	for i := from; i <= to && i < len(m.TimeS); i++ {
		if v := rise(i); !math.IsNaN(v) && !(v <= best) {
			best, out.AtS = v, m.TimeS[i]
		}
	}
	if math.IsNaN(best) || !(footPx > 0) {
		return out
	}
	if best = body.FootRisePct.Believed(100*best) / 100; math.IsNaN(best) {
		out.AtS = best
		return out
	}
	out.MaxPctFoot = stats.Estimate{Value: 100 * best, SD: 100 * riseSDPart}
	out.MaxCm = sc.centimetres(best*footPx, riseSDPart*footPx)
	for _, run := range signal.Runs(to+1-from, func(k int) bool { return rise(from+k) > bound }) {
		if d := float64(run.N()) / m.RateHz; d >= riseHoldS {
			out.Spans = append(out.Spans, trace.Span{FromS: m.TimeS[from+run.From], ToS: m.TimeS[from+run.To-1]})
			out.UpS += d
			out.Up = true
		}
	}
	return out
}

// guess widens the rise of a heel by what its points alone do not tell, see [HeelGuessPct].
func (f *FootRise) guess(m *joints.Motion, sc Scale, footPx float64) {
	more := HeelGuessPct(m, f.AtS, f.MaxPctFoot.Value)
	if !(more > 0) {
		return
	}
	f.MaxPctFoot.SD = math.Hypot(f.MaxPctFoot.SD, more)
	f.MaxCm = sc.centimetres(f.MaxPctFoot.Value/100*footPx, f.MaxPctFoot.SD/100*footPx)
}

// HeelGuessPct returns the standard deviation that a heel's rise of pct per cent of the foot has, beside that of every
// reading, because nothing but the points told the foot's pitch at a time; 0 where the shoe's own picture did.
func HeelGuessPct(m *joints.Motion, atS, pct float64) float64 {
	if !(pct > 0) {
		return 0
	}
	for i := m.Index(atS - guessedS); i <= m.Index(atS+guessedS); i++ {
		if m.MeasuredPitch.KnownAt(i) {
			return 0
		}
	}
	return guessedRisePart * pct
}

// toeRise returns how high the near toe lies over its flat place, in parts of the
// foot's length. A flat one sinks by mostSinkPx for each degree of the shank at most.
func toeRise(m *joints.Motion, floor []bool, mostSinkPx float64) []float64 {
	_, up := uprightPath(m, m.NearSide, body.Toe)
	shank := m.AnglesDeg[body.ShankAngle]
	flat := make([]bool, len(up))
	for i := range up {
		flat[i] = floor[i] && !math.IsNaN(up[i]+shank[i])
	}
	l := joints.FlatLevel(up, shank, flat, mostSinkPx)
	out := signal.NaNs(len(up))
	for i := range up {
		if flat[i] {
			out[i] = (up[i] - l.At(shank[i])) / ShodFootPx(m)
		}
	}
	return out
}

// slideOf returns the largest way of the foot along the floor within one stance of
// the rep, pixels. The points of a foot that stands still slide a little as the leg
// folds over it; that is in sd.
func slideOf(m *joints.Motion, r *events.RepTimes) (px, sd float64, ok bool) {
	spans := []trace.Span{{FromS: r.StartS, ToS: r.EndS}}
	if r.HasFlight() {
		spans = []trace.Span{{FromS: r.StartS, ToS: r.TakeoffS - stepWindowS}, {FromS: r.ContactS + stepWindowS, ToS: r.EndS}}
	}
	for _, sp := range spans {
		first := footAt(m, m.NearSide, sp.FromS, sp.FromS+stepWindowS)
		for t := sp.FromS; t+stepWindowS <= sp.ToS; t += stepWindowS / 2 {
			if d := math.Abs(footAt(m, m.NearSide, t, t+stepWindowS) - first); d >= px {
				px, ok = d, true
			}
		}
	}
	return px, slideSDLegs * knownLegPx(m), ok
}

// ForgetSlide takes out how far the foot slid, of one that did not stay on one floor.
func (f *Foot) ForgetSlide() { f.SlidePctFoot, f.SlideCm = stats.Unknown(), stats.Unknown() }

// ForgetRises takes out how far the heel and the toes come up.
func (f *Foot) ForgetRises() {
	unknown := stats.Unknown()
	f.Heel = FootRise{MaxPctFoot: unknown, MaxCm: unknown, AtS: math.NaN(), Spans: f.Heel.Spans[:0]}
	f.Toe = FootRise{MaxPctFoot: unknown, MaxCm: unknown, AtS: math.NaN(), Spans: f.Toe.Spans[:0]}
}
