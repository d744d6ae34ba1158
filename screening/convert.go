package screening

import (
	"math"

	"holdfast/kinematics"
)

func numbers(v []float64) []Number {
	out := make([]Number, len(v))
	for i, x := range v {
		out[i] = Number(x)
	}
	return out
}

func angleSeries(v *[kinematics.NumAngles][]float64) AngleSeries {
	return AngleSeries{
		KneeFlexion:       numbers(v[kinematics.KneeFlexion]),
		HipFlexion:        numbers(v[kinematics.HipFlexion]),
		AnkleDorsiflexion: numbers(v[kinematics.AnkleDorsiflexion]),
		ShankAngle:        numbers(v[kinematics.ShankAngle]),
		TrunkLean:         numbers(v[kinematics.TrunkLean]),
		ThighAngle:        numbers(v[kinematics.ThighAngle]),
		FootPitch:         numbers(v[kinematics.FootPitch]),
	}
}

func spans(v []kinematics.Span) []Span {
	out := make([]Span, 0, len(v))
	for _, s := range v {
		out = append(out, Span{Number(s.FromS), Number(s.ToS)})
	}
	return out
}

func seriesJSON(s *kinematics.Series) Series {
	heel := make([]Number, len(s.HeelRise))
	for i, h := range s.HeelRise {
		heel[i] = Number(100 * h)
	}
	points := map[string]XY{}
	for l := range kinematics.NumLandmarks {
		p := s.Points[s.NearSide][l]
		points[l.String()] = XY{X: numbers(p.X), Y: numbers(p.Y)}
	}
	offset := s.Stand.OffsetDeg
	return Series{
		RateHz: Number(s.RateHz), TimeS: numbers(s.TimeS),
		AnglesDeg: angleSeries(&s.AnglesDeg), RawAnglesDeg: angleSeries(&s.RawAnglesDeg),
		SDDeg: angleSeries(&s.SDDeg), VelocitiesDegS: angleSeries(&s.VelocityDegS),
		PointsPx: points, HipHeightLeg: numbers(s.HipHeight), HeelRisePctFoot: heel,
		CutoffHz: Number(s.CutoffHz), Filled: s.Filled, Missing: s.Missing, Gaps: spans(s.Gaps),
		StandFound: s.Stand.Found,
		StandOffsetsDeg: StandAngles{
			KneeFlexion:       Number(offset[kinematics.KneeFlexion]),
			HipFlexion:        Number(offset[kinematics.HipFlexion]),
			AnkleDorsiflexion: Number(offset[kinematics.AnkleDorsiflexion]),
			ShankAngle:        Number(offset[kinematics.ShankAngle]),
			TrunkLean:         Number(offset[kinematics.TrunkLean]),
		},
	}
}

func measureJSON(m kinematics.AngleMeasure) JointMeasure {
	return JointMeasure{
		MinDeg: Number(m.MinDeg), MaxDeg: Number(m.MaxDeg), ROMDeg: Number(m.ROMDeg),
		AtStandDeg: Number(m.AtStandDeg), AtBottomDeg: Number(m.AtBottomDeg),
		AtLandingBottomDeg: Number(m.AtLandingBottomDeg), SDDeg: Number(m.SDDeg),
		PeakVelocityDegS: Number(m.PeakVelocityDegS),
	}
}

func measureFromJSON(m JointMeasure) kinematics.AngleMeasure {
	return kinematics.AngleMeasure{
		MinDeg: float64(m.MinDeg), MaxDeg: float64(m.MaxDeg), ROMDeg: float64(m.ROMDeg),
		AtStandDeg: float64(m.AtStandDeg), AtBottomDeg: float64(m.AtBottomDeg),
		AtLandingBottomDeg: float64(m.AtLandingBottomDeg), SDDeg: float64(m.SDDeg),
		PeakVelocityDegS: float64(m.PeakVelocityDegS),
	}
}

func repJSON(r *kinematics.Rep) Rep {
	source := "found"
	if r.TempoGiven {
		source = "given"
	}
	flight := r.FlightS
	if math.IsNaN(flight) {
		flight = 0
	}
	out := Rep{
		Number: r.Number, Tempo: r.Tempo.String(), TempoSource: source,
		Partial: r.Partial, PartialReason: r.PartialWhy,
		StartS: Number(r.StartS), BottomS: Number(r.BottomS), BottomEndS: Number(r.BottomEndS), EndS: Number(r.EndS),
		FlightS: Number(flight), TakeoffS: Number(r.TakeoffS), ContactS: Number(r.ContactS),
		LandingBottomS: Number(r.LandingBottomS), DescentS: Number(r.DescentS), AscentS: Number(r.AscentS),
		DepthLeg: Number(r.Depth), Phases: []Phase{}, Loaded: spans(r.Loaded),
		Joints: JointMeasures{
			Knee:  measureJSON(r.Angles[kinematics.KneeFlexion]),
			Hip:   measureJSON(r.Angles[kinematics.HipFlexion]),
			Ankle: measureJSON(r.Angles[kinematics.AnkleDorsiflexion]),
			Shank: measureJSON(r.Angles[kinematics.ShankAngle]),
			Trunk: measureJSON(r.Angles[kinematics.TrunkLean]),
		},
	}
	for _, p := range r.Phases {
		out.Phases = append(out.Phases, Phase{Name: string(p.Name), StartS: Number(p.FromS), EndS: Number(p.ToS)})
	}
	return out
}

// repFromJSON returns what a comparison needs of a stored rep.
func repFromJSON(r *Rep) kinematics.Rep {
	out := kinematics.Rep{
		Number: r.Number, Tempo: parseTempo(r.Tempo), Partial: r.Partial,
		StartS: float64(r.StartS), BottomS: float64(r.BottomS), EndS: float64(r.EndS), FlightS: float64(r.FlightS),
	}
	out.Angles[kinematics.KneeFlexion] = measureFromJSON(r.Joints.Knee)
	out.Angles[kinematics.HipFlexion] = measureFromJSON(r.Joints.Hip)
	out.Angles[kinematics.AnkleDorsiflexion] = measureFromJSON(r.Joints.Ankle)
	out.Angles[kinematics.ShankAngle] = measureFromJSON(r.Joints.Shank)
	out.Angles[kinematics.TrunkLean] = measureFromJSON(r.Joints.Trunk)
	return out
}

func parseTempo(s string) kinematics.Tempo {
	for _, t := range []kinematics.Tempo{kinematics.TempoSlow, kinematics.TempoFast, kinematics.TempoJump} {
		if t.String() == s {
			return t
		}
	}
	return kinematics.TempoUnknown
}
