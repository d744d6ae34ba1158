package joints

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/trace"
)

// Grade says how well a clip shows a rep.
type Grade string

// The grades: the numbers of a good rep can be read as they stand, those of a
// fair one with their interval in mind, and those of a poor one should be filmed
// again.
const (
	GradeGood Grade = "good"
	GradeFair Grade = "fair"
	GradePoor Grade = "poor"
)

// WorseThan says whether the grade is a worse one.
func (g Grade) WorseThan(other Grade) bool {
	order := []Grade{GradeGood, GradeFair, GradePoor}
	return slices.Index(order, g) > slices.Index(order, other)
}

// Quality is how well a clip shows one rep, and what to film instead.
type Quality struct {
	// Grade is the worst that any of the numbers below earns; empty in results of before
	// reps were graded.
	Grade Grade `json:"grade"`
	// FramesInTurn counts the frames of the clip, not filled-in samples, that show
	// the leg within a tenth of the rep's depth of the bottom; with a flight, of
	// the bottom or the landing's, whichever has fewer.
	FramesInTurn int `json:"frames_in_turn"`
	// FilledPct is the part of the rep's samples, in per cent, in which hip, knee
	// or ankle were filled in or are not known: because the clip has no frame
	// there, or, LostPct of the frames it has, because the leg was not found.
	FilledPct float64 `json:"filled_pct"`
	LostPct   float64 `json:"-"`
	// HiddenPct is the part of the frames that show the athlete, in per cent, in
	// which HiddenPoint is out of the picture or was not found: the point of the
	// near side that is hidden most. One point that is never seen takes an angle
	// with it, however well the others are seen.
	HiddenPct   float64       `json:"hidden_pct"`
	HiddenPoint body.Landmark `json:"-"`
	// Confidence is the mean confidence of the near leg's points, 0 to 1;
	// WeakestPoint is the point of that leg with the lowest, WeakestConfidence its
	// mean. NaN when the leg is not seen in the rep.
	Confidence        float64       `json:"confidence"`
	WeakestPoint      body.Landmark `json:"weakest_point"`
	WeakestConfidence float64       `json:"-"`
	// FastestPxPerFrame is the largest way in pixels that a point of the near side
	// goes from one frame to the next while the foot bears load; NaN when not
	// known. BlurPx is the length in pixels of the smear that it leaves: speed
	// times exposure, the exposure taken to be half of a frame's time, which the
	// file does not tell (common practice, no source).
	FastestPxPerFrame float64 `json:"fastest_px_per_frame"`
	BlurPx            float64 `json:"blur_px"`
	// ExchangedPct is the part of the frames, in per cent, in which left and right leg were exchanged and put back.
	ExchangedPct float64 `json:"-"`
	// Advice is the most important thing to do otherwise; nothing for a good rep.
	Advice notice.Notice `json:"advice,omitzero"`
}

// exposureFrames is the part of a frame's time for which the shutter is taken to
// be open. Common practice, no source.
const exposureFrames = 0.5

// minSamplesInTurn: with fewer frames about the bottom the deepest position may
// fall between two. Common practice, no source.
const MinSamplesInTurn = 5

// qualityAspect is one of the things that a rep is graded by.
type qualityAspect int

const (
	aspectHidden     qualityAspect = iota // per cent of the frames, of the point hidden most
	aspectView                            // degrees from side-on, at least
	aspectLost                            // per cent of the frames
	aspectExchanged                       // per cent of the frames
	aspectConfidence                      // mean of the near leg, 0 to 1
	aspectWeakest                         // mean of its weakest point, 0 to 1
	aspectTurn                            // frames
	aspectBlur                            // per cent of the leg's length
	aspectDropped                         // per cent of the samples filled in, less the frames lost
	numAspects
)

// qualityLimits holds, from the most important aspect to the least, the value
// beyond which a rep is no longer good, and that beyond which it is poor. Common
// practice, no source, but for two of them: NotSideOnDeg is explained there; and
// with n frames in the turn the deepest one misses at most 0.1/n^2 of the range
// (a parabola that falls by a tenth within n/2 frames), which is 0.4 degrees of
// 100 for five frames and 1.1 for three.
func qualityLimits(seen body.ConfidenceLimits) [numAspects]qualityLimit {
	return [...]qualityLimit{
		{aspectHidden, 10, 40, false},
		{aspectView, trace.NotSideOnDeg, 20, false},
		{aspectLost, 5, 20, false},
		{aspectExchanged, 10, 40, false},
		{aspectConfidence, seen.Good, seen.Low, true},
		{aspectWeakest, seen.Low, seen.Lost, true},
		{aspectTurn, MinSamplesInTurn, 3, true},
		{aspectBlur, 5, 12, false},
		{aspectDropped, 15, 40, false},
	}
}

// qualityLimit is where an aspect makes a rep fair or poor.
type qualityLimit struct {
	aspect     qualityAspect
	fair, poor float64
	lessIsBad  bool
}

// gradeOf returns the worst grade of the values, and the most important aspect
// that earns it. A value that is NaN says nothing.
func gradeOf(values *[numAspects]float64, seen body.ConfidenceLimits) (worst Grade, why qualityAspect) {
	worst = GradeGood
	for _, l := range qualityLimits(seen) {
		v := values[l.aspect]
		beyond := func(limit float64) bool {
			if l.lessIsBad {
				return v < limit
			}
			return v > limit
		}
		switch {
		case beyond(l.poor):
			if worst != GradePoor {
				worst, why = GradePoor, l.aspect
			}
		case beyond(l.fair):
			if worst == GradeGood {
				worst, why = GradeFair, l.aspect
			}
		}
	}
	return worst, why
}

// SidePoints are the points of the near side that angles are taken from, the foot's last.
var SidePoints = []body.Landmark{body.Shoulder, body.Hip, body.Knee, body.Ankle, body.Heel, body.Toe}

// PointsToSee are those of them that should be seen, of a network that may place no heel and no toe.
func PointsToSee(noFeet bool) []body.Landmark {
	if noFeet {
		return SidePoints[:len(SidePoints)-2]
	}
	return SidePoints
}

// QualityOf grades one rep from the cleaned observations of the clip, their trace, the
// movement's course, the near side's smoothed points, the spans that the rep is measured over, how far the
// camera surely stands from side-on, and which points of the side should be seen.
func QualityOf(tr *trace.Trace, c *events.Course, obs []trace.Observation, r *events.RepTimes,
	near *[body.NumLandmarks]body.Path, loaded []trace.Span, obliqueDeg float64, seen body.ConfidenceLimits,
	severalPeople bool, points []body.Landmark) Quality {
	q := Quality{FramesInTurn: framesInTurn(tr, c, r, r.BottomS, obs)}
	if r.HasFlight() {
		q.FramesInTurn = min(q.FramesInTurn, framesInTurn(tr, c, r, r.LandingBottomS, obs))
	}
	q.seen(tr.NearSide, trace.Span{FromS: r.StartS, ToS: r.EndS}, obs, points)

	from, to := tr.Index(r.StartS), tr.Index(r.EndS)
	n := 0
	for i := from; i <= to; i++ {
		if tr.Filled[i] || tr.Missing[i] {
			n++
		}
	}
	q.FilledPct = 100 * float64(n) / float64(to-from+1)

	q.FastestPxPerFrame = fastestStepPx(tr, near, loaded)
	q.BlurPx = exposureFrames * q.FastestPxPerFrame

	var why qualityAspect
	q.Grade, why = gradeOf(&[numAspects]float64{
		aspectHidden: q.HiddenPct, aspectView: obliqueDeg, aspectLost: q.LostPct, aspectExchanged: q.ExchangedPct,
		aspectConfidence: q.Confidence, aspectWeakest: q.WeakestConfidence,
		aspectTurn: float64(q.FramesInTurn), aspectBlur: 100 * q.BlurPx / tr.LegPx,
		aspectDropped: q.FilledPct - q.LostPct,
	}, seen)
	if q.Grade != GradeGood {
		q.Advice = q.advice(why, tr.RateHz, severalPeople)
	}
	return q
}

// Seen fills in what the frames of the rep show of the near side.
func (q *Quality) seen(side body.Side, rep trace.Span, obs []trace.Observation, points []body.Landmark) {
	var sum, count [body.NumLandmarks]float64
	var all, legs, frames, exchanged float64 // frames; with the leg; with any point; with the legs exchanged
	for i := range obs {
		if obs[i].TimeS < rep.FromS || obs[i].TimeS > rep.ToS {
			continue
		}
		all++
		if obs[i].Exchanged {
			exchanged++
		}
		if trace.SeenLeg(&obs[i], side) {
			legs++
		}
		any := false
		for _, k := range points {
			if p := &obs[i].Points[side][k]; !p.Missing() {
				sum[k] += p.Confidence
				count[k]++
				any = true
			}
		}
		if any {
			frames++
		}
	}
	q.Confidence, q.WeakestConfidence, q.WeakestPoint = math.NaN(), math.NaN(), body.Hip
	q.LostPct, q.ExchangedPct = 100*(1-legs/max(1, all)), 100*exchanged/max(1, all)
	if frames == 0 {
		q.HiddenPct, q.HiddenPoint = 100, body.Hip
		return
	}
	for _, k := range points {
		if hidden := 100 * (1 - count[k]/frames); hidden > q.HiddenPct {
			q.HiddenPct, q.HiddenPoint = hidden, k
		}
	}
	var total, n float64
	for _, k := range trace.LegLandmarks {
		if count[k] == 0 {
			continue
		}
		total, n = total+sum[k], n+count[k]
		if mean := sum[k] / count[k]; !(mean >= q.WeakestConfidence) {
			q.WeakestPoint, q.WeakestConfidence = k, mean
		}
	}
	q.Confidence = total / n // NaN when no point of the leg was seen
}

// framesInTurn counts the frames that show the leg while the movement turns about the
// given time, and those between two of them that were passed over; 0 when that is not known.
func framesInTurn(tr *trace.Trace, c *events.Course, r *events.RepTimes, atS float64, obs []trace.Observation) int {
	from, to, ok := c.TurnAround(tr, r, atS)
	if !ok {
		return 0
	}
	half := 0.5 / tr.RateHz
	n, before := 0, false
	for k := range obs {
		if t := obs[k].TimeS; t < tr.TimeS[from]-half || t >= tr.TimeS[to]+half {
			continue
		}
		shown := trace.SeenLeg(&obs[k], tr.NearSide)
		if shown {
			n++
		}
		if shown && before {
			n += obs[k].PassedBefore
		}
		before = shown
	}
	return n
}

// fastestStepPx returns the longest way in pixels of a smoothed point of the near
// side from one sample to the next within the loaded spans of a rep, NaN when
// none is known.
func fastestStepPx(tr *trace.Trace, near *[body.NumLandmarks]body.Path, loaded []trace.Span) float64 {
	best := math.NaN()
	for _, sp := range loaded {
		for i := tr.Index(sp.FromS) + 1; i <= tr.Index(sp.ToS); i++ {
			for _, k := range SidePoints {
				p := &near[k]
				if d := math.Hypot(p.X[i]-p.X[i-1], p.Y[i]-p.Y[i-1]); d > best || math.IsNaN(best) {
					best = d
				}
			}
		}
	}
	return best
}

// Frame rates in hertz under which a higher one is advised: cameras that are set
// to 60 or 120 film at a little less.
const (
	below60Hz  = 55
	below120Hz = 110
)

// BriefTurns tells of the reps of a clip whose turn too few frames show; of returns the number of a rep and how many
// do.
func BriefTurns(rateHz float64, reps int, of func(i int) (number, frames int)) []notice.Notice {
	var numbers []int
	fewest, most := MinSamplesInTurn, 0
	for i := range reps {
		if number, n := of(i); n > 0 && n < MinSamplesInTurn {
			numbers, fewest, most = append(numbers, number), min(fewest, n), max(most, n)
		}
	}
	if len(numbers) == 0 {
		return nil
	}
	seen := []int{fewest, most}
	return notice.List("turns_seen_briefly", notice.Params{"n": len(numbers), "reps": numbers,
		"frames": slices.Compact(seen), "enough": MinSamplesInTurn,
		"advice": notice.New(filmQuicker(rateHz), nil).Plain()})
}

// filmQuicker is the code of what to film instead where a clip of that rate shows a quick movement badly.
func filmQuicker(rateHz float64) string {
	switch {
	case rateHz < below60Hz:
		return "film_at_60_or_120"
	case rateHz < below120Hz:
		return "film_at_120"
	}
	return "film_with_short_shutter"
}

// advice says what to film instead, for the aspect that counts most.
func (q *Quality) advice(why qualityAspect, rateHz float64, severalPeople bool) notice.Notice {
	switch why {
	case aspectHidden:
		return notice.New("move_back", notice.Params{"point": q.HiddenPoint.String()})
	case aspectView:
		return notice.New("turn_phone", nil)
	case aspectExchanged:
		return notice.New("tell_legs_apart", nil)
	case aspectTurn, aspectBlur:
		return notice.New(filmQuicker(rateHz), nil)
	case aspectDropped:
		return notice.New("fix_frame_rate", nil)
	case aspectWeakest:
		if k := q.WeakestPoint; k == body.Heel || k == body.Toe {
			return notice.New("wear_other_shoes", notice.Params{"point": k.String()})
		}
		return notice.New("wear_tight_clothes", notice.Params{"point": q.WeakestPoint.String()})
	}
	if severalPeople {
		return notice.New("film_one_person", nil)
	}
	return notice.New("film_in_more_light", nil)
}
