package screening

import (
	"errors"
	"fmt"
	"math"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
	"holdfast/screening/footage"
	"holdfast/screening/plain"
	"holdfast/vision/media"
	"holdfast/vision/pose"
	"holdfast/words"
)

// Part is a part of a clip that a coach marks, in seconds of the movement.
type Part struct {
	FromS float64 `json:"from_s"`
	ToS   float64 `json:"to_s"`
}

// leastPartS is how long a marked part must last, in seconds.
const leastPartS = 0.2

// made is what was made of a clip.
type made struct {
	series  *kinematics.Series
	reps    []kinematics.Rep
	notices []kinematics.Notice
	front   bool
	unfit   *plain.Plain // nil where its movement is known
}

// find measures a clip by the movements that are looked for, and where it shows none of them, or the coach marked a
// part of it, without a movement.
func find(path string, obs []trace.Observation, track *pose.Track, how kinematics.Options, opt Options, part *Part) (
	m made, err error) {
	m.series, m.reps, m.notices, m.front, err = footage.FromWhere(obs, how, opt.View, track.PeopleSeen)
	if m.series != nil {
		if err := refuseWrongClock(path, m.series, opt); err != nil {
			return m, err
		}
	}
	if err == nil && part == nil {
		return m, nil
	}
	var refused error
	if err != nil {
		refused = refusalOf(path, err, m.series, opt, m.notices, track)
		if !errors.Is(err, kinematics.ErrNoReps) || opt.Movement != "" || m.front || track.PeopleSeen > 1 ||
			has(m.notices, kinematics.NoticeFeetHidden) {
			return m, refused
		}
	}
	return m.plainly(path, obs, track, how, part, refused)
}

// plainly measures without a movement what was measured by the known ones, or was refused for having no rep of them. It
// refuses what is not seen from the side, or not from one place.
func (m made) plainly(path string, obs []trace.Observation, track *pose.Track, how kinematics.Options, part *Part,
	refused error) (made, error) {
	_, carried := footage.Carried(track, m.notices)
	_, unheld := footage.Unheld(track, obs, m.series)
	what, hint := wrongView(m.series.View)
	switch {
	case hint != "" && refused != nil:
		return m, refused
	case hint != "":
		return m, refuse(path, ErrCannotMeasure, hint, what)
	case carried || unheld:
		return m, refuse(path, ErrCannotMeasure, "put_phone_down", notice.New("saw_phone_moved", nil))
	}
	how.Movements, how.RepChanges, how.RepTempo = []*movement.Movement{plain.Movement()}, nil, nil
	s, _, notices, err := kinematics.Analyze(obs, how)
	if !errors.Is(err, kinematics.ErrNoReps) {
		return m, &media.ClipError{Path: path, Err: fmt.Errorf("%w: %w", ErrCannotMeasure, err)}
	}
	if part == nil && !plain.Moves(s) {
		return m, refused
	}
	span := trace.Span{FromS: s.TimeS[0], ToS: s.TimeS[len(s.TimeS)-1]}
	if part != nil {
		span = trace.Span{FromS: max(span.FromS, part.FromS), ToS: min(span.ToS, part.ToS)}
	}
	if span.DurationS() < leastPartS {
		return m, fmt.Errorf("%s: %w", path, badCorrection("correction_part_outside", words.Params{
			"from_s": s.TimeS[0], "end_s": s.TimeS[len(s.TimeS)-1], "least_s": leastPartS}))
	}
	p := plain.Measure(s, obs, span)
	p.Marked = part != nil
	if why := (*refusal)(nil); errors.As(refused, &why) {
		p.Why = list(why.why)
	}
	return made{series: s, notices: notices, unfit: p}, nil
}

// withoutReps refuses clips of which one fits no movement.
func withoutReps(analyses []*Analysis) error {
	for _, a := range analyses {
		if a.Plain != nil {
			return &media.ClipError{Path: a.Clip.Name, Err: &refusal{ErrNoReps, notice.List("saw_plain", nil)}}
		}
	}
	return nil
}

// bePlain makes an analysis one of a clip without a movement: it holds angles, and nothing of reps or the whole body.
func (a *Analysis) bePlain(p *plain.Plain) {
	a.Plain, a.Movement.Key, a.Movement.SurePct = p, "", 0
	a.withoutBody()
	a.Series.HeelRisePctFoot = signal.NaNs(len(a.Series.TimeS))
}

// withoutBody makes all unknown that is told of the whole body.
func (a *Analysis) withoutBody() {
	n := len(a.Series.TimeS)
	a.Series.MassCentrePx = body.Path{X: signal.NaNs(n), Y: signal.NaNs(n)}
	a.Series.SupportPct, a.Series.SupportSDPct = signal.NaNs(n), signal.NaNs(n)
	a.SupportBandPct, a.TimeToFeetS = [2]float64{math.NaN(), math.NaN()}, math.NaN()
	a.Scale = measure.Scale{MmPerPx: stats.Unknown(), Sources: []measure.ScaleSource{}}
	a.Sets = []kinematics.Set{}
}
