package kinematics

import (
	"math"
	"slices"
	"strings"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/trace"
)

// The codes of the notices; they do not change between versions. What each says stands in the
// catalogue under notice.CODE.
const (
	NoticeLongGap       = "long_gap"
	noticePartialRep    = "partial_rep"
	noticeLowConfidence = "low_confidence"
	NoticeFeetHidden    = "feet_out_of_picture"
	NoticeNoFeet        = "network_without_feet"
	noticeTrunkHidden   = "trunk_out_of_picture"
	noticeNoStand       = "no_stand"
	noticeSwapped       = "sides_exchanged"
	noticeSwappedOften  = "sides_exchanged_often"
	NoticeFeetMoved     = "feet_moved"
	NoticeFlightDoubted = "flight_doubted"
	noticeFacingUnsure  = "facing_unsure"
	noticeNotSideOn     = "not_side_on"
	noticeWrongClock    = "wrong_clock"
	NoticeUncalibrated  = "not_calibrated"
	noticeDamagedRep    = "damaged_rep"
	noticeScale         = "scale_disagrees"
	NoticePointHidden   = "point_hidden"
	noticeImpossible    = "not_possible"
	noticeNeverUp       = "no_range_without_standing"
	noticeBetween       = "tempo_between"
)

// Notice is something the reader of the numbers must know.
type Notice = notice.Notice

// params are the parameters of a notice.
type params = notice.Params

func networkNotices(opt Options) []Notice {
	if opt.Calibration != (body.Calibration{}) {
		return nil
	}
	return notice.List(NoticeUncalibrated, nil)
}

// sureFacingPart of the frames must agree on the facing for it to be sure. Common
// practice, no source.
const sureFacingPart = 0.8

func facingNotices(f body.Facing, sure float64) []Notice {
	if sure >= sureFacingPart {
		return nil
	}
	return notice.List(noticeFacingUnsure, params{"agree_pct": 100 * sure, "facing": f.String()})
}

func swapNotices(frames, of int) []Notice {
	switch {
	case frames == 0:
		return nil
	case float64(frames) > exchangedOftenPart*float64(of):
		return notice.List(noticeSwappedOften, params{"n": frames, "of": of})
	}
	return notice.List(noticeSwapped, params{"n": frames})
}

// exchangedOftenPart is the part of the frames beyond which legs that are exchanged are a reason to doubt which of them
// is the near one. Common practice, no source.
const exchangedOftenPart = 0.05

// A clip in which more than lowConfidencePart of the near leg's points are doubted gets
// a notice, and so does one that hides a foot or the shoulder in more than hiddenPart
// of its frames. Common practice, no source.
const (
	lowConfidencePart = 0.1
	hiddenPart        = 0.2
)

// coverageNotices tell of long gaps, of feet that are not to be seen, and of a
// network that was not sure: points below the confidence low.
func coverageNotices(gaps []trace.Span, obs []trace.Observation, near body.Side, low float64,
	noFeet bool) (out []Notice) {
	note := func(code string, of params) { out = append(out, notice.New(code, of)) }
	for _, g := range gaps {
		note(NoticeLongGap, fromTo(g))
	}
	unsure, points, noFoot, noTrunk, frames := 0, 0, 0, 0, 0
	for i := range obs {
		p := &obs[i].Points[near]
		if !slices.ContainsFunc(p[:], func(q body.Point) bool { return !q.Missing() }) {
			continue // nobody is seen: that says nothing of what hides the foot
		}
		frames++
		if p[body.Heel].Missing() || p[body.Toe].Missing() {
			noFoot++
		}
		if p[body.Shoulder].Missing() {
			noTrunk++
		}
		for _, k := range trace.LegLandmarks {
			if !p[k].Missing() {
				points++
				if p[k].Confidence < low {
					unsure++
				}
			}
		}
	}
	if float64(unsure) > lowConfidencePart*float64(points) {
		note(noticeLowConfidence, params{"points_pct": 100 * float64(unsure) / float64(points)})
	}
	hidden := hiddenPart * float64(frames)
	if float64(noTrunk) > hidden {
		note(noticeTrunkHidden, params{"frames_pct": 100 * float64(noTrunk) / float64(frames)})
	}
	if noFeet {
		note(NoticeNoFeet, nil)
	} else if float64(noFoot) > hidden {
		note(NoticeFeetHidden, params{"frames_pct": 100 * float64(noFoot) / float64(frames)})
	}
	return out
}

// clockNotices tell of a wrong clock, and where it is right, of flights in which the
// body does not fall as it would.
func clockNotices(factor float64, flights int, doubted []trace.Span) (out []Notice) {
	// One flight among more that do not fall either is no witness of the clock.
	if flights > 0 && !(flights == 1 && len(doubted) > 1) {
		return notice.List(noticeWrongClock, ClockParams(factor))
	}
	for _, f := range doubted {
		out = append(out, notice.New(NoticeFlightDoubted, params{"at_s": max(0, f.FromS)}))
	}
	return out
}

// ClockParams says how much slower or faster than it was filmed a clip plays.
func ClockParams(factor float64) notice.Params {
	if factor < 1 {
		return params{"form": "faster", "times": 1 / factor}
	}
	return params{"form": "slower", "times": factor}
}

func fromTo(s trace.Span) params { return params{"from_s": s.FromS, "to_s": s.ToS} }

func standNotices(stands bool) []Notice {
	if stands {
		return nil
	}
	return notice.List(noticeNoStand, nil)
}

func movedNotices(moved []trace.Span) (out []Notice) {
	for _, b := range moved {
		out = append(out, notice.New(NoticeFeetMoved, fromTo(b)))
	}
	return out
}

func otherNotices(others []events.Other) (out []Notice) {
	for _, o := range others {
		out = append(out, notice.New(o.Code, fromTo(o.Span)))
	}
	return out
}

func viewNotices(v trace.View) []Notice {
	if v.SurelyDeg() < trace.NotSideOnDeg {
		return nil
	}
	if v.From != trace.ViewSide {
		return notice.List(noticeNotSideOn, params{"form": v.From.String()})
	}
	form := "turned"
	if v.SurelyDeg() > mostFootYawDeg {
		form = "far"
	}
	return notice.List(noticeNotSideOn, params{"form": form, "yaw_deg": math.Abs(v.YawDeg), "half_deg": 2 * v.SDDeg})
}

// hiddenNotices tell of points that something hides, and what is not given for it.
func hiddenNotices(reps []Rep) []Notice {
	var points []string
	var numbers []int
	for i := range reps {
		r := &reps[i]
		if len(r.Hidden) == 0 || r.LeftOut {
			continue
		}
		numbers = append(numbers, r.Number)
		for _, k := range r.Hidden {
			if !slices.Contains(points, k.String()) {
				points = append(points, k.String())
			}
		}
	}
	if len(numbers) == 0 {
		return nil
	}
	return notice.List(NoticePointHidden, params{"points": points, "n": len(numbers), "of": len(reps), "rep": numbers[0]})
}

func repNotices(reps []Rep, rateHz float64) (out []Notice) {
	out = hiddenNotices(reps)
	for i := range reps {
		r := &reps[i]
		if r.Damaged && !r.LeftOut {
			out = append(out, notice.New(noticeDamagedRep, params{"rep": r.Number, "why": r.PartialWhy.Plain()}))
		} else if r.Partial && len(r.Impossible) < unmeasurable && r.PartialWhy.Code != events.LeftOut {
			out = append(out, notice.New(noticePartialRep, params{"rep": r.Number, "why": r.PartialWhy.Plain()}))
		}
	}
	return append(out, joints.BriefTurns(rateHz, len(reps), func(i int) (int, int) {
		return reps[i].Number, reps[i].Quality.FramesInTurn
	})...)
}

// betweenNotices tell of a set that is neither slow nor fast.
func betweenNotices(reps []Rep) []Notice {
	if !slices.ContainsFunc(reps, func(r Rep) bool { return r.Between && !r.LeftOut }) {
		return nil
	}
	return notice.List(noticeBetween, nil)
}

// neverUpNotices tell of jumps without a range of motion.
func neverUpNotices(reps []Rep) []Notice {
	var numbers []int
	for i := range reps {
		if r := &reps[i]; r.NeverUp && !r.Damaged {
			numbers = append(numbers, r.Number)
		}
	}
	if len(numbers) == 0 {
		return nil
	}
	return notice.List(noticeNeverUp, params{"n": len(numbers), "reps": numbers})
}

// impossibleNotices tell of what no body can show, the reps with the same joints together.
func impossibleNotices(reps []Rep) (out []Notice) {
	type kind struct {
		joints  string // joined by spaces
		several bool
		point   body.Landmark
	}
	var kinds []kind
	numbers := map[kind][]int{}
	for i := range reps {
		r := &reps[i]
		if len(r.Impossible) == 0 || len(r.Hidden) > 0 { // what hides the body is said already
			continue
		}
		k := kind{strings.Join(body.NamesOf(r.Impossible), " "), len(r.Impossible) >= unmeasurable, r.HardestToSee}
		if numbers[k] == nil {
			kinds = append(kinds, k)
		}
		numbers[k] = append(numbers[k], r.Number)
	}
	for _, k := range kinds {
		form := "joint"
		if k.several {
			form = "rep"
		}
		out = append(out, notice.New(noticeImpossible, params{"form": form, "n": len(numbers[k]), "reps": numbers[k],
			"joints": strings.Fields(k.joints), "hardest": k.point.String()}))
	}
	return out
}

func scaleNotices(disputes []measure.ScaleDispute) (out []Notice) {
	for _, d := range disputes {
		out = append(out, notice.New(noticeScale, params{"a": string(d.A), "b": string(d.B), "apart_pct": d.ApartPct}))
	}
	return out
}
