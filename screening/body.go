package screening

import (
	"errors"
	"math"

	"holdfast/kinematics"
)

// Jump is how high a rep with a flight went. Heights in metres, null where the
// clip has no scale.
type Jump struct {
	// Kind is countermovement, from_hold or rebound.
	Kind              string     `json:"kind"`
	FlightS           float64    `json:"flight_s"`
	FlightInterval95S [2]float64 `json:"flight_interval95_s"`
	// HeightFromFlightM is g t^2/8: right when the athlete lands as tall as at
	// take-off, too high when he lands folded.
	HeightFromFlightM           float64    `json:"height_from_flight_m"`
	HeightFromFlightInterval95M [2]float64 `json:"height_from_flight_interval95_m"`
	// RiseM is how far the centre of mass rises after take-off.
	RiseM                       float64    `json:"rise_m"`
	RiseInterval95M             [2]float64 `json:"rise_interval95_m"`
	TakeoffVelocityMS           float64    `json:"takeoff_velocity_m_s"`
	TakeoffVelocityInterval95MS [2]float64 `json:"takeoff_velocity_interval95_m_s"`
	// ReactiveStrengthMS is null where it cannot be told.
	ReactiveStrengthMS           float64    `json:"reactive_strength_index_m_s"`
	ReactiveStrengthInterval95MS [2]float64 `json:"reactive_strength_index_interval95_m_s"`
	// RiseFromStandM is how far the highest place of the centre of mass lies over
	// that of quiet standing; ContactTimeS the time on the floor since the last
	// landing of a row of jumps.
	RiseFromStandM kinematics.Estimate `json:"rise_from_stand_m"`
	LandsLowerM    kinematics.Estimate `json:"lands_lower_m"`
	ContactTimeS   kinematics.Estimate `json:"contact_time_s"`
	// Why says in a sentence why the two heights differ; empty when they do not.
	Why string `json:"why_heights_differ"`
}

// What every analysis says of its landings.
const settleDefinition = "from first contact until the hip moves slower than 0.1 m/s and the knee turns slower than 20 degrees a second " +
	"for half a second; read from movement, not the time to stabilisation of a force plate"

// The names of the mass models, as Options.Masses takes them.
const (
	MassesMean   = "mean"
	MassesFemale = "female"
	MassesMale   = "male"
)

func massModel(name string) kinematics.MassModel {
	switch name {
	case MassesFemale:
		return kinematics.DeLevaFemale()
	case MassesMale:
		return kinematics.DeLevaMale()
	}
	return kinematics.DeLevaMean()
}

// addBody adds what the whole body and the foot did: centre of mass, support point,
// jumps, landings, and what the ladder compares. It returns what the reader must know
// of the scale.
func addBody(a *Analysis, s *kinematics.Series, reps []kinematics.Rep, opt Options) []kinematics.Notice {
	model := massModel(opt.Masses)
	masses := kinematics.MassCentreOf(s, reps, model)
	scale, notices := kinematics.FindScale(s, reps, &masses, kinematics.ScaleOptions{HeightM: opt.HeightCm / 100, MarkPx: opt.MarkPx, MarkM: opt.MarkCm / 100})
	support := kinematics.SupportPoint(s, reps, model, scale, kinematics.SupportOptions{BandPct: opt.SupportBandPct})

	a.MassModel = model.Name
	a.SupportBandPct = support.BandPct
	a.Scale = scaleJSON(scale)
	a.TimeToFeetS = math.NaN()
	if t, ok := kinematics.TimeToFeet(s); ok {
		a.TimeToFeetS = t
	}
	a.Series.MassCentrePx = XY{X: masses.Path.X, Y: masses.Path.Y}
	a.Series.SupportPct, a.Series.SupportSDPct = support.Pct, support.SDPct

	of := map[int]*Rep{}
	for i := range a.Reps {
		of[a.Reps[i].Number] = &a.Reps[i]
	}
	for _, f := range kinematics.FeetOnFloor(s, reps, scale) {
		if r := of[f.RepNumber]; r != nil {
			r.Foot = footJSON(&f)
		}
	}
	for i := range reps {
		a.Reps[i].Support = kinematics.SupportOf(s, &reps[i], &support)
	}
	for _, j := range kinematics.Jumps(s, reps, &masses, scale) {
		if r := of[j.RepNumber]; r != nil {
			r.Jump = jumpJSON(&j)
		}
	}
	for _, l := range kinematics.Landings(s, reps, scale) {
		if r := of[l.RepNumber]; r != nil {
			r.Landing = landingJSON(&l)
		}
	}
	a.Sets = setsJSON(s, reps, &support)
	return notices
}

func scaleJSON(sc kinematics.Scale) Scale {
	out := Scale{MmPerPx: millimetres(sc.MetresPerPx, sc.SDMetresPerPx), Known: sc.Known(), Agree: sc.Agree, Sources: []ScaleSource{}}
	for _, src := range sc.Sources {
		out.Sources = append(out.Sources, ScaleSource{Name: string(src.Name), MmPerPx: millimetres(src.MetresPerPx, src.SDMetresPerPx)})
	}
	return out
}

// millimetres turns metres into millimetres.
func millimetres(metres, sd float64) kinematics.Estimate {
	return kinematics.Estimate{Value: 1000 * metres, SD: 1000 * sd}
}

// centimetres turns metres into centimetres.
func centimetres(e kinematics.Estimate) kinematics.Estimate {
	return kinematics.Estimate{Value: 100 * e.Value, SD: 100 * e.SD}
}

func riseJSON(r *kinematics.Rise) FootRise {
	return FootRise{
		MaxPctFoot: r.MaxPctFoot, MaxCm: centimetres(r.MaxM),
		AtS: r.AtS, Up: r.Up, UpS: r.UpS, Spans: list(r.Spans),
	}
}

func footJSON(f *kinematics.FootOnFloor) *Foot {
	return &Foot{
		Heel: riseJSON(&f.Heel), Toe: riseJSON(&f.Toe),
		SlidePctFoot: f.SlidePctFoot, SlideCm: centimetres(f.SlideM),
		KneePastToePctFoot: f.KneePastToePctFoot, KneePastToeCm: centimetres(f.KneePastToeM),
		ShankAtBottomDeg: f.ShankAtBottomDeg, ThighAtBottomDeg: f.ThighAtBottomDeg,
		HipCreaseBelowKnee: string(f.HipCreaseBelowKnee),
	}
}

func jumpJSON(j *kinematics.Jump) *Jump {
	return &Jump{
		Kind: string(j.Kind), FlightS: j.FlightS.Value, FlightInterval95S: j.FlightS.Interval95(),
		HeightFromFlightM: j.HeightFromFlightM.Value, HeightFromFlightInterval95M: j.HeightFromFlightM.Interval95(),
		RiseM: j.RiseFromTakeoffM.Value, RiseInterval95M: j.RiseFromTakeoffM.Interval95(),
		TakeoffVelocityMS: j.TakeoffVelocityMS.Value, TakeoffVelocityInterval95MS: j.TakeoffVelocityMS.Interval95(),
		ReactiveStrengthMS: j.RSIMS.Value, ReactiveStrengthInterval95MS: j.RSIMS.Interval95(), Why: j.Why,
		RiseFromStandM: j.RiseFromStandM, LandsLowerM: j.LandsLowerM, ContactTimeS: j.ContactTimeS,
	}
}

func landingAngles(v *[kinematics.NumAngles]kinematics.Estimate) LandingAngles {
	return LandingAngles{
		Knee: v[kinematics.KneeFlexion], Hip: v[kinematics.HipFlexion], Ankle: v[kinematics.AnkleDorsiflexion],
		Shank: v[kinematics.ShankAngle], Trunk: v[kinematics.TrunkLean],
	}
}

func landingJSON(l *kinematics.Landing) *Landing {
	return &Landing{
		ContactToBottomS: l.ContactToBottomS,
		AtContactDeg:     landingAngles(&l.AtContactDeg), AtBottomDeg: landingAngles(&l.AtBottomDeg),
		PeakVelocityDegS: JointNumbers{
			Knee:  l.PeakVelocityDegS[kinematics.KneeFlexion],
			Hip:   l.PeakVelocityDegS[kinematics.HipFlexion],
			Ankle: l.PeakVelocityDegS[kinematics.AnkleDorsiflexion],
		},
		SettleS: l.SettleS, SettleDefinition: settleDefinition, Steps: l.Steps, Hops: l.Hops,
		ForwardDriftPctFoot: l.ForwardDriftPctFoot, ForwardDriftCm: centimetres(l.ForwardDriftM),
		ToStandS: l.ToStandS,
	}
}

// setsJSON sums up the whole reps by tempo.
func setsJSON(s *kinematics.Series, reps []kinematics.Rep, support *kinematics.Support) []Set {
	out := []Set{}
	for _, step := range kinematics.StepsOf(s, reps, support) {
		set := Set{Tempo: step.Tempo.String(), Positions: []PositionReadings{}}
		var whole []kinematics.Rep
		for _, r := range reps {
			if !r.Partial && r.Tempo == step.Tempo {
				whole = append(whole, r)
			}
		}
		set.Reps = len(whole)
		spread := func(a kinematics.Angle) float64 { return kinematics.SpreadOfROM(whole, a) }
		set.BetweenRepsSDDeg = JointNumbers{spread(kinematics.KneeFlexion), spread(kinematics.HipFlexion), spread(kinematics.AnkleDorsiflexion)}
		set.Drift = driftJSON(whole)
		for p := range kinematics.NumPositions {
			r := step.Readings[p]
			set.Positions = append(set.Positions, PositionReadings{
				Position: p.String(), Unit: p.Unit(), Values: list(r.Deg), NoiseSD: r.NoiseSDDeg,
			})
		}
		out = append(out, set)
	}
	return out
}

// driftJSON returns how the ranges of motion drift over a set, nil with too few reps.
func driftJSON(whole []kinematics.Rep) *SetDrift {
	of := func(a kinematics.Angle) (Drift, error) {
		d, err := kinematics.DriftOfSet(whole, a)
		n := float64(d.Reps - 1)
		return Drift{TotalDeg: d.TotalInSet, Interval95: [2]float64{n * d.Interval95[0], n * d.Interval95[1]}, Drifts: d.Drifts}, err
	}
	knee, err1 := of(kinematics.KneeFlexion)
	hip, err2 := of(kinematics.HipFlexion)
	ankle, err3 := of(kinematics.AnkleDorsiflexion)
	if errors.Join(err1, err2, err3) != nil {
		return nil
	}
	return &SetDrift{Knee: knee, Hip: hip, Ankle: ankle}
}

// Interval95 returns the 95 % interval of a number with its standard deviation.
func Interval95(value, sd float64) [2]float64 {
	return kinematics.Estimate{Value: value, SD: sd}.Interval95()
}

// Half95 returns half of the 95 % interval of a number with this standard deviation.
func Half95(sd float64) float64 { return Interval95(0, sd)[1] }
