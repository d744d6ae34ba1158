package screening

import (
	"math"

	"holdfast/kinematics"
	"holdfast/vision"
)

func angleSeries(v *[kinematics.NumAngles][]float64) AngleSeries {
	return AngleSeries{
		KneeFlexion:       v[kinematics.KneeFlexion],
		HipFlexion:        v[kinematics.HipFlexion],
		AnkleDorsiflexion: v[kinematics.AnkleDorsiflexion],
		ShankAngle:        v[kinematics.ShankAngle],
		TrunkLean:         v[kinematics.TrunkLean],
		ThighAngle:        v[kinematics.ThighAngle],
		FootPitch:         v[kinematics.FootPitch],
	}
}

func spans(v []kinematics.Span) []Span {
	out := make([]Span, 0, len(v))
	for _, s := range v {
		out = append(out, Span{s.FromS, s.ToS})
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
			out[i] = &Camera{s.Scale, s.AngleDeg, s.DXPx, s.DYPx}
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
	heel := make([]float64, len(s.HeelRise))
	for i, h := range s.HeelRise {
		heel[i] = 100 * h
	}
	points := map[string]XY{}
	for l := range kinematics.NumLandmarks {
		p := s.Points[s.NearSide][l]
		points[l.String()] = XY{X: p.X, Y: p.Y}
	}
	offset := s.Stand.OffsetDeg
	return Series{
		RateHz: s.RateHz, TimeS: s.TimeS,
		AnglesDeg: angleSeries(&s.AnglesDeg), RawAnglesDeg: angleSeries(&s.RawAnglesDeg),
		SDDeg: angleSeries(&s.SDDeg), VelocitiesDegS: angleSeries(&s.VelocityDegS),
		PointsPx: points, HipHeightLeg: s.HipHeight, HeelRisePctFoot: heel,
		CutoffHz: s.CutoffHz, Filled: s.Filled, Missing: s.Missing, Corrected: s.Corrected, Gaps: spans(s.Gaps),
		FootPitchSource: footPitchSource, AngleConventions: angleConventions,
		StandFound: s.Stand.Found, Camera: cameraJSON(track, s.TimeS, slow),
		StandOffsetsDeg: StandAngles{
			KneeFlexion:       offset[kinematics.KneeFlexion],
			HipFlexion:        offset[kinematics.HipFlexion],
			AnkleDorsiflexion: offset[kinematics.AnkleDorsiflexion],
			ShankAngle:        offset[kinematics.ShankAngle],
			TrunkLean:         offset[kinematics.TrunkLean],
		},
	}
}

func measureJSON(m kinematics.AngleMeasure) JointMeasure {
	return JointMeasure{
		MinDeg: m.MinDeg, MaxDeg: m.MaxDeg, ROMDeg: m.ROMDeg,
		AtStandDeg: m.AtStandDeg, AtBottomDeg: m.AtBottomDeg,
		AtLandingBottomDeg: m.AtLandingBottomDeg, SDDeg: m.SDDeg, SystematicSDDeg: m.SystematicSDDeg,
		ROMInterval95Deg: m.ROMInterval95Deg,
		PeakVelocityDegS: m.PeakVelocityDegS,
	}
}

func measureFromJSON(m JointMeasure) kinematics.AngleMeasure {
	return kinematics.AngleMeasure{
		MinDeg: m.MinDeg, MaxDeg: m.MaxDeg, ROMDeg: m.ROMDeg,
		AtStandDeg: m.AtStandDeg, AtBottomDeg: m.AtBottomDeg,
		AtLandingBottomDeg: m.AtLandingBottomDeg, SDDeg: m.SDDeg, SystematicSDDeg: m.SystematicSDDeg,
		ROMInterval95Deg: m.ROMInterval95Deg,
		PeakVelocityDegS: m.PeakVelocityDegS,
	}
}

func qualityJSON(q *kinematics.Quality) Quality {
	return Quality{
		Grade: string(q.Grade), FramesInTurn: q.FramesInTurn, FilledPct: q.FilledPct, HiddenPct: q.HiddenPct,
		Confidence: q.Confidence, WeakestPoint: q.WeakestPoint.String(),
		FastestPxPerFrame: q.FastestPxPerFrame, BlurPx: q.BlurPx, Advice: q.Advice,
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
		StartS: r.StartS, BottomS: r.BottomS, BottomEndS: r.BottomEndS, EndS: r.EndS,
		FlightS: flight, TakeoffS: r.TakeoffS, ContactS: r.ContactS,
		LandingBottomS: r.LandingBottomS, BottomSDS: r.TimeSDS.BottomS,
		TakeoffSDS: r.TimeSDS.TakeoffS, ContactSDS: r.TimeSDS.ContactS, DescentS: r.DescentS, AscentS: r.AscentS,
		DepthLeg: r.Depth, Phases: []Phase{}, Support: []SupportSpan{}, Loaded: spans(r.Loaded),
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
		out.Phases = append(out.Phases, Phase{Name: string(p.Name), StartS: p.FromS, EndS: p.ToS})
	}
	return out
}

// repFromJSON returns what a comparison needs of a stored rep.
func repFromJSON(r *Rep) kinematics.Rep {
	out := kinematics.Rep{
		Number: r.Number, Tempo: parseTempo(r.Tempo), Partial: r.Partial,
		StartS: r.StartS, BottomS: r.BottomS, BottomEndS: r.BottomEndS, EndS: r.EndS,
		FlightS: r.FlightS, TakeoffS: r.TakeoffS, ContactS: r.ContactS, LandingBottomS: r.LandingBottomS,
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
