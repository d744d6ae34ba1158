package screening

import (
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
)

// The names of the mass models, as Options.Masses takes them.
const (
	MassesMean   = "mean"
	MassesFemale = "female"
	MassesMale   = "male"
)

func massModel(name string) body.MassModel {
	switch name {
	case MassesFemale:
		return body.DeLevaFemale()
	case MassesMale:
		return body.DeLevaMale()
	}
	return body.DeLevaMean()
}

// addBody adds what the whole body and the foot did: centre of mass, support point,
// jumps, landings, and what the ladder compares. It returns what the reader must know
// of the scale.
func addBody(a *Analysis, s *kinematics.Series, reps []kinematics.Rep, opt Options,
	floorMoves bool) []kinematics.Notice {
	body, notices := kinematics.MeasureBody(s, reps, kinematics.BodyOptions{
		Masses: massModel(opt.Masses), SupportBandPct: opt.SupportBandPct, FloorMoves: floorMoves,
		Loaded: opt.LoadKg != nil && *opt.LoadKg > 0,
		Scale:  measure.ScaleOptions{HeightM: opt.HeightCm / 100, MarkPx: opt.MarkPx, MarkM: opt.MarkCm / 100},
	})
	a.MassModel = body.CentreOfMass.Model
	a.SupportBandPct = body.Support.BandPct
	a.Scale, a.TimeToFeetS, a.Sets = body.Scale, body.TimeToFeetS, body.Sets
	a.Series.MassCentrePx = s.InPicture(body.CentreOfMass.Path)
	if floorMoves {
		a.Series.HeelRisePctFoot = signal.NaNs(len(a.Series.HeelRisePctFoot))
	}
	a.Series.SupportPct, a.Series.SupportSDPct = body.Support.Pct, body.Support.SDPct
	return notices
}

// Interval95 returns the 95 % interval of a number with its standard deviation.
func Interval95(value, sd float64) [2]float64 {
	return stats.Estimate{Value: value, SD: sd}.Interval95()
}

// Half95 returns half of the 95 % interval of a number with this standard deviation.
func Half95(sd float64) float64 { return Interval95(0, sd)[1] }
