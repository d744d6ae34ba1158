package measure

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
)

// Landing is what a rep shows from first contact on.
type Landing struct {
	// ContactToBottomS is the time in seconds between first contact and landing bottom.
	ContactToBottomS stats.Estimate `json:"contact_to_bottom_s"`
	// AtContactDeg are the angles at first contact, with the spread that comes from
	// the points and from not knowing the moment better; AtBottomDeg those at the
	// landing bottom.
	AtContactDeg body.ByAngle[stats.Estimate] `json:"at_contact_deg"`
	AtBottomDeg  body.ByAngle[stats.Estimate] `json:"at_bottom_deg"`
	// PeakVelocityDegS is the fastest flexion between contact and bottom, degrees a
	// second.
	PeakVelocityDegS body.ByJoint[float64] `json:"peak_velocity_deg_s"`
	// SettleS is the kinematic settle time in seconds from first contact: until the
	// hip moves slower than 0.1 m/s (0.12 leg lengths a second without a scale) and
	// the knee turns slower than 20 degrees a second, and stays so for half a
	// second. NaN when that does not come before the rep ends.
	SettleS float64 `json:"settle_s"`
	// Steps counts how often a foot was put down elsewhere after the landing, Hops
	// how often both left it again before the rep ended.
	Steps int `json:"steps"`
	Hops  int `json:"hops"`
	// ForwardDriftPctFoot is how far forward the feet landed of where they took
	// off, in per cent of the foot's length; ForwardDriftCm the same in centimetres,
	// unknown without a scale.
	ForwardDriftPctFoot stats.Estimate `json:"forward_drift_pct_foot"`
	ForwardDriftCm      stats.Estimate `json:"forward_drift_cm"`
	// ToStandS is the time in seconds from first contact to standing again, NaN
	// when the rep does not end in a stand.
	ToStandS float64 `json:"to_stand_s"`
}

// What tells a settled landing and a step; common practice, no source.
const (
	settleSpeedMS   = 0.1
	settleSpeedLegS = 0.12
	settleKneeDegS  = 20.0
	settleForS      = 0.5
	stepWindowS     = 0.15 // to either side of a moment, for where the foot stands
	stepAfterS      = 0.2  // a slide of the impact itself is no step
	standsAgainLegs = 0.06 // hips this far under the stand still stand
	driftSDLegs     = 0.01 // of where a foot stands
)

// Landings returns one entry for each rep, nil without a flight that has a landing.
func Landings(m *joints.Motion, stand events.Stand, reps []events.RepTimes, measured []joints.Measures, sc Scale,
	network *body.Calibration) []*Landing {
	out := make([]*Landing, len(reps))
	for i := range reps {
		r := &reps[i]
		if !r.HasFlight() || math.IsNaN(r.LandingBottomS) || len(m.TimeS) == 0 {
			continue
		}
		out[i] = landingOf(m, stand, reps, i, &measured[i], sc, network)
	}
	return out
}

func landingOf(m *joints.Motion, stand events.Stand, reps []events.RepTimes, k int, measured *joints.Measures, sc Scale,
	network *body.Calibration) *Landing {
	r := &reps[k]
	l := &Landing{
		ContactToBottomS: stats.Estimate{Value: r.LandingBottomS - r.ContactS,
			SD: math.Hypot(r.TimeSDS.ContactS, landingBottomSDS(m, r, network.WanderFloorLegs))},
		ForwardDriftPctFoot: stats.Unknown(), ForwardDriftCm: stats.Unknown(), SettleS: math.NaN(), ToStandS: math.NaN(),
	}
	i0, i1 := m.Index(r.ContactS), m.Index(r.LandingBottomS)
	end := m.Index(r.EndS)
	for a := range body.NumAngles {
		x, v := m.AnglesDeg[a], m.VelocityDegS[a]
		at := signal.ValueAt(x, m.TimeS, m.RateHz, r.ContactS)
		l.AtContactDeg[a] = stats.Estimate{Value: at, SD: math.Hypot(m.SDDeg[a][i0], math.Abs(v[i0])*r.TimeSDS.ContactS)}
		sd := measured.Angles[a].SDDeg
		if !(sd > 0) {
			sd = m.SDDeg[a][i1]
		}
		l.AtBottomDeg[a] = stats.Estimate{Value: measured.Angles[a].AtLandingBottomDeg, SD: sd}
	}
	for j := range body.NumJoints {
		l.PeakVelocityDegS[j] = math.NaN()
		v := m.VelocityDegS[j.Angle()]
		for i := i0; i <= i1; i++ {
			if !math.IsNaN(v[i]) && !(v[i] <= l.PeakVelocityDegS[j]) {
				l.PeakVelocityDegS[j] = v[i]
			}
		}
	}

	if t := settledFrom(m, sc, i0, end); !math.IsNaN(t) {
		l.SettleS = t - r.ContactS
	}
	goesOn := k+1 < len(reps) && reps[k+1].HasFlight() && reps[k+1].StartS <= r.EndS+1/m.RateHz
	if end < len(m.HipHeight) && m.HipHeight[end] > stand.HipHeight-standsAgainLegs && !goesOn {
		l.ToStandS = r.EndS - r.ContactS
	}
	until := r.EndS
	if k+1 < len(reps) && reps[k+1].HasFlight() {
		until = min(until, reps[k+1].TakeoffS-stepAfterS)
	}
	if n := stepsDown(m, r.ContactS, until); n != nil {
		l.Steps = *n
	}
	for k2 := range reps {
		if t := reps[k2].TakeoffS; k2 != k && reps[k2].HasFlight() && t > r.ContactS && t < r.EndS {
			l.Hops++
		}
	}
	before := footAt(m, m.NearSide, max(r.BottomS, r.TakeoffS-0.5), r.TakeoffS-stepWindowS)
	after := footAt(m, m.NearSide, r.LandingBottomS-0.05, r.LandingBottomS+stepWindowS)
	if d := after - before; !math.IsNaN(d) {
		sd := math.Sqrt2 * driftSDLegs * knownLegPx(m)
		if foot := ShodFootPx(m); foot > 0 {
			l.ForwardDriftPctFoot = stats.Estimate{Value: 100 * d / foot, SD: 100 * sd / foot}
		}
		l.ForwardDriftCm = sc.centimetres(d, sd)
	}
	return l
}

// landingBottomSDS returns the standard deviation of the time of the landing's
// bottom in seconds: half a frame, and the soft end of a movement of the hips from
// contact to bottom,
//
//	softLanding T (n / 10A)^(1/3)
//
// T being how long it lasts, A how far it goes and n the noise of the hip, noiseLegs at
// least.
func landingBottomSDS(m *joints.Motion, r *events.RepTimes, noiseLegs float64) float64 {
	frame := 0.5 / m.RateHz
	lasts := r.LandingBottomS - r.ContactS
	i := m.Index(r.LandingBottomS)
	deep := m.HipHeight[m.Index(r.ContactS)] - m.HipHeight[i]
	noise := max(noiseLegs, m.Points[m.NearSide][body.Hip].SDPx[i]/knownLegPx(m))
	if !(lasts > 0) || !(deep > 0) || math.IsNaN(noise) {
		return frame
	}
	return math.Hypot(frame, softLanding*lasts*math.Cbrt(noise/(10*deep)))
}

// settledFrom returns the clip time from which hip and knee are still for long
// enough, NaN when that does not come among the samples.
func settledFrom(m *joints.Motion, sc Scale, from, to int) float64 {
	bound := settleSpeedLegS * knownLegPx(m)
	if sc.Known {
		bound = settleSpeedMS / sc.MetresPerPx()
	}
	fwd, up := uprightPath(m, m.NearSide, body.Hip)
	vf, vu := signal.Velocity(fwd, m.RateHz), signal.Velocity(up, m.RateHz)
	knee := m.VelocityDegS[body.KneeFlexion]
	need := int(math.Ceil(settleForS * m.RateHz))
	for n, i := 0, from; i <= to && i < len(fwd); i++ {
		if n++; !(math.Hypot(vf[i], vu[i]) < bound && math.Abs(knee[i]) < settleKneeDegS) {
			n = 0
		}
		if n >= need {
			return m.TimeS[i-n+1]
		}
	}
	return math.NaN()
}

// footAt returns where a foot stands along the floor between two times: the mean
// of ankle and toe, upright pixels, the median over the time.
func footAt(m *joints.Motion, side body.Side, fromS, toS float64) float64 {
	ankle, toe := m.Points[side][body.Ankle].X, m.Points[side][body.Toe].X
	var x []float64
	for i := m.Index(fromS); i <= m.Index(toS) && i < len(ankle); i++ {
		x = append(x, (m.Facing.Sign()*ankle[i]+m.Facing.Sign()*toe[i])/2)
	}
	return signal.Median(x)
}

// What tells that a clip begins on the floor; common practice, no source.
const (
	floorHipLegs  = 0.70 // hips lower than this, and
	floorKneeLegs = 0.25 // a knee this near to the floor: kneeling or lying
	rousedLegS    = 0.15 // hips that move faster than this have begun to get up
)

// TimeToFeet returns the time in seconds from the first move to quiet standing of
// an athlete who kneels or lies at the start of the clip; NaN when the clip does not
// begin so, or does not come to a stand.
func TimeToFeet(m *joints.Motion, stand events.Stand) float64 {
	if !stand.Found || len(stand.Spans) == 0 || len(m.TimeS) == 0 {
		return math.NaN()
	}
	floor := soleUp(m, within(m, stand.Spans))
	_, knee := uprightPath(m, m.NearSide, body.Knee)
	_, hip := uprightPath(m, m.NearSide, body.Hip)
	first := m.Index(m.TimeS[0] + 0.2)
	leg := knownLegPx(m)
	if !(signal.Median(hip[:first+1])-floor < floorHipLegs*leg &&
		signal.Median(knee[:first+1])-floor < floorKneeLegs*leg) {
		return math.NaN()
	}
	v := signal.Velocity(hip, m.RateHz)
	for i := range v {
		if t := m.TimeS[i]; math.Abs(v[i]) > rousedLegS*leg && t < stand.Spans[0].FromS {
			return stand.Spans[0].FromS - t
		}
	}
	return math.NaN()
}
