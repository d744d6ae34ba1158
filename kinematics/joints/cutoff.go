package joints

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// cutoffBounds are the cut-offs in hertz between which the residual analysis may
// choose, by the tempo of the fastest rep of the clip. Published squat and
// walking work smooths at about 6 Hz and landing work at 10 to 15 Hz; the bands
// themselves are common practice, no source.
var cutoffBounds = map[events.Tempo][2]float64{
	events.TempoUnknown: {4, 8},
	events.TempoSlow:    {3, 6},
	events.TempoFast:    {4, 10},
	events.TempoJump:    {6, 12},
}

// CutoffFor returns the cut-off in hertz for a clip whose hardest rep has the tempo.
func CutoffFor(tr *trace.Trace, hardest events.Tempo) float64 {
	near := &tr.Raw[tr.NearSide]
	return chooseCutoff([][]float64{
		near[body.Hip].Y, near[body.Hip].X, near[body.Knee].X, near[body.Knee].Y, near[body.Ankle].X, near[body.Ankle].Y,
		near[body.Shoulder].X, near[body.Shoulder].Y,
	}, tr.RateHz, hardest)
}

// chooseCutoff returns the cut-off in hertz for the signals at the given rate:
// the median of their residual analyses, kept between the tempo's bounds.
func chooseCutoff(signals [][]float64, rateHz float64, tempo events.Tempo) float64 {
	var cut []float64
	for _, x := range signals {
		if c := signal.ResidualCutoffHz(x, rateHz); !math.IsNaN(c) {
			cut = append(cut, c)
		}
	}
	b := cutoffBounds[tempo]
	c := b[1]
	if len(cut) > 0 {
		c = signal.Median(cut)
	}
	c = max(b[0], min(b[1], c))
	return min(c, signal.MaxCutoffOfRate*rateHz)
}
