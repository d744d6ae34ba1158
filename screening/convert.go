package screening

import (
	"math"

	"holdfast/kinematics"
	"holdfast/vision"
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

// cameraJSON returns the place of the camera at each sample, nil when it stood
// still. Between frames it goes straight from one place to the next; a sample
// beside a frame whose place is not known has none.
func cameraJSON(track *vision.Track, timesS []float64, slow float64) []*Camera {
	if !track.CameraMoved || len(track.Poses) == 0 {
		return nil
	}
	out := make([]*Camera, len(timesS))
	j := 0
	for i, t := range timesS {
		for j+1 < len(track.Poses)-1 && track.Poses[j+1].TimeS/slow <= t {
			j++
		}
		a, b := &track.Poses[j], &track.Poses[min(j+1, len(track.Poses)-1)]
		part := 0.0
		if d := b.TimeS - a.TimeS; d > 0 {
			part = math.Max(0, math.Min(1, (t*slow-a.TimeS)/d))
		}
		s := a.Camera.Toward(b.Camera, part)
		if s.Known {
			out[i] = &Camera{Number(s.Scale), Number(s.AngleDeg), Number(s.DXPx), Number(s.DYPx)}
		}
	}
	return out
}

// What every analysis says of its angles.
const (
	footPitchSource  = "floor contact and heel rise; heel-toe line in flight"
	angleConventions = "clinical zero position, own standing taken off; flexion, dorsiflexion and forward lean positive"
)

func seriesJSON(s *kinematics.Series, track *vision.Track, slow float64) Series {
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
		CutoffHz: Number(s.CutoffHz), Filled: s.Filled, Missing: s.Missing, Corrected: s.Corrected, Gaps: spans(s.Gaps),
		FootPitchSource: footPitchSource, AngleConventions: angleConventions,
		StandFound: s.Stand.Found, Camera: cameraJSON(track, s.TimeS, slow),
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
		AtLandingBottomDeg: Number(m.AtLandingBottomDeg), SDDeg: Number(m.SDDeg), SystematicSDDeg: Number(m.SystematicSDDeg),
		ROMInterval95Deg: [2]Number{Number(m.ROMInterval95Deg[0]), Number(m.ROMInterval95Deg[1])},
		PeakVelocityDegS: Number(m.PeakVelocityDegS),
	}
}

func measureFromJSON(m JointMeasure) kinematics.AngleMeasure {
	return kinematics.AngleMeasure{
		MinDeg: float64(m.MinDeg), MaxDeg: float64(m.MaxDeg), ROMDeg: float64(m.ROMDeg),
		AtStandDeg: float64(m.AtStandDeg), AtBottomDeg: float64(m.AtBottomDeg),
		AtLandingBottomDeg: float64(m.AtLandingBottomDeg), SDDeg: float64(m.SDDeg), SystematicSDDeg: float64(m.SystematicSDDeg),
		ROMInterval95Deg: [2]float64{float64(m.ROMInterval95Deg[0]), float64(m.ROMInterval95Deg[1])},
		PeakVelocityDegS: float64(m.PeakVelocityDegS),
	}
}

func qualityJSON(q *kinematics.Quality) Quality {
	return Quality{
		Grade: string(q.Grade), FramesInTurn: q.FramesInTurn, FilledPct: Number(q.FilledPct), HiddenPct: Number(q.HiddenPct),
		Confidence: Number(q.Confidence), WeakestPoint: q.WeakestPoint.String(),
		FastestPxPerFrame: Number(q.FastestPxPerFrame), BlurPx: Number(q.BlurPx), Advice: q.Advice,
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
		LandingBottomS: Number(r.LandingBottomS), BottomSDS: Number(r.TimeSDS.BottomS),
		TakeoffSDS: Number(r.TimeSDS.TakeoffS), ContactSDS: Number(r.TimeSDS.ContactS), DescentS: Number(r.DescentS), AscentS: Number(r.AscentS),
		DepthLeg: Number(r.Depth), Phases: []Phase{}, Support: []SupportSpan{}, Loaded: spans(r.Loaded),
		Joints: JointMeasures{
			Knee:  measureJSON(r.Angles[kinematics.KneeFlexion]),
			Hip:   measureJSON(r.Angles[kinematics.HipFlexion]),
			Ankle: measureJSON(r.Angles[kinematics.AnkleDorsiflexion]),
			Shank: measureJSON(r.Angles[kinematics.ShankAngle]),
			Trunk: measureJSON(r.Angles[kinematics.TrunkLean]),
		},
		Quality: qualityJSON(&r.Quality),
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
		StartS: float64(r.StartS), BottomS: float64(r.BottomS), BottomEndS: float64(r.BottomEndS), EndS: float64(r.EndS),
		FlightS: float64(r.FlightS), TakeoffS: float64(r.TakeoffS), ContactS: float64(r.ContactS), LandingBottomS: float64(r.LandingBottomS),
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
